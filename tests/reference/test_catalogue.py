"""Tables by name, rows by key or group, and rows in plain words."""

from __future__ import annotations

import pytest

from fecallab.domain.errors import BadInput
from fecallab.reference.catalogue import (
    ABOUT,
    free_sources_of,
    rows_named,
    sources_of,
    summary_columns,
    table,
    tables,
    typed,
)
from fecallab.reference.tables import read_rows
from fecallab.reference.words import cell, in_plain_words, label


def test_every_packaged_table_is_listed_with_what_it_holds() -> None:
    assert {"organisms", "hosts", "followup_defaults", "sources"} <= {item.name for item in tables()}
    assert all(item.rows == len(read_rows(item.name)) > 0 for item in tables())
    assert all(item.about for item in tables()), [item.name for item in tables() if not item.about]


def test_short_lists_name_columns_that_exist() -> None:
    for item in tables():
        row = read_rows(item.name)[0]
        for column in summary_columns(item.name):
            filled = any(cell(each, column) for each in read_rows(item.name))
            assert column in row or filled, f"{item.name}: {column}"
    assert set(ABOUT) <= {item.name for item in tables()}


@pytest.mark.parametrize("name", ["organisms", "Organisms", " organisms "])
def test_a_table_is_found_however_it_is_typed(name: str) -> None:
    assert table(name).name == "organisms"


def test_a_misspelt_table_offers_the_nearest() -> None:
    with pytest.raises(BadInput, match="organisms"):
        table("organism")


def test_rows_by_key_then_by_group() -> None:
    assert [row["key"] for row in rows_named("organisms", "yeast")] == ["yeast"]
    assert {row["key"] for row in rows_named("organisms", "trematode")} == {
        "digenean_egg_small",
        "turtle_fluke_egg",
    }
    assert len(rows_named("grading_scales", "house_plus_signs")) == 5
    assert {row["host_group"] for row in rows_named("followup_defaults", "oxyurid")} == {
        "any",
        "plant eater adult",
    }


def test_a_misspelt_row_offers_the_nearest() -> None:
    with pytest.raises(BadInput, match="thelandros_egg") as caught:
        rows_named("organisms", "thelandros_eg")
    assert caught.value.exit_code == 2


@pytest.mark.parametrize("item", tables(), ids=lambda item: item.name)
def test_every_row_of_every_table_can_be_said_in_words(item: object) -> None:
    name = item.name  # type: ignore[attr-defined]
    for row in read_rows(name):
        said = in_plain_words(row)
        assert said
        assert all(text.strip() for _, text in said), row
        sourced = any(column.endswith("source") for column in row)
        assert not sourced or sources_of([row]) or free_sources_of([row]), row


def test_bounds_are_said_together_with_their_unit() -> None:
    said = dict(in_plain_words(rows_named("organisms", "physaloptera_egg")[0]))
    assert said["length"] == "35 to 65 µm"
    assert said["prepatent"] == "up to 60 days"
    step = dict(in_plain_words(rows_named("grading_scales", "eggs_per_10x_field:rare")[0]))
    assert step["bounds"] == "at least 2, up to 5 on the whole 22 × 22 mm cover glass"


def test_minutes_are_not_taken_for_a_minimum() -> None:
    said = dict(in_plain_words(rows_named("methods", "baermann")[0]))
    assert said["read after (minutes)"] == "60"


def test_what_goes_without_saying_is_left_out() -> None:
    said = dict(in_plain_words(rows_named("organisms", "thelandros_egg")[0]))
    assert "a keeper can name it" not in said
    said = dict(in_plain_words(rows_named("organisms", "cryptosporidium_serpentis")[0]))
    assert said["clean stools can never confirm that it is gone"] == "yes"


def test_a_journal_volume_is_not_pulled_apart() -> None:
    assert "2018;31(1)" in cell(rows_named("sources", "R01")[0], "citation")


def test_labels_carry_units_when_asked() -> None:
    assert label("wait_after_last_dose_days", with_unit=True) == "wait after last dose (days)"


def test_machines_get_numbers_and_nothing_for_empty_cells() -> None:
    (row,) = typed(rows_named("organisms", "monocercomonas_troph"))
    assert row["length_um_min"] == 5.0
    assert row["width_um_min"] is None
