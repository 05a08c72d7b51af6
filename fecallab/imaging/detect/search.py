"""Find outlines in one part of a picture: a pyramid of levels, templates on each, and traces of what they found."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from fecallab.imaging.detect.absorption import Map, halved
from fecallab.imaging.detect.features import OWN_NAMES, features
from fecallab.imaging.detect.looks import drawn_looks
from fecallab.imaging.detect.suppression import alike
from fecallab.imaging.detect.templates import guess, templates
from fecallab.imaging.detect.trace import NORMALS, Ellipses, Floats, trace
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
PER_GROUP, PER_LEVEL = 48, 110
"""Templates that are tried of each group of sizes, and outlines that are traced on each level (with 32 and up to 76
the right outline was missing for 16 in 100 organisms of tuning fields at 35 and 60 % debris, with twice as many for 13)."""
_OUTWARDS_PX = 0.25
"""The outer edge lies a little beyond the steepest fall (fitted to drawings)."""
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
        In pixels of the first level.
    features : ndarray, shape (n, features)
    offset : ndarray, shape (n, lines)
        Distance of the traced outline from the ellipse, outwards, in pixels of the first level.
    scatter : ndarray, shape (n,)
        Scatter of the outline about the ellipse, likewise.
    unrolled : ndarray of float16, shape (n, NORMALS, RINGS)
        What lies in and around it.
    """

    ellipses: Ellipses
    features: Floats
    offset: Floats
    scatter: Floats
    unrolled: Unrolled


def joined(parts: list[Found]) -> Found:
    """Return several findings as one."""
    columns = zip(*(part.ellipses.columns() for part in parts), strict=True)
    return Found(
        Ellipses(*(np.concatenate(column) for column in columns)),
        np.concatenate([part.features for part in parts]),
        np.concatenate([part.offset for part in parts]),
        np.concatenate([part.scatter for part in parts]),
        np.concatenate([part.unrolled for part in parts]),
    )


def pitch_for(height: int, width: int, um_per_px: float) -> float:
    """Return the pitch of the first level, in µm.

    Half of the picture's own pixel, so that small objects are large enough to be traced, but neither finer than
    the time allows for a picture of that size nor finer than anything that is looked for needs.

    Examples
    --------
    >>> pitch_for(600, 800, 0.2), pitch_for(3000, 4000, 0.25), pitch_for(600, 800, 2.0)
    (0.25, 0.6, 1.0)
    """
    affordable = um_per_px * math.sqrt(height * width / WORK_PX)
    return max(um_per_px / 2, min(max(affordable, FINEST_UM_PER_PX), COARSEST_UM_PER_PX))


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
    walls: WallMaps | None = None
    smallest_px = SMALLEST_UM / um_per_px
    first = 1 if smallest_px >= 2 * _LEAST_PX and len(levels) > 1 else 0  # the finest is for tracing then
    with ThreadPoolExecutor(_THREADS) as pool:  # numpy works outside the interpreter's lock most of the time
        waiting = []
        for k, level in enumerate(levels[first:], start=first):
            if min(level.shape) < _LEAST_SIDE_PX:
                break
            walls = wall_maps(level, walls)
            low = smallest_px / 2**k if k == first else _FROM_PX
            high = min(_TO_PX, LARGEST_UM / (um_per_px * 2**k))
            if low < high:
                waiting.append(pool.submit(_on_level, levels, k, walls, low, high))
        return [one.result() for one in waiting]


def _on_level(levels: list[Map], k: int, walls: WallMaps, low: float, high: float) -> Found:
    coarse, fine = max(k - QUICK_FINER, 0), max(k - TRACE_FINER, 0)  # thin walls are lost on coarse levels
    rough, fit = guess(walls, templates(low / 2, high / 2), PER_GROUP)
    keep = alike(rough, fit, 0.12)
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
    order = np.argsort(-rank, kind="stable")[: 3 * PER_LEVEL]
    keep = order[alike(quick.ellipses.of(order), rank[order])][:PER_LEVEL]
    traced = trace(levels[fine], quick.ellipses.of(keep).scaled(2.0 ** (coarse - fine)))
    e = traced.ellipses
    patches = unrolled(levels[fine], e)
    numbers = features(levels[fine], traced, fit[keep], drawn_looks().of(patches))
    outer = Ellipses(e.x, e.y, e.half_long + _OUTWARDS_PX, e.half_short + _OUTWARDS_PX, e.angle)
    factor = 2.0**fine
    return Found(outer.scaled(factor), numbers, traced.offset * factor, traced.scatter * factor, patches)


def nothing() -> Found:
    """Return a finding of nothing."""
    none = np.zeros(0)
    nowhere = Ellipses(none, none, none, none, none)
    patches = np.zeros((0, NORMALS, RINGS), np.float16)
    return Found(nowhere, np.zeros((0, len(OWN_NAMES))), np.zeros((0, NORMALS)), none, patches)
