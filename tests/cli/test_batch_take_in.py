"""Whole tables in: whatever a spreadsheet makes of a table, the same facts are recorded, all or nothing."""

from __future__ import annotations

import json
from datetime import date, datetime

import pytest

from .batch_tables import ANIMALS, READINGS, TABLES, WEIGHTS, csv_of, facts, one_float, put
from .conftest import KEEPER, Said, contents

__all__ = ["put"]


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
    put("readings.csv", one_float("S1", "2025-03-05 09:00", 0))
    assert do("batch", "take-in", folder.parent / "tables")["codes"]["samples"] == {"S1": "S2"}
    (folder.parent / "tables" / "samples.csv").unlink()
    put("readings.csv", one_float("S1", "2025-03-01 09:00", 0))
    do("batch", "take-in", folder.parent / "tables")
    assert sorted(exam.sample for exam in facts(folder)["exams"]) == ["S1", "S2"]


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
