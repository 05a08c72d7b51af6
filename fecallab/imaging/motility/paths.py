"""Tracks as arrays: gaps filled, places smoothed, and how surely a path goes somewhere rather than trembles."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.link import Track

Values = NDArray[np.float64]
_STUCK_UM = 1.2


@dataclass(frozen=True, kw_only=True)
class Path:
    """One body over consecutive frames.

    Attributes
    ----------
    first : int
        Frame of the first row.
    times_s : ndarray, shape (n,)
    xy_um : ndarray, shape (n, 2)
        On the glass; frames in which it was not seen are filled in between.
    own_um : ndarray, shape (n, 2)
        The same without the stream.
    seen : ndarray of bool, shape (n,)
    size : ndarray, shape (n, 5)
        Area (µm²), length, width (µm), angle (radians), peak.
    """

    first: int
    times_s: Values
    xy_um: Values
    own_um: Values
    seen: NDArray[np.bool_]
    size: Values

    def __len__(self) -> int:
        return len(self.times_s)

    @property
    def frames(self) -> NDArray[np.intp]:
        """Frame numbers."""
        return np.arange(self.first, self.first + len(self))

    @property
    def seconds(self) -> float:
        """Length in time."""
        return float(self.times_s[-1] - self.times_s[0])

    def part(self, start: int, end: int) -> Path:
        """Return rows `start` to `end` (not included)."""
        cut = slice(start, end)
        return replace(
            self,
            first=self.first + start,
            times_s=self.times_s[cut],
            xy_um=self.xy_um[cut],
            own_um=self.own_um[cut],
            seen=self.seen[cut],
            size=self.size[cut],
        )


def path_of(track: Track, times_s: Values) -> Path:
    """Turn a track into a path; frames between are filled in along straight lines."""
    rows = np.array(track.rows)
    at = np.array(track.frames)
    frames = np.arange(at[0], at[-1] + 1)
    times = times_s[frames]
    filled = np.column_stack([np.interp(times, times_s[at], rows[:, c]) for c in range(rows.shape[1])])
    nearest = np.clip(np.searchsorted(at, frames), 0, len(at) - 1)
    filled[:, 5] = rows[nearest, 5]
    seen = np.isin(frames, at)
    return Path(
        first=int(at[0]),
        times_s=times,
        xy_um=filled[:, :2],
        own_um=filled[:, :2],
        seen=seen,
        size=filled[:, 2:],
    )


def joined(parts: list[Path]) -> Path:
    """Return parts of one body as one path, in the order of time; overlaps are cut, gaps filled."""
    parts = sorted(parts, key=lambda one: one.first)
    whole = parts[0]
    for following in parts[1:]:
        end = whole.first + len(whole)
        if following.first + len(following) <= end:
            continue
        if following.first < end:
            following = following.part(end - following.first, len(following))
        missing = following.first - end
        share = (np.arange(1, missing + 1) / (missing + 1))[:, None]

        def fill(name: str, one: Path = whole, other: Path = following, between: Values = share) -> Values:
            a, b = getattr(one, name), getattr(other, name)
            start, stop = a[-1:].reshape(1, -1), b[:1].reshape(1, -1)
            middle = start + between * (stop - start)
            return np.concatenate([a, middle[:, 0] if a.ndim == 1 else middle, b])

        whole = Path(
            first=whole.first,
            times_s=fill("times_s"),
            xy_um=fill("xy_um"),
            own_um=fill("own_um"),
            seen=np.concatenate([whole.seen, np.zeros(missing, bool), following.seen]),
            size=fill("size"),
        )
    return whole


@dataclass(frozen=True)
class Persistence:
    """How surely a path goes on in the direction it had.

    Attributes
    ----------
    speed_um_s : float
        Square root of the mean product of steps that lie some frames apart: what trembling and errors of place
        do not add to; 0 when they point against each other.
    z : float
        That product over its standard error for a path that only trembles.
    tremble_um2_s : float
        Diffusion coefficient that the rest of the steps would have (with errors of place in it).
    """

    speed_um_s: float
    z: float
    tremble_um2_s: float


def persistence(own_um: Values, times_s: Values, lag_s: float = 0.2) -> Persistence:
    """Tell swimming from trembling by the products of steps some frames apart (lag 1 carries errors of place).

    Parameters
    ----------
    own_um : ndarray, shape (n, 2)
        Places without the stream.
    times_s : ndarray, shape (n,)
    lag_s : float, optional
        Longest time between two steps.
    """
    dt = np.diff(times_s)
    steps = np.diff(own_um, axis=0)
    if len(steps) < 4:
        return Persistence(0.0, 0.0, 0.0)
    usual = float(np.median(dt))
    long = np.hypot(steps[:, 0], steps[:, 1])
    limit = 4 * float(np.median(long)) + 1e-12  # one slip of identity must not pass for a journey
    steps = steps * np.minimum(1, limit / np.maximum(long, 1e-12))[:, None]
    velocity = steps / np.maximum(dt, 1e-9)[:, None]
    last = int(np.clip(round(lag_s / usual), 2, max(2, len(steps) // 2)))
    products = [float(np.mean(np.sum(velocity[:-k] * velocity[k:], axis=1))) for k in range(2, last + 1)]
    mean = float(np.mean(products))
    spread = float(np.mean(np.sum(velocity**2, axis=1))) / 2  # per axis
    terms = sum(len(steps) - k for k in range(2, last + 1))
    error = spread * np.sqrt(2 / max(terms, 1)) * 1.25 + 1e-12
    rest = max(2 * spread - max(mean, 0), 0.0)
    return Persistence(float(np.sqrt(max(mean, 0.0))), mean / error, rest * usual / 4)


def going(own_um: Values) -> float:
    """Return the squared way from start to end over the sum of squared steps.

    A path that only trembles exceeds q with the chance exp(-q), whatever its size, and one slip of identity adds 1 at
    most; a swimmer that also swings from side to side, and so fails the products of steps, exceeds it by far.
    """
    steps = np.diff(own_um, axis=0)
    return float(np.sum((own_um[-1] - own_um[0]) ** 2) / max(float(np.sum(steps**2)), 1e-12))


def stays_on_glass(path: Path) -> bool:
    """Return whether a body stayed at one place on the glass, whatever the fluid did."""
    away = np.hypot(*(path.xy_um - np.median(path.xy_um, axis=0)).T)
    room = _STUCK_UM + 0.05 * float(np.median(path.size[:, 1]))
    return bool(np.percentile(away, 90) < room and np.hypot(*(path.xy_um[-1] - path.xy_um[0])) < 2 * room)


def local_velocity(own_um: Values, times_s: Values, window_s: float) -> Values:
    """Return the velocity by a straight line through the places within a window around each time, (n, 2)."""
    n = len(times_s)
    if n < 2:
        return np.zeros((n, 2))
    usual = float(np.median(np.diff(times_s)))
    half = max(1, round(window_s / usual / 2))
    sums = []
    for values in (np.ones(n), times_s - times_s[0], own_um[:, 0], own_um[:, 1]):
        sums.append(_moving_sum(values, half))
    t = times_s - times_s[0]
    tt, tx, ty = (_moving_sum(t * v, half) for v in (t, own_um[:, 0], own_um[:, 1]))
    count, st, sx, sy = sums
    below = np.maximum(count * tt - st**2, 1e-12)
    return np.column_stack([(count * tx - st * sx) / below, (count * ty - st * sy) / below])


def _moving_sum(values: Values, half: int) -> Values:
    total = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(len(values))
    return np.asarray(total[np.minimum(at + half + 1, len(values))] - total[np.maximum(at - half, 0)])


def smoothed(path: Path, most_s: float = 0.3) -> Values:
    """Return the own path smoothed as little as its errors of place ask for, µm.

    The window is the shortest for which errors of place add less than 2 % to the squared speed.
    """
    n = len(path)
    if n < 5:
        return path.own_um
    steps = np.diff(path.own_um, axis=0)
    products = np.sum(steps[1:] * steps[:-1], axis=1)
    later = np.sum(steps[2:] * steps[:-2], axis=1)
    error2 = max(float(np.mean(later) - np.mean(products)) / 2, 0.0)  # of place, per axis, µm²
    speed2 = max(persistence(path.own_um, path.times_s).speed_um_s, 1.0) ** 2
    usual = path.seconds / (n - 1)
    half = 0
    while half < 1 or 2 * error2 * 2 / ((2 * half + 1) ** 2 * usual**2) > 0.02 * speed2:
        if error2 < 1e-4 or (2 * half + 3) * usual > most_s:
            break
        half += 1
    if half == 0:
        return path.own_um
    return np.column_stack([_line_mean(path.own_um[:, axis], half) for axis in (0, 1)])


def _line_mean(values: Values, half: int) -> Values:
    """Centred mean whose window shrinks evenly towards the ends."""
    at = np.arange(len(values))
    near = np.minimum(half, np.minimum(at, len(values) - 1 - at))
    total = np.concatenate([[0.0], np.cumsum(values)])
    return np.asarray((total[at + near + 1] - total[at - near]) / (2 * near + 1))


def longest_run(own_um: Values, times_s: Values, least_s: float = 0.5) -> tuple[int, int]:
    """Return start and end of the longest part of a track without a pause; all of it when that is too short.

    A pause is slower than a third of the track's usual speed over 0.2 s.
    """
    n = len(times_s)
    speed = np.hypot(*local_velocity(own_um, times_s, 0.2).T)
    moving = speed > np.percentile(speed, 60) / 3
    edges = np.flatnonzero(np.diff(np.concatenate([[False], moving, [False]]).astype(int))).reshape(-1, 2)
    if not len(edges):
        return 0, n
    a, b = edges[int(np.argmax(edges[:, 1] - edges[:, 0]))]
    return (int(a), int(b)) if b - a >= 3 and times_s[b - 1] - times_s[a] >= least_s else (0, n)
