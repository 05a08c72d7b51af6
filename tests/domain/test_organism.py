"""What a name counts for, and in whom its presence is no case."""

from __future__ import annotations

from typing import Any

import pytest

from fecallab.domain.errors import BadInput
from fecallab.domain.organism import (
    EYE_GROUPS,
    NEVER_A_CASE,
    TARGET_GROUPS,
    Organism,
    counts_for_target,
    group_of,
    host_words,
    is_clearable_by_stool,
    is_normal_inhabitant,
    is_target_group,
    of_group,
)

PLAIN: dict[str, Any] = {
    "scientific_name": "Inventus inventus",
    "group": "oxyurid",
    "stage": "egg",
    "stages": ("egg",),
    "hosts": "",
    "host_groups": ("any",),
    "length_um": (10.0, 20.0),
    "width_um": None,
    "range_kind": "memory range",
    "shape": "",
    "motile": False,
    "motility_words": "",
    "stain": "",
    "best_methods": (),
    "method_keys": (),
    "destroyed_or_missed_by": "",
    "freshness_limit": "",
    "significance": "",
    "zoonotic": "no",
    "life_cycle": "",
    "prepatent_days": (None, None),
    "look_alikes": (),
    "confidence": "low",
    "normal_inhabitant_in": (),
    "clearable_by_stool": True,
    "keeper_can_name": True,
    "source": "P01",
    "size_source_kind": "proposal",
    "source_kind_other": "proposal",
    "source_detail": "",
}


def organism(key: str, eye_group: str, **changes: Any) -> Organism:
    return Organism(key=key, eye_group=eye_group, **(PLAIN | changes))


TABLE = {
    item.key: item
    for item in (
        organism("small_egg", "oxyurid", normal_inhabitant_in=("plant eater adult",)),
        organism("large_egg", "oxyurid", normal_inhabitant_in=("plant eater adult",)),
        organism("darting_one", "flagellate"),
        organism("gliding_one", "flagellate", normal_inhabitant_in=("lizard",)),
        organism("worm_larva", "rhabditid", group="oxyurid"),
        organism("tiny_oocyst", "cryptosporidium", clearable_by_stool=False),
        organism("hidden_one", "coccidian", clearable_by_stool=False),
        organism("common_oocyst", "coccidian"),
        organism("mouse_egg", "pseudoparasite", group="oxyurid"),
        organism("bubble", "artefact", group="oxyurid"),
    )
}


class TestGroupOf:
    def test_takes_the_group_that_the_eye_can_tell_before_kinship(self) -> None:
        assert group_of("worm_larva", TABLE) == "rhabditid"

    @pytest.mark.parametrize("group", EYE_GROUPS)
    def test_a_group_names_itself(self, group: str) -> None:
        assert group_of(group, {}) == group

    def test_an_unknown_name_offers_the_nearest(self) -> None:
        with pytest.raises(BadInput, match="small_egg") as caught:
            group_of("smal_eg", TABLE)
        assert caught.value.exit_code == 2
        assert caught.value.reason.code == "organism-unknown"

    def test_a_name_like_nothing_points_to_the_table(self) -> None:
        with pytest.raises(BadInput, match="reference show organisms"):
            group_of("zzz", TABLE)


class TestCountsForTarget:
    def test_any_species_of_the_group_counts(self) -> None:
        assert counts_for_target("small_egg", "oxyurid", TABLE)
        assert counts_for_target("large_egg", "oxyurid", TABLE)
        assert counts_for_target("oxyurid", "oxyurid", TABLE)

    def test_another_group_does_not(self) -> None:
        assert not counts_for_target("darting_one", "oxyurid", TABLE)
        assert not counts_for_target("worm_larva", "oxyurid", TABLE)

    @pytest.mark.parametrize("name", ["mouse_egg", "bubble", "pseudoparasite", "artefact"])
    @pytest.mark.parametrize("target", TARGET_GROUPS)
    def test_pseudoparasites_and_artefacts_never_do(self, name: str, target: str) -> None:
        assert not counts_for_target(name, target, TABLE)

    @pytest.mark.parametrize("target", [*NEVER_A_CASE, "small_egg", "oxyurids"])
    def test_a_case_cannot_be_about_these(self, target: str) -> None:
        with pytest.raises(BadInput, match="cannot be about"):
            counts_for_target("small_egg", target, TABLE)

    def test_an_unknown_name_is_not_silently_nothing(self) -> None:
        with pytest.raises(BadInput):
            counts_for_target("samll_egg", "oxyurid", TABLE)


def test_target_groups_are_those_a_case_can_be_about() -> None:
    assert all(is_target_group(group) for group in TARGET_GROUPS)
    assert not any(is_target_group(group) for group in NEVER_A_CASE)


class TestNormalInhabitants:
    def ask(
        self, name: str, hosts: tuple[str, ...] = ("tortoise",), plant: bool = True, adult: bool | None = True
    ) -> bool:
        return is_normal_inhabitant(name, TABLE, hosts, plant_eater=plant, adult=adult)

    def test_in_an_adult_plant_eater(self) -> None:
        assert self.ask("small_egg")

    @pytest.mark.parametrize("adult", [False, None])
    def test_never_while_the_age_is_young_or_unknown(self, adult: bool | None) -> None:
        assert not self.ask("small_egg", adult=adult)

    def test_never_in_a_meat_eater(self) -> None:
        assert not self.ask("small_egg", plant=False)

    def test_by_a_wider_host_group(self) -> None:
        assert self.ask("gliding_one", hosts=("gecko", "lizard"), plant=False)
        assert not self.ask("gliding_one", hosts=("snake",), plant=False)

    def test_a_bare_group_only_when_all_of_it_is(self) -> None:
        assert self.ask("oxyurid")
        assert not self.ask("flagellate", hosts=("gecko", "lizard"))

    def test_a_bare_group_without_organisms_is_not(self) -> None:
        assert not self.ask("mite")

    def test_words_of_an_animal(self) -> None:
        assert host_words(["snake"], plant_eater=False, adult=True) == {"snake"}
        assert "plant eater adult" in host_words(["iguana"], plant_eater=True, adult=True)


class TestClearableByStool:
    def test_by_organism(self) -> None:
        assert is_clearable_by_stool("common_oocyst", TABLE)
        assert not is_clearable_by_stool("hidden_one", TABLE)

    def test_a_group_is_while_any_of_it_is(self) -> None:
        assert is_clearable_by_stool("coccidian", TABLE)
        assert not is_clearable_by_stool("cryptosporidium", TABLE)


def test_organisms_of_a_group_keep_their_order() -> None:
    assert [item.key for item in of_group("oxyurid", TABLE.values())] == ["small_egg", "large_egg"]
