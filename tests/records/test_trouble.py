"""Disks fill and files break: one clear line, and nothing is lost."""

from __future__ import annotations

import errno
import json
import os
import sqlite3
import tempfile
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from fecallab.domain.animal import Animal
from fecallab.domain.errors import BadInput, CouldNot
from fecallab.records import pictures, store
from fecallab.records.check import check
from fecallab.records.folder import DATABASE, MARKER
from fecallab.records.store import create_records, open_records

from .trouble import become_nobody, files_in, in_a_child, one_line


def test_a_full_disk_keeps_what_was_there_and_nothing_half(folder: Path, now: datetime) -> None:
    with open_records(folder) as records:
        with records.write("keeper", now) as writer:
            writer.add(Animal(name="Tilda"))
        records.engine.dispose()

        @event.listens_for(records.engine, "connect")
        def fill(connection: sqlite3.Connection, record: Any) -> None:
            pages = connection.execute("PRAGMA page_count").fetchone()[0]
            connection.execute(f"PRAGMA max_page_count = {pages + 3}")

        with pytest.raises(CouldNot) as caught, records.write("keeper", now) as writer:
            for number in range(40):
                writer.add(Animal(name=f"Arrival {number}", remark="x" * 9000))
        assert "disk is full" in one_line(caught.value, "disk-full")
        assert [animal.name for animal in records.animals()] == ["Tilda"]
    assert check(folder).problems == ()
    with open_records(folder) as records, records.write("keeper", now) as writer:
        assert writer.add(Animal(name="Otto")).code == "A2"


def no_space(*ignored: Any) -> None:
    """Stand in for a call that a full disk refuses."""
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_a_full_disk_while_a_picture_is_copied_leaves_nothing(
    folder: Path, now: datetime, picture_file: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pictures.os, "fsync", no_space)
    with open_records(folder) as records:
        with pytest.raises(CouldNot) as caught, records.write("keeper", now) as writer:
            writer.add(Animal(name="Tilda"))
            writer.add_picture(*picture_file())
        one_line(caught.value, "disk-full")
        assert records.animals() == records.pictures() == []
    assert files_in(folder) == []


def test_an_error_after_a_picture_takes_the_file_back(folder: Path, now: datetime, picture_file: Any) -> None:
    with open_records(folder) as records:
        with pytest.raises(BadInput), records.write("keeper", now) as writer:
            writer.add_picture(*picture_file())
            assert len(files_in(folder)) == 1
            writer.add(Animal(name=""))
        assert files_in(folder) == []
        with records.write("keeper", now) as writer:
            kept = writer.add_picture(*picture_file())
        with pytest.raises(BadInput), records.write("keeper", now) as writer:
            writer.add_picture(*picture_file())
            writer.add(Animal(name=""))
        assert records.picture_path(kept.sha256).exists(), "what an earlier command kept stays"


def test_a_commit_that_fails_takes_the_picture_back(folder: Path, now: datetime, picture_file: Any) -> None:
    path, info = picture_file()
    with open_records(folder) as records:

        def refuse(connection: Any) -> None:
            raise sqlite3.OperationalError("disk I/O error")

        event.listen(records.engine, "commit", refuse)
        with pytest.raises(CouldNot) as caught, records.write("keeper", now) as writer:
            writer.add_picture(path, info)
            assert len(files_in(folder)) == 1
        one_line(caught.value, "unreachable")
        event.remove(records.engine, "commit", refuse)
        assert files_in(folder) == []
        with records.write("keeper", now) as writer:
            writer.add_picture(path, info)
    assert check(folder).ok


def test_records_that_cannot_be_made_leave_no_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "found_collection", no_space)
    (tmp_path / "empty").mkdir()
    for place, there in ((tmp_path / "new", False), (tmp_path / "empty", True)):
        with pytest.raises(CouldNot) as caught:
            create_records(place)
        one_line(caught.value, "disk-full")
        assert place.exists() is there
    assert list((tmp_path / "empty").iterdir()) == []


@pytest.mark.parametrize("damage", ["zeros at the head", "text", "cut short", "middle", "empty"])
def test_a_damaged_database_is_said_and_never_written_to(folder: Path, now: datetime, damage: str) -> None:
    with open_records(folder) as records, records.write("keeper", now) as writer:
        for number in range(200):
            writer.add(Animal(name=f"Arrival {number}", remark="x" * 200))
    database = folder / DATABASE
    content = database.read_bytes()
    broken = {
        "zeros at the head": bytes(100) + content[100:],
        "text": b"not a database, but a text that someone saved over it\n" * 400,
        "cut short": content[: len(content) // 3],
        "middle": content[:8192] + b"\xff" * (len(content) - 16384) + content[-8192:],
        "empty": b"",
    }[damage]
    database.write_bytes(broken)
    with pytest.raises(CouldNot) as caught, open_records(folder) as records:
        assert records.animals()
        with records.write("keeper", now) as writer:
            writer.add(Animal(name="Tilda"))
    one_line(caught.value, "records-damaged")
    assert database.read_bytes() == broken
    found = check(folder)
    assert not found.ok
    assert {problem.code for problem in found.problems} <= {"records-damaged", "newer-records"}
    assert all("nothing was changed" not in problem.text for problem in found.problems)


def test_a_broken_reference_is_found(folder: Path, now: datetime) -> None:
    with closing(sqlite3.connect(folder / DATABASE)) as connection:
        connection.execute("INSERT INTO codes VALUES ('E1', 'exam', NULL, 1)")
        connection.execute(
            "INSERT INTO exams (code, sample, examined_at, by, question, remark, recorded_at, recorded_by,"
            " correction_reason, withdrawn) VALUES ('E1', 'S4', '2026-01-01 00:00:00.000000', '', '', '',"
            " '2026-01-01 00:00:00.000000', 'someone', '', 0)"
        )
        connection.commit()
    codes = [problem.code for problem in check(folder).problems]
    assert codes == ["reference-broken", "row-without-line"]


@pytest.mark.parametrize(
    "content", [b"", b'{"format": "fecallab rec', b"[]", b"\xff\xfe", b'{"version": "x"}']
)
def test_a_damaged_marker_is_said_and_written_anew_without_touching_the_records(
    folder: Path, now: datetime, content: bytes
) -> None:
    with open_records(folder) as records, records.write("keeper", now) as writer:
        writer.add(Animal(name="Tilda"))
    before = (folder / MARKER).read_bytes()
    (folder / MARKER).write_bytes(content)
    with pytest.raises(CouldNot) as caught:
        open_records(folder)
    assert f'fecallab records make "{folder}"' in one_line(caught.value, "marker-damaged")
    assert [problem.code for problem in check(folder).problems] == ["marker-damaged"]
    assert create_records(folder) is False
    assert (folder / MARKER).read_bytes() == before
    with open_records(folder) as records:
        assert [animal.name for animal in records.animals()] == ["Tilda"]


def test_a_marker_of_a_newer_program_is_refused(folder: Path) -> None:
    said = json.loads((folder / MARKER).read_text())
    (folder / MARKER).write_text(json.dumps({**said, "version": 7}))
    with pytest.raises(CouldNot, match="layout 7"):
        open_records(folder)
    with pytest.raises(CouldNot, match="layout 7"):
        create_records(folder)


def test_a_folder_without_its_database_is_said(folder: Path) -> None:
    (folder / DATABASE).unlink()
    with pytest.raises(CouldNot) as caught:
        open_records(folder)
    one_line(caught.value, "records-missing")
    assert [problem.code for problem in check(folder).problems] == ["records-missing"]
    assert not (folder / DATABASE).exists(), "looking makes no database"


def test_a_database_exchanged_for_another_is_found(folder: Path, tmp_path: Path) -> None:
    create_records(tmp_path / "other")
    (folder / DATABASE).write_bytes((tmp_path / "other" / DATABASE).read_bytes())
    assert [problem.code for problem in check(folder).problems] == ["other-collection"]


def test_an_unreadable_folder_is_said_in_one_line() -> None:
    with tempfile.TemporaryDirectory() as place:
        Path(place).chmod(0o755)
        folder = Path(place) / "records"
        create_records(folder)
        (folder / DATABASE).chmod(0)

        def act() -> None:
            become_nobody()
            with pytest.raises(CouldNot) as caught, open_records(folder) as records:
                records.animals()
            one_line(caught.value, "not-readable")

        in_a_child(act)


def test_a_marker_that_cannot_be_finished_leaves_no_half_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "new"
    monkeypatch.setattr(store, "write_marker", no_space)
    with pytest.raises(CouldNot) as caught:
        create_records(folder)
    one_line(caught.value, "disk-full")
    monkeypatch.undo()
    assert create_records(folder) is False, "the second try finishes what the first began"
    with open_records(folder) as records:
        assert records.animals() == []
    assert check(folder).ok


def test_making_records_stops_before_anything_that_is_there(tmp_path: Path, folder: Path) -> None:
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "holiday.jpg").write_bytes(b"x")
    (tmp_path / "album" / "pictures").mkdir(parents=True)
    (tmp_path / "album" / "pictures" / "holiday.jpg").write_bytes(b"x")
    (tmp_path / "letter.txt").write_text("x")
    for place, said in (
        (tmp_path / "photos", "holds other files"),
        (tmp_path / "album", "holds other files"),
        (tmp_path / "letter.txt", "a file, no folder"),
        (folder, "record folder already"),
    ):
        with pytest.raises(BadInput, match=said):
            create_records(place)
    assert (tmp_path / "album" / "pictures" / "holiday.jpg").exists()
    (tmp_path / "empty").mkdir()
    assert create_records(tmp_path / "empty") is True
