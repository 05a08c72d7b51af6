"""The scales of the table: gaps closed as said, plus signs off, protozoa without a published scale."""

from __future__ import annotations

import pytest

from fecallab.domain.errors import BadInput
from fecallab.domain.grading import grade
from fecallab.reference.grading import default_scale, grading_scale, grading_scales


@pytest.mark.parametrize(
    ("mean", "seen", "word"),
    [
        (10.0, 1900, "many"),
        (9.99, 1900, "moderate"),
        (3.0, 570, "moderate"),
        (2.99, 568, "few"),
        (0.4, 76, "few"),
        (6 / 190, 6, "few"),
        (5 / 190, 5, "rare"),
        (2 / 190, 2, "rare"),
        (1 / 190, 1, "one seen"),
        (0.0, 0, "none seen"),
    ],
)
def test_the_scale_per_low_power_field(mean: float, seen: int, word: str) -> None:
    scale = grading_scale("eggs_per_10x_field")
    assert grade(scale, mean=mean, seen=seen, whole_cover_glass=True).word == word


@pytest.mark.parametrize(
    ("mean", "word"),
    [(0, "none seen"), (0.2, "1+"), (1, "2+"), (5.9, "2+"), (6, "3+"), (10, "3+"), (10.1, "4+")],
)
def test_the_house_scale_of_plus_signs(mean: float, word: str) -> None:
    assert grade(grading_scale("house_plus_signs"), mean=mean).word == word


@pytest.mark.parametrize(
    ("seen", "word"), [(0, "none seen"), (2, "few"), (3, "moderate"), (9, "moderate"), (10, "many")]
)
def test_the_remembered_scale_per_cover_glass(seen: int, word: str) -> None:
    scale = grading_scale("eggs_per_cover_glass")
    assert grade(scale, seen=seen, whole_cover_glass=True).word == word


@pytest.mark.parametrize(("mean", "word"), [(0, "none seen"), (2, "few"), (3, "moderate"), (10, "many")])
def test_the_remembered_scale_under_oil(mean: float, word: str) -> None:
    assert grade(grading_scale("protozoa_per_10_oil_fields"), mean=mean).word == word


@pytest.mark.parametrize("group", ["flagellate", "ciliate", "amoeba", "coccidian"])
@pytest.mark.parametrize("stage", ["trophozoite", "cyst", "oocyst"])
def test_protozoa_have_no_default_scale(group: str, stage: str) -> None:
    assert default_scale(group, stage) is None


def test_artefacts_are_not_graded() -> None:
    assert default_scale("artefact", "egg") is None


def test_scales_made_for_people_are_never_a_default() -> None:
    for scale in grading_scales().values():
        assert not scale.people_only or scale.use == "test data"


def test_an_unknown_scale_lists_the_known_ones() -> None:
    with pytest.raises(BadInput, match="eggs_per_10x_field"):
        grading_scale("plus")
