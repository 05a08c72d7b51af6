"""From an answer to facts: does it belong to these records, and what would it record?"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Exam
from fecallab.domain.spoken import say_date, say_time
from fecallab.domain.verdict import vet_key
from fecallab.domain.vet_words import (
    CaseWord,
    ExamVerdict,
    MarkVerdict,
    MissedOrganism,
    PageItem,
    VetAnswer,
    VetPage,
)
from fecallab.records import vet_words
from fecallab.records.reader import Reader
from fecallab.records.writer import Writer
from fecallab.vet.answer import Answer, CaseAnswer, ReadAnswer
from fecallab.vet.item_words import NEW, Word, known_name, left_out, similar_vet, words_on_items
from fecallab.vet.safe_json import refuse
from fecallab.vet.signing import verified_key

CLOCKS_APART = timedelta(days=1)
"""So far may the vet's clock be from the keeper's (another time zone)."""


@dataclass(frozen=True, kw_only=True)
class Incoming:
    """An answer as it would be recorded.

    Attributes
    ----------
    answer : VetAnswer
        Without a code.
    marks, missed, exams, cases : tuple of facts
        Its words; their ``answer`` is `NEW` until they are recorded.
    notes : tuple of str
        What is left out and why, and what the keeper should know of the signature.
    still_unsure : tuple of PageItem
        Items of which the keeper was not sure and of which the answer says nothing by itself.
    numbers : dict
        The number of every item on the page, by its key.
    """

    answer: VetAnswer
    page: VetPage | None
    marks: tuple[MarkVerdict, ...] = ()
    missed: tuple[MissedOrganism, ...] = ()
    exams: tuple[ExamVerdict, ...] = ()
    cases: tuple[CaseWord, ...] = ()
    notes: tuple[str, ...] = ()
    still_unsure: tuple[PageItem, ...] = ()
    numbers: dict[str, int]

    @property
    def exam_codes(self) -> tuple[str, ...]:
        """The exams on which something is said."""
        said = [
            *(one.exam for one in self.marks),
            *(one.exam for one in self.missed),
            *(one.exam for one in self.exams),
        ]
        return tuple(dict.fromkeys(said))

    @property
    def says_nothing(self) -> bool:
        """Whether there is nothing to record but free words."""
        return not (self.marks or self.missed or self.exams or self.cases)


@dataclass(frozen=True, kw_only=True)
class KnownBefore:
    """The answer was recorded before, word for word; how it is signed now."""

    code: str
    withdrawn: bool
    signed: str = "unsigned"
    signing_key: str = ""


def from_page(reader: Reader, read: ReadAnswer, raw_sha256: str, now: datetime) -> Incoming | KnownBefore:
    """Check that an answer belongs to a page of these records, and say what it would record.

    Raises
    ------
    BadInput
        For another page's id or hash, a mark or exam that was not on the page, a date that cannot be, a
        signature that does not fit, and an answer older than one that this vet sent to the same page.
    """
    answer = read.answer
    page = _page_of(reader, answer)
    key, signed, note = _signature(reader, read)
    before = vet_words.answer_said_before(reader, read.says_sha256)
    if before is not None:
        return KnownBefore(code=before[0], withdrawn=before[1], signed=signed, signing_key=key)
    _check_time(answer, page, now)
    _refuse_older(reader, answer, page)
    items = vet_words.items_of(reader, page.code)
    exams = {code: _exam_or_none(reader, code) for code in page.exams.split()}
    fact = VetAnswer(
        page=page.code,
        vet=answer.vet.name,
        practice=answer.vet.practice,
        answered_at=answer.answered_at,
        source="page",
        says_sha256=read.says_sha256,
        raw_sha256=raw_sha256,
        signed=signed,
        signing_key=key,
        words=answer.words,
    )
    explicit = {one.mark: Word(one.verdict, one.name, one.sure, one.remark) for one in answer.marks}
    strange = [item for item in explicit if item not in {one.item for one in items}]
    if strange:
        raise refuse(
            f"The answer names {strange[0][:60]}, which was not on page {page.page_id}.", code="not-on-page"
        )
    found = words_on_items(fact.vet, items, explicit, answer.rest_agreed, exams)
    missed, gone = _missed(reader, answer, exams)
    for whole in answer.exams:
        _on_page(whole.exam, exams, page)
    gone += [f"the word on exam {one.exam}" for one in answer.exams if exams[one.exam] is None]
    return Incoming(
        answer=fact,
        page=page,
        marks=found.marks,
        missed=missed,
        exams=tuple(_exam_verdict(one.model_dump()) for one in answer.exams if exams[one.exam] is not None),
        cases=tuple(_case_word(reader, one, page, exams) for one in answer.cases),
        notes=(
            *([note] if note else []),
            *similar_vet(fact.vet, (one.vet for one in vet_words.answers(reader))),
            *found.notes,
            *left_out(gone),
        ),
        still_unsure=found.still_unsure,
        numbers={one.item: one.number for one in items},
    )


def record(writer: Writer, incoming: Incoming) -> VetAnswer:
    """Record an answer and all its words in one transaction; return the answer with its code."""
    answer = writer.add(incoming.answer)
    writer.add_all([replace(one, answer=answer.code) for one in incoming.marks])
    writer.add_all([replace(one, answer=answer.code) for one in incoming.missed])
    writer.add_all([replace(one, answer=answer.code) for one in incoming.exams])
    writer.add_all([replace(one, answer=answer.code) for one in incoming.cases])
    return answer


def _page_of(reader: Reader, answer: Answer) -> VetPage:
    page = vet_words.page_by_hash(reader, answer.page.hash)
    if page is not None and page.page_id == answer.page.id:
        return page
    same_id = [one for one in vet_words.pages(reader) if one.page_id == answer.page.id]
    if page is not None or same_id:
        raise refuse(
            f"The id {answer.page.id} and the hash of the answer do not belong together: it was changed on the"
            " way.",
            code="page-changed",
        )
    raise refuse(
        f"The answer belongs to page {answer.page.id}, which was not made from these records.",
        next="Give it to the records that made the page, or restore a backup that has it.",
        code="unknown-page",
    )


def _signature(reader: Reader, read: ReadAnswer) -> tuple[str, str, str]:
    """Return the key, how the answer is signed, and a note for the keeper."""
    vet = read.answer.vet.name
    keys = vet_words.trusted_keys(reader)
    of_vet = [one for one in keys if vet_key(one.name) == vet_key(vet)]
    key = verified_key(read)
    if not key:
        note = f"A key of {vet} is known here, but this answer is unsigned." if of_vet else ""
        return "", "unsigned", note
    owner = next((one for one in keys if one.public_key == key), None)
    if owner is not None and vet_key(owner.name) != vet_key(vet):
        raise refuse(
            f"The answer says {vet[:60]!r}, but it is signed with the key of {owner.name!r}.",
            next="Ask both by telephone.",
            code="signed-by-another",
        )
    if owner is not None:
        return key, "signed, key known here", ""
    if of_vet:
        raise refuse(
            f"The answer says {vet[:60]!r}, but it is signed with another key than the one known here.",
            next=f"Ask by telephone; a new key is taken on with: fecallab vet trust {key} NAME",
            code="signed-by-another",
        )
    note = (
        f"The signature fits, but nobody here has checked whose key it is. After a call:"
        f' fecallab vet trust {key} "NAME"'
    )
    return key, "signed, key not known here", note


def _check_time(answer: Answer, page: VetPage, now: datetime) -> None:
    if answer.answered_at > now + CLOCKS_APART:
        raise refuse(
            f"The answer is dated {say_time(answer.answered_at)}, which is in the future.",
            next="Check the clock of this computer, or ask the vet.",
            code="in-the-future",
        )
    if answer.answered_at < page.made_at - CLOCKS_APART:
        raise refuse(
            f"The answer is dated {say_date(answer.answered_at)}, before the page was made"
            f" ({say_date(page.made_at)}).",
            next="Ask the vet for the day.",
            code="answered-before-page",
        )


def _refuse_older(reader: Reader, answer: Answer, page: VetPage) -> None:
    mine = [
        one for one in vet_words.answers(reader, page.code) if vet_key(one.vet) == vet_key(answer.vet.name)
    ]
    later = [one for one in mine if one.answered_at > answer.answered_at]
    if later:
        raise refuse(
            f"{answer.vet.name[:60]} sent a later answer to this page ({later[-1].code} of"
            f" {say_time(later[-1].answered_at)}); this older one is not taken in any more.",
            next=f"Look: fecallab verdict list {page.subject}",
            code="older-answer",
        )


def _exam_or_none(reader: Reader, code: str) -> Exam | None:
    try:
        return reader.exam(code)
    except BadInput:
        return None


def _on_page(code: str, exams: dict[str, Exam | None], page: VetPage | None) -> None:
    if code not in exams:
        which = f"page {page.page_id}" if page else "the message"
        raise refuse(f"The answer speaks of exam {code}, which was not on {which}.", code="not-on-page")


def _missed(
    reader: Reader, answer: Answer, exams: dict[str, Exam | None]
) -> tuple[tuple[MissedOrganism, ...], list[str]]:
    """Return what the vet added, and the readings that are no longer there."""
    found: list[MissedOrganism] = []
    gone: list[str] = []
    for one in answer.missed:
        code = one.reading.partition("-")[0]
        name, group = known_name(one.name)
        exam = exams.get(code)
        readings = [r.code for p in exam.preparations for r in p.readings] if exam else []
        if one.reading not in readings:
            if code not in exams or not _ever_recorded(reader, one.reading):
                raise refuse(
                    f"The answer adds something in {one.reading}, which was not on the page.",
                    code="not-on-page",
                )
            gone.append(f"{one.name} in {one.reading}")
            continue
        found.append(
            MissedOrganism(
                answer=NEW,
                exam=code,
                reading=one.reading,
                x_px=one.x_px,
                y_px=one.y_px,
                name=name,
                sure=one.sure,
                eye_group=group,
                remark=one.remark,
            )
        )
    return tuple(found), gone


def _ever_recorded(reader: Reader, code: str) -> bool:
    try:
        return bool(reader.history(code))
    except BadInput:
        return False


def _exam_verdict(said: dict[str, Any]) -> ExamVerdict:
    target = known_name(said["target"])[1] if said["target"] else ""
    return ExamVerdict(answer=NEW, **{**said, "target": target})


def _case_word(reader: Reader, one: CaseAnswer, page: VetPage, exams: dict[str, Exam | None]) -> CaseWord:
    """Return a word on a case; the case must be of an animal on the page, a plan of that case."""
    animals = {reader.sample(exam.sample).animal for exam in exams.values() if exam is not None}
    try:
        case = reader.case(one.case)
    except BadInput:
        case = None
    if case is None or (case.code != page.subject and case.animal not in animals):
        raise refuse(f"The answer speaks of case {one.case}, which was not on the page.", code="not-on-page")
    same_as = ""
    if one.plan is not None and one.plan.kind == "same":
        same_as = one.plan.plan
        if same_as not in {plan.code for plan in reader.plans(case.code)}:
            raise refuse(
                f"The answer repeats plan {same_as}, which is none of case {case.code}.", code="not-on-page"
            )
    return CaseWord(
        answer=NEW,
        case=case.code,
        advice=one.advice,
        plan_kind="" if one.plan is None else one.plan.kind,
        same_as=same_as,
        plan_says="" if one.plan is None else _json(one.plan.model_dump(exclude_none=True)),
        follow_up_says="" if one.follow_up is None else _json(one.follow_up.model_dump(exclude_none=True)),
    )


def _json(said: dict[str, Any]) -> str:
    kept = {key: value for key, value in said.items() if value != ""}
    return json.dumps(kept, ensure_ascii=False, sort_keys=True) if kept else ""
