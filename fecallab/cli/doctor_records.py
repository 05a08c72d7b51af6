"""What ``fecallab doctor`` sees of the record folder: whether it opens, its schema, its ledger, its last backup."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

from fecallab.cli.doctor_found import NOTE, Check, note, problem
from fecallab.domain.errors import FecallabError, Reason


def look_at_records(named: str | None) -> tuple[Path | None, datetime | None, list[Check]]:
    """Return the record folder, when something was last recorded, and what was seen there."""
    from fecallab.records.folder import find_folder

    try:
        folder = find_folder(named)
    except FecallabError as error:
        reason = Reason(error.reason.code, _without_names(error.reason.text), error.reason.next)
        if reason.code == "no-record-folder" and named is None and not os.environ.get("FECALLAB_RECORDS"):
            return None, None, [Check("record folder", "none here", NOTE, reason)]
        reason = Reason(reason.code, "The record folder that was named cannot be used.", _STEPS[reason.code])
        return None, None, [problem("record folder", "cannot be used", reason)]
    return _looked_into(folder)


_STEPS = {
    "no-record-folder": "Check --records and FECALLAB_RECORDS, or type: fecallab records make FOLDER",
    "not-readable": "Check the permissions of the folder.",
    "marker-damaged": "Type: fecallab records make FOLDER  (it writes only the marker anew)",
    "newer-records": "Install the newer fecallab and repeat.",
}


def _looked_into(folder: Path) -> tuple[Path, datetime | None, list[Check]]:
    from fecallab.records.backup import last_backup
    from fecallab.records.quick_look import quick_look

    look = quick_look(folder)
    place = "records on a server (PostgreSQL)" if look.on_server else "records in it (SQLite)"
    found = [Check("record folder", f"{place}; {'may be written' if look.writable else 'read only'}")]
    if not look.writable:
        text = "Nothing can be recorded: the record folder may not be written."
        step = "Check its permissions, or copy it to a disk that can be written."
        found = [problem("record folder", found[0].found, Reason("not-writable", text, step))]
    if look.trouble is not None:
        said = look.trouble.text
        if look.on_server:
            said = said.partition(" (")[
                0
            ]  # what a server says of itself names it, its database and the person
        trouble = Reason(look.trouble.code, _without_names(said), look.trouble.next)
        return folder, None, [*found, problem("records", "cannot be opened", trouble)]
    if look.revision != look.newest:
        found.append(
            note(
                "schema",
                f"{look.revision}, newest {look.newest}",
                Reason(
                    "older-schema",
                    "The records are of an older fecallab.",
                    "The next command that opens them brings them up to date; back them up first.",
                ),
            )
        )
    else:
        found.append(Check("schema", look.revision))
    if look.follows is False:
        text = "The last line of the ledger does not follow from the one before: it was altered."
        reason = Reason("ledger-broken", text, "Type: fecallab records check")
        found.append(problem("ledger", f"line {look.line} does not fit", reason))
    elif look.follows:
        found.append(Check("ledger", f"{look.line} lines; the last one fits (all: fecallab records check)"))
    saved = last_backup(folder, datetime.now().date())
    days = saved.days_ago
    said = "never" if days is None else "today" if days == 0 else f"{days} day{'' if days == 1 else 's'} ago"
    if saved.line:
        step = "Type: fecallab records backup FOLDER_ON_ANOTHER_DISK"
        found.append(
            note(
                "last backup", said, Reason("backup-old", "A disk that fails takes everything with it.", step)
            )
        )
    else:
        found.append(Check("last backup", said))
    return folder, look.last_recorded, found


def _without_names(text: str) -> str:
    """Return a text without this person's folders: a report of a problem is read by others."""
    for private in (str(Path.cwd()), str(Path("~").expanduser())):
        if len(private) > 1:
            text = text.replace(private, "FOLDER")
    return text
