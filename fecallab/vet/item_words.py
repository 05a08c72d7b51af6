"""Words on the items of a page as facts: by what the keeper called them then, each said once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fecallab.domain.exam import Exam
from fecallab.domain.items import numbered_items
from fecallab.domain.verdict import vet_key
from fecallab.domain.vet_words import ARTEFACT, MarkVerdict, PageItem
from fecallab.vet.safe_json import refuse

NEW = "Y999999999"
"""Stands for the code of an answer that is not recorded yet: it comes after all others."""


@dataclass(frozen=True)
class Word:
    """One word on one item, before it is a fact."""

    verdict: str
    name: str = ""
    sure: bool = True
    remark: str = ""


@dataclass(frozen=True)
class Found:
    """Words on items as facts."""

    marks: tuple[MarkVerdict, ...]
    notes: tuple[str, ...]
    still_unsure: tuple[PageItem, ...]


def words_on_items(
    vet: str,
    items: Sequence[PageItem],
    explicit: dict[str, Word],
    rest_agreed: bool,
    exams: dict[str, Exam | None],
) -> Found:
    """Return the words on the items of a page as facts.

    ``rest agreed`` reaches every sure item without a word of its own, in this answer or in an earlier one of
    the same vet; an unsure item needs its own.
    """
    said_before = _said_before(vet, exams)
    marks: list[MarkVerdict] = []
    gone: list[str] = []
    still_unsure: list[PageItem] = []
    readings = {
        reading.code
        for exam in exams.values()
        if exam is not None
        for preparation in exam.preparations
        for reading in preparation.readings
    }
    for item in items:
        word = explicit.get(item.item)
        if word is None and rest_agreed and item.sure and item.item not in said_before:
            word = Word("agree with the rest")
        if word is None:
            if not item.sure and item.item not in said_before:
                still_unsure.append(item)
            continue
        reading = reading_of(item.item)
        if reading not in readings:
            gone.append(f"{item.number} ({item.item})")
            continue
        marks.append(_mark_verdict(item, reading, word))
    return Found(tuple(marks), tuple(left_out(gone)), tuple(still_unsure))


def left_out(gone: Sequence[str]) -> list[str]:
    """Return the note on what is no longer in the records; none where nothing is."""
    shown = ", ".join(gone[:5]) + (", …" if len(gone) > 5 else "")
    return [f"No longer in the records, so it is left out: {shown}."] if gone else []


def reading_of(item: str) -> str:
    """Return the code of the reading that an item is in.

    Examples
    --------
    >>> reading_of("E3-1-2-7"), reading_of("E3-1-2:oxyurid?")
    ('E3-1-2', 'E3-1-2')
    """
    return item.partition(":")[0] if ":" in item else item.rpartition("-")[0]


def _mark_verdict(item: PageItem, reading: str, word: Word) -> MarkVerdict:
    name, sure = {
        "agree": (item.name, True),
        "agree with the rest": (item.name, item.sure),
        "artefact": (ARTEFACT, True),
        "cannot tell": (item.name, False),
    }.get(word.verdict, (word.name, word.sure))
    name, group = known_name(name)
    return MarkVerdict(
        answer=NEW,
        exam=item.item.partition("-")[0],
        reading=reading,
        item=item.item,
        word=word.verdict,
        name=name,
        sure=sure,
        eye_group=group,
        seen_name=item.name,
        seen_sure=item.sure,
        count=item.count,
        remark=word.remark,
    )


def known_name(name: str) -> tuple[str, str]:
    """Return a key or group of the tables, and the group that the eye can tell."""
    from fecallab.reference.adequacy import adequacy_facts

    groups = adequacy_facts().group_of
    word = name.strip()
    if word not in groups:
        word = word.lower()
    if word not in groups:
        raise refuse(
            f"{name[:40]!r} is no organism or group that is known here.",
            next="Type: fecallab reference list",
            code="unknown-organism",
        )
    return word, groups[word]


def page_now(exams: Sequence[Exam]) -> list[PageItem]:
    """Return the items of exams as they would be numbered on a page today."""
    return [
        PageItem(number=one.number, item=one.key, name=one.name, sure=one.sure, count=one.count)
        for one in numbered_items(exams)
    ]


def _said_before(vet: str, exams: dict[str, Exam | None]) -> set[str]:
    """Return the items on which this vet has a word of its own that stands."""
    found: set[str] = set()
    for exam in exams.values():
        if exam is None:
            continue
        said = exam.verdicts
        found |= {
            one.item
            for one in said.marks
            if one.answer in said.answers
            and vet_key(said.answers[one.answer].vet) == vet_key(vet)
            and one.word != "agree with the rest"
        }
    return found
