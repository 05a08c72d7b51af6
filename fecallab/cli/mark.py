"""``mark``: the marking window on an exam, or what its draft holds without one."""

from __future__ import annotations

import importlib
import importlib.util
from pathlib import Path
from typing import Any

import typer

from fecallab.cli.common import BY, JSON, RECORDS, who
from fecallab.cli.output import emit
from fecallab.domain.errors import BadInput, CouldNot

INSTALL = 'pip install "fecallab[napari]"'


def register(app: typer.Typer) -> None:
    """Give the program this command."""
    app.command()(mark)


def mark(
    exam: str = typer.Argument(help="Code of the exam, E1."),
    watch: Path | None = typer.Option(
        None, help="A folder that the camera's program saves into: new pictures come in as fields."
    ),
    read: bool = typer.Option(False, "--read", help="Only tell what is marked so far; no window is opened."),
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Mark an exam in a window: fields, marks, measures; everything is saved while you work."""
    from fecallab.records.folder import find_folder

    folder = find_folder(records)
    code = exam.strip().upper()
    if read:
        if watch is not None:
            text = "--watch and --read do not go together."
            raise BadInput(text, next="Leave one of them out.", code="watch-and-read")
        emit(*_told(folder, code, who(by)), as_json)
        return
    if watch is not None and not watch.is_dir():
        raise BadInput(f"There is no folder {watch}.", next="Check the name.", code="no-folder")
    if any(importlib.util.find_spec(name) is None for name in ("napari", "qtpy")):
        with _part("session").MarkingSession(folder, code, who(by), read_only=True):
            pass  # no such exam: said first
        raise CouldNot(
            "The marking window needs napari, which is not installed here.",
            next=f"Type: {INSTALL}   (without a window: fecallab mark {code} --read)",
            code="napari-missing",
        )
    _part("window").open_window(folder, code, who(by), watch)
    emit(*_told(folder, code, who(by)), as_json)


def _part(name: str) -> Any:
    """Return a module of the marking window; nothing here knows it by import."""
    return importlib.import_module(f"napari_fecallab.{name}")


def _told(folder: Path, exam: str, by: str) -> tuple[dict[str, Any], str]:
    """Return what the session holds as plain keys and as text."""
    with _part("session").MarkingSession(folder, exam, by, read_only=True) as session:
        state: dict[str, Any] = session.state()
        lines = [*session.notices, *(view.line for view in session.fields()), *session.summary().lines]
    burden = state["burden"]
    for row in burden["rows"]:
        mean = f", mean {row['mean_per_field']} fields ({row['interval']})" if row["mean_per_field"] else ""
        graded = f", {row['grade']} (scale: {row['scale']})" if row["grade"] else ""
        lines.append(
            f"{row['target']}, {row['preparation']} at {row['objective']}: {row['total']} seen{mean}{graded}"
        )
    lines += [
        f"{one['target']} {one['stage']}: {one['says']}; {one['missing']}" for one in burden["adequacy"]
    ]
    lines += burden["notes"]
    return state, "\n".join(lines)
