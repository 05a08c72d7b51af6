"""Control runs are judged by limits; what they say beside a negative follows from the last and the next one."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.control import (
    ControlLimits,
    ControlPlanRow,
    ControlRun,
    control_due,
    gravity_by_weighing,
    judge_blank,
    judge_blind,
    judge_gravity,
    judge_known_positive,
    judge_scale,
    poisson_band,
)
from fecallab.domain.control_note import NONE, NOT_PROVEN, PASSED, control_note, control_states
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import ElsewhereResult, Exam, Preparation, Reading

LIMITS = ControlLimits(
    band_level=0.95,
    strong_mean=20,
    zero_stops_from_mean=10,
    own_runs=10,
    own_warn_sd=2,
    own_stop_sd=3,
    gravity_tolerance=0.01,
    scale_share=0.02,
)


def run(day: int, *, passed: bool = True, kind: str = "known positive", **more: Any) -> ControlRun:
    more.setdefault("method", "simple_flotation" if kind == "known positive" else "")
    return ControlRun(kind=kind, done_at=datetime(2026, 3, day, 10), passed=passed, **more)


def exam(day: int, *methods: str, **more: Any) -> Exam:
    parts = tuple(
        Preparation(method=method, solution="zinc", readings=(Reading(),))
        for method in methods or ("simple_flotation",)
    )
    return Exam(sample="S1", examined_at=datetime(2026, 3, day, 9), preparations=parts, **more)


class TestBand:
    @given(st.floats(0.1, 3000), st.floats(0.5, 0.999))
    def test_holds_the_mean_and_grows_with_the_level(self, mean: float, level: float) -> None:
        low, high = poisson_band(mean, level)
        assert 0 <= low <= high
        assert low <= mean + 1 and high >= mean - 1
        wider = poisson_band(mean, level + (1 - level) / 2)
        assert wider[0] <= low and wider[1] >= high

    @pytest.mark.parametrize("mean", [0, -1, float("nan"), float("inf"), 10_001])
    def test_needs_a_mean_that_can_be(self, mean: float) -> None:
        with pytest.raises(BadInput, match="long-run mean"):
            poisson_band(mean, 0.95)


class TestKnownPositive:
    @pytest.mark.parametrize(
        ("found", "passed"), [(0, False), (11, False), (12, True), (29, True), (30, True)]
    )
    def test_passes_from_the_low_end_of_the_band_on(self, found: int, passed: bool) -> None:
        answer = judge_known_positive(found, 20, [], LIMITS)
        assert answer.passed is passed
        assert "band 12 to 29" in answer.judged

    def test_more_than_the_band_finds_but_is_odd(self) -> None:
        assert "More than the band" in judge_known_positive(30, 20, [], LIMITS).caution
        assert judge_known_positive(29, 20, [], LIMITS).caution == ""

    def test_a_weak_control_says_so(self) -> None:
        assert "A mean of 20" in judge_known_positive(8, 8, [], LIMITS).caution

    @pytest.mark.parametrize(("found", "passed"), [(0, False), (1, True)])
    def test_without_a_mean_finding_any_is_enough(self, found: int, passed: bool) -> None:
        assert judge_known_positive(found, None, [], LIMITS).passed is passed

    def test_none_found_never_passes_however_small_the_mean(self) -> None:
        assert not judge_known_positive(0, 0.5, [], LIMITS).passed

    def test_ten_own_runs_replace_the_band(self) -> None:
        own = [18, 22, 20, 19, 21, 20, 24, 16, 20, 20]  # mean 20, standard deviation 2.16
        assert judge_known_positive(17, 40, own, LIMITS).caution == ""
        assert "Low" in judge_known_positive(15, 40, own, LIMITS).caution
        assert judge_known_positive(15, 40, own, LIMITS).passed
        assert not judge_known_positive(13, 40, own, LIMITS).passed
        assert "band" in judge_known_positive(13, 40, own[:9], LIMITS).judged

    def test_none_found_stops_however_wide_the_own_scatter(self) -> None:
        assert not judge_known_positive(0, None, [1, 40] * 5, LIMITS).passed


def test_a_blank_holds_nothing() -> None:
    assert judge_blank(0).passed
    assert not judge_blank(1).passed


@pytest.mark.parametrize(
    ("measured", "passed"), [(1.17, True), (1.19, True), (1.1699, False), (1.1901, False)]
)
def test_a_gravity_lies_within_the_tolerance(measured: float, passed: bool) -> None:
    answer = judge_gravity(measured, 1.18, LIMITS)
    assert answer.passed is passed
    assert passed or ("Add salt" in answer.caution) is (measured < 1.18)


@given(st.floats(10, 500), st.floats(1, 1000), st.floats(0.95, 1.4))
def test_a_gravity_by_weighing_does_not_hang_on_the_flask(
    empty: float, volume: float, gravity: float
) -> None:
    found = gravity_by_weighing(empty, empty + 0.998 * volume, empty + 0.998 * volume * gravity)
    assert found == pytest.approx(gravity, rel=1e-6)


@pytest.mark.parametrize("weights", [(100, 90, 95), (50, 50, 60), (-1, 10, 12), (50, 150, 50)])
def test_a_flask_that_cannot_be_is_refused(weights: tuple[float, float, float]) -> None:
    with pytest.raises(BadInput, match="same dry flask"):
        gravity_by_weighing(*weights)


@pytest.mark.parametrize(
    ("measured", "passed"), [(0.255, True), (0.2451, True), (0.2551, False), (0.24, False)]
)
def test_two_readings_of_the_scale_agree(measured: float, passed: bool) -> None:
    assert judge_scale(0.25, measured, LIMITS).passed is passed


@pytest.mark.parametrize(
    ("found", "passed"),
    [
        ({"oxyurid": 10}, True),
        ({"oxyurid": 4}, False),
        ({}, False),
        ({"oxyurid": 10, "ascarid": 1}, False),
        ({"oxyurid": 10, "ascarid": 0}, True),
    ],
)
def test_a_slide_read_blind_shows_the_same(found: dict[str, int], passed: bool) -> None:
    assert judge_blind({"oxyurid": 12}, found, LIMITS).passed is passed


class TestDue:
    row = ControlPlanRow(
        kind="known positive", how="", longest_days=91, while_examining_days=31, each_new_bottle=True
    )

    def due(self, runs: list[ControlRun], today: date, exams: tuple[date, ...] = ()) -> Any:
        return control_due(self.row, runs, exams, today)

    def test_what_was_never_done_is_due(self) -> None:
        assert self.due([], date(2026, 3, 4)).due
        assert self.due([run(9)], date(2026, 3, 8)).last is None, "what comes later is not looked at"

    def test_every_three_months_at_the_latest(self) -> None:
        day = date(2026, 3, 4)
        assert not self.due([run(4)], day + timedelta(days=90)).due
        assert self.due([run(4)], day + timedelta(days=91)).due
        assert self.due([run(4)], day).due_on == day + timedelta(days=91)

    def test_monthly_while_examining(self) -> None:
        day = date(2026, 3, 4)
        later = (day + timedelta(days=3),)
        assert self.due([run(4)], day + timedelta(days=31), later).due
        assert not self.due([run(4)], day + timedelta(days=30), later).due
        assert not self.due([run(4)], day + timedelta(days=31), (day,)).due, "no exam since"

    def test_each_new_bottle(self) -> None:
        old, gravity = run(4, bottle="A"), run(6, kind="gravity", bottle="B")
        found = self.due([old, gravity], date(2026, 3, 7))
        assert found.due and "'B'" in found.why
        assert not self.due([old, gravity, run(7, bottle="B")], date(2026, 3, 7)).due

    def test_a_failed_one_is_due_at_once(self) -> None:
        assert self.due([run(4), run(5, passed=False)], date(2026, 3, 5)).why == "the last one failed"


class TestNote:
    def state(self, runs: list[ControlRun], of: Exam) -> str:
        return control_states(runs, of)[0].state

    def test_no_run_is_said(self) -> None:
        assert control_note([], exam(9)) == "no control run recorded"
        assert self.state([], exam(9)) == NONE

    def test_the_last_passed_run_before_the_exam_is_named(self) -> None:
        runs = [run(2), run(4), run(20)]
        assert control_note(runs, exam(9)) == "control passed on 4 March 2026 (known positive)"
        assert control_note(runs, exam(4)) == "control passed on 4 March 2026 (known positive)"

    def test_a_run_that_fails_later_puts_what_lies_between_in_doubt(self) -> None:
        runs = [run(4), run(20, passed=False)]
        note = control_note(runs, exam(9))
        assert note == (
            "control failed on 20 March 2026 (known positive): negatives since the last good run of 4 March 2026"
            " are not proven; positives stand"
        )
        assert self.state(runs, exam(3)) == NONE, "the good run of the 4th lies between"

    def test_what_follows_a_failed_run_is_in_doubt_until_a_good_one(self) -> None:
        runs = [run(4), run(10, passed=False), run(20), run(25)]
        assert self.state(runs, exam(12)) == NOT_PROVEN
        assert self.state(runs, exam(20)) == PASSED
        assert "before a good run" in control_note([run(10, passed=False)], exam(12))

    def test_the_last_run_of_a_day_decides_so_that_it_can_be_repeated_once(self) -> None:
        again = ControlRun(
            kind="known positive", method="simple_flotation", done_at=datetime(2026, 3, 10, 12), passed=True
        )
        assert self.state([run(10, passed=False), again], exam(12)) == PASSED
        assert self.state([again, run(10, passed=False)], exam(12)) == PASSED, "in any order"

    def test_a_run_speaks_for_its_own_method(self) -> None:
        both = exam(9, "simple_flotation", "direct_saline_smear")
        note = control_note([run(4)], both)
        assert note == (
            "simple flotation: control passed on 4 March 2026 (known positive);"
            " direct saline smear: no control run recorded"
        )

    def test_a_gravity_that_is_off_speaks_for_floats_in_the_same_fluid(self) -> None:
        off = run(12, passed=False, kind="gravity", solution="Zinc")
        assert self.state([run(4), off], exam(9)) == NOT_PROVEN
        assert (
            self.state([run(4), run(12, passed=False, kind="gravity", solution="sugar")], exam(9)) == PASSED
        )
        smear = run(4, method="direct_saline_smear")
        assert self.state([smear, off], exam(9, "direct_saline_smear")) == PASSED
        assert self.state([run(4, kind="gravity", solution="zinc")], exam(9)) == NONE, "it shows no egg"

    def test_a_slide_read_blind_shows_the_reader_not_the_method(self) -> None:
        blind = run(4, kind="slide read blind")
        assert control_note([blind], exam(9)) == (
            "no known positive recorded; slide read blind passed on 4 March 2026"
        )
        assert self.state([run(2), run(20, kind="slide read blind", passed=False)], exam(9)) == NOT_PROVEN

    def test_blank_and_scale_say_nothing_of_a_negative(self) -> None:
        runs = [
            run(8, kind="blank", method="simple_flotation"),
            run(8, kind="microscope scale", passed=False),
        ]
        assert control_note(runs, exam(9)) == "no control run recorded"

    def test_other_people_have_their_own_controls(self) -> None:
        result = ElsewhereResult(
            target="oxyurid", who="lab", method="flotation", reported_on=date(2026, 3, 9), result="negative"
        )
        away = Exam(sample="S1", examined_at=datetime(2026, 3, 9), elsewhere=(result,))
        assert control_note([run(4, passed=False)], away) == ""
        assert control_note([run(4)], exam(9, as_told=True)) == "as told, not seen here"
        assert control_states([run(4)], exam(9, as_told=True)) == ()

    def test_a_preparation_that_nobody_read_has_no_note(self) -> None:
        unread = Exam(
            sample="S1",
            examined_at=datetime(2026, 3, 9),
            preparations=(Preparation(method="simple_flotation"),),
        )
        assert control_note([run(4)], unread) == ""

    @given(st.lists(st.tuples(st.integers(1, 28), st.booleans()), max_size=6), st.integers(1, 28))
    def test_no_negative_is_called_proven_while_the_nearest_runs_failed(
        self, runs: list[tuple[int, bool]], day: int
    ) -> None:
        known = dict(runs)
        state = self.state([run(number, passed=passed) for number, passed in known.items()], exam(day))
        before = [known[number] for number in sorted(known) if number <= day]
        after = [known[number] for number in sorted(known) if number > day]
        nearest = [*before[-1:], *after[:1]]
        if not all(nearest):
            assert state == NOT_PROVEN
        else:
            assert state == (PASSED if before else NONE)
