"""Can this clip answer at all? What stands in the way, and what to keep in mind, each with what to do."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from fecallab.domain.errors import Reason
from fecallab.imaging.motility.clips import Clip
from fecallab.imaging.motility.pipeline import Taken

if TYPE_CHECKING:
    from fecallab.imaging.motility.judge import SceneAnswer

LEAST_SECONDS, GOOD_SECONDS = 0.8, 2.0
LEAST_FPS, GOOD_FPS = 7.0, 15.0
_CROWDED, _TOO_CROWDED = 150, 500
FLOWING_SOME, FLOWING_MOST = 0.25, 0.5
_HINT = "Film 5 to 10 seconds, the phone held still, one field in focus."


def hindrances(
    clip: Clip,
    taken: Taken,
    fps: float,
    seconds: float,
    flowing: float,
    answers: Sequence[SceneAnswer],
) -> tuple[Reason, ...]:
    """Return why motility cannot be assessed; nothing when it can. Limits are own choices, tuned on drawn clips."""
    found: list[Reason] = []
    longest = max((one.seconds for one in answers), default=0.0)
    if taken.frames < 6 or longest < LEAST_SECONDS:
        text = f"Motility not assessable: {taken.frames} frames in {longest:.2f} s; {LEAST_SECONDS:g} s are needed."
        return (Reason("clip-too-short", text, _HINT),)
    if fps < LEAST_FPS:
        text = f"Motility not assessable: {fps:.1f} frames per second; {LEAST_FPS:g} are needed."
        return (
            Reason("clip-too-slow", text, "Film at the usual 25 or 30 frames per second, no time lapse."),
        )
    if taken.dark:
        found.append(Reason("clip-dark", "Motility not assessable: the clip is black.", "Turn the lamp up."))
    if taken.blurred:
        text = "Motility not assessable: nothing in the clip is in focus."
        found.append(Reason("clip-blurred", text, "Focus on the things in the field, then film again."))
    if not found and _bodies_a_frame(taken) == 0 and not any(scene.still for scene in taken.scenes):
        text = "Motility not assessable: nothing stands out in the clip, so whether it is in focus cannot be told."
        found.append(Reason("nothing-seen", text, "Focus on a grain of debris, then film that field."))
    if flowing > FLOWING_MOST:
        text = (
            "Motility cannot be told: most of what moves goes as other things do at the same place or time, as in"
            " a current or when the picture shakes."
        )
        found.append(
            Reason("flow-uneven", text, "Wait until the fluid rests, do not touch the table, film again.")
        )
    if _bodies_a_frame(taken) > _TOO_CROWDED:
        text = f"Motility cannot be told: about {_bodies_a_frame(taken):.0f} moving things at once."
        found.append(Reason("clip-crowded", text, "Dilute with saline and film a thinner place."))
    return tuple(found)


def warnings_of(
    clip: Clip, taken: Taken, fps: float, seconds: float, flowing: float, answers: Sequence[SceneAnswer]
) -> tuple[Reason, ...]:
    """Return what to keep in mind beside the numbers."""
    found: list[Reason] = []
    if clip.cut_short:
        found.append(
            Reason(
                "clip-cut-short",
                f"{clip.name} ends before its end; the whole part was used.",
                "Copy it again.",
            )
        )
    if LEAST_SECONDS <= seconds < GOOD_SECONDS:
        found.append(Reason("clip-short", f"Only {seconds:.1f} s: slow swimmers may be missed.", _HINT))
    if LEAST_FPS <= fps < GOOD_FPS:
        found.append(
            Reason(
                "clip-slow",
                f"{fps:.0f} frames per second: fast ones may be lost.",
                "Film at 25 or 30 frames per second.",
            )
        )
    if _CROWDED < _bodies_a_frame(taken) <= _TOO_CROWDED:
        found.append(
            Reason("clip-busy", "Many moving things: tracks may be mixed up.", "Dilute with saline.")
        )
    if FLOWING_SOME < flowing <= FLOWING_MOST:
        found.append(Reason("flow-some", "Some things move as others do there: an uneven current.", _HINT))
    if len(taken.scenes) > 1:
        found.append(
            Reason("clip-cut", f"The clip shows {len(taken.scenes)} fields; each was read for itself.", "")
        )
    if any(one.unguided for one in answers):
        text = "Hardly anything drifts beside the swimmers: a stream could not be told from swimming."
        found.append(
            Reason("stream-unknown", text, "Look whether all go the same way; film where debris floats.")
        )
    speeds = [np.hypot(*one.stream.velocity_um_s) for one in answers if one.stream.agreement]
    if speeds and max(speeds) > 40:
        found.append(Reason("stream-fast", "The fluid streams fast.", "Wait a minute, then film again."))
    return tuple(found)


def _bodies_a_frame(taken: Taken) -> float:
    tables = [len(table) for scene in taken.scenes for table in scene.tables]
    return float(np.mean(tables)) if tables else 0.0
