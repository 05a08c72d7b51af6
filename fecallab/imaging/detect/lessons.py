"""What the networks learn from: unrolled outlines of drawn fields, told what they lie on and where it really ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.absorption import Map, ground_of
from fecallab.imaging.detect.examples import Field, Known, label
from fecallab.imaging.detect.looks import SECTORS, Array, look_closer
from fecallab.imaging.detect.propose import candidates
from fecallab.imaging.detect.refine import looked_at_again
from fecallab.imaging.detect.search import TRACE_FINER, levels_searched, starts_on
from fecallab.imaging.detect.tiles import levels_of, tiles_of
from fecallab.imaging.detect.trace import NORMALS, Ellipses, Floats, around, ellipses_joined, normals
from fecallab.imaging.detect.unrolled import Unrolled, unrolled

_REACH_CENTRE, _REACH_OUT, _REACH_IN, _FARTHEST = 0.35, 0.45, 0.8, 1.3
"""An outline lies on a known thing when its centre is so near (lengths) and its axes so alike (logarithms): it may be
the core of something with a pale wall far outside. A true outline farther off than so many short half axes is not told
(own choice)."""
_NUDGED, _NUDGE_CENTRE, _NUDGE_AXES, _NUDGE_TURN = 6, 0.25, 0.25, 0.5
"""How many outlines by lot around a known thing, and how far off: short half axes, logarithms, radians (own choice)."""
_CORES, _CORE = 2, 0.7
"""How many of these are as small as a core, and how small at most (logarithm; own choice)."""


@dataclass(frozen=True)
class Lessons:
    """Outlines to learn from.

    Attributes
    ----------
    patches : ndarray, shape (n, NORMALS, RINGS)
    right : ndarray of float32, shape (n,)
        1 for something to propose, 0 for something else, not a number where it is neither.
    offset : ndarray of float32, shape (n, SECTORS)
        How far outwards the true outline runs, in short half axes; not a number where nothing known is outlined.
    """

    patches: Unrolled
    right: Array
    offset: Array

    def of(self, which: NDArray[np.bool_]) -> Lessons:
        """Return some of them."""
        return Lessons(self.patches[which], self.right[which], self.offset[which])


def together(parts: Sequence[Lessons]) -> Lessons:
    """Join lessons."""
    return Lessons(
        np.concatenate([part.patches for part in parts]),
        np.concatenate([part.right for part in parts]),
        np.concatenate([part.offset for part in parts]),
    )


def lessons_for_refining(field: Field, seed: int) -> Lessons:
    """Rough outlines of a field as they are found, and outlines of known things nudged off by lot; right is what is near."""
    rng = np.random.default_rng([seed, 41])
    levels, pitch, scale = _levels(field)
    parts = []
    for k, walls, low, high in levels_searched(levels, pitch):
        fine = max(k - TRACE_FINER, 0)
        factor = scale * 2.0**fine
        found = starts_on(levels, k, walls, low, high)[0]
        known = [_as_ellipse(one, field.um_per_px) for one in field.known]
        sized = [e for e in known if low <= (e[2] + e[3]) / scale / 2.0**k < high]
        nudged = Ellipses(*_nudged(np.array(sized).reshape(-1, 5), rng).T).scaled(1 / factor)
        both = ellipses_joined([found, nudged])
        placed = both.scaled(factor)
        near, offset = _told(placed, field)
        parts.append(Lessons(unrolled(levels[fine], both), near, offset))
    return together(parts)


def lessons_for_judging(field: Field) -> Lessons:
    """Outlines of a field as they come to be judged."""
    found = candidates(field.pixels, field.um_per_px, ground_of(field.pixels))[0]
    return _lessons(found.ellipses, found.unrolled, field)


def lessons_for_looking_again(field: Field) -> Lessons:
    """Likely outlines of a field where the closer look expects them."""
    found = candidates(field.pixels, field.um_per_px, ground_of(field.pixels))[0]
    levels, _, scale = _levels(field)
    which, once = looked_at_again(found.ellipses, look_closer(found.unrolled)[1])
    patches = np.zeros((len(once), *found.unrolled.shape[1:]), np.float16)
    for fine in np.unique(found.level[which]):
        here = found.level[which] == fine
        patches[here] = unrolled(levels[fine], once.of(here).scaled(1 / (scale * 2.0**fine)))
    return _lessons(once, patches, field)


def _lessons(ellipses: Ellipses, patches: Unrolled, field: Field) -> Lessons:
    """Tell outlines right or wrong; near misses are neither."""
    told = label(ellipses, field)
    right = np.where(told < 0, np.nan, told).astype(np.float32)
    return Lessons(patches, right, _told(ellipses, field)[1])


def _levels(field: Field) -> tuple[list[Map], float, float]:
    """The levels of a field that is small enough for one tile."""
    height, width = field.pixels.shape[:2]
    tile, *more = tiles_of(height, width, field.um_per_px)
    if more:
        raise ValueError("a field to learn from must be small enough for one tile")
    return levels_of(field.pixels, field.um_per_px, ground_of(field.pixels), tile)


def _as_ellipse(one: Known, um_per_px: float) -> tuple[float, ...]:
    half = 0.5 / um_per_px
    return one.x_px, one.y_px, one.length_um * half, one.width_um * half, float(np.radians(one.angle_deg))


def _nudged(true: Floats, rng: np.random.Generator) -> Floats:
    moved = np.repeat(true, _NUDGED, axis=0)
    n = len(moved)
    moved[:, :2] += _NUDGE_CENTRE * moved[:, 3:4] * rng.normal(size=(n, 2))
    moved[:, 2:4] *= np.exp(_NUDGE_AXES * rng.normal(size=(n, 2)).clip(-1.5, 1.5))
    cores = np.arange(n) % _NUDGED < _CORES
    moved[cores, 2:4] *= np.exp(-_CORE * rng.random((int(cores.sum()), 1)))
    moved[:, 4] += _NUDGE_TURN * rng.normal(size=n)
    return moved


def _told(ellipses: Ellipses, field: Field) -> tuple[Array, Array]:
    """Whether each ellipse lies on something that counts, and the offsets of the thing that it lies on."""
    n = len(ellipses)
    near, offset = np.zeros(n, np.float32), np.full((n, SECTORS), np.nan, np.float32)
    least = np.ones(n)
    for one in field.known:
        x, y, long, short, angle = _as_ellipse(one, field.um_per_px)
        away = np.hypot(ellipses.x - x, ellipses.y - y) / (2 * long)
        axes = np.log(ellipses.half_long / long), np.log(ellipses.half_short / short)
        off = np.max([np.where(axis > 0, axis / _REACH_OUT, -axis / _REACH_IN) for axis in axes], axis=0)
        cost = np.maximum(away / _REACH_CENTRE, off)
        here = np.flatnonzero(cost < least)
        least[here] = cost[here]
        near[here] = float(one.counts)
        true = Ellipses(*(np.full(len(here), value) for value in (x, y, long, short, angle)))
        offset[here] = true_offsets(ellipses.of(here), true)
    return near, offset


def true_offsets(ellipses: Ellipses, true: Ellipses) -> Array:
    """How far outwards of each ellipse another runs, sector by sector.

    Returns
    -------
    ndarray of float32, shape (n, SECTORS)
        In short half axes of `ellipses`; not a number where the lines do not meet it.

    Examples
    --------
    >>> one, two = (Ellipses(*np.array([[9], [9], [a], [a], [0]], float)) for a in (10, 12))
    >>> bool(np.allclose(true_offsets(one, two), 0.2, atol=1e-3))
    True
    """
    x, y, nx, ny = normals(ellipses, around())
    a, b = true.half_long[:, None], true.half_short[:, None]
    c, s = np.cos(true.angle)[:, None], np.sin(true.angle)[:, None]
    dx, dy = x - true.x[:, None], y - true.y[:, None]
    px, py, qx, qy = (
        (c * dx + s * dy) / a,
        (c * dy - s * dx) / b,
        (c * nx + s * ny) / a,
        (c * ny - s * nx) / b,
    )
    square, cross, rest = qx * qx + qy * qy, px * qx + py * qy, px * px + py * py - 1
    inside = cross * cross - square * rest
    out = (np.sqrt(np.maximum(inside, 0)) - cross) / square / ellipses.half_short[:, None]
    known = (inside >= 0) & (np.abs(out) < _FARTHEST)
    each = (len(ellipses), SECTORS, NORMALS // SECTORS)
    count = known.reshape(each).sum(axis=2)
    total = np.where(known, out, 0).reshape(each).sum(axis=2)
    return np.where(2 * count >= each[2], total / np.maximum(count, 1), np.nan).astype(np.float32)
