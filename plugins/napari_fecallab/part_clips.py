"""Clips of the session: each kept with the records, what moves in it worked out, how many swim put into its field."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fecallab.domain.clip_words import at_once_words, counted_swimmers
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Picture
from napari_fecallab.core import SessionCore
from napari_fecallab.names import checked_name, label_of
from napari_fecallab.state import Change
from napari_fecallab.views import Outcome

if TYPE_CHECKING:
    from fecallab.imaging.clip_stack import ReadyClip
    from fecallab.imaging.motility import MotilityResult
    from napari_fecallab.clip_work import Steps


class ClipPart(SessionCore):
    """What the session does with clips."""

    def clip_path(self, field: str | None = None) -> Path | None:
        """Return where the clip of a field lies; None where it has none."""
        kept = self.facts.pictures.get(self._place(self._uid(field)).clip)
        return None if kept is None else self.facts.place.path(kept)

    def clip_rate(self, field: str | None = None) -> float | None:
        """Return the frames per second that somebody gave for a clip; None where those of the file hold."""
        return self._place(self._uid(field)).clip_fps

    def moving_steps(self, field: str | None = None, fps: float | None = None) -> Steps:
        """Return the work that tells what moves in a clip; take its steps in a thread.

        Raises
        ------
        BadInput
            The field is no clip, or has no scale.
        """
        from napari_fecallab.clip_work import moving_steps

        place, path = self._place(self._uid(field)), self.clip_path(field)
        if path is None:
            raise BadInput("This field is no clip.", next="Add one: Add a clip.", code="no-clip")
        if place.um_per_px is None:
            raise BadInput(
                "Without a scale no speed can be told, so what swims cannot be told either.",
                next="Press Scale, then T again.",
                code="no-scale",
            )
        return moving_steps(path, place.um_per_px, fps)

    def keep_swimmers(
        self,
        found: MotilityResult,
        name: str = "",
        *,
        sure: bool = True,
        fps: float | None = None,
        field: str | None = None,
    ) -> Outcome:
        """Put into a field how many swim at once in its clip, under the person's name for them; one step.

        They are counted in the place of what was counted before; where the field has marks, those stay what is
        counted, and the mean is kept beside them. Where nothing swims no name is needed, and that nothing else
        is there is left to be said.

        Parameters
        ----------
        found : MotilityResult
            Of this clip.
        name : str
            Organism or group.
        sure : bool
        fps : float, optional
            The rate that was given for it.

        Raises
        ------
        BadInput
            It could not be told what swims, or something swims and has no name.
        """
        uid = self._uid(field)
        place = self._place(uid)
        mean, ends = found.mean_swimming_at_once, found.mean_swimming_interval
        if mean is None or ends is None:
            reason = found.reasons[0]
            raise BadInput(f"{reason.text} Nothing was kept.", next=reason.next, code=reason.code)
        count = counted_swimmers(found.motile_count or 0, mean)
        if count and not name:
            raise BadInput("What swims needs your name for it.", next="C, then a number.", code="no-name")
        known = checked_name(name) if count else ""
        seen = ((known, count),) if count else ()
        new = replace(
            place,
            swimming=(mean, *ends),
            clip_seconds=found.clip_seconds or None,
            clip_fps=fps,
            nothing=False,
        )
        if not self._content(uid).marks:
            new = replace(new, counts=seen if sure else (), unsure=() if sure else seen)
        words = at_once_words(mean, *ends)
        if count:
            words += f": {count} {label_of(known)}{'' if sure else ', not sure'}"
        told = []
        if count and self._content(uid).marks:
            told.append("The marks stay what is counted; how many swim is kept beside them.")
        if not count:
            told.append("In old or cooled stool that says nothing. If nothing else is here either, press E.")
        self._do(f"clip: {words}", [Change("field", uid, uid, place, new)], kind="field")
        return Outcome((uid,), words, tuple(told))

    def _kept_clip(self, ready: ReadyClip, fps: float | None = None) -> Picture:
        """Copy a clip into the records when it can be opened."""
        from fecallab.imaging.motility import open_clip
        from fecallab.records.clips import take_clip
        from fecallab.records.store import open_records

        clip = open_clip(ready.file, fps)
        with open_records(self.folder) as store, store.write(by=self.by, now=self._clock()) as writer:
            kept = take_clip(writer, ready.file, clip.width_px, clip.height_px, ready.name)
        self.facts = replace(self.facts, pictures={**self.facts.pictures, kept.sha256: kept})
        return kept
