"""The shortlist: why something is in or out, its look-alikes, what to do next; never a diagnosis."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.errors import BadInput, Refused
from fecallab.domain.identify import VERDICTS, Shortlist, refuse_without_scale
from fecallab.domain.measuring import Amount
from fecallab.imaging.identify import identify
from fecallab.reference.organisms import organisms, organisms_by_key, organisms_in_host


def keys(found: Shortlist) -> set[str]:
    return {one.key for one in found.fits}


def reasons(found: Shortlist, key: str) -> str:
    return "; ".join(next(one for one in (*found.fits, *found.nearly) if one.key == key).reasons)


def test_a_round_oocyst_of_a_dragon_fits_with_its_look_alikes() -> None:
    found = identify("bearded dragon", length=Amount(24.5, 1), width=Amount(24, 1), method="simple_flotation")
    assert {"isospora_amphiboluri_sporulated", "isospora_amphiboluri_unsporulated"} <= keys(found)
    assert {"air_bubble", "fat_globule"} <= keys(found)
    assert "fits: 23 to 26.5 µm (published range)" in reasons(found, "isospora_amphiboluri_sporulated")
    assert "too large" in reasons(found, "choleoeimeria_pogonae")


def test_worms_of_prey_are_in_the_list_and_said_to_pass_through() -> None:
    found = identify("corn snake", length=Amount(138, 3), width=Amount(42, 2), method="simple_flotation")
    prey = next(one for one in found.fits if one.key == "syphacia_obvelata_egg")
    assert prey.passes_through and prey.eye_group == "pseudoparasite"


def test_a_wider_interval_never_takes_anything_off_the_list() -> None:
    for length, width in ((24.0, 22.0), (84.0, 42.0), (11.0, 8.0)):
        narrow = identify("corn snake", length=Amount(length, 0.5), width=Amount(width, 0.5))
        wide = identify("corn snake", length=Amount(length, 4), width=Amount(width, 4))
        assert keys(narrow) <= keys(wide)


@pytest.mark.parametrize("item", [item for item in organisms() if item.length_um], ids=lambda item: item.key)
def test_everything_with_a_size_fits_at_its_own_size_in_its_own_host(item) -> None:  # type: ignore[no-untyped-def]
    host = "reptile" if "any" in item.host_groups else item.host_groups[0]
    middle = Amount(sum(item.length_um) / 2, 0.1)
    width = Amount(sum(item.width_um) / 2, 0.1) if item.width_um else None
    assert item.key in keys(identify(host, length=middle, width=width))


@settings(max_examples=30, deadline=None)
@given(length=st.floats(0.5, 3000), share=st.floats(0.1, 1), error=st.floats(0, 10))
def test_every_organism_is_told_or_counted(length: float, share: float, error: float) -> None:
    found = identify("tortoise", length=Amount(length, error), width=Amount(share * length, error))
    told = len(found.fits) + len(found.nearly)
    assert told + sum(found.left_out.values()) == len(organisms())
    at_home = {item.key for item in organisms_in_host("tortoise")}
    assert keys(found) <= at_home
    for one in (*found.fits, *found.nearly):
        assert one.verdict in VERDICTS and one.reasons and one.next
        text = " ".join((*one.reasons, *one.next, one.look)).lower()
        assert "diagnosis" not in text and "probab" not in text and "likel" not in text


def test_another_host_is_said() -> None:
    found = identify("bearded dragon", length=Amount(120, 5), width=Amount(55, 4))
    assert "oxyurid_tortoise_egg" not in keys(found)
    other = next(one for one in found.nearly if one.key == "oxyurid_tortoise_egg")
    assert other.verdict == "not in this host"
    assert "not known from this host; known from: tortoises" in reasons(found, other.key)


def test_what_moved_is_no_egg() -> None:
    found = identify("tortoise", length=Amount(9, 2), width=Amount(6, 2), moves=True)
    assert "hexamita_troph" in keys(found)
    assert all(organisms_by_key()[key].motile for key in keys(found))


def test_words_about_the_shape_bring_their_organism_forward() -> None:
    plain = identify("corn snake", length=Amount(60, 5), width=Amount(30, 5))
    spoken = identify("corn snake", length=Amount(60, 5), width=Amount(30, 5), shape="lemon, plug")
    order = [one.key for one in spoken.fits]
    assert keys(plain) == keys(spoken)
    assert order[0] == "capillariid_egg"
    assert "your words" in reasons(spoken, "capillariid_egg")


def test_a_look_alike_is_described_by_its_own_row_or_not_at_all() -> None:
    found = identify("bearded dragon", length=Amount(24.5, 1), width=Amount(24, 1))
    alike = {one.name: one.look for one in next(f for f in found.fits if f.key == "air_bubble").tells_apart}
    assert "oocyst" in alike
    sporulated = next(f for f in found.fits if f.key == "isospora_amphiboluri_sporulated")
    looks = {one.name: one.look for one in sporulated.tells_apart}
    assert looks["other Isospora"] in {
        item.shape for item in organisms() if "Isospora" in item.scientific_name
    }


def test_a_single_mean_says_that_it_is_one() -> None:
    found = identify("tortoise", length=Amount(42, 1), width=Amount(30, 1))
    assert "one mean of 41 µm is known" in reasons(found, "nyctotherus_cyst")


def test_without_a_calibration_nothing_is_named_by_size() -> None:
    with pytest.raises(Refused) as refused:
        refuse_without_scale(36.0, None)
    assert refused.value.reason.code == "no-scale"
    assert "image calibrate" in refused.value.reason.next
    assert refuse_without_scale(36.0, 0.65) is None
    found = identify("tortoise", shape="pear flagella", moves=True)
    assert not found.named_by_size
    assert not any("µm" in reason for one in found.fits for reason in one.reasons)


def test_nothing_to_go_by_and_unknown_words_are_refused() -> None:
    with pytest.raises(BadInput, match="nothing to go by"):
        identify("tortoise")
    with pytest.raises(BadInput, match="no method"):
        identify("tortoise", length=Amount(40, 1), method="guessing")
    with pytest.raises(BadInput, match="not in the table"):
        identify("unicorn", length=Amount(40, 1))
