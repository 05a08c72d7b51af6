"""Every row of every table: units, ordered ranges, sources that are there, closed words, no stray signs."""

from __future__ import annotations

import csv

import pytest

from fecallab.reference.sources import SOURCE_KINDS, sources
from fecallab.reference.tables import number, parts, read_rows

from .rows import DATA, ID, OURS, SAYS_WHICH, SOURCE_TABLES, TABLES, high_of, ids_in, low_of, named


@pytest.mark.parametrize("table", TABLES)
class TestEveryTable:
    def test_has_rows_and_every_row_has_every_column(self, table: str) -> None:
        with DATA.joinpath(f"{table}.csv").open(encoding="utf-8") as handle:
            lines = list(csv.reader(handle))
        assert len(lines) > 1
        assert len(set(lines[0])) == len(lines[0]), "a column stands twice"
        assert {len(line) for line in lines} == {len(lines[0])}

    def test_names_a_source_and_its_kind_on_every_row(self, table: str) -> None:
        columns = [name for name in read_rows(table)[0] if name.endswith("source")]
        if table in SOURCE_TABLES:
            assert all(row["kind"] in SOURCE_KINDS and row["citation"] for row in read_rows(table))
            return
        assert columns, "a table of facts without a source"
        for row in read_rows(table):
            assert any(row[name] for name in columns), f"{named(row)}: no source"
            for name in columns:
                kind = row.get(f"{name}_kind")
                if kind is None:
                    continue
                assert bool(row[name]) == bool(kind), f"{named(row)}: {name} '{row[name]}' of kind '{kind}'"
                assert kind in (*SOURCE_KINDS, ""), f"{named(row)}: {kind}"

    def test_says_which_part_is_which_where_kinds_are_mixed(self, table: str) -> None:
        for row in read_rows(table):
            for name, value in row.items():
                if name.endswith("source_kind") and value == "mixed":
                    prefix = name.removesuffix("source_kind")
                    said = [row.get(prefix + column, "") for column in SAYS_WHICH]
                    assert any(said), f"{table} {named(row)}: mixed, but not said which part is which"

    def test_orders_every_range(self, table: str) -> None:
        columns = read_rows(table)[0]
        pairs = [(a, b) for a in columns for b in columns if a != b and low_of(a) and low_of(a) == high_of(b)]
        for row in read_rows(table):
            if "," in row.get("unit", ""):
                continue  # two limits in two units are no range
            for low, high in pairs:
                try:
                    least, most = number(row[low]), number(row[high])
                except ValueError:
                    continue
                if least is not None and most is not None:
                    assert 0 <= least <= most, f"{named(row)}: {low} {least} above {high} {most}"

    def test_speaks_of_no_machine_and_no_hidden_place(self, table: str) -> None:
        text = DATA.joinpath(f"{table}.csv").read_text(encoding="utf-8")
        assert "/work" not in text
        assert "/tmp" not in text
        assert "\t" not in text
        assert "\r" not in text


def test_ranges_are_recognised_by_the_names_of_their_columns() -> None:
    assert low_of("length_um_min") == high_of("length_um_max") == "length_um"
    assert low_of("dose_min_mg_per_kg") == high_of("dose_max_mg_per_kg")
    assert low_of("ci95_low") == high_of("ci95_high")
    assert low_of("note") is None


@pytest.mark.parametrize("table", OURS)
class TestOurTables:
    def test_key_stands_first_and_once(self, table: str) -> None:
        rows = read_rows(table)
        assert next(iter(rows[0])) == "key"
        keys = [row["key"] for row in rows]
        assert len(set(keys)) == len(keys)
        assert all(keys)

    def test_every_source_id_resolves(self, table: str) -> None:
        for row in read_rows(table):
            for name, value in row.items():
                if name.endswith("source"):
                    for identifier in parts(value):
                        assert ID.fullmatch(identifier), f"{row['key']}: '{identifier}' is no id"
                        assert identifier in sources(), f"{row['key']}: {identifier}"

    def test_every_id_named_in_words_resolves(self, table: str) -> None:
        for row in read_rows(table):
            for name, value in row.items():
                assert ids_in(value) <= set(sources()), f"{row['key']}: {name}"

    def test_a_row_called_read_names_a_source_that_was_read(self, table: str) -> None:
        for row in read_rows(table):
            kinds = {sources()[identifier].kind for identifier in parts(row["source"])}
            if row["source_kind"] in ("read", "memory", "common practice", "proposal"):
                assert row["source_kind"] in kinds, f"{row['key']}: {row['source_kind']} but {row['source']}"

    def test_a_row_called_common_practice_claims_no_published_figure(self, table: str) -> None:
        for row in read_rows(table):
            if row["source_kind"] == "common practice":
                assert "read" not in {sources()[identifier].kind for identifier in parts(row["source"])}


def test_sources_are_unique_and_their_letter_tells_their_kind() -> None:
    letters = {
        "R": "read",
        "M": "memory",
        "C": "common practice",
        "D": "derived",
        "P": "proposal",
    }
    seen = [row["id"] for row in read_rows("sources")]
    assert len(set(seen)) == len(seen)
    for row in read_rows("sources"):
        assert ID.fullmatch(row["id"])
        assert row["kind"] == letters[row["id"][0]]
        assert row["what_was_read"], row["id"]
