"""Ellipse templates: at every place, how well the best ellipse of a set fits onto the wall maps.

A template is some points of an ellipse, evenly along its outline; each reads the wall map of its own normal. The
sums stay within 8 bits, so that a template costs a few additions of whole maps.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import cache
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.detect.trace import Ellipses, Floats
from fecallab.imaging.detect.walls import DIRECTIONS, TOP, WallMaps

Places: TypeAlias = NDArray[np.intp]

POINTS = 20
"""Points per template; `POINTS` × `TOP` stays under 256."""
SIZE_RATIO = 1.16
ASPECTS = ((1.0, 1), (1.25, 6), (1.6, 8), (2.1, 10), (2.9, 14))
"""Ratio of the axes, and number of directions of the long axis."""
assert POINTS * TOP < 256


@dataclass(frozen=True)
class Templates:
    """A set of ellipses for one level, sizes in pooled pixels.

    Attributes
    ----------
    half_long, half_short, angle : ndarray, shape (templates,)
        Half axes, and the long axis in radians.
    dx, dy : ndarray of int, shape (templates, POINTS)
        Places of the points.
    direction : ndarray of int, shape (templates, POINTS)
        Wall map that each point reads.
    margin : int
        Farthest point from the centre.
    groups : tuple of slice
        Templates among which only the best counts at a place; peaks are taken group by group, since the contents
        of an egg often fit better than its wall.
    """

    half_long: NDArray[np.float64]
    half_short: NDArray[np.float64]
    angle: NDArray[np.float64]
    dx: Places
    dy: Places
    direction: Places
    margin: int
    groups: tuple[slice, ...]


@cache
def templates(smallest: float, largest: float) -> Templates:
    """Make the ellipses whose mean axis lies from `smallest` to under `largest` pooled pixels."""
    size, sizes = smallest, []
    while size < largest * 0.999:
        sizes.append(size)
        size *= SIZE_RATIO
    made = [
        (0.5 * size * aspect**0.5, 0.5 * size / aspect**0.5, np.pi * k / turns)
        for size in sizes
        for aspect, turns in ASPECTS
        for k in range(turns)
    ]
    long, short, angle = (np.array(column) for column in zip(*made, strict=True))
    places = [_points(*one) for one in made]
    dx, dy, direction = (np.array(column) for column in zip(*places, strict=True))
    return Templates(
        long, short, angle, dx, dy, direction, int(max(abs(dx).max(), abs(dy).max())), _groups(len(sizes))
    )


def _groups(sizes: int) -> tuple[slice, ...]:
    """Cut the templates into groups: the round, the oval and the slender ones of each size."""
    turns = [count for _, count in ASPECTS]
    ends = [sum(turns[:k]) for k in (0, 2, 4, len(turns))]
    return tuple(
        slice(k * ends[-1] + start, k * ends[-1] + end)
        for k in range(sizes)
        for start, end in itertools.pairwise(ends)
    )


def _points(a: float, b: float, angle: float) -> tuple[Places, Places, Places]:
    t = np.linspace(0, 2 * np.pi, 721)
    arc = np.concatenate([[0], np.cumsum(np.hypot(np.diff(a * np.cos(t)), np.diff(b * np.sin(t))))])
    at = np.interp((np.arange(POINTS) + 0.5) * arc[-1] / POINTS, arc, t)
    c, s = np.cos(angle), np.sin(angle)
    u, v = a * np.cos(at), b * np.sin(at)
    nu, nv = np.cos(at) / a, np.sin(at) / b
    normal = np.arctan2(s * nu + c * nv, c * nu - s * nv)
    direction = np.round(normal / (2 * np.pi / DIRECTIONS)).astype(int) % DIRECTIONS
    return np.round(c * u - s * v).astype(int), np.round(s * u + c * v).astype(int), direction


def guess(walls: WallMaps, shapes: Templates, most: int, least_fit: float = 0.3) -> tuple[Ellipses, Floats]:
    """Find the places where some ellipse fits best.

    Parameters
    ----------
    walls : WallMaps
        Of the level.
    shapes : Templates
        What is looked for.
    most : int
        Largest number of guesses in each group.
    least_fit : float, optional
        Share of the largest possible sum below which a place is left out.

    Returns
    -------
    Ellipses
        Rough ellipses in pixels of the level (not pooled), best first.
    ndarray
        Share of the largest possible sum.
    """
    rows, columns = walls.maps.shape[1:]
    margin = shapes.margin + 1
    wide = columns + 2 * margin
    # one long row per map: a template's point is then one slice, and the empty margin keeps sides apart
    flat = np.zeros((DIRECTIONS, rows + 2 * margin, wide), np.uint8)
    flat[:, margin:-margin, margin:-margin] = walls.maps
    flat = flat.reshape(DIRECTIONS, -1)
    first, count = margin * wide + margin, (rows - 1) * wide + columns
    best = np.zeros(count, np.uint8)
    total = np.empty(count, np.uint8)
    shifts = first + shapes.dy * wide + shapes.dx
    piece = 1 << 17  # stays in the cache
    found = []
    for group in shapes.groups:
        best[:] = 0
        for start in range(0, count, piece):
            n = min(piece, count - start)
            part, here = total[:n], best[start : start + n]
            for shift, direction in zip(
                (shifts[group] + start).tolist(), shapes.direction[group].tolist(), strict=True
            ):
                (d, e, *directions), (i, j, *places) = direction, shift
                np.add(flat[d, i : i + n], flat[e, j : j + n], out=part)
                for at, k in zip(places, directions, strict=True):
                    np.add(part, flat[k, at : at + n], out=part)
                np.maximum(here, part, out=here)
        score = np.zeros((rows, wide), np.uint8)
        score.reshape(-1)[:count] = best
        apart = max(1, round(0.3 * float(shapes.half_short[group].min())))
        x, y = _peaks(score[:, :columns], most, round(least_fit * POINTS * TOP), apart)
        found.append(_best_of(group, shapes, flat, x, y, first + y * wide + x, wide))
    x, y, which, sums = (np.concatenate(column) for column in zip(*found, strict=True))
    order = np.argsort(-sums, kind="stable")
    x, y, which, sums = x[order], y[order], which[order], sums[order]
    shape = (2 * shapes.half_long[which], 2 * shapes.half_short[which], shapes.angle[which])
    return Ellipses(np.asarray(2.0 * x + 0.5), np.asarray(2.0 * y + 0.5), *shape), sums / (POINTS * TOP)


def _best_of(
    group: slice, shapes: Templates, flat: NDArray[np.uint8], x: Places, y: Places, centre: Places, wide: int
) -> tuple[Places, Places, Places, NDArray[np.int32]]:
    """Which template of a group fits best at each place."""
    sums = np.zeros((x.size, len(shapes.angle[group])), np.int32)
    shift = (shapes.dy * wide + shapes.dx)[group]
    for k in range(POINTS):
        sums += flat[shapes.direction[group][:, k][None, :], centre[:, None] + shift[:, k][None, :]]
    best = sums.argmax(axis=1)
    return x, y, best + group.start, sums[np.arange(x.size), best]


def _peaks(score: NDArray[np.uint8], most: int, least: int, apart: int) -> tuple[Places, Places]:
    """Columns and rows of the highest maxima: the best place of each square that beats its neighbour squares."""
    side = max(2, round(0.7 * apart))
    rows, columns = (-(-n // side) * side for n in score.shape)
    padded = np.zeros((rows, columns), np.uint8)
    padded[: score.shape[0], : score.shape[1]] = score
    tall = padded[0::side].copy()
    for k in range(1, side):
        np.maximum(tall, padded[k::side], out=tall)
    square = tall[:, 0::side].copy()
    for k in range(1, side):
        np.maximum(square, tall[:, k::side], out=square)
    high = (square >= ndimage.maximum_filter(square, 3)) & (square >= max(least, 1))
    r, c = np.nonzero(high)
    order = np.argsort(-square[r, c].astype(int), kind="stable")[:most]
    r, c = r[order] * side, c[order] * side
    within = np.stack([padded[r + i, c + j] for i in range(side) for j in range(side)])
    best = within.argmax(axis=0)
    return c + best % side, r + best // side
