"""Dosing as the records know it: warmth, other courses, the bottle, thinning, tubs, and what comes again."""

import json

import pytest

from fecallab.cli.main import run

from .conftest import begin_with, told

VET = "Dr Ilse Varnholt"


@pytest.fixture(scope="module")
def flint(tmp_path_factory, empty_folder):
    """Records with one small dragon and its case, made once."""
    return told(
        tmp_path_factory.mktemp("flint"),
        empty_folder,
        ("animal", "add", "Flint", "--species", "Pogona vitticeps", "--adult"),
        ("case", "open", "Flint", "coccidian", "--vet", VET, "--on", "2026-03-01"),
        ("animal", "weigh", "Flint", "34", "--at", "2026-03-04 08:00"),
    )


@pytest.fixture
def rescue(flint, folder, capsys):
    """Records with one small dragon under a plan that needs thinning; returns a runner."""
    begin_with(folder, flint)

    def type_in(*words, expect=0):
        code = run([*words, "--json"])
        out = capsys.readouterr()
        assert expect is None or code == expect, (words, out.out, out.err)
        return json.loads(out.out)

    return type_in


def plan(type_in, *more, drug="toltrazuril", dose="15", strength="50", case="C1", written="2026-03-02"):
    return type_in(
        *("plan", "add", case, "--vet", VET, "--written", written, "--drug", drug, "--dose-mg-per-kg", dose),
        *(
            "--concentration-mg-per-ml",
            strength,
            "--route",
            "by mouth",
            "--interval-days",
            "1",
            "--doses",
            "3",
        ),
        *more,
    )


FIT = ("--finding", "none", "--hydration", "normal", "--warm-end-c", "38", "--night-c", "27")


def codes(answer):
    return {reason["code"] for reason in answer["reasons"]}


def test_too_small_to_measure_ends_in_a_recipe_and_the_log_keeps_it(rescue):
    plan(rescue, "--diluent", "water", "--diluent-by", VET)
    answer = rescue("dose", "work-out", "C1", "--at", "2026-03-04 09:00", *FIT)
    assert answer["draw_ml"] == pytest.approx(0.2)
    assert answer["dilution"]["factor"] == 20
    given = rescue("dose", "give", "C1", "--at", "2026-03-04 09:05", *FIT)["dose"]
    assert (given["dilution_factor"], given["diluted_mg_per_ml"]) == (20, "2.5")
    assert float(given["delivered_mg_per_kg"]) == pytest.approx(15, rel=0.05)


def test_without_a_named_diluent_there_is_no_volume_and_a_way_forward(rescue):
    plan(rescue)
    answer = rescue("dose", "work-out", "C1", "--at", "2026-03-04 09:00", *FIT, expect=1)
    assert answer["refused"]
    assert all(reason["next"] for reason in answer["reasons"])


def test_a_cold_night_in_the_log_refuses_and_a_word_of_today_goes_before_it(rescue):
    plan(rescue, "--diluent", "water", "--diluent-by", VET)
    rescue("care", "log", "Flint", "warm end", "38", "--at", "2026-03-03 13:00")
    rescue("care", "log", "Flint", "lowest at night", "12", "--at", "2026-03-04 06:00")
    cold = rescue("dose", "work-out", "C1", "--at", "2026-03-04 09:00", expect=1)
    assert "too-cold-at-night" in codes(cold)
    warm = ("--warm-end-c", "38", "--night-c", "27")
    assert not rescue("dose", "work-out", "C1", "--at", "2026-03-04 09:00", *warm)["refused"]
    later = rescue("dose", "work-out", "C1", "--at", "2026-03-06 09:00", expect=1)
    assert "too-cold-at-night" not in codes(later)  # that night no longer speaks for today


def test_a_tub_has_no_dose(rescue):
    rescue("animal", "add", "Tub 7", "--kind", "tub", "--number", "6", "--species", "Pogona vitticeps")
    rescue("case", "open", "Tub 7", "coccidian", "--vet", VET, "--on", "2026-03-01")
    rescue("animal", "weigh", "Tub 7", "200", "--at", "2026-03-04 08:00")
    plan(rescue, case="C2")
    answer = rescue("dose", "work-out", "C2", "--at", "2026-03-04 09:00", *FIT, expect=1)
    assert "one-animal" in codes(answer)


def test_two_macrocyclic_lactones_in_two_cases_of_one_animal_meet(rescue):
    rescue("dose", "other", "Flint", "milbemycin oxime", "--mg-per-kg", "0.25", "--given", "2026-03-01")
    plan(rescue, drug="ivermectin", dose="0.2", strength="10")
    answer = rescue("dose", "work-out", "C1", "--at", "2026-03-04 09:00", *FIT, expect=1)
    assert "stop-two-macrocyclic-lactones" in codes(answer)


def test_a_stop_sign_after_a_dose_ends_the_course(rescue):
    plan(rescue, "--diluent", "water", "--diluent-by", VET)
    dose = rescue("dose", "give", "C1", "--at", "2026-03-04 09:05", *FIT)["dose"]["code"]
    rescue("dose", "reaction", dose, "tremor", "--at", "2026-03-04 14:00")
    rescue("animal", "weigh", "Flint", "34", "--at", "2026-03-05 08:00")
    answer = rescue("dose", "work-out", "C1", "--at", "2026-03-05 09:05", *FIT, expect=1)
    assert "sign-after-dose" in codes(answer)


def test_the_bottle_runs_short_and_says_so(rescue):
    plan(rescue, "--bottle-ml", "0.3", "--diluent", "water", "--diluent-by", VET)
    rescue("animal", "weigh", "Flint", "340", "--at", "2026-03-04 08:30")
    answer = rescue("dose", "work-out", "C1", "--at", "2026-03-04 09:00", *FIT)
    assert "stock-short" in {warning["code"] for warning in answer["warnings"]}


def test_a_drug_past_its_date_is_refused(rescue):
    plan(rescue, "--diluent", "water", "--diluent-by", VET)
    words = ("--bottle-expires", "2026-01-31")
    answer = rescue("dose", "work-out", "C1", "--at", "2026-03-04 09:00", *FIT, *words, expect=1)
    assert "drug-expired" in codes(answer)


def test_todays_care_stands_in_the_order_in_which_it_helps(rescue):
    plan(rescue, "--fluids-ml-per-kg-day", "20", "--fluid-product", "saline", "--feeding", "half a meal")
    care = rescue("care", "today", "Flint", "--at", "2026-03-04 09:00")["cases"][0]
    acts = [line["act"] for line in care["lines"]]
    assert (
        acts.index("warmth")
        < acts.index("weigh")
        < acts.index("fluids")
        < acts.index("drug")
        < acts.index("food")
    )
    fluids = next(line for line in care["lines"] if line["act"] == "fluids")
    assert "0.68 ml" in fluids["text"]  # 34 g at 20 ml/kg


def test_positive_again_gathers_what_the_vet_needs_and_no_volume(rescue):
    rescue("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    float_ = (
        "--method",
        "simple_flotation",
        "--gravity",
        "1.2",
        "--gravity-checked",
        "--standing-minutes",
        "15",
    )
    stool = ("--form", "soft", "--kept", "room", "--mass-g", "1.2")
    seen = ("--objective", "10", "--share", "1", "--seen")
    rescue("sample", "add", "Saffron", "--passed-from", "2026-03-01 07:00", *stool)
    rescue("exam", "add", "S1", *float_, "--read-at", "2026-03-01 08:00", *seen, "oxyurid=9")
    rescue(
        *("plan", "add", "C2", "--vet", VET, "--written", "2026-03-02", "--drug", "fenbendazole"),
        *("--dose-mg-per-kg", "50", "--concentration-mg-per-ml", "100", "--route", "by mouth"),
        *("--interval-days", "14", "--doses", "1", "--goal", "clear"),
    )
    rescue("animal", "weigh", "Saffron", "300", "--at", "2026-03-03 08:00")
    rescue("dose", "give", "C2", "--at", "2026-03-03 08:05", *FIT)
    rescue("sample", "add", "Saffron", "--passed-from", "2026-04-10 07:00", *stool)
    rescue("exam", "add", "S2", *float_, "--read-at", "2026-04-10 08:00", *seen, "oxyurid=1")
    again = rescue("dose", "again", "C2", "--on", "2026-04-10")
    assert again["standing"] == "positive again: back to the vet"
    assert again["volume_ml"] is None
    assert [dose["drug"] for dose in again["doses_of_the_last_60_days"]] == ["fenbendazole"]
    answer = rescue("dose", "work-out", "C2", "--at", "2026-04-10 09:00", *FIT, expect=1)
    assert "vet-first" in codes(answer)
    due = {thing["case"]: thing["next"] for thing in rescue("due", "--on", "2026-04-10")["due"]}
    assert due["C2"] == "fecallab dose again C2"


def test_a_vets_recorded_word_lifts_only_what_the_table_allows(rescue):
    plan(rescue, "--diluent", "water", "--diluent-by", VET)
    cold = ("--finding", "none", "--hydration", "normal", "--warm-end-c", "38", "--night-c", "22")
    at = ("--at", "2026-03-04 09:00")
    assert "too-cold-at-night" in codes(rescue("dose", "work-out", "C1", *at, *cold, expect=1))
    nobody = rescue(
        "dose", "work-out", "C1", *at, *cold, "--override", "too-cold-at-night=cool nights", expect=2
    )
    assert nobody["error"]["code"] == "override-by-whom"
    word = ("--override", "too-cold-at-night=cool nights are usual", "--override-by", VET)
    lifted = rescue("dose", "work-out", "C1", *at, *cold, *word, expect=None)
    used_up = ("--override", "doses-used-up=one more", "--override-by", VET)
    for day in (4, 5, 6):
        rescue("animal", "weigh", "Flint", "34", "--at", f"2026-03-0{day} 08:30")
        rescue("dose", "give", "C1", "--at", f"2026-03-0{day} 09:05", *FIT)
    rescue("animal", "weigh", "Flint", "34", "--at", "2026-03-07 08:30")
    answer = rescue("dose", "work-out", "C1", "--at", "2026-03-07 09:05", *FIT, *used_up, expect=1)
    assert "doses-used-up" in codes(answer)
    assert lifted["refused"] is (lifted.get("lifted") != ["too-cold-at-night"])


def test_the_tube_is_marked_by_the_animals_own_length(rescue, capsys):
    rescue("animal", "weigh", "Flint", "340", "--at", "2026-03-04 08:30")
    tube = (
        "--tube-french",
        "5",
        "--tube-inner-mm",
        "0.9",
        "--tube-length-mm",
        "200",
        "--tube-way",
        "flush",
    )
    plan(rescue, *tube, "--diluent", "water", "--diluent-by", VET)
    at = ("dose", "work-out", "C1", "--at", "2026-03-04 09:00", *FIT)
    assert run(list(at)) == 0
    assert 'animal measure Flint "snout to stomach" MM' in capsys.readouterr().out
    rescue("animal", "measure", "Flint", "snout to stomach", "96")
    assert run(list(at)) == 0
    assert "Mark it 96 mm from its end" in capsys.readouterr().out
    full = rescue(*at, "--feed-ml", "12", expect=1)  # 12 ml and the dose pass 2 % of 340 g
    assert full["refused"] and all(reason["next"] for reason in full["reasons"])
