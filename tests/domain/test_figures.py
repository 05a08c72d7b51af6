"""Figures are read exactly, or refused with what to type instead."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.errors import BadInput
from fecallab.domain.figures import figure_in_words, figure_text, read_figure


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("0,5", "0.5"),
        ("0,500", "0.500"),
        ("12,5", "12.5"),
        ("1,2345", "1.2345"),
        (".5", "0.5"),
        ("420", "420"),
        (" 420 g ", "420"),
        ("420g", "420"),
        ("1e3", "1E+3"),
    ],
)
def test_reads_a_plain_figure_with_its_own_unit_or_none(typed: str, read: str) -> None:
    assert read_figure(typed, "g", "--weight-g") == Decimal(read)


@pytest.mark.parametrize(
    ("typed", "unit", "code", "told"),
    [
        ("1,234", "g", "number-ambiguous", "1234 or 1.234"),
        ("7.5 %", "mg_per_ml", "strength-percent", "type 75"),
        ("7,5%", "mg_per_ml", "strength-percent", "type 75"),
        ("1:10", "mg_per_ml", "strength-ratio", "ml of diluent"),
        ("1 in 10", "mg_per_ml", "strength-ratio", "ml of diluent"),
        ("1/10", "mg_per_ml", "strength-ratio", "ml of diluent"),
        ("222 mg/g", "mg_per_ml", "strength-per-gram", "suspension"),
        ("150 mg per g", "mg_per_ml", "strength-per-gram", "suspension"),
        ("0.42 kg", "g", "unit-wrong", "420"),
        ("1 lb", "g", "unit-wrong", "453.592"),
        ("1 oz", "g", "unit-wrong", "28.3495"),
        ("200 µg/kg", "mg_per_kg", "unit-wrong", "0.2"),
        ("200 mcg/kg", "mg_per_kg", "unit-wrong", "0.2"),
        ("3 ml/kg", "mg_per_kg", "unit-wrong", "mg per ml on the label"),
        ("2 days", "hours", "unit-wrong", "48"),
        ("inf", "g", "number-unreadable", "one number"),
        ("nan", "g", "number-unreadable", "one number"),
        ("", "g", "number-unreadable", "one number"),
        (",", "g", "number-unreadable", "one number"),
        ("1.2.3", "g", "number-unreadable", "one number"),
        ("1,234.5", "g", "number-unreadable", "one number"),
        ("½", "g", "number-unreadable", "one number"),
    ],
)
def test_refuses_what_can_be_misread_and_says_what_to_type(
    typed: str, unit: str, code: str, told: str
) -> None:
    with pytest.raises(BadInput) as caught:
        read_figure(typed, unit, "--option")
    assert caught.value.reason.code == code
    assert told in caught.value.reason.next
    assert "--option" in caught.value.reason.text


@settings(deadline=None)
@given(st.text(max_size=30), st.sampled_from(["g", "mg_per_kg", "mg_per_ml", "ml", "hours"]))
def test_any_text_is_read_as_a_finite_figure_or_refused_with_a_way_forward(text: str, unit: str) -> None:
    try:
        value = read_figure(text, unit, "--option")
    except BadInput as refused:
        assert refused.reason.next
    else:
        assert value.is_finite()


@settings(deadline=None)
@given(st.decimals(min_value=0, max_value=99999, places=4))
def test_what_is_typed_plainly_comes_back_exactly(value: Decimal) -> None:
    assert read_figure(f"{value:f}", "g", "--weight-g") == value


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("0.42", "zero point four two"),
        ("1.0", "one"),
        ("10.05", "ten point zero five"),
        ("17.5", "seventeen point five"),
        ("21", "twenty-one"),
        ("105", "one hundred five"),
        ("1250", "one thousand two hundred fifty"),
        ("100000", "one hundred thousand"),
        ("1234567", "one two three four five six seven"),
    ],
)
def test_says_a_figure_in_words_digit_by_digit_behind_the_point(value: str, words: str) -> None:
    assert figure_in_words(Decimal(value)) == words


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        ("0.5", "0.5"),
        ("1.0", "1"),
        ("0", "0"),
        ("2.666666666666", "2.66667"),
        ("-1.17647", "-1.17647"),
        ("12500", "12\N{NO-BREAK SPACE}500"),
        ("0.000001", "0.000001"),
        ("1E+2", "100"),
    ],
)
def test_writes_a_leading_zero_and_no_trailing_one(value: str, shown: str) -> None:
    assert figure_text(Decimal(value)) == shown
