"""Counting at the eyepiece: what acts add up to, and that everything can be undone."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.adequacy import judge
from fecallab.domain.animal import Animal
from fecallab.domain.burden import share_at
from fecallab.domain.casework import evidence_of
from fecallab.domain.counting import field_density
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Exam, Preparation, Reading
from fecallab.domain.sample import Sample
from fecallab.domain.tally import (
    COUNT,
    FIELD_NUMBER,
    NEXT,
    OBJECTIVE,
    ORGANISM,
    SHARE,
    SWEEP,
    Act,
    after,
    new_tally,
)
from fecallab.domain.tally_course import Course
from fecallab.domain.tally_missing import in_lines, still_missing
from fecallab.reference.adequacy import adequacy_facts

START = new_tally(40, 20, ["flagellate", "oxyurid"], ["artefact"])
names = st.sampled_from(["flagellate", "oxyurid", "artefact", "ciliate"])
acts = st.one_of(
    st.builds(Act, st.just(COUNT), names, st.booleans()),
    st.just(Act(NEXT)),
    st.just(Act(SWEEP)),
    st.builds(Act, st.just(SHARE), value=st.one_of(st.none(), st.floats(0, 1))),
    st.builds(Act, st.just(ORGANISM), st.sampled_from(["ciliate", "amoeba", "oxyurid", ""])),
    st.builds(Act, st.just(OBJECTIVE), value=st.sampled_from([10.0, 40.0, -1.0])),
    st.builds(Act, st.just(FIELD_NUMBER), value=st.sampled_from([None, 18.0, 22.0, 500.0])),
)


def done(*many: Act, start=START):
    course = Course(start)
    for act in many:
        course = course.do(act)
    return course.now


def played(many):
    """All acts that could be meant, one after the other; the others changed nothing."""
    course, kept = Course(START), []
    for act in many:
        try:
            course = course.do(act)
        except BadInput:
            continue
        kept.append(act)
    return course, kept


@given(st.lists(acts, max_size=60))
def test_undoing_everything_returns_to_the_start_and_redoing_to_the_end(many):
    course, kept = played(many)
    back = course
    for _ in kept:
        back = back.undo()
    assert back.now == START and back.past == ()
    with pytest.raises(BadInput):
        back.undo()
    for _ in kept:
        back = back.redo()
    assert back == course
    with pytest.raises(BadInput):
        back.redo()


@given(st.lists(acts, max_size=60), acts)
def test_what_was_undone_is_gone_after_another_act(many, another):
    course, kept = played(many)
    if not kept:
        return
    try:
        gone_on = course.undo().do(another)
    except BadInput:
        return
    assert gone_on.undone == ()
    assert gone_on.undo().now == course.undo().now


@given(st.lists(acts, max_size=80))
def test_every_count_is_in_the_readings_once(many):
    course, kept = played(many)
    readings = course.now.readings()
    for sure in (True, False):
        counted = [act.name for act in kept if act.kind == COUNT and act.sure is sure]
        for name in set(counted):
            assert sum(r.tally(sure=sure).get(name, 0) for r in readings) == counted.count(name)
            assert course.now.in_all(name, sure=sure) == counted.count(name)
    assert course.now.total() == sum(act.kind == COUNT for act in kept)


@given(st.lists(acts, max_size=80))
def test_every_finished_field_is_a_reading_zeros_too(many):
    course, kept = played(many)
    fields = [r for r in course.now.readings(open_too=False) if r.kind == "field"]
    assert len(fields) >= sum(act.kind == NEXT for act in kept)
    assert len(fields) == course.now.number - 1
    assert all(r.cover_share is None for r in fields)
    assert all(r.objective in (10, 40) for r in fields)


def test_a_field_without_a_key_is_a_stored_zero():
    tally = done(Act(NEXT), Act(COUNT, "oxyurid"), Act(NEXT), Act(NEXT))
    assert [dict(r.counts) for r in tally.readings()] == [{}, {"oxyurid": 1}, {}]
    assert tally.number == 4


def test_the_field_that_is_looked_at_now_counts_only_when_something_was_seen_or_the_person_says_so():
    assert len(done(Act(NEXT)).readings()) == 1
    assert len(done(Act(NEXT)).readings(open_too=True)) == 2
    assert len(done(Act(NEXT), Act(COUNT, "oxyurid")).readings()) == 2


def test_unsure_ones_are_kept_apart_and_never_in_the_mean():
    tally = done(Act(COUNT, "oxyurid"), Act(COUNT, "oxyurid", sure=False), Act(NEXT), Act(NEXT))
    assert tally.in_all("oxyurid") == 1 and tally.in_all("oxyurid", sure=False) == 1
    assert tally.readings()[0].unsure == {"oxyurid": 1}
    assert tally.density("oxyurid") == field_density([1, 0])


def test_the_mean_is_of_finished_fields_at_this_objective():
    tally = done(Act(COUNT, "oxyurid"), Act(NEXT), Act(COUNT, "oxyurid"))
    assert tally.density("oxyurid") == field_density([1])
    changed = after(tally, Act(OBJECTIVE, value=10))
    assert changed.density("oxyurid") is None
    assert [r.objective for r in changed.readings()] == [40, 40]


def test_a_sweep_gets_its_share_at_the_end():
    tally = done(Act(SWEEP), Act(COUNT, "oxyurid"), Act(COUNT, "oxyurid"), Act(SHARE, value=0.4))
    (sweep,) = tally.readings()
    assert (sweep.kind, sweep.cover_share, dict(sweep.counts)) == ("sweep", 0.4, {"oxyurid": 2})
    assert not tally.sweeping and tally.number == 1


def test_a_sweep_that_showed_nothing_and_covered_nothing_is_no_reading():
    assert done(Act(SWEEP), Act(SHARE, value=0.0)).readings() == ()
    assert done(Act(SWEEP), Act(SHARE)).readings() == ()
    assert done(Act(SWEEP), Act(SHARE, value=1.0)).readings()[0].cover_share == 1.0


def test_an_untouched_field_is_not_recorded_by_beginning_a_sweep_or_changing_the_objective():
    assert done(Act(SWEEP), Act(SHARE, value=0.3)).readings()[0].kind == "sweep"
    assert done(Act(OBJECTIVE, value=10), Act(NEXT)).readings() == (
        Reading(kind="field", objective=10, field_number=20),
    )


@pytest.mark.parametrize(
    "wrong",
    [
        [Act(SHARE, value=0.3)],
        [Act(SWEEP), Act(NEXT)],
        [Act(SWEEP), Act(SWEEP)],
        [Act(SWEEP), Act(OBJECTIVE, value=10)],
        [Act(SWEEP), Act(SHARE, value=1.1)],
        [Act(OBJECTIVE)],
        [Act(OBJECTIVE, value=float("nan"))],
        [Act(FIELD_NUMBER, value=3)],
        [Act(COUNT)],
        [Act(ORGANISM, "oxyurid")],
        [Act(ORGANISM, "artefact")],
        [Act("wipe")],
    ],
    ids=lambda acts: "-".join(act.kind for act in acts),
)
def test_what_cannot_be_meant_is_refused(wrong):
    course = Course(START)
    for act in wrong[:-1]:
        course = course.do(act)
    with pytest.raises(BadInput):
        course.do(wrong[-1])


def test_a_new_organism_takes_the_next_free_key_then_the_second_row_then_none():
    tally = new_tally(10, 20, [f"a{i}" for i in range(8)], [f"b{i}" for i in range(8)])
    for name in ("ninth", "last"):
        tally = after(tally, Act(ORGANISM, name))
    assert tally.first[8] == "ninth" and tally.second[8] == "last"
    with pytest.raises(BadInput, match="All keys are taken"):
        after(tally, Act(ORGANISM, "more"))


def test_a_chamber_has_no_sweep_and_no_field_number():
    start = new_tally(10, None, ["oxyurid"], chamber=True)
    tally = done(Act(COUNT, "oxyurid"), Act(NEXT), Act(NEXT), start=start)
    assert [r.kind for r in tally.readings()] == ["chamber", "chamber"]
    assert tally.density("oxyurid") is None
    with pytest.raises(BadInput):
        after(tally, Act(SWEEP))


# What is still missing for a negative

ANIMAL = Animal(code="A1", name="Saffron", host_group="lizard")


def bench(method="direct_saline_smear", minutes=20, **more):
    passed = datetime(2025, 3, 4, 8)
    sample = Sample(
        code="S1",
        animal="A1",
        passed_from=passed,
        passed_to=passed,
        collected_at=passed,
        form="soft",
        kept="room",
        mass_g=2.0,
    )
    preparation = Preparation(
        code="E1-1", method=method, read_at=passed + timedelta(minutes=minutes), room_c=24, **more
    )
    return Exam(code="E1", sample="S1", examined_at=preparation.read_at), preparation, sample


def missing(tally, target="flagellate", stage="trophozoite", **more):
    exam, preparation, sample = bench(**more)
    joined = tally.joined_to(preparation)
    whole = replace(exam, preparations=(joined,))
    (one,) = still_missing(
        whole,
        joined,
        sample,
        ANIMAL,
        [(target, stage)],
        adequacy_facts(),
        objective=tally.objective,
        field_number=tally.field_number,
    )
    return one, judge(evidence_of(whole, sample, ANIMAL, target, stage), adequacy_facts())


@given(st.integers(0, 900), st.sampled_from([18.0, 20.0, 22.0]), st.sampled_from(["22x22", "18x18"]))
def test_reading_as_many_fields_as_are_said_to_be_missing_makes_a_negative_and_one_less_does_not(
    read, number, glass
):
    tally = new_tally(40, number, ["flagellate"])
    for _ in range(read):
        tally = after(tally, Act(NEXT))
    said, answer = missing(tally, cover_glass=glass)
    assert (said.fields == 0) == (answer.result == "negative")
    if not said.fields:
        return
    for _ in range(said.fields - 1):
        tally = after(tally, Act(NEXT))
    assert missing(tally, cover_glass=glass)[1].result == "inconclusive"
    assert missing(after(tally, Act(NEXT)), cover_glass=glass)[1].result == "negative"


def test_it_says_fields_objective_and_share_in_words():
    said, _ = missing(new_tally(40, 20, ["flagellate"]))
    assert said.says == "for a negative 821 more fields at 40× for a third of the glass"
    said, _ = missing(new_tally(40, None, ["flagellate"]))
    assert said.says == "for a negative read a third of the glass at 40×"


def test_fields_at_a_weaker_objective_do_not_count():
    tally = new_tally(10, 20, ["flagellate"])
    for _ in range(200):
        tally = after(tally, Act(NEXT))
    said, answer = missing(tally)
    assert answer.result == "inconclusive"
    assert (said.fields, said.objective) == (821, 40)
    ciliate, answer = missing(tally, "ciliate")
    assert answer.result == "negative" and ciliate.fields == 0


def test_a_sweep_counts_towards_the_share():
    tally = done(Act(SWEEP), Act(SHARE, value=0.3), start=new_tally(40, 20, ["flagellate"]))
    said, _ = missing(tally)
    assert said.fields == 82  # 0.033 of 484 mm2 at 0.19635 mm2 a field
    assert share_at(tally.joined_to(bench()[1]), 40) == pytest.approx(0.3)


def test_what_reading_on_cannot_mend_is_said_instead():
    said, _ = missing(new_tally(40, 20, ["flagellate"]), minutes=95)
    assert said.fields is None
    assert said.says == "no negative: Was it read within 60 minutes of passage? No"
    said, _ = missing(new_tally(10, 20, ["oxyurid"]), "oxyurid", "egg", method="simple_flotation")
    assert said.says.startswith("no negative while not known: specific gravity (and ")
    said, _ = missing(new_tally(10, 20, ["oxyurid"]), "oxyurid", "egg")
    assert said.says == "this direct saline smear cannot give a negative"


def test_sure_and_unsure_findings_end_the_way_to_a_negative():
    start = new_tally(40, 20, ["flagellate"])
    assert missing(after(start, Act(COUNT, "flagellate")))[0].says == "seen, so no negative"
    unsure, _ = missing(after(start, Act(COUNT, "flagellate", sure=False)))
    assert "vet's word" in unsure.says


def test_targets_that_lack_the_same_share_a_line():
    tally = new_tally(40, 20, ["flagellate"])
    both = [missing(tally, "flagellate")[0], missing(tally, "amoeba")[0]]
    assert in_lines(both) == [
        "For a negative 821 more fields at 40× for a third of the glass: flagellate, amoeba (trophozoite)"
    ]
