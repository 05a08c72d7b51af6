"""Disks, locks, streams and several commands at once: exit 3 or a short wait, and nothing is lost."""

from __future__ import annotations

import errno
import os
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from .conftest import FLOAT, PLAN, Said, command, contents, environment

Do = Callable[..., dict[str, Any]]
Run = Callable[..., Said]


def holding(folder: Path) -> sqlite3.Connection:
    """Write to the records from elsewhere, without an end."""
    other = sqlite3.connect(folder / "records.sqlite", isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    return other


# Locks


def test_a_lock_that_stays_is_exit_3_after_a_short_wait(
    do: Do, fecallab: Run, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fecallab.records import store

    monkeypatch.setitem(store.open_records.__kwdefaults__, "busy_seconds", 0.3)
    do("animal", "add", "Saffron")
    before = contents(folder)
    other = holding(folder)
    started = time.monotonic()
    said = fecallab("animal", "weigh", "Saffron", "318")
    waited = time.monotonic() - started
    as_json = fecallab("animal", "weigh", "Saffron", "318", "--json")
    reading = fecallab("animal", "list")
    other.execute("ROLLBACK")
    other.close()
    assert (said.code, said.out) == (3, "")
    assert said.err.count("\n") == 1 and "Repeat in a moment" in said.err
    assert waited >= 0.3
    assert (as_json.code, as_json.error["code"]) == (3, "locked")
    assert reading.code == 0, "looking is never locked out"
    assert contents(folder) == before


def test_a_lock_that_passes_is_waited_for(do: Do, folder: Path) -> None:
    do("animal", "add", "Saffron")
    other = holding(folder)

    def let_go() -> None:
        other.execute("ROLLBACK")

    timer = threading.Timer(0.4, let_go)
    timer.start()
    assert do("animal", "weigh", "Saffron", "318")["weighing"]["mass_g"] == 318
    timer.join()
    other.close()


def test_several_commands_at_once_all_keep_what_they_recorded(do: Do, tmp_path: Path) -> None:
    do("animal", "add", "Saffron")
    masses = ["311", "312", "313"]
    weighing = [start("animal", "weigh", "Saffron", mass, folder=tmp_path) for mass in masses]
    adding = [start("animal", "add", "Barley", folder=tmp_path) for _ in range(2)]
    assert [finish(one)[0] for one in weighing] == [0, 0, 0]
    assert sorted(finish(one)[0] for one in adding) == [0, 2], "one name, one animal"
    assert sorted(f"{w['mass_g']:g}" for w in do("animal", "show", "Saffron")["weighings"]) == masses
    assert [animal["name"] for animal in do("animal", "list")["animals"]] == ["Saffron", "Barley"]


def test_one_dose_given_by_two_people_at_once_is_given_once(do: Do, case: str, tmp_path: Path) -> None:
    do("plan", "add", case, *PLAN)
    do("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00")
    both = [start("dose", "give", case, "--at", "2025-03-07 08:15", folder=tmp_path) for _ in range(2)]
    ended = [finish(one) for one in both]
    assert sorted(code for code, _ in ended) == [0, 1]
    assert "Traceback" not in "".join(said for _, said in ended)
    assert len(do("case", "show", case)["doses"]) == 1


def start(*words: str, folder: Path) -> subprocess.Popen[str]:
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT}
    return subprocess.Popen(command(*words), env=environment(), cwd=folder, text=True, **pipes)


def finish(process: subprocess.Popen[str]) -> tuple[int, str]:
    said, _ = process.communicate(timeout=60)
    return process.returncode, said


# Disks


def full_disk(*_: Any, **__: Any) -> Any:
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_disk_that_is_full_for_a_picture_is_exit_3(
    do: Do, fecallab: Run, stool: Callable[..., str], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fecallab.records import pictures

    do("animal", "add", "Saffron")
    code = stool("Saffron", "2025-03-04")
    Image.new("RGB", (64, 48), "white").save("field.png")
    before = contents(folder)
    words = ("exam", "add", code, *FLOAT, "--objective", "10", "--picture", "field.png")
    monkeypatch.setattr(pictures.os, "fsync", full_disk)
    said = fecallab(*words)
    as_json = fecallab(*words, "--json")
    monkeypatch.undo()
    assert (said.code, said.out) == (3, "")
    assert "The disk is full" in said.err and "Free some space" in said.err
    assert as_json.error["code"] == "disk-full"
    assert contents(folder) == before, "nothing half-written, no picture left behind"


@contextmanager
def no_page_left(folder: Path) -> Iterator[None]:
    """Let the database of a folder grow no further, as on a full disk."""
    from fecallab.records import engine

    real = engine.sqlite3.connect

    def connect(*given: Any, **more: Any) -> sqlite3.Connection:
        connection: sqlite3.Connection = real(*given, **more)
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages}")
        return connection

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engine.sqlite3, "connect", connect)
        yield


def test_a_disk_that_is_full_for_the_database_is_exit_3(do: Do, fecallab: Run, folder: Path) -> None:
    do("animal", "add", "Saffron")
    before = contents(folder)
    with no_page_left(folder):
        said = fecallab("sample", "add", "Saffron", "--remark", "x" * 19_000, "--json")
    assert (said.code, said.error["code"]) == (3, "disk-full")
    assert contents(folder) == before
    assert do("sample", "add", "Saffron")["sample"]["code"] == "S1", "and it goes on afterwards"


def test_a_commit_that_fails_leaves_records_that_are_whole(
    do: Do, fecallab: Run, stool: Callable[..., str], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fecallab.records import store

    do("animal", "add", "Saffron")
    code = stool("Saffron", "2025-03-04")
    Image.new("RGB", (64, 48), "white").save("field.png")
    before = contents(folder)["database"]
    real = store.writing

    @contextmanager
    def writing(engine: Any) -> Iterator[Any]:
        with real(engine) as connection:
            yield connection
            full_disk()

    monkeypatch.setattr(store, "writing", writing)
    said = fecallab("exam", "add", code, *FLOAT, "--objective", "10", "--picture", "field.png", "--json")
    monkeypatch.undo()
    assert said.code == 3
    assert contents(folder)["database"] == before
    checked = do("records", "check", "--records", folder)
    assert checked["ok"] is True


def test_a_folder_that_may_only_be_read_is_exit_3_for_writing(
    do: Do, fecallab: Run, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fecallab.records import store

    do("animal", "add", "Saffron")
    monkeypatch.setattr(store, "access_to", lambda database: "read")
    said = fecallab("animal", "weigh", "Saffron", "318", "--json")
    assert (said.code, said.error["code"]) == (3, "not-writable")
    assert fecallab("animal", "list").code == 0


# Streams of a real process


def test_a_process_says_its_answer_on_stdout_and_its_trouble_on_stderr(
    do: Do, process: Callable[..., subprocess.CompletedProcess[str]], case: str, tmp_path: Path
) -> None:
    done = process("animal", "list", capture_output=True)
    assert (done.returncode, done.stderr) == (0, "") and "Saffron" in done.stdout
    refused = process("case", "close", case, capture_output=True)
    assert (refused.returncode, refused.stdout) == (1, "") and refused.stderr.startswith("Refused (")
    bad = process("animal", "show", "Safron", capture_output=True)
    assert (bad.returncode, bad.stdout) == (2, "") and "Did you mean Saffron?" in bad.stderr
    (tmp_path / "records" / "records.sqlite").write_bytes(b"no database" * 500)
    could_not = process("animal", "list", capture_output=True)
    assert (could_not.returncode, could_not.stdout) == (3, "") and "damaged" in could_not.stderr
    assert not any("Traceback" in said.stderr for said in (refused, bad, could_not))


def test_a_terminal_that_knows_no_emoji_shows_a_question_mark(do: Do, tmp_path: Path) -> None:
    do("animal", "add", "Tilda 🐢")
    plain = {**environment(), "PYTHONIOENCODING": "ascii", "LC_ALL": "C"}
    done = subprocess.run(command("animal", "list"), env=plain, cwd=tmp_path, capture_output=True, text=True)
    assert done.returncode == 0
    assert "Tilda ?" in done.stdout
    as_json = subprocess.run(
        command("animal", "list", "--json"), env=plain, cwd=tmp_path, capture_output=True, text=True
    )
    assert r"\ud83d\udc22" in as_json.stdout


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device here that is always full")
@pytest.mark.parametrize("more", [(), ("--json",)], ids=["words", "json"])
def test_an_answer_that_cannot_be_written_says_that_the_act_is_done(
    do: Do, process: Callable[..., subprocess.CompletedProcess[str]], more: tuple[str, ...]
) -> None:
    do("animal", "add", "Saffron")
    with Path("/dev/full").open("w") as full:
        said = process("animal", "weigh", "Saffron", "318", *more, stdout=full, stderr=subprocess.PIPE)
    assert said.returncode == 3
    assert said.stderr.count("\n") == 1 and "what it recorded stands" in said.stderr
    assert do("animal", "list")["animals"][0]["last_weight_g"] == 318


@pytest.mark.skipif(os.name != "posix", reason="pipes of a POSIX shell")
def test_a_reader_that_goes_away_is_no_trouble(tmp_path: Path) -> None:
    show = subprocess.Popen(
        command("reference", "show", "organisms"),
        env=environment(),
        cwd=tmp_path,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert show.stdout is not None and show.stderr is not None
    show.stdout.close()
    said = show.stderr.read()
    assert show.wait(timeout=60) == 0
    assert said == b""
    show.stderr.close()


def test_a_fault_of_the_program_is_one_line_and_its_trace_is_shown_on_request(
    fecallab: Run, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from fecallab.records.reader import Reader

    def broken(_: Any) -> Any:
        raise ZeroDivisionError("a\nfault")

    monkeypatch.setattr(Reader, "animals", broken)
    said = fecallab("animal", "list")
    assert said.code == 3 and said.err.count("\n") == 1
    assert "ZeroDivisionError: a fault" in said.err and "FECALLAB_TRACE=1" in said.err
    assert fecallab("animal", "list", "--json").error["code"] == "fault"
    monkeypatch.setenv("FECALLAB_TRACE", "1")
    with pytest.raises(ZeroDivisionError):
        fecallab("animal", "list")


def test_ctrl_c_ends_with_one_line(fecallab: Run, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from fecallab.records.writer import Writer

    def interrupted(*_: Any) -> Any:
        raise KeyboardInterrupt

    before = contents(folder)
    monkeypatch.setattr(Writer, "add", interrupted)
    said = fecallab("animal", "add", "Saffron")
    assert said.code == 130 and said.err.startswith("Stopped.")
    assert contents(folder) == before


def test_the_module_and_the_installed_command_are_one_program() -> None:
    from importlib.metadata import PackageNotFoundError, entry_points

    from fecallab.cli.main import main

    try:
        (script,) = entry_points(group="console_scripts", name="fecallab")
    except (ValueError, PackageNotFoundError):
        pytest.skip("fecallab is used from the checkout, it is not installed")
    assert script.load() is main
    assert sys.executable
