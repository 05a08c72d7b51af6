"""Plans and doses with all that was written and done: tube, dilution, words on rules, reactions, other drugs."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from .conftest import PLAN, Said, contents

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]

MORE = (
    *("--repeats-allowed", "1", "--fluids-ml-per-kg-day", "20", "--fluid-product", "Ringer"),
    *("--warm-end-c", "38", "--night-c", "20", "--diluent", "water", "--diluent-by", "Apothecary Lund"),
    *("--volume-written-ml", "0,16", "--specialist-word", "Dr Ode, 5 March 2025", "--bottle-ml", "10"),
    *("--tube-french", "5", "--tube-inner-mm", "0.8", "--tube-length-mm", "400", "--tube-way", "flush"),
    *("--confirm", "weight-some-days-old=the same scale", "--confirm", "late-dose"),
)


@pytest.fixture
def label(tmp_path: Path) -> Path:
    from PIL import Image

    path = tmp_path / "label.png"
    Image.new("RGB", (60, 40), "white").save(path)
    return path


class TestPlan:
    def test_everything_that_the_vet_wrote_is_kept(self, do: Do, say: Say, case: str, label: Path) -> None:
        do("plan", "add", case, *PLAN, *MORE, "--label", str(label))
        plan = do("plan", "show", case)["plans"][0]
        assert {name: plan[name] for name in plan if name.startswith("tube")} == {
            "tube_french": 5.0,
            "tube_inner_diameter_mm": 0.8,
            "tube_length_mm": 400.0,
            "tube_way": "flush",
        }
        assert (plan["repeats_allowed"], plan["fluids_ml_per_kg_day"], plan["fluid_product"]) == (
            1,
            20.0,
            "Ringer",
        )
        assert (plan["night_at_least_c"], plan["warm_end_at_least_c"]) == (20.0, 38.0)
        assert (plan["diluent"], plan["diluent_by"]) == ("water", "Apothecary Lund")
        assert (plan["volume_written_ml"], plan["specialist_word"]) == ("0.16", "Dr Ode, 5 March 2025")
        assert (plan["bottle_ml"], len(plan["label_picture"]), plan["picture"]) == (10.0, 64, "")
        assert [(word["rule"], word["by"], word["why"]) for word in plan["confirmed"]] == [
            ("weight-some-days-old", "Dr Ilse Varnholt", "the same scale"),
            ("late-dose", "Dr Ilse Varnholt", ""),
        ]
        text = say("plan", "show", case)
        assert "Dr Ilse Varnholt on late-dose: answered" in text and "doses planned: 2" in text

    @pytest.mark.parametrize(
        ("words", "code"),
        [
            (("--diluent", "water"), "diluent-by-whom"),
            (("--diluent-by", "Lund"), "diluent-by-whom"),
            (("--warm-end-c", "30", "--night-c", "31"), "night-above-warm-end"),
            (("--tube-french", "5", "--tube-inner-mm", "1.7"), "tube-too-thin"),
            (("--tube-french", "500"), "out-of-range"),
            (("--tube-way", "both"), "not-a-choice"),
            (("--repeats-allowed", "-1"), "out-of-range"),
            (("--bottle-ml", "0"), "out-of-range"),
            (("--volume-written-ml", "nan"), "not-a-number"),
            (("--fluids-ml-per-kg-day", "1e9"), "out-of-range"),
            (("--confirm", "the vet said so"), "no-rule-code"),
            (("--confirm", "late-dose", "--confirm", "late-dose=why"), "given-twice"),
            (("--label", "no-such-file.png"), None),
        ],
    )
    def test_what_cannot_be_meant_is_one_line_and_changes_nothing(
        self, folder: Path, fecallab: Callable[..., Said], case: str, words: tuple[str, ...], code: str | None
    ) -> None:
        before = contents(folder)
        said = fecallab("plan", "add", case, *PLAN, *words, "--json")
        assert said.code in (2, 3), said.all
        assert code is None or said.error["code"] == code
        assert contents(folder) == before


class TestSamePlan:
    def test_it_is_a_new_plan_with_the_same_order_of_today(
        self, do: Do, say: Say, treated: str, label: Path
    ) -> None:
        do("plan", "add", treated, *PLAN, *MORE, "--written", "2025-03-22", "--file", str(label), "--as-told")
        old = do("plan", "show", treated)["plans"][-1]
        before = date.today()
        made = do("plan", "same", treated, "--vet", "Dr Ode")
        new = made["plan"]
        changed = {name for name in new if new[name] != old[name]}
        assert changed == {
            *("code", "vet", "written_on", "picture", "volume_written_ml", "confirmed", "as_told", "remark"),
        }
        assert new["vet"] == "Dr Ode"
        assert before <= date.fromisoformat(new["written_on"]) <= date.today()
        assert (new["as_told"], new["confirmed"], new["volume_written_ml"]) == (False, [], "")
        assert made["same_as"] == old["code"]
        assert [plan["code"] for plan in do("plan", "show", treated)["plans"]] == ["P1", "P2", "P3"]
        assert "(replaced)" in say("plan", "show", treated)

    def test_it_names_both_weights_and_asks_for_one_of_today(self, do: Do, say: Say, treated: str) -> None:
        text = say("plan", "same", treated, "--vet", "Dr Ode")
        assert "the same plan as on 6 March 2025 (P1)" in text
        assert "Weight then 317 g, last 321 g (21 March 2025)." in text
        assert "Next: weigh Saffron, then: fecallab dose work-out C1" in text
        do("animal", "weigh", "Saffron", "330")
        assert do("plan", "same", treated, "--vet", "Dr Ode")["weighed_today"]

    @pytest.mark.parametrize(
        ("words", "exit_code", "code"),
        [
            (("C1",), 2, "usage"),
            (("C1", "--vet", " "), 1, "order-missing"),
            (("C1", "--vet", "Dr Ode", "--written", "2025-03-01"), 2, "plan-older"),
            (("C2", "--vet", "Dr Ode"), 2, "no-plan"),
            (("C9", "--vet", "Dr Ode"), 2, "unknown-case"),
        ],
    )
    def test_it_needs_the_vet_and_a_plan(
        self,
        do: Do,
        folder: Path,
        fecallab: Callable[..., Said],
        treated: str,
        words: tuple[str, ...],
        exit_code: int,
        code: str,
    ) -> None:
        do("case", "open", "Saffron", "ciliate", "--vet", "Dr Ode")
        before = contents(folder)
        said = fecallab("plan", "same", *words, "--json")
        assert said.code == exit_code, said.all
        found = said.json["reasons"][0] if exit_code == 1 else said.error
        assert found["code"] == code and found["next"]
        assert contents(folder) == before

    def test_a_closed_case_takes_none(self, do: Do, fecallab: Callable[..., Said], treated: str) -> None:
        do("animal", "event", "Saffron", "left")
        do("case", "close", treated, "--ending", "animal left")
        said = fecallab("plan", "same", treated, "--vet", "Dr Ode", "--json")
        assert (said.code, said.json["reasons"][0]["code"]) == (1, "case-closed")


class TestDose:
    def give(self, do: Do, case: str, *words: str) -> dict[str, Any]:
        do("plan", "add", case, *PLAN)
        do("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00")
        found: dict[str, Any] = do("dose", "give", case, "--at", "2025-03-07 08:15", *words)["dose"]
        return found

    def test_what_was_delivered_follows_from_volume_strength_and_weight(self, do: Do, case: str) -> None:
        dose = self.give(do, case)
        assert (dose["volume_ml"], dose["weight_g"]) == ("0.16", 317.0)
        assert dose["delivered_mg_per_kg"] == "50.47"

    def test_a_thinned_dose_is_worked_out_with_its_own_strength(self, do: Do, case: str) -> None:
        more = ("--dilution-factor", "4", "--volume-ml", "0.64", "--syringe-ml", "1", "--flush-ml", "0.3")
        dose = self.give(do, case, *more, "--second-person", "Ilse")
        assert (dose["dilution_factor"], dose["diluted_mg_per_ml"]) == (4.0, "25")
        assert dose["delivered_mg_per_kg"] == "50.47"
        assert (dose["syringe_ml"], dose["flush_ml"], dose["second_person"]) == (1.0, 0.3, "Ilse")

    def test_overrides_are_kept_with_who_and_why(self, do: Do, case: str) -> None:
        dose = self.give(do, case, "--override", "late-dose=away", "--override-by", "Dr Ode")
        assert [(word["rule"], word["by"], word["why"]) for word in dose["overrides"]] == [
            ("late-dose", "Dr Ode", "away")
        ]
        assert do("correct", "D1", "volume_ml=0.15", "--reason", "read again")["after"]["overrides"]

    def test_a_partly_given_dose_does_not_pretend_to_know_what_was_delivered(self, do: Do, case: str) -> None:
        assert self.give(do, case, "--outcome", "spat", "--volume-ml", "0.16")["delivered_mg_per_kg"] == ""

    @pytest.mark.parametrize(
        ("words", "code"),
        [
            (("--override", "late-dose"), "override-by-whom"),
            (("--override", "?", "--override-by", "Dr Ode"), "no-rule-code"),
            (("--dilution-factor", "0.5"), "out-of-range"),
            (("--diluted-mg-per-ml", "250"), "diluted-is-stronger"),
            (("--dilution-factor", "4", "--diluted-mg-per-ml", "20"), "dilution-disagrees"),
            (("--flush-ml", "-1"), "out-of-range"),
            (("--syringe-ml", "inf"), "not-a-number"),
        ],
    )
    def test_what_cannot_be_meant_is_one_line_and_changes_nothing(
        self,
        do: Do,
        folder: Path,
        fecallab: Callable[..., Said],
        case: str,
        words: tuple[str, ...],
        code: str,
    ) -> None:
        do("plan", "add", case, *PLAN)
        do("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00")
        before = contents(folder)
        said = fecallab("dose", "give", case, "--at", "2025-03-07 08:15", *words, "--json")
        assert (said.code, said.error["code"]) == (2, code), said.all
        assert contents(folder) == before


class TestReaction:
    def test_a_stop_sign_says_at_once_no_further_dose(
        self, do: Do, say: Say, case: str, tmp_path: Path
    ) -> None:
        TestDose().give(do, case)
        assert "weigh, then dose 2" in say("due", "--on", "2025-03-20")
        text = say("dose", "reaction", "D1", "tremor", "left foot", "--at", "2025-03-07 20:15")
        assert "12 hours after D1 (fenbendazole): tremor" in text
        assert "Give no further dose" in text and "Call the vet now" in text
        assert "For the vet: fenbendazole, 0.16 ml on 7 March 2025, 08:15, 317 g." in text
        due = do("due", "--on", "2025-03-20")["due"][0]
        assert due["what"] == "no further dose: call the vet"
        assert "tremor (left foot)" in say("case", "show", case)
        do("report", "case", case, "--to", str(tmp_path / "pages"))
        assert "tremor (left foot)" in (tmp_path / "pages" / "case-C1.html").read_text(encoding="utf-8")
        do("plan", "add", case, *PLAN, "--written", "2025-03-10")
        assert "weigh, then dose 1" in say("due", "--on", "2025-03-20"), "the vet has spoken"

    def test_a_sign_that_does_not_stop_says_what_to_do(self, do: Do, case: str) -> None:
        TestDose().give(do, case)
        said = do("dose", "reaction", "D1", "vomited")
        assert (said["stop"], said["next"]) == (False, "Do not repeat the dose; call the vet.")
        assert do("dose", "reaction", "D1", "none")["reaction"]["sign"] == "none"
        assert "no further dose" not in do("due", "--on", "2025-03-20")["due"][0]["what"]

    @pytest.mark.parametrize(
        ("words", "code"),
        [
            (("D9", "tremor"), "unknown-dose"),
            (("D1", "hiccups"), "not-a-choice"),
            (("D1", "tremor", "--at", "2025-03-07 08:00"), "reaction-before-dose"),
        ],
    )
    def test_what_cannot_be_meant_is_one_line_and_changes_nothing(
        self,
        do: Do,
        folder: Path,
        fecallab: Callable[..., Said],
        case: str,
        words: tuple[str, ...],
        code: str,
    ) -> None:
        TestDose().give(do, case)
        before = contents(folder)
        said = fecallab("dose", "reaction", *words, "--json")
        assert (said.code, said.error["code"]) == (2, code)
        assert contents(folder) == before


class TestOtherDrugsAndLengths:
    def test_other_drugs_are_kept_and_shown(self, do: Do, say: Say, case: str) -> None:
        do(
            "dose",
            "other",
            "Saffron",
            "Fenbendazole",
            "--mg-per-kg",
            "50",
            "--given",
            "2025-01-09",
            "--doses",
            "3",
        )
        text = say("dose", "other", "Saffron", "snake oil")
        assert "not in the table" in text
        shown = do("animal", "show", "Saffron")["other_drugs"]
        assert tuple(shown[0][name] for name in ("drug", "mg_per_kg", "doses", "given_on")) == (
            "fenbendazole",
            "50",
            3,
            "2025-01-09",
        )
        assert "fenbendazole 50 mg/kg, 3 doses, the last (9 January 2025)" in say("animal", "show", "Saffron")

    def test_lengths_are_kept_and_compared(self, do: Do, say: Say, case: str) -> None:
        assert do("animal", "measure", "Saffron", "SVL", "182")["measurement"]["kind"] == "snout-vent length"
        assert "check the unit" in say("animal", "measure", "Saffron", "snout-vent length", "18.5")
        assert "check the unit" not in say("animal", "measure", "Saffron", "total", "18.5")
        assert "snout-vent length 182 mm" in say("animal", "show", "Saffron")

    @pytest.mark.parametrize(
        ("words", "code"),
        [
            (("dose", "other", "Saffron", " "), "drug-missing"),
            (("dose", "other", "Saffron", "x", "--doses", "0"), "out-of-range"),
            (("dose", "other", "Saffron", "x", "--mg-per-kg", "0"), "out-of-range"),
            (("dose", "other", "Saffron", "x", "--given", "2199-01-01"), "in-the-future"),
            (("dose", "other", "Nobody", "x"), "unknown-animal"),
            (("animal", "measure", "Saffron", "ear length", "20"), "not-a-choice"),
            (("animal", "measure", "Saffron", "svl", "18 cm"), "not-a-number"),
            (("animal", "measure", "Saffron", "svl", "0"), "out-of-range"),
            (("animal", "measure", "Nobody", "svl", "20"), "unknown-animal"),
        ],
    )
    def test_what_cannot_be_meant_is_one_line_and_changes_nothing(
        self, folder: Path, fecallab: Callable[..., Said], case: str, words: tuple[str, ...], code: str
    ) -> None:
        before = contents(folder)
        said = fecallab(*words, "--json")
        assert (said.code, said.error["code"]) == (2, code)
        assert contents(folder) == before


class TestCorrections:
    def test_what_was_delivered_follows_a_corrected_volume_and_weight(self, do: Do, case: str) -> None:
        TestDose().give(do, case)
        after = do("correct", "D1", "volume_ml=0,15", "--reason", "read again")["after"]
        assert (after["volume_ml"], after["delivered_mg_per_kg"]) == ("0.15", "47.32")
        spat = do("correct", "D1", "outcome=spat", "--reason", "seen later")["after"]
        assert spat["delivered_mg_per_kg"] == ""

    @pytest.mark.parametrize(
        ("code", "change", "problem"),
        [
            ("D1", "volume_ml=two", "not-a-number"),
            ("D1", "dilution_factor=0.5", "out-of-range"),
            ("D1", "overrides=late-dose", "not-a-choice"),
            ("R1", "sign=hiccups", "not-a-choice"),
            ("R1", "at=2025-03-07 08:00", "reaction-before-dose"),
            ("G1", "sign=hiccups", "sign-unknown"),
            ("G1", "answer=perhaps", "refused-by-records"),
            ("H1", "doses=0", "out-of-range"),
            ("H1", "mg_per_kg=much", "not-a-number"),
            ("M1", "value_mm=0", "out-of-range"),
            ("M1", "kind=ear", "refused-by-records"),
            ("Q1", "passed=yes", "judged-already"),
            ("Q1", "value=20", "judged-already"),
            ("E1", "stated_adequate=yes", "adequate-not-asked"),
        ],
    )
    def test_a_correction_passes_only_what_could_have_been_added(
        self,
        do: Do,
        folder: Path,
        fecallab: Callable[..., Said],
        case: str,
        code: str,
        change: str,
        problem: str,
    ) -> None:
        TestDose().give(do, case)
        do("dose", "reaction", "D1", "tremor", "--at", "2025-03-07 20:00")
        do("sign", "add", "Saffron", "collapse")
        do("dose", "other", "Saffron", "levamisole")
        do("animal", "measure", "Saffron", "svl", "182")
        do("control", "add", "blank", "--method", "mcmaster", "--found", "2")
        before = contents(folder)
        said = fecallab("correct", code, change, "--reason", "typing", "--json")
        assert (said.code, said.error["code"]) == (2, problem), said.all
        assert contents(folder) == before

    def test_new_facts_are_corrected_and_taken_back_like_all_others(self, do: Do, case: str) -> None:
        do("sign", "add", "Saffron", "collapse")
        assert do("correct", "G1", "sign=watery", "--reason", "wrong line")["after"]["sign"] == "watery-stool"
        do("withdraw", "G1", "--reason", "another animal")
        assert do("sign", "list", "Saffron")["open"] == []
        assert len(do("history", "G1")["history"]) == 3
