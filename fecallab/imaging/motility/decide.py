"""What swims, what drifts, what only trembles: each track judged in the fluid's own frame, with its reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from fecallab.domain.motility import diffusion_um2_s
from fecallab.imaging.motility.paths import (
    LONG_UM,
    Path,
    beside_line_um,
    going,
    local_velocity,
    persistence,
    stays_on_glass,
    without_slips,
)

Values = NDArray[np.float64]

SLOWEST_UM_S = 4.0
"""Slower bodies are not called swimming (tuned on drawn clips: trembling and errors of the stream reach it)."""
_GOING, _SIZEABLE_UM, _LONG_S, _GOING_LITTLE, _CREEPS_UM_S, _MOSTLY = 10.0, 4.0, 0.4, 2.5, 2.5, 0.6
_LONG_BODY_S, _BENDING, _SAME_WAY = 0.5, 0.06, 0.85
_EVEN_UM, _STEADY_SHARE, _SURE_Z = 0.6, 0.12, 6.0
_Z, _LEAST_S, _LEAST_REACH_UM, _SEEN = 4.0, 0.3, 5.0, 0.7
_SEEN_HALF, _FAST_UM_S, _CLEAR_Z = 0.5, 15.0, 7.0  # in a crowd a swimmer is hidden now and then
_WINDOW_S, _FILL_S = 0.2, 0.35


@dataclass(frozen=True)
class Judged:
    """A track with what it is.

    Attributes
    ----------
    path : Path
    kind : str
        ``swimming``, ``drifting``, ``trembling``, ``stuck`` or ``cannot-tell``.
    why : str
        In plain words.
    """

    path: Path
    kind: str
    why: str


def swimming_stretches(path: Path, stream_um_s: Values | None = None) -> list[Path]:
    """Return the parts of a path that swim; a sizeable body is asked less when it crosses the stream."""
    n = len(path)
    if path.seconds < _LEAST_S or n < 5:
        return []
    speed = np.hypot(*local_velocity(path.own_um, path.times_s, _WINDOW_S).T)
    moving = speed > SLOWEST_UM_S
    usual = path.seconds / (n - 1)
    runs = _runs(moving, fill=round(_FILL_S / usual), least=max(4, round(_LEAST_S / usual)))
    parts = [part for part in (path.part(a, b) for a, b in runs) if _swims(part, stream_um_s)]
    if mostly_rests(path, parts) and (_gets_away(path, stream_um_s) or bends_itself(path)):
        return [path]  # slow, with pauses, or on the spot: seen over the whole time only
    return parts


def mostly_rests(path: Path, parts: Sequence[Path]) -> bool:
    """Return whether the swimming parts of a path are less than most of it."""
    return sum(map(len, parts)) < _MOSTLY * len(path)


def pieces_between(path: Path, parts: Sequence[Path]) -> list[Path]:
    """Return what is left of a path before, between and after its swimming parts."""
    cuts = [0]
    for one in sorted(parts, key=lambda part: part.first):
        cuts += [one.first - path.first, one.first - path.first + len(one)]
    cuts.append(len(path))
    return [path.part(a, b) for a, b in zip(cuts[::2], cuts[1::2], strict=True) if b - a >= 5]


def bends_itself(path: Path) -> bool:
    """Return whether a long body changes its outline, smoothly and with the same area: a carried thing keeps its own.

    Trembling turns or bends nothing of that size (own limits, tuned on drawn worms).
    """
    area, length, width, angle = path.size.T[:4]
    if float(np.median(length)) < LONG_UM or path.seconds < _LONG_BODY_S:
        return False
    usual = path.seconds / (len(path) - 1)
    whole = path.seen & (np.abs(area / np.median(area) - 1) < 0.25)
    lag = max(1, round(0.1 / usual))
    if whole.mean() >= 0.55 and whole.sum() >= 3 * lag + 4:
        change = length[whole] - length[whole].mean()
        smooth = float((change[lag:] * change[:-lag]).mean()) / max(float((change**2).mean()), 1e-9)
        if change.std() > _BENDING * length[whole].mean() and smooth > 0.4:
            return True
    nearby = median_filter(area, 2 * max(2, round(0.15 / usual)) + 1, mode="nearest")
    told = path.seen & (np.abs(area / nearby - 1) < 0.2) & (length > 1.8 * width)
    if told.mean() < 0.5:
        return False
    return bool(np.hypot(np.cos(2 * angle[told]).mean(), np.sin(2 * angle[told]).mean()) < _SAME_WAY)


def _in_both_halves(part: Path) -> bool:
    """Return whether both halves go on; a track that trembles and then leaps to another thing does so once."""
    middle = len(part) // 2
    if middle < 8:
        return True
    halves = [
        persistence(half.own_um, half.times_s)
        for half in (part.part(0, middle), part.part(middle, len(part)))
    ]
    return all(half.speed_um_s > 0.5 * SLOWEST_UM_S and half.z > 1.0 for half in halves)


def _gets_away(path: Path, stream_um_s: Values | None) -> bool:
    if path.seen.mean() < _SEEN or stays_on_glass(path):
        return False
    way = without_slips(path.own_um)[-1]
    return goes_on_throughout(path) and _too_far_for_its_size(path, way, stream_um_s)


def moves_for_s(path: Path) -> float:
    """Return the longest time for which a path goes on faster than the slowest swimmers, seconds."""
    moving = np.hypot(*local_velocity(path.own_um, path.times_s, _WINDOW_S).T) > SLOWEST_UM_S
    runs = _runs(moving & path.seen, fill=1, least=2)
    return max((float(path.times_s[b - 1] - path.times_s[a]) for a, b in runs), default=0.0)


def goes_on_throughout(path: Path) -> bool:
    """Return whether a path gets on in both halves, not all of it at one end, as when a track leaps."""
    way, halfway = (without_slips(one)[-1] for one in (path.own_um, path.own_um[: len(path) // 2 + 1]))
    share = float(halfway @ way) / max(float(way @ way), 1e-9)
    return _STEADY_SHARE < share < 1 - _STEADY_SHARE


def _swims(part: Path, stream_um_s: Values | None) -> bool:
    if part.seen.mean() < _SEEN_HALF or part.seconds < 0.8 * _LEAST_S or stays_on_glass(part):
        return False
    found = persistence(part.own_um, part.times_s)
    if part.seen.mean() < _SEEN:
        return found.z > _CLEAR_Z and found.speed_um_s > _FAST_UM_S and _in_both_halves(part)
    if found.z > _Z and found.speed_um_s > SLOWEST_UM_S and reach_um(part) > _LEAST_REACH_UM * 0.7:
        return found.z > _SURE_Z or _in_both_halves(part)
    way = part.own_um[-1] - part.own_um[0]
    far = float(np.hypot(*way))
    if far < max(_LEAST_REACH_UM, SLOWEST_UM_S * part.seconds):
        return False
    return going(part.own_um) > _GOING or _too_far_for_its_size(part, way, stream_um_s)


def _too_far_for_its_size(part: Path, way: Values, stream_um_s: Values | None) -> bool:
    """Return whether a sizeable body got much farther than trembling takes a sphere of its width.

    A body that is carried at another depth lags behind the stream or runs ahead of it, so it must leave the
    stream's own line, or get on along it by more than that.
    """
    width = float(np.median(part.size[:, 2]))
    if width < _SIZEABLE_UM or part.seconds < _LONG_S or going(part.own_um) < _GOING_LITTLE:
        return False
    trembling = np.sqrt(4 * diffusion_um2_s(width / 2) * part.seconds)
    limit = max((5 + 1.5 / part.seconds) * trembling + 1.0, _CREEPS_UM_S * part.seconds)
    across = far = float(np.hypot(*way))
    stream = 0.0 if stream_um_s is None else float(np.hypot(*stream_um_s))
    if stream_um_s is not None and stream > 2.0:
        line = stream_um_s / stream
        across = abs(float(way[0] * line[1] - way[1] * line[0]))
    return bool(across > limit or far > 1.5 * limit + (SLOWEST_UM_S + 0.15 * stream) * part.seconds)


def goes_evenly(path: Path) -> bool:
    """Return whether a path is straight and even within what trembling allows, as that of a carried thing is."""
    width = max(float(np.median(path.size[:, 2])), 1.0)
    allowed2 = _EVEN_UM**2 + 2 * diffusion_um2_s(width / 2) * path.seconds / 5
    return beside_line_um(path) ** 2 < allowed2


def reach_um(path: Path) -> float:
    """Return the largest distance from the first place, in the fluid."""
    return float(np.hypot(*(path.own_um - path.own_um[0]).T).max())


def gets_away_um(path: Path) -> float:
    """Return how far a path gets both on the glass and in the fluid; what rests or is carried fails at one of them."""
    return min(float(np.hypot(*(path.xy_um - path.xy_um[0]).T).max()), reach_um(path))


def _runs(moving: NDArray[np.bool_], fill: int, least: int) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], moving, [False]]).astype(int)))
    runs = [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]
    merged: list[tuple[int, int]] = []
    for a, b in runs:
        if merged and a - merged[-1][1] <= fill:
            merged[-1] = (merged[-1][0], b)
        else:
            merged.append((a, b))
    return [(a, b) for a, b in merged if b - a >= least]


def judge_rest(path: Path, carried: bool, limit_um_s: float = SLOWEST_UM_S) -> Judged:
    """Name a track that does not swim."""
    found = persistence(path.own_um, path.times_s)
    if path.seconds < _LEAST_S or len(path) < 5:
        return Judged(path, "cannot-tell", "seen for too short a time")
    if (
        not (carried and stays_on_glass(path))
        and found.z > _Z
        and found.speed_um_s > 0.6 * limit_um_s
        and reach_um(path) > 2.0
    ):
        slow = found.speed_um_s < 2 * limit_um_s
        doubt = "too slow to tell from an uneven stream" if slow else "but is lost too often to be sure"
        return Judged(path, "cannot-tell", f"goes on at {found.speed_um_s:.1f} µm/s, {doubt}")
    if carried and stays_on_glass(path):
        return Judged(path, "stuck", "stays where it is on the glass while the fluid streams")
    if carried:
        return Judged(path, "drifting", "goes with the stream like the others around it")
    return Judged(path, "trembling", "steps have no lasting direction (Brownian)")
