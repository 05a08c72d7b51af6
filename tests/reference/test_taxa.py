"""Animals by their names: the closest place that can be told, and never one that dodges a stop."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.taxon import HOST_GROUPS, Taxon, narrowness
from fecallab.reference.tables import parts, read_rows
from fecallab.reference.taxa import group_taxon, resolve_taxon, suggest_taxon, taxa

SPECIES = [taxon for taxon in taxa() if taxon.rank == "species"]
GROUP_ORDER = {"tortoise": "Testudines", "turtle": "Testudines", "crocodilian": "Crocodylia"}


def test_at_least_a_hundred_and_twenty_species_are_there_in_every_group() -> None:
    assert len({taxon.species for taxon in SPECIES}) >= 120
    assert {taxon.host_group for taxon in SPECIES} == set(HOST_GROUPS)


@pytest.mark.parametrize("taxon", SPECIES, ids=lambda taxon: taxon.name)
def test_every_species_has_its_place_and_resolves_by_each_name(taxon: Taxon) -> None:
    assert taxon.species.split()[0] == taxon.genus
    assert len(taxon.species.split()) == 2
    assert taxon.family.endswith("dae")
    assert taxon.order == GROUP_ORDER.get(taxon.host_group, "Squamata")
    assert taxon.plant_eater is not None
    assert resolve_taxon(taxon.name) == taxon
    by_latin = resolve_taxon(taxon.species.upper())
    assert by_latin is not None
    assert by_latin.species == taxon.species


def test_other_names_resolve_to_the_same_animal() -> None:
    for row in read_rows("taxa"):
        for name in parts(row["other_names"]):
            found = resolve_taxon(name)
            assert found is not None
            assert (found.species, found.genus, found.family) == (row["species"], row["genus"], row["family"])


def test_a_genus_has_one_family_and_a_family_one_order() -> None:
    for narrow, wide in (("genus", "family"), ("family", "order")):
        places: dict[str, set[str]] = {}
        for taxon in SPECIES:
            places.setdefault(getattr(taxon, narrow), set()).add(getattr(taxon, wide))
        assert all(len(found) == 1 for found in places.values())


@pytest.mark.parametrize(
    ("typed", "rank", "closest"),
    [
        ("albino corn snake", "species", "Pantherophis guttatus"),
        ("Elaphe guttata", "species", "Pantherophis guttatus"),
        ("hermanns tortoise", "species", "Testudo hermanni"),
        ("Hermann\N{RIGHT SINGLE QUOTATION MARK}s Tortoise", "species", "Testudo hermanni"),
        ("BEARDED-DRAGON", "species", "Pogona vitticeps"),
        ("Testudo hermanni boettgeri", "species", "Testudo hermanni"),
        ("Lampropeltis knoblochi", "genus", "Lampropeltis"),
        ("mountain kingsnake", "genus", "Lampropeltis"),
        ("Nelson's milksnake", "genus", "Lampropeltis"),
        ("Mexican burrowing python", "family", "Pythonidae"),
        ("emerald tree skink", "family", "Scincidae"),
        ("alligator lizard", "group", "lizard"),
        ("crocodile lizard", "group", "lizard"),
        ("some snake", "group", "snake"),
        ("Testudines", "order", "Testudines"),
        ("mystery turtle", "order", "Testudines"),
    ],
)
def test_names_resolve_as_closely_as_they_can(typed: str, rank: str, closest: str) -> None:
    found = resolve_taxon(typed)
    assert found is not None
    assert (found.rank, found.narrowest_name) == (rank, closest)


@pytest.mark.parametrize("typed", ["", "  ", "unicorn", "corm snaik", "42", "dog"])
def test_an_unknown_name_resolves_to_nothing(typed: str) -> None:
    assert resolve_taxon(typed) is None


def test_near_names_are_offered() -> None:
    assert "corn snake" in suggest_taxon("corm snake")
    assert "Lampropeltis" in suggest_taxon("Lampropeltys")
    assert suggest_taxon("") == ()


@settings(deadline=None)
@given(st.text(max_size=40))
def test_no_text_breaks_the_look_up(text: str) -> None:
    found = resolve_taxon(text)
    assert found is None or found.narrowest_name
    assert len(suggest_taxon(text)) <= 3


@pytest.mark.parametrize("group", HOST_GROUPS)
def test_a_group_holds_its_species_and_no_other(group: str) -> None:
    taxon = group_taxon(group)
    assert taxon is not None
    assert taxon.order == GROUP_ORDER.get(group, "Squamata")
    assert taxon.is_a(f"host_group {group}")
    assert not taxon.species


def test_geckos_and_chameleons_are_lizards_and_tortoises_are_no_turtles_of_the_water() -> None:
    gecko = resolve_taxon("leopard gecko")
    tortoise = resolve_taxon("sulcata")
    assert gecko is not None
    assert tortoise is not None
    assert gecko.is_a("host_group lizard")
    assert not tortoise.is_a("host_group turtle")
    assert tortoise.is_a("order Testudines")
    assert not gecko.is_a("host_group ")
    assert not Taxon("x", "order", order="Squamata").is_a("species ")


def test_narrower_entries_rank_higher() -> None:
    ranks = ["any", "host_group lizard", "host_group gecko", "family X", "genus X", "species X y"]
    assert [narrowness(entry) for entry in ranks] == sorted(narrowness(entry) for entry in ranks)
