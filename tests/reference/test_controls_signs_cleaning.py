"""The tables of controls, danger signs, reactions and cleaning: closed words, whole numbers, nothing unsaid."""

from __future__ import annotations

import pytest
from scipy.stats import poisson

from fecallab.domain.animal import Animal
from fecallab.domain.control import CONTROL_KINDS, poisson_band
from fecallab.domain.dose_facts import STOP_SIGNS
from fecallab.domain.errors import BadInput
from fecallab.domain.organism import TARGET_GROUPS
from fecallab.domain.signs import LOSS, LOSS_ASLEEP, LOSS_YOUNG
from fecallab.reference.cleaning import cleaning_advice, working_rows
from fecallab.reference.controls import control_limits, control_plan, gravity_aimed_at
from fecallab.reference.hosts import hosts
from fecallab.reference.signs import reaction_signs, sign, signs, signs_for
from fecallab.reference.sources import SOURCE_KINDS
from fecallab.reference.tables import read_rows


class TestSigns:
    def test_every_row_is_a_whole_question_with_a_way_forward(self) -> None:
        assert len(signs()) == 36
        for one in signs().values():
            assert one.question.endswith("?"), one.key
            assert one.urgency in ("today", "within 2 days"), one.key
            assert one.urgency_kind in SOURCE_KINDS, one.key
            assert one.age in ("", "young", "young or small", "adult"), one.key
            assert one.asked_about in ("sample", "animal", "weights", "keeper"), one.key
            assert set(one.hosts) <= {*hosts(), "any", "people"} and one.hosts, one.key
            assert all((one.sign, one.threshold, one.why, one.until_the_vet, one.host_words)), one.key
            assert not one.why.endswith(".") and not one.until_the_vet.endswith("."), one.key

    def test_the_signs_that_are_computed_have_their_limits(self) -> None:
        computed = {one.key for one in signs().values() if one.asked_about == "weights"}
        assert computed == {LOSS, LOSS_YOUNG, LOSS_ASLEEP}
        found = signs()
        assert (found[LOSS].loss_percent_over, found[LOSS].within_days) == (10, 90)
        assert (found[LOSS_YOUNG].loss_percent_over, found[LOSS_YOUNG].within_days) == (5, 7)
        assert found[LOSS_YOUNG].under_g == 50
        assert found[LOSS_ASLEEP].loss_percent_per_month_over == 1

    @pytest.mark.parametrize(
        "group", ["tortoise", "turtle", "snake", "lizard", "gecko", "chameleon", "other"]
    )
    @pytest.mark.parametrize("adult", [True, False, None])
    def test_every_animal_is_asked_the_few_that_cannot_wait(self, group: str, adult: bool | None) -> None:
        animal = Animal(name="Tilda", host_group=group, adult=adult, plant_eater=True)
        first = {one.key for one in signs_for(animal, first=True)}
        assert {"tissue-out-of-vent", "bleeding-from-vent", "collapse", "open-mouth-breathing"} <= first
        assert len(first) <= 15
        if group != "other":
            assert any(
                key.startswith(("not-eating", "regurgitation"))
                for key in first | {one.key for one in signs_for(animal)}
            ), "eating is asked of everybody"

    def test_what_cannot_concern_an_animal_is_not_asked(self) -> None:
        snake = {one.key for one in signs_for(Animal(name="Rill", host_group="snake", adult=True))}
        assert "not-eating-snake" in snake and "regurgitation-snake" in snake
        assert not snake & {"not-eating-chelonian", "soft-bones", "thin-tail", "not-eating-small-snake"}
        small = {one.key for one in signs_for(Animal(name="Rill", host_group="snake", adult=True), 20.0)}
        assert "not-eating-small-snake" in small

    def test_those_of_today_are_asked_first(self) -> None:
        urgencies = [one.urgency for one in signs_for(Animal(name="Tilda", host_group="tortoise"))]
        assert urgencies == sorted(urgencies, key=lambda urgency: urgency != "today")

    @pytest.mark.parametrize(
        ("typed", "key"),
        [
            ("Collapse", "collapse"),
            ("open mouth breathing", "open-mouth-breathing"),
            ("5", "black-stool"),
            ("watery", "watery-stool"),
            ("weight-loss", "weight-loss"),
        ],
    )
    def test_a_sign_is_found_as_a_person_types_it(self, typed: str, key: str) -> None:
        assert sign(typed).key == key

    @pytest.mark.parametrize("typed", ["", "0", "37", "not eating", "²", "colapse now", "-"])
    def test_what_is_no_sign_is_said_with_what_is_near(self, typed: str) -> None:
        with pytest.raises(BadInput, match="no sign that is known") as caught:
            sign(typed)
        assert caught.value.reason.next


def test_every_stop_sign_of_dosing_is_one_of_the_reactions_that_stop() -> None:
    stops = {key for key, one in reaction_signs().items() if one.stops}
    assert set(STOP_SIGNS) <= stops
    for one in reaction_signs().values():
        assert one.next and one.words
        assert one.stops == ("no further dose" in one.next)
        assert one.stops == (one.watch_hours is not None)


class TestControls:
    def test_every_kind_of_control_has_a_plan(self) -> None:
        assert tuple(control_plan()) == (
            "known positive",
            "blank",
            "gravity",
            "slide read blind",
            "microscope scale",
            "outside check",
        )
        assert set(control_plan()) == set(CONTROL_KINDS)
        for row in control_plan().values():
            assert row.how and row.accept and row.if_it_fails
            assert row.longest_days or row.while_examining_days or row.each_new_bottle

    def test_the_bands_of_the_table_are_those_of_the_distribution(self) -> None:
        level = control_limits().band_level
        rows = [row for row in read_rows("control_limits") if row["what"] == "poisson band"]
        assert len(rows) == 6
        for row in rows:
            mean, band = float(row["value"]), (int(row["low"]), int(row["high"]))
            exact = (int(poisson.ppf((1 - level) / 2, mean)), int(poisson.ppf((1 + level) / 2, mean)))
            assert band == exact == poisson_band(mean, level)

    @pytest.mark.parametrize("mean", [0.3, 1, 2.5, 7, 33, 412, 2999])
    @pytest.mark.parametrize("level", [0.5, 0.9, 0.95, 0.999])
    def test_the_band_is_exact_at_every_mean(self, mean: float, level: float) -> None:
        tail = (1 - level) / 2
        exact = (int(poisson.ppf(tail, mean)), int(poisson.ppf(1 - tail, mean)))
        assert poisson_band(mean, level) == exact

    def test_by_chance_none_is_found_less_than_once_in_ten_thousand_runs(self) -> None:
        assert poisson.pmf(0, control_limits().zero_stops_from_mean) < 1e-4

    @pytest.mark.parametrize(
        ("typed", "gravity"),
        [
            ("zinc_sulfate_fresh", 1.18),
            ("sugar", 1.27),
            ("Sodium chloride", 1.2),
            ("zinc sulphate fixed", 1.2),
        ],
    )
    def test_the_gravity_aimed_at_follows_from_the_fluid(self, typed: str, gravity: float) -> None:
        assert gravity_aimed_at(typed)[1] == gravity

    @pytest.mark.parametrize("typed", ["zinc", "", "tea"])
    def test_a_fluid_that_could_be_several_is_asked(self, typed: str) -> None:
        with pytest.raises(BadInput, match="fluid") as caught:
            gravity_aimed_at(typed)
        assert "--expected" in caught.value.reason.next


class TestCleaning:
    def test_only_working_rows_are_advice(self) -> None:
        roles = {row["key"]: row["role"] for row in read_rows("cleaning")}
        assert set(roles.values()) == {"working", "evidence"}
        assert {row.key for row in working_rows().values()} == {
            k for k, role in roles.items() if role == "working"
        }
        assert set(working_rows()) <= {"all", *TARGET_GROUPS}

    def test_every_target_has_advice_with_cautions(self) -> None:
        for target in TARGET_GROUPS:
            advice = cleaning_advice(target)
            assert advice.general.cautions and "ammonia" in advice.general.cautions
            assert advice.own is None or advice.own.cautions

    def test_no_chemical_stands_without_its_time_and_meaning(self) -> None:
        for row in working_rows().values():
            assert bool(row.ammonia_percent) == bool(row.ammonia_minutes), row.key
            assert not row.ammonia_percent or row.ammonia_means, row.key
            assert bool(row.peroxide_percent) == bool(row.peroxide_minutes), row.key
            assert (row.heat_c is None) == (row.heat_minutes is None), row.key
            assert row.direct_cycle is not None or row.group == "all", row.key

    def test_rows_that_lean_on_others_name_rows_that_exist(self) -> None:
        import re

        keys = {row["key"] for row in read_rows("cleaning")}
        groups = {key.rpartition("-")[0] for key in keys} | {key.split("-")[0] for key in keys}
        for row in read_rows("cleaning"):
            text = f"{row['source']} {row['cautions']}"
            for named in re.findall(
                r"\b(?:flagellate|amoeba|coccidian|cryptosporidium|oxyurid|ascarid|rhabditid|"
                r"pentastomid|capillarid|trichuris)-[a-z]+(?:-[a-z]+)?",
                text,
            ):
                assert named in keys, f"{row['key']}: {named}"
            for stem in re.findall(r"\b([a-z]+)-\*", text):
                assert stem in groups, f"{row['key']}: {stem}"
