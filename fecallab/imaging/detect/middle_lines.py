"""Middle lines of long thin bodies: where two walls run side by side, followed from strong places both ways.

For each of twelve directions the evidence of two parallel walls, some distance apart, is kept for every pixel of a
coarse level. From its strongest places lines are followed in small steps, each towards the bend whose next stretch has
the most evidence; they stop where it has run out, which is later than where a line may begin.
"""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from fecallab.imaging.detect.absorption import Map
from fecallab.imaging.detect.trace import Floats

TURNS = 12
HALF_WIDTHS_UM = (2.2, 3.8, 5.5, 7.5, 9.5, 12.0, 15.0)
"""Half the distances of walls that are looked for."""
LEAST_RADIUS_UM = 42.0
_AROUND_PX, _FLOOR, _HALF = 31, 0.006, 0.5
_EVERY_WAY = 0.8
_FALL_SHARE, _RIM = 0.6, 12
_SEEDS, _SEED_APART_PX, _SEED_LEAST = 220, 7, 0.25
_STEP_UM, _AHEAD, _BENDS, _BEND_COST = 4.0, 7, 7, 0.10
_WEAK, _MOST_STEPS = 0.13, 110
_SAME_UM, _SAME_SHARE = 7.0, 0.75


def wall_pairs(level: Map, um_per_px: float) -> Map:
    """Return the evidence of two parallel walls.

    Returns
    -------
    ndarray of float32, shape (TURNS, rows + 2 × rim, columns + 2 × rim)
        About 0 to 2; direction k runs along (cos, sin) of k × 180° / TURNS, columns then rows.
    """
    first_x, first_y, xx, yy, xy = (
        np.pad(ndimage.gaussian_filter(level, 1.0, order=order, truncate=3.0), _RIM)
        for order in ((0, 1), (1, 0), (0, 2), (2, 0), (1, 1))
    )
    strength = xx * xx + yy * yy + 2 * xy * xy
    usual = 1 / (np.sqrt(np.maximum(ndimage.uniform_filter(strength, _AROUND_PX), 0)) + np.float32(_FLOOR))
    for part in (first_x, first_y, xx, yy, xy):
        part *= usual
    rows, columns = level.shape
    pairs = np.zeros((TURNS, *xx.shape), np.float32)
    for k in range(TURNS):
        turn = np.pi * k / TURNS
        c, s = np.float32(np.cos(turn)), np.float32(np.sin(turn))
        fall = (s * first_x - c * first_y) * np.float32(_FALL_SHARE)  # towards the normal (-s, c)
        line = -(s * s * xx - 2 * s * c * xy + c * c * yy)
        right, left = np.maximum(line + fall, 0), np.maximum(line - fall, 0)
        right /= right + np.float32(_HALF)
        left /= left + np.float32(_HALF)
        best = pairs[k, _RIM:-_RIM, _RIM:-_RIM]
        tried = set()
        for half_um in HALF_WIDTHS_UM:
            half = min(half_um / um_per_px, _RIM - 1)
            dx, dy = round(-s * half), round(c * half)
            if (dx, dy) in tried:
                continue
            tried.add((dx, dy))
            one = right[_RIM + dy : _RIM + dy + rows, _RIM + dx : _RIM + dx + columns]
            other = left[_RIM - dy : _RIM - dy + rows, _RIM - dx : _RIM - dx + columns]
            np.maximum(best, np.minimum(one, other), out=best)
        pairs[k] = _along(pairs[k], float(c), float(s))
    pairs -= np.float32(_EVERY_WAY) * pairs.mean(axis=0)  # a spot is a pair of walls every way
    return pairs


def _along(plane: Map, c: float, s: float) -> Map:
    """Mean over nine pixels along a direction."""
    total = plane.copy()
    for d in (1, 2, 3, 4):
        dx, dy = round(d * c), round(d * s)
        total += np.roll(plane, (dy, dx), (0, 1))
        total += np.roll(plane, (-dy, -dx), (0, 1))
    return total / np.float32(9)


def middle_lines(
    level: Map, um_per_px: float, least_um: float, most: int
) -> tuple[list[Floats], list[float]]:
    """Middle lines (columns, rows), and the mean evidence along each; the strongest first."""
    pairs = wall_pairs(level, um_per_px)
    strongest = pairs.max(axis=0)
    peaks = (strongest == ndimage.maximum_filter(strongest, _SEED_APART_PX)) & (strongest > _SEED_LEAST)
    rows, columns = np.nonzero(peaks)
    order = np.argsort(-strongest[rows, columns], kind="stable")[:_SEEDS]
    rows, columns = rows[order], columns[order]
    if not len(rows):
        return [], []
    turn = pairs[:, rows, columns].argmax(axis=0) * (np.pi / TURNS)
    x, y = columns.astype(float), rows.astype(float)
    both = _followed(pairs, np.tile(x, 2), np.tile(y, 2), np.concatenate([turn, turn + np.pi]), um_per_px)
    n = len(rows)
    found = []
    for k in range(n):
        (ahead, seen), (back, seen_back) = both[k], both[k + n]
        path = np.concatenate([back[::-1], [[x[k], y[k]]], ahead])
        if (len(path) - 1) * _STEP_UM < least_um:
            continue
        evidence = np.concatenate([seen_back[::-1], [strongest[rows[k], columns[k]]], seen])
        found.append((path, evidence))
    found.sort(key=lambda one: -float((one[1] - 0.5 * _WEAK).sum()))
    taken = np.zeros(strongest.shape, bool)
    near = round(_SAME_UM / um_per_px)
    lines, means = [], []
    for path, evidence in found:
        at = np.rint(path).astype(int)
        if taken[at[:, 1], at[:, 0]].mean() > _SAME_SHARE:
            continue
        for column, row in at:
            taken[max(row - near, 0) : row + near + 1, max(column - near, 0) : column + near + 1] = True
        lines.append(ndimage.gaussian_filter1d(path - _RIM, 1.5, axis=0, mode="nearest"))
        means.append(float(evidence.mean()))
        if len(lines) == most:
            break
    return lines, means


def _followed(
    pairs: Map, x: Floats, y: Floats, heading: Floats, um_per_px: float
) -> list[tuple[Floats, Floats]]:
    """Follow lines from places with a heading: the points after the first, and the evidence at each."""
    step = _STEP_UM / um_per_px
    bends = np.linspace(-1, 1, _BENDS) * (_STEP_UM / LEAST_RADIUS_UM)
    turned = bends[:, None] * (
        np.arange(_AHEAD) + 0.5
    )  # heading at the middle of each small step, bend by bend
    weight = np.linspace(1.3, 0.7, _AHEAD)
    flat = pairs.reshape(-1)
    _, rows, columns = pairs.shape
    n = len(x)
    last_bend = np.zeros(n)
    alive = np.arange(n)
    places: list[list[tuple[float, float, float]]] = [[] for _ in range(n)]
    for _ in range(_MOST_STEPS):
        h = heading[alive, None, None] + turned
        ux = x[alive, None, None] + step * np.cumsum(np.cos(h), axis=2)
        uy = y[alive, None, None] + step * np.cumsum(np.sin(h), axis=2)
        plane = np.rint((h + 0.5 * bends[None, :, None]) * (TURNS / np.pi)).astype(int) % TURNS
        column, row = np.rint(ux).astype(int), np.rint(uy).astype(int)
        outside = (column < 0) | (column >= columns) | (row < 0) | (row >= rows)
        np.clip(column, 0, columns - 1, out=column)
        np.clip(row, 0, rows - 1, out=row)
        seen = flat[(plane * rows + row) * columns + column]
        seen[outside] = 0
        value = (seen * weight).mean(axis=2)
        score = value - _BEND_COST * np.abs(bends - last_bend[alive, None]) / bends[-1]
        best = score.argmax(axis=1)
        each = np.arange(len(alive))
        on = value[each, best] >= _WEAK
        alive, best, each = alive[on], best[on], each[on]
        if not len(alive):
            break
        x[alive], y[alive] = ux[each, best, 0], uy[each, best, 0]
        heading[alive] += bends[best]
        last_bend[alive] = bends[best]
        for k, e, b in zip(alive.tolist(), each.tolist(), best.tolist(), strict=True):
            places[k].append((x[k], y[k], float(seen[e, b, 0])))
    result = []
    for one in places:
        table = np.array(one, float).reshape(-1, 3)
        result.append((table[:, :2], table[:, 2]))
    return result
