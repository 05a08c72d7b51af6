"""Hosts: names, kin and warmth."""

from __future__ import annotations

import pytest

from fecallab.domain.errors import BadInput
from fecallab.reference.hosts import host, hosts, lineage, temperature_range


@pytest.mark.parametrize(
    "word", ["tortoise", "turtle", "snake", "lizard", "gecko", "chameleon", "crocodilian", "other"]
)
def test_every_word_of_a_recorded_animal_is_known(word: str) -> None:
    assert lineage(word)[-1] == "reptile"


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("Ball  Python", "royal_python"),
        ("sulcata", "sulcata_or_leopard_tortoise"),
        ("leopard_gecko", "leopard_gecko"),
    ],
)
def test_everyday_names_and_spaces_are_understood(name: str, key: str) -> None:
    assert host(name).key == key


def test_an_unknown_host_offers_the_nearest() -> None:
    with pytest.raises(BadInput, match="chameleon") as caught:
        host("chamelion")
    assert caught.value.exit_code == 2


def test_a_group_has_no_range_and_a_species_has_its_own() -> None:
    assert temperature_range("snake") is None
    row = temperature_range("garter snake")
    assert row is not None
    assert (row.range_low_c, row.range_high_c) == (21.0, 32.0)


def test_a_remembered_range_says_so() -> None:
    row = temperature_range("leopard gecko")
    assert row is not None
    assert row.source_kind == "memory"


def test_plant_eating_is_asked_where_it_varies() -> None:
    assert host("tortoise").plant_eater is True
    assert host("snake").plant_eater is False
    assert host("turtle").plant_eater is None


def test_no_name_leads_in_a_circle() -> None:
    for key in hosts():
        words = lineage(key)
        assert len(set(words)) == len(words)
