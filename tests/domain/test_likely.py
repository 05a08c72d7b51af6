"""Which organisms get a number key."""

from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.exam import METHODS
from fecallab.domain.likely import likely_organisms
from fecallab.domain.organism import NEVER_A_CASE, TARGET_GROUPS
from fecallab.reference.adequacy import adequacy_routes
from fecallab.reference.hosts import hosts
from fecallab.reference.methods import methods
from fecallab.reference.organisms import group_of, organisms_in_host

EXAM_METHODS = {key: item.exam_methods for key, item in methods().items()}
any_method = st.sampled_from([m for m in METHODS if m != "from_elsewhere"])
any_host = st.sampled_from(sorted(hosts()))
any_targets = st.lists(st.sampled_from(TARGET_GROUPS), max_size=12)


def keys(host, method, objective=None, plant_eater=False, open_targets=()):
    return likely_organisms(
        organisms_in_host(host),
        EXAM_METHODS,
        adequacy_routes(),
        method=method,
        objective=objective,
        plant_eater=plant_eater,
        open_targets=open_targets,
    )


@given(any_host, any_method, st.sampled_from([None, 4.0, 10.0, 40.0]), st.booleans(), any_targets)
def test_there_are_at_most_nine_open_cases_come_first_and_the_order_is_stable(
    host, method, objective, plant_eater, targets
):
    found = keys(host, method, objective, plant_eater, targets)
    assert found == keys(host, method, objective, plant_eater, targets)
    assert len(found.first) <= 9 and len(found.second) <= 9
    first_come = tuple(dict.fromkeys(targets))[:9]
    assert found.first[: len(first_come)] == first_come
    both = (*found.first, *found.second)
    assert len(set(both)) == len(both)


@given(any_host, any_method, any_targets)
def test_look_alikes_stand_in_the_second_row_only(host, method, targets):
    found = keys(host, method, 10, open_targets=targets)
    assert all(group_of(name) not in NEVER_A_CASE for name in found.first)
    assert found.second[:2] == ("artefact", "pseudoparasite")
    assert all(group_of(name) in NEVER_A_CASE for name in found.second)


@given(any_host, any_method, st.sampled_from([10.0, 40.0]), any_targets)
def test_no_organism_stands_beside_its_own_group(host, method, objective, targets):
    first = keys(host, method, objective, open_targets=targets).first
    groups = [group_of(name) for name in first]
    assert all(groups.count(name) == 1 for name in first if name in TARGET_GROUPS)


@given(any_host, any_method)
def test_what_a_keeper_cannot_name_has_no_key_of_its_own(host, method):
    unnameable = {item.key for item in organisms_in_host(host) if not item.keeper_can_name}
    found = keys(host, method)
    assert not unnameable.intersection((*found.first, *found.second))


def test_a_float_of_a_dragon_offers_oocysts_and_eggs():
    first = keys("bearded_dragon", "simple_flotation", 10).first
    assert first[:2] == ("coccidian", "oxyurid")
    assert "flagellate" not in first


def test_flagellates_have_one_key_because_size_does_not_tell_them_apart():
    first = keys("tortoise", "direct_saline_smear", 40, True).first
    assert first[0] == "flagellate"
    assert not {"hexamita_troph", "giardia_troph"}.intersection(first)


def test_eggs_of_a_group_that_size_tells_apart_have_keys_of_their_own():
    first = keys("leopard_gecko", "simple_flotation", 10).first
    assert {"strongyloides_egg", "rhabdias_egg"} <= set(first)


def test_what_needs_a_stronger_objective_comes_after_the_rest():
    weak = keys("bearded_dragon", "direct_saline_smear", 10).first
    strong = keys("bearded_dragon", "direct_saline_smear", 40).first
    assert strong.index("flagellate") == 0
    assert weak.index("flagellate") > weak.index("oxyurid")


def test_ciliates_come_first_in_a_plant_eater_and_last_in_a_gecko():
    tortoise = [group_of(n) for n in keys("tortoise", "direct_saline_smear", 40, True).first]
    gecko = [group_of(n) for n in keys("gecko", "direct_saline_smear", 40).first]
    assert tortoise.index("ciliate") == 1
    assert gecko.index("ciliate") == len(gecko) - 1


def test_an_animal_of_an_unknown_kind_is_offered_the_groups_of_all():
    first = keys("reptile", "direct_saline_smear", 40).first
    assert len(first) == 9
    assert {"flagellate", "amoeba", "oxyurid", "rhabditid", "pentastomid"} <= set(first)
