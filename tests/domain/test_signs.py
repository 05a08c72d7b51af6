"""Danger signs: the last answer holds, weights are compared fairly, nothing is asked that cannot concern."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.animal import Weighing
from fecallab.domain.signs import Sign, SignAnswer, open_signs, weight_signs

DAY = date(2026, 3, 20)


def sign(key: str, **more: Any) -> Sign:
    base: dict[str, Any] = {
        "sign": key.replace("-", " "),
        "question": "Is it?",
        "threshold": "any",
        "hosts": ("any",),
        "host_words": "all",
        "urgency": "within 2 days",
        "why": "it matters",
        "until_the_vet": "wait",
        "source": "invented for this test",
        "source_kind": "common practice",
    }
    return Sign(key=key, **{**base, **more})


SIGNS = {
    one.key: one
    for one in (
        sign("watery-stool"),
        sign("collapse", urgency="today"),
        sign("weight-loss", loss_percent_over=10, within_days=90),
        sign("weight-loss-young", loss_percent_over=5, within_days=7, under_g=50),
        sign("weight-loss-in-brumation", loss_percent_over=8, loss_percent_per_month_over=1),
    )
}


def answer(key: str, said: str, day: int, hour: int = 9) -> SignAnswer:
    return SignAnswer(animal="A1", sign=key, answer=said, seen_at=datetime(2026, 3, day, hour))


def weighed(*masses: tuple[int, float], state: str = "", step: float | None = None) -> list[Weighing]:
    """Weighings by the number of days before the last day."""
    return [
        Weighing(
            animal="A1",
            weighed_at=datetime(2026, 3, 20, 8) - timedelta(days=ago),
            mass_g=mass,
            state=state,
            scale_step_g=step,
        )
        for ago, mass in masses
    ]


def lost(weighings: list[Weighing], **more: Any) -> list[str]:
    return [found.sign.key for found in weight_signs(weighings, SIGNS, DAY, **more)]


class TestOpen:
    def test_the_last_answer_holds(self) -> None:
        told = [answer("watery-stool", "yes", 4), answer("watery-stool", "no", 6)]
        assert [f.sign.key for f in open_signs(told, SIGNS, date(2026, 3, 5))] == ["watery-stool"]
        assert open_signs(told, SIGNS, DAY) == []
        assert open_signs(reversed(told), SIGNS, DAY) == [], "in any order"

    def test_what_was_seen_again_is_open_from_then_on(self) -> None:
        told = [
            answer("watery-stool", said, day) for day, said in ((4, "yes"), (6, "no"), (8, "yes"), (9, "yes"))
        ]
        assert open_signs(told, SIGNS, DAY)[0].since == date(2026, 3, 8)

    def test_what_the_vet_knows_stays_open_but_comes_last(self) -> None:
        told = [
            answer("collapse", "yes", 4),
            answer("collapse", "vet knows", 5),
            answer("watery-stool", "yes", 6),
        ]
        found = open_signs(told, SIGNS, DAY)
        assert [(f.sign.key, f.with_vet) for f in found] == [("watery-stool", False), ("collapse", True)]
        assert found[1].since == date(2026, 3, 4)

    def test_today_comes_first(self) -> None:
        told = [answer("watery-stool", "yes", 1), answer("collapse", "yes", 4)]
        assert [f.sign.key for f in open_signs(told, SIGNS, DAY)] == ["collapse", "watery-stool"]

    def test_a_sign_that_the_table_no_longer_has_breaks_nothing(self) -> None:
        assert open_signs([answer("gone-from-the-table", "yes", 4)], SIGNS, DAY) == []

    def test_it_says_in_one_line_what_to_do_and_how_urgent(self) -> None:
        line = open_signs([answer("collapse", "yes", 4)], SIGNS, DAY)[0].line
        assert line.startswith("To the vet today: collapse.")
        assert "Until then: wait." in line
        assert "\n" not in line


class TestWeights:
    @pytest.mark.parametrize(("now", "keys"), [(90.0, []), (89.9, ["weight-loss"]), (120.0, [])])
    def test_more_than_a_tenth_is_a_sign(self, now: float, keys: list[str]) -> None:
        assert lost(weighed((30, 100), (0, now)), adult=True) == keys

    def test_one_weight_says_nothing(self) -> None:
        assert lost(weighed((0, 50))) == []
        assert lost([]) == []

    def test_the_heaviest_of_the_days_that_are_compared_counts(self) -> None:
        slowly = weighed((40, 100), (30, 97), (20, 94), (10, 91), (0, 88))
        assert lost(slowly, adult=True) == ["weight-loss"], "a slow loss is a loss"
        assert lost(weighed((91, 100), (0, 88)), adult=True) == [], "longer ago than is compared"
        assert lost(weighed((90, 100), (0, 88)), adult=True) == ["weight-loss"]

    @pytest.mark.parametrize("state", ["gravid", "urine passed", "Just fed, two crickets", "eggs laid"])
    def test_a_weight_that_is_explained_is_not_compared(self, state: str) -> None:
        assert lost([*weighed((5, 100), state=state), *weighed((9, 80), (0, 79))], adult=True) == []
        assert lost([*weighed((5, 100), (4, 100)), *weighed((0, 70), state=state)], adult=True) == []

    def test_small_and_young_animals_are_watched_more_closely(self) -> None:
        little = weighed((7, 40), (0, 37.9))
        assert lost(little, adult=True) == ["weight-loss-young"], "under 50 g"
        big = weighed((7, 400), (0, 379))
        assert lost(big, adult=True) == []
        assert lost(big, adult=None) == []
        assert lost(big, adult=False) == ["weight-loss-young"]
        assert lost(weighed((8, 400), (0, 379)), adult=False) == [], "8 days"

    def test_one_step_of_the_scale_is_no_loss(self) -> None:
        assert lost(weighed((5, 6), (0, 5), step=1)) == []
        assert lost(weighed((5, 6), (0, 5), step=0.1)) == ["weight-loss", "weight-loss-young"]
        assert lost(weighed((5, 6), (0, 4), step=1)) == ["weight-loss", "weight-loss-young"]

    @pytest.mark.parametrize(
        ("ago", "mass", "signs"),
        [
            (30, 990, []),
            (30, 989, ["weight-loss-in-brumation"]),
            (10, 991, []),
            (91, 971, []),
            (91, 969, ["weight-loss-in-brumation"]),
            (300, 921, []),
            (300, 919, ["weight-loss-in-brumation"]),
        ],
    )
    def test_a_tortoise_asleep_loses_a_hundredth_a_month_and_less_than_eight_in_all(
        self, ago: int, mass: float, signs: list[str]
    ) -> None:
        asleep = DAY - timedelta(days=ago)
        weights = weighed((ago, 1000), (0, mass))
        assert lost(weights, adult=True, asleep_since=asleep, tortoise=True) == signs
        assert lost(weights, adult=True, asleep_since=asleep) == [], "not asked of others"

    def test_what_came_later_is_not_looked_at(self) -> None:
        weights = weighed((30, 100), (10, 100), (0, 80))
        assert weight_signs(weights, SIGNS, DAY - timedelta(days=1), adult=True) == []

    @given(st.lists(st.floats(1, 1e5), min_size=2, max_size=6), st.booleans())
    def test_gaining_is_never_a_sign(self, masses: list[float], adult: bool) -> None:
        rising = sorted(masses)
        weights = weighed(*[(len(rising) - number, mass) for number, mass in enumerate(rising)])
        assert lost(weights, adult=adult, asleep_since=date(2026, 1, 1), tortoise=True) == []


@pytest.mark.parametrize(
    ("more", "animal", "asked"),
    [
        ({"hosts": ("snake",)}, {"groups": ("lizard", "squamate")}, False),
        ({"hosts": ("squamate",)}, {"groups": ("lizard", "squamate")}, True),
        ({"hosts": ("people",)}, {}, True),
        ({"plant_eater": True}, {}, False),
        ({"plant_eater": True}, {"plant_eater": True}, True),
        ({"age": "young"}, {"adult": True}, False),
        ({"age": "young"}, {"adult": None}, True),
        ({"age": "adult"}, {"adult": False}, False),
        ({"age": "adult"}, {"adult": None}, True),
        ({"age": "young or small", "under_g": 50}, {"adult": True, "mass_g": 49.0}, True),
        ({"age": "young or small", "under_g": 50}, {"adult": True, "mass_g": 50.0}, False),
        ({"age": "young or small", "under_g": 50}, {"adult": True, "mass_g": None}, False),
    ],
)
def test_a_sign_is_asked_of_whom_it_may_concern(
    more: dict[str, Any], animal: dict[str, Any], asked: bool
) -> None:
    told = {"groups": ("lizard",), "adult": None, "plant_eater": False, "mass_g": None, **animal}
    assert sign("x", **more).is_asked_of(told.pop("groups"), **told) is asked
