"""Whole tables in: whatever a spreadsheet makes of a table, the same facts are recorded, all of them or none."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from fecallab.records.store import open_records

from .conftest import KEEPER, Said, contents

ANIMALS = [
    ["name", "kind", "number of animals", "species", "adult", "enclosure", "arrived"],
    ["Größe", "animal", "", "Pogona vitticeps", "yes", "pen; south", "2025-01-25"],
    ["Tub 7", "tub", "6", "Testudo hermanni", "no", "", ""],
]
WEIGHTS = [
    ["animal", "weighed at", "weight (g)", "remark"],
    ["größe", "2025-03-02 07:50", "640.5", "after a soak,\nquiet"],
    ["Tub 7", "2025-03-25", "1234", ""],
]
SAMPLES = [
    ["sample", "animal", "passed from", "passed to", "form", "kept", "mass (g)"],
    ["a", "Größe", "2025-03-02 06:00", "2025-03-02 08:00", "soft", "room", "1.4"],
    ["b", "Tub 7", "2025-03-25 06:00", "2025-03-25 08:00", "formed", "fridge", "2"],
]
READINGS = [
    [
        *("sample", "method", "read at", "gravity", "gravity checked", "stood (min)", "objective (x)"),
        *("share of cover glass (0 to 1)", "organism", "count"),
    ],
    ["a", "simple flotation", "2025-03-02 08:40", "1.20", "yes", "15", "10", "1", "oxyurid", "3"],
    ["b", "simple flotation", "2025-03-25 08:40", "1.20", "yes", "15", "10", "0.5", "oxyurid", "0"],
]
TABLES = {"animals": ANIMALS, "weights": WEIGHTS, "samples": SAMPLES, "readings": READINGS}


def csv_of(rows: list[list[str]], separator: str = ",") -> str:
    def cell(text: str) -> str:
        return f'"{text}"' if any(sign in text for sign in f'{separator}"\n') else text

    return "".join(separator.join(map(cell, row)) + "\r\n" for row in rows)


@pytest.fixture
def put(tmp_path: Path) -> Callable[..., Path]:
    """Write a file of a batch: text, or rows."""

    def write(name: str, content: str | list[list[str]], codec: str = "utf-8", separator: str = ",") -> Path:
        text = content if isinstance(content, str) else csv_of(content, separator)
        path = tmp_path / "tables" / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(text.encode(codec))
        return path

    return write


def facts(folder: Path) -> dict[str, Any]:
    with open_records(folder) as store:
        return {
            "animals": store.animals(),
            "weights": [w for a in store.animals() for w in store.weighings(a.code)],
            "samples": store.samples(),
            "exams": store.exams(),
            "cases": store.cases(),
        }


def test_tables_become_the_facts_that_single_commands_would_record(folder, put, do):
    for name, rows in TABLES.items():
        put(f"{name}.csv", rows)
    said = do("batch", "take-in", folder.parent / "tables")
    assert said["written"] is True
    assert said["counts"] == {"animals": 2, "weights": 2, "samples": 2, "exams": 2, "readings": 2}
    assert said["codes"]["samples"] == {"a": "S1", "b": "S2"}
    assert said["codes"]["exams"] == {"a": "E1", "b": "E2"}
    assert [(c["case"], c["animal"], c["target"]) for c in said["cases_opened"]] == [
        ("C1", "Größe", "oxyurid")
    ]
    found = facts(folder)
    big, tub = found["animals"]
    assert (big.host_group, big.plant_eater, big.adult) == ("lizard", False, True)
    assert (tub.host_group, tub.plant_eater, tub.adult) == ("tortoise", True, False)
    assert (big.enclosure, big.arrived_on) == ("pen; south", date(2025, 1, 25))
    assert (tub.kind, tub.number_of_animals) == ("tub", 6)
    first, second = found["weights"]
    assert (first.mass_g, first.weighed_at) == (640.5, datetime(2025, 3, 2, 7, 50))
    assert first.remark == "after a soak,\nquiet"
    assert (second.mass_g, second.weighed_at) == (1234, datetime(2025, 3, 25, 12))
    assert [s.animal for s in found["samples"]] == ["A1", "A2"]
    assert found["samples"][0].collected_at == datetime(2025, 3, 2, 8)
    exam = found["exams"][0]
    (part,) = exam.preparations
    assert (exam.sample, exam.by, part.method) == ("S1", KEEPER, "simple_flotation")
    assert (part.specific_gravity, part.gravity_checked, part.standing_minutes) == (1.2, True, 15)
    (reading,) = part.readings
    assert (reading.kind, reading.cover_share, dict(reading.counts)) == ("sweep", 1, {"oxyurid": 3})
    assert found["cases"][0].opened_by_exam == "E1"


def test_the_same_exam_says_the_same_as_one_that_was_typed(folder, put, do):
    for name, rows in TABLES.items():
        put(f"{name}.csv", rows)
    do("batch", "take-in", folder.parent / "tables")
    do(
        *("sample", "add", "Größe", "--passed-from", "2025-03-02 06:00", "--passed-to", "2025-03-02 08:00"),
        *("--form", "soft", "--kept", "room", "--mass-g", "1.4"),
    )
    do(
        *("exam", "add", "S3", "--method", "simple_flotation", "--gravity", "1.20", "--gravity-checked"),
        *("--standing-minutes", "15", "--read-at", "2025-03-02 08:40", "--objective", "10"),
        *("--share", "1", "--seen", "oxyurid=3"),
    )
    typed, taken = do("exam", "show", "E3")["judged"], do("exam", "show", "E1")["judged"]
    for judged in (*typed, *taken):
        for burden in judged["burdens"]:
            burden.pop("preparation")
    assert typed == taken


def german(rows: list[list[str]]) -> list[list[str]]:
    """The rows as a German spreadsheet shows them."""

    def cell(text: str) -> str:
        day, _, hour = text.partition(" ")
        if len(day) == 10 and day[4] == day[7] == "-":
            return f"{day[8:]}.{day[5:7]}.{day[:4]} {hour}".strip()
        if text.replace(".", "", 1).isdigit():
            return text.replace(".", ",")
        return {"yes": "ja", "no": "nein"}.get(text, text)

    return [rows[0], *([cell(text) for text in row] for row in rows[1:])]


def american(rows: list[list[str]]) -> list[list[str]]:
    """The rows as an American spreadsheet shows them."""

    def cell(text: str) -> str:
        day, _, hour = text.partition(" ")
        if len(day) == 10 and day[4] == day[7] == "-":
            return f"{int(day[5:7])}/{int(day[8:])}/{day[:4]} {hour}".strip()
        return "1,234.00" if text == "1234" else text

    return [rows[0], *([cell(text) for text in row] for row in rows[1:])]


@pytest.mark.parametrize(
    ("shown", "codec", "separator"),
    [
        (german, "utf-8-sig", ";"),
        (german, "cp1252", ";"),
        (german, "utf-16", "\t"),
        (american, "utf-8", ","),
        (american, "utf-16-le", "\t"),
        (list, "utf-8-sig", ";"),
    ],
)
def test_separators_letters_and_dates_of_spreadsheets_make_no_difference(
    folder, tmp_path, put, do, fecallab, shown, codec, separator
):
    for name, rows in TABLES.items():
        put(f"{name}.csv", rows)
    do("batch", "take-in", tmp_path / "tables")
    other = tmp_path / "other"
    assert fecallab("records", "make", other).code == 0
    for name, rows in TABLES.items():
        put(f"{name}.csv", shown(rows), codec, separator)
    said = fecallab("batch", "take-in", tmp_path / "tables", "--records", other, "--json")
    assert said.code == 0, said.all
    assert facts(other) == facts(folder)


def test_the_order_of_dates_that_was_told_from_the_table_is_read_back(folder, put, say):
    put("animals.csv", "name\nPixel\n")
    put(
        "weights.csv",
        "animal,weighed at,weight (g)\nPixel,25/2/2025,312\nPixel,3/3/2025,313\nPixel,4/3/2025,314\n",
    )
    said = say("batch", "take-in", folder.parent / "tables")
    assert "weights.csv: 3 weights (UTF-8, commas; dates of 'weighed at' read day-first)" in said
    assert [w.weighed_at.date() for w in facts(folder)["weights"]] == [
        *(date(2025, 2, 25), date(2025, 3, 3), date(2025, 3, 4)),
    ]


def test_the_first_line_of_a_spreadsheet_may_name_the_separator(folder, put, do):
    put("animals.csv", "sep=;\r\n" + csv_of(ANIMALS, ";"))
    assert do("batch", "take-in", folder.parent / "tables")["counts"] == {"animals": 2}


def test_empty_rows_and_columns_at_the_end_are_nothing(folder, put, do):
    rows = [[*row, "", ""] for row in ANIMALS] + [[""] * 9] * 40
    put("animals.csv", rows)
    assert do("batch", "take-in", folder.parent / "tables")["counts"] == {"animals": 2}


def test_columns_may_be_spelled_in_other_ways_and_own_columns_kept(folder, put, do):
    put("animals.csv", "Name,#my notes,Species\nPixel,shy,Pogona vitticeps\n")
    put("weights.csv", "ANIMAL, Weighed_At ,weight [g]\nPixel,2025-03-04,312 g\n")
    do("batch", "take-in", folder.parent / "tables")
    assert [w.mass_g for w in facts(folder)["weights"]] == [312]


def test_check_writes_nothing_and_says_what_would_be_written(folder, put, say, do):
    for name, rows in TABLES.items():
        put(f"{name}.csv", rows)
    before = contents(folder)
    said = say("batch", "take-in", folder.parent / "tables", "--check")
    assert "2 animals, 2 weights, 2 samples, 2 exams, 2 readings. Checked, nothing written." in said
    assert "A case will be opened: oxyurid in Größe" in said
    assert contents(folder) == before
    opened = do("batch", "take-in", folder.parent / "tables", "--check")["cases_opened"]
    assert [(one["case"], one["target"]) for one in opened] == [(None, "oxyurid")]


def test_labels_of_the_file_are_told_with_the_codes_that_they_became(folder, put, say):
    for name, rows in TABLES.items():
        put(f"{name}.csv", rows)
    said = say("batch", "take-in", folder.parent / "tables")
    assert "a = S1, b = S2" in said
    assert "Case C1 opened: oxyurid in Größe" in said


def test_a_label_goes_before_a_code_and_a_code_reaches_the_records(folder, put, do, stool):
    do("animal", "add", "Pixel", "--species", "Pogona vitticeps")
    assert stool("Pixel", "2025-03-01") == "S1"
    put("samples.csv", "sample,animal,collected at\nS1,Pixel,2025-03-05\n")
    put("readings.csv", _float("S1", "2025-03-05 09:00", 0))
    assert do("batch", "take-in", folder.parent / "tables")["codes"]["samples"] == {"S1": "S2"}
    (folder.parent / "tables" / "samples.csv").unlink()
    put("readings.csv", _float("S1", "2025-03-01 09:00", 0))
    do("batch", "take-in", folder.parent / "tables")
    assert sorted(exam.sample for exam in facts(folder)["exams"]) == ["S1", "S2"]


def _float(sample: str, read_at: str, count: int) -> str:
    head = "sample,method,read at,gravity,gravity checked,stood (min),objective,share of cover glass,organism,count"
    return f"{head}\n{sample},simple_flotation,{read_at},1.2,yes,15,10,1,oxyurid,{count}\n"


def test_a_filled_grid_is_a_field_for_each_column(folder, put, do, stool):
    do("animal", "add", "Pixel", "--species", "Pogona vitticeps")
    stool("Pixel", "2025-03-01")
    head = "sample,method,read at,objective,field number,organism,sure," + ",".join(
        f"field {n}" for n in range(1, 6)
    )
    put(
        "grid.csv",
        f"{head}\nS1,simple flotation,2025-03-01 09:00,10,20,oxyurid,,0,2,1,0,\n"
        "S1,,,,,flagellate,no,1,0,0,0,\n",
    )
    assert do("batch", "take-in", folder.parent / "tables")["counts"] == {"exams": 1, "readings": 4}
    (exam,) = facts(folder)["exams"]
    readings = exam.preparations[0].readings
    assert [dict(reading.counts) for reading in readings] == [{"oxyurid": n} for n in (0, 2, 1, 0)]
    assert [dict(reading.unsure) for reading in readings] == [{"flagellate": n} for n in (1, 0, 0, 0)]
    assert {reading.field_number for reading in readings} == {20}


def test_several_preparations_and_readings_of_one_exam_are_joined(folder, put, do, stool):
    do("animal", "add", "Pixel", "--species", "Pogona vitticeps")
    stool("Pixel", "2025-03-01")
    put(
        "r.csv",
        "exam,sample,preparation,method,read at,room (°C),reading,objective,share of cover glass,organism,count\n"
        "x,S1,1,direct_saline_smear,2025-03-01 08:20,24,1,40,0.4,flagellate,7\n"
        "x,,1,,,,,,,ciliate,1\n"
        "x,,1,,,,2,10,1,ciliate,5\n"
        "x,,2,simple_flotation,2025-03-01 09:00,,,10,1,oxyurid,0\n",
    )
    assert do("batch", "take-in", folder.parent / "tables")["counts"] == {"exams": 1, "readings": 3}
    (exam,) = facts(folder)["exams"]
    smear, floated = exam.preparations
    assert [dict(reading.counts) for reading in smear.readings] == [
        {"flagellate": 7, "ciliate": 1},
        {"ciliate": 5},
    ]
    assert (smear.room_c, floated.method, dict(floated.readings[0].counts)) == (
        24,
        "simple_flotation",
        {"oxyurid": 0},
    )
    assert exam.examined_at == datetime(2025, 3, 1, 8, 20)


def test_a_chamber_is_counted_without_an_objective(folder, put, do, stool):
    do("animal", "add", "Pixel", "--species", "Pogona vitticeps")
    stool("Pixel", "2025-03-01")
    put(
        "r.csv",
        "sample,method,read at,gravity,gravity checked,stood (min),stool used (g),suspension (ml),counted (ml),organism,count\n"
        'S1,mcmaster,2025-03-01 09:00,"1,2",yes,5,1,15,"0,3",oxyurid,4\n',
    )
    do("batch", "take-in", folder.parent / "tables")
    (judged,) = do("exam", "show", "E1")["judged"]
    assert judged["burdens"][0]["per_g"] == pytest.approx(4 * 15 / (1 * 0.3))


def test_a_result_from_elsewhere_brings_its_own_sample_and_opens_a_case(folder, put, do):
    do("animal", "add", "Pixel", "--species", "Pogona vitticeps")
    put(
        "elsewhere.csv",
        "exam,animal,target,result,from,method,collected,reported,adequate\n"
        "r,Pixel,oxyurid,positive,a laboratory,flotation,2025-03-01,2025-03-03,\n"
        "r,Pixel,coccidian,negative,a laboratory,flotation,2025-03-01,2025-03-03,yes\n",
    )
    said = do("batch", "take-in", folder.parent / "tables")
    assert said["counts"] == {"results from elsewhere": 2}
    assert [case["target"] for case in said["cases_opened"]] == ["oxyurid"]
    (exam,) = facts(folder)["exams"]
    assert [(one.target, one.result, one.stated_adequate) for one in exam.elsewhere] == [
        ("oxyurid", "positive", None),
        ("coccidian", "negative", True),
    ]
    assert facts(folder)["samples"][0].collected_at == datetime(2025, 3, 1, 12)


def test_an_animal_taken_on_in_mid_course_comes_in_as_told(folder, put, do):
    put("animals.csv", "name,species,adult\nPixel,Pogona vitticeps,yes\n")
    put("weights.csv", "animal,weighed at,weight (g),as told\nPixel,2025-02-20 08:00,315,yes\n")
    put(
        "plans.csv",
        "plan,animal,target,vet,written,drug,dose (mg/kg),strength (mg/ml),route,days between doses,doses,as told\n"
        "p,Pixel,oxyurid,Dr Ilse Varnholt,2025-02-19,Fenbendazole,50,100,by mouth,14,2,yes\n",
    )
    put(
        "doses.csv",
        "animal,given at,volume (ml),as told\nPixel,2025-02-20 08:15,0.16,yes\n",
    )
    said = do("batch", "take-in", folder.parent / "tables")
    (case,) = said["cases_opened"]
    assert (case["case"], case["target"]) == ("C1", "oxyurid") and "Dr Ilse Varnholt" in case["why"]
    with open_records(folder) as store:
        file = store.case_file("C1")
    assert file.plan is not None and file.plan.as_told and file.plan.drug == "fenbendazole"
    assert [(d.volume_ml, d.as_told) for d in file.doses] == [("0.16", True)]
    assert file.weighings[0].as_told
    assert file.plan.negatives_needed is not None and file.plan.follow_up_source.startswith("default")
    due = do("due", "--on", "2025-03-06")["due"]
    assert [thing["case"] for thing in due] == ["C1"]


def test_doses_that_the_rules_would_have_refused_are_recorded_and_told(folder, put, do, case, say):
    put(
        "plans.csv",
        "plan,animal,target,vet,written,drug,dose (mg/kg),strength (mg/ml),route,days between doses,doses\n"
        "p,Saffron,oxyurid,Dr Ilse Varnholt,2025-03-06,fenbendazole,50,100,by mouth,14,2\n",
    )
    put("doses.csv", "plan,animal,given at,volume (ml)\np,Saffron,2025-03-07 08:15,0.16\n")
    said = do("batch", "take-in", folder.parent / "tables")
    (note,) = said["notes"]
    assert "doses.csv, line 2" in note and "weight" in note
    with open_records(folder) as store:
        assert [dose.given_at for dose in store.doses("C1")] == [datetime(2025, 3, 7, 8, 15)]


def test_a_dose_takes_the_last_weight_before_it(folder, put, do, case):
    do("care", "log", "Saffron", "warm end", "38", "--at", "2025-03-06 13:00")
    do("care", "log", "Saffron", "lowest at night", "26", "--at", "2025-03-07 07:00")
    put(
        "weights.csv",
        "animal,weighed at,weight (g)\nSaffron,2025-03-07 08:00,320\nSaffron,2025-03-08 08:00,400\n",
    )
    put(
        "plans.csv",
        "plan,animal,target,vet,written,drug,dose (mg/kg),strength (mg/ml),route,days between doses,doses\n"
        "p,Saffron,oxyurid,Dr Ilse Varnholt,2025-03-06,fenbendazole,50,100,by mouth,14,2\n",
    )
    put("doses.csv", "animal,given at,volume (ml)\nSaffron,2025-03-07 08:15,0.16\n")
    assert do("batch", "take-in", folder.parent / "tables")["notes"] == []
    with open_records(folder) as store:
        (dose,) = store.doses("C1")
    assert (dose.weight_g, dose.delivered_mg_per_kg) == (320, "50")


def test_a_growing_table_is_taken_in_again_with_new_only(folder, put, do, fecallab):
    for name, rows in TABLES.items():
        put(f"{name}.csv", rows)
    do("batch", "take-in", folder.parent / "tables")
    again = fecallab("batch", "take-in", folder.parent / "tables", "--json")
    assert again.code == 2
    assert {error["code"] for error in again.json["errors"]} == {"recorded-already"}
    assert len(again.json["errors"]) == 6, "exams of samples that have an error are not told besides"
    put("weights.csv", [*WEIGHTS, ["Tub 7", "2025-04-01", "1250", ""]])
    said = do("batch", "take-in", folder.parent / "tables", "--new-only")
    assert (said["counts"], said["passed_over"]) == ({"weights": 1}, 8)
    assert len(facts(folder)["weights"]) == 3


def test_labels_of_samples_that_are_recorded_still_lead_to_them(folder, put, do):
    for name, rows in TABLES.items():
        put(f"{name}.csv", rows)
    do("batch", "take-in", folder.parent / "tables")
    later = ["a", "simple flotation", "2025-03-02 09:40", "1.20", "yes", "15", "10", "1", "oxyurid", "4"]
    put("readings.csv", [READINGS[0], later])
    do("batch", "take-in", folder.parent / "tables", "--new-only")
    assert [exam.sample for exam in facts(folder)["exams"]] == ["S1", "S1", "S2"]


def test_the_oldest_stool_opens_the_case_whatever_the_order_of_the_rows(folder, put, do):
    put("animals.csv", "name,species\nPixel,Pogona vitticeps\n")
    put(
        "samples.csv",
        "sample,animal,collected at\nlate,Pixel,2025-04-01 08:00\nearly,Pixel,2025-03-01 08:00\n",
    )
    late, early = _float("late", "2025-04-01 09:00", 2), _float("early", "2025-03-01 09:00", 2)
    put("readings.csv", late + early.splitlines(keepends=True)[1])
    said = do("batch", "take-in", folder.parent / "tables")
    assert len(said["cases_opened"]) == 1
    (case,) = facts(folder)["cases"]
    assert case.opened_on == date(2025, 3, 1)


def test_weights_far_from_the_one_before_are_told(folder, put, do):
    put("animals.csv", "name\nPixel\n")
    put("weights.csv", "animal,weighed at,weight (g)\nPixel,2025-03-01,312\nPixel,2025-03-08,0.318\n")
    (note,) = do("batch", "take-in", folder.parent / "tables")["notes"]
    assert "weights.csv, line 3" in note and "g, not kg" in note


def test_a_weight_that_stands_twice_is_told(folder, put, do):
    put("animals.csv", "name\nPixel\n")
    put("a.csv", "animal,weighed at,weight (g)\nPixel,2025-03-01,312\n")
    put("b.csv", "animal,weighed at,weight (g)\nPixel,2025-03-02,313\nPixel,2025-03-01,312\n")
    (note,) = do("batch", "take-in", folder.parent / "tables")["notes"]
    assert note == "b.csv, line 3: the same weight as in a.csv, line 2."


def test_lines_may_end_as_on_any_computer(folder, put, do):
    put("animals.csv", "name,remark\rPixel,shy\rEmber,\r")
    put("weights.csv", "animal,weighed at,weight (g)\nPixel,2025-03-01,312\nEmber,2025-03-01,40")
    assert do("batch", "take-in", folder.parent / "tables")["counts"] == {"animals": 2, "weights": 2}


def test_normal_inhabitants_open_a_note_and_no_case(folder, put, do, stool):
    do("animal", "add", "Barley", "--species", "Testudo hermanni", "--adult")
    stool("Barley", "2025-03-01")
    put("r.csv", _float("S1", "2025-03-01 09:00", 3).replace("oxyurid", "ciliate"))
    said = do("batch", "take-in", folder.parent / "tables")
    assert said["cases_opened"] == []
    assert any("normal inhabitant" in note for note in said["notes"])


def test_files_are_named_by_folder_by_pattern_or_one_by_one(folder, put, do, tmp_path):
    for name, rows in TABLES.items():
        put(f"{name}.csv", rows)
    tables = tmp_path / "tables"
    by_pattern = do("batch", "take-in", tables / "*.csv", "--check")
    one_by_one = do("batch", "take-in", *(tables / f"{name}.csv" for name in TABLES), "--check")
    assert by_pattern["counts"] == one_by_one["counts"] == do("batch", "take-in", tables, "--check")["counts"]


def test_templates_are_taken_as_they_are_and_their_examples_are_right(folder, do, tmp_path):
    do("batch", "template", tmp_path / "t")
    assert do("batch", "take-in", tmp_path / "t", "--check")["counts"] == {}
    for path in (tmp_path / "t").iterdir():
        header, says, example = path.read_text(encoding="utf-8-sig").splitlines()
        assert says.lstrip('"').startswith("# ") and header.count(",") >= 6
        path.write_text(f"{header}\n{example.removeprefix('# ')}\n", encoding="utf-8")
    (tmp_path / "t" / "readings-grid.csv").unlink()
    said = do("batch", "take-in", tmp_path / "t")
    assert said["counts"] == {
        "animals": 1,
        "enclosures": 1,
        "stays": 1,
        "animals of arrivals": 1,
        "weights": 1,
        "samples": 1,
        "exams": 1,
        "readings": 1,
        "results from elsewhere": 1,
        "plans": 1,
        "doses": 1,
    }


def test_the_example_of_the_grid_is_right(folder, do, tmp_path, stool):
    do("batch", "template", tmp_path / "t", "--semicolons", "--no-bom")
    path = tmp_path / "t" / "readings-grid.csv"
    header, _, example = path.read_text(encoding="utf-8").splitlines()
    do("animal", "add", "Saffron")
    stool("Saffron", "2025-03-02")
    path.write_text(f"{header}\n{example.replace('# a', 'S1')}\n", encoding="utf-8")
    assert do("batch", "take-in", path)["counts"] == {"exams": 1, "readings": 10}


def test_ten_thousand_rows_are_taken_in_and_given_out(folder, put, do, tmp_path):
    put("animals.csv", "name\n" + "".join(f"Gecko no {n}\n" for n in range(100)))
    days = [f"2025-{month:02d}-{day:02d}" for month in range(1, 11) for day in range(1, 11)]
    rows = [f"Gecko no {n},{day} 08:00,{30 + n % 7}.5\n" for day in days for n in range(100)]
    put("weights.csv", "animal,weighed at,weight (g)\n" + "".join(rows))
    assert do("batch", "take-in", folder.parent / "tables")["counts"] == {"animals": 100, "weights": 10_000}
    said = do("batch", "give-out", tmp_path / "out")
    assert {"file": "weights.csv", "rows": 10_000} in said["files"]


def test_json_holds_one_object_also_with_errors(folder, put, fecallab):
    path = put("weights.csv", "animal,weighed at,weight (g)\nNobody,2025-03-01,312\n")
    said = fecallab("batch", "take-in", path, "--json")
    assert isinstance(said, Said) and said.code == 2
    assert set(json.loads(said.out)) == {"error", "errors"}
