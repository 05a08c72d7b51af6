"""Pictures of an exam with their marks, as a page shows them, and organisms in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fecallab.domain.exam import Exam
from fecallab.report.model import MarkLine, PictureBlock, Seen

if TYPE_CHECKING:
    from fecallab.records.reader import Reader


def organism_words() -> dict[str, str]:
    """Return how organisms and groups are written for people."""
    from fecallab.reference.adequacy import adequacy_facts
    from fecallab.reference.organisms import organisms

    words = {group: group for group in adequacy_facts().group_of.values()}
    return words | {o.key: f"{o.scientific_name} ({o.stage})" for o in organisms()}


def pictures_of(records: Reader, exam: Exam) -> tuple[PictureBlock, ...]:
    """Return every picture of an exam with its marks, numbered through, or with its counts."""
    from fecallab.reference.adequacy import adequacy_facts

    groups, words = adequacy_facts().group_of, organism_words()
    blocks = []
    number = 0
    for preparation in exam.preparations:
        for place, reading in enumerate(preparation.readings, start=1):
            if not reading.picture:
                continue
            picture = records.picture(reading.picture)
            lines = []
            for mark in reading.marks:
                number += 1
                lines.append(
                    MarkLine(
                        number=number,
                        mark=mark,
                        words=words.get(mark.name, mark.name),
                        group=groups.get(mark.name, mark.name),
                    )
                )
            power = f", {reading.objective:g}×" if reading.objective else ""
            seen = [
                Seen(
                    words=words.get(name, name),
                    sure=reading.tally().get(name, 0),
                    unsure=reading.tally(sure=False).get(name, 0),
                )
                for name in dict.fromkeys([*reading.tally(), *reading.tally(sure=False)])
            ]
            blocks.append(
                PictureBlock(
                    title=f"{preparation.code}, {reading.kind} {place}{power}",
                    picture=records.picture_path(reading.picture),
                    width_px=picture.width_px,
                    height_px=picture.height_px,
                    um_per_px=reading.um_per_px,
                    marks=tuple(lines),
                    counts=() if lines else tuple(seen),
                    caption=reading.remark,
                )
            )
    return tuple(blocks)
