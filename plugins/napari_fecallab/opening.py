"""From the records to a draft: the exam as it stands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fecallab.records.clips import clip_of
from napari_fecallab.state import Change, Field, Mark, Thing

if TYPE_CHECKING:
    from fecallab.domain.exam import Exam, Picture, Reading
    from fecallab.domain.exam import Mark as RecordedMark
    from fecallab.records.clips import KeptClip


def changes_of(exam: Exam, pictures: dict[str, Picture]) -> list[Change]:
    """Return the changes that make an exam out of nothing: its fields and marks, ids are their codes."""
    changes: list[Change] = []
    for preparation in exam.preparations:
        for reading in preparation.readings:
            clip = clip_of(reading, pictures.values())
            place: Thing = field_of(reading, preparation.code, pictures.get(reading.picture), clip)
            changes.append(Change("field", reading.code, reading.code, None, place))
            changes += [
                Change("mark", reading.code, mark.code, None, mark_of(mark)) for mark in reading.marks
            ]
    return changes


def field_of(reading: Reading, preparation: str, picture: Picture | None, clip: KeptClip | None) -> Field:
    """Return a recorded reading as a field."""
    looked_at = picture or (clip.picture if clip else None)
    return Field(
        preparation=preparation,
        kind=reading.kind,
        objective=reading.objective,
        field_number=reading.field_number,
        cover_share=reading.cover_share,
        um_per_px=reading.um_per_px,
        scale_from="the records" if reading.um_per_px else "",
        picture=reading.picture,
        picture_name=picture.file_name if picture else "",
        width_px=looked_at.width_px if looked_at else 0,
        height_px=looked_at.height_px if looked_at else 0,
        clip=clip.picture.sha256 if clip else "",
        clip_name=clip.picture.file_name if clip else "",
        clip_fps=clip.fps if clip else None,
        counts=tuple(reading.counts.items()),
        unsure=tuple(reading.unsure.items()),
        swimming=None
        if reading.mean_swimming is None
        else (reading.mean_swimming, reading.mean_swimming_low, reading.mean_swimming_high),
        clip_seconds=reading.clip_seconds,
        nothing=_said_empty(reading),
        read_here=reading.proposals,
        remark=reading.remark,
    )


def _said_empty(reading: Reading) -> bool:
    """Say whether somebody looked and saw nothing: at the eyepiece, or at the picture in this window."""
    seen = reading.marks or reading.counts or reading.unsure
    return not seen and (not reading.picture or reading.proposals != "")


def mark_of(mark: RecordedMark) -> Mark:
    """Return a recorded mark; how certain its size was is not recorded."""
    return Mark(
        x_px=mark.x_px,
        y_px=mark.y_px,
        name=mark.name,
        sure=mark.sure,
        length_um=mark.length_um,
        width_um=mark.width_um,
        angle_deg=mark.angle_deg,
        named_by=mark.named_by,
    )
