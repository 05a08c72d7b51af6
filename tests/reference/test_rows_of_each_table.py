"""What holds for the rows of one table: organisms, methods, solutions, scales, hosts, follow-up, figures."""

from __future__ import annotations

from itertools import pairwise

import pytest

from fecallab.domain.exam import METHODS
from fecallab.domain.followup_default import GOALS
from fecallab.domain.grading import UNITS
from fecallab.domain.organism import EYE_GROUPS, STAGES, TARGET_GROUPS
from fecallab.reference.grading import LOWER_RULES, UPPER_RULES
from fecallab.reference.hosts import hosts
from fecallab.reference.tables import number, parts, read_rows

from .rows import named


class TestOrganisms:
    rows = read_rows("organisms")

    def test_there_are_ninety_seven(self) -> None:
        assert len(self.rows) == 97

    def test_groups_and_stages_are_closed_words(self) -> None:
        for row in self.rows:
            assert row["group"] in EYE_GROUPS, row["key"]
            assert row["eye_group"] in EYE_GROUPS, row["key"]
            assert set(parts(row["stages"])) <= set(STAGES), row["key"]
            assert row["motile"] in ("yes", "no")
            assert row["zoonotic"] in ("yes", "no", "possible")
            assert row["confidence"] in ("high", "medium", "low")
            assert row["not_clearable_by_stool"] in ("yes", "no")
            assert row["keeper_can_name"] in ("yes", "no")

    def test_every_target_group_has_an_organism_and_every_case_stage_a_word(self) -> None:
        assert {row["eye_group"] for row in self.rows} == set(EYE_GROUPS)
        for row in self.rows:
            if row["eye_group"] in TARGET_GROUPS and row["stage"] != "no reliable stool stage":
                assert parts(row["stages"]), row["key"]

    def test_sizes_are_in_micrometres_and_longer_than_wide(self) -> None:
        for row in self.rows:
            length = number(row["length_um_max"])
            width = number(row["width_um_max"])
            assert (length is None) == (number(row["length_um_min"]) is None), row["key"]
            assert (width is None) == (number(row["width_um_min"]) is None), row["key"]
            if length is not None:
                assert 1 <= length <= 20_000, row["key"]
                assert width is None or width <= length, row["key"]
            else:
                assert row["range_kind"] == "no size"
                assert row["source_kind"] == "none"

    def test_the_kind_of_range_fits_the_kind_of_source(self) -> None:
        for row in self.rows:
            remembered = row["range_kind"] == "memory range"
            assert remembered == (row["source_kind"] == "memory"), row["key"]

    def test_host_and_method_words_resolve(self) -> None:
        methods = {row["key"] for row in read_rows("methods")}
        for row in self.rows:
            assert set(parts(row["host_groups"])) <= {*hosts(), "any"}, row["key"]
            assert parts(row["host_groups"]), row["key"]
            assert set(parts(row["method_keys"])) <= methods, row["key"]
            words = {*hosts(), "plant eater", "plant eater adult"}
            assert set(parts(row["normal_inhabitant_in"])) <= words, row["key"]

    @pytest.mark.parametrize(
        ("claim", "value"), [("normal_inhabitant", "normal_inhabitant_in"), ("not_clearable", None)]
    )
    def test_each_claim_has_its_own_source(self, claim: str, value: str | None) -> None:
        for row in self.rows:
            made = bool(row[value]) if value else row["not_clearable_by_stool"] == "yes"
            assert made == bool(row[f"{claim}_source"]), row["key"]
            assert not made or row[f"{claim}_note"], row["key"]

    def test_what_is_no_parasite_makes_no_claim(self) -> None:
        for row in self.rows:
            if row["eye_group"] in ("pseudoparasite", "artefact"):
                assert row["not_clearable_by_stool"] == "no", row["key"]
                assert not row["normal_inhabitant_in"], row["key"]

    def test_what_a_keeper_cannot_name_says_why(self) -> None:
        for row in self.rows:
            assert (row["keeper_can_name"] == "no") == bool(row["keeper_can_name_note"]), row["key"]


def test_method_groups_fluids_and_exam_words_resolve() -> None:
    fluids = {row["key"] for row in read_rows("flotation_solutions")}
    for row in read_rows("methods"):
        assert set(parts(row["finds_groups"])) <= set(TARGET_GROUPS), row["key"]
        assert set(parts(row["cannot_find_groups"])) <= set(TARGET_GROUPS), row["key"]
        assert not set(parts(row["finds_groups"])) & set(parts(row["cannot_find_groups"])), row["key"]
        assert set(parts(row["exam_methods"])) <= set(METHODS), row["key"]
        assert set(parts(row["solution_keys"])) <= fluids, row["key"]
        assert row["source_kind"] in ("memory", "mixed"), row["key"]
        assert row["fields_from_memory_or_practice"], row["key"]


def test_methods_are_read_after_and_before_a_time_in_minutes() -> None:
    for row in read_rows("methods"):
        after, before = number(row["read_after_min"]), number(row["read_before_min"])
        assert after is None or before is None or 0 <= after < before <= 7 * 24 * 60, row["key"]
        least, usual = number(row["min_sample_g"]), number(row["usual_sample_g"])
        assert least is None or usual is None or 0 < least <= usual <= 10, row["key"]


def test_every_exam_method_is_described() -> None:
    described = {word for row in read_rows("methods") for word in parts(row["exam_methods"])}
    assert described == set(METHODS)


def test_specific_gravities_are_between_water_and_the_heaviest_salt() -> None:
    for table in ("methods", "flotation_solutions", "egg_gravities"):
        for row in read_rows(table):
            for column in ("sg_min", "sg_max"):
                value = number(row[column])
                assert value is None or 1.0 < value <= 1.41, f"{table} {row['key']}"


def test_a_recipe_that_does_not_give_its_gravity_says_so() -> None:
    for row in read_rows("flotation_solutions"):
        assert row["gives_what_it_says"] in ("yes", "no")
        assert (row["gives_what_it_says"] == "no") == row["note"].startswith("CONFLICT"), row["key"]


def test_egg_groups_are_groups() -> None:
    assert {row["group"] for row in read_rows("egg_gravities")} <= set(TARGET_GROUPS)


def test_scale_steps_touch_without_gap_or_overlap() -> None:
    scales: dict[str, list[dict[str, str]]] = {}
    for row in read_rows("grading_scales"):
        assert row["unit"] in UNITS
        assert row["lower_rule"] in LOWER_RULES
        assert row["upper_rule"] in UPPER_RULES
        assert bool(row["upper"]) == bool(row["upper_rule"]), row["key"]
        assert row["use"] in ("default", "by choice", "test data")
        assert (row["default"] == "yes") == (row["use"] == "default"), row["key"]
        assert row["people_only"] in ("yes", "no")
        assert set(parts(row["stages"])) <= set(STAGES)
        assert set(parts(row["groups"])) <= {*TARGET_GROUPS, "any"}
        scales.setdefault(row["scale"], []).append(row)
    for key, rows in scales.items():
        ranks = [int(row["rank"]) for row in rows]
        assert sorted(ranks) == list(range(len(rows))), key
        for unit in {row["unit"] for row in rows}:
            steps = sorted((row for row in rows if row["unit"] == unit), key=lambda row: int(row["rank"]))
            assert steps[-1]["upper"] == "", f"{key} has no open top for {unit}"
            for below, above in pairwise(steps):
                if unit == "per_22x22_cover_glass":
                    touches = last_whole(below) + 1 == first_whole(above)
                else:
                    touches = below["upper"] == above["lower"] and (
                        (below["upper_rule"], above["lower_rule"])
                        in (("below", "at least"), ("up to", "more than"))
                    )
                assert touches, f"{key}: {below['grade']} to {above['grade']}"


def first_whole(row: dict[str, str]) -> int:
    return int(row["lower"]) + (row["lower_rule"] == "more than")


def last_whole(row: dict[str, str]) -> int:
    return int(row["upper"]) - (row["upper_rule"] == "below")


def test_only_one_scale_is_a_default_and_plus_signs_are_off() -> None:
    defaults = {row["scale"] for row in read_rows("grading_scales") if row["default"] == "yes"}
    assert defaults == {"eggs_per_10x_field"}


def test_fields_to_read_name_real_methods_and_shares() -> None:
    methods = {row["key"] for row in read_rows("methods")} | set(METHODS)
    for row in read_rows("fields_to_read"):
        assert row["method"] in methods
        assert row["rank"] in ("published", "computed")
        for column in ("share_min", "share_advised"):
            share = number(row[column])
            assert share is None or 0 < share <= 1


def test_hosts_form_one_tree_with_sensible_temperatures() -> None:
    roots = [row["key"] for row in read_rows("hosts") if not row["parent"]]
    assert roots == ["reptile"]
    names: list[str] = []
    for row in read_rows("hosts"):
        assert row["kind"] in ("group", "species")
        assert row["plant_eater"] in ("yes", "no", "ask")
        assert row["parent"] in hosts() or row["key"] == "reptile"
        names += [row["key"], *parts(row["aliases"])]
        low, high = number(row["range_low_c"]), number(row["range_high_c"])
        assert (low is None) == (high is None), row["key"]
        if low is not None and high is not None:
            assert 15 <= low <= high <= 45
            assert row["range_means"]
            assert row["kind"] == "species"
    assert len(set(names)) == len(names), "a name stands for two hosts"


def test_host_groups_of_every_table_are_in_the_host_table() -> None:
    for table, column in (("priors", "host_group"), ("quarantine", "host_group"), ("taxa", "host_group")):
        for row in read_rows(table):
            assert not row[column] or row[column] in hosts(), f"{table} {named(row)}"


def test_follow_up_defaults_cover_every_target_with_whole_days() -> None:
    rows = read_rows("followup_defaults")
    words = {*hosts(), "any", "plant eater", "plant eater adult"}
    assert {row["target"] for row in rows if row["host_group"] == "any"} == set(TARGET_GROUPS)
    for row in rows:
        assert row["host_group"] in words
        assert row["default_goal"] in GOALS
        assert set(parts(row["stages_that_must_be_negative"])) <= set(STAGES)
        numbers = [row[name] for name in ("wait_after_last_dose_days", "spacing_days", "negatives_needed")]
        clearable = row["default_goal"] != "not clearable by stool exam"
        assert all(bool(value) == clearable for value in numbers), row["key"]
        if clearable:
            wait, spacing, needed = map(int, numbers)
            assert 0 < wait <= 120
            assert 0 < spacing <= 60
            assert 2 <= needed <= 5


def test_shares_and_chances_are_fractions() -> None:
    columns = {
        "recoveries": ("recovered_share", "recovered_share_min", "recovered_share_max", "detected_share"),
        "sensitivities": ("value",),
        "priors": ("share",),
    }
    for table, names in columns.items():
        for row in read_rows(table):
            for name in names:
                value = number(row[name])
                assert value is None or 0 <= value <= 1, f"{table} {row['key']} {name}"


def test_shares_agree_with_the_counts_beside_them() -> None:
    for row in read_rows("sensitivities"):
        if row["found"]:
            assert float(row["value"]) == pytest.approx(int(row["found"]) / int(row["of"]), abs=5e-5), row[
                "key"
            ]
    for row in read_rows("priors"):
        if row["positive"]:
            assert float(row["share"]) == pytest.approx(int(row["positive"]) / int(row["n"]), abs=5e-4), row[
                "key"
            ]


def test_each_recovery_default_lies_in_its_published_range_and_is_marked_as_a_mammals() -> None:
    defaults = [row for row in read_rows("recoveries") if row["default_for_bound"] == "yes"]
    assert [row["method"] for row in defaults] == ["simple_flotation", "centrifugal_flotation", "mcmaster"]
    for row in defaults:
        low, share, high = (
            float(row[name]) for name in ("recovered_share_min", "recovered_share", "recovered_share_max")
        )
        assert low <= share <= high
        assert row["mammal_figure"] == "yes"
    for row in read_rows("recoveries"):
        assert row["method"] in METHODS
        assert row["mammal_figure"] == ("no" if row["host"] == "chicken" else "yes"), row["key"]


def test_figures_from_other_animals_are_never_called_reptile_figures() -> None:
    for row in read_rows("sensitivities"):
        people = row["host"] in ("people", "dogs")
        assert row["reptile"] == ("no" if people else "yes"), row["key"]
        assert row["target"] in (*TARGET_GROUPS, "")
        assert row["quantity"] in ("sensitivity", "mean detectability", "correlation", "disagreement")


def test_priors_and_windows_name_groups() -> None:
    for table in ("priors", "retest_windows"):
        for row in read_rows(table):
            assert row["target"] in (*TARGET_GROUPS, ""), f"{table} {row['key']}"
    for row in read_rows("retest_windows"):
        days = [int(day) for day in parts(row["series_days"])]
        assert days == sorted(days), row["key"]
        assert not days or days[0] == int(row["first_day"]), row["key"]


def test_odds_ratios_lie_in_their_intervals() -> None:
    for row in read_rows("risk_factors"):
        assert float(row["ci95_low"]) < float(row["odds_ratio"]) < float(row["ci95_high"])


def test_quarantine_rows_are_defaults_or_published_and_void_the_stain_at_home() -> None:
    for row in read_rows("quarantine"):
        assert row["role"] in ("default", "published")
        assert "acid-fast" not in row["rule"], row["key"]
