"""Tracks as arrays: gaps filled, places smoothed, and how surely a path goes somewhere rather than trembles."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.link import SHARED, Track

Values = NDArray[np.float64]
LONG_UM = 30.0
"""Longer bodies are followed and measured in another way: they bend, and the border cuts them."""
_PEAK = 75  # percent
_STUCK_UM, _INTO_GAPS, _WHOLE_S, _MOST_PLACES = 1.2, 0.375, 0.3, 24


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
    size : ndarray, shape (n, 6)
        Area (µm²), length, width (µm), angle (radians), peak, and 1 where the rim cuts it, 2 (`SHARED`) where two
        tracks share one body.
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
    for column in range(5, rows.shape[1], 2):  # angle and whether in part have no values between
        filled[:, column] = rows[nearest, column]
    seen = np.isin(frames, at)
    return Path(
        first=int(at[0]),
        times_s=times,
        xy_um=filled[:, :2],
        own_um=filled[:, :2],
        seen=seen,
        size=filled[:, 2:],
    )


def way_between(one: Path, other: Path) -> Values:
    """Return how far a body must have gone in the fluid from the end of a path to the start of another, µm.

    Where they overlap, they are compared at the time at which the first one ends.
    """
    at = min(max(one.first + len(one) - 1 - other.first, 0), len(other) - 1)
    gap = float(other.times_s[at] - one.times_s[-1])
    few = min(10, len(one) - 1)
    carried = one.xy_um - one.own_um
    flow = (carried[-1] - carried[-1 - few]) / max(float(one.times_s[-1] - one.times_s[-1 - few]), 1e-9)
    return np.asarray(other.xy_um[at] - one.xy_um[-1] - flow * gap)


def without_shared_ends(path: Path, last_frame: int) -> Path:
    """Return the path without the time at either end for which it only shared a body with another track.

    A track that never came out of a meeting may have followed nothing there; at the ends of the clip it may still.
    """
    alone = np.flatnonzero(path.size[:, 5] < SHARED)
    if not len(alone) or float(np.median(path.size[:, 1])) > LONG_UM:
        return path
    start = int(alone[0]) if path.first > 0 else 0
    end = int(alone[-1]) + 1 if path.first + len(path) - 1 < last_frame else len(path)
    return path.part(start, end) if end - start >= 4 else path


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
        own = following.own_um - following.own_um[0] + whole.own_um[-1] + way_between(whole, following)
        following = replace(following, own_um=own)
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


def without_slips(xy_um: Values, seen: NDArray[np.bool_] | None = None) -> Values:
    """Return a path from 0 on, single leaps cut down to four usual steps, those into and out of gaps to one and a half.

    They may be slips of identity.
    """
    steps = np.diff(xy_um, axis=0)
    long = np.hypot(*steps.T)
    limit = np.full(len(steps), 4 * float(np.median(long)) + 1e-9)
    if seen is not None:
        limit[~(seen[1:] & seen[:-1])] *= _INTO_GAPS
    steps = steps * np.minimum(1, limit / np.maximum(long, 1e-9))[:, None]
    return np.vstack([np.zeros((1, 2)), np.cumsum(steps, axis=0)])


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


def seen_whole(path: Path) -> Path | None:
    """Return the path from where all of the body is first seen to where it is last; None where that is too brief.

    The middle of what is seen of a body that comes in over the border goes about half as fast as the body.
    """
    whole = np.flatnonzero(path.seen & (path.size[:, 5] < 0.5))
    if not len(whole):
        return None
    start, end = int(whole[0]), int(whole[-1]) + 1
    usual = path.seconds / max(len(path) - 1, 1)
    return path.part(start, end) if end - start >= 5 and (end - start) * usual >= _WHOLE_S else None


def mean_velocity(path: Path) -> Values:
    """Return the velocity on the glass by a straight line through all places, µm/s."""
    t = path.times_s - path.times_s.mean()
    return np.asarray((t[:, None] * path.xy_um).sum(axis=0) / (t**2).sum())


def peak_of(path: Path) -> float:
    """Return how much a body stands out in a quarter of the frames that show it: now and then it is out of focus."""
    return float(np.percentile(path.size[path.seen, 4], _PEAK))


def beside_line_um(path: Path) -> float:
    """Return how far, root mean square, places on the glass lie beside a straight and even way."""
    t = path.times_s - path.times_s.mean()
    off = path.xy_um - path.xy_um.mean(axis=0) - t[:, None] * mean_velocity(path)
    return float(np.sqrt((off**2).sum(axis=1).mean()))


def carried_velocity(path: Path, tremble_um2_s: float = 0.25, error_um: float = 0.3) -> Values:
    """Return the velocity on the glass that is likeliest for a carried thing, µm/s.

    Trembling adds up, so the ends of its path tell most, and errors of place do not, so more than the last places
    count: generalised least squares for a straight line with both.

    Parameters
    ----------
    path : Path
    tremble_um2_s : float, optional
        Diffusion coefficient (that of a sphere of 1.7 µm in water is 0.25, by Stokes and Einstein).
    error_um : float, optional
        Error of a place per axis.
    """
    per = max(1, len(path) // _MOST_PLACES)
    count = len(path) // per
    if count < 2:
        return mean_velocity(path)
    places = path.xy_um[: count * per].reshape(count, per, 2).mean(axis=1)
    times = path.times_s[: count * per].reshape(count, per).mean(axis=1)
    times = times - times[0]
    spread = 2 * tremble_um2_s * np.minimum(times[:, None], times[None]) + error_um**2 * np.eye(count)
    line = np.column_stack([np.ones(count), times])
    weighed = np.linalg.solve(spread, line)
    return np.asarray(np.linalg.solve(line.T @ weighed, weighed.T @ places)[1])


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
