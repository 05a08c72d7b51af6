"""A backup holds everything, is proved by reading back, and comes back as it was."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from fecallab.domain.animal import Animal
from fecallab.domain.errors import BadInput, CouldNot
from fecallab.records import backup as backups
from fecallab.records.backup import NOTE, REMIND_AFTER_DAYS, backup, last_backup, restore
from fecallab.records.check import check
from fecallab.records.folder import BACKUP, DATABASE, MARKER, read_marker
from fecallab.records.store import create_records, open_records


@pytest.fixture
def filled(folder: Path, now: datetime, write_everything: Any, picture_file: Any) -> Path:
    """A record folder with one of everything and three pictures."""
    with open_records(folder) as records, records.write("keeper", now) as writer:
        write_everything(writer)
        for number in range(2):
            writer.add_picture(*picture_file(f"picture {number}".encode() * 999, f"{number}.jpg"))
    return folder


def everything(folder: Path) -> list[Any]:
    """Return all that is recorded, with its story and the bytes of the pictures."""
    with open_records(folder) as records:
        codes = (
            "A1",
            "A2",
            "W1",
            "S1",
            "S2",
            "E1",
            "C1",
            "P1",
            "D1",
            "V1",
            "V2",
            "K1",
            "K2",
            "X1",
            "R1",
            "H1",
            "M1",
            "G1",
            "Q1",
        )
        shots = [(shot, records.picture_path(shot.sha256).read_bytes()) for shot in records.pictures()]
        return [*(records.history(code) for code in codes), records.case_file("C1"), shots]


def test_what_is_backed_up_comes_back_the_same(filled: Path, tmp_path: Path) -> None:
    done = backup(filled, tmp_path / "disk" / "backup")
    assert (done.pictures, done.copied, done.problems) == (3, 3, ())
    assert check(tmp_path / "disk" / "backup").ok
    back = restore(tmp_path / "disk" / "backup", tmp_path / "again")
    assert (back.pictures, back.facts) == (3, done.facts)
    assert everything(tmp_path / "again") == everything(filled)
    assert check(tmp_path / "again") == replace(check(filled), folder=tmp_path / "again")
    assert read_marker(tmp_path / "again") == read_marker(filled)


def test_a_second_backup_copies_only_what_is_new(
    filled: Path, tmp_path: Path, now: datetime, picture_file: Any
) -> None:
    target = tmp_path / "backup"
    backup(filled, target)
    times = {path: path.stat().st_mtime_ns for path in target.rglob("*.jpg")}
    with open_records(filled) as records, records.write("keeper", now) as writer:
        writer.add_picture(*picture_file(b"a new one", "new.jpg"))
        writer.add(Animal(name="Otto"))
    seen: list[tuple[int, int]] = []
    done = backup(filled, target, lambda at, of: seen.append((at, of)))
    assert (done.copied, done.pictures) == (1, 4)
    assert seen == [(1, 4), (2, 4), (3, 4), (4, 4)]
    assert {path: path.stat().st_mtime_ns for path in times} == times
    restore(target, tmp_path / "again")
    with open_records(tmp_path / "again") as records:
        assert records.animal("Otto").code == "A3"


def test_a_backup_is_taken_while_somebody_writes(filled: Path, tmp_path: Path, now: datetime) -> None:
    with open_records(filled) as records, records.write("keeper", now) as writer:
        writer.add(Animal(name="Otto"))
        backup(filled, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "again")
    with open_records(tmp_path / "again") as records:
        assert [animal.code for animal in records.animals()] == ["A1", "A2"], "as it was before the commit"


def damaged_picture(folder: Path) -> Path:
    """Change one byte of one picture and return it."""
    path = sorted(folder.rglob("*.jpg"))[0]
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    return path


def test_one_changed_byte_of_a_picture_is_found(filled: Path) -> None:
    path = damaged_picture(filled)
    found = check(filled)
    assert [problem.code for problem in found.problems] == ["picture-changed"]
    assert path.name in found.problems[0].text
    assert found.pictures == 2


def test_a_missing_picture_is_found_and_orphans_are_named(filled: Path) -> None:
    path = sorted(filled.rglob("*.jpg"))[0]
    orphan = path.with_name("0" * 64 + ".jpg")
    path.rename(orphan)
    (filled / "pictures" / ".incoming-1-ab").write_bytes(b"half")
    found = check(filled)
    assert [problem.code for problem in found.problems] == ["picture-missing"]
    assert set(found.orphans) == {
        orphan.relative_to(filled).as_posix(),
        "pictures/.incoming-1-ab",
    }
    assert found.as_dict()["ok"] is False


def test_damage_of_the_records_never_reaches_a_good_backup(filled: Path, tmp_path: Path) -> None:
    backup(filled, tmp_path / "backup")
    damaged_picture(filled)
    again = backup(filled, tmp_path / "backup")
    assert (again.copied, again.problems) == (0, ())
    assert check(tmp_path / "backup").ok
    restore(tmp_path / "backup", tmp_path / "again")
    assert check(tmp_path / "again").ok


def test_a_picture_lost_before_the_first_backup_is_named_and_the_rest_is_saved(
    filled: Path, tmp_path: Path
) -> None:
    path = damaged_picture(filled)
    done = backup(filled, tmp_path / "backup")
    assert [problem.code for problem in done.problems] == ["picture-changed"]
    assert (done.copied, done.pictures) == (2, 2)
    assert not list((tmp_path / "backup").rglob(path.name))


def test_a_damaged_backup_is_mended_from_the_records(filled: Path, tmp_path: Path) -> None:
    backup(filled, tmp_path / "backup")
    damaged_picture(tmp_path / "backup")
    assert not check(tmp_path / "backup").ok
    assert backup(filled, tmp_path / "backup").copied == 1
    assert check(tmp_path / "backup").ok


def test_a_restore_from_a_damaged_backup_brings_what_is_whole_and_names_the_rest(
    filled: Path, tmp_path: Path
) -> None:
    backup(filled, tmp_path / "backup")
    damaged_picture(tmp_path / "backup")
    done = restore(tmp_path / "backup", tmp_path / "again")
    assert [problem.code for problem in done.problems] == ["picture-changed"]
    assert done.pictures == 2
    with open_records(tmp_path / "again") as records:
        assert len(records.pictures()) == 3


def test_a_damaged_database_is_not_backed_up_over_a_good_one(filled: Path, tmp_path: Path) -> None:
    backup(filled, tmp_path / "backup")
    good = (tmp_path / "backup" / DATABASE).read_bytes()
    content = bytearray((filled / DATABASE).read_bytes())
    content[8192:-8192] = b"\xff" * (len(content) - 16384)
    (filled / DATABASE).write_bytes(content)
    with pytest.raises(CouldNot, match="damaged"):
        backup(filled, tmp_path / "backup")
    assert (tmp_path / "backup" / DATABASE).read_bytes() == good
    assert sorted(path.name for path in (tmp_path / "backup").iterdir()) == sorted(
        [MARKER, DATABASE, "pictures"]
    )
    with pytest.raises(CouldNot):
        backup(filled, tmp_path / "another")
    assert not (tmp_path / "another").exists()


def test_a_full_disk_leaves_the_earlier_backup_as_it_was(
    filled: Path, tmp_path: Path, now: datetime, picture_file: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "backup"
    backup(filled, target)
    before = everything(restore(target, tmp_path / "before").target)
    with open_records(filled) as records, records.write("keeper", now) as writer:
        writer.add_picture(*picture_file(b"one more", "more.jpg"))

    def no_space(*ignored: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(backups, "place_picture", no_space)
    with pytest.raises(CouldNot, match="disk is full"):
        backup(filled, target)
    monkeypatch.undo()
    assert check(target).ok
    assert everything(restore(target, tmp_path / "after").target) == before


def test_an_interrupted_first_backup_is_taken_up_again(
    filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "backup"
    real = backups.place_picture
    calls: list[Any] = []

    def stops_at_the_second(*given: Any) -> Any:
        calls.append(given)
        if len(calls) == 2:
            raise KeyboardInterrupt
        return real(*given)

    monkeypatch.setattr(backups, "place_picture", stops_at_the_second)
    with pytest.raises(KeyboardInterrupt):
        backup(filled, target)
    monkeypatch.undo()
    assert not (target / MARKER).exists(), "no half backup passes for a whole one"
    assert backup(filled, target).copied == 2
    assert check(target).ok


def test_a_restore_that_fails_leaves_no_half_folder(
    filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    backup(filled, tmp_path / "backup")

    def no_space(*ignored: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(backups, "write_marker", no_space)
    (tmp_path / "empty").mkdir()
    for place, there in ((tmp_path / "again", False), (tmp_path / "empty", True)):
        with pytest.raises(CouldNot, match="disk is full"):
            restore(tmp_path / "backup", place)
        assert place.exists() is there
    assert list((tmp_path / "empty").iterdir()) == []


def test_nothing_is_ever_written_over(filled: Path, tmp_path: Path) -> None:
    target = tmp_path / "backup"
    backup(filled, target)
    create_records(tmp_path / "others")
    (tmp_path / "album" / "pictures").mkdir(parents=True)
    (tmp_path / "album" / "pictures" / "holiday.jpg").write_bytes(b"x")
    (tmp_path / "file").write_text("x")
    cases: list[tuple[Callable[[], Any], str]] = [
        (lambda: restore(target, filled), "not empty"),
        (lambda: restore(target, tmp_path / "file"), "not empty"),
        (lambda: restore(filled, tmp_path / "new"), "no backup"),
        (lambda: restore(tmp_path / "missing", tmp_path / "new"), "no folder"),
        (lambda: backup(tmp_path / "others", target), "backup of other records"),
        (lambda: backup(filled, tmp_path / "others"), "no backup"),
        (lambda: backup(filled, tmp_path / "album"), "holds other files"),
        (lambda: backup(filled, tmp_path / "file"), "a file"),
        (lambda: backup(filled, filled / "backup"), "inside the records"),
        (lambda: backup(filled, filled), "inside the records"),
        (lambda: backup(target, tmp_path / "new"), "is a backup"),
    ]
    for act, said in cases:
        with pytest.raises(BadInput, match=said):
            act()
    assert (tmp_path / "album" / "pictures" / "holiday.jpg").exists()
    assert not (tmp_path / "new").exists()
    assert read_marker(target, BACKUP).collection == read_marker(filled).collection


def test_a_backup_can_be_carried_away_and_restored(filled: Path, tmp_path: Path) -> None:
    backup(filled, tmp_path / "backup")
    wanted = everything(filled)
    shutil.move(tmp_path / "backup", tmp_path / "carried away")
    shutil.rmtree(filled)
    restore(tmp_path / "carried away", filled)
    assert everything(filled) == wanted


def test_a_backup_that_is_old_or_was_never_made_is_reminded_of(filled: Path, tmp_path: Path) -> None:
    assert "Never backed up" in last_backup(filled, date.today()).line
    backup(filled, tmp_path / "saved")
    today = date.fromisoformat(json.loads((filled / NOTE).read_text())["on"])
    assert last_backup(filled, today + timedelta(days=REMIND_AFTER_DAYS)).line == ""
    late = last_backup(filled, today + timedelta(days=REMIND_AFTER_DAYS + 1))
    assert late.line.startswith("Last backup 15 days ago") and str(tmp_path / "saved") in late.line
    (filled / NOTE).write_text("{")
    assert last_backup(filled, today).days_ago is None
