"""One whole week of an invented rescue with fifteen animals: tables where many are done at once, else one by one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from .conftest import FLOAT as FLOATED
from .conftest import KEEPER, Said, contents

MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY, SATURDAY, SUNDAY = (
    f"2025-03-{day:02d}" for day in range(3, 10)
)
NEXT_MONDAY = "2025-03-10"
VET = "Dr Ilse Varnholt"

ANIMALS = """\
name;kind;number of animals;species;adult;enclosure;arrived
Saffron;animal;;Pogona vitticeps;ja;Terrarium 4;12.01.2024
Ember;animal;;Pogona vitticeps;ja;Terrarium 5;
Thistle;animal;;Pogona vitticeps;nein;Terrarium 6;
Barley;animal;;Testudo hermanni;ja;Freigehege;25.05.2019
Rye;animal;;Testudo hermanni;ja;Freigehege;
Oat;animal;;Testudo hermanni;nein;Frühbeet;
Maize;animal;;Pantherophis guttatus;ja;Rack 1;
Sorrel;animal;;Pantherophis guttatus;ja;Rack 2;
Clover;animal;;Python regius;ja;Rack 3;
Fern;animal;;Python regius;ja;Rack 4;
Moss;animal;;Eublepharis macularius;ja;Rack 5;
Lichen;animal;;Eublepharis macularius;ja;Rack 6;
Bramble;animal;;Furcifer pardalis;ja;Netz 1;
Hazel;animal;;Chelonoidis carbonarius;ja;Haus 2;
Tub 7;tub;6;Pogona vitticeps;nein;Becken 7;02.03.2025
"""
GRAMS = [318, 402, 96, 640, 702, 88, 512, 618, 1480, 1322, 64, 58, 141, 2210, 71]
NAMES = [line.split(";")[0] for line in ANIMALS.splitlines()[1:]]


def weights(day: str, hour: str, grams: dict[str, float]) -> str:
    """A table as a German spreadsheet saves it: semicolons, decimal commas, days with points."""
    shown = ".".join(reversed(day.split("-")))
    rows = [f"{name};{shown} {hour};{str(mass).replace('.', ',')}" for name, mass in grams.items()]
    return "\n".join(["animal;weighed at;weight (g)", *rows, ";;", ""])


SAMPLES = f"""\
sample,animal,passed from,passed to,form,kept,mass (g)
1,Saffron,{TUESDAY} 06:00,{TUESDAY} 08:00,soft,room,1.4
2,Ember,{TUESDAY} 06:00,{TUESDAY} 08:00,formed,room,1.1
3,Barley,{TUESDAY} 08:10,{TUESDAY} 08:25,soft,room,3.2
4,Maize,{TUESDAY} 05:00,{TUESDAY} 08:00,formed,room,2.0
5,Tub 7,{TUESDAY} 06:00,{TUESDAY} 08:00,soft,room,1.0
6,Rye,{TUESDAY} 07:00,{TUESDAY} 08:00,soft,room,2.9
"""
FLOAT = "simple_flotation,{},,1.20,yes,15,10"
READINGS = f"""\
sample,preparation,method,read at,room (°C),gravity,gravity checked,stood (min),objective,share of cover glass,organism,count
1,1,{FLOAT.format(f"{TUESDAY} 09:00")},1,oxyurid,14
2,1,{FLOAT.format(f"{TUESDAY} 09:20")},1,oxyurid,0
3,1,direct_saline_smear,{TUESDAY} 08:40,24,,,,40,0.4,tritrichomonas_troph,38
3,1,,,,,,,,,nyctotherus_troph,2
3,2,{FLOAT.format(f"{TUESDAY} 09:40")},1,oxyurid,0
4,1,{FLOAT.format(f"{TUESDAY} 10:00")},1,oxyurid,0
5,1,{FLOAT.format(f"{TUESDAY} 10:20")},1,coccidian,0
6,1,{FLOAT.format(f"{TUESDAY} 10:40")},1,ascarid,0
"""


Due = list[tuple[str, str, str | None]]


@pytest.fixture
def table(tmp_path: Path) -> Callable[[str, str], Path]:
    """Save a table as the rescue's spreadsheet does: in Windows letters where it is German."""

    def write(name: str, text: str) -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="cp1252" if ";" in text else "utf-8")
        return path

    return write


@pytest.fixture
def due(do: Callable[..., dict[str, Any]]) -> Callable[..., Due]:
    """What comes next on a morning: animal, what, and from which day."""

    def look(day: str, *more: str) -> Due:
        things = do("due", "--on", day, *more)["due"]
        return [(one["animal"], one["what"], one["on_or_after"]) for one in things]

    return look


def reasons(said: Said) -> list[str]:
    assert said.code == 1, said.all
    return [reason["code"] for reason in said.json["reasons"]]


def test_a_week_of_a_rescue(folder, table, due, do, fecallab, tmp_path):
    # Monday: everybody comes in by one table, everybody is weighed by another
    everybody = dict(zip(NAMES, GRAMS, strict=True))
    monday = table("monday.csv", weights(MONDAY, "08:00", everybody))
    said = do("batch", "take-in", table("animals.csv", ANIMALS), monday)
    assert said["counts"] == {"animals": 15, "weights": 15}
    animals = {one["name"]: one for one in do("animal", "list")["animals"]}
    assert (animals["Oat"]["enclosure"], animals["Saffron"]["arrived_on"]) == ("Frühbeet", "2024-01-12")
    assert (animals["Tub 7"]["kind"], animals["Tub 7"]["number_of_animals"]) == ("tub", 6)
    assert [one["last_weight_g"] for one in animals.values()] == GRAMS
    assert due(TUESDAY) == []

    # Tuesday: six stools, read by the hour and typed from paper; two are positive
    said = do("batch", "take-in", table("samples.csv", SAMPLES), table("readings.csv", READINGS))
    assert said["counts"] == {"samples": 6, "exams": 6, "readings": 7}
    opened = [(one["case"], one["animal"], one["target"]) for one in said["cases_opened"]]
    assert opened == [("C1", "Barley", "flagellate"), ("C2", "Saffron", "oxyurid")]
    (note,) = said["notes"]
    assert "E3: ciliate is a normal inhabitant" in note
    judged = {
        one["target"]: one["result"] for one in do("exam", "show", "E6", "--target", "ascarid")["judged"]
    }
    assert judged == {"ascarid": "negative"}, "an adequate float of the whole glass says something"
    (tub,) = do("exam", "show", "E5", "--target", "coccidian")["judged"]
    assert tub["result"] == "negative", "of the tub; one animal of it is never confirmed by that"
    asked = "ask the vet (not treated)"
    assert due(WEDNESDAY) == [("Barley", asked, None), ("Saffron", asked, None)]

    # Wednesday: the vet's plans; without today's weight nothing is worked out
    plan = ("--vet", VET, "--written", WEDNESDAY, "--route", "by mouth", "--goal", "clear")
    often = (
        "--interval-days",
        "2",
        "--doses",
        "3",
        "--dose-mg-per-kg",
        "25",
        "--concentration-mg-per-ml",
        "50",
    )
    do("plan", "add", "C1", *plan, *often, "--drug", "metronidazole", "--component", "metronidazole")
    fourteen = ("--interval-days", "14", "--doses", "2", "--dose-mg-per-kg", "50")
    do("plan", "add", "C2", *plan, *fourteen, "--concentration-mg-per-ml", "100", "--drug", "fenbendazole")
    early = fecallab("dose", "work-out", "C1", "--at", f"{WEDNESDAY} 17:00", "--json")
    assert reasons(early) == ["weight-stale"], "Monday's weight does not do for this drug"
    do(
        "batch",
        "take-in",
        table("wednesday.csv", weights(WEDNESDAY, "17:30", {"Barley": 642.5, "Saffron": 317})),
    )
    for name, warm, night in (("Barley", "31", "21"), ("Saffron", "38", "26")):
        do("care", "log", name, "lowest at night", night, "--at", f"{WEDNESDAY} 07:00")
        do("care", "log", name, "warm end", warm, "--at", f"{WEDNESDAY} 13:00")
    assert do("dose", "give", "C1", "--at", f"{WEDNESDAY} 18:00")["dose"]["volume_ml"] == "0.32"
    assert do("dose", "give", "C2", "--at", f"{WEDNESDAY} 18:10")["dose"]["volume_ml"] == "0.16"
    second = ("Saffron", "weigh, then dose 2 of 2 (fenbendazole)", "2025-03-19")
    assert due(THURSDAY) == [("Barley", "weigh, then dose 2 of 3 (metronidazole)", FRIDAY), second]

    # Thursday: too early for Barley; a single stool of Clover, typed command by command, shows nothing
    do("animal", "weigh", "Barley", "643", "--at", f"{THURSDAY} 08:00")
    early = fecallab("dose", "give", "C1", "--at", f"{THURSDAY} 08:30", "--json")
    assert reasons(early) == ["too-early", "log-anyway"]
    window = ("--passed-from", f"{THURSDAY} 06:00", "--passed-to", f"{THURSDAY} 08:00")
    do("sample", "add", "Clover", *window, "--form", "formed", "--kept", "room", "--mass-g", "2.2")
    read = ("--read-at", f"{THURSDAY} 09:00", "--objective", "10", "--share", "1", "--seen", "ascarid=0")
    assert do("exam", "add", "S7", *FLOATED, *read)["cases_opened"] == []
    assert due(FRIDAY) == [("Barley", "weigh, then dose 2 of 3 (metronidazole)", FRIDAY), second]

    # Friday: the care sheet is typed in; the first try has two mistakes, and nothing of it is kept
    friday = table("friday.csv", weights(FRIDAY, "17:30", {"Barley": 644, "Safron": 319}))
    doses = f"animal,given at,volume (ml),given by\nBarley,{FRIDAY} 18:00,{{}},Mara Quell\n"
    given = table("doses.csv", doses.format("0.32 mg"))
    before = contents(folder)
    said = fecallab("batch", "take-in", friday, given, "--json")
    assert said.code == 2 and contents(folder) == before
    assert [(one["file"], one["line"], one["code"]) for one in said.json["errors"]] == [
        ("friday.csv", 3, "unknown-animal"),
        ("doses.csv", 2, "not-a-number"),
    ]
    assert "Saffron" in said.json["errors"][0]["next"]
    table("friday.csv", weights(FRIDAY, "17:30", {"Barley": 644, "Saffron": 319}))
    table("doses.csv", doses.format("0.32"))
    said = do("batch", "take-in", friday, given)
    assert (said["counts"], said["notes"]) == ({"weights": 2, "doses": 1}, [])
    (dose,) = [one for one in do("case", "show", "C1", "--on", FRIDAY)["doses"] if one["given_at"] > FRIDAY]
    assert (dose["weight_g"], dose["volume_ml"], dose["by"]) == (644, "0.32", KEEPER)
    third = ("Barley", "weigh, then dose 3 of 3 (metronidazole)", SUNDAY)
    assert due(SATURDAY) == [third, second]

    # Saturday: the Monday table is kept up and taken in again: only what is new counts
    grown = (
        weights(MONDAY, "08:00", everybody) + weights(SATURDAY, "09:00", {"Fern": 1325}).partition("\n")[2]
    )
    said = do("batch", "take-in", table("monday.csv", grown), "--new-only")
    assert (said["counts"], said["passed_over"]) == ({"weights": 1}, 15)
    assert due(SUNDAY, "Saffron") == [second]

    # Sunday: the last dose; nothing is proven, and nobody says "overdue"
    do("animal", "weigh", "Barley", "646", "--at", f"{SUNDAY} 17:30")
    last = do("dose", "give", "C1", "--at", f"{SUNDAY} 18:00")
    assert last["standing"] == "course done, not confirmed: waiting"
    extra = fecallab("dose", "give", "C1", "--at", f"{SUNDAY} 23:00", "--json")
    assert reasons(extra) == ["doses-used-up", "too-early", "log-anyway"]
    waits = ("Barley", "examine the next stool passed on or after 16 March 2025", "2025-03-16")
    assert due(NEXT_MONDAY) == [waits, second]
    assert "overdue" not in fecallab("due", "--on", "2025-05-01").out

    # The whole week goes out as tables and stands in another folder as it stood here
    do("batch", "give-out", tmp_path / "out", "--semicolons", "--bom")
    other = tmp_path / "other"
    assert fecallab("records", "make", other).code == 0
    said = fecallab("batch", "take-in", tmp_path / "out", "--records", other, "--json")
    assert said.code == 0, said.all
    assert said.json["counts"] == {
        "animals": 15,
        "weights": 22,
        "samples": 7,
        "exams": 7,
        "readings": 8,
        "plans": 2,
        "doses": 4,
    }
    assert [(one["animal"], one["target"]) for one in said.json["cases_opened"]] == [
        ("Barley", "flagellate"),
        ("Saffron", "oxyurid"),
    ]
    assert said.json["notes"] == [note], "no dose of the week was one that the rules refuse"
    assert due(NEXT_MONDAY, "--records", str(other)) == [waits, second]
    assert do("records", "check", "--records", other)["problems"] == []
