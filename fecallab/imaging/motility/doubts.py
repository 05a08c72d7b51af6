"""Why something that may swim is not called swimming: what else it may be, in plain words.

What is called swimming is told by :mod:`.chances`; here it is only said what speaks against one that is not, and where
nothing but the way of the fluid could tell, it is asked whether one fluid may carry it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.motility.adequate import FLOWING_SOME
from fecallab.imaging.motility.decide import Judged, bends_itself, goes_evenly, reach_um
from fecallab.imaging.motility.evidence import Surroundings, comes_with_a_nudge
from fecallab.imaging.motility.flow import CARRIED
from fecallab.imaging.motility.paths import Path, beside_line_um, mean_velocity, peak_of
from fecallab.imaging.motility.stream import Stream

Values = NDArray[np.float64]
STIRRED = "small and slow beside large swimmers, which stir the fluid"
_LEAST_GUIDES, _GOOD_GUIDES, _ALIKE_UM_S, _NEAR_STREAM = 3, 4, 2.5, 0.3
_MANY_OTHERS, _ERRORS_APART = 6, 3.0
_FAINT, _RESTLESS = 3.5, 1.5  # times the least peak; times the usual trembling
_BRIEF_S, _BORDER_UM = 0.65, 8.0
_FAR_UM, _STRAIGHT_UM = 12.0, 1.0  # own choice, set on tuning clips, as all here
_FLICKERS, _FLICKERS_SEEN, _FLICKERS_UM = 0.3, 0.95, 8.0


@dataclass(frozen=True, kw_only=True)
class Doubts:
    """What is known of a field when its paths are doubted.

    Attributes
    ----------
    around : Surroundings
    would_be : sequence of Path
        Those that go as swimmers do.
    guides : int
        How many of the others tell what the fluid does.
    flowing : float
        Share of the would-be swimmers that move as their neighbours do.
    frames : int
        In the clip of this field.
    """

    around: Surroundings
    would_be: Sequence[Path]
    guides: int
    flowing: float
    frames: int

    def may_be_carried(self, path: Path, few_others: bool) -> bool:
        """Return whether a path is as one fluid could carry it, and nothing tells what the fluid does.

        Parameters
        ----------
        path : Path
        few_others : bool
            Whether hardly anything else surely swims: then one that is carried, and the only one, must not pass for a
            swimmer because the flaws of the film around it lie still.
        """
        if self.around.stream.velocity_um_s.any():
            return False
        if few_others and reach_um(path) > _FAR_UM and beside_line_um(path) < _STRAIGHT_UM:
            return True
        if self.guides >= _LEAST_GUIDES or not goes_evenly(path):
            return False
        ways = [mean_velocity(one) for one in self.would_be]
        even = [way for one, way in zip(self.would_be, ways, strict=True) if goes_evenly(one)]
        return may_be_carried(path, even, ways)

    def kind_and_why(self, path: Path, share: float, few_others: bool) -> Judged:
        """Return a would-be swimmer that is not called one, with what it may be instead.

        Parameters
        ----------
        path : Path
        share : float
            Of its motion that the others foretell.
        few_others : bool
            Whether hardly anything else surely swims.
        """
        stream, around = self.around.stream, self.around
        if stream.holds_place(path) and not bends_itself(path):
            return Judged(path, "stuck", "stays where it is on the glass while the fluid streams")
        said = (
            (
                self.flowing > FLOWING_SOME and not share < CARRIED / 2,
                "moves as others do there or then: a current or a shaking picture",
            ),
            (
                self.may_be_carried(path, few_others),
                "straight and even as if carried; hardly anything drifts beside it",
            ),
            (
                0 < self.guides < _GOOD_GUIDES and goes_evenly(path) and near_stream(path, stream),
                "straight and even, not far from the stream, which few things tell",
            ),
            (
                stream.only_drags(path, around.lag),
                "keeps to the stream's line, slower or faster: another depth?",
            ),
            (
                bends_itself(path) and comes_with_a_nudge(path, around.nudges),
                "long, and came into view with a nudge of the stage: may be a flaw of the film",
            ),
            (
                comes_from_nowhere(path, around.middle_um, self.frames),
                "appears amid the field and is gone at once",
            ),
            (
                peak_of(path) < _FAINT * around.limit or _flickers(path),
                "hardly stands out, now more and now less: may be noise of the picture",
            ),
            (around.unrest > _RESTLESS, "small things jump about in this clip: this may be one of them"),
        )
        why = next((words for holds, words in said if holds), "does not go on as surely as a swimmer does")
        return Judged(path, "cannot-tell", why)


def _flickers(path: Path) -> bool:
    """Return whether a small thing comes and goes and changes its size from frame to frame, as flaws of a film do."""
    areas = np.log(path.size[path.seen, 0])
    return bool(
        path.seen.mean() < _FLICKERS_SEEN
        and float(np.diff(areas).std()) > _FLICKERS
        and float(np.median(path.size[:, 1])) < _FLICKERS_UM
    )


def near_stream(path: Path, stream: Stream) -> bool:
    """Return whether a path's own way is a small part of that of a stream, so that a change over the field may make it."""
    own = float(np.hypot(*(path.own_um[-1] - path.own_um[0]))) / max(path.seconds, 1e-9)
    return own < _NEAR_STREAM * float(np.hypot(*stream.at(path.xy_um.mean(axis=0))))


def comes_from_nowhere(path: Path, middle_um: Values, frames: int) -> bool:
    """Return whether a path begins and ends amid field and clip within a short time: a swimmer comes and goes."""
    if path.seconds > _BRIEF_S or path.first < 3 or path.first + len(path) > frames - 3:
        return False
    room = _BORDER_UM + 0.5 * float(np.median(path.size[:, 1]))
    inside = np.abs(path.xy_um[[0, -1]] - middle_um) < middle_um - room
    return bool(inside.all())


def may_be_carried(path: Path, even: Sequence[Values], ways: Sequence[Values]) -> bool:
    """Return whether one fluid could carry a path: others go as it does, or hardly any go another way.

    A fluid that carried it would carry the swimmers too, so where many swim, their mean way must not be another.
    """
    own = mean_velocity(path)
    apart = np.array([float(np.hypot(*(one - own))) for one in even])
    if int(np.sum(apart < _ALIKE_UM_S)) > 1:
        return True
    if int(np.sum(apart >= _ALIKE_UM_S)) >= 2:
        return False
    others = np.array([one for one in ways if np.hypot(*(one - own)) > 1e-9])
    if len(others) < _MANY_OTHERS:
        return True
    error = float(np.sqrt(others.var(axis=0, ddof=1).mean() / len(others)))
    return float(np.hypot(*(others.mean(axis=0) - own))) < _ERRORS_APART * error


def stirred_by(swimmers: Sequence[Path]) -> list[bool]:
    """Tell which are much smaller and much slower than most: dragged along by the larger ones."""
    if len(swimmers) < 5:
        return [False] * len(swimmers)
    areas = np.array([np.median(one.size[:, 0]) for one in swimmers])
    speeds = np.array([reach_um(one) / max(one.seconds, 0.3) for one in swimmers])
    small = (areas < 0.25 * np.median(areas)) & (speeds < 0.2 * np.median(speeds))
    return [bool(one) for one in small]
