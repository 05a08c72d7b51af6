"""What speaks for and against a path being that of a swimmer, as numbers that a drawn clip can be learnt from.

How it goes, in the fluid and on the glass; whether it looks like one body all the time; how it is cut by the border;
and what else there is in the clip. How long and how slender it is, is not among them: what floats may have any size and
form. Nor is how large the picture is, or how many frames a second it has.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.decide import (
    SLOWEST_UM_S,
    bends_itself,
    gets_away_um,
    goes_evenly,
    moves_for_s,
    reach_um,
)
from fecallab.imaging.motility.flow import foretold
from fecallab.imaging.motility.odds import swimming_odds
from fecallab.imaging.motility.paths import (
    Path,
    beside_line_um,
    going,
    local_velocity,
    mean_velocity,
    peak_of,
    persistence,
    stays_on_glass,
)
from fecallab.imaging.motility.stream import Stream
from fecallab.imaging.motility.tremble import trembles_freely

Values = NDArray[np.float64]
NAMES = (
    *("odds", "steady", "steady_um_s", "trembles_um2_s", "own_um_s", "glass_um_s", "moving", "moves_s"),
    *("going", "going_glass", "straight_um", "straight", "even", "reach_um", "away_um", "leap"),
    *("stream_um_s", "along_um_s", "across_um_s", "held", "foretold"),
    *("stands_out", "grows", "lengthens", "brightens"),
    *("area_varies", "area_flickers", "peak_varies", "bends"),
    *("seen", "lasts_s", "cut", "shared", "begins_in_um", "ends_in_um", "nearest_um", "nudged"),
    *(
        "alike",
        "alike_share",
        "others",
        "others_peak",
        "others_odds",
        "guides",
        "agreement",
        "unrest",
        "shear_per_s",
        "would_be",
    ),
)
"""What is told of each path, in this order."""
_CLEARLY, _NUDGE_PX, _GUIDES_S = 30.0, 2.0, 0.4
_WINDOW_S, _GLASS_WINDOW_S, _HELD, _HELD_UM_S = 0.2, 0.25, 0.35, 1.5
_ALIKE_UM_S, _ALIKE_SHARE = 2.0, 0.1
_UNKNOWN = -0.5  # of what none is near to foretell


@dataclass(frozen=True, kw_only=True)
class Surroundings:
    """The field in which paths are weighed.

    Attributes
    ----------
    stream : Stream
    lag : float
        Share of the stream by which carried things may differ from it.
    unrest : float
        By how much more than usual small things tremble.
    limit : float
        Least peak of a body.
    middle_um : ndarray, shape (2,)
    camera_px : ndarray, shape (frames, 2)
    told : dict
        What was worked out of paths before.
    """

    stream: Stream
    lag: float
    unrest: float
    limit: float
    middle_um: Values
    camera_px: Values
    told: dict[tuple[int, bytes], float] = field(default_factory=dict, repr=False)

    def odds(self, path: Path) -> float:
        """Return the logarithm of how much likelier a path is for a swimmer; each path is weighed once."""
        key = path.first, path.own_um.tobytes()
        if key not in self.told:
            self.told[key] = swimming_odds(path, self.stream, self.unrest, self.lag)
        return self.told[key]

    @property
    def nudges(self) -> NDArray[np.intp]:
        """Frames before which the stage was nudged."""
        return np.flatnonzero(np.hypot(*np.diff(self.camera_px, axis=0).T) > _NUDGE_PX) + 1


def comes_with_a_nudge(path: Path, nudges: NDArray[np.intp]) -> bool:
    """Return whether a path begins as the stage is nudged."""
    return bool((np.abs(nudges - path.first) <= 1).any())


def guides_among(paths: Sequence[Path]) -> int:
    """Return how many of the paths in which nothing swims tell what the fluid does."""
    return sum(
        trembles_freely(one)
        or (one.seconds >= _GUIDES_S and one.seen.mean() > 0.5 and not stays_on_glass(one))
        for one in paths
    )


def evidence(would_be: Sequence[Path], rest: Sequence[Path], around: Surroundings) -> Values:
    """Return what is told of each path, those that would be swimmers by their way first.

    Parameters
    ----------
    would_be, rest : sequence of Path
        With their own motion in the fluid.
    around : Surroundings

    Returns
    -------
    ndarray, shape (paths, len(NAMES))
    """
    paths = [*would_be, *rest]
    odds = np.array([around.odds(one) for one in paths])
    peaks = np.array([peak_of(one) for one in paths])
    carried = np.nan_to_num(foretold(paths, range(len(would_be))), nan=_UNKNOWN)
    carried = np.append(carried, np.full(len(rest), _UNKNOWN))
    clear = [k for k in range(len(would_be)) if odds[k] > _CLEARLY]
    alike, going_there = _alike(paths)
    guides = guides_among(rest)
    nudges = around.nudges
    rows = []
    for k, one in enumerate(paths):
        others = [other for other in clear if other != k]
        beside = (
            float(alike[k]),
            float(alike[k] / max(going_there[k], 1)),
            len(others),
            float(np.log(peaks[k] / max(float(np.median(peaks[others])), 1e-9))) if others else 0.0,
            float(np.median(odds[others])) if others else 0.0,
            guides,
            around.stream.agreement,
            around.unrest,
            float(np.abs(around.stream.gradient_per_s).max()),
            float(k < len(would_be)),
        )
        way = (float(odds[k]), *_way(one), *_in_the_stream(one, around.stream), float(carried[k]))
        looks = (peaks[k] / max(around.limit, 1e-9), *_looks(one), *_place(one, around.middle_um, nudges))
        rows.append((*way, *looks, *beside))
    return np.array(rows, float).reshape(-1, len(NAMES))


def _alike(paths: Sequence[Path]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return how many others go the same way on the glass meanwhile, and how many go anywhere."""
    if not paths:
        return np.zeros(0, np.intp), np.zeros(0, np.intp)
    ways = np.array([mean_velocity(one) for one in paths])
    speed = np.hypot(*ways.T)
    first = np.array([one.times_s[0] for one in paths])
    last = np.array([one.times_s[-1] for one in paths])
    both = np.minimum(last[:, None], last[None]) - np.maximum(first[:, None], first[None])
    meanwhile = both > 0.5 * np.minimum.outer(last - first, last - first)
    goes = meanwhile & (speed[None] > SLOWEST_UM_S) & ~np.eye(len(paths), dtype=bool)
    far = np.hypot(*(ways[:, None] - ways[None]).transpose(2, 0, 1))
    same = goes & (far < _ALIKE_UM_S + _ALIKE_SHARE * speed[:, None])
    return same.sum(axis=1), goes.sum(axis=1)


def _way(path: Path) -> tuple[float, ...]:
    found = persistence(path.own_um, path.times_s)
    seconds = max(path.seconds, 1e-9)
    own, glass = (float(np.hypot(*(one[-1] - one[0]))) / seconds for one in (path.own_um, path.xy_um))
    speed = np.hypot(*local_velocity(path.own_um, path.times_s, _WINDOW_S).T)
    beside_line = beside_line_um(path)
    steps = np.hypot(*np.diff(path.own_um, axis=0).T)
    return (
        found.z,
        found.speed_um_s,
        found.tremble_um2_s,
        own,
        glass,
        float(np.mean(speed > SLOWEST_UM_S)),
        moves_for_s(path),
        going(path.own_um),
        going(path.xy_um),
        beside_line,
        beside_line / max(glass * seconds, 1e-9),
        float(goes_evenly(path)),
        reach_um(path),
        gets_away_um(path),
        float(steps.max() / max(float(np.median(steps)), 1e-6)),
    )


def _in_the_stream(path: Path, stream: Stream) -> tuple[float, ...]:
    flow = stream.at(path.xy_um.mean(axis=0))
    fast = float(np.hypot(*flow))
    line = flow / max(fast, 1e-9)
    own = (path.own_um[-1] - path.own_um[0]) / max(path.seconds, 1e-9)
    on_glass = np.hypot(*local_velocity(path.xy_um, path.times_s, _GLASS_WINDOW_S).T)
    held = float(np.mean(on_glass < max(_HELD * fast, _HELD_UM_S)))
    return fast, float(own @ line), abs(float(own[0] * line[1] - own[1] * line[0])), held


def _looks(path: Path) -> tuple[float, ...]:
    area, peak = (np.log(np.maximum(path.size[path.seen, column], 1e-6)) for column in (0, 4))
    return (
        *_between_halves(path),
        float(area.std()),
        float(np.diff(area).std()) if len(area) > 2 else 0.0,
        float(peak.std()),
        float(bends_itself(path)),
    )


def _between_halves(path: Path) -> tuple[float, float, float]:
    """Return by how much area, length and peak differ between both halves, logarithms; where it is whole, if it can be."""
    half = np.arange(len(path)) < len(path) // 2
    whole = path.seen & (path.size[:, 5] < 0.5)
    if min((whole & half).sum(), (whole & ~half).sum()) < 4:
        whole = path.seen
    if min((whole & half).sum(), (whole & ~half).sum()) < 2:
        return 0.0, 0.0, 0.0
    first, second = (np.median(path.size[whole & part][:, [0, 1, 4]], axis=0) for part in (half, ~half))
    change = np.abs(np.log(np.maximum(second, 1e-9) / np.maximum(first, 1e-9)))
    return float(change[0]), float(change[1]), float(change[2])


def _place(path: Path, middle_um: Values, nudges: NDArray[np.intp]) -> tuple[float, ...]:
    from_border = (middle_um - np.abs(path.xy_um - middle_um)).min(axis=1)
    return (
        float(path.seen.mean()),
        path.seconds,
        float(np.mean(path.size[:, 5] == 1)),
        float(np.mean(path.size[:, 5] == 2)),
        float(from_border[0]),
        float(from_border[-1]),
        float(from_border.min()),
        float(comes_with_a_nudge(path, nudges)),
    )
