"""Bodies that stand out from the still background: one entry each, however long or grainy it is."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.motility.layers import Layer
from fecallab.imaging.motility.steady import Grey, Mask

_FINE, _WIDE = 0.8, 1.2  # working pixels
_LOW, _HIGH = 4.0, 7.5  # times the noise
_FAINT = 0.10  # of the strong bodies' peak
_NECK, _LONGEST_PART, _OUTLINE = 0.72, 3.2, 0.45
_STUCK_CONTRAST = 0.02  # of the light
_SPECK, _CLEAR_OF_PX, _MOST_SPECKS = 4.5, 4, 60  # times the noise; of bodies; a frame
COLUMNS = ("x", "y", "area", "length", "width", "angle", "peak", "partly")
"""``partly`` is 1 where the picture's border or the rim of the lit circle cuts the body."""
_PARTLY, _OUTER = 7, 8  # columns; the outer axes come behind `COLUMNS`
_SQUARE = np.ones((3, 3), bool)
Table = NDArray[np.float64]
Whole = NDArray[np.integer[Any]]
Real = NDArray[np.floating[Any]]


@dataclass(frozen=True)
class Limits:
    """What counts as standing out, the same for a whole stretch: in units of the signal."""

    floor: float
    low: float
    high: float
    noise: float = 0.0

    def within(self, one: Grey, mask: Mask) -> Limits:
        """Return the limits for one frame: compression makes some frames much noisier than those between them."""
        floor, noise = _floor_and_noise(one, mask)
        more = max(noise / self.noise, 0.8) if self.noise > 0 else 1.0
        lift = floor - self.floor
        if more < 1.15:
            return Limits(floor, self.low + lift, self.high + lift, noise)
        return Limits(
            floor,
            floor + max(self.low - self.floor, _LOW * noise),
            floor + max(self.high - self.floor, _HIGH * noise),
            noise,
        )


def signal(frame: Grey, camera: NDArray[np.float64], layer: Layer, mask: Mask) -> Grey:
    """Return by how much each place differs from the background, smoothed; 0 or more."""
    change = frame - layer.seen(mask.shape, camera)
    change[~mask] = 0
    change -= _slow_part(change, mask)
    change[~mask] = 0
    fine = ndimage.gaussian_filter(change, _FINE, truncate=3.0)
    np.abs(fine, out=fine)
    fine *= layer.trust(mask.shape, camera)
    return np.asarray(ndimage.gaussian_filter(fine, _WIDE, truncate=2.5), np.float32)


def _slow_part(change: Grey, mask: Mask) -> Grey:
    """Return what changes slowly over the field: a surface of second order through most of it."""
    rows, columns = change.shape
    skip = max(1, int(np.sqrt(change.size / 3000)))
    inside = mask[::skip, ::skip]
    values = change[::skip, ::skip][inside]
    down, right = _powers(rows), _powers(columns)
    y, x = np.nonzero(inside)
    terms = np.column_stack([down[a, y * skip] * right[b, x * skip] for a, b in _TERMS])
    rest = values - np.median(values)
    for _ in range(4):
        reach = max(2.5 * 1.4826 * float(np.median(np.abs(rest))), 1e-6)
        root = np.sqrt(1 / (1 + (rest / reach) ** 2) ** 2)[:, None]
        fit = np.linalg.lstsq(terms * root, values * root[:, 0], rcond=None)[0]
        rest = values - terms @ fit
    grid = np.zeros((3, 3), np.float32)
    for (a, b), amount in zip(_TERMS, fit, strict=True):
        grid[a, b] = amount
    return np.asarray(down.T @ grid @ right, np.float32)


_TERMS = ((0, 0), (0, 1), (1, 0), (0, 2), (1, 1), (2, 0))


@cache
def _powers(length: int) -> NDArray[np.float32]:
    """Constant, linear and quadratic term along one side, shape (3, length)."""
    at = np.linspace(-1, 1, length)
    return np.asarray([np.ones(length), at, at**2], np.float32)


def limits_of(signals: list[Grey], mask: Mask) -> Limits:
    """Return the limits from some frames' signals."""
    floors: list[float] = []
    noises: list[float] = []
    peaks: list[float] = []
    areas: list[float] = []
    for one in signals:
        floor, noise = _floor_and_noise(one, mask)
        noises.append(noise)
        floors.append(floor)
    floor, noise = float(np.median(floors)), max(float(np.median(noises)), 1e-6)
    for one in signals:
        labels, count = ndimage.label(one > floor + _HIGH * noise)
        if count:
            at = np.flatnonzero(labels)
            top = np.zeros(count + 1)
            np.maximum.at(top, labels.ravel()[at], one.ravel()[at])
            peaks.extend(top[1:] - floor)
            areas.extend(np.bincount(labels.ravel()[at])[1:])
    strong = _upper(np.array(peaks), np.array(areas, float)) if peaks else 0.0
    low = max(_LOW * noise, 0.6 * _FAINT * strong)
    return Limits(floor, floor + low, floor + max(_HIGH * noise, _FAINT * strong), noise)


def _floor_and_noise(one: Grey, mask: Mask) -> tuple[float, float]:
    """Return the middle of a signal and its scatter there: noise, whatever stands in the field."""
    inside = one[::2, ::2][mask[::2, ::2]]
    floor, above = np.percentile(inside, (50, 75))  # noise has a longer tail above than below
    return float(floor), 1.4826 * float(above - floor)


def _upper(values: Table, weight: Table, share: float = 0.75) -> float:
    order = np.argsort(values)
    reached = np.cumsum(weight[order]) / weight.sum()
    return float(values[order][int(np.searchsorted(reached, share))])


def rim_of(mask: Mask) -> Mask:
    """Return the outermost lit pixels: what reaches them may go on outside."""
    return np.asarray(mask & ~ndimage.binary_erosion(mask, _SQUARE, iterations=2))


def bodies(one: Grey, limits: Limits, rim: Mask | None = None, least_area: float = 6.0) -> Table:
    """Return a row of `COLUMNS` for each body of a frame's signal, working pixels and radians."""
    labels, count = ndimage.label(one > limits.low, structure=_SQUARE)
    if count == 0:
        return np.empty((0, len(COLUMNS)))
    flat = labels.ravel()
    at = np.flatnonzero(flat)
    names = flat[at]
    area = np.bincount(names, minlength=count + 1)
    values = one.ravel()[at]
    peak = np.zeros(count + 1, np.float32)
    np.maximum.at(peak, names, values)
    keep = (area >= least_area) & (peak > limits.high)
    keep[0] = False
    if not keep.any():
        return np.empty((0, len(COLUMNS)))
    new = np.cumsum(keep) - 1
    chosen = keep[names]
    names, at, values = new[names[chosen]], at[chosen], values[chosen]
    y, x = np.divmod(at, one.shape[1])
    table = _moments(names, x.astype(float), y.astype(float), values - limits.floor, int(keep.sum()))
    if rim is not None:
        table[:, _PARTLY] = np.bincount(names, rim.ravel()[at], len(table)) > 0
    return _parted(table, names, x, y, values - limits.floor)[:, : len(COLUMNS)]


def specks(one: Grey, limits: Limits, rim: Mask | None = None) -> Table:
    """Return a row of `COLUMNS` for each thing that stands out from the noise but is too faint to be a body.

    Beside strong bodies grains are too faint to be judged; the fluid carries them all the same. All get the same
    outline: it is not told.
    """
    least = limits.floor + _SPECK * limits.noise
    rows, columns = one.shape
    y, x = np.divmod(np.flatnonzero((one > least) & (one <= limits.high)), columns)
    room = _CLEAR_OF_PX
    inside = (y >= room) & (y < rows - room) & (x >= room) & (x < columns - room)
    y, x = y[inside], x[inside]
    value = one[y, x]
    for down, right in _AROUND:
        top = value >= one[y + down, x + right]
        y, x, value = y[top], x[top], value[top]
    for down in range(-room, room + 1, 2):
        for right in range(-room, room + 1, 2):
            clear = one[y + down, x + right] <= limits.high
            y, x, value = y[clear], x[clear], value[clear]
    if len(y) > _MOST_SPECKS:
        best = np.argsort(-value)[:_MOST_SPECKS]
        y, x, value = y[best], x[best], value[best]
    near = np.array([one[y + down, x + right] for down, right in _WINDOW]) - limits.floor
    weight = np.maximum(near, 0)
    total = np.maximum(weight.sum(axis=0), 1e-12)
    at = np.array(_WINDOW, float)
    table = np.zeros((len(y), len(COLUMNS)))
    table[:, 0], table[:, 1] = x + at[:, 1] @ weight / total, y + at[:, 0] @ weight / total
    table[:, 2], table[:, 3:5], table[:, 6] = 6.0, 2.0, value - limits.floor
    if rim is not None:
        table[:, _PARTLY] = rim[y, x]
    return table


_AROUND = [(down, right) for down in (-1, 0, 1) for right in (-1, 0, 1) if down or right]
_WINDOW = [(down, right) for down in (-2, -1, 0, 1, 2) for right in (-2, -1, 0, 1, 2)]


def _moments(names: Whole, x: Real, y: Real, weight: Real, count: int) -> Table:
    """Return `COLUMNS` and, behind them, length and width of the whole outline instead of that at half height."""
    mass = np.bincount(names, weight, count)
    mx, my = np.bincount(names, weight * x, count) / mass, np.bincount(names, weight * y, count) / mass
    peak = np.zeros(count)
    np.maximum.at(peak, names, weight)
    long, short, angle = _axes(names, x, y, count)
    high = weight >= 0.45 * peak[names]
    half_long, half_short, _ = _axes(names[high], x[high], y[high], count)
    blur2 = 2.355**2 * (_FINE**2 + _WIDE**2) * 0.8  # what smoothing adds to the width at half height
    true = [np.sqrt(np.maximum(axis**2 - blur2, 1.0)) for axis in (half_long, half_short)]
    whole = np.zeros(count)
    return np.column_stack(
        [mx, my, np.bincount(names, minlength=count), *true, angle, peak, whole, long, short]
    )


def _axes(names: Whole, x: Real, y: Real, count: int) -> tuple[Table, Table, Table]:
    """Return long axis, short axis and direction of the ellipse with the same second moments."""

    def mean(values: Real) -> Table:
        return np.asarray(np.bincount(names, values, count) / area, np.float64)

    area = np.maximum(np.bincount(names, minlength=count), 1)
    dx, dy = x - mean(x)[names], y - mean(y)[names]
    xx, yy, xy = mean(dx * dx) + 1 / 12, mean(dy * dy) + 1 / 12, mean(dx * dy)
    half, tilt = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
    long, short = 4 * np.sqrt(half + tilt), 4 * np.sqrt(np.maximum(half - tilt, 1 / 12))
    return long, short, np.asarray(0.5 * np.arctan2(2 * xy, xx - yy))


def _parted(table: Table, names: Whole, x: Whole, y: Whole, weight: Real) -> Table:
    """Part two bodies that touch: an outline with a neck, each side about as wide as long."""
    filled = table[:, 2] / (np.pi / 4 * table[:, _OUTER] * table[:, _OUTER + 1])
    doubtful = np.flatnonzero((filled < 0.96) & (table[:, 2] > 24))
    if not len(doubtful):
        return table
    rest = [np.delete(table, doubtful, axis=0)]
    order = np.argsort(names, kind="stable")
    ends = np.searchsorted(names[order], [doubtful, doubtful + 1])
    for start, end, whole in zip(*ends, doubtful, strict=True):
        mine = order[start:end]
        rest.append(_necked(table[whole], x[mine], y[mine], weight[mine]))
    return np.vstack(rest)


def _necked(whole: Table, x: Whole, y: Whole, weight: Real) -> Table:
    left, top = x.min() - 1, y.min() - 1
    shape = (int(y.max() - top + 2), int(x.max() - left + 2))
    inside = np.zeros(shape, bool)
    high = weight > _OUTLINE * float(np.percentile(weight, 75))  # two that touch do so by their halos
    inside[(y - top)[high], (x - left)[high]] = True
    deep = ndimage.gaussian_filter(ndimage.distance_transform_edt(ndimage.binary_fill_holes(inside)), 0.7)
    tops = (deep == ndimage.maximum_filter(deep, 5)) & (deep > 0.5 * deep.max()) & (deep > 1.8)
    py, px = np.nonzero(tops)
    if not 2 <= len(py) <= 8:
        return whole[None]
    order = np.argsort(-deep[py, px])
    heads: list[tuple[int, int]] = []
    for k in order:
        here = (int(py[k]), int(px[k]))
        if all(_apart(deep, here, other) for other in heads):
            heads.append(here)
    if len(heads) < 2:
        return whole[None]
    spots = np.array(heads)
    near = np.argmin((y[:, None] - top - spots[:, 0]) ** 2 + (x[:, None] - left - spots[:, 1]) ** 2, axis=1)
    parts = _moments(near, x.astype(float), y.astype(float), weight, len(heads))
    thick = 2 * deep[spots[:, 0], spots[:, 1]]
    # a long body, bent or banded, narrows here and there; two that touch are each about as wide as long
    if (parts[:, _OUTER] > _LONGEST_PART * thick).any():
        return whole[None]
    parts[:, _PARTLY] = whole[_PARTLY]
    return parts


def _apart(deep: Table, one: tuple[int, int], other: tuple[int, int]) -> bool:
    """Return whether the way between two places gets much narrower than both, along the body however bent."""
    labels, _ = ndimage.label(deep > _NECK * min(deep[one], deep[other]), structure=_SQUARE)
    return bool(labels[one] != labels[other])


def stuck_things(layer: Layer, camera: NDArray[np.float64], mask: Mask, um_per_px: float) -> Table:
    """Return what stands out in the still background itself: x, y, area, length, width, angle, peak in µm."""
    ground = np.ascontiguousarray(layer.seen(mask.shape, camera))
    wide = max(6.0, 10.0 / um_per_px)
    fine = np.abs(ndimage.gaussian_filter(ground, 1.0) - ndimage.gaussian_filter(ground, wide))
    fine[~ndimage.binary_erosion(mask, iterations=3, border_value=1)] = 0
    fine = np.asarray(ndimage.gaussian_filter(fine, _WIDE), np.float32)
    limits = limits_of([fine], mask)
    least = limits.floor + _STUCK_CONTRAST
    table = bodies(fine, Limits(limits.floor, max(limits.low, least), max(limits.high, 1.5 * least)))
    table[:, :2] = (table[:, :2] - camera) * um_per_px
    table[:, 2] *= um_per_px**2
    table[:, 3:5] *= um_per_px
    return table
