"""The follow-up rule, case by case and by properties."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain import followup
from fecallab.domain.followup import (
    CaseHistory,
    DoseFact,
    ExamFact,
    FollowUpPlan,
    Pause,
    add_awake_days,
    assess,
)

OPENED = date(2026, 3, 1)
PLAN = FollowUpPlan("clear", 3, 14, 30, 2, 14, date(2026, 3, 3))
COURSE = (DoseFact(date(2026, 3, 4), "given"), DoseFact(date(2026, 3, 18), "given"))
POSITIVE = ExamFact(OPENED, "stool 0", "positive")


def exam(
    day: int, result: str = "negative", stool: str = "", grade: str = "", adequate: bool = True
) -> ExamFact:
    """An exam on the day that lies this many days after 1 March 2026."""
    return ExamFact(OPENED + timedelta(days=day), stool or f"stool {day}", result, grade, adequate)


def history(*exams: ExamFact, **changes) -> CaseHistory:
    facts = {"plan": PLAN, "doses": COURSE, "exams": (POSITIVE, *exams)} | changes
    return CaseHistory("oxyurid", OPENED, **facts)


def stands(case: CaseHistory, day: int) -> followup.Standing:
    return assess(case, OPENED + timedelta(days=day))


def test_two_negatives_nearer_than_the_spacing_count_once():
    standing = stands(history(exam(48), exam(50)), 51)
    assert (standing.standing, standing.k) == (followup.K_OF_N, 1)
    assert any(reason.code == "too-near" for reason in standing.reasons)


def test_two_exams_of_one_stool_count_once():
    standing = stands(history(exam(48, stool="a"), exam(63, stool="a")), 64)
    assert standing.k == 1


def test_a_negative_of_the_stool_that_was_positive_does_not_count():
    case = history(
        exam(60, "positive", "a"), exam(60, "negative", "a"), plan=replace(PLAN, doses_planned=0), doses=()
    )
    assert stands(case, 120).k == 0


def test_a_missed_dose_breaks_the_course_and_negatives_count_nothing():
    doses = (COURSE[0], DoseFact(date(2026, 3, 18), "missed"))
    standing = stands(history(exam(48), exam(62), exam(76), doses=doses), 80)
    assert standing.standing == followup.COURSE_INCOMPLETE
    assert standing.k == 0


@pytest.mark.parametrize("outcome", ["spat", "vomited", "partly given", "missed"])
def test_a_dose_that_did_not_stay_in_is_no_dose(outcome):
    doses = (COURSE[0], DoseFact(date(2026, 3, 18), outcome))
    assert stands(history(doses=doses), 20).standing == followup.COURSE_INCOMPLETE


def test_the_vets_word_lets_a_broken_course_count():
    doses = (COURSE[0], DoseFact(date(2026, 3, 18), "vomited"))
    case = history(exam(48), doses=doses, course_accepted_on=(date(2026, 3, 20),))
    assert stands(case, 50).standing == followup.K_OF_N


def test_a_dose_not_logged_for_a_quarter_of_its_interval_too_long_is_named():
    standing = stands(history(doses=COURSE[:1]), 40)
    assert standing.standing == followup.COURSE_INCOMPLETE
    assert standing.reasons[0].code == "dose-late"


def test_a_plan_without_a_dose_given_is_not_treated():
    assert stands(history(doses=()), 5).standing == followup.NOT_TREATED


def test_a_positive_within_the_wait_goes_back_to_the_vet_and_says_so():
    standing = stands(history(exam(31, "positive")), 32)
    assert standing.standing == followup.POSITIVE_AGAIN
    assert "within the wait" in standing.reasons[0].text


def test_negatives_after_a_late_positive_do_not_help_before_a_new_plan():
    standing = stands(history(exam(76, "positive"), exam(120), exam(140), exam(160)), 170)
    assert standing.standing == followup.POSITIVE_AGAIN


def test_a_new_plan_answers_the_late_positive():
    plan = replace(PLAN, written_on=OPENED + timedelta(days=78))
    case = history(exam(76, "positive"), plan=plan)
    assert stands(case, 79).standing == followup.NOT_TREATED
    doses = (
        *COURSE,
        DoseFact(OPENED + timedelta(days=80), "given"),
        DoseFact(OPENED + timedelta(days=94), "given"),
    )
    standing = stands(replace(case, doses=doses), 100)
    assert standing.standing == followup.WAITING
    assert standing.next_sample_on_or_after == OPENED + timedelta(days=124)


def test_without_treatment_the_wait_runs_from_the_last_positive():
    case = history(plan=replace(PLAN, doses_planned=0), doses=())
    assert stands(case, 10).standing == followup.WATCHING
    standing = stands(case, 31)
    assert standing.standing == followup.NEXT_STOOL
    assert standing.next_sample_on_or_after == OPENED + timedelta(days=30)


def test_an_unsure_mark_blocks_even_after_enough_negatives():
    case = history(exam(48), exam(50, "unsure"), exam(62), exam(76))
    standing = stands(case, 80)
    assert standing.standing == followup.VETS_WORD
    assert not standing.may_close


def test_an_unsure_mark_alone_opens_nothing():
    case = CaseHistory("oxyurid", OPENED, None, (exam(0, "unsure"),))
    assert stands(case, 1).standing == followup.VETS_WORD


def test_a_case_whose_only_positive_was_corrected_says_that_nothing_supports_it():
    case = CaseHistory("oxyurid", OPENED, None, (exam(0, "negative"),))
    standing = stands(case, 1)
    assert standing.reasons[0].code == "no-longer-supported"


def test_brumation_moves_the_wait_and_the_spacing():
    pauses = (Pause(OPENED + timedelta(days=20), OPENED + timedelta(days=80)),)
    standing = stands(history(pauses=pauses), 90)
    assert standing.next_sample_on_or_after == OPENED + timedelta(days=17 + 30 + 60)


def test_a_stool_passed_in_brumation_does_not_count():
    pauses = (Pause(OPENED + timedelta(days=50), None),)
    assert stands(history(exam(55), pauses=pauses), 60).k == 0


def test_brumation_does_not_take_back_a_reached_goal():
    case = history(exam(48), exam(62), exam(76), pauses=(Pause(OPENED + timedelta(days=80), None),))
    assert stands(case, 90).standing == followup.CLEAR


def test_low_burden_is_not_met_by_a_grade_over_the_goal():
    plan = replace(PLAN, goal="low burden", negatives_needed=2, grade_at_most="few")
    heavy = stands(history(exam(48, "positive", grade="moderate"), plan=plan), 50)
    assert heavy.standing == followup.POSITIVE_AGAIN
    unknown = stands(history(exam(48, "positive"), exam(62, "positive"), plan=plan), 70)
    assert unknown.k == 0
    glance = stands(history(exam(48, "positive", grade="few", adequate=False), plan=plan), 50)
    assert glance.k == 0


def test_words_of_different_scales_never_meet():
    plan = replace(PLAN, goal="low burden", negatives_needed=1, grade_at_most="few")
    assert stands(history(exam(48, "positive", grade="1+"), plan=plan), 50).k == 0


def test_no_number_of_negatives_clears_what_stool_cannot_show():
    case = history(exam(48), exam(62), exam(76), not_clearable=True)
    standing = stands(case, 100)
    assert (standing.standing, standing.may_close) == (followup.MANAGED, False)


def test_awake_days_skip_only_the_sleep_that_overlaps():
    pauses = [Pause(date(2026, 1, 10), date(2026, 1, 20))]
    assert add_awake_days(date(2026, 1, 1), 5, pauses, date(2026, 2, 1)) == date(2026, 1, 6)
    assert add_awake_days(date(2026, 1, 1), 15, pauses, date(2026, 2, 1)) == date(2026, 1, 26)
    assert add_awake_days(date(2026, 1, 15), 5, pauses, date(2026, 2, 1)) == date(2026, 1, 25)


def test_awake_days_count_overlapping_brumations_once():
    pauses = [Pause(date(2026, 1, 10), date(2026, 1, 20)), Pause(date(2026, 1, 15), date(2026, 1, 25))]
    assert add_awake_days(date(2026, 1, 1), 15, pauses, date(2026, 2, 1)) == date(2026, 1, 31)


def test_a_dose_of_the_old_plan_on_the_day_of_the_new_one_is_none_of_the_new_course():
    new = replace(PLAN, written_on=COURSE[-1].given_on, code="P2")
    case = history(plan=new, doses=tuple(replace(dose, plan="P1") for dose in COURSE))
    assert stands(case, 20).standing == followup.NOT_TREATED


results = st.sampled_from(["positive", "negative", "inconclusive", "unsure"])
exam_lists = st.lists(
    st.builds(exam, st.integers(1, 200), results, st.sampled_from(["", "a", "b"])), max_size=10
).map(tuple)
days = st.integers(0, 220)


@given(exam_lists, days, days)
def test_a_sure_positive_after_the_course_always_resets(exams, day, positive_day):
    case = history(*exams, exam(positive_day, "positive", "late"))
    standing = stands(case, max(day, positive_day))
    if positive_day > 17:
        assert standing.standing == followup.POSITIVE_AGAIN
        assert standing.k == 0


@given(exam_lists, st.integers(1, 200), days, st.sampled_from(["inconclusive", "unsure"]))
def test_an_inadequate_exam_never_moves_a_standing_towards_clear(exams, extra_day, day, result):
    before = stands(history(*exams), day)
    after = stands(history(*exams, exam(extra_day, result, "extra")), day)
    assert after.k <= before.k
    assert after.may_close <= before.may_close


@given(exam_lists, days)
def test_the_order_of_records_does_not_matter(exams, day):
    def told(standing: followup.Standing) -> tuple:
        return standing.standing, standing.k, standing.next_sample_on_or_after

    assert told(stands(history(*exams), day)) == told(stands(history(*reversed(exams)), day))


@given(exam_lists, days)
def test_facts_of_later_days_never_change_today(exams, day):
    past = tuple(e for e in exams if e.taken_on <= OPENED + timedelta(days=day))
    assert stands(history(*exams), day) == stands(history(*past), day)


@settings(max_examples=300)
@given(exam_lists, days)
def test_clear_by_the_rule_rests_on_enough_spaced_negatives_of_separate_stools_after_the_wait(exams, day):
    standing = stands(history(*exams), day)
    if standing.standing != followup.CLEAR:
        assert not standing.may_close
        return
    counted = standing.counted
    assert len(counted) >= PLAN.negatives_needed
    assert all(e.result == "negative" for e in counted)
    assert len({e.defecation for e in counted}) == len(counted)
    assert counted[0].taken_on >= COURSE[-1].given_on + timedelta(days=30)
    gaps = [(b.taken_on - a.taken_on).days for a, b in pairwise(counted)]
    assert min(gaps) >= PLAN.spacing_days
    later_than_course = [
        e for e in exams if e.taken_on > COURSE[-1].given_on and e.taken_on <= OPENED + timedelta(day)
    ]
    assert not any(e.result in ("positive", "unsure") for e in later_than_course)
