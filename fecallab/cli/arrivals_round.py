"""``fecallab arrivals round``: whose stool counts today, room by room; and starting an exam from a scanned code."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import BY, JSON, RECORDS, fact_dict, now, one_of, open_folder, read_day, who
from fecallab.cli.output import emit
from fecallab.domain.exam import method_words
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.quarantine_exposure import Situation
    from fecallab.report.round_sheet import RoundStop

NO_ROOM = "no room said"


def register(app: typer.Typer) -> None:
    """Add the commands ``round`` and ``begin``."""
    app.command(name="round")(sampling_round)
    app.command()(begin)


def sampling_round(
    arrival: str | None = typer.Argument(None, help="Only this arrival; all when left out."),
    room: str = typer.Option("", help="Only this room."),
    ahead_days: int = typer.Option(0, help="Stools that count from so many days ahead on."),
    labels: Path | None = typer.Option(None, help="Write labels for the cups, labels.pdf."),
    sheet: Path | None = typer.Option(
        None, help="Write the round as a sheet to fill in by pencil, round.pdf."
    ),
    tables: Path | None = typer.Option(
        None, help="Write samples.csv and readings.csv into this folder, to be filled in and taken in."
    ),
    paper: str = typer.Option("a4", help="a4 or letter."),
    on: str | None = typer.Option(None, "--on", help="For this day, 2026-03-04 (today when left out)."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Samples to take today, room by room, from arrivals whose next stool counts."""
    from fecallab.cli.common import number_or_none
    from fecallab.gather_arrivals import situation_of
    from fecallab.records.folder import read_marker
    from fecallab.report.sheet_model import PAPERS

    day = read_day(on, "--on", future=True)
    size = one_of(paper, tuple(PAPERS), "--paper")
    number_or_none(str(ahead_days), "--ahead-days", low=0, high=365)
    with open_folder(records) as store, store.at_one_moment() as reader:
        code = reader.arrival(arrival).code if arrival else ""
        situation = situation_of(reader, day)
        collection = read_marker(store.folder).collection
    stops = stops_of(situation, collection, arrival=code, room=room, ahead_days=ahead_days)
    if room and not stops and not _is_room(situation, room):
        from fecallab.domain.errors import BadInput

        text = f"No enclosure stands in a room called {room.strip()!r}."
        raise BadInput(text, next="See the rooms: fecallab enclosure list", code="unknown-room")
    lines = _lines(stops, day, situation, code)
    written: dict[str, Any] = {}
    if stops:
        written = _write(stops, day, size, labels, sheet, tables)
        lines += [f"Written: {path}" for path in written.values()]
    payload = {"today": day, "samples": [_stop_dict(stop) for stop in stops], **written}
    emit(payload, "\n".join(lines), as_json)


def _is_room(situation: Situation, room: str) -> bool:
    asked = room.strip().casefold()
    return any(place.room.casefold() == asked for place in situation.facts.housing.enclosures)


def stops_of(
    situation: Situation, collection: str, *, arrival: str = "", room: str = "", ahead_days: int = 0
) -> list[RoundStop]:
    """Return whose stool counts by a day, in the order of rooms and enclosures."""
    from datetime import timedelta

    from fecallab.cli.enclosure import natural
    from fecallab.domain.quarantine_run import member_run
    from fecallab.report.labels import label_content
    from fecallab.report.round_sheet import RoundStop

    last = situation.today + timedelta(days=ahead_days)
    housing = situation.facts.housing
    places = {place.code: place for place in housing.enclosures}
    homes = {
        stay.animal: places.get(stay.enclosure)
        for stay in housing.stays
        if not stay.visit and stay.holds_on(situation.today)
    }
    found = []
    for animal in situation.quarantined:
        if arrival and situation.arrival_of[animal] != arrival:
            continue
        home = homes.get(animal)
        if room and (home is None or home.room.casefold() != room.strip().casefold()):
            continue
        member = member_run(animal, situation)
        since = member.next_sample_on_or_after
        if since is None or since > last:
            continue
        protocol = situation.protocol_of(animal)
        found.append(
            RoundStop(
                room=home.room if home else "",
                enclosure=home.name if home else "",
                animal=member.name,
                code=animal,
                number=member.number,
                exams=f"{member.k} of {member.n}",
                preparations=tuple(
                    method_words(word) for word in (protocol.preparations if protocol else ())
                ),
                content=label_content(collection, animal),
                since=since,
            )
        )
    return sorted(
        found,
        key=lambda stop: (not stop.room, natural(stop.room), natural(stop.enclosure), natural(stop.animal)),
    )


def _lines(stops: Sequence[RoundStop], day: date, situation: Situation, arrival: str) -> list[str]:
    from fecallab.cli.words import table

    if not stops:
        waiting = _next_day(situation, arrival)
        later = f" The next counts from {say_date(waiting)} on." if waiting else ""
        return [f"No sample of an arrival counts on {say_date(day)}.{later}"]
    lines = [f"Samples to take on {say_date(day)}: {len(stops)}."]
    for room in dict.fromkeys(stop.room for stop in stops):
        here = [stop for stop in stops if stop.room == room]
        rows = [
            [
                stop.enclosure or "-",
                f"{stop.animal}{f' ({stop.number})' if stop.number != 1 else ''}",
                stop.code,
                f"{stop.exams} exams",
                f"since {say_date(stop.since)}",
            ]
            for stop in here
        ]
        lines.append(f"{room or NO_ROOM}: {len(here)}")
        lines += [f"  {line}" for line in table([""] * len(rows[0]), rows).splitlines()[1:]]
    for needed in dict.fromkeys(stop.preparations for stop in stops if stop.preparations):
        whose = [stop.animal for stop in stops if stop.preparations == needed]
        who_of = "each" if len(whose) == len(stops) else ", ".join(whose)
        lines.append(f"Preparations of {who_of}: {' and '.join(needed)}.")
    lines.append("Scan or type a code to start: fecallab arrivals begin CODE")
    return lines


def _next_day(situation: Situation, arrival: str) -> date | None:
    from fecallab.domain.quarantine_run import member_run

    mine = [a for a in situation.quarantined if not arrival or situation.arrival_of[a] == arrival]
    days = [member_run(animal, situation).next_sample_on_or_after for animal in mine]
    return min((day for day in days if day is not None), default=None)


def _stop_dict(stop: RoundStop) -> dict[str, Any]:
    return {
        "room": stop.room,
        "enclosure": stop.enclosure,
        "animal": stop.animal,
        "code": stop.code,
        "number": stop.number,
        "clean_exams": stop.exams,
        "counts_from": stop.since,
        "preparations": list(stop.preparations),
        "label": stop.content,
    }


def _write(
    stops: Sequence[RoundStop],
    day: date,
    paper: str,
    labels: Path | None,
    sheet: Path | None,
    tables: Path | None,
) -> dict[str, Any]:
    """Write what was asked for: labels, the sheet, tables to fill in."""
    from fecallab import __version__
    from fecallab.report.sheet_files import write_sheet

    written: dict[str, Any] = {}
    if labels is not None:
        from fecallab.report.labels import draw_labels, grid_from
        from fecallab.report.sheet_model import Label

        made = [Label(animal=one.animal, animal_code=one.code, content=one.content) for one in stops]
        written["labels"] = str(write_sheet(draw_labels(made, grid_from(paper), day), labels).resolve())
    if sheet is not None:
        from fecallab.report.round_sheet import draw_round

        written["sheet"] = str(write_sheet(draw_round(stops, day, paper, __version__), sheet).resolve())
    if tables is not None:
        written["samples_table"], written["readings_table"] = _tables(stops, tables)
    return written


def _tables(stops: Sequence[RoundStop], folder: Path) -> tuple[str, str]:
    """Write the two tables of a round, with all that is known before it; they are taken in together."""
    import csv
    import io

    from fecallab.cli.batch_tables import table_of
    from fecallab.cli.batch_text import guarded
    from fecallab.report.sheet_files import write_bytes

    samples = [
        "label",
        "animal",
        "passed_from",
        "passed_to",
        "form",
        "kept",
        "mass_g",
        "whole_stool",
        "stools_of",
    ]
    readings = ["sample", "preparation", "method", "reading", "read_at", "room_c", "solution"]
    readings += ["specific_gravity", "gravity_checked", "standing_minutes", "objective", "cover_share"]
    readings += ["organism", "count"]
    known: dict[str, list[dict[str, str]]] = {"samples": [], "readings": []}
    for stop in stops:
        known["samples"].append({"label": f"round {stop.code}", "animal": stop.animal})
        for number, method in enumerate(stop.preparations or ("",), start=1):
            powers = ("10", "40") if "flotation" in method else ("40",)
            for place, power in enumerate(powers, start=1):
                known["readings"].append(
                    {
                        "sample": f"round {stop.code}",
                        "preparation": f"{number}",
                        "method": method.replace(" ", "_"),
                        "reading": f"{place}",
                        "objective": power,
                    }
                )
    paths = []
    for key, fields in (("samples", samples), ("readings", readings)):
        columns = [table_of(key).by_key[field] for field in fields]
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\r\n")
        writer.writerow([column.title for column in columns])
        writer.writerows([[guarded(line.get(field, "")) for field in fields] for line in known[key]])
        path = write_bytes(folder / f"{key}.csv", out.getvalue().encode("utf-8"), "table")
        paths.append(str(path.resolve()))
    return paths[0], paths[1]


def begin(
    code: str = typer.Argument(help="Code of a sample or an animal, typed or as a scanner read it."),
    passed_from: str | None = typer.Option(None, help='Passed not before, "2026-03-04 06:00" or 06:00.'),
    passed_to: str | None = typer.Option(None, help="Passed not after; the time it was found."),
    form: str | None = typer.Option(None, help="formed, soft or liquid."),
    kept: str | None = typer.Option(None, help="room, fridge, frozen or fixed."),
    mass_g: str | None = typer.Option(None, help="Mass of the sample in g."),
    stools_of: int | None = typer.Option(None, help="Of a tub: of how many of its animals stool is in it."),
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Start an exam from a label: the sample of an animal's code is recorded, a sample's code is found again."""
    from fecallab.cli.common import number_or_none
    from fecallab.cli.sample import check_stools_of, checked_times
    from fecallab.domain.errors import BadInput
    from fecallab.domain.sample import FORMS, KEPT, Sample
    from fecallab.records.rows import SAMPLE, kind_of_code

    asked = code.strip()
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        given = (passed_from, passed_to, form, kept, mass_g, stools_of)
        if kind_of_code(asked.upper()) is SAMPLE:
            if any(value is not None for value in given):
                text = f"{asked.upper()} is recorded already."
                step = f"Mend it: fecallab correct {asked.upper()} form=soft --reason …"
                raise BadInput(text, next=step, code="already-recorded")
            sample, new = writer.sample(asked), False
            owner = writer.animal(sample.animal)
        else:
            owner = writer.animal(asked)
            first, last, picked = checked_times(passed_from, passed_to, None)
            changes = writer.count_changes(owner.code)
            check_stools_of(stools_of, owner, changes, (first or picked).date())
            new = True
            sample = writer.add(
                Sample(
                    animal=owner.code,
                    passed_from=first,
                    passed_to=last,
                    collected_at=picked,
                    form=one_of(form, FORMS, "--form") if form else None,
                    kept=one_of(kept, KEPT, "--kept") if kept else None,
                    mass_g=number_or_none(mass_g, "--mass-g", low=0.001, high=10_000),
                    stools_of=stools_of,
                )
            )
        done = [one.code for one in writer.exams(owner.code) if one.sample == sample.code]
    said = f"{sample.code}: {sample.origin} of {owner.name}"
    said += ", recorded now." if new else f", recorded before; exams: {', '.join(done) or 'none yet'}."
    step = f"fecallab exam tally {sample.code}"
    text = f"{said}\n  Count by keys: {step}\n  Or type it: fecallab exam add {sample.code} --method ..."
    emit({"sample": fact_dict(sample), "new": new, "exams": done, "next": step}, text, as_json)
