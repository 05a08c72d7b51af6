"""Rounds, what is due, protocols and tables of arrivals by commands."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said, contents
from .nursery import clean_exam, nursery, nursery_folder

__all__ = ["clean_exam", "nursery", "nursery_folder"]

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]
Run = Callable[..., Said]
VET = "Dr Ilse Varnholt"


def test_the_round_goes_room_by_room_and_its_labels_begin_an_exam(
    nursery: None, do: Do, fecallab: Run, tmp_path: Path
) -> None:
    words = (
        "--labels",
        tmp_path / "labels.pdf",
        "--sheet",
        tmp_path / "round.pdf",
        "--tables",
        tmp_path / "t",
    )
    asked = do("arrivals", "round", "--on", "2025-03-02", *words)
    assert [(stop["room"], stop["animal"]) for stop in asked["samples"]] == [
        ("room 1", "litter 1"),
        ("room 1", "litter 2"),
        ("room 2", "Thistle"),
    ]
    said = fecallab("arrivals", "round", "--on", "2025-03-02").out
    assert "  box 1  litter 1 (5)  A1  0 of 3 exams  since 1 March 2025\n" in said
    assert said.count("Preparations of each: direct saline smear and simple flotation.") == 1
    assert all((tmp_path / name).read_bytes().startswith(b"%PDF") for name in ("labels.pdf", "round.pdf"))
    with (tmp_path / "t" / "readings.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["objective (x)"] for row in rows] == ["40", "10", "40"] * 3
    only = do("arrivals", "round", "--room", "ROOM 2", "--on", "2025-03-02")["samples"]
    assert [stop["code"] for stop in only] == ["A3"]
    begun = do("arrivals", "begin", only[0]["label"].upper(), "--passed-from", "2025-03-02")
    assert (begun["new"], begun["sample"]["animal"]) == (True, "A3")
    scanned = only[0]["label"].rpartition(":")[0] + f":{begun['sample']['code']}"
    again = do("arrivals", "begin", scanned)
    assert (again["new"], again["sample"]["code"]) == (False, begun["sample"]["code"])
    wet = ("--method", "direct_saline_smear", "--objective", "40", "--share", "0.5", "--seen", "oxyurid=0")
    assert do("exam", "add", scanned, *wet, "--read-at", "2025-03-02 23:59")["exam"]["sample"] == "S1"
    assert fecallab("animal", "show", only[0]["label"]).code == 0


def test_due_names_the_groups_beside_the_cases(
    nursery: None, do: Do, say: Say, clean_exam: Any, tmp_path: Path
) -> None:
    text = say("due", "--on", "2025-03-02")
    assert "litter 1, litter 2  room 1  examine 2 stools" in text
    clean_exam("litter 1", "2025-03-10", seen="coccidian=4", stools_of=5)
    found = do("due", "--on", "2025-03-11")
    assert found["arrivals"][0]["names"] == ["Thistle"]
    assert "case open" in next(one["what"] for one in found["arrivals"] if "litter 1" in one["names"])
    assert len(found["due"]) == 1, "the case of litter 1"
    do("due", "--on", "2025-03-11", "--ics", tmp_path / "due.ics")
    calendar = (tmp_path / "due.ics").read_text(encoding="utf-8").replace("\n ", "")
    assert calendar.count("BEGIN:VEVENT") == 3 and "SUMMARY:Thistle: examine a stool" in calendar
    alone = do("due", "Thistle", "--on", "2025-03-11")
    assert [one["names"] for one in alone["arrivals"]] == [["Thistle"]]


def test_a_vets_protocol_takes_the_place_of_the_template(nursery: None, do: Do, say: Say) -> None:
    made = do(
        "arrivals", "protocol", "I1", "--days", "60", "--pcrs", "2", "--not-blocking", "oxyurid", "--vet", VET
    )
    protocol = made["protocol"]
    assert (protocol["days_at_least"], protocol["laboratory_pcrs"], protocol["vet"]) == (60, 2, VET)
    assert "oxyurid" in protocol["not_blocking"] and "oxyurid" not in protocol["blocking"]
    assert protocol["source"].startswith("days at least 60, laboratory pcrs 2")
    stricter = do("arrivals", "protocol", "I1", "--days", "120")["protocol"]
    assert (stricter["days_at_least"], stricter["laboratory_pcrs"], stricter["vet"]) == (120, 2, VET)
    assert "by the keeper" in stricter["source"]
    assert len(do("history", "IP1")["history"]) == 1, "replaced, never edited"


def test_tables_of_places_and_arrivals_come_out_as_they_went_in(
    nursery: None, do: Do, empty_folder: Path, tmp_path: Path, fecallab: Run
) -> None:
    do("animal", "move", "Thistle", "box 9", "--new", "--room", "room 2", "--on", "2025-03-20")
    do("animal", "move", "litter 1", "box 3", "--visit", "--on", "2025-03-22", "--number", "1")
    do("batch", "give-out", tmp_path / "first")
    other = shutil.copytree(empty_folder, tmp_path / "other")
    said = fecallab("batch", "take-in", tmp_path / "first", "--records", other, "--json")
    assert said.code == 0, said.all
    assert fecallab("batch", "give-out", tmp_path / "second", "--records", other).code == 0
    for name in ("animals.csv", "enclosures.csv", "stays.csv", "arrivals.csv"):
        assert (tmp_path / "first" / name).read_bytes() == (tmp_path / "second" / name).read_bytes(), name
    moved = fecallab("animal", "show", "Thistle", "--records", other, "--json").json
    assert [stay["enclosure_name"] for stay in moved["stays"]] == ["box 3", "box 9"]
    again = fecallab("batch", "take-in", tmp_path / "first" / "stays.csv", "--records", other, "--json")
    assert again.code == 2 and {e["code"] for e in again.json["errors"]} == {"recorded-already"}
    assert fecallab("batch", "take-in", tmp_path / "first", "--new-only", "--records", other).code == 0


STAYS = {
    "in-two-places": "Thistle,box 1,2025-03-05,,",
    "move-before-arrival": "Thistle,box 1,2025-02-01,2025-02-02,yes",
    "end-before-start": "Thistle,box 1,2025-03-05,2025-03-04,yes",
    "unknown-enclosure": "Thistle,box 77,2025-03-05,,yes",
}


@pytest.mark.parametrize("code", STAYS)
def test_a_row_of_stays_that_cannot_be_is_told_with_its_line(
    nursery: None, fecallab: Run, folder: Path, tmp_path: Path, code: str
) -> None:
    table = tmp_path / "stays.csv"
    table.write_text(f"animal,enclosure,from,to,visit\n{STAYS[code]}\n", encoding="utf-8")
    before = contents(folder)
    said = fecallab("batch", "take-in", table, "--json")
    assert said.code == 2
    assert [(error["line"], error["code"]) for error in said.json["errors"]] == [(2, code)]
    assert contents(folder) == before


def test_rows_of_arrivals_make_one_or_join_one(nursery: None, do: Do, fecallab: Run, tmp_path: Path) -> None:
    do("animal", "add", "Yarrow", "--host-group", "snake", "--enclosure", "drawer 1")
    table = tmp_path / "arrivals.csv"
    table.write_text(
        "arrival,animal,arrived,origin,source\nsummer,Juniper,2025-06-01,wild caught,a port\nI1,Yarrow,,,\n"
    )
    assert do("batch", "take-in", table)["counts"] == {"animals of arrivals": 2}
    shown = do("arrivals", "show", "summer", "--on", "2025-06-02")
    assert (shown["arrival"]["origin"], shown["groups"][0]["members"][0]["name"]) == (
        "wild caught",
        "Juniper",
    )
    twice = tmp_path / "twice.csv"
    twice.write_text("arrival,animal,arrived\nautumn,Juniper,2025-09-01\nwinter,Thistle,\n")
    said = fecallab("batch", "take-in", twice, "--json")
    assert [error["code"] for error in said.json["errors"]] == ["recorded-already", "recorded-already"]
