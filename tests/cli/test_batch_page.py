"""The page about tables says what the program does: its commands are run, its columns are compared."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from fecallab.cli.batch_tables import tables

PAGE = Path(__file__).parents[2] / "docs" / "batches.md"
pytestmark = pytest.mark.skipif(not PAGE.is_file(), reason="the page is in the clone only")


def test_the_commands_of_the_page_work_as_written(fecallab):
    blocks = re.findall(r"```console\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.S)
    lines = [line for block in blocks for line in block.splitlines()]
    assert len(lines) == 5
    for line in lines:
        words = shlex.split(line)
        assert words[0] == "fecallab"
        said = fecallab(*words[1:])
        assert said.code == 0, (line, said.all)


def test_the_columns_of_the_page_are_those_of_the_tables():
    text = PAGE.read_text(encoding="utf-8").partition("## The columns")[2]
    parts = re.split(r"^### (\S+\.csv)$", text, flags=re.M)[1:]
    found = dict(zip(parts[::2], parts[1::2], strict=True))
    assert set(found) == {table.file_name for table in tables()}
    for table in tables():
        rows = re.findall(r"^\| `(.+?)` \| (\w*) ?\| (.+?) \|$", found[table.file_name], re.M)
        marks = {True: "always", False: ""}
        assert rows == [
            (column.title, "rarely" if column.rare else marks[column.needed], column.says)
            for column in table.columns
        ]
