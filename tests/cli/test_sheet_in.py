"""Typing a filled microscope sheet in: as a table and at the keys; checked as a whole, all of it or nothing."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

MOMENT = datetime(2026, 3, 18, 12, 0)
HEAD = (
    "animal,sample,passed on,passed from,passed to,form,kept,mass (g),read at,method,objective (x),field number (mm),"
    "gravity,gravity checked,stood (min),organism,sure,field 1,field 2,field 3,share,count,signs,read by,remark"
)


@pytest.fixture
def rescue(folder: Path, fecallab: Any, monkeypatch: pytest.MonkeyPatch) -> Path:
    for module in ("common", "sheet", "sample", "exam", "exam_input", "sheet_in", "sheet_ask"):
        monkeypatch.setattr(f"fecallab.cli.{module}.now", lambda: MOMENT, raising=False)
    assert fecallab("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult").code == 0
    assert fecallab("animal", "add", "Barley", "--species", "Testudo hermanni", "--adult").code == 0
    return folder


@pytest.fixture
def typed(tmp_path: Path, fecallab: Any) -> Callable[..., Any]:
    """Write lines into a file and type it in."""

    def run(*lines: str, head: str = HEAD, words: tuple[str, ...] = (), encoding: str = "utf-8") -> Any:
        path = tmp_path / "sheet.csv"
        path.write_bytes("\r\n".join([head, *lines, ""]).encode(encoding))
        return fecallab("sheet", "type-in", path, "--json", *words)

    return run


def counted(fecallab: Any) -> dict[str, int]:
    samples = fecallab("sample", "list", "--json").json["samples"]
    cases = fecallab("case", "list", "--json").json["cases"]
    return {"samples": len(samples), "cases": len(cases)}


GOOD = (
    "Saffron,,2026-03-18,6:00,8:00,soft,room,1.4,8:50,simple_flotation,10,20,1.20,yes,15,oxyurid,,0,2,1,,,,Mara,calm",
    ",,,,,,,,,,,,,,,coccidian,,0,0,0,,,,,",
    ",,,,,,,,,,,,,,,ascarid,no,0,0,1,,,,,",
    ",,,,,,,,,,10,,,,,oxyurid,,,,,1,4,,,",
)


def test_a_filled_sheet_becomes_sample_exam_and_case(rescue: Path, fecallab: Any, typed: Any) -> None:
    said = typed(*GOOD)
    assert said.code == 0, said.all
    assert said.json["samples"] == ["S1"]
    assert said.json["exams"] == ["E1"]
    assert [case["target"] for case in said.json["cases_opened"]] == ["oxyurid"]
    exam = fecallab("exam", "show", "E1", "--json").json["exam"]
    (preparation,) = exam["preparations"]
    assert exam["by"] == "Mara"
    assert preparation["method"] == "simple_flotation"
    assert (preparation["specific_gravity"], preparation["gravity_checked"]) == (1.2, True)
    assert preparation["standing_minutes"] == 15
    assert preparation["read_at"] == "2026-03-18T08:50:00"
    fields = [reading for reading in preparation["readings"] if reading["kind"] == "field"]
    assert [one["counts"] for one in fields] == [
        {"oxyurid": 0, "coccidian": 0},
        {"oxyurid": 2, "coccidian": 0},
        {"oxyurid": 1, "coccidian": 0},
    ]
    assert [one["unsure"].get("ascarid", 0) for one in fields] == [0, 0, 1]
    assert {one["objective"] for one in fields} == {10}
    (sweep,) = [reading for reading in preparation["readings"] if reading["kind"] == "sweep"]
    assert (sweep["cover_share"], sweep["counts"], sweep["field_number"]) == (1, {"oxyurid": 4}, None)
    (sample,) = fecallab("sample", "list", "--json").json["samples"]
    assert (sample["passed_from"], sample["passed_to"]) == ("2026-03-18T06:00:00", "2026-03-18T08:00:00")
    assert (sample["form"], sample["kept"], sample["mass_g"]) == ("soft", "room", 1.4)


def test_it_is_the_same_as_the_single_commands(rescue: Path, fecallab: Any, typed: Any) -> None:
    typed(*GOOD[:1])
    fecallab(
        *["sample", "add", "Barley", "--form", "soft", "--kept", "room", "--mass-g", "1.4", "--passed-from"],
        "2026-03-18 06:00",
        "--passed-to",
        "2026-03-18 08:00",
    )
    fecallab(
        *[
            "exam",
            "add",
            "S2",
            "--method",
            "simple_flotation",
            "--gravity",
            "1.20",
            "--gravity-checked",
            "--standing-minutes",
            "15",
        ],
        *[
            "--objective",
            "10",
            "--field-number",
            "20",
            "--counts",
            "0,2,1",
            "--of",
            "oxyurid",
            "--remark",
            "calm",
            "--read-at",
        ],
        "2026-03-18 08:50",
    )
    paper, single = (fecallab("exam", "show", code, "--json").json for code in ("E1", "E2"))

    def judged(exam: dict[str, Any]) -> str:
        return json.dumps(exam["judged"]).replace(exam["exam"]["code"], "E")

    assert judged(paper) == judged(single)

    def bare(exam: dict[str, Any]) -> list[Any]:
        text = json.dumps(exam["exam"]["preparations"]).replace(exam["exam"]["code"], "E")
        return [{**part, "remark": ""} for part in json.loads(text)]

    assert bare(paper) == bare(single)


def test_a_german_spreadsheet_is_read(rescue: Path, fecallab: Any, typed: Any) -> None:
    lines = (
        "Saffron;18.03.2026;6:00;8:00;soft;room;1,4;8:50;simple_flotation;10;20;1,20;ja;15;oxyurid;0;2;1",
        "Barley;18.03.2026;7:00;8:00;formed;room;2,5;9:10;simple_flotation;10;20;1,20;ja;15;oxyurid;0;0;0",
    )
    head = (
        "animal;passed on;passed from;passed to;form;kept;mass (g);read at;method;objective (x);field number (mm);"
        "gravity;gravity checked;stood (min);organism;field 1;field 2;field 3"
    )
    said = typed(*lines, head=head, encoding="utf-8-sig")
    assert said.code == 0, said.all
    assert said.json["half_pages"] == 2
    samples = {one["animal"]: one for one in fecallab("sample", "list", "--json").json["samples"]}
    assert (samples["A1"]["mass_g"], samples["A2"]["mass_g"]) == (1.4, 2.5)
    assert samples["A2"]["passed_from"] == "2026-03-18T07:00:00"


def test_every_fault_is_told_at_once_with_its_line_and_nothing_is_written(
    rescue: Path, fecallab: Any, typed: Any
) -> None:
    before = counted(fecallab)
    said = typed(
        *GOOD,
        "Nobody,,2026-03-18,6:00,8:00,soft,room,1.4,8:50,simple_flotation,10,20,1.20,yes,15,oxyurid,,0,2,1,,,,,",
        "Barley,,2026-03-18,6:00,8:00,mushy,room,heavy,8:50,simple_flotation,10,20,1.20,yes,15,unicorn,,0,,1,,,,,",
        "Barley,,2026-03-18,6:00,8:00,soft,room,1,5:00,simple_flotation,10,20,1.20,yes,15,oxyurid,,0,0,0,,,frenzy,,",
    )
    assert said.code == 2
    faults = {(fault["line"], fault["column"]) for fault in said.json["errors"]}
    assert faults >= {
        (6, "animal"),
        (7, "form"),
        (7, "mass (g)"),
        (7, "organism"),
        (7, "field 2"),
        (8, "signs"),
    }
    assert all(fault["next"] for fault in said.json["errors"])
    assert counted(fecallab) == before


def test_an_exam_before_its_sample_is_refused(rescue: Path, fecallab: Any, typed: Any) -> None:
    said = typed(GOOD[0].replace("8:50", "5:00"))
    assert said.code == 2
    assert "exam-before-sample" in [fault["code"] for fault in said.json["errors"]]
    assert counted(fecallab)["samples"] == 0


def test_check_writes_nothing(rescue: Path, fecallab: Any, typed: Any) -> None:
    said = typed(*GOOD, words=("--check",))
    assert (said.code, said.json["written"]) == (0, False)
    assert counted(fecallab) == {"samples": 0, "cases": 0}


def test_a_recorded_sample_is_named_by_its_code_or_its_label(rescue: Path, fecallab: Any, typed: Any) -> None:
    collection = json.loads((rescue / "fecallab.json").read_text("utf-8"))["collection"]
    fecallab(
        "sample", "add", "Barley", "--passed-from", "2026-03-18 07:00", "--passed-to", "2026-03-18 07:30"
    )
    line = "Barley,{},,,,,,,2026-03-18 08:00,direct_saline_smear,40,18,,,,flagellate,,0,0,0,,,,,"
    assert typed(line.format(f"fecallab:{collection[:8]}:S1")).code == 0
    assert counted(fecallab)["samples"] == 1
    again = typed(line.format("S1"))
    assert "recorded-already" in [fault["code"] for fault in again.json["errors"]]
    other = typed(line.format("fecallab:00000000:S1"))
    assert "label-of-another-collection" in [fault["code"] for fault in other.json["errors"]]
    whose = typed(line.format("S1").replace("Barley", "Saffron").replace("08:00", "08:10"))
    assert "other-animal" in [fault["code"] for fault in whose.json["errors"]]
    described = typed(line.format("S1").replace("S1,,,,,", "S1,2026-03-18,7:00,,soft,"))
    assert "sample-recorded" in [fault["code"] for fault in described.json["errors"]]


def test_two_half_pages_of_one_stool_are_two_preparations_of_one_exam(
    rescue: Path, fecallab: Any, typed: Any
) -> None:
    said = typed(
        GOOD[0],
        "Saffron,,,,,,,,2026-03-18 08:20,direct_saline_smear,40,18,,,,flagellate,,0,0,0,,,,,",
    )
    assert said.code == 0, said.all
    assert (said.json["samples"], said.json["exams"]) == (["S1"], ["E1"])
    parts = fecallab("exam", "show", "E1", "--json").json["exam"]["preparations"]
    assert [part["method"] for part in parts] == ["simple_flotation", "direct_saline_smear"]


def test_a_ticked_sign_goes_to_the_vet_at_once(
    rescue: Path, fecallab: Any, typed: Any, tmp_path: Path
) -> None:
    line = GOOD[0].replace(",,,,Mara,calm", ",,,tissue out of the vent; not eating,Mara,calm")
    assert "tissue" in line
    said = typed(line)
    assert said.code == 0, said.all
    assert [one["sign"] for one in said.json["to_the_vet"]] == ["tissue-out-of-vent", "not-eating-lizard"]
    assert "today" in said.json["to_the_vet"][0]["text"]
    listed = fecallab("sign", "list", "Saffron", "--on", "2026-03-18", "--json").json
    assert {one["sign"] for one in listed["answers"]} == {"tissue-out-of-vent", "not-eating-lizard"}
    assert {one["sample"] for one in listed["answers"]} == {"S1"}


def test_a_chamber_is_counted_without_fields(rescue: Path, fecallab: Any, typed: Any) -> None:
    head = HEAD.replace("stood (min)", "stood (min),stool used (g),suspension (ml),counted (ml)")
    line = (
        "Saffron,,2026-03-18,6:00,8:00,soft,room,1.4,8:50,mcmaster,10,,1.20,yes,5,1,15,0.3,oxyurid,,,,,,7,,,"
    )
    said = typed(line, head=head)
    assert said.code == 0, said.all
    (part,) = fecallab("exam", "show", "E1", "--json").json["exam"]["preparations"]
    (reading,) = part["readings"]
    assert (reading["kind"], reading["counts"]) == ("chamber", {"oxyurid": 7})
    assert (part["sample_g"], part["suspension_ml"], part["counted_ml"]) == (1, 15, 0.3)


def test_rows_without_a_count_were_not_read(rescue: Path, fecallab: Any, typed: Any) -> None:
    said = typed(GOOD[0], ",,,,,,,,,,,,,,,coccidian,,,,,,,,,")
    assert said.code == 0, said.all
    (part,) = fecallab("exam", "show", "E1", "--json").json["exam"]["preparations"]
    assert all("coccidian" not in reading["counts"] for reading in part["readings"])


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "empty-file"),
        (b"PK\x03\x04rest", "workbook"),
        (b"\x00\x01\x02\x03\xff", "no-text"),
        (b"colour,shape\r\nred,round\r\n", "column-unknown"),
        (b"animal,sample\r\nSaffron,\r\n", "columns-missing"),
        (b"animal,animal,method\r\nSaffron,Saffron,baermann\r\n", "column-twice"),
        (b'animal,method\r\n"Saffron,baermann\r\n', "no-table"),
        (b"animal,method\r\nSaffron,baermann,x,y\r\n", "cells-too-many"),
        (b"animal,method\r\n,baermann\r\n", "cell-empty"),
    ],
)
def test_what_is_no_sheet_is_said(
    rescue: Path, fecallab: Any, tmp_path: Path, content: bytes, code: str
) -> None:
    path = tmp_path / "odd.csv"
    path.write_bytes(content)
    said = fecallab("sheet", "type-in", path, "--json")
    assert said.code == 2
    assert code in [fault["code"] for fault in said.json["errors"]], said.json
    assert counted(fecallab) == {"samples": 0, "cases": 0}


def test_a_date_that_can_be_two_is_asked(rescue: Path, fecallab: Any, typed: Any) -> None:
    line = GOOD[0].replace("2026-03-18", "3/2/2026")
    asked = typed(line)
    assert "dates-ambiguous" in [fault["code"] for fault in asked.json["errors"]]
    assert typed(line, words=("--dates", "month-first")).code == 0
    (sample,) = fecallab("sample", "list", "--json").json["samples"]
    assert sample["passed_from"].startswith("2026-03-02")


class Person:
    """Answers in order; what was said is kept."""

    def __init__(self, answers: list[str]) -> None:
        self.answers: Iterator[str] = iter(answers)
        self.said: list[str] = []

    def read(self, prompt: str) -> str:
        self.said.append(prompt)
        try:
            answer = next(self.answers)
        except StopIteration:
            raise EOFError from None
        self.said.append(answer)
        return answer


SAFFRON = [
    "Saffron", "", "simple flotation", "2026-03-18 6:00 to 8:00", "soft", "1,4", "room", "", "8:50",
    "sugar", "10", "20", "0 0 0", "0 2 1", "", "", "ascarid 0 0 1", "",
    "10", "all", "0 4 -", "strongylid 1 ?", "", "",
    "1.2", "y", "15", "calm", "", "Mara",
]  # fmt: skip


def ask(records: Path, answers: list[str]) -> Person:
    from fecallab.cli.ask.talk import Talk
    from fecallab.cli.sheet_ask import type_in_by_questions

    person = Person(answers)
    type_in_by_questions(str(records), "Mara Quell", Talk(person.read, person.said.append))
    return person


def test_at_the_keys_the_answers_in_the_order_of_the_paper_make_the_same_exam(
    rescue: Path, fecallab: Any
) -> None:
    person = ask(rescue, [*SAFFRON, "", "n"])
    assert any("1 half page (Saffron). Recorded." in line for line in person.said), "\n".join(person.said)
    exam = fecallab("exam", "show", "E1", "--json").json["exam"]
    (part,) = exam["preparations"]
    assert (part["specific_gravity"], part["gravity_checked"], part["standing_minutes"]) == (1.2, True, 15)
    fields = [reading for reading in part["readings"] if reading["kind"] == "field"]
    sweeps = [reading for reading in part["readings"] if reading["kind"] == "sweep"]
    assert len(fields) == 3 and len(sweeps) == 1
    assert sum(sum(one["counts"].values()) for one in fields) == 3
    assert [one["unsure"].get("ascarid", 0) for one in fields] == [0, 0, 1]
    assert (sweeps[0]["cover_share"], sweeps[0]["counts"]) == (1, {"coccidian": 0, "oxyurid": 4})
    assert sweeps[0]["unsure"] == {"strongylid": 1}
    assert part["solution"] == "sugar"
    assert exam["by"] == "Mara"


def test_nothing_is_recorded_when_the_person_stops_before_the_end(rescue: Path, fecallab: Any) -> None:
    import typer

    for stop in (len(SAFFRON) // 2, len(SAFFRON)):
        with pytest.raises(typer.Abort):
            ask(rescue, [*SAFFRON[:stop], "q"])
    with pytest.raises(typer.Abort):
        ask(rescue, SAFFRON[:9])
    assert counted(fecallab) == {"samples": 0, "cases": 0}


def test_one_question_back_and_a_line_changed_at_the_read_back(rescue: Path, fecallab: Any) -> None:
    back = ["Saffron", "", "simple flotation", "2026-03-18 6:00 to 8:00", "liquid", "<", "soft"]
    person = ask(rescue, [*back, *SAFFRON[5:], "", "n"])
    assert any("Recorded" in line for line in person.said)
    (sample,) = fecallab("sample", "list", "--json").json["samples"]
    assert sample["form"] == "soft"
