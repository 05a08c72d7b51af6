"""``doctor``: is everything there that fecallab needs? A table to copy into a report of a problem."""

from __future__ import annotations

import typer

from fecallab.cli.common import JSON, RECORDS
from fecallab.cli.output import emit

HEAD = "To report a problem, copy all of this; it holds no names of people, animals, computers or folders."


def register(app: typer.Typer) -> None:
    """Give the program this command."""
    app.command()(doctor)


def doctor(records: str | None = RECORDS, as_json: bool = JSON) -> None:
    """Look whether everything is there that fecallab needs; a table to copy when something does not work."""
    from fecallab.cli.doctor_checks import checks
    from fecallab.cli.doctor_found import PROBLEM
    from fecallab.cli.doctor_libraries import libraries
    from fecallab.cli.words import table

    known = libraries()
    found = checks(known, records)
    problems = [one.reason for one in found if one.state == PROBLEM and one.reason]
    notes = [one.reason for one in found if one.state != PROBLEM and one.reason]
    lines = [
        HEAD,
        "",
        table(["what", "state", "found"], [[one.name, one.state, one.found] for one in found]),
        "",
        table(
            ["library", "state", "version", "needed", "for"],
            [[one.name, one.state, one.version or "-", one.oldest or "any", one.needed_for] for one in known],
        ),
        "",
        *(f"Problem ({one.code}): {one}" for one in problems),
        *(f"To know ({one.code}): {one}" for one in notes),
    ]
    lines.append("There is something to mend." if problems else "Everything that is needed is there.")
    payload: dict[str, object] = {
        "ok": not problems,
        "checks": [
            {
                "name": one.name,
                "found": one.found,
                "state": one.state,
                **(one.reason.as_dict() if one.reason else {"code": "", "text": "", "next": ""}),
            }
            for one in found
        ],
        "libraries": [one.as_dict() for one in known],
    }
    if problems:
        payload["error"] = problems[0].as_dict()
    wrongly_named = [one for one in problems if one.code == "no-record-folder"]
    if wrongly_named:
        payload = {"error": wrongly_named[0].as_dict()}
    emit(payload, "\n".join(lines), as_json)
    if problems:
        raise typer.Exit(2 if wrongly_named else 3)
