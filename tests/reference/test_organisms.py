"""The organism table answers the questions of a case."""

from __future__ import annotations

import pytest

from fecallab.domain.errors import BadInput
from fecallab.domain.organism import TARGET_GROUPS
from fecallab.reference.organisms import (
    counts_for_target,
    group_of,
    is_clearable_by_stool,
    is_normal_inhabitant,
    organism,
    organisms,
    organisms_in_host,
)


def test_sizes_come_as_pairs_or_not_at_all() -> None:
    assert organism("isospora_amphiboluri_sporulated").width_um == (22.4, 25.9)
    assert organism("monocercomonas_troph").width_um is None
    assert organism("atractis_larva").length_um is None


def test_live_larvae_are_one_group_whatever_their_kin() -> None:
    for key in ("atractis_larva", "serpinema_larva", "strongyloides_larva", "rhabdias_larva"):
        assert group_of(key) == "rhabditid"
        assert "larva" in organism(key).stages


@pytest.mark.parametrize("key", ["rodent_eimeria_oocyst", "syphacia_obvelata_egg", "insect_oxyurid_egg"])
def test_what_came_with_the_prey_counts_for_no_case(key: str) -> None:
    assert not any(counts_for_target(key, target) for target in TARGET_GROUPS)


def test_what_only_a_laboratory_parts_is_marked() -> None:
    assert not organism("prey_cryptosporidium").keeper_can_name
    assert not organism("rodent_eimeria_oocyst").keeper_can_name
    assert organism("thelandros_egg").keeper_can_name


@pytest.mark.parametrize(
    ("name", "host", "plant", "adult", "answer"),
    [
        ("ciliate", "tortoise", True, None, True),
        ("nyctotherus_troph", "green iguana", True, False, True),
        ("ciliate", "snake", False, True, False),
        ("oxyurid", "tortoise", True, True, True),
        ("oxyurid", "tortoise", True, None, False),
        ("oxyurid", "gecko", False, True, False),
        ("atractis_larva", "tortoise", True, True, False),
        ("proteromonas_troph", "agamid", False, None, True),
        ("proteromonas_troph", "snake", False, None, False),
        ("flagellate", "lizard", False, True, False),
        ("monocercomonas_troph", "lizard", False, True, False),
        ("chilomastix_troph", "lizard", False, True, False),
        ("entamoeba_commensal_cyst", "tortoise", True, True, False),
        ("coccidian", "tortoise", True, True, False),
        ("yeast", "tortoise", True, True, False),
    ],
)
def test_normal_inhabitants(name: str, host: str, plant: bool, adult: bool | None, answer: bool) -> None:
    assert is_normal_inhabitant(name, host, plant, adult) is answer


def test_pathogens_are_never_normal_inhabitants() -> None:
    for item in organisms():
        if item.significance.startswith("pathogen"):
            assert not item.normal_inhabitant_in, item.key


def test_what_stool_cannot_clear() -> None:
    assert [group for group in TARGET_GROUPS if not is_clearable_by_stool(group)] == [
        "cryptosporidium",
        "microsporidian",
        "mite",
    ]
    assert not is_clearable_by_stool("intranuclear_coccidian_tortoise")


def test_shortlist_for_a_host_keeps_wider_narrower_and_any() -> None:
    dragon = {item.key for item in organisms_in_host("bearded dragon")}
    assert {"isospora_amphiboluri_unsporulated", "proteromonas_troph", "yeast"} <= dragon
    assert "isospora_jaracimrmani" not in dragon
    lizard = {item.key for item in organisms_in_host("lizard")}
    assert {"isospora_amphiboluri_unsporulated", "isospora_jaracimrmani"} <= lizard
    assert "angusticaecum_egg" not in lizard
    assert {item.key for item in organisms_in_host("other")} > {"yeast"}


def test_asking_for_a_group_as_one_organism_lists_its_members() -> None:
    with pytest.raises(BadInput, match="thelandros_egg"):
        organism("oxyurid")


def test_the_table_is_read_once() -> None:
    assert organisms() is organisms()
