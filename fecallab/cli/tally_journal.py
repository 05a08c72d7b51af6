"""The journal of a tally: one line per key on the disk before anything else, so that nothing is lost."""

from __future__ import annotations

import importlib
import json
import os
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from fecallab.cli.tally_draft import DRAFTS, VERSION, WHAT, Draft, read_draft
from fecallab.domain.errors import CouldNot
from fecallab.domain.tally import Act

LOCKED_BYTE = 1 << 30
"""Where Windows locks the file: far behind its end, so that it can still be read."""


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


def begin(folder: Path, head: Mapping[str, Any]) -> tuple[Journal, Draft]:
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
    return journal, read_draft(path)


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
