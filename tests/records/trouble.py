"""What the tests of trouble share: an error in one line, facts to write, the files of a folder, other people's rights."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fecallab.domain.animal import Animal
from fecallab.domain.errors import FecallabError
from fecallab.records.folder import PICTURES
from fecallab.records.store import Records

Act = Callable[[], None]


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


def in_a_child(act: Act) -> None:
    """Run something in a process of its own, so that what it may no longer do holds for it alone."""
    if not hasattr(os, "fork"):
        pytest.skip("this system makes no process that shares what is loaded")
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            act()
            os.write(writer, b"ok")
        except BaseException as error:
            os.write(writer, repr(error).encode()[:4000])
        finally:
            os._exit(0)
    os.close(writer)
    os.waitpid(child, 0)
    with os.fdopen(reader, "rb") as pipe:
        said = pipe.read().decode()
    assert said == "ok", said


def become_nobody() -> None:
    """Be somebody without the rights of root; for a process of its own."""
    if os.geteuid() == 0:
        os.setgid(65534)
        os.setuid(65534)
