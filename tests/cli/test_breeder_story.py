"""A breeder's spring, played by the commands: everyone who should leave does, and nobody who should not.

Sixty hatchlings in twelve tubs of five: those of the north came in on day 0 (tubs 1 to 6), those of the south on
day 10 (tubs 7 to 12). Three rooms of four tubs; in each, tongs and the feeding round are shared. Tub 3 is positive
for coccidia on day 14. On day 20 one of tub 2 escapes and is found in tub 5, in the next room. Ten of the twelve
tubs carry ciliates, a normal inhabitant of these lizards. One hatchling of tub 7 dies, one of tub 10 is sold.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from .conftest import Said

DAY_0 = date(2025, 3, 1)
VET = "Dr Ilse Varnholt"
TUBS = [f"tub {number}" for number in range(1, 13)]
NORTH, SOUTH = TUBS[:6], TUBS[6:]
CARRIERS = {tub for number, tub in enumerate(TUBS) if number not in (4, 9)}
LAST_DAY = 110


def day(number: int) -> str:
    return str(DAY_0 + timedelta(days=number))


def room_of(tub: str) -> str:
    return f"room {(TUBS.index(tub)) // 4 + 1}"


@dataclass
class Breeder:
    """Plays the days by commands, and keeps what the tool answered."""

    run: Callable[..., Said]
    home: Path
    records: Path
    left_on: dict[str, int] = field(default_factory=dict)
    told: list[str] = field(default_factory=list)
    answers: dict[int, dict[str, Any]] = field(default_factory=dict)

    def do(self, *words: str | Path) -> dict[str, Any]:
        said = self.run(*words, "--json", "--records", self.records)
        assert said.code == 0, (words, said.all)
        return said.json

    def say(self, *words: str | Path) -> str:
        said = self.run(*words, "--records", self.records)
        assert said.code == 0, (words, said.all)
        self.told.append(f"$ fecallab {' '.join(map(str, words))}\n{said.out}")
        return said.out

    def come_in(self) -> None:
        rows = [["name", "kind", "number of animals", "species", "adult", "enclosure", "arrived"]]
        for tub in TUBS:
            came = day(0 if tub in NORTH else 10)
            rows.append([tub, "tub", "5", "Uromastyx geyri", "no", tub, came])
        places = [["name", "room", "tools", "round", "shared from"]]
        places += [
            [tub, room_of(tub), f"tongs of {room_of(tub)}", f"round of {room_of(tub)}", ""] for tub in TUBS
        ]
        places.append(["sick bay", "quiet room", "", "", ""])
        for name, table in (("enclosures", places), ("animals", rows)):
            self.table(name, table)
        self.do("batch", "take-in", self.home / "enclosures.csv", self.home / "animals.csv")
        self.say(
            "arrivals", "add", *NORTH, "--arrived", day(0), "--origin", "captive bred", "--source", "north"
        )
        self.do(
            "arrivals", "add", *SOUTH, "--arrived", day(10), "--origin", "captive bred", "--source", "south"
        )

    def table(self, name: str, rows: list[list[str]]) -> None:
        with (self.home / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(rows)

    def truth(self, tub: str, on: int) -> dict[str, int]:
        """What a stool of a tub holds on a day."""
        found = {"ciliate": 4} if tub in CARRIERS else {}
        if tub == "tub 3" and 14 <= on < 40:
            found["coccidian"] = 7
        return found

    def round(self, on: int) -> list[str]:
        """Take the tables of the round, fill them in as the stools are, and take them in."""
        folder = self.home / f"round-{on}"
        asked = self.do("arrivals", "round", "--on", day(on), "--tables", folder)
        if not asked["samples"]:
            return []
        numbers = {stop["animal"]: stop["number"] for stop in asked["samples"]}
        with (folder / "samples.csv").open(newline="", encoding="utf-8") as file:
            samples = list(csv.DictReader(file))
        for row in samples:
            row["passed from"], row["passed to"] = f"{day(on)} 07:30", f"{day(on)} 07:50"
            row |= {"form": "soft", "kept": "room", "mass (g)": "2", "stools of": str(numbers[row["animal"]])}
        tubs = {row["sample"]: row["animal"] for row in samples}
        with (folder / "readings.csv").open(newline="", encoding="utf-8") as file:
            readings = list(csv.DictReader(file))
        filled = []
        for row in readings:
            wet = row["method"] == "direct_saline_smear"
            row["read at"] = f"{day(on)} {'08:05' if wet else '08:30'}"
            if wet:
                row |= {"room (°C)": "24", "share of cover glass (0 to 1)": "0.5"}
            else:
                row |= {"solution": "zinc sulfate", "gravity": "1.19", "gravity checked": "yes"}
                row["stood (min)"] = "15"
                row["share of cover glass (0 to 1)"] = "1" if row["objective (x)"] == "10" else "0.4"
            seen = self.truth(tubs[row["sample"]], on)
            shown = "ciliate" if wet else "coccidian"
            organism = shown if shown in seen else "oxyurid"
            filled.append({**row, "organism": organism, "count": str(seen.get(organism, 0))})
        for name, rows in (("samples", samples), ("readings", filled)):
            self.table(f"round-{on}/{name}", [list(rows[0]), *([*row.values()] for row in rows)])
        self.do("batch", "take-in", folder / "samples.csv", folder / "readings.csv")
        return [stop["animal"] for stop in asked["samples"]]

    def release(self, on: int) -> None:
        """Release whoever may leave; a refusal is an answer too."""
        names = {one["code"]: one["name"] for one in self.do("animal", "list")["animals"]}
        for arrival in ("I1", "I2"):
            said = self.run(
                "arrivals", "release", arrival, "--on", day(on), "--json", "--records", self.records
            )
            if said.code == 0:
                for act in said.json["releases"]:
                    self.left_on |= {names[code]: on for code in act["animals"]}
            else:
                assert said.code in (1, 2), said.all

    def play(self) -> Breeder:
        self.come_in()
        for on in range(LAST_DAY + 1):
            if on == 15:
                self.say("animal", "move", "tub 3", "sick bay", "--on", day(15))
                self.told.append(self.say("contacts", "tub 3", "--target", "coccidian", "--on", day(15)))
                self.do(
                    *("plan", "add", "C1", "--vet", VET, "--written", day(15), "--goal", "clear"),
                    *("--doses", "0", "--negatives", "3", "--spacing-days", "14", "--wait-days", "7"),
                )
            if on == 20:
                visit = ("--visit", "--on", day(20), "--until", day(21), "--number", "1")
                self.say("animal", "move", "tub 2", "tub 5", *visit, "--remark", "escaped, found in tub 5")
            if on == 33:
                self.say("arrivals", "count", "tub 7", "died", "1", "--on", day(33))
            if on == 47:
                self.say("arrivals", "count", "tub 10", "sold", "1", "--on", day(47))
            if on in (0, 10, 14) or (on > 14 and on % 14 == 0):
                self.round(on)
            if on in (14, 30, 100):
                self.answers[on] = self.do("arrivals", "show", "I1", "--on", day(on))
                self.say("arrivals", "show", "I1", "--on", day(on))
            if on == 99:
                self.say("case", "close", "C1", "--on", day(99))
            if on >= 85 and on % 5 == 0:
                self.release(on)
        return self


@pytest.fixture(scope="module")
def story(tmp_path_factory: pytest.TempPathFactory, empty_folder: Path) -> Breeder:
    import contextlib
    import io
    import shutil

    from fecallab.cli.main import run

    home = tmp_path_factory.mktemp("breeder")
    records = shutil.copytree(empty_folder, home / "records")

    def run_it(*words: str | Path) -> Said:
        out, err = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = run([str(word) for word in words])
        return Said(code, out.getvalue(), err.getvalue())

    return Breeder(run_it, home, records).play()


def test_everyone_who_should_leave_does_and_on_its_day(story: Breeder) -> None:
    calm = {f"tub {number}": 100 for number in (5, 6, 7, 8, 9, 10, 11, 12)}
    assert story.left_on == {**calm, "tub 3": 100, "tub 1": 110, "tub 2": 110, "tub 4": 110}
    listed = story.do("arrivals", "list")["arrivals"]
    assert [(one["kept_apart"], one["released"]) for one in listed] == [(0, 6), (0, 6)]
    acts = [act for code in ("I1", "I2") for act in story.do("arrivals", "show", code)["released"]]
    assert {act["state"].partition(" on ")[0] for act in acts} == {"released"}
    assert sum(len(act["animals"]) for act in acts) == 12


def test_on_the_day_of_the_finding_the_room_waits_and_the_others_do_not(story: Breeder) -> None:
    first, second = story.answers[14]["groups"]
    assert first["answer"] == "not yet" and first["earliest_on"] is None
    assert first["reasons"][0]["code"] == "case-open"
    assert {member["clean_exams"] for member in first["members"]} == {0}, "tub 3 restarts its room"
    assert second["earliest_on"] == day(100), "90 days from the newcomers of day 10"
    assert all(
        "ciliate" in member["normal_inhabitants"] for member in second["members"] if member["name"] != "tub 5"
    )


def test_who_shared_with_it_is_named_with_the_path(story: Breeder) -> None:
    told = next(text for text in story.told if text.startswith("A3 tub 3, on"))
    for tub in ("tub 1", "tub 2", "tub 4"):
        assert f"{tub} and tub 3: shared tools “tongs of room 1” from 1 March 2025" in told
    assert "tub 5" not in told, "nobody of the next room was met by then"
    later = story.say("contacts", "tub 3", "--target", "coccidian", "--on", day(30))
    assert "tub 5 and tub 2: shared tub 5 from 21 March 2025 to 22 March 2025" in later
    assert "tub 9" not in later, "the third room met nobody"


def test_the_escape_costs_both_rooms_their_run(story: Breeder) -> None:
    groups = {tuple(m["name"] for m in one["members"]): one for one in story.answers[30]["groups"]}
    room_2 = groups["tub 5", "tub 6", "tub 7", "tub 8"]
    since = {member["counts_since"] for member in room_2["members"]}
    assert min(since) >= day(20)
    assert "tub 2" in room_2["members"][0]["counts_since_why"]


def test_deaths_and_sales_lower_the_number(story: Breeder) -> None:
    listed = story.do("enclosure", "list", "--on", day(60))["enclosures"]
    assert len(listed) == 13
    assert story.do("arrivals", "count", "tub 7")["number"] == 4
    assert story.do("arrivals", "count", "tub 10")["number"] == 4


def test_a_later_correction_shows_on_the_release(story: Breeder, tmp_path: Path) -> None:
    import shutil

    story = Breeder(story.run, story.home, shutil.copytree(story.records, tmp_path / "records"))
    exam = story.do("animal", "show", "tub 9")["exams"][-1]
    story.do("correct", f"{exam}-2-1", "counts.coccidian=2", "--reason", "looked at the picture again")
    said = story.do("arrivals", "show", "I2")
    states = {act["state"] for act in said["released"] if "A9" in act["animals"]}
    assert states == {"released, no longer supported"}
    others = {act["state"] for act in said["released"] if "A9" not in act["animals"]}
    assert all(state.startswith("released on") for state in others)


def test_a_vets_later_word_shows_on_the_release(story: Breeder, tmp_path: Path) -> None:
    import shutil

    story = Breeder(story.run, story.home, shutil.copytree(story.records, tmp_path / "records"))
    exam = story.do("animal", "show", "tub 9")["exams"][-1]
    story.do("verdict", "add", exam, "not adequate", "--vet", VET, "--yes")
    states = {act["code"]: act["state"] for act in story.do("arrivals", "show", "I2")["released"]}
    of_tub_9 = next(a["code"] for a in story.do("arrivals", "show", "I2")["released"] if "A9" in a["animals"])
    assert states.pop(of_tub_9) == "released, no longer supported"
    assert all(state.startswith("released on") for state in states.values())


def test_the_page_for_the_buyer_promises_nothing(story: Breeder, tmp_path: Path) -> None:
    import re

    pages = story.do("report", "arrival", "I2", "--animal", "tub 9", "--to", tmp_path)["pages"]
    assert len(pages) == 1
    text = Path(pages[0]).read_text(encoding="utf-8")
    plain = re.sub(r"<style>.*?</style>|<[^>]+>", " ", text, flags=re.S)
    assert "nothing found in stools against it" in plain
    assert "What stools cannot show" in plain and "viruses" in plain
    assert not re.search(r"\b(free|clean bill|healthy|safe|guarantee\w*)\b", plain, re.I)
    grid = re.search(r'<table class="grid">.*?</table>', text, re.S)
    assert grid is not None
    assert grid.group().count("<tr>") == 5, "a row for each of the four tubs of the room, and the head"
    assert grid.group().count("none found") >= 12
    assert grid.group().count("counts as 3 of 3") == 4
    assert "with ciliate" in grid.group()


def test_the_answers_never_say_more_than_was_seen(story: Breeder) -> None:
    import re

    said = " ".join(story.told)
    assert "nothing found in stools against it" in said
    assert not re.search(r"\b(free of|clean bill|healthy|safe)\b", said, re.I)
