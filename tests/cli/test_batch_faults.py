"""Tables with something wrong: every error at once, each with its place and its mending, and nothing written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said, contents

Errors = list[dict[str, Any]]


@pytest.fixture
def refused(folder: Path, tmp_path: Path, fecallab: Callable[..., Said]) -> Callable[..., Errors]:
    """Take tables in that must be refused whole; return the errors."""

    def run(*options: str, **texts: str | bytes) -> Errors:
        tables = tmp_path / "tables"
        tables.mkdir(exist_ok=True)
        for name, text in texts.items():
            content = text.encode() if isinstance(text, str) else text
            (tables / f"{name}.csv").write_bytes(content)
        before = contents(folder)
        for more in ((), ("--check",)):
            said = fecallab("batch", "take-in", tables, "--json", *more, *options)
            assert said.code == 2, said.all
            assert contents(folder) == before
        errors = said.json["errors"]
        assert errors and said.error["text"].startswith(f"{len(errors)} error")
        for error in errors:
            assert error["text"] and error["next"] and error["code"], error
        return errors

    return run


@pytest.fixture
def pixel(do: Callable[..., dict[str, Any]]) -> None:
    do("animal", "add", "Pixel", "--species", "Pogona vitticeps", "--adult")


def codes(errors: Errors) -> list[str]:
    return [error["code"] for error in errors]


WEIGHTS = "animal,weighed at,weight (g)\n"


def test_every_error_of_every_file_is_told_at_once_with_line_column_and_what_was_given(refused):
    errors = refused(
        animals="name,kind,arrived,number of animals\nPixel,lizzard,2099-01-01,1\nA7,animal,,\nTub,animal,,4\n",
        weights=WEIGHTS + "Pixl,2025-03-01,312\nPixel,2025-02-30,-4\nTub,2025-03-01,much\n",
    )
    places = [(e["file"], e["line"], e["column"], e["given"], e["code"]) for e in errors]
    assert places == [
        ("animals.csv", 2, "kind", "lizzard", "not-a-choice"),
        ("animals.csv", 2, "arrived", "2099-01-01", "in-the-future"),
        ("animals.csv", 3, "name", "A7", "name-like-code"),
        ("animals.csv", 4, "number of animals", "4", "number-of-animals"),
        ("weights.csv", 2, "animal", "Pixl", "unknown-animal"),
        ("weights.csv", 3, "weighed at", "2025-02-30", "not-a-date"),
        ("weights.csv", 3, "weight (g)", "-4", "out-of-range"),
        ("weights.csv", 4, "weight (g)", "much", "not-a-number"),
    ]


def test_a_person_reads_one_line_for_each_error_and_one_at_the_end(folder, tmp_path, fecallab, pixel):
    path = tmp_path / "w.csv"
    path.write_text(WEIGHTS + "Pixl,2025-03-01,312\nPixel,2025-03-01,=2+3\n", encoding="utf-8")
    said = fecallab("batch", "take-in", path)
    assert (said.code, said.out) == (2, "")
    first, second, last = said.err.splitlines()
    assert first.startswith("w.csv, line 2, column 'animal': 'Pixl': No animal is called 'Pixl'")
    assert "Did you mean Pixel?" in first
    assert "line 3, column 'weight (g)': '=2+3': This is a formula" in second
    assert (
        last
        == "Not understood: 2 errors in 1 file; nothing was written. Mend the files and take them in again."
    )


def test_an_error_that_is_alone_is_said_in_one_line(folder, tmp_path, fecallab, pixel):
    path = tmp_path / "w.csv"
    path.write_text(WEIGHTS + "Pixel,2025-03-01,much\n", encoding="utf-8")
    said = fecallab("batch", "take-in", path)
    (line,) = said.err.splitlines()
    assert line.startswith("Not understood: w.csv, line 2, column 'weight (g)': 'much':")
    assert line.endswith("Nothing was written.")


def test_lines_are_those_of_the_file_and_rows_those_of_the_spreadsheet(refused, pixel):
    (error,) = refused(
        weights='animal,weighed at,weight (g),remark\nPixel,2025-03-01,312,"one\ntwo\nthree"\n\nPixel,2025-03-02,x,\n'
    )
    assert (error["line"], error["row"]) == (6, 4)


@pytest.mark.parametrize(
    ("cell", "code"),
    [
        ("=1+1", "formula"),
        ("#REF!", "error-cell"),
        ("#DIV/0!", "error-cell"),
        ("#NV", "error-cell"),
        ("########", "error-cell"),
        ("", "cell-empty"),
        ("n/a", "cell-empty"),
        ("0.31 kg", "not-a-number"),
        ("0", "out-of-range"),
        ("nan", "cell-empty"),
        ("inf", "not-a-number"),
        ("1e9", "out-of-range"),
    ],
)
def test_a_weight_that_cannot_be_one_is_refused(refused, pixel, cell, code):
    assert codes(refused(weights=WEIGHTS + f"Pixel,2025-03-01,{cell}\n")) == [code]


@pytest.mark.parametrize(
    ("cell", "code"),
    [
        ("46085", "day-number"),
        ("08:30", "day-missing"),
        ("2099-03-01", "in-the-future"),
        ("1899-12-30", "too-long-ago"),
        ("03.25.2025", "not-a-date"),
        ("2025-03-01T08:30Z", "not-a-date"),
        ("today", "not-a-date"),
        ("=TODAY()", "formula"),
    ],
)
def test_a_time_that_cannot_be_one_is_refused(refused, pixel, cell, code):
    assert codes(refused(weights=WEIGHTS + f"Pixel,{cell},312\n")) == [code]


def test_formulas_and_errors_are_refused_in_text_too(refused, pixel):
    errors = refused(
        weights='animal,weighed at,weight (g),state,remark\nPixel,2025-03-01,312,#NAME?,"=HYPERLINK(1)"\n'
    )
    assert codes(errors) == ["error-cell", "formula"]


def test_dates_that_can_be_meant_in_two_ways_are_asked_once_for_each_column(refused, pixel, do, tmp_path):
    rows = "".join(f"Pixel,3/{day}/2025,312\n" for day in (1, 2, 3, 4))
    (error,) = refused(weights=WEIGHTS + rows)
    assert (error["line"], error["column"], error["given"]) == (2, "weighed at", "3/1/2025")
    assert error["code"] == "dates-ambiguous"
    assert error["next"] == "Type: --dates day-first  or  --dates month-first"
    assert "3 January 2025" in error["text"] and "1 March 2025" in error["text"]
    said = do("batch", "take-in", tmp_path / "tables", "--dates", "month-first")
    assert said["files"][0]["dates"] == {"weighed at": "month-first"}
    shown = do("animal", "show", "Pixel")["weighings"]
    assert [w["weighed_at"][:10] for w in shown] == ["2025-03-01", "2025-03-02", "2025-03-03", "2025-03-04"]


def test_one_date_decides_for_its_column_and_for_no_other(refused, pixel):
    samples = "sample,animal,passed from,passed to\na,Pixel,25/3/2025 06:00,3/4/2025 08:00\n"
    (error,) = refused(samples=samples + "b,Pixel,3/4/2025 06:00,3/4/2025 08:00\n")
    assert (error["column"], error["code"]) == ("passed to", "dates-ambiguous")


def test_a_column_whose_dates_contradict_is_asked(refused, pixel):
    rows = "Pixel,25/3/2025,312\nPixel,3/25/2025,313\nPixel,3/4/2025,314\n"
    (error,) = refused(weights=WEIGHTS + rows)
    assert error["code"] == "dates-ambiguous" and "contradict" in error["text"] and error["line"] == 4
    (error,) = refused("--dates", "day-first", weights=WEIGHTS + rows)
    assert (error["line"], error["code"]) == (3, "not-a-date") and "day-first" in error["text"]


def test_a_mark_that_can_be_decimal_or_thousands_is_asked(refused, pixel, do, tmp_path):
    (error,) = refused(weights=WEIGHTS.replace(",", ";") + "Pixel;2025-03-01;1,234\nPixel;2025-03-02;1,240\n")
    assert (error["code"], error["line"]) == ("decimals-ambiguous", 2)
    assert "--decimals comma" in error["next"]
    do("batch", "take-in", tmp_path / "tables", "--decimals", "comma")
    assert [w["mass_g"] for w in do("animal", "show", "Pixel")["weighings"]] == [1.234, 1.24]


def test_an_option_that_is_no_choice_is_bad_input(folder, tmp_path, fecallab):
    said = fecallab("batch", "take-in", tmp_path, "--dates", "dayfirst", "--json")
    assert said.code == 2 and said.error["code"] == "not-a-choice" and "day-first" in said.error["next"]


def test_merged_cells_are_named_as_such_and_told_once(refused, pixel):
    rows = "Pixel,2025-03-01,312\n,2025-03-02,313\n,2025-03-03,314\nPixel,2025-03-04,\n"
    first, second = refused(weights=WEIGHTS + rows)
    assert (first["code"], first["line"], first["last_line"]) == ("cell-empty-merged", 3, 4)
    assert "'Pixel'" in first["text"] and "merged" in first["text"] and "undo the merging" in first["next"]
    assert (second["line"], second["column"]) == (5, "weight (g)")


def test_a_wrong_column_is_told_with_the_nearest_name(refused, pixel):
    errors = refused(
        weights="animal,weighed at,weight (g),scale stop (g),mood\nPixel,2025-03-01,312,1,good\n"
    )
    assert [(e["code"], e["column"], e["line"]) for e in errors] == [
        ("column-unknown", "scale stop (g)", 1),
        ("column-unknown", "mood", 1),
    ]
    assert "'scale step (g)'" in errors[0]["next"] and "'#mood'" in errors[1]["next"]


def test_a_missing_column_is_told_with_all_others(refused):
    (error,) = refused(
        samples="sample,form,passed from,passed to\na,soft,2025-03-01 06:00,2025-03-01 08:00\n"
    )
    assert error["code"] == "columns-missing" and "animal" in error["text"] and "samples" in error["text"]


def test_a_column_that_stands_twice_is_refused(refused, pixel):
    errors = refused(weights="animal,weighed at,weight (g),Weight g\nPixel,2025-03-01,312,313\n")
    assert codes(errors) == ["column-twice"] and "number 3 and number 4" in errors[0]["text"]


def test_another_unit_is_refused(refused, pixel):
    errors = refused(weights="animal,weighed at,weight (kg)\nPixel,2025-03-01,0.312\n")
    assert codes(errors) == ["unit-differs"] and "g, not in kg" in errors[0]["text"]


def test_a_header_that_fits_no_table_names_the_tables(refused):
    for header in ("colour,size", "name,x_px,y_px"):
        assert codes(refused(x=f"{header}\nred,3,\n".replace(",\n", "\n"))) == ["header-unknown"]
    errors = refused(x="colour,size\nred,3\n")
    assert codes(errors) == ["header-unknown"] and "batch template" in errors[0]["next"]


def test_cells_without_a_column_are_refused(refused, pixel):
    errors = refused(
        weights="animal,weighed at,weight (g),\nPixel,2025-03-01,312,x\nPixel,2025-03-02,312,5\n"
    )
    assert codes(errors) == ["column-unnamed", "column-unnamed"]
    errors = refused(weights=WEIGHTS + "Pixel,2025-03-01,312,5\n")
    assert codes(errors) == ["cells-too-many"] and "quotes" in errors[0]["next"]


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty-file"),
        (b"\n\n  \n", "empty-file"),
        (b"PK\x03\x04 a workbook", "workbook"),
        (b"\xd0\xcf\x11\xe0 an older workbook", "workbook"),
        (b"\x00\x01\x02\x81\x8d" * 50, "no-text"),
    ],
)
def test_what_is_no_table_is_refused(refused, content, code):
    assert codes(refused(x=content)) == [code]


def test_a_lone_quote_is_told_with_its_line(refused, pixel):
    errors = refused(weights=WEIGHTS + 'Pixel,2025-03-01,312\nPixel,2025-03-02,"312\nPixel,2025-03-03,312\n')
    assert [(e["code"], e["line"]) for e in errors] == [("no-table", 3)]


def test_letters_that_were_read_in_the_wrong_alphabet_are_refused(refused):
    errors = refused(animals="name,remark\nGrÃ¶ÃŸe,x\n")
    assert codes(errors) == ["letters-garbled"] and "'Größe'" in errors[0]["text"]


def test_names_and_labels_stand_once(refused, pixel):
    errors = refused(
        animals="name\nTilda\ntilda\nPIXEL\n",
        samples="sample,animal,collected at\na,Tilda,2025-03-01\nA,Tilda,2025-03-02\n",
    )
    assert [(e["file"], e["line"], e["code"]) for e in errors] == [
        ("animals.csv", 3, "name-twice"),
        ("animals.csv", 4, "recorded-already"),
        ("samples.csv", 3, "label-twice"),
    ]


def test_an_error_of_a_row_is_not_told_again_for_those_that_refer_to_it(refused):
    errors = refused(
        animals="name,adult\nTilda,perhaps\n",
        weights=WEIGHTS + "Tilda,2025-03-01,312\n",
        samples="sample,animal,collected at\na,Tilda,2025-03-01 08:00\n",
        readings=READINGS + "a,simple_flotation,2025-03-01 09:00,10,1,oxyurid,1\n",
    )
    assert [(e["file"], e["code"]) for e in errors] == [("animals.csv", "not-yes-or-no")]


def test_samples_are_held_to_the_order_of_times(refused, pixel):
    errors = refused(
        samples="sample,animal,passed from,passed to,collected at,mass (g),same stool as\n"
        "a,Pixel,2025-03-01 08:00,2025-03-01 06:00,,1,\n"
        "b,Pixel,,2025-03-01 08:00,,1,\n"
        "c,Pixel,2025-03-01 08:00,2025-03-01 09:00,2025-03-01 07:00,1,\n"
        "d,Pixel,,,,1,\n"
        "e,Pixel,2025-03-01 08:00,2025-03-01 06:00,,-1,\n"
        "f,Pixel,,,2025-03-01 08:00,1,g\n"
        "g,Pixel,,,2025-03-01 08:00,1,S9\n"
    )
    assert [(e["line"], e["code"]) for e in errors] == [
        (2, "end-before-start"),
        (3, "window-open"),
        (4, "collected-before-passed"),
        (5, "time-missing"),
        (6, "out-of-range"),
        (6, "end-before-start"),
        (7, "sample-below"),
        (8, "unknown-sample"),
    ]
    assert errors[0]["text"].startswith("'passed to' 1 March 2025, 06:00 is before 'passed from'")


READINGS = "sample,method,read at,objective,share of cover glass,organism,count\n"
FLOAT = "simple_flotation,2025-03-01 09:00,10,1"


def test_readings_are_held_to_the_rules_of_exams(refused, pixel, stool):
    stool("Pixel", "2025-03-01")
    stool("Pixel", "2025-03-01")
    errors = refused(
        a=READINGS + "S1,simple_flotation,2025-03-01 05:00,10,1,oxyurid,1\n",
        b=READINGS + "S2,simple_flotatoin,2025-03-01 09:00,10,1,oxiurid,-1\nS2,,,,40,oxyurid,1.5\n",
        c=READINGS.replace("share", "exam,share") + "S1,simple_flotation,2025-03-01 09:00,,x,1,oxyurid,1\n",
        d=READINGS.replace("sample", "exam,sample") + f"y,S1,{FLOAT},oxyurid,\ny,,,,,,,3\ny,,,,,,oxyurid,3\n",
        e=READINGS.replace("sample", "exam,sample")
        + f"z,S1,{FLOAT},oxyurid,1\nz,,,2025-03-01 10:00,,,flagellate,3\n",
        f=READINGS.replace("sample", "exam,sample") + f"u,S9,{FLOAT},oxyurid,1\n,,{FLOAT},oxyurid,1\n",
    )
    found = [(e["file"], e["line"], e["column"], e["code"]) for e in errors]
    assert found == [
        ("a.csv", 2, "", "exam-before-sample"),
        ("b.csv", 2, "method", "not-a-choice"),
        ("b.csv", 2, "organism", "unknown-organism"),
        ("b.csv", 2, "count", "not-a-count"),
        ("b.csv", 3, "share of cover glass (0 to 1)", "out-of-range"),
        ("b.csv", 3, "count", "not-a-count"),
        ("c.csv", 2, "", "objective-missing"),
        ("d.csv", 2, "count", "count-missing"),
        ("e.csv", 3, "read at", "differs"),
        ("f.csv", 2, "sample", "unknown-sample"),
        ("f.csv", 3, "sample", "cell-empty"),
    ]
    assert "Did you mean" in errors[1]["next"] and "oxyurid" in errors[2]["next"]


def test_chamber_volumes_and_limits_are_those_of_the_single_command(refused, pixel, stool):
    stool("Pixel", "2025-03-01")
    errors = refused(
        r="sample,method,read at,gravity,stool used (g),suspension (ml),counted (ml),organism,count\n"
        "S1,mcmaster,2025-03-01 09:00,1.2,1,0.3,15,oxyurid,1\n",
        s="exam,sample,method,read at,gravity,organism,count\nx,S1,mcmaster,2025-03-01 09:00,12,oxyurid,1\n",
    )
    assert [(e["file"], e["column"], e["code"]) for e in errors] == [
        ("r.csv", "counted (ml)", "volumes"),
        ("s.csv", "gravity", "out-of-range"),
    ]
    assert errors[0]["text"] == "'counted (ml)' 15 is more than 'suspension (ml)' 0.3."


def test_the_same_organism_twice_in_a_field_asks_for_numbers(refused, pixel, stool):
    stool("Pixel", "2025-03-01")
    (error,) = refused(
        r="sample,method,read at,objective,organism,count\n"
        "S1,simple_flotation,2025-03-01 09:00,10,oxyurid,1\nS1,,,10,oxyurid,0\n"
    )
    assert (error["line"], error["code"]) == (3, "given-twice") and "'reading'" in error["next"]


def test_a_grid_is_whole(refused, pixel, stool):
    stool("Pixel", "2025-03-01")
    head = "sample,method,read at,objective,organism,field 1,field 2,field 3,field 4\n"
    errors = refused(g=head + "S1,simple_flotation,2025-03-01 09:00,10,oxyurid,1,,2,x\n")
    assert [(e["column"], e["code"]) for e in errors] == [
        ("field 4", "not-a-count"),
        ("field 2", "field-empty"),
    ]
    errors = refused(
        g=head + "S1,simple_flotation,2025-03-01 09:00,10,oxyurid,1,0,2,\nS1,,,,flagellate,1,0,,\n"
    )
    assert [(e["line"], e["code"]) for e in errors] == [(3, "field-numbers")]


def test_results_from_elsewhere_are_checked(refused, pixel, stool):
    stool("Pixel", "2025-03-01")
    errors = refused(
        elsewhere="animal,target,result,from,method,collected,reported,sample,stage\n"
        "Pixel,oxyurid,negative,a laboratory,flotation,2025-03-05,2025-03-03,,\n"
        "Pixel,pollen,positive,a laboratory,flotation,2025-03-01,2025-03-03,,\n"
        "Pixel,oxyurid,perhaps,,flotation,2025-03-01,2025-03-03,,chick\n"
        "Pixel,oxyurid,negative,a laboratory,flotation,2025-03-02,2025-03-03,S1,\n"
    )
    assert [(e["line"], e["column"], e["code"]) for e in errors] == [
        (2, "reported", "reported-before-collected"),
        (3, "target", "no-target"),
        (4, "result", "not-a-choice"),
        (4, "from", "cell-empty-merged"),
        (4, "stage", "not-a-choice"),
        (5, "collected", "other-day"),
    ]


PLANS = "plan,animal,target,vet,written,drug,dose (mg/kg),strength (mg/ml),route,days between doses,doses\n"
ORDER = "fenbendazole,50,100,by mouth,14,2"


def test_plans_and_doses_are_checked(refused, pixel):
    errors = refused(
        plans=PLANS
        + "a,Pixel,oxyurid,Dr Ilse Varnholt,2025-03-01,fenbendazole,50,,by mouth,14,2\n"
        + f"b,Pixel,flagellate,Dr Ilse Varnholt,2025-03-05,{ORDER}\n"
        + f"b,Pixel,flagellate,Dr Ilse Varnholt,2025-03-06,{ORDER}\n"
        + "c,Pixel,coccidian,Dr Ilse Varnholt,2025-03-06,,,,,,\n"
        + "d,Pixel,ascarid,Dr Ilse Varnholt,2025-03-06,fenbendazole,50,100,by mouth,400,20\n",
        doses="plan,animal,given at,volume (ml)\n"
        "b,Pixel,2025-03-04 08:00,0.2\n"
        "b,Pixel,2025-03-05 08:00,0.2\nb,Pixel,2025-03-05 08:00,0.2\n"
        "c,Pixel,2025-03-07 08:00,0.2\nz,Pixel,2025-03-07 08:00,0.2\na,Pixel,2025-03-07 08:00,0.2\n",
    )
    assert [(e["file"], e["line"], e["code"]) for e in errors] == [
        ("doses.csv", 2, "dose-before-plan"),
        ("doses.csv", 4, "dose-twice"),
        ("doses.csv", 5, "order-missing"),
        ("doses.csv", 6, "unknown-plan"),
        ("plans.csv", 2, "order-incomplete"),
        ("plans.csv", 4, "label-twice"),
        ("plans.csv", 6, "course-too-long"),
    ]
    assert errors[4]["column"] == "strength (mg/ml)"


def test_a_dose_without_a_plan_or_with_two_is_asked(refused, pixel):
    doses = "animal,given at,volume (ml)\nPixel,2025-03-07 08:00,0.2\n"
    assert codes(refused(doses=doses)) == ["order-missing"]
    plans = "".join(
        f"{t[0]},Pixel,{t},Dr Ilse Varnholt,2025-03-05,{ORDER}\n" for t in ("flagellate", "oxyurid")
    )
    assert codes(refused(doses=doses, plans=PLANS + plans)) == ["plan-unclear"]


def test_a_plan_older_than_the_one_in_force_is_refused(refused, case, do):
    do(
        *("plan", "add", case, "--vet", "Dr Ilse Varnholt", "--written", "2025-03-06"),
        *("--goal", "watch, no treatment"),
    )
    errors = refused(plans=PLANS + f"a,Saffron,oxyurid,Dr Ilse Varnholt,2025-03-05,{ORDER}\n")
    assert codes(errors) == ["plan-older"] and errors[0]["column"] == "written"


def test_control_characters_are_refused(refused, pixel):
    errors = refused(weights="animal,weighed at,weight (g),state\nPixel,2025-03-01,312,a\x07b\n")
    assert codes(errors) == ["control-character"]


def test_the_same_file_twice_is_refused(refused, pixel):
    text = WEIGHTS + "Pixel,2025-03-01,312\n"
    assert codes(refused(a=text, b=text)) == ["file-twice"]


def test_a_missing_file_and_a_folder_without_tables_are_said(folder, tmp_path, fecallab):
    said = fecallab("batch", "take-in", tmp_path / "none.csv", "--json")
    assert said.code == 2 and said.error["code"] == "no-such-file"
    said = fecallab("batch", "take-in", tmp_path / "*.csv")
    assert said.code == 2 and "no CSV in" in said.err
    (tmp_path / "empty").mkdir()
    said = fecallab("batch", "take-in", tmp_path / "empty", "--json")
    assert said.code == 2 and said.error["code"] == "no-such-file"


def test_ten_thousand_errors_are_all_found_and_not_all_printed(folder, tmp_path, fecallab, pixel):
    path = tmp_path / "w.csv"
    path.write_text(WEIGHTS + "Pixel,2025-03-01,\n" * 1 + "Pixel,2025-03-01,x\n" * 9_999, encoding="utf-8")
    said = fecallab("batch", "take-in", path, "--json")
    assert said.code == 2 and len(said.json["errors"]) == 10_000
    said = fecallab("batch", "take-in", path)
    assert len(said.err.splitlines()) == 202 and "9800 more" in said.err


def test_what_only_the_records_can_refuse_leaves_nothing_behind(
    folder, tmp_path, fecallab, pixel, monkeypatch
):
    """The last line of defence: a refusal in the middle of the writing takes everything back."""
    from fecallab.domain.errors import BadInput
    from fecallab.records.writer import Writer

    path = tmp_path / "tables"
    path.mkdir()
    (path / "weights.csv").write_text(WEIGHTS + "Pixel,2025-03-01,312\n", encoding="utf-8")
    (path / "samples.csv").write_text("sample,animal,collected at\na,Pixel,2025-03-01\n", encoding="utf-8")
    before = contents(folder)
    add = Writer.add

    def refuse_samples(self: Writer, fact: Any) -> Any:
        if type(fact).__name__ == "Sample":
            raise BadInput("No samples today.", next="Try tomorrow.", code="closed")
        return add(self, fact)

    monkeypatch.setattr(Writer, "add", refuse_samples)
    said = fecallab("batch", "take-in", path, "--json")
    assert said.code == 2 and [(e["file"], e["line"], e["code"]) for e in said.json["errors"]] == [
        ("samples.csv", 2, "closed")
    ]
    assert contents(folder) == before
