"""Tables with something wrong: every error at once, each with its place and its mending, nothing written."""

from __future__ import annotations

import pytest

from .batch_refused import WEIGHTS, codes, pixel, refused

__all__ = ["pixel", "refused"]


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
