"""What the tests of trouble share: an error in one line, facts to write, and the files of a folder."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from fecallab.domain.animal import Animal
from fecallab.domain.errors import FecallabError
from fecallab.records.folder import PICTURES
from fecallab.records.store import Records


def one_line(error: FecallabError, code: str) -> str:
    """Check that a problem is said in one line with a way forward, and return it."""
    said = str(error)
    assert error.reason.code == code
    assert "\n" not in said
    assert error.reason.next
    return said


def add_animals(open_it: Callable[[], Records], name: str, how_many: int) -> None:
    """Record animals, each in a transaction of its own; runs in a process of its own."""
    with open_it() as records:
        for number in range(how_many):
            with records.write(name, datetime.now(UTC)) as writer:
                writer.add(Animal(name=f"{name} {number}"))


def files_in(folder: Path) -> list[str]:
    """Name the files among the pictures."""
    return sorted(path.name for path in (folder / PICTURES).rglob("*") if path.is_file())
