"""Pictures of an exam with their marks, as a page shows them, and organisms in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from fecallab.domain.exam import Exam, Mark
from fecallab.domain.verdict import missed_once, standing_words, views_of
from fecallab.domain.vet_words import MissedOrganism
from fecallab.report.model import MarkLine, PictureBlock, Seen

if TYPE_CHECKING:
    from fecallab.records.reader import Reader


def organism_words() -> dict[str, str]:
    """Return how organisms and groups are written for people."""
    from fecallab.reference.adequacy import adequacy_facts
    from fecallab.reference.organisms import organisms

    words = {group: group for group in adequacy_facts().group_of.values()}
    return words | {o.key: f"{o.scientific_name} ({o.stage})" for o in organisms()}


def pictures_of(records: Reader, exam: Exam, *, verdicts: bool = False) -> tuple[PictureBlock, ...]:
    """Return every picture of an exam with its marks, numbered through, or with its counts.

    With `verdicts` the name of a vet stands in the place of the keeper's, which stays beside it, and what vets
    added is drawn too; without, the keeper's names stand alone, as a vet is to see them.
    """
    from fecallab.reference.adequacy import adequacy_facts

    groups, words = adequacy_facts().group_of, organism_words()
    blocks = []
    number = 0
    said = _Said(exam) if verdicts else None
    for preparation in exam.preparations:
        for place, reading in enumerate(preparation.readings, start=1):
            if not reading.picture:
                continue
            picture = records.picture(reading.picture)
            lines = []
            for mark in reading.marks:
                number += 1
                line = MarkLine(
                    number=number,
                    mark=mark,
                    words=words.get(mark.name, mark.name),
                    group=groups.get(mark.name, mark.name),
                )
                lines.append(line if said is None else said.by_vets(line, words))
            for one in [] if said is None else said.added(reading.code):
                number += 1
                lines.append(said_line(number, *one, words))
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


class _Said:
    """What vets said of the marks of one exam."""

    def __init__(self, exam: Exam) -> None:
        self.answers = exam.verdicts.answers
        self.words = standing_words(exam.verdicts)
        self.missed = missed_once(exam.verdicts)

    def by_vets(self, line: MarkLine, names: Mapping[str, str]) -> MarkLine:
        """Return a mark's line by the vets' words, the keeper's own name beside it."""
        words = self.words.get(line.mark.code)
        if words is None:
            return line
        views = views_of(words, self.answers)
        own = line.words + ("" if line.mark.sure else ", not sure")
        told = "; ".join(
            f"{word.word}{f' ({word.remark})' if word.remark else ''}, {self.answers[word.answer].vet}"
            for word in words
        )
        sure = any(view.sure for view in views)
        replaced = any(view.name != line.mark.name for view in views) or sure is not line.mark.sure
        return replace(
            line,
            mark=replace(line.mark, sure=sure),
            words=" or ".join(names.get(view.name, view.name) for view in views),
            group=views[0].eye_group,
            vets_word=told,
            keepers_word=own if replaced else "",
        )

    def added(self, reading: str) -> list[tuple[MissedOrganism, str]]:
        """Return what vets added in a reading at a place, with who did."""
        return [
            (one, self.answers[one.answer].vet)
            for one in self.missed
            if one.reading == reading and one.x_px is not None and one.y_px is not None
        ]


def said_line(number: int, one: MissedOrganism, vet: str, names: Mapping[str, str]) -> MarkLine:
    """Return the line of an organism that a vet added."""
    assert one.x_px is not None and one.y_px is not None
    return MarkLine(
        number=number,
        mark=Mark(x_px=one.x_px, y_px=one.y_px, name=one.name, sure=one.sure, named_by=vet),
        words=names.get(one.name, one.name),
        group=one.eye_group,
        vets_word=f"added by {vet}" + (f" ({one.remark})" if one.remark else ""),
    )
