"""Long thin objects, such as larvae: middle lines from ridges, then both edges along them.

An ellipse does not describe what bends. On a coarse level ridges of absorption of a larva's thickness are joined to
middle lines; along each the two edges are sought in a finer level, the ends where the body stops, and a few numbers
say how even, tapering and two-edged it is.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage.morphology import skeletonize

from fecallab.imaging.detect.absorption import Map
from fecallab.imaging.detect.trace import Floats, read_at

LONG_NAMES = (
    "aspect", "width_even", "head_taper", "tail_taper", "edge_share", "edge_worst", "drop", "drop_to_texture",
    "centre_step", "straight", "turning", "middle_even", "sides_alike", "ridge",
)  # fmt: skip
"""Names of the features of long objects, in order."""
LONG_THRESHOLD = 0.45
"""Score from which a long object is proposed."""
_LIMITS: dict[str, tuple[float, float, float]] = {
    "aspect": (1.95, 9.0, 0.12),
    "width_even": (-1.0, 0.21, 0.03),
    "edge_share": (0.93, 2.0, 0.02),
    "edge_worst": (0.55, 9.0, 0.05),
    "drop": (-3.0, -1.0, 0.15),
    "drop_to_texture": (0.2, 9.0, 0.15),
    "straight": (0.72, 2.0, 0.04),
    "turning": (-1.0, 5.5, 0.5),
    "middle_even": (-1.0, 0.6, 0.08),
    "ridge": (1.6, 9.0, 0.08),
}
"""Between which values a larva's features lie, and how softly each limit holds (set by hand on drawn larvae and
fibres: too few of them were drawn to fit weights; needles and hairs are darker, rims of bubbles curl)."""
WORK_UM_PER_PX = 2.4
_SIGMAS_PX = (1.5, 2.2, 3.3)
_STRONG, _WEAK, _AROUND_PX, _FLOOR = 1.3, 0.55, 41, 0.006
_LEAST_LENGTH_UM, _MOST_LENGTH_UM, _LEAST_ASPECT = 70.0, 600.0, 4.0
_MOST_PATHS, _ACROSS = 40, 25
_STATIONS = 48


@dataclass(frozen=True)
class LongFound:
    """Long objects in pixels of the first level.

    Attributes
    ----------
    x, y : ndarray, shape (n,)
        Middle of the box around the middle line.
    length, width : ndarray
        Along the body, and its thickness (the 85th percentile along it).
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


def find_long(levels: list[Map], um_per_px: float) -> LongFound:
    """Find long thin objects.

    Parameters
    ----------
    levels : list of ndarray
        From :func:`fecallab.imaging.detect.search.pyramid`.
    um_per_px : float
        Pitch of the first level.
    """
    k = int(np.clip(round(np.log2(WORK_UM_PER_PX / um_per_px)), 0, len(levels) - 1))
    coarse, fine = levels[k], levels[max(k - 1, 0)]
    factor = 2.0 if k else 1.0
    pitch = um_per_px * 2**k
    made = []
    if min(coarse.shape) >= 24:
        for path, ridge in _middle_lines(coarse, pitch):
            one = _measured(fine, (path + 0.5) * factor - 0.5, ridge, pitch / factor)
            if one is not None:
                made.append(one)
    size = 2.0 ** max(k - 1, 0)
    if not made:
        none = np.zeros(0)
        return LongFound(none, none, none, none, none, none, [], np.zeros((0, len(LONG_NAMES))))
    places = np.array([one[0] for one in made])
    return LongFound(
        (places[:, 0] + 0.5) * size - 0.5,
        (places[:, 1] + 0.5) * size - 0.5,
        places[:, 2] * size,
        places[:, 3] * size,
        places[:, 4],
        places[:, 5] * size,
        [(one[1] + 0.5) * size - 0.5 for one in made],
        np.array([one[2] for one in made]),
    )


def long_score(features: Floats) -> Floats:
    """Return a score from 0 to 1: the product of soft limits."""
    score = np.ones(len(features))
    for name, (low, high, soft) in _LIMITS.items():
        value = features[:, LONG_NAMES.index(name)]
        for past in (value - low, high - value):
            score /= 1 + np.exp(-np.clip(past / soft, -30, 30))
    return score


def _middle_lines(level: Map, um_per_px: float) -> list[tuple[Floats, float]]:
    """Middle lines (columns, rows) with their mean ridge, strongest first."""
    ridge = np.zeros_like(level)
    for sigma in _SIGMAS_PX:
        xx, yy, xy = (
            ndimage.gaussian_filter(level, sigma, order=order, truncate=3.0)
            for order in ((0, 2), (2, 0), (1, 1))
        )
        middle, swing = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
        across, along = middle - swing, middle + swing
        np.maximum(ridge, sigma**2 * (-across - 0.7 * np.abs(along)), out=ridge)
    usual = (
        np.sqrt(np.maximum(ndimage.uniform_filter(ridge * ridge, min(_AROUND_PX, *level.shape)), 0)) + _FLOOR
    )
    ridge /= usual
    weak = ridge > _WEAK
    labels, _ = ndimage.label(weak, np.ones((3, 3)))
    strong = np.unique(labels[ridge > _STRONG])
    keep = np.isin(labels, strong[strong > 0])
    thin = np.asarray(skeletonize(keep), np.bool_)  # type: ignore[no-untyped-call]
    joints = thin & (ndimage.convolve(thin.astype(np.uint8), np.ones((3, 3), np.uint8), mode="constant") > 3)
    whole = [*_paths(thin, ridge, um_per_px), *_paths(thin & ~joints, ridge, um_per_px)]
    whole.sort(key=lambda one: -one[1] * len(one[0]))
    return whole[:_MOST_PATHS]


def _paths(thin: NDArray[np.bool_], ridge: Map, um_per_px: float) -> list[tuple[Floats, float]]:
    """The longest way through each connected piece of a skeleton."""
    labels, count = ndimage.label(thin, np.ones((3, 3)))
    least = 0.8 * _LEAST_LENGTH_UM / um_per_px
    sizes = np.bincount(labels.ravel(), minlength=count + 1)
    found = []
    for number, box in enumerate(ndimage.find_objects(labels), start=1):
        if sizes[number] < least:
            continue
        rows, columns = np.nonzero(labels[box] == number)
        cells = set(zip(rows.tolist(), columns.tolist(), strict=True))
        first, _ = _farthest(cells, next(iter(sorted(cells))))
        last, came = _farthest(cells, first)
        way = [last]
        while came[way[-1]] is not None:
            way.append(came[way[-1]])  # type: ignore[arg-type]
        if len(way) < least:
            continue
        path = np.array(way, float)[:, ::-1] + [box[1].start, box[0].start]
        strength = float(ridge[path[:, 1].astype(int), path[:, 0].astype(int)].mean())
        found.append((ndimage.gaussian_filter1d(path, 2.5, axis=0, mode="nearest"), strength))
    return found


Cell = tuple[int, int]


def _farthest(cells: set[Cell], start: Cell) -> tuple[Cell, dict[Cell, Cell | None]]:
    came: dict[Cell, Cell | None] = {start: None}
    waiting = deque([start])
    here = start
    while waiting:
        here = waiting.popleft()
        for dr in (-1, 0, 1):
            for dc in (-1, 0, 1):
                there = (here[0] + dr, here[1] + dc)
                if there in cells and there not in came:
                    came[there] = here
                    waiting.append(there)
    return here, came


def _measured(
    level: Map, path: Floats, ridge: float, um_per_px: float
) -> tuple[tuple[float, ...], Floats, list[float]] | None:
    """Edges, ends, sizes and features of what lies along a middle line, in pixels of `level`."""
    path = _longer(path, 45.0 / um_per_px)
    at = _arc(path)
    stations = np.linspace(0, at[-1], 4 * _STATIONS)
    x, y = np.interp(stations, at, path[:, 0]), np.interp(stations, at, path[:, 1])
    dx, dy = np.gradient(x), np.gradient(y)
    size = np.maximum(np.hypot(dx, dy), 1e-6)
    nx, ny = -dy / size, dx / size
    reach = 22.0 / um_per_px
    across = np.linspace(-reach, reach, 2 * _ACROSS + 1)
    light = read_at(level, x[:, None] + nx[:, None] * across, y[:, None] + ny[:, None] * across)
    light = ndimage.gaussian_filter1d(light, 3.0, axis=0, mode="nearest")
    fall = np.zeros_like(light)
    fall[:, 2:-2] = light[:, :-4] - light[:, 4:]
    right, left = fall[:, _ACROSS + 1 :], -fall[:, :_ACROSS][:, ::-1]
    bright = light[:, _ACROSS - 3 : _ACROSS + 4].mean(axis=1) - np.minimum(
        light[:, :6].mean(axis=1), light[:, -6:].mean(axis=1)
    )
    typical = np.median(bright[len(bright) // 4 : -len(bright) // 4])
    if typical <= 0.004:
        return None
    usual_edge = np.minimum(right[:, 2:].max(axis=1), left[:, 2:].max(axis=1))
    enough = 0.35 * float(np.median(usual_edge[len(bright) // 4 : -len(bright) // 4]))
    inside = _run((bright > 0.3 * typical) & (usual_edge > enough))
    if inside is None:
        return None
    first, last = inside
    length = float(stations[last] - stations[first])
    step = across[1] - across[0]
    on_right, on_left = right[first : last + 1].mean(axis=0), left[first : last + 1].mean(axis=0)
    usual_half = 0.5 * (float(on_right.argmax()) + float(on_left.argmax()) + 2)
    window = slice(0, int(min(_ACROSS, 1.9 * usual_half + 2)))
    half_r, half_l = _outermost(right[first : last + 1, window]), _outermost(left[first : last + 1, window])
    half_r, half_l = (
        ndimage.median_filter(half_r, 9, mode="nearest"),
        ndimage.median_filter(half_l, 9, mode="nearest"),
    )
    width_along = (half_r + half_l) * step
    n = len(width_along)
    if n < 24:
        return None
    width = float(np.percentile(width_along, 75))
    if not (_LEAST_LENGTH_UM <= length * um_per_px <= _MOST_LENGTH_UM) or length < _LEAST_ASPECT * width:
        return None
    core = slice(n // 5, -n // 5)
    both = np.minimum(right[first : last + 1, window].max(axis=1), left[first : last + 1, window].max(axis=1))
    drop = float(np.median(both[core]))
    texture = float(light[first : last + 1][:, [*range(8), *range(-8, 0)]].std()) + 0.005
    sx, sy = x[first : last + 1], y[first : last + 1]
    chord = float(np.hypot(sx[-1] - sx[0], sy[-1] - sy[0]))
    heading = np.unwrap(np.arctan2(np.gradient(sy), np.gradient(sx)))
    ends = sorted((float(np.median(width_along[: n // 10])), float(np.median(width_along[-n // 10 :]))))
    sectors = np.array([part.mean() for part in np.array_split(both, 8)])
    middle = light[first : last + 1, _ACROSS - 1 : _ACROSS + 2].mean(axis=1)
    sides = (
        np.corrcoef(half_r[core], half_l[core])[0, 1] if half_r[core].std() and half_l[core].std() else 0.0
    )
    numbers = [
        np.log(length / width),
        float(width_along[core].std() / width),
        ends[1] / width,
        ends[0] / width,
        float((both > 0.4 * max(drop, 1e-3)).mean()),
        float(np.sort(sectors)[1] / max(drop, 0.01)),
        float(np.log(max(drop, 0.005))),
        float(np.log(max(drop, 0.005) / texture)),
        float(
            np.clip((middle[core].mean() - light[first : last + 1][:, :5].mean()) / max(drop, 0.01), -4, 8)
        ),
        chord / length,
        float(np.abs(np.diff(heading)).sum()),
        float(middle[core].std() / max(drop, 0.01)),
        float(sides),
        float(ridge),
    ]
    outline = np.concatenate(
        [
            np.column_stack(
                [sx + nx[first : last + 1] * half_r * step, sy + ny[first : last + 1] * half_r * step]
            ),
            np.column_stack(
                [sx - nx[first : last + 1] * half_l * step, sy - ny[first : last + 1] * half_l * step]
            )[::-1],
        ]
    )[:: max(1, n // 20)]
    angle = float(np.arctan2(sy[-1] - sy[0], sx[-1] - sx[0]) % np.pi)
    place = (
        0.5 * float(sx.max() + sx.min()), 0.5 * float(sy.max() + sy.min()), length, width, angle,
        float(width_along[core].std() / np.sqrt(n / 8)),
    )  # fmt: skip
    return place, outline, [float(np.nan_to_num(number)) for number in numbers]


def _outermost(fall: Map) -> Floats:
    """Steps to the outermost edge that is at least half as strong as the strongest."""
    strong = (
        (fall >= 0.5 * fall.max(axis=1, keepdims=True))
        & (fall >= np.roll(fall, 1, axis=1))
        & (fall >= np.roll(fall, -1, axis=1))
    )
    return np.asarray(fall.shape[1] - strong[:, ::-1].argmax(axis=1), float)


def _arc(path: Floats) -> Floats:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])


def _longer(path: Floats, by: float) -> Floats:
    """Draw a path out straight at both ends."""
    k = min(8, len(path) - 1)
    head, tail = path[0] - path[k], path[-1] - path[-1 - k]
    head, tail = head / max(np.hypot(*head), 1e-6), tail / max(np.hypot(*tail), 1e-6)
    steps = np.arange(1, max(2, int(by)))[:, None]
    return np.concatenate([(path[0] + steps * head)[::-1], path, path[-1] + steps * tail])


def _run(on: NDArray[np.bool_]) -> tuple[int, int] | None:
    """Longest run of true values, gaps of up to six allowed."""
    closed = ndimage.binary_closing(np.pad(on, 8), np.ones(7, bool))[8:-8]
    labels, count = ndimage.label(closed)
    if not count:
        return None
    number = int(np.bincount(labels.ravel())[1:].argmax()) + 1
    where = np.flatnonzero(labels == number)
    return int(where[0]), int(where[-1])
