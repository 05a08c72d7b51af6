"""Cautions stand beside their act, with where they are from."""

from __future__ import annotations

import pytest

from fecallab.domain.safety import ACTS, CAUTIONS, act_of_route, cautions_for


def test_codes_are_unique_and_acts_are_known() -> None:
    codes = [caution.code for caution in CAUTIONS]
    assert len(set(codes)) == len(codes)
    assert {act for caution in CAUTIONS for act in caution.acts} == set(ACTS)


def test_every_caution_is_short_and_names_its_source() -> None:
    for caution in CAUTIONS:
        assert len(caution.text) <= 240
        assert caution.text.endswith(".")
        assert caution.source
        assert caution.source_kind in {"read", "memory", "common practice"}


@pytest.mark.parametrize(
    ("act", "code"),
    [
        ("dose by mouth", "aspiration"),
        ("tube", "tube-in-windpipe"),
        ("tube", "air-out-first"),
        ("tube", "backing-up"),
        ("dilution", "mixed-in-a-vial"),
        ("fluids", "fluids-under-the-skin"),
        ("feeding", "warm-water-food"),
        ("dose by mouth", "not-in-food"),
        ("injection", "sharps"),
        ("topical", "skin-treatment"),
        ("microscope bench", "salmonella"),
        ("disposal", "leftovers"),
        ("law", "law-off-label"),
        ("closing a case", "end-is-an-exam"),
    ],
)
def test_the_caution_of_an_act_stands_beside_it(act: str, code: str) -> None:
    assert code in {caution.code for caution in cautions_for(act)}


def test_an_unknown_act_is_an_error_of_the_caller() -> None:
    with pytest.raises(ValueError, match="no such act"):
        cautions_for("dancing")


@pytest.mark.parametrize(
    ("route", "act"),
    [
        ("PO", "dose by mouth"),
        ("", "dose by mouth"),
        ("SC", "injection"),
        ("IM", "injection"),
        ("TOP", "topical"),
    ],
)
def test_the_act_of_a_route(route: str, act: str) -> None:
    assert act_of_route(route) == act
