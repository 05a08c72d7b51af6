"""Pictures are kept once and untouched, come back when lost, and are refused while they change."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.records.check import check
from fecallab.records.store import open_records

from .trouble import files_in, one_line


def test_the_same_bytes_are_kept_once_and_untouched(folder: Path, now: datetime, picture_file: Any) -> None:
    content = bytes(range(256)) * 5000
    path, info = picture_file(content)
    twin, twin_info = picture_file(content, "copy of it.png")
    with open_records(folder) as records:
        with records.write("keeper", now) as writer:
            first = writer.add_picture(path, info)
            again = writer.add_picture(twin, twin_info)
        assert first == again == info
        assert records.pictures() == [info]
        place = records.picture_path(info.sha256[:12])
    assert place == folder / "pictures" / info.sha256[:2] / f"{info.sha256}.jpg"
    assert place.read_bytes() == path.read_bytes() == content
    assert files_in(folder) == [f"{info.sha256}.jpg"]


def test_adding_a_picture_again_brings_a_lost_file_back(
    folder: Path, now: datetime, picture_file: Any
) -> None:
    path, info = picture_file()
    with open_records(folder) as records:
        with records.write("keeper", now) as writer:
            writer.add_picture(path, info)
        records.picture_path(info.sha256).write_bytes(b"overwritten")
        assert [problem.code for problem in check(folder).problems] == ["picture-changed"]
        with records.write("keeper", now) as writer:
            writer.add_picture(path, info)
    assert check(folder).ok


def test_a_picture_that_changes_while_it_is_copied_is_refused(
    folder: Path, now: datetime, picture_file: Any
) -> None:
    path, info = picture_file()
    path.write_bytes(b"saved again by another program")
    with open_records(folder) as records:
        with pytest.raises(CouldNot) as caught, records.write("keeper", now) as writer:
            writer.add_picture(path, info)
        one_line(caught.value, "picture-changed")
        path.unlink()
        with pytest.raises(BadInput, match="cannot be read"), records.write("keeper", now) as writer:
            writer.add_picture(path, info)
    assert files_in(folder) == []
