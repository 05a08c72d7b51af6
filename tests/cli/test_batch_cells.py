"""Numbers, dates and texts as spreadsheets write them."""

from __future__ import annotations

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.cli.batch_cells import (
    COMMA,
    DAY_FIRST,
    MONTH_FIRST,
    POINT,
    date_orders,
    is_open_date,
    read_date_cell,
    read_number_cell,
)
from fecallab.cli.batch_columns import NUMBER, column
from fecallab.cli.batch_text import free_text, guarded
from fecallab.cli.batch_write import cell_of


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("318", "318"),
        ("0,5", "0.5"),
        ("0.5", "0.5"),
        (".5", "0.5"),
        ("12,75", "12.75"),
        ("0,125", "0.125"),
        ("1.234,5", "1234.5"),
        ("1,234.5", "1234.5"),
        ("1 234,5", "1234.5"),
        ("1\N{NO-BREAK SPACE}234,5", "1234.5"),
        ("1\N{NARROW NO-BREAK SPACE}234", "1234"),
        ("1'234.5", "1234.5"),
        ("1.234.567", "1234567"),
        ("1,234,567.25", "1234567.25"),
        ("-2,5", "-2.5"),
        ("\N{MINUS SIGN}2.5", "-2.5"),
        ("1,5E+02", "1.5E+02"),
        ("\N{ZERO WIDTH SPACE}12.5 ", "12.5"),
    ],
)
def test_a_number_that_can_be_meant_in_one_way_is_read(written, meant):
    cell = read_number_cell(written)
    assert cell is not None and not cell.open
    assert cell.as_decimal == meant


@pytest.mark.parametrize("written", ["1,234", "1.234", "12.345", "-123,456"])
def test_one_mark_before_three_digits_is_left_open(written):
    cell = read_number_cell(written)
    assert cell is not None and cell.open
    mark = COMMA if "," in written else POINT
    assert cell.read(mark, written) == written.replace(",", ".")
    assert cell.read(POINT if mark == COMMA else COMMA, written) == written.replace(",", "").replace(".", "")


@pytest.mark.parametrize("written", ["", "12 kg", "1,2,3", "12.34.56", "1 23", "zwölf", "0x12", "1..2", "½"])
def test_what_is_no_number_is_no_number(written):
    assert read_number_cell(written) is None


@given(st.floats(min_value=0.0001, max_value=1e9, allow_nan=False), st.booleans())
def test_a_number_that_was_given_out_is_never_open_and_comes_back_exactly(value, comma):
    cell = read_number_cell(cell_of(value, column("x", "x", NUMBER, ""), comma=comma))
    assert cell is not None and not cell.open
    assert float(cell.as_decimal) == value


@pytest.mark.parametrize(
    ("written", "order", "meant"),
    [
        ("2026-03-04", "", "2026-03-04"),
        ("2026-03-04 08:30", "", "2026-03-04 08:30"),
        ("2026-03-04T08:30:15", "", "2026-03-04 08:30:15"),
        ("2026/3/4", "", "2026-03-04"),
        ("04.03.2026", "", "2026-03-04"),
        ("4.3.26 8:05", "", "2026-03-04 08:05"),
        ("04.03.2026 08.30 Uhr", "", "2026-03-04 08:30"),
        ("25/3/2026", "", "2026-03-25"),
        ("3/25/2026 2:05 PM", "", "2026-03-25 14:05"),
        ("3/4/2026", DAY_FIRST, "2026-04-03"),
        ("3/4/2026", MONTH_FIRST, "2026-03-04"),
        ("3/4/2026 12:10 AM", MONTH_FIRST, "2026-03-04 00:10"),
        ("3-4-2026", DAY_FIRST, "2026-04-03"),
        ("5/5/2026", "", "2026-05-05"),
        ("4-Mar-26", "", "2026-03-04"),
        ("4. März 2026", "", "2026-03-04"),
        ("04 Dez 2025 7:00", "", "2025-12-04 07:00"),
    ],
)
def test_a_date_is_read_whoever_wrote_it(written, order, meant):
    assert read_date_cell(written, order) == meant


@pytest.mark.parametrize(
    "written",
    [
        "31.02.2026",
        "03.25.2026",
        "2026-13-01",
        "46085",
        "08:30",
        "yesterday",
        "2026-03-04 25:00",
        "2026-03-04T08:30Z",
        "4/3",
        "1.2.3.2026",
    ],
)
def test_what_is_no_date_is_no_date(written):
    assert read_date_cell(written) is None


def test_a_known_order_is_kept_even_where_only_the_other_would_fit():
    assert read_date_cell("3/25/2026", DAY_FIRST) is None
    assert read_date_cell("25/3/2026", MONTH_FIRST) is None


def test_only_a_day_above_12_proves_an_order():
    assert date_orders(["3/4/2026", "5/5/2026", "04.03.2026", "2026-03-25"]) == set()
    assert date_orders(["3/4/2026", "3/25/2026"]) == {MONTH_FIRST}
    assert date_orders(["25/3/2026", "3/25/2026"]) == {DAY_FIRST, MONTH_FIRST}
    assert is_open_date("3/4/2026") and not is_open_date("5/5/2026") and not is_open_date("04.03.2026")


@given(st.datetimes(min_value=datetime(1990, 1, 1), max_value=datetime(2099, 12, 31)), st.booleans())
def test_what_a_german_or_an_american_spreadsheet_shows_is_the_same_minute(moment, american):
    minute = moment.replace(second=0, microsecond=0)
    half = "AM" if minute.hour < 12 else "PM"
    shown = (
        f"{minute.month}/{minute.day}/{minute.year} {(minute.hour - 1) % 12 + 1}:{minute.minute:02d} {half}"
        if american
        else f"{minute.day:02d}.{minute.month:02d}.{minute.year} {minute.hour}:{minute.minute:02d}"
    )
    assert read_date_cell(shown, MONTH_FIRST if american else "") == f"{minute:%Y-%m-%d %H:%M}"


@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_every_text_comes_back_from_its_cell_and_none_can_be_run(text):
    cell = guarded(text)
    assert free_text(cell) == text
    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))


@pytest.mark.parametrize("cell", ["", " ", "n/a", "N/A", "-", "–", "\N{NO-BREAK SPACE}", "?"])
def test_what_stands_for_nothing_is_nothing(cell):
    assert free_text(cell) == ""
