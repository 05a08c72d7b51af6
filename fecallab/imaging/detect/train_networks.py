"""Draw what the networks of :mod:`.looks` learn from, and fit them one after the other.

On some fields the network that moves rough outlines (:mod:`.refine`) is fitted, on others the one that judges what came
of it; on these and more, where that thinks something likely, the one that looks closer and the one that looks again.
Once they have learnt what holds in all ways of drawing, all four go on, deeper, with fields that have thick bubbles too;
then they go on once more with many more such fields, those that look closer deeper still.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.examples import CROWDING, Field, training_field
from fecallab.imaging.detect.lessons import (
    Lessons,
    lessons_for_judging,
    lessons_for_looking_again,
    lessons_for_refining,
    together,
)
from fecallab.imaging.detect.looks import (
    AGAIN,
    CLOSER,
    DEEPER_LARGE,
    DEEPER_SMALL,
    DEEPEST_LARGE,
    LARGE,
    LIKELY,
    LOOKS,
    REFINER,
    SMALL,
    Looks,
    Widths,
    drawn_looks,
    write_looks,
)
from fecallab.imaging.detect.looks_training import fit_looks

STYLES, SEEDS = ("sketch", "micrograph", "relief"), (40_000, 60_000, 80_000)
REFINER_FIELDS, LOOKS_FIELDS, CLOSER_FIELDS, MIXED_FIELDS = 480, 720, 1104, 2640
"""Fields for each network, as many of each style."""
FULLER_THINGS, FULLER_LOOK_ALIKES = (8, 17), (0, 4, 8)
"""The networks learn from fuller fields: more to learn from in the same time."""
MIXED_THINGS, MIXED_LOOK_ALIKES, MIXED_FLAKES = (10, 24), (4, 8, 12), (0, 1, 2, 4, 8)
"""Those that look closer learn from fields with many look-alikes and flakes too: these are what is taken for something."""
CROWDED_FIELDS, CROWDED_REFINER_FIELDS, CROWDED_BUBBLES = 480, 192, (0, 0, 2, 5)
CROWDED_STYLES = ("relief", "sketch", "relief", "micrograph")
"""What they go on with: every other field is in the style that they do worst in."""
LAST_REFINER_FIELDS, LAST_LOOKS_FIELDS, LAST_FIELDS = 480, 608, 1600
LAPS, CLOSER_LAPS = 6, 5.5


class Go(NamedTuple):
    """One more go at lessons: laps, speed at its highest, how much is varied, how many are evened, and the lot."""

    laps: float
    fastest: float = 1.5e-3
    varied: float = 0.2
    evened: float = 0.0
    seed: int = 0


FURTHER = {
    CLOSER: (Go(6, seed=2), Go(2.7, varied=0.3, seed=6), Go(0.9, 1.2e-3, 0.3, 0.3, 8)),
    AGAIN: (Go(5, seed=3), Go(2.2, varied=0.3, seed=7), Go(0.73, 1.2e-3, 0.3, 0.3, 9)),
    LOOKS: (Go(1, seed=5),),
    REFINER: (Go(5, seed=4),),
}
LAST = {
    REFINER: (Go(4.5, 2e-3, 0.2, 0.2, 21), Go(4.5, 1.5e-3, 0.2, 0.2, 24)),
    CLOSER: (Go(12, 1.5e-3, 0.2, 0.2, 22),),
    AGAIN: (Go(8, 1.5e-3, 0.2, 0.2, 23),),
    LOOKS: (Go(4.5, 1.5e-3, 0.2, 0.2, 25),),
}
"""Light and shade are varied less once what holds in all ways of drawing is learnt. Some outlines are evened at last,
since drawn bubbles are more even than drawn organisms: a thin even ring was turned down before."""
Say = Callable[[str], None]


def fuller_field_at(
    k: int,
    between: tuple[int, int] = FULLER_THINGS,
    look_alikes: tuple[int, ...] = FULLER_LOOK_ALIKES,
    flakes: tuple[int, ...] = (0,),
) -> Field:
    """Draw training field `k` with more things in it: a sketch, then a micrograph, then a relief, and so on."""
    number, style = divmod(k, len(STYLES))
    things = int(np.random.default_rng([k, 77]).integers(*between))
    return training_field(
        SEEDS[style] + number,
        STYLES[style],
        CROWDING[number % 4],
        things=things,
        more_look_alikes=look_alikes[(number // 4) % len(look_alikes)],
        flakes=flakes[number % len(flakes)],
    )


def mixed_field_at(k: int) -> Field:
    """Draw training field `k` with many look-alikes in it."""
    return fuller_field_at(k, MIXED_THINGS, MIXED_LOOK_ALIKES, MIXED_FLAKES)


def crowded_field_at(k: int) -> Field:
    """Draw training field `k` with many look-alikes, flakes and thick bubbles."""
    lot = np.random.default_rng([k, 79])
    style = CROWDED_STYLES[k % len(CROWDED_STYLES)]
    return training_field(
        SEEDS[STYLES.index(style)] + k,
        style,
        float(lot.choice(CROWDING)),
        things=int(lot.integers(*MIXED_THINGS)),
        more_look_alikes=int(lot.choice(MIXED_LOOK_ALIKES)),
        flakes=int(lot.choice(MIXED_FLAKES)),
        bubbles=int(lot.choice(CROWDED_BUBBLES)),
    )


def refiner_lessons_at(k: int) -> Lessons:
    """Return what training field `k` teaches the network that moves outlines."""
    return lessons_for_refining(fuller_field_at(k), k)


def crowded_refiner_lessons_at(k: int) -> Lessons:
    """Return the same of fields with many look-alikes, every other one with thick bubbles too."""
    return lessons_for_refining(crowded_field_at(k) if k % 2 else mixed_field_at(k), k)


def looks_lessons_at(k: int) -> Lessons:
    """Return what training field `k` teaches the network that judges outlines."""
    return lessons_for_judging(fuller_field_at(k))


def mixed_lessons_at(k: int) -> Lessons:
    """Return what is likely in training field `k` with many look-alikes in it."""
    return likely(lessons_for_judging(mixed_field_at(k)))


def crowded_looks_lessons_at(k: int) -> Lessons:
    """Return what a field with thick bubbles teaches the network that judges outlines."""
    return lessons_for_judging(crowded_field_at(k))


def crowded_lessons_at(k: int) -> Lessons:
    """Return what is likely in training field `k` with thick bubbles too."""
    return likely(crowded_looks_lessons_at(k))


def again_lessons_at(k: int) -> Lessons:
    """Return what training field `k` teaches the network that looks again."""
    return lessons_for_looking_again(mixed_field_at(k))


def crowded_again_lessons_at(k: int) -> Lessons:
    """Return the same of a field with thick bubbles too."""
    return lessons_for_looking_again(crowded_field_at(k))


def likely(lessons: Lessons) -> Lessons:
    """Return those outlines that are looked at closer, or should be."""
    return lessons.of(likely_among(lessons))


def likely_among(lessons: Lessons) -> NDArray[np.bool_]:
    """Say which outlines are looked at closer, or should be."""
    first = drawn_looks(LOOKS).of(lessons.patches, both_ways=False).looks
    return np.asarray((first > LIKELY) | (lessons.right == 1))


def fit_networks(pool: Executor, folder: Path, begun: int, edition: str, say: Say) -> None:
    """Draw, trace and fit the four networks, and write them.

    Parameters
    ----------
    pool : Executor
        Where fields are drawn and traced. What it does reads the networks that were written before: it must not keep
        them in mind.
    folder : Path
    begun : int
        Training fields before this one are others' to learn from.
    edition : str
    say : callable
    """

    def told(lessons_at: Callable[[int], Lessons], fields: int, again: bool = False) -> Lessons:
        nonlocal begun
        first = begun - fields if again else begun
        begun = first + fields
        return together(list(pool.map(lessons_at, range(first, begun), chunksize=4)))

    def written(name: str, network: Looks) -> None:
        write_looks(folder / name, network)
        drawn_looks.cache_clear()

    def progress(at: int, of: int, loss: float) -> None:
        say(f"{at}/{of} {loss:.4f}")

    def fitted(name: str, lessons: Lessons, widths: Widths, laps: float, seed: int = 0) -> None:
        say(f"{name}: {len(lessons.right)} outlines, {int(np.nansum(lessons.right))} of them right")
        written(name, fit_looks(lessons, edition=edition, widths=widths, laps=laps, seed=seed, say=progress))

    def went_on(name: str, goes: Sequence[Go], lessons: Lessons, widths: Widths) -> None:
        say(f"{name} goes on: {len(lessons.right)} outlines, {int(np.nansum(lessons.right))} of them right")
        for go in goes:
            begin = drawn_looks(name)
            network = fit_looks(
                lessons, edition=edition, widths=widths, begin=begin, say=progress, **go._asdict()
            )
            written(name, network)

    fitted(REFINER, told(refiner_lessons_at, REFINER_FIELDS), SMALL, LAPS)
    judging = told(looks_lessons_at, LOOKS_FIELDS)
    fitted(LOOKS, judging, SMALL, LAPS)
    more = told(looks_lessons_at, CLOSER_FIELDS)
    closer = together([likely(judging), likely(more), told(mixed_lessons_at, MIXED_FIELDS)])
    fitted(CLOSER, closer, LARGE, CLOSER_LAPS)
    again = together([closer, told(again_lessons_at, MIXED_FIELDS, again=True)])
    fitted(AGAIN, again, LARGE, CLOSER_LAPS, 1)
    crowded = told(crowded_lessons_at, CROWDED_FIELDS)
    moved = told(crowded_again_lessons_at, CROWDED_FIELDS, again=True)
    went_on(CLOSER, FURTHER[CLOSER], together([closer, crowded]), DEEPER_LARGE)
    went_on(AGAIN, FURTHER[AGAIN], together([again, crowded, moved]), DEEPER_LARGE)
    went_on(LOOKS, FURTHER[LOOKS], more, DEEPER_SMALL)
    rough = told(crowded_refiner_lessons_at, CROWDED_REFINER_FIELDS)
    went_on(REFINER, FURTHER[REFINER], rough, DEEPER_SMALL)
    went_on(REFINER, LAST[REFINER], told(crowded_refiner_lessons_at, LAST_REFINER_FIELDS), DEEPER_SMALL)
    last = told(crowded_lessons_at, LAST_FIELDS)
    moved = told(crowded_again_lessons_at, LAST_FIELDS, again=True)
    went_on(CLOSER, LAST[CLOSER], last, DEEPEST_LARGE)
    went_on(AGAIN, LAST[AGAIN], together([last, moved]), DEEPEST_LARGE)
    went_on(LOOKS, LAST[LOOKS], told(crowded_looks_lessons_at, LAST_LOOKS_FIELDS), DEEPER_SMALL)
