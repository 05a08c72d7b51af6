"""Enclosures, moves, arrivals, contacts and rounds by commands: what is odd gets one clear line, nothing is lost."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said
from .nursery import clean_exam, nursery, nursery_folder, refused

__all__ = ["clean_exam", "nursery", "nursery_folder"]

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]
Run = Callable[..., Said]
VET = "Dr Ilse Varnholt"

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


def test_a_release_before_time_never_says_that_nothing_was_found(
    nursery: None, do: Do, say: Say, tmp_path: Path
) -> None:
    order = ("--vet", VET, "--reason", "goes to a clinic", "--to", "the clinic")
    said = say("arrivals", "release", "I1", "Thistle", "--on", "2025-03-20", *order)
    assert "Before time: the exams do not speak for it." in said and "nothing found in stools" not in said
    pages = str(tmp_path / "pages")
    do("report", "arrival", "I1", "--animal", "Thistle", "--on", "2025-03-21", "--to", pages)
    (page,) = (tmp_path / "pages").glob("*.html")
    text = page.read_text("utf-8")
    assert "Before time: the exams do not speak for it." in text
    assert "No stool of these animals has been examined yet" in text and "was found in a stool" not in text


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


def test_the_chance_says_which_group_it_is_for_and_that_it_does_not_speak_of_what_was_found(
    nursery: None, do: Do, say: Say, clean_exam: Any, tmp_path: Path
) -> None:
    clean_exam("Thistle", "2025-03-02")
    assert [
        one["chance"]["found_says"] for one in do("arrivals", "show", "I1", "--on", "2025-03-03")["groups"]
    ] == [
        "",
        "",
    ]
    clean_exam("Thistle", "2025-03-20", "coccidian=3")
    first, second = do("arrivals", "show", "I1", "--on", "2025-03-21")["groups"]
    said = (
        f"Only for {second['chance']['target']}: they say nothing of coccidian, which was found"
        " (in Thistle, last on 20 March 2025)."
    )
    assert second["chance"]["target"] != "coccidian" and second["chance"]["found_says"] == said
    assert first["chance"]["found_says"] == "", "another contact group"
    assert say("arrivals", "show", "I1", "--on", "2025-03-21").count(said) == 1
    pages = str(tmp_path / "pages")
    do("report", "arrival", "I1", "--animal", "Thistle", "--on", "2025-03-21", "--to", pages)
    (page,) = (tmp_path / "pages").glob("*.html")
    assert said in page.read_text("utf-8")


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
    assert "litter 2 and litter 1: have shared tools “tongs of room 1” since 1 March 2025" in told
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
