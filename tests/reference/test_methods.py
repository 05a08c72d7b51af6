"""Methods, fluids and heavy eggs."""

from __future__ import annotations

import pytest

from fecallab.domain.errors import BadInput
from fecallab.reference.methods import (
    egg_gravities,
    eggs_that_sink,
    flotation_solutions,
    method,
    methods,
)


def test_flotations_never_find_moving_stages() -> None:
    for item in methods().values():
        if "flotation" in item.key:
            assert "trophozoites" in item.cannot_find_words, item.key


@pytest.mark.parametrize(
    ("key", "factor"), [("mcmaster_50", 50), ("mcmaster_25", 25), ("stoll_dilution", 100)]
)
def test_counting_methods_carry_their_factor(key: str, factor: float) -> None:
    assert method(key).multiplication_factor == factor


def test_an_unknown_method_lists_the_known_ones() -> None:
    with pytest.raises(BadInput, match="baermann"):
        method("zinc")


def test_no_fluid_in_use_lifts_fluke_eggs() -> None:
    fluke = next(egg for egg in egg_gravities() if egg.group == "trematode")
    working = [fluid for fluid in flotation_solutions().values() if fluid.target_sg is not None]
    assert working
    for fluid in working:
        assert fluke in eggs_that_sink(fluid.target_sg or 0), fluid.key


def test_water_lifts_nothing_and_strong_salt_lifts_all() -> None:
    assert eggs_that_sink(1.0) == egg_gravities()
    assert eggs_that_sink(1.31) == ()


def test_targets_lie_within_the_range_of_their_fluid() -> None:
    for fluid in flotation_solutions().values():
        if fluid.target_sg is not None:
            assert fluid.sg_min <= fluid.target_sg <= fluid.sg_max, fluid.key
