"""Adequacy by properties: what must hold for every exam, whatever the table says."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.adequacy import ExamEvidence, PreparationEvidence, judge
from fecallab.reference.adequacy import adequacy_facts, adequacy_routes

FACTS = adequacy_facts()


def good(route, target, stage) -> ExamEvidence:
    """The plainest exam that meets every condition of a route."""
    preparation = {"method": route.methods[0]}
    sample = {
        "origin": "stool",
        "form": "soft",
        "kept": "room",
        "passed_minutes_ago": (10.0, 20.0),
        "mass_g": 2.0,
    }
    for condition in route.conditions:
        if condition.quantity in ("form", "kept", "origin"):
            sample[condition.quantity] = condition.one_of[0]
        elif condition.quantity in PreparationEvidence.__dataclass_fields__:
            if condition.one_of == ("yes",):
                preparation[condition.quantity] = True
            elif condition.one_of:
                preparation[condition.quantity] = condition.one_of[0]
            else:
                preparation[condition.quantity] = (
                    condition.at_least if condition.at_least is not None else condition.at_most
                )
    return ExamEvidence(
        target=target,
        stage=stage,
        owner="animal",
        preparations=(PreparationEvidence(**preparation),),
        **sample,
    )


WAYS = [(r, t, s) for r in adequacy_routes() for t in r.targets for s in r.stages]
ways = st.sampled_from(WAYS)


@pytest.mark.parametrize(("route", "target", "stage"), WAYS, ids=lambda v: getattr(v, "code", v))
def test_every_route_can_reach_a_negative_with_the_means_that_it_asks_for(route, target, stage):
    answer = judge(good(route, target, stage), FACTS)
    assert answer.result == "negative", answer.reasons


@pytest.mark.parametrize(
    ("route", "condition"),
    [(r, c) for r in adequacy_routes() for c in r.conditions],
    ids=lambda v: getattr(v, "code", ""),
)
def test_breaking_one_condition_makes_it_inconclusive_and_says_what_to_do(route, condition):
    evidence = good(route, route.targets[0], route.stages[0])
    if condition.when:
        evidence = replace(evidence, **{condition.when[0]: condition.when[1][0]})
    if condition.at_least is not None:
        wrong = condition.at_least * 0.99
    elif condition.at_most is not None:
        wrong = condition.at_most * 1.01
    else:
        wrong = False if condition.one_of == ("yes",) else "something else"
    if condition.quantity == "older_minutes":
        evidence = replace(evidence, passed_minutes_ago=(1.0, wrong))
    elif condition.quantity in ("form", "kept", "origin", "mass_g"):
        evidence = replace(evidence, **{condition.quantity: wrong})
    else:
        preparation = replace(evidence.preparations[0], **{condition.quantity: wrong})
        evidence = replace(evidence, preparations=(preparation,))
    answer = judge(evidence, FACTS)
    assert answer.result == "inconclusive"
    assert all(reason.next for reason in answer.reasons)


@given(ways, st.integers(1, 9), st.data())
def test_any_species_of_the_group_or_an_unsure_mark_blocks_a_negative(way, number, data):
    route, target, stage = way
    names = sorted(name for name, group in FACTS.group_of.items() if group == target)
    name = data.draw(st.sampled_from(names))
    evidence = good(route, target, stage)
    assert judge(replace(evidence, counts={name: number}), FACTS).result == "positive"
    unsure = judge(replace(evidence, unsure=(name,)), FACTS)
    assert (unsure.result, unsure.unsure, unsure.for_case) == ("inconclusive", True, "unsure")


@given(ways, st.integers(1, 99), st.data())
def test_artefacts_and_pseudoparasites_never_block_a_negative(way, number, data):
    route, target, stage = way
    names = sorted(n for n, group in FACTS.group_of.items() if group in ("artefact", "pseudoparasite"))
    evidence = replace(
        good(route, target, stage),
        counts={data.draw(st.sampled_from(names)): number},
        unsure=(data.draw(st.sampled_from(names)),),
    )
    assert judge(evidence, FACTS).result == "negative"


@given(ways, st.sampled_from(["tub", "pen, owner unknown", None]))
def test_a_groups_negative_never_confirms_one_animal(way, owner):
    route, target, stage = way
    answer = judge(replace(good(route, target, stage), owner=owner), FACTS)
    assert answer.result == "inconclusive"
    group = judge(replace(good(route, target, stage), owner="tub", asked_of="group"), FACTS)
    assert group.result == "negative"


@given(ways, st.sampled_from(["origin", "kept", "passed_minutes_ago"]))
def test_what_is_not_known_never_helps(way, missing):
    route, target, stage = way
    answer = judge(replace(good(route, target, stage), **{missing: None}), FACTS)
    assert answer.result == "inconclusive"


@given(ways)
def test_a_second_preparation_never_spoils_a_negative(way):
    route, target, stage = way
    evidence = good(route, target, stage)
    more = (*evidence.preparations, PreparationEvidence(method="acid_fast_smear", fields=5))
    assert judge(replace(evidence, preparations=more), FACTS).result == "negative"


def test_what_stool_cannot_show_is_never_negative_at_home():
    for target in sorted(FACTS.not_clearable):
        for route in adequacy_routes():
            evidence = replace(good(route, route.targets[0], route.stages[0]), target=target)
            assert judge(evidence, FACTS).result == "inconclusive"


def test_a_result_from_elsewhere_is_adequate_as_they_state_it():
    def stated(adequate):
        piece = PreparationEvidence(
            method="from_elsewhere",
            stated_result="negative",
            stated_adequate=adequate,
            stated_by="a laboratory",
        )
        return judge(ExamEvidence("oxyurid", "egg", owner="animal", preparations=(piece,)), FACTS)

    assert stated(True).result == "negative"
    assert stated(None).result == "inconclusive"
    assert stated(False).result == "inconclusive"
    assert "does not say" in stated(None).reasons[0].text


def test_counts_of_another_group_open_nothing():
    route, target, stage = next(way for way in WAYS if way[1] == "oxyurid")
    assert judge(replace(good(route, target, stage), counts={"ascarid": 4}), FACTS).result == "negative"
