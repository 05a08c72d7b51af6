"""Grades against the published tables they come from.

Sources, each beside its check: R01 Garcia et al. 2018, Clin Microbiol Rev 31(1):e00025-17, Table 5 (read);
R76 WHO intensity classes as footnoted in Parasites & Vectors 2018;11:535, Table 1 (read, second-hand);
M07 Garcia's textbook table (memory). What closes a gap of a source is marked derived.
"""

from __future__ import annotations

import pytest

from fecallab.domain.errors import BadInput
from fecallab.domain.grading import compare_grades, grade
from fecallab.reference.grading import grading_scale


class TestPerLowPowerField:
    """R01, Table 5, eggs or larvae, wet mount, 10x objective (read)."""

    scale = grading_scale("eggs_per_10x_field")

    @pytest.mark.parametrize("mean", [10, 11, 40])
    def test_ten_or_more_per_field_are_many(self, mean: float) -> None:
        assert grade(self.scale, mean=mean).word == "many"

    @pytest.mark.parametrize("mean", [3, 4, 5, 6, 7, 8, 9])
    def test_three_to_nine_per_field_are_moderate(self, mean: float) -> None:
        assert grade(self.scale, mean=mean).word == "moderate"

    @pytest.mark.parametrize(("seen", "fields"), [(2, 5), (2, 10), (1, 10)])
    def test_two_or_fewer_per_five_to_ten_fields_are_few(self, seen: int, fields: int) -> None:
        on_the_glass = round(seen / fields * 190.2)  # field number 18, 22 x 22 mm
        found = grade(self.scale, mean=seen / fields, seen=on_the_glass, whole_cover_glass=True)
        assert found.word == "few"

    @pytest.mark.parametrize("seen", [2, 3, 4, 5])
    def test_two_to_five_on_the_whole_cover_glass_are_rare(self, seen: int) -> None:
        assert grade(self.scale, seen=seen, whole_cover_glass=True).word == "rare"

    def test_the_unnamed_stretch_below_three_per_field_is_few(self) -> None:
        """Derived: the source names nothing between 2 per 5 fields and 3 per field."""
        for mean in (0.5, 1.0, 2.0, 2.9):
            assert (
                grade(self.scale, mean=mean, seen=round(mean * 190.2), whole_cover_glass=True).word == "few"
            )

    def test_one_alone_is_no_grade_of_the_source(self) -> None:
        """Derived: the source's lowest word begins at two."""
        assert grade(self.scale, seen=1, whole_cover_glass=True).word == "one seen"

    def test_the_same_slide_drops_a_grade_through_a_narrower_eyepiece(self) -> None:
        """Derived: 10 per field with field number 22 is 6.7 with 18, since areas go with the square."""
        narrower = 10 * (18 / 22) ** 2
        assert narrower == pytest.approx(6.69, abs=0.01)
        assert (grade(self.scale, mean=10).word, grade(self.scale, mean=narrower).word) == (
            "many",
            "moderate",
        )


WHO = [
    # scale, (light from, to), (moderate from, to), heavy from: R76 (read, a footnote, people)
    ("people_epg_ascaris", (1, 4_999), (5_000, 49_999), 50_000),
    ("people_epg_trichuris", (1, 999), (1_000, 9_999), 10_000),
    ("people_epg_hookworm", (1, 1_999), (2_000, 3_999), 4_000),
]


@pytest.mark.parametrize(("key", "light", "moderate", "heavy"), WHO)
def test_world_health_classes_per_gram(
    key: str, light: tuple[int, int], moderate: tuple[int, int], heavy: int
) -> None:
    scale = grading_scale(key)
    assert scale.people_only
    assert {grade(scale, mean=bound).word for bound in light} == {"light"}
    assert {grade(scale, mean=bound).word for bound in moderate} == {"moderate"}
    assert {grade(scale, mean=bound).word for bound in (heavy, 3 * heavy)} == {"heavy"}


def test_remembered_textbook_scale_per_cover_glass() -> None:
    """M07 (memory): few 2 or fewer, moderate 3 to 9, many 10 or more per cover glass."""
    scale = grading_scale("eggs_per_cover_glass")
    words = [grade(scale, seen=seen, whole_cover_glass=True).word for seen in (1, 2, 3, 9, 10, 11)]
    assert words == ["few", "few", "moderate", "moderate", "many", "many"]
    assert {step.source_kind for step in scale.steps if step.rank} == {"memory"}


def test_remembered_textbook_scale_under_oil() -> None:
    """M07 (memory): few 2 or fewer, moderate 3 to 9, many 10 or more per 10 fields under oil."""
    scale = grading_scale("protozoa_per_10_oil_fields")
    assert [grade(scale, mean=mean).word for mean in (1, 2, 3, 9, 10)] == [
        "few",
        "few",
        "moderate",
        "moderate",
        "many",
    ]


def test_the_two_egg_scales_disagree_widely_and_cannot_be_compared() -> None:
    """R01 (read) against M07 (memory): ten on the glass are 'many' on one and 'few' on the other."""
    seen = 10
    per_field = grade(
        grading_scale("eggs_per_10x_field"), mean=seen / 190.2, seen=seen, whole_cover_glass=True
    )
    per_glass = grade(grading_scale("eggs_per_cover_glass"), seen=seen, whole_cover_glass=True)
    assert (per_field.word, per_glass.word) == ("few", "many")
    with pytest.raises(BadInput):
        compare_grades(per_field, per_glass)
