"""Warm end by day and lowest at night, against the vet's floor first and the animal's own range else."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.dosing import Found, WarmthFloor, WarmthToday
from fecallab.domain.warmth import STANDINGS, check_warmth
from fecallab.reference.care import warm_range
from fecallab.reference.drugs import dose_facts
from fecallab.reference.hosts import hosts
from fecallab.reference.taxa import resolve_taxon, taxa

FACTS = dose_facts()


def ask(
    warm_end: Any,
    night: Any,
    *,
    animal: str = "corn snake",
    first_dose: bool = True,
    day_floor: Any = None,
    night_floor: Any = None,
) -> tuple[str, set[str], set[str]]:
    found = Found(FACTS)
    standing = check_warmth(
        WarmthToday(warm_end_c=warm_end, lowest_at_night_c=night),
        warm_range(resolve_taxon(animal)),
        WarmthFloor(warm_end_at_least_c=day_floor, night_at_least_c=night_floor),
        found,
        first_dose=first_dose,
    )
    return standing, {item.code for item in found.reasons}, {item.code for item in found.warnings}


@pytest.mark.parametrize(
    ("warm_end", "night", "standing", "refusal"),
    [
        (25, 25, "ok", None),
        (32, 25, "ok", None),
        ("24.9", "24.9", "cold", "too-cold-by-day"),
        (30, "24.9", "cold", "too-cold-at-night"),
        (34, 33, "too warm", "too-warm"),
    ],
)
def test_a_corn_snake_is_kept_between_25_and_32(
    warm_end: Any, night: Any, standing: str, refusal: str | None
) -> None:
    """WikiVet (read): preferred optimum temperature zone 25 to 32 °C."""
    said = ask(warm_end, night)
    assert said[0] == standing
    assert (refusal in said[1]) if refusal else not said[1]


def test_a_dragons_warm_end_is_measured_where_it_basks() -> None:
    """35 to 39 °C when basking (read), the enclosure 26 to 38 (memory)."""
    assert ask(36, 26, animal="bearded dragon") == ("ok", set(), set())
    assert ask(33, 26, animal="bearded dragon")[1] == {"too-cold-by-day"}
    assert ask("40", 26, animal="bearded dragon")[0] == "too warm"


def test_of_a_floor_at_night_it_is_said_that_the_table_knows_no_nights() -> None:
    """The gradient of 26 to 38 is one of days (memory); for nights no source was found."""
    found = Found(FACTS)
    night = WarmthToday(warm_end_c=36, lowest_at_night_c=25)
    dragon = warm_range(resolve_taxon("bearded dragon"))
    check_warmth(night, dragon, WarmthFloor(), found, first_dose=True)
    (cold,) = found.reasons
    assert cold.text == (
        "The lowest at night was 25 °C, at least 26 °C is asked for (bearded dragon: gradient, mixed; no figure for"
        " nights was found, so the low end of its range holds)."
    )
    by_vet = Found(FACTS)
    check_warmth(night, dragon, WarmthFloor(night_at_least_c=20), by_vet, first_dose=True)
    assert not by_vet.reasons and "no figure for nights was found" in by_vet.warnings[0].text
    check_warmth(
        WarmthToday(warm_end_c=30), dragon, WarmthFloor(), (by_day := Found(FACTS)), first_dose=False
    )
    assert by_day.reasons and "nights was found" not in by_day.reasons[0].text


def test_the_vets_floor_goes_before_the_table() -> None:
    assert ask(30, 21, night_floor=20) == ("ok", set(), {"floor-below-range"})
    assert ask(30, 19, night_floor=20)[1] == {"below-vets-floor"}
    assert ask(27, 26, day_floor=28)[1] == {"below-vets-floor"}
    assert ask(28, 26, day_floor=28) == ("ok", set(), set())


def test_an_animal_without_a_range_is_warned_of_until_the_vet_names_one() -> None:
    assert ask(28, 22, animal="painted turtle") == ("unknown", set(), {"warm-range-unknown"})
    assert ask(28, 22, animal="painted turtle", day_floor=26, night_floor=20) == ("ok", set(), set())
    assert ask(24, 22, animal="painted turtle", day_floor=26)[0] == "cold"


@pytest.mark.parametrize(("first", "refused"), [(True, True), (False, False)])
@pytest.mark.parametrize("pair", [(None, 26), (30, None), (None, None)])
def test_what_nobody_measured_stops_the_first_dose_and_is_asked_for_later(
    pair: tuple[Any, Any], first: bool, refused: bool
) -> None:
    standing, reasons, warnings = ask(*pair, first_dose=first)
    assert standing == "unknown"
    assert ("warmth-not-recorded" in reasons) == refused
    assert ("warmth-not-recorded" in warnings) == (not refused)


def test_cold_is_cold_though_the_other_figure_is_missing() -> None:
    assert ask(20, None, first_dose=False)[0] == "cold"


@pytest.mark.parametrize(("typed", "told"), [(86, "86 °F would be 30 °C"), (95, "35 °C"), (-3, "")])
def test_fahrenheit_is_named_and_not_taken_for_celsius(typed: Any, told: str) -> None:
    found = Found(FACTS)
    check_warmth(
        WarmthToday(warm_end_c=typed, lowest_at_night_c=26), None, WarmthFloor(), found, first_dose=True
    )
    reason = next(reason for reason in found.reasons if reason.code == "temperature-implausible")
    assert told in reason.text
    assert ("°F" in reason.text) == bool(told)


def test_swapped_figures_are_noticed() -> None:
    assert ask(24, 30)[1] == {"temperatures-swapped"}


def test_nobody_asked_is_said_and_nothing_is_concluded() -> None:
    found = Found(FACTS)
    assert check_warmth(None, None, WarmthFloor(), found, first_dose=True) == "unknown"
    assert not found.reasons and not found.warnings
    assert [reason.code for reason in found.not_checked] == ["warmth"]


def test_every_range_of_the_table_is_reached_by_an_animal_of_the_table() -> None:
    reached = {found.name for taxon in taxa() if (found := warm_range(taxon)) is not None}
    with_range = {host.name for host in hosts().values() if host.range_low_c is not None}
    assert with_range - reached <= {
        "coastal carpet python",
        "diamond python",
        "long- and short-necked turtles of Australia",
    }
    assert warm_range(None, "diamond python") is not None


@pytest.mark.parametrize(
    "animal", ["mandarin rat snake", "Chinese box turtle", "mountain kingsnake", "carpet python"]
)
def test_a_likeness_of_names_is_no_range(animal: str) -> None:
    """Relatives may live much cooler: a range that is not theirs would have a keeper overheat them."""
    assert warm_range(resolve_taxon(animal)) is None


@pytest.mark.parametrize(
    ("animal", "low", "high"),
    [
        ("Russian tortoise", 20, 32),
        ("Hermann's tortoise", 20, 32),
        ("sulcata", 25, 35),
        ("leopard tortoise", 25, 35),
        ("ball python", 25, 34),
        ("leopard gecko", 25, 32),
        ("green iguana", 29, 38),
        ("veiled chameleon", 22, 32),
        ("eastern box turtle", 21, 30),
        ("California kingsnake", 25, 32),
        ("boa constrictor", 28, 34),
        ("black rat snake", 25, 32),
        ("red-eared slider", 22, 30),
        ("Burmese python", 25, 34),
    ],
)
def test_the_animals_that_are_kept_most_have_their_range(animal: str, low: int, high: int) -> None:
    found = warm_range(resolve_taxon(animal))
    assert found is not None
    assert (found.low_c, found.high_c) == (low, high)


FIGURE = st.one_of(st.none(), st.floats(), st.integers(-40, 120), st.text(max_size=4), st.decimals())


@given(warm_end=FIGURE, night=FIGURE, day_floor=FIGURE, night_floor=FIGURE, first=st.booleans())
def test_whatever_the_thermometer_says_no_cold_animal_passes(
    warm_end: Any, night: Any, day_floor: Any, night_floor: Any, first: bool
) -> None:
    standing, reasons, _ = ask(
        warm_end, night, first_dose=first, day_floor=day_floor, night_floor=night_floor
    )
    assert standing in STANDINGS
    if standing == "cold":
        assert reasons
    if standing == "ok":
        assert not reasons
        assert Decimal(str(warm_end)) <= 32
        assert Decimal(str(night)) <= Decimal(str(warm_end))
