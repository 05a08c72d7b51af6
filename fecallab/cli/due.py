"""What comes next, for every animal, in order; as text, by place, or for a phone's calendar."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from fecallab.cli.common import JSON, ON, RECORDS, now, open_folder, read_day
from fecallab.cli.output import emit, say
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.due import Due
    from fecallab.gather_arrivals_due import ArrivalDue
    from fecallab.records.reader import Reader

NO_PLACE = "no place said"


def register(app: typer.Typer) -> None:
    """Add the command ``due``."""
    app.command()(due)


def due(
    animal: str | None = typer.Argument(None, help="Name or code; all when left out."),
    by_place: bool = typer.Option(False, "--by-place", help="In the order of the round, place by place."),
    ics: Path | None = typer.Option(
        None, "--ics", help="Write it as reminders for a phone's calendar too, due.ics."
    ),
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """What comes next: doses, weighings, the next stool that counts, words to ask of the vet."""
    from dataclasses import asdict

    from fecallab.domain.control_note import doubt
    from fecallab.gather_arrivals_due import arrivals_due
    from fecallab.gather_doubt import CLOSE
    from fecallab.gather_notes import sign_dict, signs_today
    from fecallab.records.backup import last_backup

    today = read_day(on, "--on", future=True)
    with open_folder(records) as store:
        things, places = things_due(store, today, animal)
        groups = arrivals_due(store, today, store.animal(animal).code if animal else "")
        signs = signs_today(store, today, animal)
        folder = store.folder
    lines = [f"On {say_date(today)}:", *(f"! {owner.name}: {one.line}" for owner, one in signs)]
    lines += _lines(things, places, today, by_place, nothing=not groups)
    lines += [f"! {t.case}: {doubt(t.counted_not_proven, CLOSE)}" for t in things if t.counted_not_proven]
    lines += _group_lines(groups, today)
    saved = last_backup(folder, today)
    found = [
        {
            "animal": t.animal,
            "place": places[t.case],
            "case": t.case,
            "what": t.what,
            "on_or_after": t.on_or_after,
            "why": t.why,
            "next": t.next,
            "counted_not_proven": t.counted_not_proven,
        }
        for t in things
    ]
    payload = {
        "today": today,
        "to_the_vet": [{"animal": owner.name, **sign_dict(one)} for owner, one in signs],
        "due": found,
        "arrivals": [asdict(one) for one in groups],
        "backup": saved.as_dict(),
    }
    if ics is not None:
        from fecallab.records.folder import read_marker
        from fecallab.report.calendar import calendar_text
        from fecallab.report.sheet_files import write_bytes

        reminders, where = [*things, *map(_as_due, groups)], places | {_key(one): one.place for one in groups}
        text = calendar_text(reminders, where, today, now(), read_marker(folder).collection)
        written = write_bytes(ics, text.encode("utf-8"), "calendar").resolve()
        payload["calendar"] = str(written)
        lines.append(
            f"Written: {written}  (open it on the phone; taking it in again replaces the old reminders)"
        )
    emit(payload, "\n".join(lines), as_json)
    if saved.line and not as_json:
        say(saved.line)


def _key(one: ArrivalDue) -> str:
    return f"{one.arrival}-{one.animals[0]}"


def _as_due(one: ArrivalDue) -> Due:
    """Return what comes next for a contact group as a reminder."""
    from fecallab.domain.due import Due

    more = f" and {len(one.names) - 3} more" if len(one.names) > 3 else ""
    return Due(", ".join(one.names[:3]) + more, _key(one), one.what, one.on_or_after, one.why, one.next)


def things_due(store: Reader, today: date, animal: str | None = None) -> tuple[list[Due], dict[str, str]]:
    """Return what comes next, in order, and the place of every case that is open."""
    from fecallab.domain.due import next_for_case
    from fecallab.gather import case_standing
    from fecallab.gather_doubt import after_doubt, failed_controls
    from fecallab.gather_notes import after_stop
    from fecallab.gather_vet import after_words

    wanted = store.animal(animal).code if animal else None
    files = [
        file
        for file in store.open_case_files(tallies_only=True, of_case_only=True)
        if wanted in (None, file.animal.code)
    ]
    controls = failed_controls(store, today)
    things = []
    for file in files:
        judged, standing, _ = case_standing(file, today, earlier=False)
        gone = next((e.kind for e in file.events if e.kind in ("died", "left") and e.start <= today), "")
        thing = next_for_case(file.animal.name, file.case.code, standing, file.plan, file.doses, gone)
        if not gone:
            thing = after_stop(after_words(thing, file), file, standing, today)
            thing = after_doubt(thing, controls, judged, standing)
        things.append(thing)
    things.sort(key=lambda thing: thing.order)
    return things, {file.case.code: file.animal.enclosure for file in files}


MOST_GROUPS = 40
"""How many contact groups are listed for a person; ``--json`` has all."""


def _when(day: date | None, today: date) -> str:
    return "now" if day is None or day <= today else f"from {say_date(day)}"


def _group_lines(groups: list[ArrivalDue], today: date) -> list[str]:
    """Return what comes next for the contact groups of arrivals."""
    from fecallab.cli.words import table

    rows = []
    for one in groups[:MOST_GROUPS]:
        names = ", ".join(one.names[:4]) + (f" and {len(one.names) - 4} more" if len(one.names) > 4 else "")
        rows.append([_when(one.on_or_after, today), one.arrival, names, one.place or NO_PLACE, one.what])
    if not rows:
        return []
    lines = [
        "Arrivals, by contact group:",
        table(["when", "arrival", "who", "room", "what comes next"], rows),
    ]
    if len(groups) > MOST_GROUPS:
        lines.append(f"... and {len(groups) - MOST_GROUPS} more; --json lists all.")
    return lines


def _lines(
    things: list[Due], places: dict[str, str], today: date, by_place: bool, *, nothing: bool = True
) -> list[str]:
    from fecallab.cli.words import table

    if not things:
        return ["Nothing is open."] if nothing else []

    def row(thing: Due) -> list[str]:
        return [_when(thing.on_or_after, today), thing.animal, thing.case, thing.what]

    if not by_place:
        return [table(["when", "animal", "case", "what comes next"], [row(thing) for thing in things])]
    lines = []
    for place in sorted({places[t.case] for t in things}, key=lambda one: (not one, one.casefold())):
        here = [row(thing) for thing in things if places[thing.case] == place]
        lines += [
            place or NO_PLACE,
            *(f"  {line}".rstrip() for line in table(["", "", "", ""], here).splitlines()[1:]),
        ]
    return lines
