"""What the journal of a tally holds: a file that is only ever appended to, one line per key.

A file ``drafts/tally-….jsonl`` in the record folder. Its first line says what is counted; every further line
is one act, an undo or a redo. Nothing here knows the records.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from fecallab.domain.errors import BadInput, CouldNot, FecallabError
from fecallab.domain.field import FIELD_NUMBER_RANGE_MM
from fecallab.domain.spoken import say_time
from fecallab.domain.tally import Act, new_tally
from fecallab.domain.tally_course import Course
from fecallab.records.drafts import DRAFTS
from fecallab.records.journal import whole_lines

EYEPIECE = "eyepiece.json"
WHAT, VERSION = "fecallab tally", 1
UNDO, REDO, RECORDING, SHIFT_KEYS = "undo", "redo", "recording", "shift-keys"
"""Lines that are no acts of the tally: moves between them, what is about to be recorded, a learned keyboard."""


@dataclass(frozen=True)
class Draft:
    """What a journal holds.

    Attributes
    ----------
    path : Path
        The file.
    head : mapping
        Its first line: ``of`` (code of the preparation or sample), ``began``, ``by`` and what was answered.
    course : Course
        The counting, played again.
    recording : mapping or None
        Written just before the readings were recorded; whether they are in the records must be looked up.
    shift_keys : str
        What Shift and 1 to 9 type on this keyboard, if that was learned.
    good_bytes : int
        Length of what can be read; a line that was cut short by a crash lies behind it.
    """

    path: Path
    head: Mapping[str, Any]
    course: Course
    recording: Mapping[str, Any] | None = None
    shift_keys: str = ""
    good_bytes: int = 0

    @property
    def says(self) -> str:
        """One line for a list."""
        tally = self.course.now
        done = len(tally.done)
        return (
            f"{self.head['of']} ({self.head.get('animal', '')}), begun {say_time(datetime.fromisoformat(self.head['began']))}: "
            f"{done} {tally.unit}{'' if done == 1 else 's'} finished, {tally.total()} counted"
        )


def drafts_in(folder: Path) -> list[Draft]:
    """Return every tally that waits in a record folder, oldest first; files that are none are passed over."""
    found: list[Draft] = []
    for path in sorted((folder / DRAFTS).glob("tally-*.jsonl")):
        with suppress(FecallabError):
            found.append(read_draft(path))
    return sorted(found, key=lambda draft: (str(draft.head["began"]), len(draft.path.name)))


def read_draft(path: Path) -> Draft:
    """Read a journal and play it again.

    A last line that was cut short is left out: its key was never answered with a sound. Nothing else may be
    unreadable.

    Raises
    ------
    BadInput
        When the file is no journal of a tally.
    CouldNot
        When it cannot be read, is damaged in the middle, or is of a newer fecallab.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        raise CouldNot(
            f"{path} cannot be read: {error.strerror or error}.",
            next="Check the permissions of the folder.",
            code="journal-not-read",
        ) from error
    lines, good = _lines(path, content)
    if not lines or lines[0].get("what") != WHAT:
        raise BadInput(f"{path} is no tally.", next="Type: fecallab exam tally --resume", code="no-tally")
    head = lines[0]
    if head.get("version") != VERSION:
        text = f"{path} was written by a newer fecallab (version {head.get('version')})."
        raise CouldNot(text, next="Install the newer fecallab and repeat.", code="newer-journal")
    try:
        start = new_tally(
            head["objective"], head["field_number"], head["first"], head["second"], chamber=head["chamber"]
        )
        return _played(path, head, Course(start), lines[1:], good)
    except (KeyError, TypeError, ValueError, BadInput) as error:
        raise _damaged(path, str(error)) from error


def _played(
    path: Path, head: Mapping[str, Any], course: Course, lines: list[dict[str, Any]], good: int
) -> Draft:
    recording: Mapping[str, Any] | None = None
    shift_keys = ""
    for line in lines:
        kind = line["act"]
        if kind == UNDO:
            course = course.undo()
        elif kind == REDO:
            course = course.redo()
        elif kind == RECORDING:
            recording = line
        elif kind == SHIFT_KEYS:
            shift_keys = str(line["keys"])
        else:
            act = Act(kind, line.get("name", ""), line.get("sure", True), line.get("value"))
            course = course.do(act)
    return Draft(path, head, course, recording, shift_keys, good)


def _lines(path: Path, content: bytes) -> tuple[list[dict[str, Any]], int]:
    """Return the whole lines and where they end; what is cut short may only stand at the end."""
    found, good, broken = whole_lines(content)
    if broken:
        raise _damaged(path, f"line {len(found) + 1} cannot be read")
    return found, good


def _damaged(path: Path, what: str) -> CouldNot:
    return CouldNot(
        f"The tally {path} is damaged: {what}.",
        next="It is a text file with one key a line: look into it, and type the counts with exam add.",
        code="journal-damaged",
    )


def remembered_eyepiece(folder: Path) -> float | None:
    """Return the field number (mm) that was given last in this record folder, or None."""
    try:
        number = float(json.loads((folder / DRAFTS / EYEPIECE).read_text("utf-8"))["field_number"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return number if FIELD_NUMBER_RANGE_MM[0] <= number <= FIELD_NUMBER_RANGE_MM[1] else None


def remember_eyepiece(folder: Path, field_number: float) -> None:
    """Remember the field number (mm) for the next tally; when that fails it is asked again."""
    with suppress(OSError):
        (folder / DRAFTS).mkdir(exist_ok=True)
        text = json.dumps({"field_number": field_number})
        (folder / DRAFTS / EYEPIECE).write_text(text + "\n", encoding="utf-8")
