"""One field: link, find the stream, tell what swims, and what speaks against it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fecallab.domain.motility import kinematics
from fecallab.imaging.motility.adequate import FLOWING_MOST, FLOWING_SOME
from fecallab.imaging.motility.decide import (
    Judged,
    bends_itself,
    gets_away_um,
    goes_evenly,
    judge_rest,
    mostly_rests,
    pieces_between,
    reach_um,
    swimming_stretches,
)
from fecallab.imaging.motility.exchange import untangled
from fecallab.imaging.motility.flow import CARRIED, foretold
from fecallab.imaging.motility.guides import faint_guides
from fecallab.imaging.motility.hops import without_hops
from fecallab.imaging.motility.join import join_swimmers, without_doubles
from fecallab.imaging.motility.link import link
from fecallab.imaging.motility.measure import to_measure
from fecallab.imaging.motility.odds import lag_of, swimming_odds, swims_by_odds
from fecallab.imaging.motility.paths import (
    LONG_UM,
    Path,
    local_velocity,
    mean_velocity,
    path_of,
    persistence,
    stays_on_glass,
    without_shared_ends,
)
from fecallab.imaging.motility.pipeline import Scene
from fecallab.imaging.motility.stream import Stream, common_stream
from fecallab.imaging.motility.tremble import trembles_freely, unrest_of

Values = NDArray[np.float64]
_LEAST_SEEN_S, _LEAST_REACH_UM = 0.3, 5.0
_LOOSE_UM_S = 1.5
_LEAST_GUIDES, _GOOD_GUIDES, _ALIKE_UM_S, _NEAR_STREAM = 3, 4, 2.5, 0.3
_FAINT, _RATHER_FAINT, _HELD_SHARE, _HELD = 2.1, 3.5, 0.35, 0.35
_FAR_UM, _SEEN_FAR = 40.0, 0.8
_LONE, _SIZE_CHANGE = 4, 0.5
_PLAIN, _PLAIN_SEEN, _STANDS_OUT, _GETS_ON_UM = 0.6, 0.65, 3.2, 18.0
_RESTLESS, _RESTLESS_ODDS, _UNLIKELY = 1.5, 8.0, -16.0
# logarithms of how much likelier a swimmer is: set on drawn clips for tuning
_HOLDS_ODDS, _PLAIN_ODDS, _LONE_ODDS, _LONE_PLAIN_ODDS = 12.0, 500.0, 18.0, 100.0
_NUDGE_PX = 2.0
_MANY_OTHERS, _ERRORS_APART = 6, 3.0
_BRIEF_S, _BORDER_UM, _TOO_SLOW_UM_S = 0.65, 8.0, 3.0
_FLICKERS, _FLICKERS_SEEN, _FLICKERS_UM = 0.3, 0.95, 8.0


@dataclass(frozen=True)
class SceneAnswer:
    """One field, judged."""

    judged: list[Judged]
    stream: Stream
    seconds: float
    unguided: bool  # too few loose things beside the swimmers to tell a stream
    flowing: float  # share of would-be swimmers that move as their neighbours do


def judge_scene(scene: Scene, middle_um: Values) -> SceneAnswer:
    """Link, find the stream and judge the tracks of one field."""
    times = np.array(scene.times_s)
    linked = without_hops(untangled(link(scene.tables, times), times), times)
    tracks = [one for one in linked if len(one.frames) >= 4]
    on_glass = [without_shared_ends(path_of(one, times), len(times) - 1) for one in tracks]
    stream = common_stream(on_glass, middle_um, faint_guides(scene.specks, times))
    unrest = unrest_of(on_glass)
    limit = float(np.median(scene.limits)) if scene.limits else 0.0
    swimmers, rest, lag = _parted([stream.taken_from(one) for one in on_glass], stream, unrest, limit)
    carried_share = foretold([*swimmers, *rest], range(len(swimmers)))
    known = np.isfinite(carried_share)
    many = int(np.sum(carried_share[known] > CARRIED)) >= 4
    flowing = float(np.mean(carried_share[known] > CARRIED)) if many else 0.0
    guides = sum(
        trembles_freely(one) or (one.seconds >= 0.4 and one.seen.mean() > 0.5 and not stays_on_glass(one))
        for one in rest
    )
    lost = guides < _LEAST_GUIDES and not stream.velocity_um_s.any()
    ways = [mean_velocity(one) for one in swimmers]
    even = [way for one, way in zip(swimmers, ways, strict=True) if lost and goes_evenly(one)]
    nudges = _nudges(scene)
    judged: list[Judged] = []
    by_odds: dict[int, float] = {}
    for one, share, stirred in zip(swimmers, carried_share, _stirred(swimmers), strict=True):
        plain = _plainly_goes(one, limit)
        odds = swimming_odds(one, stream, unrest, lag)
        if flowing > FLOWING_MOST or (flowing > FLOWING_SOME and not share < CARRIED / 2):
            why = "moves as others do there or then: a current or a shaking picture"
            judged.append(Judged(one, "cannot-tell", why))
        elif stream.holds_place(one) and odds < _HOLDS_ODDS and not bends_itself(one):
            judged.append(Judged(one, "stuck", "stays where it is on the glass while the fluid streams"))
        elif stirred:
            why = "small and slow beside large swimmers, which stir the fluid"
            judged.append(Judged(one, "cannot-tell", why))
        elif lost and goes_evenly(one) and _may_be_carried(one, even, ways):
            why = "straight and even as if carried; hardly anything drifts beside it"
            judged.append(Judged(one, "cannot-tell", why))
        elif 0 < guides < _GOOD_GUIDES and goes_evenly(one) and _near_stream(one, stream):
            why = "straight and even, not far from the stream, which few things tell"
            judged.append(Judged(one, "cannot-tell", why))
        elif stream.only_drags(one, lag):
            why = "keeps to the stream's line, slower or faster: another depth?"
            judged.append(Judged(one, "cannot-tell", why))
        elif bends_itself(one) and _comes_with_a_nudge(one, nudges):
            why = "long, and came into view with a nudge of the stage: may be a flaw of the film"
            judged.append(Judged(one, "cannot-tell", why))
        elif not (_goes_far(one) or plain or odds > _PLAIN_ODDS) and (
            _faint(one, limit, stream) or _flickers(one)
        ):
            why = "hardly stands out, now more and now less: may be noise of the picture"
            judged.append(Judged(one, "cannot-tell", why))
        elif unrest > _RESTLESS and odds < _RESTLESS_ODDS:
            why = "small things jump about in this clip: this may be one of them"
            judged.append(Judged(one, "cannot-tell", why))
        elif not plain and _comes_from_nowhere(one, middle_um, len(times)):
            judged.append(Judged(one, "cannot-tell", "appears amid the field and is gone at once"))
        else:
            judged.append(_swimmer(one))
            by_odds[id(one)] = odds
    judged = _lone_ones_doubted(judged, by_odds)
    carried = float(np.hypot(*stream.velocity_um_s)) > _LOOSE_UM_S
    judged += [
        judge_rest(one, carried) for one in rest if one.seconds >= _LEAST_SEEN_S and one.seen.mean() > 0.5
    ]
    loose = sum(one.kind in ("drifting", "trembling") and one.path.seconds >= 0.4 for one in judged)
    unguided = bool(swimmers) and loose < 3 and len(scene.still) < 3
    seconds = float(times[-1] - times[0]) if len(times) > 1 else 0.0
    return SceneAnswer(judged, stream, seconds, unguided, flowing)


def _parted(
    paths: Sequence[Path], stream: Stream, unrest: float, limit: float
) -> tuple[list[Path], list[Path], float]:
    """Return what swims by its way, pieces joined, the paths in which nothing does, and how these lag in the stream."""
    told = [(one, swimming_stretches(one, stream.velocity_um_s)) for one in paths]
    lag = lag_of([one for one, found in told if not found], stream)
    parts: list[Path] = []
    rest: list[Path] = []
    for one, found in told:
        if mostly_rests(one, found):
            left = pieces_between(one, found)
            found = found + [piece for piece in left if swims_by_odds(piece, stream, unrest, lag, limit)]
        parts.extend(found)
        if not found:
            rest.append(one)
    swimmers: list[Path] = []
    for one in without_doubles(join_swimmers(parts)):
        gets_on = one.seconds >= _LEAST_SEEN_S and reach_um(one) > _LEAST_REACH_UM
        if stream.strong and swimming_odds(one, stream, unrest, lag) < _UNLIKELY and not bends_itself(one):
            gets_on = False  # held on the glass, or carried
        (swimmers if gets_on else rest).append(one)
    return swimmers, rest, lag


def _swimmer(one: Path) -> Judged:
    if reach_um(one) < float(np.median(one.size[:, 1])) and bends_itself(one):
        return Judged(one, "swimming", "bends or turns of itself; a carried body keeps its outline")
    clear, part = to_measure(one)
    speed = kinematics(clear[part], one.times_s[part], 1).vcl_um_s
    if speed < _TOO_SLOW_UM_S:
        why = f"goes on at {speed:.1f} µm/s, too slow to tell from an uneven stream"
        return Judged(one, "cannot-tell", why)
    return Judged(one, "swimming", f"keeps a course of its own through the fluid at {speed:.0f} µm/s")


def _comes_from_nowhere(path: Path, middle_um: Values, frames: int) -> bool:
    """Return whether a path begins and ends amid field and clip within a short time: a swimmer comes and goes."""
    if path.seconds > _BRIEF_S or path.first < 3 or path.first + len(path) > frames - 3:
        return False
    room = _BORDER_UM + 0.5 * float(np.median(path.size[:, 1]))
    inside = np.abs(path.xy_um[[0, -1]] - middle_um) < middle_um - room
    return bool(inside.all())


def _lone_ones_doubted(judged: list[Judged], odds: Mapping[int, float]) -> list[Judged]:
    """Return the same with more asked where hardly anything swims: there, flaws that were strung up are told first.

    What changes its size on the way is doubted, unless it goes on far beyond doubt, and so is what is not much likelier
    for a swimmer than for anything else.
    """
    if sum(one.kind == "swimming" for one in judged) > _LONE:
        return judged
    return [
        Judged(one.path, "cannot-tell", why)
        if one.kind == "swimming" and (why := _doubt(one.path, odds[id(one.path)]))
        else one
        for one in judged
    ]


def _doubt(path: Path, odds: float) -> str:
    if odds < _LONE_ODDS and not bends_itself(path):
        return (
            "hardly likelier for a swimmer than for a carried or held thing, and hardly anything else swims"
        )
    if odds < _LONE_PLAIN_ODDS and not _keeps_its_size(path):
        return "changes its size on the way, and hardly anything else swims: may be noise of the picture"
    return ""


def _nudges(scene: Scene) -> NDArray[np.intp]:
    """Return the frames before which the stage was nudged."""
    camera = np.array(scene.camera_px).reshape(-1, 2)
    return np.flatnonzero(np.hypot(*np.diff(camera, axis=0).T) > _NUDGE_PX) + 1


def _comes_with_a_nudge(path: Path, nudges: NDArray[np.intp]) -> bool:
    """Return whether a path begins as the stage is nudged."""
    return bool((np.abs(nudges - path.first) <= 1).any())


def _keeps_its_size(path: Path) -> bool:
    """Return whether a body has about the same outline in both halves of its time; less is asked where the rim cuts it."""
    half = len(path) // 2
    size, seen = path.size[:, :2], path.seen
    if float(np.median(size[:, 1])) > LONG_UM:  # it bends, and the border cuts it for long
        return True
    whole = seen & (path.size[:, 5] < 0.5)
    limit = _SIZE_CHANGE
    if min(whole[:half].sum(), whole[half:].sum()) < 4:
        whole, limit = seen, 2 * _SIZE_CHANGE
    if min(whole[:half].sum(), whole[half:].sum()) < 2:
        return True
    ends = [np.log(np.median(size[part][whole[part]], axis=0)) for part in (slice(half), slice(half, None))]
    return float(np.abs(ends[1] - ends[0]).max()) < limit


def _faint(path: Path, limit: float, stream: Stream) -> bool:
    """Return whether a body hardly stands out, or little and mostly at rest on the glass while the fluid streams."""
    clear = float(np.percentile(path.size[path.seen, 4], 75)) / max(limit, 1e-9)
    fast = float(np.hypot(*stream.at(path.xy_um).T).mean())
    if fast > 4.0 and clear < _RATHER_FAINT:
        on_glass = np.hypot(*local_velocity(path.xy_um, path.times_s, 0.25).T)
        if float(np.mean(on_glass < _HELD * fast)) > _HELD_SHARE:
            return True
    return clear < _FAINT


def _plainly_goes(path: Path, limit: float) -> bool:
    """Return whether a body stands out and gets on by more than its steps scatter, on the glass too: no flaw does all."""
    found = persistence(path.own_um, path.times_s)
    usual = path.seconds / max(len(path) - 1, 1)
    scatter2 = 4 * found.tremble_um2_s / max(usual, 1e-9)
    share = found.speed_um_s**2 / max(found.speed_um_s**2 + scatter2, 1e-9)
    clear = float(np.percentile(path.size[path.seen, 4], 75)) / max(limit, 1e-9)
    on_glass = float(np.hypot(*(path.xy_um - path.xy_um[0]).T).max())
    return (
        path.seen.mean() > _PLAIN_SEEN and share > _PLAIN and clear > _STANDS_OUT and on_glass > _GETS_ON_UM
    )


def _goes_far(path: Path) -> bool:
    """Return whether a path gets far both on the glass and in the fluid, as no flaw at rest or carried does."""
    return path.seen.mean() > _SEEN_FAR and gets_away_um(path) > _FAR_UM


def _flickers(path: Path) -> bool:
    """Return whether a small thing comes and goes and changes its size from frame to frame, as flaws of a film do."""
    areas = np.log(path.size[path.seen, 0])
    return bool(
        path.seen.mean() < _FLICKERS_SEEN
        and float(np.diff(areas).std()) > _FLICKERS
        and float(np.median(path.size[:, 1])) < _FLICKERS_UM
    )


def _near_stream(path: Path, stream: Stream) -> bool:
    """Return whether a path's own way is a small part of that of a stream, so that a change over the field may make it."""
    own = float(np.hypot(*(path.own_um[-1] - path.own_um[0]))) / max(path.seconds, 1e-9)
    return own < _NEAR_STREAM * float(np.hypot(*stream.at(path.xy_um.mean(axis=0))))


def _may_be_carried(path: Path, even: Sequence[Values], ways: Sequence[Values]) -> bool:
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


def _stirred(swimmers: Sequence[Path]) -> list[bool]:
    """Tell which are much smaller and much slower than most: dragged along by the larger ones."""
    if len(swimmers) < 5:
        return [False] * len(swimmers)
    areas = np.array([np.median(one.size[:, 0]) for one in swimmers])
    speeds = np.array([reach_um(one) / max(one.seconds, 0.3) for one in swimmers])
    small = (areas < 0.25 * np.median(areas)) & (speeds < 0.2 * np.median(speeds))
    return [bool(one) for one in small]
