"""A journal: a file that is only ever appended to, one JSON object a line, locked while a window works in it.

Whoever counts or marks writes here first, so that a closed window, a full disk or a power cut loses nothing.
"""

from __future__ import annotations

import importlib
import json
import os
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fecallab.domain.errors import CouldNot
from fecallab.records.folder import sync_folder

LOCKED_BYTE = 1 << 30
"""Where Windows locks the file: far behind its end, so that it can still be read."""


@dataclass(frozen=True)
class JournalWords:
    """What a journal says when something stands in its way.

    Attributes
    ----------
    not_begun : str
        Before the folder, when no file can be made in it.
    not_kept, not_kept_next : str
        When a line cannot be written; ``{why}`` is what the system said.
    open_elsewhere, open_elsewhere_next, open_elsewhere_code : str
        When another window has it.
    """

    not_begun: str = "No journal can be begun in"
    not_kept: str = "That could not be kept ({why})."
    not_kept_next: str = "Free some space on the disk, then do it again."
    open_elsewhere: str = "This is open in another window."
    open_elsewhere_next: str = "Go on there, or close that window first."
    open_elsewhere_code: str = "journal-open"


@dataclass
class Journal:
    """An open journal; `append` returns only when the lines are on the disk."""

    path: Path
    handle: int
    words: JournalWords = field(default_factory=JournalWords)
    end: int = 0

    def append(self, *lines: Mapping[str, Any]) -> None:
        """Write lines and have them on the disk; one call, one wait for the disk.

        Raises
        ------
        CouldNot
            When the disk is full or gone; the journal is as before then.
        """
        content = "".join(
            json.dumps(line, ensure_ascii=True, separators=(",", ":")) + "\n" for line in lines
        ).encode()
        try:
            written = 0
            while written < len(content):
                written += os.write(self.handle, content[written:])
            os.fsync(self.handle)
        except OSError as error:
            with suppress(OSError):
                os.ftruncate(self.handle, self.end)
            raise CouldNot(
                self.words.not_kept.format(why=error.strerror or error),
                next=self.words.not_kept_next,
                code="journal-not-written",
            ) from error
        self.end += len(content)

    def cut(self, length: int) -> None:
        """Cut off what a crash left half-written behind the last whole line."""
        os.ftruncate(self.handle, length)
        self.end = length

    def close(self) -> None:
        """Let go of the file; another window may go on with it then."""
        with suppress(OSError):
            os.close(self.handle)

    def remove(self) -> None:
        """Remove the journal: what it held is recorded, or thrown away."""
        if os.name == "posix":  # while it is still locked, so that nobody begins to write into it
            self.path.unlink(missing_ok=True)
            self.close()
        else:
            self.close()
            self.path.unlink(missing_ok=True)


def begin_journal(names: Iterable[Path], words: JournalWords) -> Journal:
    """Begin a journal under the first of these names that is free; the folder is made when it is missing."""
    path = next(iter(names))
    try:
        path.parent.mkdir(exist_ok=True)
        path = next(name for name in names if not name.exists())
        flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
        handle = os.open(path, flags, 0o666)
    except OSError as error:
        raise CouldNot(
            f"{words.not_begun} {path.parent}: {error.strerror or error}.",
            next="Check the disk and the folder's permissions.",
            code="journal-not-written",
        ) from error
    journal = Journal(path, handle, words)
    try:
        _lock(journal)
        sync_folder(path.parent)
    except BaseException:
        journal.remove()
        raise
    return journal


def go_on_with_journal(path: Path, words: JournalWords, *, make: bool = False) -> Journal:
    """Open and lock a journal; its end is not known before `whole_lines` was asked and `cut`.

    With `make` one that is not there is begun, empty.

    Raises
    ------
    CouldNot
        When it cannot be opened, or another window works in it.
    """
    flags = os.O_RDWR | os.O_APPEND | getattr(os, "O_BINARY", 0) | (os.O_CREAT if make else 0)
    while True:
        try:
            if make:
                path.parent.mkdir(exist_ok=True)
            handle = os.open(path, flags, 0o666)
        except OSError as error:
            raise CouldNot(
                f"{path} cannot be opened: {error.strerror or error}.",
                next="Check the permissions of the folder.",
                code="journal-not-read",
            ) from error
        journal = Journal(path, handle, words)
        try:
            _lock(journal)
            if still_there(journal):
                return journal
        except BaseException:
            journal.close()
            raise
        journal.close()  # another window finished and removed it between our opening and our lock


def still_there(journal: Journal) -> bool:
    """Say whether an open journal is the file of its name: another window may have removed it meanwhile."""
    try:
        return os.path.samestat(os.fstat(journal.handle), journal.path.stat())
    except FileNotFoundError:
        return False


def whole_lines(content: bytes) -> tuple[list[dict[str, Any]], int, bool]:
    r"""Return the whole lines of a journal, where they end, and whether one in the middle is damaged.

    What was cut short by a crash stands at the end and is left out.

    Examples
    --------
    >>> whole_lines(b'{"act":"count"}\n{"act":"co')
    ([{'act': 'count'}], 16, False)
    >>> whole_lines(b'{"act":"count"}\nxx\n{"act":"next"}\n')[2]
    True
    """
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
            return found, good, True
        else:
            found.append(line)
            good = place
    return found, good, False


def _lock(journal: Journal) -> None:
    """Keep another window from working in the same journal; the system lets go when the program ends."""
    try:
        if os.name == "nt":
            locking: Any = importlib.import_module("msvcrt")
            os.lseek(journal.handle, LOCKED_BYTE, os.SEEK_SET)
            locking.locking(journal.handle, locking.LK_NBLCK, 1)
            os.lseek(journal.handle, 0, os.SEEK_END)
        else:
            import fcntl

            fcntl.flock(journal.handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        raise CouldNot(
            journal.words.open_elsewhere,
            next=journal.words.open_elsewhere_next,
            code=journal.words.open_elsewhere_code,
        ) from error
