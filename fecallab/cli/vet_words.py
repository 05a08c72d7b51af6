"""A vet's answer in words: what is said, what would change, what is left to do."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from fecallab.cli.common import fact_dict
from fecallab.cli.output import one_line
from fecallab.cli.words import table_with_notes
from fecallab.domain.spoken import number_of, say_time
from fecallab.gather_vet import exam_word

if TYPE_CHECKING:
    from fecallab.domain.vet_words import CaseWord
    from fecallab.vet.changes import Changes
    from fecallab.vet.incoming import Incoming

SHOWN = 40
"""As many names are shown one by one."""

READ_FIRST = (
    *(
        "drug",
        "component",
        "dose_mg_per_kg",
        "concentration_mg_per_ml",
        "route",
        "interval_days",
        "doses_planned",
    ),
    *("goal", "negatives_needed", "spacing_days", "wait_after_last_dose_days"),
)
"""The order in which a plan and a follow-up are read aloud; what is not named here follows."""


def incoming_lines(incoming: Incoming, found: Changes) -> list[str]:
    """Return what an answer says and would change, a line each."""
    answer = incoming.answer
    where = f" to page {incoming.page.page_id} ({incoming.page.subject})" if incoming.page else ""
    lines = [
        f"Answer of {one_line(answer.vet)}{where}, {say_time(answer.answered_at)}:"
        f" {answer.signed if answer.source == 'page' else 'typed from a message, unsigned'}"
    ]
    lines += [f"  ! {note}" for note in incoming.notes]
    if found.agreed:
        lines.append(
            f"  Agrees with the rest: {number_of(found.agreed, 'mark or count', 'marks or counts')} as you named them."
        )
    rows = [
        [
            str(one.number or "-"),
            one.item,
            one.keeper.replace("_", " "),
            one.word,
            f"{one.becomes.replace('_', ' ')}{' (vets differ)' if one.vets_differ else ''}",
        ]
        for one in found.names[:SHOWN]
    ]
    if rows:
        remarks = [one_line(one.remark) for one in found.names[:SHOWN]]
        lines.append(table_with_notes(["no.", "mark", "you", "vet", "counts as"], rows, remarks))
    if len(found.names) > SHOWN:
        lines.append(f"  … and {len(found.names) - SHOWN} more")
    for one in incoming.missed:
        number = f"{one.count} " if one.count > 1 else ""
        lines.append(
            f"  Missed: {number}{one.name.replace('_', ' ')}{'' if one.sure else ' (not sure)'} in {one.reading}"
        )
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
    return ", ".join(f"{number} {name.replace('_', ' ')}" for name, number in counts.items()) or "nothing"


def case_word_lines(word: CaseWord) -> list[str]:
    """Return a word on a case in lines."""
    lines = [f"{word.case}: {one_line(word.advice)}"] if word.advice else []
    if word.plan_kind == "same":
        lines.append(f"{word.case}: the same plan as {word.same_as}, by today's weight")
    elif word.plan_kind:
        lines.append(f"{word.case}: a plan: {_said_by_field(word.plan_says)}")
    if word.follow_up_says:
        lines.append(f"{word.case}: follow-up: {_said_by_field(word.follow_up_says)}")
    if word.open:
        lines.append("  It is no plan before you have read it over.")
    return lines


def _said_by_field(says: str) -> str:
    """Return a plan or a follow-up of an answer in words: ``dose: 25 mg/kg; route: by mouth``; words as they came."""
    from fecallab.cli.plan_options import say_field

    try:
        fields = json.loads(says)
    except ValueError:
        fields = None
    if not isinstance(fields, dict):
        return one_line(says)
    names = sorted(
        fields, key=lambda name: (READ_FIRST.index(name) if name in READ_FIRST else len(READ_FIRST), name)
    )
    return "; ".join(one_line(say_field(name, fields[name])) for name in names if name != "kind")


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
