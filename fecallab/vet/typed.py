"""From a message that the keeper typed in to facts, by the numbers of the page that the vet had."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Exam
from fecallab.domain.plan import Plan
from fecallab.domain.spoken import say_date
from fecallab.domain.vet_words import CaseWord, ExamVerdict, MissedOrganism, PageItem, VetAnswer, VetPage
from fecallab.records import vet_words
from fecallab.records.reader import Reader
from fecallab.vet.canonical import content_hash
from fecallab.vet.incoming import Incoming, KnownBefore
from fecallab.vet.item_words import NEW, known_name, page_now, similar_vet, words_on_items
from fecallab.vet.message import Told


def page_for(reader: Reader, exam: Exam, asked: str = "") -> VetPage | None:
    """Return the page by whose numbers a message speaks: the one that is named, else the last with this exam."""
    if asked:
        page = vet_words.page(reader, asked)
        if exam.code not in page.exams.split():
            raise BadInput(
                f"Exam {exam.code} was not on page {page.page_id} ({page.exams}).",
                next="Name the page that the vet had, or another exam.",
                code="not-on-page",
            )
        return page
    made = [page for page in vet_words.pages(reader) if exam.code in page.exams.split()]
    return made[-1] if made else None


def numbered(reader: Reader, exam: Exam, page: VetPage | None) -> list[PageItem]:
    """Return the items by the numbers of the page, or of the exam as it stands when there was no page."""
    return vet_words.items_of(reader, page.code) if page is not None else page_now([exam])


def from_message(
    reader: Reader,
    exam: Exam,
    page: VetPage | None,
    told: Told,
    *,
    vet: str,
    said_at: datetime,
    message: str,
    line: str,
    case: str = "",
) -> Incoming | KnownBefore:
    """Return what a message would record; it is marked as typed and unsigned, and the message is kept.

    Raises
    ------
    BadInput
        For a number that is not on the page, words on a case when it is not clear which, and a missed
        organism when it is not clear in which reading.
    """
    if told.says_nothing:
        raise BadInput(
            "The message says nothing that can be recorded.",
            next="Type for example: 3 pollen, 7 unsure, rest agree",
            code="says-nothing",
        )
    says = content_hash(
        {"exam": exam.code, "vet": vet, "said_at": f"{said_at}", "line": line, "message": message}
    )
    before = vet_words.answer_said_before(reader, says)
    if before is not None:
        return KnownBefore(code=before[0], withdrawn=before[1])
    items = numbered(reader, exam, page)
    by_number = {item.number: item for item in items}
    strange = [number for number in told.words if number not in by_number]
    if strange:
        where = f"page {page.page_id}" if page is not None else f"exam {exam.code}"
        raise BadInput(
            f"There is no number {strange[0]} on {where}; the numbers run from 1 to {len(items)}.",
            next="Check the number, or name the page that the vet had: --page ID",
            code="no-such-number",
        )
    codes = page.exams.split() if page is not None else [exam.code]
    exams: dict[str, Exam | None] = {code: reader.exam(code) for code in codes}
    explicit = {by_number[number].item: word for number, word in told.words.items()}
    found = words_on_items(vet, items, explicit, told.rest_agreed, exams)
    cases = _case_words(reader, exam, told, case, page)
    return Incoming(
        answer=VetAnswer(
            page="" if page is None else page.code,
            vet=vet,
            answered_at=said_at,
            source="typed",
            message=message,
            says_sha256=says,
            words="" if cases else "\n".join(told.advice),
        ),
        page=page,
        marks=found.marks,
        missed=_missed(exam, told),
        exams=_exam_words(exam, told),
        cases=cases,
        notes=(*similar_vet(vet, (one.vet for one in vet_words.answers(reader))), *found.notes),
        still_unsure=found.still_unsure,
        numbers={item.item: item.number for item in items},
    )


def _missed(exam: Exam, told: Told) -> tuple[MissedOrganism, ...]:
    readings = [reading.code for preparation in exam.preparations for reading in preparation.readings]
    found = []
    for name, count, sure, where in told.missed:
        if where and where not in readings:
            raise BadInput(
                f"{where} is no reading of {exam.code}.",
                next=f"They are: {', '.join(readings[:8])}",
                code="no-such-reading",
            )
        if not where and len(readings) != 1:
            raise BadInput(
                f"{exam.code} has {len(readings)} readings; in which was {name} missed?",
                next=f"Type: missed {count} {name} in {readings[0] if readings else 'CODE'}",
                code="which-reading",
            )
        key, group = known_name(name)
        found.append(
            MissedOrganism(
                answer=NEW,
                exam=exam.code,
                reading=where or readings[0],
                name=key,
                sure=sure,
                eye_group=group,
                count=count,
            )
        )
    return tuple(found)


def _exam_words(exam: Exam, told: Told) -> tuple[ExamVerdict, ...]:
    if not (told.grade or told.adequacy or told.picture_quality):
        return ()
    target = known_name(told.grade_target)[1] if told.grade_target else ""
    whole = ExamVerdict(
        answer=NEW,
        exam=exam.code,
        target=target,
        grade=told.grade,
        adequacy=told.adequacy,
        picture_quality=told.picture_quality,
    )
    if target and (told.adequacy or told.picture_quality):
        return replace(whole, adequacy="", picture_quality=""), replace(whole, target="", grade="")
    return (whole,)


def _case_words(
    reader: Reader, exam: Exam, told: Told, asked: str, page: VetPage | None
) -> tuple[CaseWord, ...]:
    if not (told.plan or told.advice):
        return ()
    case = _which_case(reader, exam, asked, page, needed=bool(told.plan))
    if not case:
        return ()
    same_as = ""
    if told.plan == "same":
        plans = reader.plans(case)
        same_as = plan_meant(plans, told.same_as)
        if not same_as:
            raise BadInput(
                f"{case} has no plan {told.same_as}".rstrip() + " that could be the same again.",
                next=f"Type: fecallab plan add {case} --vet NAME",
                code="no-plan",
            )
    return (
        CaseWord(
            answer=NEW,
            case=case,
            advice="\n".join(told.advice),
            plan_kind="" if not told.plan else "same" if same_as else "new",
            same_as=same_as,
            plan_says="" if same_as else told.plan,
        ),
    )


def plan_meant(plans: Sequence[Plan], said: str) -> str:
    """Return the code of the plan that is meant: by code, by the day on which it was written, else the last.

    Examples
    --------
    >>> from datetime import date
    >>> plan = Plan(code="P1", case="C1", vet="v", written_on=date(2026, 3, 4))
    >>> [plan_meant([plan], said) for said in ("", "P1", "4 march 2026", "2026-03-04", "5 march 2026")]
    ['P1', 'P1', 'P1', 'P1', '']
    """
    if not said:
        return plans[-1].code if plans else ""
    word = said.lower().strip()
    fitting = [
        plan.code
        for plan in plans
        if word in (plan.code.lower(), f"{plan.written_on}", say_date(plan.written_on).lower())
    ]
    return fitting[-1] if fitting else ""


def _which_case(reader: Reader, exam: Exam, asked: str, page: VetPage | None, *, needed: bool) -> str:
    """Return the case that is meant: as asked, that of the page, the only open one; empty for advice of none."""
    animal = reader.sample(exam.sample).animal
    known: Sequence[str] = [case.code for case in reader.cases(animal)]
    if asked:
        code = reader.case(asked).code
        if code not in known:
            raise BadInput(
                f"{code} is not a case of the animal of {exam.code}.",
                next="Name another case.",
                code="other-animal",
            )
        return code
    if page is not None and page.subject in known:
        return page.subject
    opened = [case.code for case in reader.cases(animal, open_only=True)]
    if not opened and not needed:
        return ""
    if len(opened) == 1:
        return opened[0]
    said = f"{len(opened)} open cases ({', '.join(opened)})" if opened else "no open case"
    raise BadInput(
        f"The message speaks of a plan or gives advice, and the animal has {said}.",
        next="Name the case: --case C1" if known else "Leave it out, and keep it with --message-file.",
        code="which-case",
    )
