"""Saving: what is shown as saved is on the disk, whatever happens then; one exam has one window."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from napari_fecallab.draft_file import path_of
from napari_fecallab.session import MarkingSession

from fecallab.domain.errors import CouldNot
from fecallab.records import journal

from .conftest import KEEPER

ROOT = Path(__file__).resolve().parents[3]
WORKER = """
import sys
sys.path[:0] = sys.argv[1:3]
from napari_fecallab.session import MarkingSession
session = MarkingSession(sys.argv[3], "E1", "Mara Quell")
session.go_to(sys.argv[4])
for step in range(100_000):
    if step % 7 == 6:
        session.undo()
        said = "undo"
    else:
        session.add_mark("oxyurid", step, step)
        said = str(step)
    if session.flush().pending == 0:
        print(said, session.saved.words, flush=True)
"""


def _lines(folder: Path) -> list[dict]:
    return [json.loads(line) for line in path_of(folder, "E1").read_bytes().splitlines()]


def _killed_after(folder: Path, field: str, steps: int) -> list[str]:
    """Mark in another process, kill it after some steps, and return what it had shown as saved."""
    process = subprocess.Popen(
        [sys.executable, "-c", WORKER, str(ROOT), str(ROOT / "plugins"), str(folder), field],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    shown = [process.stdout.readline() for _ in range(steps)]
    os.kill(process.pid, signal.SIGKILL)
    shown += process.stdout.readlines()
    process.wait(10)
    return [line.split(" ", 1)[0] for line in shown if "saved" in line]


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is of Unix")
@pytest.mark.parametrize("steps", [1, 40])
def test_a_killed_window_loses_nothing_that_it_had_shown_as_saved(with_pictures, folder, opened, steps):
    with_pictures.close()
    shown = _killed_after(folder, "f2", steps)
    assert len(shown) >= steps
    expected: list[int] = []
    for said in shown:
        if said == "undo":
            expected.pop()
        else:
            expected.append(int(said))
    session = opened()  # the lock of a killed window is taken over
    marks = [int(mark.x_px) for mark in session.marks("f2")]
    assert (
        marks[: len(expected)] == expected or expected[: len(marks)] == marks
    )  # an undo may have got through
    assert abs(len(marks) - len(expected)) <= 1
    assert "came back (Mara Quell" in session.notices[0] and session.current == "f2"
    for left in reversed(range(len(marks))):  # and all of it can still be taken back
        session.undo()
        assert len(session.marks("f2")) == left


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is of Unix")
def test_another_program_that_has_the_exam_open_is_named_until_it_is_gone(with_pictures, folder, opened):
    with_pictures.close()
    process = subprocess.Popen(
        [sys.executable, "-c", WORKER, str(ROOT), str(ROOT / "plugins"), str(folder), "f2"],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None and process.stdout.readline()
    try:
        with pytest.raises(CouldNot, match="E1 is open in another marking window"):
            opened()
        looking = opened(read_only=True)  # looking on is allowed, and sees what is on the disk
        assert looking.marks("f2")
    finally:
        os.kill(process.pid, signal.SIGKILL)
        process.communicate()
    assert opened().marks("f2")


def test_saved_is_shown_only_after_the_bytes_are_on_the_disk(with_pictures, folder, monkeypatch):
    held = threading.Event()
    real = os.fsync

    def slow(handle: int) -> None:
        assert held.wait(10)
        real(handle)

    with_pictures.flush()
    monkeypatch.setattr(journal.os, "fsync", slow)
    with_pictures.add_mark("oxyurid", 1, 1)
    time.sleep(0.05)
    assert with_pictures.saved.words == "saving …" and with_pictures.saved.pending == 1
    held.set()
    state = with_pictures.flush()
    assert state.pending == 0 and state.words.startswith("saved 14:")
    assert _lines(folder)[-1]["step"] == "oxyurid marked"


def test_marking_never_waits_for_the_disk(with_pictures, monkeypatch):
    real = os.fsync
    monkeypatch.setattr(journal.os, "fsync", lambda handle: (time.sleep(0.3), real(handle)))
    started = time.perf_counter()
    for step in range(20):
        with_pictures.add_mark("oxyurid", step, step)
    assert time.perf_counter() - started < 3  # twenty waits would take six seconds
    assert with_pictures.flush().pending == 0


def test_a_full_disk_is_told_and_tried_again(with_pictures, folder, monkeypatch):
    with_pictures.flush()
    real, full = os.write, threading.Event()
    full.set()

    def write(handle: int, content: bytes) -> int:
        if full.is_set():
            real(handle, content[:7])
            raise OSError(28, "No space left on device")
        return real(handle, content)

    monkeypatch.setattr(journal.os, "write", write)
    with_pictures.add_mark("oxyurid", 1, 1)
    state = with_pictures.flush()
    assert state.pending == 1 and state.words.startswith("NOT saved: ") and "No space left" in state.words
    with_pictures.add_mark("coccidian", 2, 2)
    full.clear()
    deadline = time.monotonic() + 8
    while with_pictures.saved.pending and time.monotonic() < deadline:
        time.sleep(0.05)
    assert with_pictures.saved.trouble == "" and with_pictures.saved.pending == 0
    assert [line["step"] for line in _lines(folder)[-2:]] == ["oxyurid marked", "coccidian marked"]


def test_a_line_that_a_crash_cut_short_is_left_out_and_written_over(with_pictures, folder, opened):
    with_pictures.add_mark("oxyurid", 1, 1)
    with_pictures.close()
    path = path_of(folder, "E1")
    whole = path.read_bytes()
    for tail in (b'{"step":"ox', b"\0" * 64, b"\0" * 9 + b"\n"):
        path.write_bytes(whole + tail)
        session = opened()
        assert [mark.name for mark in session.marks("f1")] == ["oxyurid"]
        session.close()
        assert path.read_bytes() == whole


def test_damage_in_the_middle_is_told_and_nothing_is_thrown_away(with_pictures, folder, opened):
    for step in range(3):
        with_pictures.add_mark("oxyurid", step, step)
    with_pictures.close()
    path = path_of(folder, "E1")
    lines = path.read_bytes().split(b"\n")
    for damaged in (b"xxx", b'{"step":"a","changes":[["mark","f9","m1",null,{}]]}', b'{"odd":1}', b"[]"):
        content = b"\n".join([*lines[:-3], damaged, *lines[-3:]])
        path.write_bytes(content)
        with pytest.raises(CouldNot, match="is damaged") as told:
            opened()
        assert "\n" not in str(told.value) and path.read_bytes() == content


def test_a_journal_of_a_newer_program_is_left_alone(with_pictures, folder, opened):
    with_pictures.close()
    path = path_of(folder, "E1")
    content = path.read_bytes().replace(b'"version":1', b'"version":9', 1)
    path.write_bytes(content)
    with pytest.raises(CouldNot, match="newer fecallab"):
        opened()
    assert path.read_bytes() == content


@pytest.mark.skipif(os.name != "posix", reason="locks of one process on itself differ on Windows")
def test_a_second_window_on_the_same_exam_is_refused_with_who_has_it(session, opened):
    with pytest.raises(CouldNot) as told:
        opened(by="Bram Osei")
    assert "E1 is open in another marking window (Mara Quell, since 4 March 2026, 14:00)." in str(told.value)
    session.close()
    assert opened(by="Bram Osei").exam_code == "E1"


def test_an_exam_in_which_nothing_was_done_leaves_no_journal_behind(session, folder):
    path = path_of(folder, "E1")
    session.next_field()
    assert path.exists()
    session.close()
    assert not path.exists()


def test_a_window_waiting_for_a_lock_never_writes_into_a_removed_journal(folder):
    path = path_of(folder, "E1")
    words = journal.JournalWords()
    first = journal.go_on_with_journal(path, words, make=True)
    late = os.open(path, os.O_RDWR)
    first.remove()
    os.close(late)
    second = journal.go_on_with_journal(path, words, make=True)
    second.append({"what": "here"})
    assert path.read_bytes() == b'{"what":"here"}\n'
    second.remove()


def test_a_step_is_on_the_disk_within_a_second_of_itself(with_pictures, folder):
    with_pictures.flush()
    before = len(_lines(folder))
    with_pictures.add_mark("oxyurid", 1, 1)
    deadline = time.monotonic() + 1.0
    while len(_lines(folder)) == before and time.monotonic() < deadline:
        time.sleep(0.01)
    assert len(_lines(folder)) == before + 1


def test_numbers_of_numpy_are_saved_and_recorded_like_any_other(with_pictures, folder, opened):
    f, i = np.float32, np.int64
    session = with_pictures
    session.set_scale(f(0.5), f(0.01))
    session.set_objective(i(10), f(20))
    (uid,) = session.add_marks([("oxyurid", f(3.5), i(4))], sure=np.bool_(False)).uids
    session.measure_ellipse(uid, (f(10), f(12)), f(30), f(20), f(15))
    session.move_marks({uid: (f(5.5), f(6.5))})
    session.offer_proposals("f1", [("coccidian", f(1), i(2), f(24), f(23), f(0))])
    assert session.flush().words.startswith("saved")
    before = session.mark(uid)
    session.close()
    again = opened()
    assert again.mark(uid) == before and type(again.mark(uid).length_um) is float
    again.finish()


def test_what_cannot_be_written_is_told_and_never_looks_saved(with_pictures, monkeypatch):
    from napari_fecallab import saving

    with_pictures.flush()
    with monkeypatch.context() as patch:
        patch.setattr(saving, "line_of", lambda *_: {"step": object()})
        with_pictures.add_mark("oxyurid", 1, 1)
        state = with_pictures.flush()
        assert state.pending == 1 and state.words.startswith("NOT saved: TypeError")
    deadline = time.monotonic() + 5
    while with_pictures.saved.pending and time.monotonic() < deadline:
        time.sleep(0.05)
    assert with_pictures.saved.words.startswith("saved")


def test_a_draft_that_came_back_is_shown_as_saved_when_it_was(with_pictures, opened):
    with_pictures.add_mark("oxyurid", 1, 1)
    with_pictures.close()
    assert opened().saved.words.startswith("saved ")


def test_steps_that_were_taken_back_can_be_done_again_after_reopening(with_pictures, opened):
    with_pictures.add_mark("oxyurid", 1, 1)
    with_pictures.add_mark("coccidian", 2, 2)
    with_pictures.undo()
    with_pictures.close()
    session = opened()
    assert session.redo_words == "coccidian marked"
    session.redo()
    assert [mark.name for mark in session.marks("f1")] == ["oxyurid", "coccidian"]


def test_corrections_made_elsewhere_meanwhile_are_taken_over_and_clashes_told(folder, opened, picture):
    from dataclasses import replace

    from fecallab.records.store import open_records

    session = opened()
    session.add_pictures([picture("a.png"), picture("b.png")], "E1-1")
    for field in ("f1", "f2"):
        session.add_marks([("oxyurid", 1, 1), ("coccidian", 2, 2)], field=field)
    session.finish()
    session.rename_marks(["E1-1-3-1"], "ascarid")
    session.add_mark("yeast", 5, 5, field="E1-1-4")
    session.close()
    with open_records(folder) as store, store.write(by="Bram Osei", now=store_now()) as writer:
        readings = {r.code: r for r in writer.exam("E1").preparations[0].readings}
        first, second = readings["E1-1-3"].marks
        writer.correct("E1-1-3-1", replace(first, name="strongylid"), "looked again")
        writer.correct("E1-1-3-2", replace(second, sure=False), "looked again")
        writer.correct("E1-1-2", replace(readings["E1-1-2"], counts={"oxyurid": 4}), "typed wrong")
    again = opened()
    told = " ".join(again.notices)
    assert "changed in the records meanwhile" in told
    assert "The mark E1-1-3-1 was corrected in the records too" in told and "E1-1-3-2" not in told
    assert again.mark("E1-1-3-1").name == "ascarid"  # ours stands until the person has looked
    assert again.mark("E1-1-3-2").sure is False and dict(again.field("E1-1-2").sure) == {"oxyurid": 4}
    assert [mark.name for mark in again.marks("E1-1-4")] == ["oxyurid", "coccidian", "yeast"]
    assert again.undo() == ""
    again.finish("named again")
    with open_records(folder) as store:
        assert store.exam("E1").preparations[0].readings[2].marks[0].name == "ascarid"


def test_records_that_change_under_an_open_window_refuse_to_be_written_over(with_pictures, folder, opened):
    from dataclasses import replace

    from fecallab.domain.errors import Refused
    from fecallab.records.store import open_records

    with_pictures.set_objective(4, None, ["E1-1-1"])
    with open_records(folder) as store, store.write(by="Bram Osei", now=store_now()) as writer:
        reading = writer.exam("E1").preparations[0].readings[0]
        writer.correct(reading.code, replace(reading, remark="seen by two"), "remark")
    with pytest.raises(Refused, match="E1-1-1 changed in the records while"):
        with_pictures.finish("wrong objective")
    with_pictures.close()
    again = opened()
    assert again.field("E1-1-1").objective == 4
    again.finish("wrong objective")
    with open_records(folder) as store:
        reading = store.exam("E1").preparations[0].readings[0]
    assert (reading.objective, reading.remark) == (4, "seen by two")


def store_now():
    from .conftest import MORNING

    return MORNING.replace(hour=16)


def test_a_record_folder_that_may_not_be_written_says_so(folder, monkeypatch):
    def refused(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(journal.os, "open", refused)
    with pytest.raises(CouldNot, match="cannot be opened: Permission denied"):
        MarkingSession(folder, "E1", KEEPER)
