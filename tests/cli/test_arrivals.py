"""Enclosures, moves, arrivals, contacts and rounds by commands: what is odd gets one clear line, nothing is lost."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said, contents

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]
Run = Callable[..., Said]
VET = "Dr Ilse Varnholt"


@pytest.fixture(scope="session")
def nursery_folder(tmp_path_factory: pytest.TempPathFactory, empty_folder: Path) -> Path:
    """Records of the nursery, made once and copied for every test."""
    from fecallab.cli.main import run

    made = shutil.copytree(empty_folder, tmp_path_factory.mktemp("nursery") / "records")
    lizard = ("--species", "Uromastyx geyri", "--arrived", "2025-03-01")
    tub = (*lizard, "--kind", "tub", "--number", "5", "--enclosure")
    tools = ("--tools", "tongs of room 1")
    for words in (
        ("enclosure", "add", "box 1", "--room", "room 1", *tools),
        ("enclosure", "add", "box 2", "--room", "room 1", *tools),
        ("enclosure", "add", "box 3", "--room", "room 2"),
        ("animal", "add", "litter 1", *tub, "box 1"),
        ("animal", "add", "litter 2", *tub, "box 2"),
        ("animal", "add", "Thistle", *lizard, "--enclosure", "box 3"),
        ("animal", "add", "Juniper", "--species", "Uromastyx geyri"),
        ("arrivals", "add", "litter 1", "litter 2", "Thistle", "--arrived", "2025-03-01", "--name", "spring"),
    ):
        assert run([*words, "--records", str(made), "--by", "Mara Quell"]) == 0, words
    return made


@pytest.fixture
def nursery(folder: Path, nursery_folder: Path) -> None:
    """Two tubs of five in one room with shared tongs, Thistle alone in another, all of one arrival; and Juniper."""
    shutil.rmtree(folder)
    shutil.copytree(nursery_folder, folder)


@pytest.fixture
def clean_exam(do: Do) -> Callable[..., dict[str, Any]]:
    """A stool of an owner on a day in which everything could have been shown; ``seen`` is what the float showed."""

    def add(owner: str, day: str, seen: str = "coccidian=0", stools_of: int | None = None) -> dict[str, Any]:
        share = ("--stools-of", str(stools_of)) if stools_of else ()
        begun = do(
            *("arrivals", "begin", owner, "--passed-from", f"{day} 07:00", "--passed-to", f"{day} 07:30"),
            *("--form", "soft", "--kept", "room", "--mass-g", "2", *share),
        )
        sample = begun["sample"]["code"]
        wet = ("--method", "direct_saline_smear", "--room-c", "24", "--objective", "40", "--share", "0.5")
        exam = do("exam", "add", sample, *wet, "--read-at", f"{day} 07:50", "--seen", "flagellate=0")
        code = exam["exam"]["code"]
        floated = ("--method", "simple_flotation", "--solution", "zinc sulfate", "--gravity", "1.19")
        stood = ("--gravity-checked", "--standing-minutes", "15", "--read-at", f"{day} 08:10")
        do("exam", "prepare", code, *floated, *stood, "--objective", "10", "--share", "1", "--seen", seen)
        return do("exam", "read", f"{code}-2", "--objective", "40", "--share", "0.4", "--seen", seen)

    return add


def refused(run: Run, folder: Path, code: str, *words: str) -> str:
    """Run a command that must say one clear line with this word code and change nothing."""
    before = contents(folder)
    said = run(*words, "--json")
    assert said.code == 2, said.all
    assert said.error["code"] == code and said.error["next"]
    assert contents(folder) == before
    plain = run(*words)
    assert len(plain.err.strip().splitlines()) == 1
    return said.error["text"]


ODD = {
    "two places": ("in-two-places", ("animal", "move", "Thistle", "box 1", "--on", "2025-02-28")),
    "there already": ("there-already", ("animal", "move", "Thistle", "BOX 3", "--on", "2025-03-09")),
    "no such enclosure": ("unknown-enclosure", ("animal", "move", "Thistle", "box 9", "--on", "2025-03-09")),
    "before its arrival": (
        "move-before-arrival",
        ("animal", "move", "Thistle", "box 1", "--visit", "--on", "2025-02-01"),
    ),
    "a visit that ends first": (
        "end-before-start",
        ("animal", "move", "Thistle", "box 1", "--visit", "--on", "2025-03-09", "--until", "2025-03-08"),
    ),
    "six of five": (
        "more-than-there-are",
        ("animal", "move", "litter 1", "box 3", "--visit", "--on", "2025-03-09", "--number", "6"),
    ),
    "six of five died": (
        "more-than-there-are",
        ("arrivals", "count", "litter 1", "died", "6", "--on", "2025-03-09"),
    ),
    "a number of one animal": ("one-animal", ("arrivals", "count", "Thistle", "died", "--on", "2025-03-09")),
    "none died": ("refused-by-records", ("arrivals", "count", "litter 1", "died", "0", "--on", "2025-03-09")),
    "stool of six of five": (
        "more-than-there-are",
        ("arrivals", "begin", "litter 1", "--passed-from", "2025-03-09", "--stools-of", "6"),
    ),
    "two arrivals at once": ("in-two-arrivals", ("arrivals", "add", "Thistle", "--arrived", "2025-03-05")),
    "joined before": ("joined-before-arrival", ("arrivals", "join", "I1", "Juniper", "--on", "2025-02-01")),
    "nobody named": ("nobody-named", ("arrivals", "add", "--arrived", "2025-03-05")),
    "named twice": ("named-twice", ("arrivals", "add", "Juniper", "juniper")),
    "an empty room": ("room-empty", ("arrivals", "add", "--room", "attic")),
    "an unknown arrival": ("unknown-arrival", ("arrivals", "show", "summer")),
    "split of a stranger": ("no-member", ("arrivals", "split", "I1", "Juniper", "--on", "2025-03-09")),
    "release of a stranger": ("no-member", ("arrivals", "release", "I1", "Juniper", "--on", "2025-03-09")),
    "part of a contact group": (
        "contact-group-as-one",
        ("arrivals", "release", "I1", "litter 1", "--on", "2025-03-09"),
    ),
    "fewer days without a vet": ("less-without-a-vet", ("arrivals", "protocol", "I1", "--days", "30")),
    "less asked without a vet": (
        "less-without-a-vet",
        ("arrivals", "protocol", "I1", "--not-blocking", "oxyurid"),
    ),
    "no change": ("nothing-changed", ("arrivals", "protocol", "I1")),
    "a template of other hosts": (
        "template-other-host",
        ("arrivals", "protocol", "I1", "--template", "snake"),
    ),
    "both": (
        "blocks-and-not",
        ("arrivals", "protocol", "I1", "--blocks", "ciliate", "--not-blocking", "ciliate", "--vet", VET),
    ),
    "an unknown room": ("unknown-room", ("arrivals", "round", "--room", "attic", "--on", "2025-03-09")),
    "a label of others": ("label-of-another-collection", ("arrivals", "begin", "fecallab:00000000:A1")),
    "an edited protocol": ("never-edited", ("correct", "IP1", "days_at_least=3", "--reason", "sooner")),
    "an enclosure again": ("name-taken", ("enclosure", "add", "BOX 1")),
    "a name like a code": ("name-like-code", ("enclosure", "add", "B7")),
    "a sharing that never was": (
        "not-shared",
        ("enclosure", "share", "box 3", "tools", "--until", "2025-03-09"),
    ),
    "a sharing again": (
        "shared-already",
        ("enclosure", "share", "box 1", "tools", "Tongs of  room 1", "--from", "2025-03-09"),
    ),
}


@pytest.mark.parametrize("name", ODD)
def test_what_cannot_be_is_one_clear_line(
    nursery: None, do: Do, fecallab: Run, folder: Path, name: str
) -> None:
    code, words = ODD[name]
    refused(fecallab, folder, code, *words)


def test_one_that_died_or_was_sold_moves_and_joins_no_more(
    nursery: None, do: Do, fecallab: Run, folder: Path
) -> None:
    do("animal", "event", "Thistle", "died", "--from", "2025-03-10")
    text = refused(
        fecallab, folder, "not-here-any-more", "animal", "move", "Thistle", "box 1", "--on", "2025-03-12"
    )
    assert "Thistle died on 10 March 2025" in text
    do("animal", "event", "Juniper", "left", "--from", "2025-03-10")
    refused(fecallab, folder, "not-here-any-more", "arrivals", "join", "I1", "Juniper", "--on", "2025-03-12")
    shown = do("arrivals", "show", "I1", "--on", "2025-03-12")
    assert [m["name"] for group in shown["groups"] for m in group["members"]] == ["litter 1", "litter 2"]


def test_a_move_goes_on_the_day_and_shows_everywhere(nursery: None, do: Do, say: Say) -> None:
    moved = do("animal", "move", "Thistle", "attic box", "--new", "--room", "attic", "--on", "2025-03-09")
    assert moved["from"] == "box 3"
    assert do("animal", "list")["animals"][2]["enclosure"] == "attic box"
    assert "attic box since 9 March 2025" in say("animal", "show", "Thistle")
    assert "from 1 March 2025" in say("animal", "show", "Thistle")
    listed = do("enclosure", "list", "--room", "ATTIC", "--on", "2025-03-09")["enclosures"]
    assert [(one["name"], one["animals"]) for one in listed] == [("attic box", ["A3"])]
    assert "9 March 2025  today" in say("enclosure", "show", "attic box")


def test_those_that_share_tongs_are_one_contact_group_until_they_do_not(nursery: None, do: Do) -> None:
    def groups(day: str) -> list[list[str]]:
        shown = do("arrivals", "show", "spring", "--on", day)["groups"]
        return [[member["name"] for member in one["members"]] for one in shown]

    assert groups("2025-03-05") == [["litter 1", "litter 2"], ["Thistle"]]
    do("enclosure", "share", "box 2", "tools", "--until", "2025-03-09")
    assert groups("2025-03-09") == [["litter 1", "litter 2"], ["Thistle"]]
    assert groups("2025-03-10") == [["litter 1"], ["litter 2"], ["Thistle"]]
    met = do("contacts", "litter 2", "--on", "2025-03-20")["met"]
    assert [one["path"] for one in met] == [
        "litter 1 and litter 2: shared tools “tongs of room 1” from 1 March 2025 to 9 March 2025"
    ]


def test_a_stranger_in_time_is_refused_and_a_vet_may_order_it(nursery: None, do: Do, fecallab: Run) -> None:
    early = fecallab("arrivals", "release", "I1", "Thistle", "--on", "2025-03-20", "--json")
    assert early.code == 1
    assert {reason["code"] for reason in early.json["reasons"]} >= {"not-yet", "exams-missing", "days-left"}
    alone = fecallab("arrivals", "release", "I1", "Thistle", "--on", "2025-03-20", "--vet", VET, "--json")
    assert alone.code == 1, "an order has a reason"
    order = ("--vet", VET, "--reason", "goes to a clinic", "--to", "the clinic")
    act = do("arrivals", "release", "I1", "Thistle", "--on", "2025-03-20", *order)["releases"][0]
    assert (act["vet"], act["supported_then"], act["to"], act["by"]) == (
        VET,
        False,
        "the clinic",
        "Mara Quell",
    )
    state = do("arrivals", "show", "I1", "--on", "2025-03-21")["released"][0]["state"]
    assert state == f"released before time on the order of {VET}: goes to a clinic"


def test_hosts_that_never_mix_are_refused_whoever_orders_it(nursery: None, do: Do, fecallab: Run) -> None:
    do("animal", "add", "Barley", "--species", "Testudo hermanni", "--enclosure", "table")
    order = ("--vet", VET, "--reason", "no room", "--to", "table")
    said = fecallab("arrivals", "release", "I1", "Thistle", "--on", "2025-03-20", *order, "--json")
    assert said.code == 1 and said.json["reasons"][0]["code"] == "never-mixed"
    do("animal", "add", "Cricket", "--species", "Pantherophis guttatus", "--enclosure", "drawer 1")
    do("arrivals", "add", "Cricket", "--arrived", "2025-03-01")
    said = fecallab("arrivals", "release", "I2", "Cricket", "--on", "2025-03-20", *order, "--json")
    assert said.code == 1
    assert said.json["reasons"][0]["code"] == "never-mixed"


def test_clean_exams_and_days_let_one_go_and_its_home_moves_along(
    nursery: None, do: Do, say: Say, clean_exam: Any
) -> None:
    for day in ("2025-03-02", "2025-03-20", "2025-04-05"):
        clean_exam("Thistle", day)
    waiting = say("arrivals", "show", "I1", "--on", "2025-04-06")
    assert "Group 2, Thistle: not yet: 30 May 2025 at the earliest" in waiting
    shown = do("arrivals", "show", "I1", "--on", "2025-05-30")["groups"][1]
    assert (shown["answer"], shown["may_release"]) == ("nothing found in stools against it", True)
    assert any("viruses" in line for line in shown["cannot_show"])
    chance = shown["chance"]
    assert 0 < chance["expected_left"] < chance["expected_left_cautious"] < chance["expected_before"] < 1
    assert chance["prior_says"] and chance["sensitivity_says"]
    do("enclosure", "add", "home 7")
    said = say("arrivals", "release", "I1", "--on", "2025-05-30", "--to", "home 7")
    assert "1 animal of I1 released" in said and "2 stay apart" in said
    assert do("animal", "list")["animals"][2]["enclosure"] == "home 7"
    state = do("arrivals", "show", "I1", "--on", "2025-05-31")["released"][0]["state"]
    assert state == "released on 30 May 2025"


def test_who_was_released_may_come_in_again_and_begins_anew(nursery: None, do: Do, clean_exam: Any) -> None:
    for day in ("2025-03-02", "2025-03-20", "2025-04-05"):
        clean_exam("Thistle", day)
    do("arrivals", "release", "I1", "Thistle", "--on", "2025-05-30")
    do("arrivals", "add", "Thistle", "--arrived", "2025-08-01", "--source", "back from a fair")
    shown = do("arrivals", "show", "I2", "--on", "2025-08-02")["groups"]
    assert [m["clean_exams"] for m in shown[0]["members"]] == [0]
    assert shown[0]["earliest_on"] == "2025-10-30"
    assert (
        do("arrivals", "show", "I1", "--on", "2025-08-02")["released"][0]["state"]
        == "released on 30 May 2025"
    )


def test_a_tub_counts_only_when_every_one_has_its_share(nursery: None, do: Do, clean_exam: Any) -> None:
    clean_exam("litter 1", "2025-03-02")
    clean_exam("litter 2", "2025-03-02", stools_of=5)
    members = do("arrivals", "show", "I1", "--on", "2025-03-03")["groups"][0]["members"]
    assert [(one["name"], one["clean_exams"]) for one in members] == [("litter 1", 0), ("litter 2", 1)]


def test_a_finding_restarts_the_room_and_names_who_needs_an_exam(
    nursery: None, do: Do, say: Say, clean_exam: Any
) -> None:
    clean_exam("litter 2", "2025-03-02", stools_of=5)
    clean_exam("litter 1", "2025-03-10", seen="coccidian=4", stools_of=5)
    first, second = do("arrivals", "show", "I1", "--on", "2025-03-11")["groups"]
    assert [one["clean_exams"] for one in first["members"]] == [0, 0]
    assert {one["counts_since"] for one in first["members"]} == {"2025-03-10"}
    assert second["members"][0]["counts_since"] == "2025-03-01"
    shown = say("arrivals", "show", "I1", "--on", "2025-03-11")
    assert "Whom litter 1 met: fecallab contacts A1 --target coccidian" in shown
    told = say("contacts", "A1", "--target", "coccidian", "--on", "2025-03-11")
    assert "litter 2 and litter 1: shared tools “tongs of room 1”" in told
    assert "part them first" in told and "Thistle" not in told


def test_those_that_move_out_of_a_tub_carry_its_contacts(
    nursery: None, do: Do, say: Say, clean_exam: Any
) -> None:
    clean_exam("litter 1", "2025-03-10", seen="coccidian=4", stools_of=5)
    out = ("out", "2", "--new", "litter 3", "--enclosure", "box 9", "--on", "2025-03-12")
    said = do("arrivals", "count", "litter 1", *out)
    assert (said["number"], said["new"]["number_of_animals"]) == (3, 2)
    shown = do("arrivals", "show", "I1", "--on", "2025-03-13")["groups"]
    mine = next(m for group in shown for m in group["members"] if m["name"] == "litter 3")
    assert mine["counts_since"] >= "2025-03-10", "the finding of its tub is its own"
    one = do("arrivals", "count", "litter 2", "out", "1", "--tub", "litter 3", "--on", "2025-03-14")
    assert [change["kind"] for change in one["changes"]] == ["moved out", "moved in"]
    assert do("arrivals", "count", "litter 3")["number"] == 3


def test_splitting_makes_no_time_pass(nursery: None, do: Do) -> None:
    before = do("arrivals", "show", "I1", "--on", "2025-03-20")["groups"][1]["earliest_on"]
    made = do("arrivals", "split", "I1", "Thistle", "--on", "2025-03-20", "--name", "alone")
    assert made["arrival"]["split_from"] == "I1"
    after = do("arrivals", "show", "alone", "--on", "2025-03-20")["groups"][0]["earliest_on"]
    assert before == after == "2025-05-30"
    assert [one["kept_apart"] for one in do("arrivals", "list")["arrivals"]] == [2, 1]


def test_a_newcomer_is_said_to_restart_runs(nursery: None, do: Do, say: Say) -> None:
    do(
        "animal",
        "add",
        "Yarrow",
        "--species",
        "Uromastyx geyri",
        "--enclosure",
        "box 3",
        "--arrived",
        "2025-04-01",
    )
    said = say("arrivals", "join", "I1", "Yarrow", "--on", "2025-04-01")
    assert "A newcomer restarts the contact group" in said
    assert "Thistle" in said and "litter 1" not in said.partition("restarts")[2]
    assert do("arrivals", "show", "I1", "--on", "2025-04-02")["groups"][1]["earliest_on"] == "2025-06-30"


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
