"""Grades: a word on a named scale, unrounded, and never compared across scales."""

from __future__ import annotations

from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.errors import BadInput
from fecallab.domain.grading import GradeStep, GradingScale, compare_grades, grade


def step(
    word: str, unit: str, lower: float, upper: float, rank: int, *, open_: bool = False, closed: bool = False
) -> GradeStep:
    return GradeStep(word, unit, lower, upper, open_, closed, rank, "", "invented", "proposal")


GLASS = "per_22x22_cover_glass"
PER_FIELD = GradingScale(
    key="fields",
    name="a scale per field",
    unit="per_10x_field",
    stages=("egg",),
    groups=("any",),
    use="default",
    people_only=False,
    steps=(
        step("many", "per_10x_field", 10, inf, 4),
        step("some", "per_10x_field", 3, 10, 3),
        step("few", GLASS, 5, inf, 2, open_=True),
        step("rare", GLASS, 1, 5, 1, closed=True),
        step("none seen", GLASS, 0, 0, 0, closed=True),
    ),
    note="",
)
PER_GLASS = GradingScale(
    key="glass",
    name="a scale per glass",
    unit=GLASS,
    stages=("egg",),
    groups=("any",),
    use="by choice",
    people_only=False,
    steps=(
        step("many", GLASS, 10, inf, 2),
        step("few", GLASS, 1, 10, 1),
        step("none seen", GLASS, 0, 0, 0, closed=True),
    ),
    note="",
)
PER_GRAM = GradingScale(
    key="gram",
    name="a scale per gram",
    unit="per_gram",
    stages=("egg",),
    groups=("any",),
    use="test data",
    people_only=True,
    steps=(
        step("heavy", "per_gram", 1000, inf, 2),
        step("light", "per_gram", 0, 1000, 1, open_=True),
        step("none seen", "per_gram", 0, 0, 0, closed=True),
    ),
    note="",
)


class TestByMean:
    @pytest.mark.parametrize(
        ("mean", "word"), [(3, "some"), (9.5, "some"), (9.999, "some"), (10, "many"), (250, "many")]
    )
    def test_compares_the_unrounded_mean_with_lower_bounds_inclusive(self, mean: float, word: str) -> None:
        assert grade(PER_FIELD, mean=mean).word == word

    def test_carries_its_scale_number_and_unit(self) -> None:
        answer = grade(PER_FIELD, mean=4.2)
        assert (answer.scale, answer.value, answer.unit) == ("fields", 4.2, "per_10x_field")
        assert str(answer) == "some (a scale per field)"

    @pytest.mark.parametrize(
        ("mean", "word"), [(0, "none seen"), (0.4, "light"), (999.9, "light"), (1e6, "heavy")]
    )
    def test_per_gram_needs_no_count(self, mean: float, word: str) -> None:
        assert grade(PER_GRAM, mean=mean).word == word


class TestOnTheWholeGlass:
    @pytest.mark.parametrize(
        ("seen", "word"), [(0, "none seen"), (1, "rare"), (5, "rare"), (6, "few"), (200, "few")]
    )
    def test_takes_the_count_where_the_mean_reaches_no_step(self, seen: int, word: str) -> None:
        assert grade(PER_FIELD, mean=seen / 190, seen=seen, whole_cover_glass=True).word == word

    def test_a_high_mean_goes_before_the_count(self) -> None:
        assert grade(PER_FIELD, mean=12, seen=4, whole_cover_glass=True).word == "many"

    def test_needs_no_mean_while_the_count_is_low(self) -> None:
        assert grade(PER_FIELD, seen=5, whole_cover_glass=True).word == "rare"

    def test_asks_for_the_mean_when_the_count_alone_could_mean_more(self) -> None:
        with pytest.raises(BadInput, match="field number") as caught:
            grade(PER_FIELD, seen=2000, whole_cover_glass=True)
        assert caught.value.reason.code == "grade-needs-mean"


class TestOnPartOfTheGlass:
    def test_nothing_seen_is_said_to_be_no_negative(self) -> None:
        answer = grade(PER_FIELD, mean=0, seen=0)
        assert answer.word == "none seen"
        assert "no negative exam" in answer.note

    def test_one_seen_is_said_to_be_perhaps_more(self) -> None:
        answer = grade(PER_FIELD, mean=0.1, seen=1)
        assert answer.word == "rare"
        assert "may be more" in answer.note

    def test_a_handful_takes_the_higher_word_and_says_so(self) -> None:
        answer = grade(PER_FIELD, mean=0.3, seen=3)
        assert answer.word == "few"
        assert "'few' or 'rare'" in answer.note

    def test_more_than_the_low_words_allow_is_sure(self) -> None:
        answer = grade(PER_FIELD, mean=1.2, seen=12)
        assert (answer.word, answer.note) == ("few", "")

    def test_a_handful_without_a_mean_is_refused(self) -> None:
        with pytest.raises(BadInput, match="mean per field decides"):
            grade(PER_FIELD, seen=3)


class TestPerGlassScale:
    @pytest.mark.parametrize(("seen", "word"), [(0, "none seen"), (1, "few"), (9, "few"), (10, "many")])
    def test_counts_the_whole_glass(self, seen: int, word: str) -> None:
        assert grade(PER_GLASS, seen=seen, whole_cover_glass=True).word == word

    def test_refuses_a_part_of_the_glass(self) -> None:
        with pytest.raises(BadInput, match="only a part was read"):
            grade(PER_GLASS, seen=4)

    def test_refuses_a_mean_per_field(self) -> None:
        with pytest.raises(BadInput, match="not per field"):
            grade(PER_GLASS, mean=4.0, seen=4, whole_cover_glass=True)


class TestBadNumbers:
    @pytest.mark.parametrize("mean", [-0.1, nan, inf])
    def test_a_mean_below_zero_or_not_finite_is_bad_input(self, mean: float) -> None:
        with pytest.raises(BadInput):
            grade(PER_FIELD, mean=mean)

    def test_a_count_below_zero_is_bad_input(self) -> None:
        with pytest.raises(BadInput):
            grade(PER_FIELD, mean=0, seen=-1)

    @pytest.mark.parametrize("scale", [PER_FIELD, PER_GLASS, PER_GRAM])
    def test_no_number_at_all_is_bad_input(self, scale: GradingScale) -> None:
        with pytest.raises(BadInput):
            grade(scale)

    def test_a_number_between_two_steps_is_bad_input_not_a_guess(self) -> None:
        holed = GradingScale(
            "holed", "a scale with a hole", "per_gram", (), (), "by choice", False,
            (step("a", "per_gram", 5, inf, 1), step("b", "per_gram", 0, 2, 0)), "",
        )  # fmt: skip
        with pytest.raises(BadInput, match="on no step"):
            grade(holed, mean=3)


class TestComparing:
    def test_orders_grades_of_one_scale(self) -> None:
        low, high = grade(PER_FIELD, mean=3), grade(PER_FIELD, mean=30)
        assert compare_grades(low, high) == -1
        assert compare_grades(high, low) == 1
        assert compare_grades(low, grade(PER_FIELD, mean=9)) == 0

    def test_refuses_the_same_word_on_another_scale(self) -> None:
        with pytest.raises(BadInput, match="do not mean the same") as caught:
            compare_grades(grade(PER_FIELD, mean=30), grade(PER_GLASS, seen=30, whole_cover_glass=True))
        assert caught.value.reason.code == "grade-other-scale"


@given(st.floats(0, 1e6), st.floats(0, 1e6))
def test_a_higher_mean_never_gets_a_lower_grade(first: float, second: float) -> None:
    low, high = sorted((first, second))
    assert compare_grades(grade(PER_GRAM, mean=low), grade(PER_GRAM, mean=high)) <= 0


@given(st.integers(0, 100_000), st.integers(0, 100_000), st.floats(1, 400))
def test_more_on_the_glass_never_gets_a_lower_grade(first: int, second: int, fields: float) -> None:
    low, high = sorted((first, second))
    grades = [grade(PER_FIELD, mean=n / fields, seen=n, whole_cover_glass=True) for n in (low, high)]
    assert compare_grades(*grades) <= 0


@given(st.integers(0, 500), st.integers(1, 150))
def test_a_part_of_the_glass_never_gets_a_lower_grade_than_the_same_count_on_all_of_it(
    seen: int, fields: int
) -> None:
    part = grade(PER_FIELD, mean=seen / fields, seen=seen)
    whole = grade(PER_FIELD, mean=seen / fields, seen=seen, whole_cover_glass=True)
    assert compare_grades(part, whole) >= 0
