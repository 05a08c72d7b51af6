"""Mending what was recorded: a new row with a reason takes the place of the old one, which stays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, get_type_hints

import typer

from fecallab.cli.common import (
    BY,
    JSON,
    RECORDS,
    fact_dict,
    now,
    one_of,
    open_folder,
    read_day,
    read_time,
    who,
)
from fecallab.cli.output import emit
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import say_date, say_time

if TYPE_CHECKING:
    from fecallab.domain.case import Case
    from fecallab.domain.exam import Exam
    from fecallab.records.history import Entry
    from fecallab.records.reader import Reader

REASON = typer.Option(..., help="Why; it is kept with the record.")
AS_IT_CAME = frozenset(
    [
        "answer",
        "eye_group",
        "word",
        "seen_name",
        "seen_sure",
        "says_sha256",
        "raw_sha256",
        "signed",
        "signing_key",
        "source",
        "message",
        "plan_says",
        "follow_up_says",
        "page_id",
        "page_sha256",
        "public_key",
    ]
)
"""Fields that say what a vet sent or saw: never changed by a correction of the vet's words."""
PARTS = ("preparations", "readings", "marks", "elsewhere")
NEVER_EDITED = {
    "Plan": "fecallab plan add",
    "Closing": "fecallab case open",
    "ArrivalProtocol": "fecallab arrivals protocol",
    "Release": "fecallab withdraw CODE  (if it was never done)",
}


def register(app: typer.Typer) -> None:
    """Add the commands ``correct``, ``withdraw`` and ``history``."""
    app.command()(correct)
    app.command()(withdraw)
    app.command()(history)


def correct(
    code: str = typer.Argument(
        help="What is wrong: W2, S1, E1-1 (preparation), E1-1-3 (reading), E1-1-3-1 (mark)."
    ),
    changes: list[str] = typer.Argument(
        help="field=value, for example mass_g=318, counts.oxyurid=0, name=pollen_pine"
    ),
    reason: str = REASON,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Correct a fact; the old row stays in its history and every conclusion follows at once."""
    from fecallab.cli.correct_checks import checked_fact
    from fecallab.cli.exam import open_cases

    opened: list[Case] = []
    notes: list[str] = []
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        before = find_fact(writer, code)
        kind = type(before).__name__
        if kind in NEVER_EDITED:
            named = "protocol" if kind == "ArrivalProtocol" else kind.lower()
            text = f"A {named} is never edited, only replaced."
            raise BadInput(text, next=f"Type: {NEVER_EDITED[kind]}", code="never-edited")
        exam_code = (
            before.code.partition("-")[0] if before.code.startswith("E") else getattr(before, "exam", "")
        )
        exam_before = writer.exam(exam_code) if exam_code else None
        after = writer.correct(before.code, checked_fact(changed(before, changes), writer), reason)
        if exam_before is not None:
            exam = writer.exam(exam_before.code)
            sample = writer.sample(exam.sample)
            opened, notes = open_cases(writer, exam, sample, writer.animal(sample.animal), exam_before)
            notes += _still_says(exam_before, before, after)
    lines = [f"{after.code} corrected: {reason}. The old row stays: fecallab history {after.code}"]
    lines += [f"  Case {case.code} opened: {case.target}. Send the exam to the vet." for case in opened]
    lines += [f"  Note: {note}" for note in notes]
    payload = {"before": fact_dict(before), "after": fact_dict(after)}
    emit({**payload, "cases_opened": [case.code for case in opened]}, "\n".join(lines), as_json)


def _still_says(exam: Exam, before: Any, after: Any) -> list[str]:
    """Return a note where a preparation got another time, and the exam that had the same keeps the old one."""
    old, new = getattr(before, "read_at", None), getattr(after, "read_at", None)
    if old == new or new is None or exam.examined_at != old:
        return []
    return [
        f"{exam.code} itself still says that it was examined on {say_time(exam.examined_at)}. To correct that too:"
        f' fecallab correct {exam.code} "examined_at={new:%Y-%m-%d %H:%M}" --reason ...'
    ]


def withdraw(
    code: str = typer.Argument(help="What should never have been recorded."),
    reason: str = REASON,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Take back a fact; its rows stay in the history."""
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        before = find_fact(writer, code)
        writer.withdraw(before.code, reason)
    text = f"{before.code} withdrawn: {reason}. Its rows stay: fecallab history {before.code}"
    emit({"withdrawn": fact_dict(before)}, text, as_json)


def history(
    code: str = typer.Argument(help="Code of a fact."),
    story: bool = typer.Option(
        False, "--story", help="All that rests on it too: the whole story of an animal."
    ),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Show every row that was recorded under a code: when, by whom, why."""
    with open_folder(records) as store:
        entries = store.story(code) if story else store.history(code)
    payload = [
        {
            "code": e.code,
            "recorded_at": e.recorded_at,
            "recorded_by": e.recorded_by,
            "reason": e.reason,
            "current": e.current,
            "withdrawn": e.withdrawn,
            "fact": fact_dict(e.fact),
        }
        for e in entries
    ]
    emit({"history": payload}, "\n".join(_history_lines(entries)), as_json)


def _history_lines(entries: Sequence[Entry]) -> list[str]:
    """Return the rows as a person reads them: a correction says what was before and what is now."""
    lines = []
    before: dict[str, dict[str, Any]] = {}
    for entry in entries:
        state = "withdrawn" if entry.withdrawn else "stands" if entry.current else "replaced"
        why = f" ({entry.reason})" if entry.reason else ""
        lines.append(f"{entry.code} {state}, {say_time(entry.recorded_at)} UTC by {entry.recorded_by}{why}")
        said = {key: value for key, value in fact_dict(entry.fact).items() if key not in ("code", "verdicts")}
        known = before.get(entry.code)
        before[entry.code] = said
        if known is None:
            told = [f"{key} {_as_read(value)}" for key, value in said.items() if value not in _NOTHING]
        elif entry.withdrawn:
            continue
        else:
            told = [
                f"{key} {_as_read(known.get(key))} → {_as_read(value)}"
                for key, value in said.items()
                if value != known.get(key)
            ]
        lines.append("  " + ", ".join(told))
    return lines


_NOTHING: tuple[Any, ...] = ("", None, (), {}, [])


def _as_read(value: Any) -> str:
    """Return a value as a person reads it.

    Examples
    --------
    >>> _as_read({"oxyurid": 2}), _as_read(3.7066666666666666), _as_read(40.0), _as_read(datetime(2026, 3, 4, 8))
    ('oxyurid=2', '3.70667', '40.0', '4 March 2026, 08:00')
    """
    if value in _NOTHING:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return say_time(value)
    if isinstance(value, date):
        return say_date(value)
    if isinstance(value, (tuple, list)):
        return ", ".join(map(_as_read, value))
    if isinstance(value, Mapping):
        return ", ".join(f"{name}={_as_read(number)}" for name, number in value.items())
    return f"{value:.6g}" if isinstance(value, float) and value != round(value, 6) else str(value)


def find_fact(reader: Reader, code: str) -> Any:
    """Return the fact that stands under a code, a part of an exam included."""
    asked = code.strip().upper()
    entries = [e for e in reader.history(asked) if e.code == asked and e.current]
    if not entries or entries[-1].withdrawn:
        raise BadInput(f"{asked} was withdrawn.", next=f"Type: fecallab history {asked}", code="withdrawn")
    whole, dash, _ = asked.partition("-")
    if not dash:
        return reader.exam(whole) if whole.startswith("E") else entries[-1].fact
    exam = reader.exam(whole)
    parts: list[Any] = [*exam.preparations, *exam.elsewhere]
    parts += [reading for p in exam.preparations for reading in p.readings]
    parts += [mark for p in exam.preparations for reading in p.readings for mark in reading.marks]
    found = next((part for part in parts if part.code == asked), None)
    if found is None:
        text = f"What {asked} belongs to was withdrawn."
        raise BadInput(text, next=f"Type: fecallab history {whole}", code="withdrawn")
    return found


def changed(fact: Any, changes: Sequence[str]) -> Any:
    """Return a fact with fields changed as typed (``field=value``; an empty value means unknown)."""
    from fecallab.cli.exam_input import organism_name

    kinds = get_type_hints(type(fact))
    known = [
        f.name
        for f in fields(fact)
        if f.name not in (*PARTS, "code", "stages", "overrides", "verdicts")
        and not (f.name in AS_IT_CAME and type(fact).__module__.endswith("vet_words"))
    ]
    for change in changes:
        name, sign, value = change.partition("=")
        name = name.strip()
        if not sign:
            text = f"{change[:40]!r} is no change."
            raise BadInput(text, next="Type: field=value, for example mass_g=318", code="no-change")
        head, dot, organism = name.partition(".")
        if dot and head in ("counts", "unsure") and head in known:
            fact = replace(fact, **{head: _counts(getattr(fact, head), organism, value)})
            continue
        field = one_of(name, tuple(known), "the field")
        if field in ("counts", "unsure"):
            text = f"{field} needs the organism that is counted anew."
            raise BadInput(text, next=f"Type: {field}.oxyurid=0", code="organism-missing")
        if "eye_group" in kinds and field == "name":
            from fecallab.gather import group_of

            name = organism_name(value)
            fact = replace(fact, name=name, eye_group=group_of(name))
            if "word" in kinds:
                fact = replace(fact, word="other")
            continue
        if kinds.keys() >= {"x_px", "name"} and field == "name":
            fact = replace(fact, name=organism_name(value))
            continue
        fact = replace(fact, **{field: _typed(value.strip(), kinds[field], field)})
    return fact


def _counts(before: Any, organism: str, value: str) -> dict[str, int]:
    from fecallab.cli.exam_input import organism_name
    from fecallab.cli.typed import read_count

    return {**before, organism_name(organism): read_count(value, f"the count of {organism}")}


def _typed(value: str, kind: Any, field: str) -> Any:
    """Read a value by the type of its field."""
    from fecallab.cli.typed import read_count, read_number

    said = str(kind)
    if value == "" and "None" in said:
        return None
    if "bool" in said:
        return one_of(value, ("yes", "no", "true", "false"), field) in ("yes", "true")
    if "datetime" in said:
        return read_time(value, field)
    if "date" in said and kind in (date, date | None):
        return read_day(value, field)
    if "float" in said:
        return read_number(value, field)
    if "int" in said:
        return read_count(value, field)
    return value
