"""``fecallab reference``: what is typed and what comes back."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from fecallab.cli.reference import BEFORE_ALL, app
from fecallab.domain.errors import BadInput
from fecallab.reference.catalogue import tables
from fecallab.reference.tables import EDITION, read_rows

ROOT = Path(__file__).resolve().parents[2]


def ask(*words: str, columns: int = 110) -> Result:
    return CliRunner().invoke(app, list(words), env={"COLUMNS": str(columns)})


def test_list_names_every_table_and_the_edition() -> None:
    answer = ask("list")
    assert answer.exit_code == 0
    assert EDITION in answer.stdout
    for item in tables():
        assert f"{item.name} " in answer.stdout
        assert str(item.rows) in answer.stdout
    assert BEFORE_ALL in answer.stdout


def test_list_for_machines_is_one_object() -> None:
    payload = json.loads(ask("list", "--json").stdout)
    assert payload["edition"] == EDITION
    assert {row["name"]: row["rows"] for row in payload["tables"]}["organisms"] == 97


@pytest.mark.parametrize("name", [item.name for item in tables()])
@pytest.mark.parametrize("columns", [80, 110])
def test_every_table_shows_every_key_unbroken(name: str, columns: int) -> None:
    answer = ask("show", name, columns=columns)
    assert answer.exit_code == 0, answer.exception
    for row in read_rows(name):
        key = next(iter(row.values()))
        if " " not in key and ";" not in key:
            assert key in answer.stdout
    table = answer.stdout.partition("\nAll of a row")[0]
    assert max(map(len, table.splitlines())) <= columns, "a terminal would fold it anew"


def test_nothing_of_a_cell_is_cut_off() -> None:
    text = ask("show", "quarantine").stdout
    words = {word for row in read_rows("quarantine") for word in row["rule"].split()}
    assert words <= set(text.split())


def test_one_row_spells_its_sources_out() -> None:
    text = ask("show", "organisms", "--key", "thelandros_egg").stdout
    assert "length: 65.4 to 79.2 µm" in text
    assert "R39 (read): Description of Thelandros aegypti" in text
    assert "kind of the figures: read" in text
    assert BEFORE_ALL in text


def test_a_remembered_figure_is_said_to_be_remembered() -> None:
    text = ask("show", "organisms", "--key", "rhabdias_larva").stdout
    assert "kind of the figures: memory" in text
    assert "M03 (memory)" in text


def test_a_conflict_stays_visible() -> None:
    text = " ".join(ask("show", "flotation_solutions", "--key", "zinc_sulfate_recipe_371").stdout.split())
    assert "CONFLICT" in text
    assert "1.17 to 1.364" in text


def test_a_group_shows_all_its_rows() -> None:
    payload = json.loads(ask("show", "organisms", "--key", "mite", "--json").stdout)
    assert [row["key"] for row in payload["rows"]] == ["ophionyssus_adult", "ophionyssus_egg"]
    assert payload["rows"][0]["length_um_max"] == 1300
    assert payload["sources"]["R55"]["kind"] == "read"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("show", "organism"), "Did you mean organisms"),
        (("show", "organisms", "--key", "thelandros"), "Did you mean thelandros_egg"),
        (("show", "hosts", "--key", "zzz"), "fecallab reference show hosts"),
    ],
)
def test_a_wrong_name_is_bad_input_with_a_way_on(words: tuple[str, ...], said: str) -> None:
    answer = ask(*words)
    assert isinstance(answer.exception, BadInput)
    assert said in str(answer.exception)
    assert not answer.stdout


def test_every_command_has_help() -> None:
    for words in (("--help",), ("list", "--help"), ("show", "--help")):
        answer = ask(*words)
        assert answer.exit_code == 0
        assert len(answer.stdout) > 100


def test_importing_the_command_loads_nothing_heavy() -> None:
    code = (
        "import sys, fecallab.cli.reference;"
        "print([name for name in ('numpy', 'scipy', 'pandas', 'skimage', 'matplotlib',"
        " 'fecallab.reference.tables') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert done.stdout.strip() == "[]"
