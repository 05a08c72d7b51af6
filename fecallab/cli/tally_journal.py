"""The journal of a tally: one line per key on the disk before anything else, so that nothing is lost.

A file ``drafts/tally-….jsonl`` in the record folder, only ever appended to. Its first line says what is
counted; every further line is one act, an undo or a redo. It knows nothing of the records.
"""

from __future__ import annotations

import importlib
import json
import os
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from fecallab.domain.errors import BadInput, CouldNot, FecallabError
from fecallab.domain.field import FIELD_NUMBER_RANGE_MM
from fecallab.domain.tally import Act, Course, new_tally

DRAFTS = "drafts"
EYEPIECE = "eyepiece.json"
WHAT, VERSION = "fecallab tally", 1
UNDO, REDO, RECORDING, SHIFT_KEYS = "undo", "redo", "recording", "shift-keys"
"""Lines that are no acts of the tally: moves between them, what is about to be recorded, a learned keyboard."""
LOCKED_BYTE = 1 << 30
"""Where Windows locks the file: far behind its end, so that it can still be read."""


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
            f"{self.head['of']} ({self.head.get('animal', '')}), begun {self.head['began'].replace('T', ' ')}: "
            f"{done} {tally.unit}{'' if done == 1 else 's'} finished, {tally.total()} counted"
        )


@dataclass
class Journal:
    """An open journal; `append` returns only when the line is on the disk."""

    path: Path
    _handle: int
    _end: int = field(default=0)

    def append(self, line: Mapping[str, Any]) -> None:
        """Write one line and have it on the disk.

        Raises
        ------
        CouldNot
            When the disk is full or gone; the journal is as before then.
        """
        content = (json.dumps(line, ensure_ascii=True, separators=(",", ":")) + "\n").encode()
        try:
            written = 0
            while written < len(content):
                written += os.write(self._handle, content[written:])
            os.fsync(self._handle)
        except OSError as error:
            with suppress(OSError):
                os.ftruncate(self._handle, self._end)
            raise CouldNot(
                f"That key could not be kept ({error.strerror or error}); it is not counted.",
                next="Free some space on the disk, then press it again.",
                code="journal-not-written",
            ) from error
        self._end += len(content)

    def act(self, act: Act) -> None:
        """Write one act of the tally."""
        said = {key: value for key, value in asdict(act).items() if value not in ("", None)}
        self.append({("act" if key == "kind" else key): value for key, value in said.items()})

    def close(self) -> None:
        """Let go of the file; another window may go on with it then."""
        with suppress(OSError):
            os.close(self._handle)

    def remove(self) -> None:
        """Remove the journal: what it held is recorded, or thrown away."""
        self.close()
        self.path.unlink(missing_ok=True)


def begin(folder: Path, head: Mapping[str, Any]) -> Journal:
    """Begin a journal in the drafts of a record folder.

    Parameters
    ----------
    folder : Path
        The record folder.
    head : mapping
        ``of``, ``began`` (ISO time), ``first``, ``second``, ``objective``, ``field_number``, ``chamber``, and
        whatever else is needed to go on.
    """
    drafts = folder / DRAFTS
    stem = f"tally-{head['of']}-{''.join(c for c in head['began'] if c.isdigit())}"
    try:
        drafts.mkdir(exist_ok=True)
        path = next(p for p in _names(drafts, stem) if not p.exists())
        flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
        handle = os.open(path, flags, 0o666)
    except OSError as error:
        raise CouldNot(
            f"No tally can be begun in {drafts}: {error.strerror or error}.",
            next="Check the disk and the folder's permissions.",
            code="journal-not-written",
        ) from error
    journal = Journal(path, handle)
    _lock(journal)
    try:
        journal.append({"what": WHAT, "version": VERSION, **head})
        _sync_names(drafts)
    except BaseException:
        journal.remove()
        raise
    return journal


def begin_draft(folder: Path, head: Mapping[str, Any]) -> tuple[Journal, Draft]:
    """Begin a journal and return what it holds."""
    journal = begin(folder, head)
    return journal, read_draft(journal.path)


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


def resume(path: Path) -> tuple[Journal, Draft]:
    """Open a journal to go on with it.

    Raises
    ------
    CouldNot
        When another window counts in it, or it is damaged.
    """
    try:
        handle = os.open(path, os.O_RDWR | os.O_APPEND | getattr(os, "O_BINARY", 0))
    except OSError as error:
        raise CouldNot(
            f"{path} cannot be opened: {error.strerror or error}.",
            next="Check the permissions of the folder.",
            code="journal-not-read",
        ) from error
    journal = Journal(path, handle)
    try:
        _lock(journal)
        draft = read_draft(path)
        os.ftruncate(handle, draft.good_bytes)
        journal._end = draft.good_bytes
    except BaseException:
        journal.close()
        raise
    return journal, draft


def drafts_in(folder: Path) -> list[Draft]:
    """Return every tally that waits in a record folder, oldest first; files that are none are passed over."""
    found: list[Draft] = []
    for path in sorted((folder / DRAFTS).glob("tally-*.jsonl")):
        with suppress(FecallabError):
            found.append(read_draft(path))
    return sorted(found, key=lambda draft: str(draft.head["began"]))


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
    found: list[dict[str, Any]] = []
    good = place = 0
    broken = False
    for raw in content.split(b"\n")[:-1]:
        place += len(raw) + 1
        try:
            line = json.loads(raw)
            whole = isinstance(line, dict)
        except ValueError:
            whole = False
        if not whole:
            broken = True
        elif broken:
            raise _damaged(path, f"line {len(found) + 1} cannot be read")
        else:
            found.append(line)
            good = place
    return found, good


def _damaged(path: Path, what: str) -> CouldNot:
    return CouldNot(
        f"The tally {path} is damaged: {what}.",
        next="It is a text file with one key a line: look into it, and type the counts with exam add.",
        code="journal-damaged",
    )


def _names(drafts: Path, stem: str) -> Iterator[Path]:
    yield drafts / f"{stem}.jsonl"
    for number in range(2, 1000):
        yield drafts / f"{stem}-{number}.jsonl"


def _lock(journal: Journal) -> None:
    """Keep another window from counting in the same journal; the system lets go when the program ends."""
    try:
        if os.name == "nt":
            locking: Any = importlib.import_module("msvcrt")
            os.lseek(journal._handle, LOCKED_BYTE, os.SEEK_SET)
            locking.locking(journal._handle, locking.LK_NBLCK, 1)
            os.lseek(journal._handle, 0, os.SEEK_END)
        else:
            import fcntl

            fcntl.flock(journal._handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        raise CouldNot(
            "This tally is open in another window.",
            next="Go on there, or close that window first.",
            code="tally-open",
        ) from error


def _sync_names(folder: Path) -> None:
    """Have a new file's name on the disk, where the system can do that."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
