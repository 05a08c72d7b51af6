"""A vet's answer in words: what is said, what would change, what is left to do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fecallab.cli.common import fact_dict
from fecallab.cli.output import one_line
from fecallab.cli.words import table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fecallab.domain.exam import Exam
    from fecallab.domain.vet_words import CaseWord
    from fecallab.vet.changes import Changes
    from fecallab.vet.incoming import Incoming

SHOWN = 40
"""As many names are shown one by one."""


def incoming_lines(incoming: Incoming, found: Changes) -> list[str]:
    """Return what an answer says and would change, a line each."""
    answer = incoming.answer
    where = f" to page {incoming.page.page_id} ({incoming.page.subject})" if incoming.page else ""
    lines = [
        f"Answer of {one_line(answer.vet)}{where}, {answer.answered_at:%Y-%m-%d %H:%M}:"
        f" {answer.signed if answer.source == 'page' else 'typed from a message, unsigned'}"
    ]
    lines += [f"  ! {note}" for note in incoming.notes]
    if found.agreed:
        lines.append(f"  Agrees with the rest: {found.agreed} marks or counts as you named them.")
    rows = [
        [
            str(one.number or "-"),
            one.item,
            one.keeper,
            one.word,
            f"{one.becomes}{' (vets differ)' if one.vets_differ else ''}",
            one_line(one.remark)[:40],
        ]
        for one in found.names[:SHOWN]
    ]
    if rows:
        lines.append(table(["no.", "mark", "you", "vet", "counts as", "remark"], rows))
    if len(found.names) > SHOWN:
        lines.append(f"  … and {len(found.names) - SHOWN} more")
    for one in incoming.missed:
        number = f"{one.count} " if one.count > 1 else ""
        lines.append(f"  Missed: {number}{one.name}{'' if one.sure else ' (not sure)'} in {one.reading}")
    for said in incoming.exams:
        lines.append(f"  {exam_word(said)}")
    for exam, (before, after) in found.counts.items():
        if before != after:
            lines.append(f"  Counts of {exam}: {counted(before)} → {counted(after)}")
    for result in found.results:
        if result.changed:
            lines.append(
                f"  {result.exam}, {result.target}: {_stands(result, False)} → {_stands(result, True)}"
            )
    for change in found.standings:
        same = change.before == change.after
        lines.append(
            f"  {change.case} ({change.target} in {change.animal}): {change.before}"
            + (" (unchanged)" if same else f" → {change.after}")
        )
    lines += [f"  A case would be opened: {target} in {animal}" for animal, target in found.opens]
    if incoming.still_unsure:
        numbers = ", ".join(str(one.number) for one in incoming.still_unsure[:20])
        lines.append(
            f"  Still without a word of the vet, and you were not sure: {numbers}"
            " ('rest agree' does not reach these)"
        )
    for word in incoming.cases:
        lines += [f"  {line}" for line in case_word_lines(word)]
    if answer.words:
        lines.append(f"  Besides: {one_line(answer.words)}")
    return lines


def _stands(result: Any, after: bool) -> str:
    said, grade, count = (
        (result.after, result.grade_after, result.count_after)
        if after
        else (result.before, result.grade_before, result.count_before)
    )
    return f"{said} ({count} sure{f', grade {grade}' if grade else ''})"


def counted(counts: Any) -> str:
    """Return counts in words."""
    return ", ".join(f"{number} {name}" for name, number in counts.items()) or "nothing"


def exam_word(said: Any) -> str:
    """Return a word on a whole exam in one line."""
    parts = [f"grade {one_line(said.grade)}"] if said.grade else []
    adequacy = {"agree": "adequacy: as the table says", "not adequate": "not adequate", "accept": "accepted"}
    parts += [adequacy[said.adequacy]] if said.adequacy else []
    parts += [f"pictures {said.picture_quality}"] if said.picture_quality else []
    parts += [one_line(said.remark)] if said.remark else []
    return f"{said.exam}{f' for {said.target}' if said.target else ''}: {'; '.join(parts) or 'nothing said'}"


def case_word_lines(word: CaseWord) -> list[str]:
    """Return a word on a case in lines."""
    lines = [f"{word.case}: {one_line(word.advice)}"] if word.advice else []
    if word.plan_kind == "same":
        lines.append(f"{word.case}: the same plan as {word.same_as}, by today's weight")
    elif word.plan_kind:
        lines.append(f"{word.case}: a plan: {one_line(word.plan_says)}")
    if word.follow_up_says:
        lines.append(f"{word.case}: follow-up: {one_line(word.follow_up_says)}")
    if word.open:
        lines.append("  It is no plan before you have read it over.")
    return lines


def incoming_payload(incoming: Incoming, found: Changes) -> dict[str, Any]:
    """Return the same for ``--json``."""
    from dataclasses import asdict

    return {
        "vet": incoming.answer.vet,
        "signed": incoming.answer.signed,
        "page": incoming.page.page_id if incoming.page else None,
        "notes": list(incoming.notes),
        "names": [asdict(one) for one in found.names],
        "agreed_with_the_rest": found.agreed,
        "missed": [{**fact_dict(one), "answer": None} for one in incoming.missed],
        "exams": [{**fact_dict(one), "answer": None} for one in incoming.exams],
        "cases": [{**fact_dict(one), "answer": None} for one in incoming.cases],
        "counts": {code: {"before": b, "after": a} for code, (b, a) in found.counts.items()},
        "results": [asdict(one) for one in found.results],
        "standings": [asdict(one) for one in found.standings],
        "would_open": [{"animal": animal, "target": target} for animal, target in found.opens],
        "still_unsure": [one.number for one in incoming.still_unsure],
    }


def verdict_lines(exam: Exam) -> list[str]:
    """Return the words of vets on an exam beside the keeper's names, a line each; none when no vet spoke."""
    from fecallab.domain.verdict import differ, missed_once, standing_words, views_of, words_on_exam

    said = exam.verdicts
    if not said:
        return []
    marks = {
        mark.code: mark
        for preparation in exam.preparations
        for reading in preparation.readings
        for mark in reading.marks
    }
    lines: list[str] = []
    rest: dict[str, int] = {}
    for item, words in standing_words(said).items():
        vets = [said.answers[word.answer].vet for word in words]
        if len(words) == 1 and words[0].word == "agree with the rest":
            rest[vets[0]] = rest.get(vets[0], 0) + words[0].count
            continue
        own = marks.get(item)
        if own is None:
            keeper = f"{words[0].seen_name}{'' if words[0].seen_sure else ' (not sure)'}"
            keeper += ", withdrawn since" if ":" not in item else ""
        else:
            keeper = f"{own.name}{'' if own.sure else ' (not sure)'}"
        told = "; ".join(
            f"{one_line(vet)}: {word.word}"
            + (f" {word.name}" if word.word == "other" else "")
            + (f" ({one_line(word.remark)})" if word.remark else "")
            for vet, word in zip(vets, words, strict=True)
        )
        counts = ", ".join(
            f"{view.name}{'' if view.sure else ' (not sure)'}" for view in views_of(words, said.answers)
        )
        lines.append(
            f"{item}: you {keeper}; {told}; counts as {counts}{' (vets differ)' if differ(words) else ''}"
        )
    lines = [
        *(f"{one_line(vet)} agrees with {number} as you named them" for vet, number in rest.items()),
        *lines,
    ]
    for one in missed_once(said):
        vet = one_line(said.answers[one.answer].vet)
        lines.append(
            f"{one.reading}: {vet} adds {one.count} {one.name}{'' if one.sure else ' (not sure)'} that you missed"
        )
    lines += [f"{one_line(said.answers[w.answer].vet)}: {exam_word(w)}" for w in words_on_exam(exam)]
    return lines


def open_word_lines(words: Sequence[CaseWord]) -> list[str]:
    """Return the open items among words on a case: plans that wait to be read over."""
    return [
        f"A plan of the vet waits to be read over by you ({word.code}): fecallab verdict plan {word.code}"
        for word in words
        if word.open
    ]
