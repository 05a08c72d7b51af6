"""From recorded facts to what they say: evidence, judged exams, histories, closings."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain import followup
from fecallab.domain.animal import Animal, AnimalEvent
from fecallab.domain.case import Case, Closing
from fecallab.domain.casework import (
    NO_LONGER_SUPPORTED,
    JudgedExam,
    closing_state,
    counts_of,
    evidence_of,
    history_of,
    judge_exam,
    may_close_as,
    share_at,
)
from fecallab.domain.errors import Reason, Refused
from fecallab.domain.exam import ElsewhereResult, Exam, Mark, Preparation, Reading
from fecallab.domain.followup import Standing, assess
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.sample import Sample
from fecallab.reference.adequacy import adequacy_facts
from fecallab.reference.grading import grading_scale

FACTS = adequacy_facts()
MORNING = datetime(2025, 3, 4, 8)
SAFFRON = Animal(code="A1", name="Saffron", species="Pogona vitticeps", host_group="lizard")
STOOL = Sample(
    code="S1",
    animal="A1",
    passed_from=MORNING - timedelta(minutes=30),
    passed_to=MORNING,
    collected_at=MORNING,
    form="soft",
    kept="room",
    mass_g=2.0,
)
NOTHING_AT_10 = Reading(kind="sweep", objective=10, cover_share=1, counts={"oxyurid": 0})
FLOAT = Preparation(
    code="E1-1",
    method="simple_flotation",
    read_at=MORNING + timedelta(minutes=40),
    specific_gravity=1.2,
    gravity_checked=True,
    standing_minutes=15,
    readings=(NOTHING_AT_10,),
)
WET = Preparation(
    code="E1-2",
    method="direct_saline_smear",
    read_at=MORNING + timedelta(minutes=20),
    room_c=24,
    readings=(Reading(kind="sweep", objective=40, cover_share=0.4),),
)
CHAMBER = Preparation(
    code="E1-3",
    method="mcmaster",
    read_at=MORNING + timedelta(minutes=50),
    specific_gravity=1.2,
    gravity_checked=True,
    standing_minutes=5,
    sample_g=2,
    suspension_ml=30,
    counted_ml=0.3,
)


def exam(*preparations: Preparation, **more: object) -> Exam:
    told = {"code": "E1", "sample": "S1", "examined_at": MORNING + timedelta(hours=1)} | more
    return Exam(preparations=preparations, **told)


def judged(
    whole: Exam, target: str = "oxyurid", stages: tuple[str, ...] = ("egg",), **more: object
) -> JudgedExam:
    return judge_exam(whole, more.get("sample", STOOL), more.get("animal", SAFFRON), target, stages, FACTS)


def seen(preparation: Preparation, **counts: int) -> Preparation:
    reading = preparation.readings[0] if preparation.readings else Reading(kind="chamber")
    return replace(preparation, readings=(replace(reading, counts=counts),))


# What was read


def test_an_adequate_float_with_nothing_is_negative() -> None:
    answer = judged(exam(FLOAT))
    assert (answer.result, answer.adequate) == ("negative", True)


@pytest.mark.parametrize(
    ("preparation", "target", "stage"),
    [
        (CHAMBER, "oxyurid", "egg"),
        (CHAMBER, "coccidian", "oocyst"),
        (replace(CHAMBER, method="stoll_dilution"), "trematode", "egg"),
        (Preparation(code="E1-4", method="baermann", read_at=MORNING), "rhabditid", "larva"),
        (replace(FLOAT, readings=()), "oxyurid", "egg"),
        (replace(WET, readings=()), "flagellate", "trophozoite"),
    ],
)
def test_what_nobody_read_is_no_negative(preparation: Preparation, target: str, stage: str) -> None:
    """A slide that was made and not read showed nothing because nobody looked."""
    answer = judged(exam(preparation), target, (stage,))
    assert (answer.result, answer.adequate) == ("inconclusive", False)
    assert answer.reasons[0].code == "not-read-yet"
    assert preparation.code in answer.reasons[0].text


def test_a_chamber_that_was_read_with_nothing_is_negative_with_its_bound() -> None:
    answer = judged(exam(seen(CHAMBER, oxyurid=0)))
    assert answer.result == "negative"
    bound = answer.answers["egg"].bound
    assert bound is not None and bound.unit == "per_g"


@given(st.sampled_from([FLOAT, WET, CHAMBER]), st.sampled_from(["oxyurid", "coccidian", "flagellate"]))
def test_one_more_preparation_that_nobody_read_changes_no_answer(more: Preparation, target: str) -> None:
    stage = {"oxyurid": "egg", "coccidian": "oocyst", "flagellate": "trophozoite"}[target]
    for whole in (exam(FLOAT), exam(WET), exam(FLOAT, WET), exam(seen(FLOAT, oxyurid=1))):
        with_it = exam(*whole.preparations, replace(more, code="E1-9", readings=()))
        assert judged(with_it, target, (stage,)).result == judged(whole, target, (stage,)).result


def test_a_stronger_objective_counts_for_a_weaker_one_never_the_other_way() -> None:
    both = replace(
        FLOAT,
        readings=(
            Reading(kind="sweep", objective=40, cover_share=0.3),
            Reading(kind="sweep", objective=10, cover_share=0.7),
        ),
    )
    assert share_at(both, 10) == pytest.approx(1.0)
    assert share_at(both, 40) == pytest.approx(0.3)
    assert share_at(both, 100) is None
    assert judged(exam(both)).result == "negative"
    weak = replace(FLOAT, readings=(Reading(kind="sweep", objective=4, cover_share=1),))
    assert judged(exam(weak)).result == "inconclusive"


def test_shares_never_add_up_to_more_than_the_glass() -> None:
    thrice = replace(FLOAT, readings=(NOTHING_AT_10,) * 3)
    assert share_at(thrice, 10) == 1


def test_fields_at_the_eyepiece_cover_what_the_eyepiece_shows() -> None:
    field = Reading(objective=10, field_number=20)
    assert share_at(replace(FLOAT, readings=(field,)), 10) == pytest.approx(3.14159 / 484, rel=1e-3)
    assert share_at(replace(FLOAT, readings=(replace(field, field_number=None),)), 10) is None


def test_marks_are_counted_in_place_of_typed_counts() -> None:
    marks = (Mark(x_px=1, y_px=1, name="oxyurid"), Mark(x_px=2, y_px=2, name="oxyurid", sure=False))
    whole = exam(replace(FLOAT, readings=(replace(NOTHING_AT_10, counts={"oxyurid": 9}, marks=marks),)))
    assert counts_of(whole) == {"oxyurid": 1}
    assert counts_of(whole, sure=False) == {"oxyurid": 1}


def test_age_is_taken_at_the_reading_of_each_preparation() -> None:
    late = replace(WET, read_at=MORNING + timedelta(hours=3))
    assert judged(exam(WET), "flagellate", ("trophozoite",)).result == "negative"
    assert judged(exam(late), "flagellate", ("trophozoite",)).result == "inconclusive"
    evidence = evidence_of(exam(WET, late), STOOL, SAFFRON, "flagellate", "trophozoite")
    assert [piece.passed_minutes_ago for piece in evidence.preparations] == [(20, 50), (180, 210)]


def test_a_passing_window_ends_with_the_reading() -> None:
    all_day = replace(STOOL, passed_from=datetime(2025, 3, 4), passed_to=datetime(2025, 3, 4, 23, 59))
    assert all_day.passed_minutes_ago(datetime(2025, 3, 4, 9)) == (0, 540)
    assert replace(STOOL, passed_from=None, passed_to=None).passed_minutes_ago(MORNING) is None


# What was seen


@pytest.mark.parametrize("name", ["oxyurid", "oxyurid_pharyngodon_egg", "thelandros_egg"])
def test_any_species_of_the_group_is_positive(name: str) -> None:
    assert judged(exam(seen(FLOAT, **{name: 1}))).result == "positive"


@pytest.mark.parametrize("name", ["pollen_pine", "ascarid", "coccidian", "mite"])
def test_other_things_block_no_negative(name: str) -> None:
    assert judged(exam(seen(FLOAT, **{name: 5}))).result == "negative"


def test_an_unsure_one_blocks_a_negative_and_is_no_positive() -> None:
    reading = replace(NOTHING_AT_10, unsure={"oxyurid": 1})
    assert judged(exam(replace(FLOAT, readings=(reading,)))).result == "unsure"
    both = replace(reading, counts={"oxyurid": 1})
    assert judged(exam(replace(FLOAT, readings=(both,)))).result == "positive"
    artefact = replace(NOTHING_AT_10, unsure={"pollen_pine": 1})
    assert judged(exam(replace(FLOAT, readings=(artefact,)))).result == "negative"


def test_every_stage_must_be_negative() -> None:
    assert judged(exam(FLOAT), "rhabditid", ("egg",)).result == "negative"
    whole = judged(exam(FLOAT), "rhabditid", ("egg", "larva"))
    assert (whole.result, whole.adequate) == ("inconclusive", False)
    larvae = Preparation(
        code="E1-5",
        method="baermann",
        read_at=MORNING + timedelta(hours=12),
        readings=(Reading(kind="sweep"),),
    )
    assert judged(exam(FLOAT, larvae), "rhabditid", ("egg", "larva")).result == "negative"


def test_no_stage_at_all_is_never_negative() -> None:
    assert judged(exam(FLOAT), "oxyurid", ()).result == "inconclusive"


def test_a_tub_speaks_for_itself_and_for_no_animal() -> None:
    tub = replace(SAFFRON, kind="tub", number_of_animals=4)
    assert judged(exam(FLOAT), animal=tub).result == "negative"
    assert evidence_of(exam(FLOAT), STOOL, tub, "oxyurid", "egg").asked_of == "group"


def elsewhere(result: str, adequate: bool | None = True, stage: str = "", target: str = "oxyurid") -> Exam:
    stated = ElsewhereResult(
        target=target,
        stage=stage,
        who="Lab Ouk",
        method="flotation",
        reported_on=date(2025, 3, 5),
        result=result,
        stated_adequate=adequate,
    )
    return exam(elsewhere=(stated,))


@pytest.mark.parametrize(
    ("stated", "result"),
    [
        (elsewhere("positive", None), "positive"),
        (elsewhere("negative", True), "negative"),
        (elsewhere("negative", None), "inconclusive"),
        (elsewhere("negative", False), "inconclusive"),
        (elsewhere("inconclusive", True), "inconclusive"),
        (elsewhere("negative", True, stage="larva"), "inconclusive"),
        (elsewhere("negative", True, target="coccidian"), "inconclusive"),
    ],
)
def test_a_result_from_elsewhere_is_taken_as_stated(stated: Exam, result: str) -> None:
    assert judged(stated).result == result


# Burdens


def test_a_chamber_gives_eggs_per_gram_and_a_field_a_mean() -> None:
    (chamber,) = judged(exam(seen(CHAMBER, oxyurid=27))).burdens
    assert chamber.per_gram == pytest.approx(1350)
    fields = replace(FLOAT, readings=tuple(Reading(objective=10, counts={"oxyurid": n}) for n in (0, 2, 1)))
    (burden,) = judged(exam(fields)).burdens
    assert burden.per_field is not None and burden.per_field.mean_per_field == pytest.approx(1)
    assert burden.total == 3


def test_objectives_are_never_mixed_in_one_mean() -> None:
    both = replace(
        FLOAT,
        readings=(Reading(objective=10, counts={"oxyurid": 4}), Reading(objective=40, counts={"oxyurid": 1})),
    )
    assert [(b.objective, b.total) for b in judged(exam(both)).burdens] == [(10, 4), (40, 1)]


def test_the_grade_of_a_float_on_a_wet_mount_scale_carries_a_caution() -> None:
    scale = grading_scale("eggs_per_10x_field")
    fields = tuple(Reading(objective=10, counts={"oxyurid": n}) for n in (12, 15, 11))
    for method, cautioned in (("simple_flotation", True), ("direct_saline_smear", False)):
        whole = exam(replace(FLOAT, method=method, readings=fields))
        answer = judge_exam(whole, STOOL, SAFFRON, "oxyurid", ("egg",), FACTS, scale)
        assert answer.grade is not None and answer.grade.word == "many"
        assert bool(answer.burdens[0].cautions) is cautioned


# Histories

CASE = Case(
    code="C1",
    animal="A1",
    target="oxyurid",
    stages=("egg",),
    opened_on=date(2025, 3, 4),
    opened_by_exam="E1",
)
PLAN = Plan(
    code="P1",
    case="C1",
    vet="Dr Ilse Varnholt",
    written_on=date(2025, 3, 6),
    negatives_needed=1,
    spacing_days=14,
    wait_after_last_dose_days=30,
    doses_planned=1,
    interval_days=14,
    drug="fenbendazole",
)
GIVEN = (DoseGiven(code="D1", plan="P1", given_at=datetime(2025, 3, 7, 8)),)


def told(day: int, *preparations: Preparation, code: str = "", **sample: object) -> JudgedExam:
    """A judged exam of a stool this many days after 4 March 2025, kept and read like the one of that day."""
    shift = timedelta(days=day)
    made = replace(
        STOOL,
        code=code or f"S{day + 1}",
        passed_from=STOOL.passed_from + shift,
        passed_to=STOOL.passed_to + shift,
        collected_at=STOOL.collected_at + shift,
        **sample,
    )
    moved = [replace(p, read_at=p.read_at + shift) for p in preparations]
    return judged(
        exam(*moved, code=f"E{day + 1}", sample=made.code, examined_at=MORNING + shift), sample=made
    )


POSITIVE = told(0, seen(FLOAT, oxyurid=3))


def stands(*exams: JudgedExam, on: date = date(2025, 6, 1), **more: object) -> Standing:
    parts = {"case": CASE, "plans": (PLAN,), "doses": GIVEN, "events": ()} | more
    return assess(
        history_of(parts["case"], parts["plans"], exams, parts["doses"], parts["events"], FACTS), on
    )


def test_a_negative_after_the_wait_clears_by_the_rule() -> None:
    assert stands(POSITIVE, told(40, FLOAT)).standing == followup.CLEAR
    assert stands(POSITIVE, told(20, FLOAT)).standing == followup.NEXT_STOOL
    assert stands(POSITIVE, told(40, WET)).standing == followup.NEXT_STOOL


def test_two_samples_of_one_stool_are_one() -> None:
    twice = replace(PLAN, negatives_needed=2, spacing_days=0)
    one, other = told(40, FLOAT, code="S8"), told(41, FLOAT, code="S9", same_stool_as="S8")
    assert stands(POSITIVE, one, other, plans=(twice,)).k == 1
    assert stands(POSITIVE, one, told(41, FLOAT, code="S9"), plans=(twice,)).k == 2


def test_urine_says_nothing_of_the_gut_and_stool_nothing_of_the_kidney() -> None:
    case = replace(CASE, target="flagellate", stages=("trophozoite",))

    def look(day: int, origin: str, n: int) -> JudgedExam:
        made = replace(WET, method="urine_wet_mount" if origin == "urine" else "direct_saline_smear")
        preparation = seen(made, flagellate=n)
        shift = timedelta(days=day)
        sample = replace(
            STOOL,
            code=f"S{day}",
            origin=origin,
            passed_from=STOOL.passed_to + shift,
            passed_to=STOOL.passed_to + shift,
            collected_at=STOOL.collected_at + shift,
        )
        whole = exam(
            replace(preparation, read_at=preparation.read_at + shift), code=f"E{day}", sample=sample.code
        )
        return judged(whole, "flagellate", ("trophozoite",), sample=sample)

    for first, second, cleared in (
        ("stool", "stool", True),
        ("urine", "urine", True),
        ("stool", "urine", False),
        ("urine", "stool", False),
    ):
        standing = stands(look(0, first, 5), look(40, second, 0), case=case)
        assert (standing.standing == followup.CLEAR) is cleared, (first, second)


def test_the_plan_in_force_is_the_last_one() -> None:
    stricter = replace(PLAN, code="P2", negatives_needed=3)
    assert stands(POSITIVE, told(40, FLOAT), plans=(PLAN, stricter)).n == 3
    assert stands(POSITIVE, plans=()).standing == followup.NOT_TREATED


def test_a_vets_word_about_one_case_speaks_for_no_other() -> None:
    spat = (replace(GIVEN[0], outcome="spat"), *GIVEN[1:])
    word = AnimalEvent(animal="A1", kind="vet accepts course", start=date(2025, 3, 8), case="C1", by="V")
    assert stands(POSITIVE, told(40, FLOAT), doses=spat).standing == followup.COURSE_INCOMPLETE
    assert stands(POSITIVE, doses=spat, events=(word,)).standing != followup.COURSE_INCOMPLETE
    other = replace(word, case="C2")
    assert stands(POSITIVE, doses=spat, events=(other,)).standing == followup.COURSE_INCOMPLETE


def test_brumation_moves_the_wait() -> None:
    asleep = AnimalEvent(animal="A1", kind="brumation", start=date(2025, 3, 10), end=date(2025, 3, 30))
    died = replace(asleep, kind="died", end=None)
    day = date(2025, 4, 1)
    assert stands(POSITIVE, on=day).next_sample_on_or_after == date(2025, 4, 6)
    assert stands(POSITIVE, on=day, events=(asleep,)).next_sample_on_or_after == date(2025, 4, 26)
    assert stands(POSITIVE, on=day, events=(died,)).next_sample_on_or_after == date(2025, 4, 6)


def test_what_no_stool_clears_is_never_clear() -> None:
    crypto = replace(CASE, target="coccidian", species="cryptosporidium")
    assert "cryptosporidium" in FACTS.not_clearable
    assert stands(told(40, FLOAT), case=crypto).standing == followup.MANAGED


# Closings

REACHED = Standing(followup.CLEAR, 1, 1, None, True, (Reason("goal-reached", "reached"),))
NOT_REACHED = Standing(
    followup.K_OF_N, 1, 3, date(2025, 5, 20), False, (Reason("count-so-far", "1 of 3", "Examine the next."),)
)
WAITS = Standing(
    followup.VETS_WORD, 0, 3, None, False, (Reason("unsure-mark", "An unsure mark.", "Send it."),)
)


def test_a_goal_that_is_reached_may_be_closed() -> None:
    may_close_as("goal reached", REACHED, [POSITIVE], vet="", reason="")


@pytest.mark.parametrize(("standing", "step"), [(NOT_REACHED, "20 May 2025"), (WAITS, "Send it.")])
def test_a_goal_that_is_not_reached_is_refused_with_the_way_on(standing: Standing, step: str) -> None:
    with pytest.raises(Refused) as refused:
        may_close_as("goal reached", standing, [POSITIVE], vet="", reason="")
    first, *others = refused.value.reasons
    assert first.code == "goal-not-reached" and step in first.next
    assert tuple(others) == standing.reasons


@pytest.mark.parametrize(("vet", "reason"), [("", ""), ("Dr Ilse Varnholt", ""), ("", "moved")])
def test_an_earlier_end_needs_a_named_vet_and_a_reason(vet: str, reason: str) -> None:
    with pytest.raises(Refused) as refused:
        may_close_as("on a vet's order", NOT_REACHED, [POSITIVE], vet=vet, reason=reason)
    assert refused.value.reason.code == "order-missing"
    may_close_as("on a vet's order", NOT_REACHED, [POSITIVE], vet="Dr Ilse Varnholt", reason="moved")


def test_a_case_is_withdrawn_only_when_nothing_sure_is_left() -> None:
    with pytest.raises(Refused, match="E1"):
        may_close_as("withdrawn: reading corrected", NOT_REACHED, [POSITIVE], vet="", reason="")
    may_close_as("withdrawn: reading corrected", NOT_REACHED, [told(0, FLOAT)], vet="", reason="")


def test_what_an_earlier_case_found_does_not_hold_this_one_open() -> None:
    earlier = replace(POSITIVE, of_case=False)
    may_close_as("withdrawn: reading corrected", NOT_REACHED, [earlier], vet="", reason="")
    assert stands(earlier, plans=(), doses=()).standing == followup.VETS_WORD
    assert stands(earlier, told(0, seen(FLOAT, oxyurid=1)), plans=()).standing == followup.NOT_TREATED


@pytest.mark.parametrize("ending", ["animal died", "animal left"])
def test_an_animal_that_is_gone_ends_its_case_wherever_it_stands(ending: str) -> None:
    may_close_as(ending, NOT_REACHED, [POSITIVE], vet="", reason="")


def closing(ending: str, **more: str) -> Closing:
    return Closing(code="K1", case="C1", closed_on=date(2025, 5, 23), by="Mara Quell", ending=ending, **more)


def test_a_closing_that_still_holds_says_how_it_was() -> None:
    assert closing_state(closing("goal reached"), REACHED, []) == "closed on 23 May 2025: goal reached"
    order = closing("on a vet's order", vet="Dr Ilse Varnholt", reason="moved")
    assert closing_state(order, NOT_REACHED, []).endswith("on a vet's order (Dr Ilse Varnholt: moved)")
    assert "died" in closing_state(closing("animal died"), NOT_REACHED, [POSITIVE])


def test_a_closing_whose_basis_is_gone_says_so() -> None:
    assert closing_state(closing("goal reached"), NOT_REACHED, []) == NO_LONGER_SUPPORTED
    withdrawn = closing("withdrawn: reading corrected")
    assert closing_state(withdrawn, WAITS, [POSITIVE]) == NO_LONGER_SUPPORTED
    assert closing_state(withdrawn, WAITS, [told(0, FLOAT)]).startswith("closed on")
    earlier_case = replace(POSITIVE, of_case=False)
    assert closing_state(withdrawn, WAITS, [earlier_case]).startswith("closed on")
    later = told(100, seen(FLOAT, oxyurid=1))
    assert closing_state(withdrawn, WAITS, [later]).startswith("closed on"), "a later find is a new case"
