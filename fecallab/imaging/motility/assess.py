"""The question asked of a clip: how many swim in this field, how fast, in what manner, and is it swimming at all?"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path as FilePath

import numpy as np
from numpy.typing import NDArray

from fecallab.domain.counting import exact_interval
from fecallab.domain.errors import BadInput
from fecallab.domain.motility import Kinematics, kinematics
from fecallab.imaging.motility.adequate import hindrances, warnings_of
from fecallab.imaging.motility.clips import Clip, Pixels, open_clip
from fecallab.imaging.motility.decide import Judged
from fecallab.imaging.motility.judge import SceneAnswer, judge_scene
from fecallab.imaging.motility.manner import manner_of, moves_like
from fecallab.imaging.motility.measure import smoothed, to_measure
from fecallab.imaging.motility.pipeline import Scene, Taken, take_in
from fecallab.imaging.motility.result import MotilityResult, MovingBody

Values = NDArray[np.float64]
AVERAGE_PATH_S = 0.4
"""Window of the average path (own choice: the WHO manual leaves it to the instrument)."""


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
    clear, part = to_measure(path) if one.kind == "swimming" else (smoothed(path), slice(None))
    motion: Kinematics | None = None
    manner: tuple[str, ...] = ()
    length = float(np.median(path.size[:, 1]))
    if len(path) >= 2:
        usual = path.seconds / (len(path) - 1)
        window = 2 * round(AVERAGE_PATH_S / usual / 2) + 1
        motion = kinematics(clear[part], path.times_s[part], window)
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
