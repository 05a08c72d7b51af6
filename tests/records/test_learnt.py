"""What was learnt from a keeper's marks goes into a backup and comes back; the proposals themselves do not."""

from __future__ import annotations

from pathlib import Path

from fecallab.imaging.detect import kept
from fecallab.records.backup import backup, restore
from fecallab.records.check import check
from fecallab.records.learnt import LEARNT, PROPOSALS, mirror_learnt


def test_the_names_are_those_that_proposals_use() -> None:
    assert (kept.FOLDER, (kept.LEARNT, kept.BEFORE)) == (PROPOSALS, LEARNT)


def test_what_was_learnt_comes_back_from_a_backup_byte_for_byte(folder: Path, tmp_path: Path) -> None:
    (folder / PROPOSALS / "ab").mkdir(parents=True)
    (folder / PROPOSALS / "ab" / "made.json").write_text("{}", encoding="utf-8")
    for name in LEARNT:
        (folder / PROPOSALS / name).write_text(f'{{"edition": "{name}"}}\n', encoding="utf-8")
    backup(folder, tmp_path / "backup")
    back = tmp_path / "back"
    restore(tmp_path / "backup", back)
    assert {path.name: path.read_bytes() for path in (back / PROPOSALS).iterdir()} == {
        name: (folder / PROPOSALS / name).read_bytes() for name in LEARNT
    }
    assert check(back).problems == () and check(back).orphans == ()


def test_what_was_taken_back_goes_from_the_backup_too(folder: Path, tmp_path: Path) -> None:
    (folder / PROPOSALS).mkdir()
    for name in LEARNT:
        (folder / PROPOSALS / name).write_text("{}", encoding="utf-8")
    backup(folder, tmp_path / "backup")
    (folder / PROPOSALS / LEARNT[1]).unlink()
    backup(folder, tmp_path / "backup")
    assert [path.name for path in (tmp_path / "backup" / PROPOSALS).iterdir()] == [LEARNT[0]]
    (folder / PROPOSALS / LEARNT[0]).unlink()
    assert mirror_learnt(folder, tmp_path / "backup") == 0
    assert not (tmp_path / "backup" / PROPOSALS).exists()
