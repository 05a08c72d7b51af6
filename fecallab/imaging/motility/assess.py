"""The question asked of a clip: how many swim in this field, how fast, in what manner, and is it swimming at all?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path as FilePath

import numpy as np
from numpy.typing import NDArray

from fecallab.domain.counting import exact_interval
from fecallab.domain.errors import BadInput
from fecallab.domain.motility import Kinematics, kinematics
from fecallab.imaging.motility.adequate import FLOWING_MOST, FLOWING_SOME, hindrances, warnings_of
from fecallab.imaging.motility.clips import Clip, Pixels, open_clip
from fecallab.imaging.motility.decide import (
    Judged,
    bends_itself,
    goes_evenly,
    join_swimmers,
    judge_rest,
    reach_um,
    swimming_stretches,
    without_doubles,
)
from fecallab.imaging.motility.flow import CARRIED, foretold
from fecallab.imaging.motility.link import link
from fecallab.imaging.motility.manner import manner_of, moves_like
from fecallab.imaging.motility.paths import Path, longest_run, path_of, smoothed, stays_on_glass
from fecallab.imaging.motility.pipeline import Scene, Taken, take_in
from fecallab.imaging.motility.result import MotilityResult, MovingBody
from fecallab.imaging.motility.stream import Stream, common_stream

Values = NDArray[np.float64]
AVERAGE_PATH_S = 0.4
"""Window of the average path (own choice: the WHO manual leaves it to the instrument)."""
_LEAST_SEEN_S, _LEAST_REACH_UM = 0.3, 5.0
_LOOSE_UM_S = 1.5
_LEAST_GUIDES = 3


@dataclass(frozen=True)
class SceneAnswer:
    """One field, judged."""

    judged: list[Judged]
    stream: Stream
    seconds: float
    unguided: bool  # too few loose things beside the swimmers to tell a stream
    flowing: float  # share of would-be swimmers that move as their neighbours do


def assess_motility(
    clip: str | FilePath | Clip | Pixels, um_per_px: float, fps: float | None = None
) -> MotilityResult:
    """Tell what swims in a clip.

    Parameters
    ----------
    clip : path, Clip or ndarray
        As for :func:`fecallab.imaging.motility.clips.open_clip`.
    um_per_px : float
        Scale, µm per pixel of the clip.
    fps : float, optional
        Frames per second, where the file has no times or false ones.

    Returns
    -------
    MotilityResult

    Raises
    ------
    BadInput, CouldNot
        No clip, damaged, without times, or a scale out of range.
    """
    if not (np.isfinite(um_per_px) and 1e-4 <= um_per_px <= 1e4):
        raise BadInput(
            f"The scale is {um_per_px:g} µm per pixel.",
            next="Calibrate first: fecallab image calibrate RULER.jpg --division-um 10",
            code="scale-range",
        )
    source = open_clip(clip, fps)
    taken = take_in(source, um_per_px)
    middle = np.array([source.width_px, source.height_px]) * um_per_px / 2
    answers = [judge_scene(scene, middle) for scene in taken.scenes]
    return _assembled(source, taken, answers, um_per_px)


def judge_scene(scene: Scene, middle_um: Values) -> SceneAnswer:
    """Link, find the stream and judge the tracks of one field."""
    times = np.array(scene.times_s)
    tracks = [one for one in link(scene.tables, times) if len(one.frames) >= 4]
    on_glass = [path_of(one, times) for one in tracks]
    stream = common_stream(on_glass, middle_um)
    paths = [stream.taken_from(one) for one in on_glass]
    parts: list[Path] = []
    rest: list[Path] = []
    for one in paths:
        found = swimming_stretches(one, stream.velocity_um_s)
        parts.extend(found)
        if not found:
            rest.append(one)
    swimmers = [
        one
        for one in without_doubles(join_swimmers(parts))
        if one.seconds >= _LEAST_SEEN_S and reach_um(one) > _LEAST_REACH_UM
    ]
    carried_share = foretold([*swimmers, *rest], range(len(swimmers)))
    known = np.isfinite(carried_share)
    many = int(np.sum(carried_share[known] > CARRIED)) >= 4
    flowing = float(np.mean(carried_share[known] > CARRIED)) if many else 0.0
    guides = sum(one.seconds >= 0.4 and one.seen.mean() > 0.5 and not stays_on_glass(one) for one in rest)
    lost = guides < _LEAST_GUIDES and not stream.velocity_um_s.any()
    judged: list[Judged] = []
    stirred = _stirred(swimmers)
    for one, share, is_stirred in zip(swimmers, carried_share, stirred, strict=True):
        if flowing > FLOWING_MOST or (flowing > FLOWING_SOME and not share < CARRIED / 2):
            judged.append(
                Judged(one, "cannot-tell", "moves as others do there or then: a current or a shaking picture")
            )
            continue
        if stream.holds_place(one) and not bends_itself(one):
            judged.append(Judged(one, "stuck", "stays where it is on the glass while the fluid streams"))
            continue
        if is_stirred:
            judged.append(
                Judged(one, "cannot-tell", "small and slow beside large swimmers, which stir the fluid")
            )
            continue
        if lost and goes_evenly(one):
            judged.append(
                Judged(
                    one, "cannot-tell", "straight and even as if carried; hardly anything drifts beside it"
                )
            )
            continue
        if stream.only_drags(one):
            judged.append(
                Judged(one, "cannot-tell", "keeps to the stream's line, slower or faster: another depth?")
            )
            continue
        if reach_um(one) < float(np.median(one.size[:, 1])) and bends_itself(one):
            judged.append(
                Judged(one, "swimming", "bends or turns of itself; a carried body keeps its outline")
            )
            continue
        clear = smoothed(one)
        a, b = longest_run(clear, one.times_s)
        speed = kinematics(clear[a:b], one.times_s[a:b], 1).vcl_um_s
        judged.append(
            Judged(one, "swimming", f"keeps a course of its own through the fluid at {speed:.0f} µm/s")
        )
    carried = float(np.hypot(*stream.velocity_um_s)) > _LOOSE_UM_S
    judged += [
        judge_rest(one, carried) for one in rest if one.seconds >= _LEAST_SEEN_S and one.seen.mean() > 0.5
    ]
    loose = sum(one.kind in ("drifting", "trembling") and one.path.seconds >= 0.4 for one in judged)
    unguided = bool(swimmers) and loose < 3 and len(scene.still) < 3
    seconds = float(times[-1] - times[0]) if len(times) > 1 else 0.0
    return SceneAnswer(judged, stream, seconds, unguided, flowing)


def _stirred(swimmers: Sequence[Path]) -> list[bool]:
    """Tell which are much smaller and much slower than most: dragged along by the larger ones."""
    if len(swimmers) < 5:
        return [False] * len(swimmers)
    areas = np.array([np.median(one.size[:, 0]) for one in swimmers])
    speeds = np.array([reach_um(one) / max(one.seconds, 0.3) for one in swimmers])
    small = (areas < 0.25 * np.median(areas)) & (speeds < 0.2 * np.median(speeds))
    return [bool(one) for one in small]


def _assembled(
    source: Clip, taken: Taken, answers: Sequence[SceneAnswer], um_per_px: float
) -> MotilityResult:
    starts = np.cumsum([0, *(len(scene.times_s) for scene in taken.scenes)])
    cameras = [np.array(scene.camera_px).reshape(-1, 2) for scene in taken.scenes]
    bodies: list[MovingBody] = []
    at_once = passive = seconds = 0.0
    for number, (scene, answer, camera) in enumerate(zip(taken.scenes, answers, cameras, strict=True)):
        for one in answer.judged:
            bodies.append(_body(one, number, int(starts[number]), camera, taken.shrink, um_per_px))
        frames = max(len(scene.times_s), 1)
        share = max(answer.seconds, 1e-6)
        seconds += share
        at_once += share * sum(len(one.path) for one in answer.judged if one.kind == "swimming") / frames
        loose = sum(len(one.path) for one in answer.judged if one.kind in ("drifting", "trembling")) / frames
        passive += share * (loose + len(scene.still))
        bodies.extend(_stuck(scene, number, int(starts[number]), taken, um_per_px))
    order = {"swimming": 0, "cannot-tell": 1, "drifting": 2, "trembling": 3, "stuck": 4}
    bodies.sort(key=lambda one: (order[one.kind], one.scene, one.frames[0]))
    tracks = tuple(_numbered(one, k + 1) for k, one in enumerate(bodies))
    count = sum(one.kind == "swimming" for one in tracks)
    longest = max(answers, key=lambda one: one.seconds) if answers else None
    times = (
        np.concatenate([np.array(scene.times_s) for scene in taken.scenes]) if taken.scenes else np.zeros(0)
    )
    rate = float(1 / np.median(np.diff(times))) if len(times) > 1 else 0.0
    flowing = max((one.flowing for one in answers), default=0.0)
    reasons = hindrances(source, taken, rate, seconds, flowing, answers)
    assessable = not reasons
    mean = at_once / seconds if seconds > 0 else 0.0
    interval = exact_interval(count)
    scale = mean / count if count else 1.0
    drift = longest.stream.velocity_um_s if longest else np.zeros(2)
    return MotilityResult(
        assessable=assessable,
        reasons=reasons,
        warnings=warnings_of(source, taken, rate, seconds, flowing, answers),
        motile_count=count if assessable else None,
        motile_interval=interval if assessable else None,
        mean_swimming_at_once=mean if assessable else None,
        mean_swimming_interval=(interval[0] * scale, interval[1] * scale) if assessable else None,
        passive_count=round(passive / seconds) if seconds > 0 else 0,
        drift_um_s=(float(drift[0]), float(drift[1])),
        stream_agreement=longest.stream.agreement if longest else 0.0,
        tracks=tracks,
        um_per_px=um_per_px,
        width_px=source.width_px,
        height_px=source.height_px,
        frames=taken.frames,
        clip_seconds=float(times[-1] - times[0]) if len(times) else 0.0,
        fps=rate,
        cuts_s=tuple(float(scene.times_s[0]) for scene in taken.scenes[1:]),
        camera_px=np.concatenate(cameras) if cameras else np.zeros((0, 2)),
    )


def _body(one: Judged, scene: int, start: int, camera: Values, shrink: int, um_per_px: float) -> MovingBody:
    path = one.path
    clear = smoothed(path)
    motion: Kinematics | None = None
    manner: tuple[str, ...] = ()
    length = float(np.median(path.size[:, 1]))
    if len(path) >= 2:
        usual = path.seconds / (len(path) - 1)
        window = 2 * round(AVERAGE_PATH_S / usual / 2) + 1
        a, b = longest_run(clear, path.times_s) if one.kind == "swimming" else (0, len(path))
        motion = kinematics(clear[a:b], path.times_s[a:b], window)
        if one.kind == "swimming":
            manner = manner_of(path, motion)
    return MovingBody(
        number=0,
        kind=one.kind,
        why=one.why,
        scene=scene,
        frames=path.frames + start,
        times_s=path.times_s,
        xy_px=path.xy_um / um_per_px + camera[path.frames] + (shrink - 1) / 2,
        own_um=clear,
        length_um=length,
        width_um=float(np.median(path.size[:, 2])),
        motion=motion,
        manner=manner,
        moves_like=moves_like(length, manner) if manner else (),
    )


def _stuck(scene: Scene, number: int, start: int, taken: Taken, um_per_px: float) -> list[MovingBody]:
    camera = np.array(scene.camera_px).reshape(-1, 2)
    ends = np.array([0, len(scene.times_s) - 1])
    result = []
    for x, y, _, length, width, *_ in scene.still:
        place = np.array([x, y])
        result.append(
            MovingBody(
                number=0,
                kind="stuck",
                why="stays where it is on the glass",
                scene=number,
                frames=ends + start,
                times_s=np.array(scene.times_s)[ends],
                xy_px=place / um_per_px + camera[ends] + (taken.shrink - 1) / 2,
                own_um=np.repeat(place[None], 2, axis=0),
                length_um=float(length),
                width_um=float(width),
            )
        )
    return result


def _numbered(one: MovingBody, number: int) -> MovingBody:
    from dataclasses import replace

    return replace(one, number=number)
