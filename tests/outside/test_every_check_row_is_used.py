"""No published check value lies idle: every row of these topics is named by a test."""

import importlib.util
from pathlib import Path

import pytest

_spec = importlib.util.spec_from_file_location("coverage_table", Path(__file__).parent / "coverage_table.py")
table = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(table)

TOPICS = (
    "1 chamber counts",
    "2 count intervals",
    "3 egg count reduction",
    "4 group screening",
    "5 individual freedom",
    "6 reader agreement",
    "7 detection metrics",
    "8 motility",
)


@pytest.mark.parametrize("topic", TOPICS)
def test_every_row_of_the_topic_is_used_or_excused_with_a_reason(topic):
    rows = {name for name, row in table.all_rows().items() if row["topic"] == topic}
    assert rows
    idle = rows - set(table.rows_used()) - set(table.WITHOUT_A_COMPUTATION)
    assert not idle, f"no test names {sorted(idle)}"


def test_an_excuse_names_a_row_that_exists_and_gives_a_reason():
    assert set(table.WITHOUT_A_COMPUTATION) <= set(table.all_rows())
    assert all(table.WITHOUT_A_COMPUTATION.values())


def test_the_check_values_are_whole():
    rows = table.all_rows()
    assert len(rows) == 135
    for row in rows.values():
        assert row["source"], row["id"]
        assert row["source_kind"] in {"read", "memory", "derived"}, row["id"]


def test_a_row_that_no_test_names_would_be_noticed(tmp_path):
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "checks.json").write_text('[{"id": "a1"}, {"id": "a2"}]', encoding="utf-8")
    (tmp_path / "test_one.py").write_text('def test_it():\n    "a1 a2"\n    use("a1")\n', encoding="utf-8")
    assert table.rows_used(tmp_path) == {"a1": {"test_one.py::test_it"}}
