"""Fills the page to the vet from the record folder: which exams go along, what is asked, what can be answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Exam
from fecallab.report.model import CasePage, ExamPage, MarkLine, PictureBlock
from fecallab.vet.answer import page_identity
from fecallab.vet.page_items import Names, vet_items
from fecallab.vet.page_model import GradeChoice, PageToVet, VetCase, VetExam, VetItem, VetPicture
from fecallab.vet.page_pictures import with_crops

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal
    from fecallab.domain.plan import Plan
    from fecallab.records.reader import Reader

MOST_ITEMS = 10_000
"""More numbered things than this are no page (own choice; an answer holds 20,000)."""


def vet_page(
    records: Reader,
    code: str,
    today: date,
    *,
    question: str = "",
    exams: Sequence[str] = (),
    to_whom: str = "",
    from_whom: str = "",
) -> PageToVet:
    """Return the page of a case or an exam, its pictures still as files.

    Parameters
    ----------
    records : Reader
    code : str
        Code of a case or of an exam.
    today : datetime.date
        The day that the page speaks of.
    question : str, optional
        What the keeper asks; else the question that was put to the exams.
    exams : sequence of str, optional
        For a case: the exams that go along; else the last one, the last with anything to be judged, and every
        one with an unsure mark.
    to_whom, from_whom : str, optional
        Vet (else the vet of the last plan) and keeper.

    Raises
    ------
    BadInput
        For a code of something else, exams of another animal, or when there is nothing to show.
    """
    from fecallab.gather_notes import signs_of_animal
    from fecallab.records.folder import read_marker
    from fecallab.report.build import case_page, exam_page, stamp

    subject, shown, case_codes = _subject(records, code.strip().upper(), exams)
    animal = records.animal(records.sample(shown[0].sample).animal)
    asked = question.strip() or " ".join(dict.fromkeys(one.question for one in shown if one.question))
    identity = page_identity(read_marker(records.folder).collection, subject, shown, question=asked)
    if len(identity.items) > MOST_ITEMS:
        raise BadInput(
            f"There are {len(identity.items)} marks and counts; a page holds {MOST_ITEMS}.",
            next=f"Make a page of one exam: fecallab vet page {shown[-1].code}",
            code="page-too-many-marks",
        )
    names = Names(animal)
    items = vet_items(identity.items, shown, names)
    pictures = [one for exam in shown for one in _pictures(records, exam, items)]
    pages = [exam_page(records, one.code, today) for one in shown]
    cases = [case_page(records, one, today) for one in case_codes]
    plans = [plan for one in case_codes for plan in records.plans(one)]
    vets = [plan.vet for plan in plans if plan.vet]
    return PageToVet(
        stamp=stamp(today),
        page_id=identity.id,
        page_hash=identity.hash,
        subject=subject,
        animal=animal,
        asks=asked,
        from_whom=from_whom,
        to_whom=to_whom or (vets[-1] if vets else ""),
        weights=tuple(one for one in records.weighings(animal.code) if one.weighed_at.date() <= today),
        signs=tuple(one.line for one in signs_of_animal(records, animal, today)),
        items=tuple(with_crops(items, pictures)),
        pictures=tuple(pictures),
        exams=tuple(VetExam(page=_of_exam(page), grades=tuple(_grades(page, animal))) for page in pages),
        cases=tuple(
            VetCase(
                page=_alone(page),
                treatments=_treatments(records.plans(page.case.code)),
                grades=_scale_words(page),
            )
            for page in cases
        ),
        organisms=names.choices(),
    )


def _subject(records: Reader, code: str, wanted: Sequence[str]) -> tuple[str, list[Exam], list[str]]:
    """Return the code asked for, the exams on the page, and the cases that they bear on."""
    from fecallab.gather import targets_seen
    from fecallab.records import rows

    kind = rows.kind_of_code(code)
    if kind is rows.EXAM:
        if wanted:
            raise BadInput(
                f"{code} is one exam; --exam chooses among the exams of a case.",
                next=f"Leave --exam out, or name the case: fecallab vet page CASE --exam {code}",
                code="exam-of-an-exam",
            )
        exam = records.exam(code)
        if not (exam.preparations or exam.elsewhere):
            raise _nothing(code)
        owner = records.sample(exam.sample).animal
        seen = targets_seen(exam)
        cases = [
            one.code
            for one in records.cases(owner)
            if one.opened_by_exam == exam.code
            or ((one.target in seen or not seen) and not records.closing(one.code))
        ]
        return exam.code, [exam], cases
    if kind is rows.CASE:
        case = records.case(code)
        mine = records.exams(case.animal)
        if wanted:
            chosen = [records.exam(one) for one in wanted]
            foreign = [one.code for one in chosen if one.code not in {each.code for each in mine}]
            if foreign:
                raise BadInput(
                    f"{', '.join(foreign)} is of another animal than {case.code}.",
                    next=f"Name exams of {case.animal}: {', '.join(one.code for one in mine)}",
                    code="exam-of-another",
                )
            order = {one.code for one in chosen}
            return case.code, [one for one in mine if one.code in order], [case.code]
        judgeable = [one for one in mine if _has_items(one)]
        open_ones = [one for one in judgeable if _has_items(one, sure=False)]
        last = [*judgeable[-1:], *mine[-1:]]
        chosen = [one for one in mine if one in open_ones or one in last]
        if not chosen:
            raise _nothing(case.code)
        return case.code, chosen, [case.code]
    raise BadInput(
        f"{code[:40]!r} is no code of a case or an exam.",
        next="Name a case (C1) or an exam (E1); fecallab case list shows the cases.",
        code="not-a-case-or-exam",
    )


def _nothing(code: str) -> BadInput:
    return BadInput(
        f"{code} holds nothing yet that a vet could look at.",
        next="Record an exam first: fecallab exam add SAMPLE --method … --picture …",
        code="nothing-to-show",
    )


def _has_items(exam: Exam, *, sure: bool | None = None) -> bool:
    """Say whether anything was marked or counted; with `sure` False whether anything unsure was."""
    for preparation in exam.preparations:
        for reading in preparation.readings:
            if any(reading.tally(sure=False).values()):
                return True
            if sure is None and any(reading.tally().values()):
                return True
    return False


def _pictures(records: Reader, exam: Exam, items: Sequence[VetItem]) -> list[VetPicture]:
    """Return the pictures of one exam, their marks under the numbers of the page."""
    from fecallab.report.picture_blocks import pictures_of

    numbers = {one.item.key: one.item.number for one in items}
    codes = [r.code for p in exam.preparations for r in p.readings if r.picture]
    return [
        VetPicture(block=_numbered(block, numbers), reading=code, exam=exam.code, source=block.picture)
        for code, block in zip(codes, pictures_of(records, exam), strict=True)
        if isinstance(block.picture, Path)
    ]


def _numbered(block: PictureBlock, numbers: dict[str, int]) -> PictureBlock:
    lines: list[MarkLine] = [
        replace(line, number=numbers[line.mark.code]) for line in block.marks if line.mark.code in numbers
    ]
    return replace(block, marks=tuple(lines))


def _alone(page: CasePage) -> CasePage:
    """Return a case's page without its pictures, and without links to pages that do not travel along."""
    return replace(page, pictures=(), exams=tuple(replace(point, page="") for point in page.exams))


def _of_exam(page: ExamPage) -> ExamPage:
    """Return an exam's page without its pictures, and without asking whether what was found could be shown."""
    found = {f"{one.target}, {one.stage}" for one in page.answers if one.answer.for_case == "positive"}
    preparations = tuple(
        replace(block, adequacy=tuple(one for one in block.adequacy if one.what not in found))
        for block in page.preparations
    )
    return replace(page, pictures=(), preparations=preparations)


def _grades(page: ExamPage, animal: Animal) -> list[GradeChoice]:
    """Return what the vet can say about an exam, once for every target that it was judged for."""
    from fecallab.gather import scale_for, stages_of

    found = []
    for target in dict.fromkeys(block.target for block in page.answers):
        scale = scale_for(target, stages_of(target, animal))
        rows = [row for row in page.counts if row.organism == target and row.grade is not None]
        keepers = max((row.grade for row in rows if row.grade), key=lambda one: one.rank, default=None)
        found.append(
            GradeChoice(
                exam=page.exam.code,
                target=target,
                result=next(b.answer.for_case for b in page.answers if b.target == target),
                scale=scale.name if scale else "",
                words=tuple(step.word for step in reversed(scale.steps)) if scale else (),
                keepers=keepers.word if keepers else "",
            )
        )
    return found


def _scale_words(page: CasePage) -> tuple[str, ...]:
    from fecallab.gather import scale_for

    scale = scale_for(page.case.target, page.case.stages, page.plan.grade_scale if page.plan else "")
    return tuple(step.word for step in reversed(scale.steps)) if scale else ()


def _treatments(plans: Sequence[Plan]) -> tuple[Plan, ...]:
    """Return the plans with a drug that can be ordered again, newest first, each treatment once."""
    found: dict[tuple[object, ...], Plan] = {}
    for plan in reversed(plans):
        if plan.doses_planned:
            what = (plan.drug, plan.dose_mg_per_kg, plan.concentration_mg_per_ml, plan.route)
            found.setdefault((*what, plan.interval_days, plan.doses_planned), plan)
    return tuple(found.values())[:3]
