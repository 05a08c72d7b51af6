"""Eggs or oocysts per gram from a counting chamber, and what the chamber can miss."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fecallab.domain.checked import confidence, positive_number, whole_count
from fecallab.domain.counting import exact_interval, upper_bound
from fecallab.domain.errors import BadInput

ML_PER_G = 1.0
"""One gram of faeces counts as one millilitre of the suspension: 2 g in 28 ml make 30 ml (read: Newcastle
Equine Centre counting procedure; the same convention stands behind 4 g + 26 ml, 3 g + 42 ml)."""
RANGE_ML = (0.0001, 10_000.0)
RANGE_G = (0.0001, 1_000.0)
"""Amounts that are believed (common sense, no source)."""


def suspension_from_diluent(sample_g: float, *diluent_ml: float) -> float:
    """Return the finished suspension in ml: the liquids plus 1 ml for each gram of faeces.

    Examples
    --------
    >>> suspension_from_diluent(4, 56), suspension_from_diluent(2, 2.5, 55.5)
    (60.0, 60.0)
    """
    grams = positive_number(sample_g, "the sample", least=RANGE_G[0], most=RANGE_G[1], unit="g")
    liquids = [
        positive_number(liquid, "the liquid", least=RANGE_ML[0], most=RANGE_ML[1], unit="ml")
        for liquid in diluent_ml
    ]
    return math.fsum(liquids) + grams * ML_PER_G


def factor(sample_g: float, suspension_ml: float, counted_ml: float) -> float:
    """Return what one counted egg stands for, in eggs per gram; never rounded.

    Parameters
    ----------
    sample_g : float
        Faeces in the suspension.
    suspension_ml : float
        The finished suspension, faeces included (1 g counts as 1 ml).
    counted_ml : float
        All the volume that was read, every grid and every chamber.

    Raises
    ------
    BadInput
        When a number is missing its sense: more was read than there was, or less suspension than faeces.

    Notes
    -----
    suspension / (grams x volume read); 4 g in 60 ml with 0.30 ml read is 50 (the factor of the RVC/FAO
    guide, read; its recipe from memory).

    Examples
    --------
    >>> round(factor(4, 60, 0.3), 9)
    50.0
    """
    grams = positive_number(sample_g, "the sample", least=RANGE_G[0], most=RANGE_G[1], unit="g")
    suspension = positive_number(
        suspension_ml, "the finished suspension", least=RANGE_ML[0], most=RANGE_ML[1], unit="ml"
    )
    counted = positive_number(counted_ml, "the volume read", least=RANGE_ML[0], most=RANGE_ML[1], unit="ml")
    if counted > suspension:
        raise BadInput(
            f"{counted:g} ml were read of a suspension of {suspension:g} ml; more cannot be read than made.",
            next="Give the volume under the grids that were counted; 0.3 ml is two grids of 0.15 ml.",
            code="read-more-than-made",
        )
    if suspension < grams * ML_PER_G:
        raise BadInput(
            f"{grams:g} g of faeces do not fit into a suspension of {suspension:g} ml; 1 g counts as 1 ml.",
            next="Give the volume of the finished suspension, faeces included.",
            code="suspension-too-small",
        )
    return suspension / (grams * counted)


def chance_of_no_egg(epg: float, factor_epg: float, *, k: float | None = None) -> float:
    """Return the chance that a chamber shows nothing although the true burden is ``epg``.

    Parameters
    ----------
    epg : float
        True eggs per gram, 0 or more.
    factor_epg : float
        The factor: eggs per gram of one counted egg.
    k : float, optional
        Clumping of eggs in the suspension (negative binomial); omitted for eggs that lie by chance.

    Notes
    -----
    exp(-epg/factor), or (1 + epg/(factor k))^-k when clumped (computed).

    Examples
    --------
    >>> round(chance_of_no_egg(50, 50), 3), chance_of_no_egg(50, 50, k=1)
    (0.368, 0.5)
    """
    one_egg = positive_number(factor_epg, "the factor", least=1e-9, most=1e12, unit="per gram")
    expected = 0.0 if epg == 0 else positive_number(epg, "eggs per gram", most=1e12) / one_egg
    if k is None:
        return math.exp(-expected)
    clumping = positive_number(k, "k", most=math.inf)
    if math.isinf(clumping):
        return math.exp(-expected)
    return math.exp(-clumping * math.log1p(expected / clumping))


def found_with(factor_epg: float, *, chance: float = 0.95, k: float | None = None) -> float:
    """Return the true eggs per gram that show at least one egg with this chance.

    Examples
    --------
    >>> round(found_with(50), 1)
    149.8
    >>> found_with(50, chance=0.5, k=1)
    50.0
    """
    one_egg = positive_number(factor_epg, "the factor", least=1e-9, most=1e12, unit="per gram")
    miss = 1 - confidence(chance)
    if k is None:
        return -math.log(miss) * one_egg
    clumping = positive_number(k, "k", least=1e-2, most=1e12)
    return clumping * math.expm1(-math.log(miss) / clumping) * one_egg


@dataclass(frozen=True)
class ChamberCount:
    """Eggs or oocysts per gram from one chamber count.

    Attributes
    ----------
    factor : float
        Eggs per gram of one counted egg, unrounded.
    epg : float
        Eggs per gram.
    ci95 : tuple of float
        95 % interval of ``epg`` from the count alone (exact Poisson).
    one_egg_epg : float
        The least that can be shown: one egg. It is *not* what is reliably found.
    reliable_epg : float
        The true level that shows at least one egg with 95 % chance (2.996 x factor, eggs by chance).
    upper95_if_zero : float or None
        One-sided 95 % upper limit per gram when no egg was seen, else None.
    count : int
        Eggs counted.
    examined_g : float
        Grams of faeces that were really looked at.
    """

    factor: float
    epg: float
    ci95: tuple[float, float]
    one_egg_epg: float
    reliable_epg: float
    upper95_if_zero: float | None
    count: int
    examined_g: float


def chamber_count(count: int, sample_g: float, suspension_ml: float, counted_ml: float) -> ChamberCount:
    """Return eggs per gram with its interval and the limits of the method.

    Parameters
    ----------
    count : int
        Eggs or oocysts counted over all grids that were read.
    sample_g, suspension_ml, counted_ml : float
        As in `factor`.

    Examples
    --------
    >>> found = chamber_count(27, 4, 60, 0.3)
    >>> round(found.epg), [round(limit) for limit in found.ci95]
    (1350, [890, 1964])
    """
    eggs = whole_count(count, "the count")
    one_egg = factor(sample_g, suspension_ml, counted_ml)
    lower, upper = exact_interval(eggs)
    return ChamberCount(
        factor=one_egg,
        epg=eggs * one_egg,
        ci95=(lower * one_egg, upper * one_egg),
        one_egg_epg=one_egg,
        reliable_epg=found_with(one_egg),
        upper95_if_zero=upper_bound(0) * one_egg if eggs == 0 else None,
        count=eggs,
        examined_g=1 / one_egg,
    )
