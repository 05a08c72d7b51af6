"""Long thin objects, such as larvae: a narrow band along each middle line is straightened, and a body is laid into it.

An ellipse does not describe what bends. Along each middle line of :mod:`.middle_lines` light is read across; the
middle between the two walls is found once more, and in the straightened band a body with a blunt head and a long
tapering tail is laid where its walls fit best. Its features tell it from fibres, which keep their width, from hairs
and from bands of debris.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.detect.absorption import Map
from fecallab.imaging.detect.long_score import LONG_NAMES, SHARES, long_score
from fecallab.imaging.detect.middle_lines import middle_lines
from fecallab.imaging.detect.straightened import (
    ACROSS_UM,
    HALF_STEPS,
    STATION_UM,
    Band,
    band_along,
    drawn_out,
    middles,
)
from fecallab.imaging.detect.trace import Floats

__all__ = ["LONG_NAMES", "LONG_THRESHOLD", "LongFound", "find_long", "long_score"]
LONG_THRESHOLD = 0.5
"""Score from which a long object is proposed."""
_LONGER_UM = 60.0
WORK_UM_PER_PX = 2.4
_MOST_LINES = 60
_LEAST_LENGTH_UM, _MOST_LENGTH_UM = 70.0, 620.0
_SAME_UM, _SAME_SHARE = 5.0, 0.4
_PLACES, _BEYOND, _WIDTH_ERROR_UM = 64, 8, 1.2
_WIDTHS_UM = (7.0, 10.0, 12.5, 15.0, 18.0, 21.5, 26.0)
_HEAD, _HEAD_WIDTHS = ((0.0, 0.17, 1.0), (0.45, 0.74, 0.97)), 2.2
_TAIL, _TAIL_WIDTHS = ((0.0, 0.075, 0.375, 1.0), (0.05, 0.18, 0.68, 1.0)), 6.5
"""Half width of head and tail from the tip inwards as a share of the middle, and how long they are in widths."""
_KEEP = (0.25, 0.38, 0.5)
"""Walls that are weaker than this end a body."""


@dataclass(frozen=True)
class LongFound:
    """Long objects in pixels of the first level.

    Attributes
    ----------
    x, y : ndarray, shape (n,)
        Middle of the box around the middle line.
    length, width : ndarray
        Along the body, and its thickness where it is widest.
    angle : ndarray
        Direction from end to end, radians.
    error : ndarray
        Standard error of the width.
    outline : list of ndarray, shape (points, 2)
    features : ndarray, shape (n, len(LONG_NAMES))
    """

    x: Floats
    y: Floats
    length: Floats
    width: Floats
    angle: Floats
    error: Floats
    outline: list[Floats]
    features: Floats


@dataclass(frozen=True)
class _Laid:
    """A body on a line: stations of head and tail, and its width."""

    line: int
    head: int
    tail: int
    width_um: float


@dataclass(frozen=True)
class _Bodies:
    """Middle, length, width and angle; outlines (bodies, points, 2); features. Points and features run from the head."""

    places: Floats
    outline: Floats
    features: Floats

    def of(self, which: NDArray[np.intp]) -> _Bodies:
        return _Bodies(self.places[which], self.outline[which], self.features[which])


def find_long(levels: list[Map], um_per_px: float, *, every: bool = False) -> LongFound:
    """Find long thin objects.

    Parameters
    ----------
    levels : list of ndarray
        From :func:`fecallab.imaging.detect.search.pyramid`.
    um_per_px : float
        Pitch of the first level.
    every : bool, optional
        Also those that lie mostly on a better one, as the fit needs them.
    """
    k = int(np.clip(round(np.log2(WORK_UM_PER_PX / um_per_px)), 0, len(levels) - 1))
    coarse, fine = levels[k], levels[max(k - 1, 0)]
    factor = 2.0 if k else 1.0
    pitch = um_per_px * 2**k
    size = 2.0 ** max(k - 1, 0)
    lines, evidence = middle_lines(coarse, pitch, 60.0, _MOST_LINES) if min(coarse.shape) >= 24 else ([], [])
    made = _bodies(fine, [(line + 0.5) * factor - 0.5 for line in lines], evidence, pitch / factor)
    if made is None:
        none = np.zeros(0)
        return LongFound(none, none, none, none, none, none, [], np.zeros((0, len(LONG_NAMES))))
    made = made if every else made.of(_apart(made, um_per_px * size))
    x, y, length, width, angle = made.places.T
    return LongFound(
        (x + 0.5) * size - 0.5,
        (y + 0.5) * size - 0.5,
        length * size,
        width * size,
        angle,
        np.full(len(x), _WIDTH_ERROR_UM / um_per_px),
        [(one[:: max(1, len(one) // 40)] + 0.5) * size - 0.5 for one in made.outline],
        made.features,
    )


def _bodies(level: Map, lines: list[Floats], evidence: list[float], um_per_px: float) -> _Bodies | None:
    if not lines:
        return None
    rough = band_along(level, [drawn_out(line, _LONGER_UM / um_per_px) for line in lines], um_per_px)
    middle = ndimage.gaussian_filter1d(middles(rough), 1.5, axis=1, mode="nearest") / um_per_px
    x, y = rough.x + rough.nx * middle, rough.y + rough.ny * middle
    better = [
        ndimage.gaussian_filter1d(np.column_stack([x[k, :n], y[k, :n]]), 1.0, axis=0, mode="nearest")
        for k, n in enumerate(rough.count)
    ]
    band = band_along(level, better, um_per_px)
    laid = _laid(band)
    return _features(band, laid, evidence, um_per_px, level.shape) if laid else None


def _laid(band: Band) -> list[_Laid]:
    """For each line the bodies that fit best, one for each of `_KEEP`, each once."""
    n, m = band.x.shape
    valid = band.valid
    value = np.full((len(_KEEP), n), 1e-6)
    best: dict[tuple[int, int], _Laid] = {}
    each, at = np.arange(n), np.arange(m)
    for width in _WIDTHS_UM:
        sums = np.zeros((n, m + 1))
        np.cumsum(band.walls(width / 2) * valid, axis=1, out=sums[:, 1:])
        ends = {}
        for name, shape, widths in (("head", _HEAD, _HEAD_WIDTHS), ("tail", _TAIL, _TAIL_WIDTHS)):
            k = max(2, round(widths * width / STATION_UM))
            first, last = np.zeros((n, m)), np.zeros((n, m))
            halves = width / 2 * np.interp((np.arange(k) + 0.5) / k, *shape)
            for d in range(min(k, m)):
                gain = band.walls(float(halves[d])) * valid
                first[:, : m - d] += gain[:, d:]
                last[:, d:] += gain[:, : m - d]
            ends[name] = (k, first, last)
        for tail_last in (True, False):
            (a, first, _), (b, _, last) = (
                (ends["head"], ends["tail"]) if tail_last else (ends["tail"], ends["head"])
            )
            least = max(a + b, int(_LEAST_LENGTH_UM / STATION_UM))
            if least >= m:
                continue
            for which, keep in enumerate(_KEEP):
                begin = np.where(valid, first - sums[:, np.minimum(at + a, m)] + keep * at, -1e9)
                end = np.where(valid, last + sums[:, np.maximum(at - b + 1, 0)] - keep * (at + 1), -1e9)
                total = np.maximum.accumulate(begin, axis=1)[:, : m - least] + end[:, least:]
                stop = total.argmax(axis=1)
                worth = total[each, stop]
                for line in np.flatnonzero(worth > value[which]).tolist():
                    start, till = int(begin[line, : stop[line] + 1].argmax()), int(stop[line]) + least
                    if (till - start) * STATION_UM <= _MOST_LENGTH_UM:
                        value[which, line] = worth[line]
                        best[line, which] = _Laid(
                            line, *((start, till) if tail_last else (till, start)), width
                        )
    return list(dict.fromkeys(best[key] for key in sorted(best)))


def _features(
    band: Band, laid: list[_Laid], evidence: list[float], um_per_px: float, shape: tuple[int, ...]
) -> _Bodies:
    """Outlines, sizes and features of all bodies at once: their walls and light are read at as many places from head to tail."""
    n = len(laid)
    line = np.array([one.line for one in laid])
    first = np.array([one.head for one in laid], float)
    last = np.array([one.tail for one in laid], float)
    width = np.array([one.width_um for one in laid])
    sense = np.where(last >= first, 1, -1)[:, None]
    at = first[:, None] + (last - first)[:, None] * np.linspace(0, 1, _PLACES)
    rows = np.rint(at).astype(int)
    from_head = (np.abs(at - first[:, None]) + 0.5) * STATION_UM
    from_tail = (np.abs(at - last[:, None]) + 0.5) * STATION_UM
    half = (
        width[:, None]
        / 2
        * np.minimum(
            np.interp(from_head / (_HEAD_WIDTHS * width[:, None]), *_HEAD),
            np.interp(from_tail / (_TAIL_WIDTHS * width[:, None]), *_TAIL),
        )
    )
    even = np.broadcast_to(width[:, None] / 2, half.shape)
    fit, sides = _pair(band, line, rows, half, sense)
    as_even = _pair(band, line, rows, even, sense)[0]
    narrower, wider = (_pair(band, line, rows, share * half, sense)[0] for share in (0.6, 1.5))
    eighths = np.sort(_parts(fit, 8), axis=1)
    beyond = []
    for end, out in ((first, -sense[:, 0]), (last, sense[:, 0])):
        there = end[:, None] + out[:, None] * np.arange(1, _BEYOND + 1)
        inside = (there >= 0) & (there < band.count[line][:, None])
        there = np.clip(there, 0, band.x.shape[1] - 1).astype(int)
        best = np.zeros(n)
        for share in (0.2, 0.35, 0.5):
            gain = _pair(band, line, there, np.broadcast_to(share * width[:, None], there.shape), sense)[0]
            np.maximum(best, (gain * inside).sum(axis=1) / _BEYOND, out=best)
        beyond.append(best)
    in_tail = from_tail < 0.4 * _TAIL_WIDTHS * width[:, None]
    in_head = from_head < 0.5 * _HEAD_WIDTHS * width[:, None]
    per = 1 / band.usual[line][:, None]

    def light(steps_um: Floats) -> Floats:
        steps = HALF_STEPS + sense * steps_um / ACROSS_UM
        return np.asarray(_read(band.light, line, rows, steps) * per, np.float64)

    core = (light(-0.35 * half) + light(0 * half) + light(0.35 * half)) / 3
    beside = [(light(way * (half + 3.0)) + light(way * (half + 5.0))) / 2 for way in (-1, 1)]
    ground = (beside[0] + beside[1]) / 2
    rough = core - ndimage.gaussian_filter1d(core, 3, axis=1, mode="nearest")
    x, y = band.x[line[:, None], rows], band.y[line[:, None], rows]
    heading = np.unwrap(np.arctan2(np.gradient(y, axis=1), np.gradient(x, axis=1)), axis=1)
    bend = np.diff(ndimage.gaussian_filter1d(heading, 2, axis=1, mode="nearest"), axis=1)
    chord = np.hypot(x[:, -1] - x[:, 0], y[:, -1] - y[:, 0])
    length = np.abs(last - first) * STATION_UM
    rim = 6.0 / um_per_px
    outside = (x < rim) | (y < rim) | (x > shape[1] - 1 - rim) | (y > shape[0] - 1 - rim)
    share_in_head, share_in_tail = (
        in_head / in_head.sum(axis=1)[:, None],
        in_tail / in_tail.sum(axis=1)[:, None],
    )
    numbers = np.column_stack([
        np.log(length / 300), np.log(length / width), np.log(width / 15),
        fit.mean(axis=1), eighths[:, 0], eighths[:, 1], _parts(fit, SHARES), *beyond,
        ((as_even - fit) * share_in_tail).sum(axis=1), ((as_even - fit) * share_in_head).sum(axis=1),
        narrower.mean(axis=1) - fit.mean(axis=1), wider.mean(axis=1) - fit.mean(axis=1), sides.mean(axis=1),
        np.clip(_parts(core - ground, SHARES), -6, 6), np.abs(beside[0] - beside[1]).mean(axis=1),
        rough.std(axis=1), np.hypot(beside[0].std(axis=1), beside[1].std(axis=1)), np.log(band.usual[line]),
        chord * um_per_px / length, np.abs(bend).sum(axis=1), bend.std(axis=1), np.array(evidence)[line],
        outside[:, 0] + 0.0 + outside[:, -1], (np.abs(ground - np.median(ground, axis=1)[:, None]) > 4).mean(axis=1),
    ])  # fmt: skip
    nx, ny = band.nx[line[:, None], rows], band.ny[line[:, None], rows]
    out = half / um_per_px
    outline = np.concatenate(
        [np.stack([x + nx * out, y + ny * out], -1), np.stack([x - nx * out, y - ny * out], -1)[:, ::-1]],
        axis=1,
    )
    angle = np.arctan2(y[:, -1] - y[:, 0], x[:, -1] - x[:, 0]) % np.pi
    middle = (x.max(axis=1) + x.min(axis=1)) / 2, (y.max(axis=1) + y.min(axis=1)) / 2
    places = np.column_stack([*middle, length / um_per_px, width / um_per_px, angle])
    return _Bodies(places, outline, np.nan_to_num(numbers))


def _apart(made: _Bodies, um_per_px: float) -> NDArray[np.intp]:
    """Which to keep: the best first, and of the others those that lie mostly elsewhere."""
    middle = (made.outline[:, :_PLACES] + made.outline[:, : _PLACES - 1 : -1])[:, 2::4] / 2
    score = long_score(made.features)
    kept: list[int] = []
    for k in np.argsort(-score, kind="stable").tolist():
        near = made.places[:, 3] / 2 + _SAME_UM / um_per_px
        for other in kept:
            away = np.hypot(*(middle[k][:, None] - middle[other][None]).transpose(2, 0, 1)).min(axis=1)
            if (away < near[other]).mean() > _SAME_SHARE:
                break
        else:
            kept.append(k)
    return np.array(kept, np.intp)


def _read(table: Map, line: NDArray[np.intp], rows: NDArray[np.intp], steps: Floats) -> Floats:
    """Values of (lines, stations, across) at stations, between steps across."""
    low = np.clip(steps.astype(int), 0, 2 * HALF_STEPS - 1)
    rest = np.clip(steps - low, 0, 1)
    flat = table.reshape(-1)
    index = (line[:, None] * table.shape[1] + rows) * table.shape[2] + low
    return np.asarray(flat[index] * (1 - rest) + flat[index + 1] * rest, float)


def _pair(
    band: Band, line: NDArray[np.intp], rows: NDArray[np.intp], half_um: Floats, sense: NDArray[np.intp]
) -> tuple[Floats, Floats]:
    """The weaker of both walls, and by how much they differ."""
    steps = np.clip(half_um / ACROSS_UM, 0.5, HALF_STEPS - 1)
    right = _read(band.right, line, rows, HALF_STEPS + steps)
    left = _read(band.left, line, rows, HALF_STEPS - steps)
    return np.minimum(right, left), np.abs(right - left)


def _parts(values: Floats, count: int) -> Floats:
    parts = [part.mean(axis=1) for part in np.array_split(values, count, axis=1)]
    return np.asarray(np.column_stack(parts), np.float64)
