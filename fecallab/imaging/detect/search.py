"""Find outlines in one part of a picture: a pyramid of levels, templates on each, and traces of what they found."""

from __future__ import annotations

import math
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.absorption import Map, halved
from fecallab.imaging.detect.features import OWN_NAMES, features
from fecallab.imaging.detect.looks import look_closer
from fecallab.imaging.detect.refine import measure, refine
from fecallab.imaging.detect.relations import agree
from fecallab.imaging.detect.suppression import alike
from fecallab.imaging.detect.templates import guess, templates
from fecallab.imaging.detect.trace import NORMALS, Ellipses, Floats, ellipses_joined, trace, trace_close
from fecallab.imaging.detect.unrolled import RINGS, Unrolled, unrolled
from fecallab.imaging.detect.walls import WallMaps, wall_maps

FINEST_UM_PER_PX, COARSEST_UM_PER_PX = 0.25, 0.6
"""Pitch of the first level of a fine picture; each further level is twice as coarse."""
WORK_PX = 2_000_000
"""Pixels that the first level may have while its pitch is between the two: a small picture is searched more finely."""
SMALLEST_UM, LARGEST_UM = 6.2, 350.0
"""Mean axis of the smallest and largest ellipses that are looked for."""
_LEAST_PX, _FROM_PX, _TO_PX = 9.0, 14.0, 28.0
_LEAST_SIDE_PX, _THREADS = 20, 2
_LITTLE_COARSER, _OWN_PIXELS = 1.5, 4_000_000
STARTS_PER_PLACE, FEWEST_STARTS, MOST_STARTS = 0.13, 136, 280
"""Outlines that are refined on each level: a share of the places that an object of the size looked for there has."""
PER_GROUP, TRACED, PER_LEVEL = 0.36, 5, 0.83
"""Templates that are tried of each group of sizes, those that are traced in all, and outlines that are judged, for each
of these."""
_CLOSE = 0.15
"""How far the edge is looked for beside a refined outline, in short half axes."""
QUICK_FINER, TRACE_FINER = 1, 2
_QUICK = (0.35, 32, 17)
_QUICK_WEIGHTS = (4.4, 2.8, -0.9, 0.35, 1.0)
"""Of margin, template fit, logarithm of the scatter, mean strength and share of strong lines (fitted to drawings)."""


@dataclass(frozen=True)
class Found:
    """Outlines with their features.

    Attributes
    ----------
    ellipses : Ellipses
        As they were judged, in pixels of the first level.
    expected : Ellipses
        Where the true ones are expected.
    features : ndarray, shape (n, features)
    offset : ndarray, shape (n, lines)
        How far outwards of `expected` the outline runs, in pixels of the first level.
    error : ndarray, shape (n,)
        Mean error to be expected of the outline, likewise.
    unrolled : ndarray of float16, shape (n, NORMALS, RINGS)
        What lies in and around it.
    level : ndarray of int, shape (n,)
        On which level that was seen.
    """

    ellipses: Ellipses
    expected: Ellipses
    features: Floats
    offset: Floats
    error: Floats
    unrolled: Unrolled
    level: NDArray[np.intp]


def joined(parts: list[Found]) -> Found:
    """Return several findings as one."""
    return Found(
        ellipses_joined([part.ellipses for part in parts]),
        ellipses_joined([part.expected for part in parts]),
        np.concatenate([part.features for part in parts]),
        np.concatenate([part.offset for part in parts]),
        np.concatenate([part.error for part in parts]),
        np.concatenate([part.unrolled for part in parts]),
        np.concatenate([part.level for part in parts]),
    )


def pitch_for(height: int, width: int, um_per_px: float) -> float:
    """Return the pitch of the first level, in µm.

    Half of the picture's own pixel, so that small objects are large enough to be traced, but neither finer than
    the time allows for a picture of that size nor finer than anything that is looked for needs. Where it would be a
    little coarser than the pixel of a picture of few megapixels, it is that: to mix neighbours costs sharpness.

    Examples
    --------
    >>> pitch_for(600, 800, 0.2), pitch_for(3000, 4000, 0.25), pitch_for(600, 800, 2.0), pitch_for(1536, 2048, 0.5)
    (0.25, 0.6, 1.0, 0.5)
    """
    affordable = um_per_px * math.sqrt(height * width / WORK_PX)
    pitch = max(um_per_px / 2, min(max(affordable, FINEST_UM_PER_PX), COARSEST_UM_PER_PX))
    own = (
        height * width <= _OWN_PIXELS and FINEST_UM_PER_PX <= um_per_px < pitch < _LITTLE_COARSER * um_per_px
    )
    return um_per_px if own else pitch


def pyramid(absorbed: Map, um_per_px: float) -> list[Map]:
    """Return the levels: the first as given, each further one with half as many rows and columns."""
    levels = [absorbed]
    while (
        min(levels[-1].shape) >= 2 * _LEAST_SIDE_PX and um_per_px * 2 ** len(levels) * _FROM_PX < LARGEST_UM
    ):
        levels.append(halved(levels[-1]))
    return levels


def find_outlines(levels: list[Map], um_per_px: float) -> list[Found]:
    """Find closed outlines on every level.

    Parameters
    ----------
    levels : list of ndarray
        From :func:`pyramid`.
    um_per_px : float
        Pitch of the first level.

    Returns
    -------
    list of Found
        One for each level.
    """
    with ThreadPoolExecutor(_THREADS) as pool:  # numpy works outside the interpreter's lock most of the time
        waiting = [
            pool.submit(_on_level, levels, k, walls, low, high)
            for k, walls, low, high in levels_searched(levels, um_per_px)
        ]
        return [one.result() for one in waiting]


def levels_searched(levels: list[Map], um_per_px: float) -> Iterator[tuple[int, WallMaps, float, float]]:
    """Go through the levels: number, wall maps, and the mean axes that are looked for there, in its pixels."""
    walls: WallMaps | None = None
    smallest_px = SMALLEST_UM / um_per_px
    first = 1 if smallest_px >= 2 * _LEAST_PX and len(levels) > 1 else 0  # the finest is for tracing then
    for k, level in enumerate(levels[first:], start=first):
        if min(level.shape) < _LEAST_SIDE_PX:
            break
        walls = wall_maps(level, walls)
        low = smallest_px / 2**k if k == first else _FROM_PX
        high = min(_TO_PX, LARGEST_UM / (um_per_px * 2**k))
        if low < high:
            yield k, walls, low, high


def _on_level(levels: list[Map], k: int, walls: WallMaps, low: float, high: float) -> Found:
    fine = max(k - TRACE_FINER, 0)
    starts, fit = starts_on(levels, k, walls, low, high)
    better, hope = refine(levels[fine], starts)
    keep = alike(better, hope)[: round(PER_LEVEL * most_starts(levels[k], low, high))]
    e, fit, hope = better.of(keep), fit[keep], hope[keep]
    traced = trace_close(levels[fine], e, _CLOSE)
    patches = unrolled(levels[fine], e)
    votes = agree(e, better).sum(axis=1)
    first, seen = look_closer(patches)
    told = measure(levels[fine], e, seen)
    numbers = features(levels[fine], traced, fit, hope, votes, first, seen, told.looks)
    factor = 2.0**fine
    return Found(
        e.scaled(factor),
        told.ellipses.scaled(factor),
        numbers,
        told.rest * factor,
        told.error * factor,
        patches,
        np.full(len(e), fine),
    )


def starts_on(levels: list[Map], k: int, walls: WallMaps, low: float, high: float) -> tuple[Ellipses, Floats]:
    """Rough outlines on a level, in pixels of the level on which they are traced, with the fit of their templates."""
    coarse, fine = max(k - QUICK_FINER, 0), max(k - TRACE_FINER, 0)  # thin walls are lost on coarse levels
    most = most_starts(levels[k], low, high)
    rough, fit = guess(walls, templates(low / 2, high / 2), max(1, round(PER_GROUP * most)))
    keep = alike(rough, fit, 0.12)[: TRACED * most]
    rough, fit = rough.of(keep), fit[keep]
    reach, lines, steps = _QUICK
    quick = trace(levels[coarse], rough.scaled(2.0 ** (k - coarse)), (reach,), lines, steps)
    rank = np.stack(
        [
            quick.margin,
            fit,
            np.log(quick.scatter / quick.ellipses.half_short + 0.01),
            quick.strength.mean(axis=1),
            (quick.strength > 0.7).mean(axis=1),
        ],
        axis=1,
    ) @ np.array(_QUICK_WEIGHTS)
    order = np.argsort(-rank, kind="stable")[: 2 * most]
    keep = order[alike(quick.ellipses.of(order), rank[order])][:most]
    return quick.ellipses.of(keep).scaled(2.0 ** (coarse - fine)), fit[keep]


def most_starts(level: Map, low: float, high: float) -> int:
    """Return how many outlines are refined on a level, where mean axes from `low` to `high` pixels are looked for.

    Examples
    --------
    >>> most_starts(np.zeros((580, 760), np.float32), 14, 28)
    136
    """
    places = level.size / (0.5 * (low + high)) ** 2
    return round(min(max(STARTS_PER_PLACE * places, FEWEST_STARTS), MOST_STARTS))


def nothing() -> Found:
    """Return a finding of nothing."""
    none = np.zeros(0)
    nowhere = Ellipses(none, none, none, none, none)
    patches = np.zeros((0, NORMALS, RINGS), np.float16)
    return Found(
        nowhere,
        nowhere,
        np.zeros((0, len(OWN_NAMES))),
        np.zeros((0, NORMALS)),
        none,
        patches,
        np.zeros(0, np.intp),
    )
