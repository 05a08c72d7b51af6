"""Where nothing can be written, everything can still be read: a full disk, a folder that may only be read."""

from __future__ import annotations

import io
import shutil
import signal
import tempfile
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from fecallab.cli.main import run
from fecallab.domain.animal import Animal
from fecallab.domain.errors import CouldNot
from fecallab.records.folder import DATABASE
from fecallab.records.store import create_records, open_records
from fecallab.records.writer import Writer

from .trouble import become_nobody, in_a_child, one_line

LOG = f"{DATABASE}-wal"
TO_READ = (
    "animal show A1", "case list", "case show C1", "plan show C1", "exam show E1", "due", "history A1", "records check",
)  # fmt: skip


TO_WRITE = "animal weigh A1 345"


def disk_full() -> None:
    """From now on no file of this process can grow, as on a full disk."""
    import resource

    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))


def said(words: str, folder: Path) -> tuple[int, str]:
    out = io.StringIO()
    with redirect_stdout(out), redirect_stderr(out):
        code = run([*words.split(), "--records", str(folder)])
    return code, out.getvalue()


def answers(folder: Path) -> dict[str, tuple[int, str]]:
    """What every command says of a copy that can be written; that also loads all that a child must not load."""
    with tempfile.TemporaryDirectory() as place:
        copy = Path(shutil.copytree(folder, Path(place) / "copy"))
        told = {words: said(words, copy) for words in TO_READ}
        told[TO_WRITE] = said(TO_WRITE, copy)
    return {words: (code, text.replace(str(copy), str(folder))) for words, (code, text) in told.items()}


def reads_all_and_writes_nothing(
    folder: Path, now: datetime, code: set[str], name: str, expected: dict[str, tuple[int, str]]
) -> None:
    before = {one.name: one.read_bytes() for one in folder.iterdir() if one.is_file()}
    with open_records(folder) as records:
        names = [animal.name for animal in records.animals()]
        assert names and (not name or name in names)
        with pytest.raises(CouldNot) as caught, records.write("keeper", now) as writer:
            writer.add(Animal(name="Otto"))
        assert caught.value.reason.code in code
        one_line(caught.value, caught.value.reason.code)
    for words in TO_READ:
        assert said(words, folder) == expected[words], words
    assert expected[TO_WRITE][0] == 0
    ended, printed = said(TO_WRITE, folder)
    assert ended == 3 and printed.count("\n") == 1 and "nothing was changed" in printed, printed
    after = {one.name: one.read_bytes() for one in folder.iterdir() if one.is_file()}
    assert {name: content for name, content in after.items() if name in before} == before


@pytest.fixture(params=["", "with a log"])
def whole(
    request: pytest.FixtureRequest, write_everything: Callable[[Writer], Any], now: datetime
) -> Iterator[Path]:
    """Records of every kind where everybody may read; or with the last animal only in a killed program's log."""
    with tempfile.TemporaryDirectory() as place:
        Path(place).chmod(0o755)
        folder = Path(place) / "records"
        create_records(folder)
        with open_records(folder) as records, records.write("keeper", now) as writer:
            write_everything(writer)
        if request.param:
            with open_records(folder) as records:
                with records.write("keeper", now) as writer:
                    writer.add(Animal(name="Logged"))
                kept = {name: (folder / name).read_bytes() for name in (DATABASE, LOG)}
            for name, content in kept.items():
                (folder / name).write_bytes(content)
        for one in (folder, *folder.rglob("*")):
            one.chmod(0o755 if one.is_dir() else 0o644)
        yield folder
        for one in (folder, *folder.rglob("*")):
            one.chmod(0o755)


def newest(folder: Path) -> str:
    return "Logged" if (folder / LOG).exists() else ""


def test_on_a_full_disk_everything_can_be_read(whole: Path, now: datetime) -> None:
    name, expected = newest(whole), answers(whole)

    def act() -> None:
        disk_full()
        reads_all_and_writes_nothing(whole, now, {"disk-full", "not-writable"}, name, expected)

    if not hasattr(signal, "SIGXFSZ"):
        pytest.skip("this system cannot keep files from growing")
    in_a_child(act)


def test_in_a_folder_that_may_only_be_read_everything_can_be_read(whole: Path, now: datetime) -> None:
    name, expected = newest(whole), answers(whole)
    for one in (whole, *whole.rglob("*")):
        one.chmod(0o555 if one.is_dir() else 0o444)

    def act() -> None:
        become_nobody()
        reads_all_and_writes_nothing(whole, now, {"not-writable"}, name, expected)
        with pytest.raises(CouldNot) as caught:
            create_records(whole / "new")
        one_line(caught.value, "not-writable")

    in_a_child(act)
