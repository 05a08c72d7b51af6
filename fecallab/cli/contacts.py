"""``fecallab contacts``: whom an animal has met, where and when, link by link."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

import typer

from fecallab.cli.common import JSON, ON, RECORDS, open_folder, read_day
from fecallab.cli.output import emit
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from fecallab.domain.quarantine import ContactFound

MOST_LINES = 60


def register(app: typer.Typer) -> None:
    """Add the command ``contacts``."""
    app.command()(contacts)


def contacts(
    animal: str = typer.Argument(help="Name or code of an animal, tub or pen."),
    target: str = typer.Option(
        "", help="Only contacts by which this group of parasites spreads; it tells who needs an exam."
    ),
    since: str | None = typer.Option(None, "--since", help="Only contacts from this day on."),
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Whom an animal has met, directly or through others, with the path in words."""
    from fecallab.cli.exam_input import organism_name
    from fecallab.domain.contacts import ALWAYS
    from fecallab.domain.quarantine import contacts_of_positive
    from fecallab.domain.quarantine_exposure import Situation
    from fecallab.gather import group_of
    from fecallab.gather_arrivals import contact_situation, known_host
    from fecallab.reference.quarantine import spread_for

    day = read_day(on, "--on")
    first = read_day(since, "--since") if since else ALWAYS
    with open_folder(records) as store, store.at_one_moment() as reader:
        owner = reader.animal(animal)
        present = contact_situation(reader, day)
    if target:
        spread = spread_for(group_of(organism_name(target)), known_host(owner.host_group))
        since_when = {(owner.code, spread.group): first} if since else {}
        situation = Situation(replace(present.facts, infected_since=since_when), day)
        rows = [_row(one) for one in contacts_of_positive(owner.code, spread.group, situation)]
    else:
        spread = None
        reached = present.graph.reached({owner.code: first}, until=day)
        met = sorted(reached.values(), key=lambda one: (one.first_day, present.name_of(one.animal)))
        rows = [
            _Row(one.animal, present.name_of(one.animal), one.first_day, present.graph.say_path(one))
            for one in met
            if one.animal not in present.gone
        ]
    group = present.graph.groups_on(day, [owner.code])
    now_with = next(([a for a in one if a != owner.code] for one in group if owner.code in one), [])
    with_now = f"with {', '.join(map(present.name_of, now_with[:20]))}" if now_with else "alone"
    lines = [f"{owner.code} {owner.name}, on {say_date(day)}: {with_now} in its contact group."]
    lines += [f"Spread of {spread.group}: {spread.words}"] if spread else []
    if not rows:
        lines.append("Nobody else is recorded to have met it.")
    for one in rows[:MOST_LINES]:
        lines.append(f"  {one.name}, {_first(one.first_day)}: {one.path}.{one.exam_words}")
    if len(rows) > MOST_LINES:
        lines.append(f"  ... and {len(rows) - MOST_LINES} more; --json lists all.")
    payload = {
        "animal": owner.code,
        "today": day,
        "target": spread.group if spread else None,
        "contact_group": [owner.code, *now_with],
        "met": [
            {
                "animal": one.animal,
                "name": one.name,
                "first_day": None if one.first_day == ALWAYS else one.first_day,
                "path": one.path,
                "contact_lasts": one.lasts,
                "exam_from": one.exam_from,
            }
            for one in rows
        ],
    }
    emit(payload, "\n".join(lines), as_json)


@dataclass(frozen=True)
class _Row:
    """Somebody who was met."""

    animal: str
    name: str
    first_day: date
    path: str
    lasts: bool | None = None
    exam_from: date | None = None
    exam_words: str = ""


def _row(one: ContactFound) -> _Row:
    if one.lasts:
        words = " The contact lasts: part them first, then examine."
    elif one.exam_from is not None:
        words = f" A clean exam means something from {say_date(one.exam_from)} on."
    else:
        words = " From when on a clean exam means something is not known: ask the vet."
    return _Row(one.animal, one.name, one.first_day, one.path, one.lasts, one.exam_from, words)


def _first(day: date) -> str:
    from fecallab.domain.contacts import ALWAYS

    return "since before the records" if day == ALWAYS else f"from {say_date(day)}"
