"""Which folder a command works on, and what is said when there is none."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.records import folder as folders
from fecallab.records.folder import (
    BACKUP,
    ENVIRONMENT,
    LAYOUT_VERSION,
    MARKER,
    RECORD_FOLDER,
    Marker,
    find_folder,
)


def test_the_option_goes_before_the_environment_and_the_environment_before_the_current_folder(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    folders.write_marker(elsewhere, Marker(folders.RECORD_FOLDER, LAYOUT_VERSION, "x"))
    monkeypatch.chdir(elsewhere)
    assert find_folder(str(folder), {ENVIRONMENT: str(elsewhere)}) == folder
    assert find_folder(None, {ENVIRONMENT: str(folder)}) == folder
    assert find_folder(None, {}) == elsewhere
    monkeypatch.setenv(ENVIRONMENT, str(folder))
    assert find_folder() == folder


def test_without_a_record_folder_the_answer_says_what_to_type(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file.txt").write_text("x")
    for explicit, said in (
        (None, "this folder is none"),
        ("missing", "There is no folder missing"),
        (str(tmp_path), "is no record folder: it has no fecallab.json"),
        (str(tmp_path / "file.txt"), "is no record folder"),
    ):
        with pytest.raises(BadInput, match=said) as caught:
            find_folder(explicit, {})
        assert caught.value.reason.code == "no-record-folder"
        assert "fecallab records make FOLDER" in caught.value.reason.next
        assert "\n" not in str(caught.value)


def test_a_record_folder_that_is_near_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "my rescue").mkdir()
    (tmp_path / "backup").mkdir()
    folders.write_marker(tmp_path / "backup", Marker(BACKUP, LAYOUT_VERSION, "x"))
    folders.write_marker(tmp_path / "my rescue", Marker(RECORD_FOLDER, LAYOUT_VERSION, "x"))
    for place, typed in ((tmp_path, '"my rescue"'), (tmp_path / "my rescue" / "slides" / "old", "../..")):
        place.mkdir(parents=True, exist_ok=True)
        monkeypatch.chdir(place)
        with pytest.raises(BadInput, match="this folder is none") as caught:
            find_folder(None, {})
        typed = typed.replace("/", os.sep)
        assert caught.value.reason.next == f"Type: cd {typed}  or name it: --records {typed}"
    (tmp_path / "other").mkdir()
    folders.write_marker(tmp_path / "other", Marker(RECORD_FOLDER, LAYOUT_VERSION, "y"))
    monkeypatch.chdir(tmp_path)
    with pytest.raises(BadInput) as caught:
        find_folder(None, {})
    assert "fecallab records make FOLDER" in caught.value.reason.next, "which of two is not guessed"


def test_a_backup_is_not_worked_on_as_if_it_were_the_records(tmp_path: Path) -> None:
    folders.write_marker(tmp_path, Marker(BACKUP, LAYOUT_VERSION, "x"))
    with pytest.raises(BadInput, match="fecallab records restore"):
        find_folder(str(tmp_path), {})


def test_a_marker_is_there_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folders.write_marker(tmp_path, Marker(BACKUP, LAYOUT_VERSION, "first"))

    def refuse(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OSError, match="No space"):
        folders.write_marker(tmp_path, Marker(BACKUP, LAYOUT_VERSION, "second"))
    monkeypatch.undo()
    assert folders.read_marker(tmp_path, None).collection == "first"
    assert [path.name for path in tmp_path.iterdir()] == [MARKER]


@pytest.mark.parametrize(
    ("format", "name", "extension"),
    [
        ("JPEG", "a.JPG", "jpg"),
        ("png", "a", "png"),
        ("TIFF", "a.tif", "tif"),
        ("OME-TIFF", "a.ome.tiff", "ome.tif"),
        ("HEIC", "IMG.HEIC", "heic"),
        ("clip", "drop.MP4", "mp4"),
        ("clip", "no extension at all", "bin"),
        ("letter", "../../etc/passwd", "bin"),
        ("letter", "a.p/../df", "bin"),
        ("letter", "a.ünicode", "bin"),
    ],
)
def test_a_picture_lies_under_its_hash_whatever_its_name(format: str, name: str, extension: str) -> None:
    place = folders.picture_name("ab" * 32, format, name)
    assert place == f"pictures/ab/{'ab' * 32}.{extension}"


def test_a_home_folder_may_be_written_with_a_tilde(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(folder.parent))
    monkeypatch.setenv("USERPROFILE", str(folder.parent))
    assert find_folder(f"~/{folder.name}", {}) == folder


def test_a_marker_that_is_a_folder_is_said(tmp_path: Path) -> None:
    (tmp_path / MARKER).mkdir()
    with pytest.raises(CouldNot, match="cannot be read"):
        find_folder(str(tmp_path), {})
