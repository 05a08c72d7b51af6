"""Animals, stools, exams and care by commands, as a keeper would type them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from .conftest import FLOAT, Said

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]
Run = Callable[..., Said]


# Animals


def test_an_animal_is_added_weighed_listed_and_shown(do: Do, say: Say) -> None:
    text = say("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult", "--weight-g", "318")
    assert "A1 Saffron" in text and "lizard" in text
    weighed = do("animal", "weigh", "saffron", "317,5", "--at", "2025-03-07 08:00")
    assert weighed["weighing"]["mass_g"] == 317.5
    do("animal", "add", "Tub 7", "--kind", "tub", "--number", "4", "--species", "Pogona vitticeps", "--young")
    do("animal", "add", "North pen", "--kind", "pen", "--number", "9", "--host-group", "tortoise")
    listed = do("animal", "list")["animals"]
    assert [(a["name"], a["kind"], a["number_of_animals"]) for a in listed] == [
        ("Saffron", "animal", 1),
        ("Tub 7", "tub", 4),
        ("North pen", "pen", 9),
    ]
    assert listed[0]["last_weight_g"] == 318
    assert "Saffron" in say("animal", "list")
    assert "a tub with 4 animals" in say("animal", "show", "tub 7")
    shown = do("animal", "show", "A1")
    assert [w["mass_g"] for w in shown["weighings"]] == [317.5, 318]


def test_a_weight_that_can_hardly_be_in_grams_is_pointed_at(say: Say) -> None:
    say("animal", "add", "Barley", "--species", "Testudo hermanni")
    say("animal", "weigh", "Barley", "642", "--at", "2025-03-01 08:00")
    text = say("animal", "weigh", "Barley", "0.64", "--at", "2025-03-02 08:00")
    assert "99.90 % less" in text and "g, not kg" in text


def test_a_species_that_is_not_known_is_taken_and_pointed_at(say: Say, do: Do) -> None:
    assert "not in the table" in say("animal", "add", "Odd", "--species", "Draco imaginarius")
    assert do("animal", "show", "Odd")["animal"]["host_group"] == "other"


def test_an_order_alone_still_takes_exams(do: Do, float_exam: Do) -> None:
    do("animal", "add", "Wide", "--species", "Testudines")
    assert do("animal", "show", "Wide")["animal"]["host_group"] == "other"
    assert float_exam("Wide", "2025-03-04", "ascarid=2")["cases_opened"] == ["C1"]


def test_brumation_begins_ends_and_never_lies_over_another(do: Do, fecallab: Run) -> None:
    do("animal", "add", "Barley", "--species", "Testudo hermanni")
    early = fecallab("animal", "event", "Barley", "brumation", "--to", "2024-12-01", "--json")
    assert (early.code, early.error["code"]) == (2, "not-asleep")
    do("animal", "event", "Barley", "brumation", "--from", "2024-11-20")
    again = fecallab("animal", "event", "Barley", "brumation", "--from", "2024-12-01", "--json")
    assert (again.code, again.error["code"]) == (2, "asleep-already")
    ended = do("animal", "event", "Barley", "brumation", "--to", "2025-02-20")["event"]
    assert (ended["start"], ended["end"]) == ("2024-11-20", "2025-02-20")
    over = fecallab(
        "animal", "event", "Barley", "brumation", "--from", "2025-01-01", "--to", "2025-03-01", "--json"
    )
    assert over.error["code"] == "asleep-already"


# Samples


def test_a_sample_says_what_is_not_known(do: Do, say: Say) -> None:
    do("animal", "add", "Saffron")
    text = say("sample", "add", "Saffron")
    assert "Not known: when it was passed, form, how it was kept, mass" in text
    full = do(
        *("sample", "add", "Saffron", "--passed-from", "2025-03-04 06:30", "--passed-to", "2025-03-04 08:00"),
        *("--form", "soft", "--kept", "fridge", "--mass-g", "1,4", "--remark", "with urates"),
    )
    assert full["not_known"] == []
    assert full["sample"]["collected_at"] == "2025-03-04T08:00:00"
    assert full["sample"]["mass_g"] == 1.4


def test_a_sample_of_a_tub_or_pen_speaks_for_no_single_animal(do: Do, say: Say) -> None:
    do("animal", "add", "Tub 7", "--kind", "tub", "--number", "4")
    do("animal", "add", "North pen", "--kind", "pen", "--number", "9")
    assert "A sample of a tub never confirms one animal." in say("sample", "add", "Tub 7")
    assert "A sample of a pen never confirms one animal." in say("sample", "add", "North pen")
    assert [s["animal"] for s in do("sample", "list")["samples"]] == ["A1", "A2"]
    assert len(do("sample", "list", "Tub 7")["samples"]) == 1


def test_a_day_without_an_hour_is_the_whole_day(do: Do) -> None:
    """A stool of "that day" may be as old as the day allows; it is never taken for a fresh one."""
    do("animal", "add", "Saffron")
    code = do(
        "sample", "add", "Saffron", "--passed-from", "2025-03-04", "--form", "formed", "--kept", "room"
    )["sample"]["code"]
    do(
        *("exam", "add", code, "--method", "direct_saline_smear", "--room-c", "24"),
        *("--read-at", "2025-03-04 12:20", "--objective", "40", "--share", "0.4", "--seen", "flagellate=0"),
    )
    judged = do("exam", "show", "E1", "--target", "flagellate")["judged"][0]
    assert judged["result"] == "inconclusive"
    assert judged["reasons"][0]["code"] == "motility-not-assessable"


def test_all_samples_of_one_stool_name_the_first(do: Do, fecallab: Run) -> None:
    do("animal", "add", "Saffron")
    do("animal", "add", "Other")
    for _ in range(2):
        do("sample", "add", "Saffron")
    do("sample", "add", "Saffron", "--same-stool-as", "s1")
    third = do("sample", "add", "Saffron", "--same-stool-as", "S3")
    assert third["sample"]["same_stool_as"] == "S1"
    wrong = fecallab("sample", "add", "Other", "--same-stool-as", "S1", "--json")
    assert (wrong.code, wrong.error["code"]) == (2, "same-stool-of-another")


# Exams


def test_counts_at_the_eyepiece_become_a_burden_with_an_interval(do: Do, say: Say, stool: Any) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    code = stool("Saffron", "2025-03-04")
    added = say(
        *("exam", "add", code, *FLOAT, "--read-at", "2025-03-04 09:00", "--objective", "10"),
        *("--field-number", "20", "--counts", "0,2,1,0,3", "--of", "oxyurid", "--question", "Pinworms?"),
    )
    assert "6 oxyurid" in added and "Case C1 opened: oxyurid" in added
    shown = say("exam", "show", "E1")
    assert "Age at the exam: 60 minutes to 2 h 30 min" in shown
    assert "6 seen in 5 fields, mean 1.2 per field (95 % interval 0.44 to 2.61, Poisson)" in shown
    assert "scale: eggs or larvae per 10× field" in shown
    judged = do("exam", "show", "E1")["judged"][0]
    assert (judged["target"], judged["result"]) == ("oxyurid", "positive")
    burden = judged["burdens"][0]
    assert burden["mean_per_field"] == pytest.approx(1.2)
    assert burden["ci95_per_field"] == pytest.approx([0.4404, 2.6119], abs=1e-3)
    assert 0 < burden["cover_share"] < 0.05


def test_several_organisms_are_counted_field_by_field(do: Do, stool: Any) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    whole = do(
        *("exam", "add", stool("Saffron", "2025-03-04"), *FLOAT, "--read-at", "2025-03-04 09:00"),
        *("--objective", "10", "--counts", "oxyurid:0,2,1", "--counts", "coccidian:1,0,0"),
        *("--unsure", "ascarid:0,0,1"),
    )
    assert whole["exam"]["counts"] == {"oxyurid": 3, "coccidian": 1}
    assert whole["exam"]["unsure"] == {"ascarid": 1}
    assert whole["cases_opened"] == ["C1", "C2"]
    judged = {one["target"]: one for one in do("exam", "show", "E1")["judged"]}
    assert judged["ascarid"]["result"] == "unsure"


def test_a_sweep_and_more_preparations_join_one_exam(do: Do, say: Say, float_exam: Do) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    float_exam("Saffron", "2025-03-04", "oxyurid=0")
    added = say(
        *("exam", "prepare", "E1", "--method", "direct saline smear", "--room-c", "24"),
        *("--read-at", "2025-03-04 08:20", "--objective", "40", "--share", "0.4", "--seen", "flagellate=0"),
    )
    assert "E1-2 direct saline smear" in added and "40 % of the cover glass" in added
    do("exam", "read", "E1-2", "--objective", "10", "--share", "1", "--seen", "ciliate=0")
    whole = do("exam", "show", "E1", "--target", "oxyurid", "--target", "coccidian")
    assert [p["method"] for p in whole["exam"]["preparations"]] == ["simple_flotation", "direct_saline_smear"]
    assert [one["result"] for one in whole["judged"]] == ["negative", "negative"]
    bound = whole["judged"][0]["bounds"]["egg"]
    assert bound["unit"] == "per_g" and bound["level"] == 0.95 and bound["sided"] == "one"


def test_a_chamber_gives_eggs_per_gram_and_its_bound(do: Do, say: Say, stool: Any) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    chamber = (
        *("--method", "mcmaster", "--gravity", "1.20", "--gravity-checked", "--standing-minutes", "5"),
        *("--sample-g", "2", "--suspension-ml", "30", "--counted-ml", "0.3"),
    )
    do("exam", "add", stool("Saffron", "2025-03-04"), *chamber, "--read-at", "2025-03-04 09:00")
    not_read = do("exam", "show", "E1", "--target", "oxyurid")["judged"][0]
    assert not_read["result"] == "inconclusive", "what nobody read says nothing"
    assert not_read["reasons"][0]["code"] == "not-read-yet"
    do("exam", "read", "E1-1", "--seen", "oxyurid=0")
    assert do("exam", "show", "E1", "--target", "oxyurid")["judged"][0]["result"] == "negative"
    assert "one-sided 95 % limit: under 170 per gram" in say("exam", "show", "E1", "--target", "oxyurid")
    do("exam", "add", stool("Saffron", "2025-03-05"), *chamber, "--seen", "oxyurid=27")
    burden = do("exam", "show", "E2")["judged"][0]["burdens"][0]
    assert burden["per_g"] == pytest.approx(1350)


def test_a_deposit_or_a_baermann_that_nobody_read_is_no_negative(do: Do, stool: Any) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    do("exam", "add", stool("Saffron", "2025-03-04"), "--method", "baermann", "--read-at", "2025-03-04 20:00")
    (judged,) = do("exam", "show", "E1", "--target", "rhabditid")["judged"]
    assert judged["result"] == "inconclusive"
    assert {reason["code"] for reason in judged["reasons"]} >= {"not-read-yet"}


def test_a_result_from_elsewhere_is_an_exam(do: Do, say: Say, case: str) -> None:
    words = (
        "exam",
        "elsewhere",
        "Saffron",
        "--target",
        "oxyurid",
        "--result",
        "negative",
        "--from",
        "Lab Ouk",
    )
    dated = ("--method", "flotation", "--collected", "2025-05-05", "--reported", "2025-05-06")
    do(*words, *dated)
    assert do("exam", "show", "E2")["judged"][0]["result"] == "inconclusive"
    do(*words, *dated, "--adequate", "--stage", "egg")
    shown = do("exam", "show", "E3")
    assert shown["judged"][0]["result"] == "negative"
    assert shown["exam"]["by"] == "Lab Ouk"
    assert "from elsewhere: Lab Ouk, flotation: negative for oxyurid" in say("exam", "show", "E3")


def test_a_normal_inhabitant_opens_a_note_until_a_vet_decides(do: Do, say: Say, float_exam: Do) -> None:
    do("animal", "add", "Barley", "--species", "Testudo hermanni", "--adult")
    told = float_exam("Barley", "2025-03-04", "oxyurid=5")
    assert told["cases_opened"] == []
    assert "normal inhabitant" in told["notes"][0]
    reported = do(
        *("exam", "elsewhere", "Barley", "--target", "oxyurid", "--result", "positive", "--from", "Lab Ouk"),
        *("--method", "flotation", "--collected", "2025-03-08", "--reported", "2025-03-09"),
    )
    assert reported["cases_opened"] == [], "a laboratory's finding of a normal inhabitant is a note too"
    words = ("case", "open", "Barley", "pinworm", "--vet", "Dr Ilse Varnholt", "--on", "2025-03-10")
    assert "C1: oxyurid in Barley, opened by the decision of Dr Ilse Varnholt" in say(*words)


# Care


@pytest.mark.parametrize(
    ("kind", "amount", "unit"),
    [
        ("fluids", "6", "ml"),
        ("feeding", "12.5", "g"),
        ("warm end", "38", "°C"),
        ("lowest at night", "23", "°C"),
        ("soak", "20", "min"),
        ("cleaning", None, ""),
        ("other", None, ""),
    ],
)
def test_care_is_logged_with_its_unit(do: Do, say: Say, kind: str, amount: str | None, unit: str) -> None:
    do("animal", "add", "Saffron", "--enclosure", "vivarium 4", "--weight-g", "318")
    words = ("care", "log", "Saffron", kind, *filter(None, [amount]), "--at", "2025-03-07 12:00")
    entry = do(*words, "--remark", "dry after")["care"]
    assert entry["amount"] == (float(amount) if amount else None)
    assert entry["unit"] == unit
    assert kind in say("animal", "show", "Saffron")


def test_a_night_below_zero_can_be_written_down(do: Do, say: Say, fecallab: Run) -> None:
    do("animal", "add", "Barley")
    assert "-- -1.5" in fecallab("care", "log", "Barley", "lowest at night", "-1.5").err
    assert "lowest at night -1.5 °C" in say("care", "log", "Barley", "lowest at night", "--", "-1.5")


def test_much_fluid_in_a_day_is_pointed_at(do: Do, say: Say) -> None:
    do("animal", "add", "Saffron", "--weight-g", "318")
    assert "18.9 ml/kg" in say("care", "log", "Saffron", "fluids", "6", "--at", "2025-03-07 08:00")
    assert "More than 30 ml/kg" in say("care", "log", "Saffron", "fluids", "6", "--at", "2025-03-07 18:00")
