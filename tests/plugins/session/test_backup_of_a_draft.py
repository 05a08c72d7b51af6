"""An unfinished marking is in the keeper's backup, and can be gone on with after it was restored."""

from __future__ import annotations

from napari_fecallab.session import MarkingSession

from fecallab.records.backup import backup, restore
from fecallab.records.check import check

from .conftest import KEEPER


def test_what_is_marked_and_not_recorded_outlives_the_disk(with_pictures, folder, tmp_path):
    with_pictures.add_marks([("oxyurid", 1, 1), ("coccidian", 2, 2)])
    with_pictures.flush()
    backup(folder, tmp_path / "copy")  # while the window is open
    restore(tmp_path / "copy", tmp_path / "again")
    with MarkingSession(tmp_path / "again", "E1", KEEPER) as session:
        assert [mark.name for mark in session.marks("f1")] == ["oxyurid", "coccidian"]
        assert session.pixels("f1") is not None
        session.finish()
    assert check(tmp_path / "again").problems == ()


def test_a_later_backup_forgets_a_draft_that_was_finished(with_pictures, folder, tmp_path):
    with_pictures.add_mark("oxyurid", 1, 1)
    with_pictures.flush()
    backup(folder, tmp_path / "copy")
    assert (tmp_path / "copy" / "drafts" / "marking-E1.jsonl").is_file()
    for field in ("f2", "f3"):
        with_pictures.nothing_here(field)
    with_pictures.finish()
    with_pictures.close()
    backup(folder, tmp_path / "copy")
    assert not (tmp_path / "copy" / "drafts").exists()
