"""A page is written whole or not at all."""

import os

import pytest

from fecallab.domain.errors import CouldNot
from fecallab.report.files import page_is_within_budget, write_page


def test_a_page_is_written_as_utf8_and_its_path_returned(tmp_path):
    path = write_page(tmp_path / "exam.html", "<p>Größe 🐢</p>")
    assert path == tmp_path / "exam.html"
    assert path.read_bytes() == "<p>Größe 🐢</p>".encode()
    assert [entry.name for entry in tmp_path.iterdir()] == ["exam.html"]


def test_a_page_is_readable_by_others_as_the_system_allows(tmp_path):
    before = os.umask(0o022)
    try:
        assert write_page(tmp_path / "exam.html", "x").stat().st_mode & 0o777 == 0o644
    finally:
        os.umask(before)


def test_a_missing_folder_is_one_clear_line_and_changes_nothing(tmp_path):
    with pytest.raises(CouldNot, match=r"exam\.html could not be written") as caught:
        write_page(tmp_path / "none" / "exam.html", "x")
    assert caught.value.reason.code == "page-not-written"
    assert caught.value.reason.next
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_leaves_the_earlier_page_and_no_remains(tmp_path, monkeypatch):
    path = write_page(tmp_path / "exam.html", "earlier")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CouldNot, match="No space left on device"):
        write_page(path, "later")
    assert path.read_text() == "earlier"
    assert [entry.name for entry in tmp_path.iterdir()] == ["exam.html"]


def test_text_that_is_no_unicode_leaves_the_earlier_page(tmp_path):
    path = write_page(tmp_path / "exam.html", "earlier")
    with pytest.raises(UnicodeEncodeError):
        write_page(path, "\ud800")
    assert path.read_text() == "earlier"


def test_a_folder_in_the_place_of_the_page_is_refused(tmp_path):
    (tmp_path / "exam.html").mkdir()
    with pytest.raises(CouldNot):
        write_page(tmp_path / "exam.html", "x")
    assert [entry.name for entry in tmp_path.iterdir()] == ["exam.html"]


def test_the_budget_is_the_pictures_times_one_point_four_and_a_megabyte():
    assert page_is_within_budget(1_000_000, 0)
    assert not page_is_within_budget(1_000_001, 0)
    assert page_is_within_budget(15_000_000, 10_000_000)
    assert not page_is_within_budget(15_000_001, 10_000_000)
