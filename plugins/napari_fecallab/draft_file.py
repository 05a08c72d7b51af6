"""The journal of a marking session as it lies in ``drafts/marking-E1.jsonl`` of the record folder.

The first line says whose it is. A ``base`` line holds the exam as it was recorded and what had not been recorded
yet; every further line is a step, an undo, a redo, a note, or says that the whole is about to be recorded.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fecallab.domain.errors import CouldNot
from fecallab.records.drafts import DRAFTS
from fecallab.records.journal import whole_lines
from napari_fecallab.history import BASE, NOTE, RECORDING, REDO, STEP, UNDO, History
from napari_fecallab.state import Change, Step, as_json, from_json

WHAT, VERSION = "fecallab marking", 1


@dataclass(frozen=True)
class Kept:
    """What a journal holds.

    Attributes
    ----------
    head : mapping
        Its first line; empty when the file is.
    history : History or None
        The draft, played again; None when nothing was done yet.
    recording : mapping or None
        Written just before the draft was recorded; whether it is in the records must be looked up.
    field : str
        The field in which something was done last.
    good_bytes : int
        Length of what can be read; what a crash cut short lies behind it.
    """

    head: Mapping[str, Any]
    history: History | None
    recording: Mapping[str, Any] | None
    field: str
    good_bytes: int


def path_of(folder: Path, exam: str) -> Path:
    """Return where the journal of an exam lies."""
    return folder / DRAFTS / f"marking-{exam}.jsonl"


def head_line(exam: str, by: str, began: str) -> dict[str, Any]:
    """Return the first line."""
    return {"what": WHAT, "version": VERSION, "of": exam, "by": by, "began": began}


def line_of(kind: str, about: Any) -> dict[str, Any]:
    """Return the line that says what was done."""
    if kind == STEP:
        return {STEP: about.words, "changes": _written(about.changes)}
    if kind == NOTE:
        return {NOTE: _written(about)}
    if kind == BASE:
        base, left = about
        return {BASE: _written(base), "left": _written(left)}
    if kind == RECORDING:
        return {RECORDING: about}
    return {kind: 1}


def read_journal(path: Path, content: bytes) -> Kept:
    """Play a journal again.

    Raises
    ------
    CouldNot
        When it is damaged in the middle, is no such journal, or is of a newer fecallab.
    """
    lines, good, broken = whole_lines(content)
    if broken:
        raise _damaged(path, f"line {len(lines) + 1} cannot be read")
    if not lines:
        return Kept({}, None, None, "", 0)
    head = lines[0]
    if head.get("what") != WHAT:
        raise _damaged(path, "it is not of the marking window")
    if head.get("version") != VERSION:
        raise CouldNot(
            f"{path} was written by a newer fecallab (version {head.get('version')}).",
            next="Install the newer fecallab and repeat.",
            code="newer-journal",
        )
    history: History | None = None
    recording: Mapping[str, Any] | None = None
    field = ""
    try:
        for line in lines[1:]:
            if BASE in line:
                history = History(_read(line[BASE]), _read(line["left"]))
                recording, field = None, ""
            elif RECORDING in line:
                recording = line[RECORDING]
            else:
                assert history is not None
                field = _played(history, line) or field
    except (AssertionError, KeyError, TypeError, ValueError, IndexError) as error:
        raise _damaged(path, f"{type(error).__name__} {error}".strip()) from error
    return Kept(head, history, recording, field, good)


def _played(history: History, line: Mapping[str, Any]) -> str:
    """Do what a line says and return the field that it was done in."""
    if STEP in line:
        step = Step(str(line[STEP]), _read(line["changes"]))
        history.do(step)
        return step.changes[0].field
    if NOTE in line:
        changes = _read(line[NOTE])
        history.note(changes)
        return changes[0].field if changes else ""
    moved = history.undo() if UNDO in line else history.redo() if REDO in line else None
    if moved is None:
        raise ValueError(f"a line that means nothing: {list(line)[:3]}")
    return moved.changes[0].field


def _written(changes: Sequence[Change]) -> list[list[Any]]:
    return [[c.kind, c.field, c.uid, as_json(c.before), as_json(c.after)] for c in changes]


def _read(written: Sequence[Sequence[Any]]) -> tuple[Change, ...]:
    return tuple(
        Change(kind, field, uid, from_json(kind, before), from_json(kind, after))
        for kind, field, uid, before, after in written
    )


def _damaged(path: Path, what: str) -> CouldNot:
    return CouldNot(
        f"The journal of the marking window, {path}, is damaged: {what}.",
        next="Keep a copy of it, move it out of the folder, and open the exam again.",
        code="journal-damaged",
    )
