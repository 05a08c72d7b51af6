"""What comes next, for every animal, in order."""

from __future__ import annotations

import typer

from fecallab.cli.common import JSON, ON, RECORDS, open_folder, read_day
from fecallab.cli.output import emit


def register(app: typer.Typer) -> None:
    """Add the command ``due``."""
    app.command()(due)


def due(
    animal: str | None = typer.Argument(None, help="Name or code; all when left out."),
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """What comes next: doses, weighings, the next stool that counts, words to ask of the vet."""
    from fecallab.cli.words import table
    from fecallab.domain.due import next_for_case
    from fecallab.domain.followup import say_date
    from fecallab.gather import case_standing

    today = read_day(on, "--on", future=True)
    with open_folder(records) as store:
        wanted = store.animal(animal).code if animal else None
        files = [file for file in store.open_case_files(tallies_only=True) if wanted in (None, file.animal.code)]
    things = []
    for file in files:
        _, standing, _ = case_standing(file, today)
        gone = next((e.kind for e in file.events if e.kind in ("died", "left") and e.start <= today), "")
        things.append(next_for_case(file.animal.name, file.case.code, standing, file.plan, file.doses, gone))
    things.sort(key=lambda thing: thing.order)
    rows = [
        [
            "now" if t.on_or_after is None or t.on_or_after <= today else f"from {t.on_or_after}",
            t.animal,
            t.case,
            t.what,
        ]
        for t in things
    ]
    lines = [f"On {say_date(today)}:"]
    lines.append(table(["when", "animal", "case", "what comes next"], rows) if rows else "Nothing is open.")
    emit(
        {
            "today": today,
            "due": [
                {
                    "animal": t.animal,
                    "case": t.case,
                    "what": t.what,
                    "on_or_after": t.on_or_after,
                    "why": t.why,
                    "next": t.next,
                }
                for t in things
            ],
        },
        "\n".join(lines),
        as_json,
    )
