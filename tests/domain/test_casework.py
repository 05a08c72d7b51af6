"""From recorded facts to what they say: evidence, judged exams, histories, closings."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.casework import (
    counts_of,
    evidence_of,
    judge_exam,
    share_at,
)
from fecallab.domain.exam import Exam, Mark, Preparation, Reading
from fecallab.reference.grading import grading_scale

from .casework_exams import (
    CHAMBER,
    FACTS,
    FLOAT,
    MORNING,
    NOTHING_AT_10,
    SAFFRON,
    STOOL,
    WET,
    elsewhere,
    exam,
    judged,
    seen,
)

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
