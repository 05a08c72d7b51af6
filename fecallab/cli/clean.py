"""Cleaning: what kills what, and when which enclosure was cleaned."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

import typer

from fecallab.cli.common import BY, JSON, RECORDS, REMARK, fact_dict, now, open_folder, read_time, who
from fecallab.cli.output import emit
from fecallab.domain.spoken import say_date, say_time

if TYPE_CHECKING:
    from fecallab.records.reader import Reader

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)


@app.command()
def advice(
    target: str = typer.Argument(help="A group that the eye can tell: coccidian, oxyurid …"),
    as_json: bool = JSON,
) -> None:
    """Say how to clean for a target: what kills it, how long it lives outside, and what to mind."""
    from fecallab.cli.exam_input import organism_name
    from fecallab.gather import group_of
    from fecallab.reference.cleaning import cleaning_advice

    found = cleaning_advice(group_of(organism_name(target)))
    payload = {
        "target": found.target,
        "own": asdict(found.own) if found.own else None,
        "general": asdict(found.general),
    }
    emit(payload, "\n".join(found.lines), as_json)


@app.command()
def log(
    enclosure: str = typer.Argument(help="Where, as the animals that live there name it."),
    at: str | None = typer.Option(None, help='When, "2026-03-04 08:30" (now when left out).'),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Write down that an enclosure was cleaned."""
    from fecallab.domain.animal import CareEntry
    from fecallab.domain.cleaning import cleanings

    moment = read_time(at, "--at")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        spelled = known_enclosures(writer, enclosure)
        before = [day for day in cleanings(writer.care_of_enclosure(enclosure)) if day < moment.date()]
        entries = [
            writer.add(CareEntry(enclosure=name, at=moment, kind="cleaning", remark=remark))
            for name in spelled
        ]
        living = [a.name for a in writer.animals() if a.enclosure in spelled]
    text = f"{spelled[0]}: cleaned, {say_time(moment)}. Recorded for {', '.join(living)}."
    if before:
        text += f"\n  Before: {say_date(before[-1])}."
    payload = {
        "care": fact_dict(entries[0]),
        "animals": living,
        "cleaned_before_on": before[-1] if before else None,
    }
    emit(payload, text, as_json)


def known_enclosures(reader: Reader, enclosure: str) -> list[str]:
    """Return an enclosure as its animals spell it; mostly one, more where they are spelled differently.

    Raises
    ------
    BadInput
        When no animal lives there; the names that are near are given.
    """
    from fecallab.domain.errors import BadInput
    from fecallab.domain.near_spelling import near_spellings

    def plain(name: str) -> str:
        return " ".join(name.casefold().split())

    names = list(dict.fromkeys(a.enclosure for a in reader.animals() if a.enclosure))
    same = [name for name in names if plain(name) == plain(enclosure)]
    if same and plain(enclosure):
        return same
    near = near_spellings(plain(enclosure), [plain(name) for name in names], 2)
    meant = [name for name in names if plain(name) in near]
    step = f"Did you mean {' or '.join(map(repr, meant))}?" if meant else "Type: fecallab animal list"
    raise BadInput(f"No animal here lives in {enclosure[:60]!r}.", next=step, code="enclosure-unknown")
