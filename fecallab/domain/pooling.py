"""Samples of several animals put together: what is won, what is thinned, what a clean pool says.

A pool's negative never confirms one animal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fecallab.domain.checked import fraction, positive_number, whole_count
from fecallab.domain.errors import BadInput
from fecallab.domain.sampling import MOST_ANIMALS, chance_detected
from fecallab.domain.spoken import number_of

MINUS_LOG_5_PERCENT = -math.log(0.05)
MOST_IN_A_POOL = 100
NEVER_ONE_ANIMAL = "A clean pool never confirms one animal: each is confirmed by its own stools."
DILUTION_NOTE = (
    "Thinning is reckoned as if eggs lay at random in a well mixed pool (Poisson, derived): a pool of k holds "
    "1/k of each animal. Clumped eggs and poor mixing make it worse."
)


@dataclass(frozen=True)
class PoolAnswer:
    """What pools of a group say.

    Attributes
    ----------
    animals_pooled : int
        Animals whose stool went into a pool.
    sensitivity_in_pool : float
        Chance that a pool shows its only infected animal.
    probability_detected : float
        Chance that at least one pool is positive when so many of the group are infected.
    probability_detected_alone : float
        The same animals, each examined alone.
    factor_per_animal : float or None
        Eggs per gram of one animal that one egg counted in the pool stands for, if the others have none.
    upper95_pool_per_g, upper95_animal_per_g : float or None
        One-sided 95 % limits of a clean chamber: for the pool's mean, and for one animal in it.
    """

    animals_pooled: int
    sensitivity_in_pool: float
    probability_detected: float
    probability_detected_alone: float
    factor_per_animal: float | None
    upper95_pool_per_g: float | None
    upper95_animal_per_g: float | None
    note: str


def sensitivity_in_pool(sensitivity: float, pool_size: int, infected: int = 1) -> float:
    """Return the chance that one exam of a pool finds it, from the chance for one infected animal alone.

    Parameters
    ----------
    sensitivity : float
        Chance that an exam of an infected animal's own stool finds it, 0-1.
    pool_size : int
        Animals in the pool, with equal shares.
    infected : int
        How many of them are infected, shedding alike.

    Notes
    -----
    An exam misses with chance exp(-m) when m eggs are expected in what is looked at; a pool of k with d
    infected holds m d / k, so it misses with (1 - sensitivity)^(d / k).

    Examples
    --------
    >>> round(sensitivity_in_pool(0.75, 5), 3), sensitivity_in_pool(0.75, 5, 5), sensitivity_in_pool(0.75, 1)
    (0.242, 0.75, 0.75)
    """
    finds = fraction(sensitivity, "the sensitivity")
    size = whole_count(pool_size, "the number of animals in a pool", most=MOST_IN_A_POOL)
    ill = whole_count(infected, "the number of infected animals in a pool", most=MOST_IN_A_POOL)
    if size == 0 or ill > size:
        raise BadInput(
            f"{ill} infected animals do not fit into a pool of {size}.",
            next="Give 1 or more animals to a pool.",
            code="pool-empty" if size == 0 else "more-infected-than-animals",
        )
    return float(1 - (1 - finds) ** (ill / size))


def pooled_chance(share_infected: float, pool_size: int, pools: int, pool_sensitivity: float = 1.0) -> float:
    """Return the chance that at least one pool of a very large group is positive; no false alarms.

    Parameters
    ----------
    share_infected : float
        Share of the group that is infected.
    pool_sensitivity : float
        Chance that a pool with any infected animal is positive, as measured for that pool size.

    Examples
    --------
    >>> round(pooled_chance(0.01, 5, 60), 2)
    0.95
    """
    size = whole_count(pool_size, "the number of animals in a pool", most=MOST_ANIMALS)
    number = whole_count(pools, "the number of pools", most=MOST_ANIMALS)
    holds = 1 - (1 - fraction(share_infected, "the share infected")) ** size
    return float(1 - (1 - holds * fraction(pool_sensitivity, "the sensitivity of a pool")) ** number)


def pools_needed(
    share_infected: float, pool_size: int, confidence: float, pool_sensitivity: float = 1.0
) -> int:
    """Return the least number of pools of a very large group that finds it with the wanted chance.

    Raises
    ------
    BadInput
        When a pool can never be positive.

    Examples
    --------
    >>> pools_needed(0.01, 5, 0.95, 0.9)
    67
    """
    one = pooled_chance(share_infected, pool_size, 1, pool_sensitivity)
    if one == 0:
        raise BadInput(
            "A pool that is never positive finds nothing, however many there are.",
            next="Give a share infected and a sensitivity above 0.",
            code="none-infected",
        )
    wanted = fraction(confidence, "the confidence")
    if one == 1 or wanted == 0:
        return 1
    if wanted == 1:
        raise BadInput("A chance of 1 is out of reach.", next="Usual is 0.95.", code="not-a-confidence")
    return max(1, math.ceil(math.log1p(-wanted) / math.log1p(-one) - 1e-12))


def pool_answer(
    group: int,
    pool_size: int,
    pools: int,
    infected: int,
    sensitivity: float,
    *,
    factor: float | None = None,
) -> PoolAnswer:
    """Return what some pools of a group can show.

    Parameters
    ----------
    group : int
        Animals in the group.
    pool_size : int
        Animals whose stools are mixed, equal shares.
    pools : int
        Pools examined; together they may not hold more animals than the group has.
    infected : int
        Infected animals in the group that should not be missed.
    sensitivity : float
        Chance that an exam of one infected animal's own stool finds it.
    factor : float, optional
        Eggs per gram of one egg counted in a chamber, where the pool is counted.

    Raises
    ------
    BadInput
        For numbers that do not fit together.

    Notes
    -----
    An infected animal in a pool of k is missed with (1 - sensitivity)^(1/k), whichever pool it is in, so that
    the group is missed like one whose animals are examined alone with that lower sensitivity.

    Examples
    --------
    >>> found = pool_answer(60, 5, 12, 3, 0.75, factor=50)
    >>> round(found.probability_detected, 3), round(found.probability_detected_alone, 3)
    (0.565, 0.984)
    >>> found.factor_per_animal, round(found.upper95_animal_per_g)
    (250.0, 749)
    """
    size = whole_count(pool_size, "the number of animals in a pool", most=MOST_IN_A_POOL)
    number = whole_count(pools, "the number of pools", most=MOST_ANIMALS)
    in_pool = sensitivity_in_pool(sensitivity, size)
    if size * number > whole_count(group, "the group", most=MOST_ANIMALS):
        raise BadInput(
            f"{number_of(number, 'pool')} of {size} take{'s' if number == 1 else ''} {number_of(size * number, 'animal')}; the group has {group}.",
            next=f"Give at most {group // size} pools of {size}.",
            code="more-examined-than-animals",
        )
    if factor is not None:
        factor = positive_number(factor, "the factor", most=1e6)
    pool_bound = None if factor is None else MINUS_LOG_5_PERCENT * factor
    return PoolAnswer(
        animals_pooled=size * number,
        sensitivity_in_pool=in_pool,
        probability_detected=chance_detected(group, size * number, infected, in_pool),
        probability_detected_alone=chance_detected(group, size * number, infected, sensitivity),
        factor_per_animal=None if factor is None else factor * size,
        upper95_pool_per_g=pool_bound,
        upper95_animal_per_g=None if pool_bound is None else pool_bound * size,
        note=f"{DILUTION_NOTE} {NEVER_ONE_ANIMAL}",
    )
