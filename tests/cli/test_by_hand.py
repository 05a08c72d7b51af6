"""The whole job by commands, on made pictures, as a keeper would type it."""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from .conftest import FLOAT, KEEPER, PLAN, Said

Do = Callable[..., dict[str, Any]]
Say = Callable[..., str]
Run = Callable[..., Said]

WIDE, HIGH = 160, 120


def drawn(seed: int) -> np.ndarray:
    """Return a made picture, another one for every seed."""
    return np.random.default_rng(seed).integers(90, 200, (HIGH, WIDE, 3), dtype=np.uint8)


@pytest.fixture
def pictures(tmp_path: Path) -> dict[str, Path]:
    """One made picture of every format."""
    import tifffile

    home = tmp_path / "camera"
    home.mkdir()
    made = {name: home / name for name in ("a.jpg", "b.png", "c.tif", "d.ome.tif")}
    Image.fromarray(drawn(1)).save(made["a.jpg"])
    Image.fromarray(drawn(2)).save(made["b.png"])
    tifffile.imwrite(made["c.tif"], drawn(3), photometric="rgb")
    tifffile.imwrite(made["d.ome.tif"], drawn(4), ome=True, photometric="rgb", metadata={"axes": "YXS"})
    try:
        import pillow_heif

        pillow_heif.from_pillow(Image.fromarray(drawn(5))).save(home / "e.heic")
        made["e.heic"] = home / "e.heic"
    except (ImportError, RuntimeError):  # a build of pillow-heif without an encoder
        pass
    return made


# Animals


def test_an_animal_is_added_weighed_listed_and_shown(do: Do, say: Say) -> None:
    text = say("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult", "--weight-g", "318")
    assert "A1 Saffron" in text and "lizard" in text
    weighed = do("animal", "weigh", "saffron", "317,5", "--at", "2025-03-07 08:00")
    assert weighed["weighing"]["mass_g"] == 317.5
    do("animal", "add", "Tub 7", "--kind", "tub", "--number", "4", "--species", "Pogona vitticeps", "--young")
    do("animal", "add", "North pen", "--kind", "pen", "--number", "9", "--host-group", "tortoise")
    listed = do("animal", "list")["animals"]
    assert [(a["name"], a["kind"], a["number_of_animals"]) for a in listed] == [
        ("Saffron", "animal", 1),
        ("Tub 7", "tub", 4),
        ("North pen", "pen", 9),
    ]
    assert listed[0]["last_weight_g"] == 318
    assert "Saffron" in say("animal", "list")
    assert "a tub with 4 animals" in say("animal", "show", "tub 7")
    shown = do("animal", "show", "A1")
    assert [w["mass_g"] for w in shown["weighings"]] == [317.5, 318]


def test_a_weight_that_can_hardly_be_in_grams_is_pointed_at(say: Say) -> None:
    say("animal", "add", "Barley", "--species", "Testudo hermanni")
    say("animal", "weigh", "Barley", "642", "--at", "2025-03-01 08:00")
    text = say("animal", "weigh", "Barley", "0.64", "--at", "2025-03-02 08:00")
    assert "99.90 % less" in text and "g, not kg" in text


def test_a_species_that_is_not_known_is_taken_and_pointed_at(say: Say, do: Do) -> None:
    assert "not in the table" in say("animal", "add", "Odd", "--species", "Draco imaginarius")
    assert do("animal", "show", "Odd")["animal"]["host_group"] == "other"


def test_an_order_alone_still_takes_exams(do: Do, float_exam: Do) -> None:
    do("animal", "add", "Wide", "--species", "Testudines")
    assert do("animal", "show", "Wide")["animal"]["host_group"] == "other"
    assert float_exam("Wide", "2025-03-04", "ascarid=2")["cases_opened"] == ["C1"]


def test_brumation_begins_ends_and_never_lies_over_another(do: Do, fecallab: Run) -> None:
    do("animal", "add", "Barley", "--species", "Testudo hermanni")
    early = fecallab("animal", "event", "Barley", "brumation", "--to", "2024-12-01", "--json")
    assert (early.code, early.error["code"]) == (2, "not-asleep")
    do("animal", "event", "Barley", "brumation", "--from", "2024-11-20")
    again = fecallab("animal", "event", "Barley", "brumation", "--from", "2024-12-01", "--json")
    assert (again.code, again.error["code"]) == (2, "asleep-already")
    ended = do("animal", "event", "Barley", "brumation", "--to", "2025-02-20")["event"]
    assert (ended["start"], ended["end"]) == ("2024-11-20", "2025-02-20")
    over = fecallab(
        "animal", "event", "Barley", "brumation", "--from", "2025-01-01", "--to", "2025-03-01", "--json"
    )
    assert over.error["code"] == "asleep-already"


# Samples


def test_a_sample_says_what_is_not_known(do: Do, say: Say) -> None:
    do("animal", "add", "Saffron")
    text = say("sample", "add", "Saffron")
    assert "Not known: when it was passed, form, how it was kept, mass" in text
    full = do(
        *("sample", "add", "Saffron", "--passed-from", "2025-03-04 06:30", "--passed-to", "2025-03-04 08:00"),
        *("--form", "soft", "--kept", "fridge", "--mass-g", "1,4", "--remark", "with urates"),
    )
    assert full["not_known"] == []
    assert full["sample"]["collected_at"] == "2025-03-04T08:00:00"
    assert full["sample"]["mass_g"] == 1.4


def test_a_sample_of_a_tub_or_pen_speaks_for_no_single_animal(do: Do, say: Say) -> None:
    do("animal", "add", "Tub 7", "--kind", "tub", "--number", "4")
    do("animal", "add", "North pen", "--kind", "pen", "--number", "9")
    assert "A sample of a tub never confirms one animal." in say("sample", "add", "Tub 7")
    assert "A sample of a pen never confirms one animal." in say("sample", "add", "North pen")
    assert [s["animal"] for s in do("sample", "list")["samples"]] == ["A1", "A2"]
    assert len(do("sample", "list", "Tub 7")["samples"]) == 1


def test_a_day_without_an_hour_is_the_whole_day(do: Do) -> None:
    """A stool of "that day" may be as old as the day allows; it is never taken for a fresh one."""
    do("animal", "add", "Saffron")
    code = do(
        "sample", "add", "Saffron", "--passed-from", "2025-03-04", "--form", "formed", "--kept", "room"
    )["sample"]["code"]
    do(
        *("exam", "add", code, "--method", "direct_saline_smear", "--room-c", "24"),
        *("--read-at", "2025-03-04 12:20", "--objective", "40", "--share", "0.4", "--seen", "flagellate=0"),
    )
    judged = do("exam", "show", "E1", "--target", "flagellate")["judged"][0]
    assert judged["result"] == "inconclusive"
    assert judged["reasons"][0]["code"] == "motility-not-assessable"


def test_all_samples_of_one_stool_name_the_first(do: Do, fecallab: Run) -> None:
    do("animal", "add", "Saffron")
    do("animal", "add", "Other")
    for _ in range(2):
        do("sample", "add", "Saffron")
    do("sample", "add", "Saffron", "--same-stool-as", "s1")
    third = do("sample", "add", "Saffron", "--same-stool-as", "S3")
    assert third["sample"]["same_stool_as"] == "S1"
    wrong = fecallab("sample", "add", "Other", "--same-stool-as", "S1", "--json")
    assert (wrong.code, wrong.error["code"]) == (2, "same-stool-of-another")


# Exams


def test_counts_at_the_eyepiece_become_a_burden_with_an_interval(do: Do, say: Say, stool: Any) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    code = stool("Saffron", "2025-03-04")
    added = say(
        *("exam", "add", code, *FLOAT, "--read-at", "2025-03-04 09:00", "--objective", "10"),
        *("--field-number", "20", "--counts", "0,2,1,0,3", "--of", "oxyurid", "--question", "Pinworms?"),
    )
    assert "6 oxyurid" in added and "Case C1 opened: oxyurid" in added
    shown = say("exam", "show", "E1")
    assert "Age at the exam: 60 minutes to 2 h 30 min" in shown
    assert "6 seen in 5 fields, mean 1.2 per field (95 % interval 0.44 to 2.61, Poisson)" in shown
    assert "scale: eggs or larvae per 10× field" in shown
    judged = do("exam", "show", "E1")["judged"][0]
    assert (judged["target"], judged["result"]) == ("oxyurid", "positive")
    burden = judged["burdens"][0]
    assert burden["mean_per_field"] == pytest.approx(1.2)
    assert burden["ci95_per_field"] == pytest.approx([0.4404, 2.6119], abs=1e-3)
    assert 0 < burden["cover_share"] < 0.05


def test_several_organisms_are_counted_field_by_field(do: Do, stool: Any) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    whole = do(
        *("exam", "add", stool("Saffron", "2025-03-04"), *FLOAT, "--read-at", "2025-03-04 09:00"),
        *("--objective", "10", "--counts", "oxyurid:0,2,1", "--counts", "coccidian:1,0,0"),
        *("--unsure", "ascarid:0,0,1"),
    )
    assert whole["exam"]["counts"] == {"oxyurid": 3, "coccidian": 1}
    assert whole["exam"]["unsure"] == {"ascarid": 1}
    assert whole["cases_opened"] == ["C1", "C2"]
    judged = {one["target"]: one for one in do("exam", "show", "E1")["judged"]}
    assert judged["ascarid"]["result"] == "unsure"


def test_a_sweep_and_more_preparations_join_one_exam(do: Do, say: Say, float_exam: Do) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    float_exam("Saffron", "2025-03-04", "oxyurid=0")
    added = say(
        *("exam", "prepare", "E1", "--method", "direct saline smear", "--room-c", "24"),
        *("--read-at", "2025-03-04 08:20", "--objective", "40", "--share", "0.4", "--seen", "flagellate=0"),
    )
    assert "E1-2 direct saline smear" in added and "40 % of the cover glass" in added
    do("exam", "read", "E1-2", "--objective", "10", "--share", "1", "--seen", "ciliate=0")
    whole = do("exam", "show", "E1", "--target", "oxyurid", "--target", "coccidian")
    assert [p["method"] for p in whole["exam"]["preparations"]] == ["simple_flotation", "direct_saline_smear"]
    assert [one["result"] for one in whole["judged"]] == ["negative", "negative"]
    bound = whole["judged"][0]["bounds"]["egg"]
    assert bound["unit"] == "per_g" and bound["level"] == 0.95 and bound["sided"] == "one"


def test_a_chamber_gives_eggs_per_gram_and_its_bound(do: Do, say: Say, stool: Any) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    chamber = (
        *("--method", "mcmaster", "--gravity", "1.20", "--gravity-checked", "--standing-minutes", "5"),
        *("--sample-g", "2", "--suspension-ml", "30", "--counted-ml", "0.3"),
    )
    do("exam", "add", stool("Saffron", "2025-03-04"), *chamber, "--read-at", "2025-03-04 09:00")
    not_read = do("exam", "show", "E1", "--target", "oxyurid")["judged"][0]
    assert not_read["result"] == "inconclusive", "what nobody read says nothing"
    assert not_read["reasons"][0]["code"] == "not-read-yet"
    do("exam", "read", "E1-1", "--seen", "oxyurid=0")
    assert do("exam", "show", "E1", "--target", "oxyurid")["judged"][0]["result"] == "negative"
    assert "one-sided 95 % limit: under 170 per gram" in say("exam", "show", "E1", "--target", "oxyurid")
    do("exam", "add", stool("Saffron", "2025-03-05"), *chamber, "--seen", "oxyurid=27")
    burden = do("exam", "show", "E2")["judged"][0]["burdens"][0]
    assert burden["per_g"] == pytest.approx(1350)


def test_a_deposit_or_a_baermann_that_nobody_read_is_no_negative(do: Do, stool: Any) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    do("exam", "add", stool("Saffron", "2025-03-04"), "--method", "baermann", "--read-at", "2025-03-04 20:00")
    (judged,) = do("exam", "show", "E1", "--target", "rhabditid")["judged"]
    assert judged["result"] == "inconclusive"
    assert {reason["code"] for reason in judged["reasons"]} >= {"not-read-yet"}


def test_a_result_from_elsewhere_is_an_exam(do: Do, say: Say, case: str) -> None:
    words = (
        "exam",
        "elsewhere",
        "Saffron",
        "--target",
        "oxyurid",
        "--result",
        "negative",
        "--from",
        "Lab Ouk",
    )
    dated = ("--method", "flotation", "--collected", "2025-05-05", "--reported", "2025-05-06")
    do(*words, *dated)
    assert do("exam", "show", "E2")["judged"][0]["result"] == "inconclusive"
    do(*words, *dated, "--adequate", "--stage", "egg")
    shown = do("exam", "show", "E3")
    assert shown["judged"][0]["result"] == "negative"
    assert shown["exam"]["by"] == "Lab Ouk"
    assert "from elsewhere: Lab Ouk, flotation: negative for oxyurid" in say("exam", "show", "E3")


def test_a_normal_inhabitant_opens_a_note_until_a_vet_decides(do: Do, say: Say, float_exam: Do) -> None:
    do("animal", "add", "Barley", "--species", "Testudo hermanni", "--adult")
    told = float_exam("Barley", "2025-03-04", "oxyurid=5")
    assert told["cases_opened"] == []
    assert "normal inhabitant" in told["notes"][0]
    reported = do(
        *("exam", "elsewhere", "Barley", "--target", "oxyurid", "--result", "positive", "--from", "Lab Ouk"),
        *("--method", "flotation", "--collected", "2025-03-08", "--reported", "2025-03-09"),
    )
    assert reported["cases_opened"] == [], "a laboratory's finding of a normal inhabitant is a note too"
    words = ("case", "open", "Barley", "pinworm", "--vet", "Dr Ilse Varnholt", "--on", "2025-03-10")
    assert "C1: oxyurid in Barley, opened by the decision of Dr Ilse Varnholt" in say(*words)


# Pictures and marks


def test_pictures_are_kept_byte_for_byte_and_addressed_by_hash(
    do: Do, stool: Any, folder: Path, pictures: dict[str, Path]
) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    named = [word for path in pictures.values() for word in ("--picture", str(path))]
    whole = do(
        *("exam", "add", stool("Saffron", "2025-03-04"), *FLOAT, "--read-at", "2025-03-04 09:00"),
        *("--objective", "10", "--um-per-px", "0.65", *named),
    )
    readings = whole["exam"]["preparations"][0]["readings"]
    assert len(readings) == len(pictures) >= 4
    for reading, path in zip(readings, pictures.values(), strict=True):
        original = path.read_bytes()
        assert reading["picture"] == hashlib.sha256(original).hexdigest()
        (kept,) = folder.glob(f"pictures/{reading['picture'][:2]}/{reading['picture']}.*")
        assert kept.read_bytes() == original
        assert path.name.endswith(kept.name.partition(".")[2])
    assert do("records", "check")["ok"] is True


def test_the_same_picture_in_two_exams_is_kept_once(
    do: Do, float_exam: Do, folder: Path, pictures: Any
) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    for day in ("2025-03-04", "2025-03-20"):
        code = float_exam("Saffron", day)["exam"]["code"]
        do("exam", "read", f"{code}-1", "--objective", "10", "--picture", pictures["a.jpg"])
    assert len([path for path in folder.glob("pictures/*/*") if path.is_file()]) == 1


MARKS = (
    ("a.jpg", 20.5, 30.25, 130.0, 38.0, 45.0, "oxyurid", True),
    ("a.jpg", 100.0, 60.0, 131.0, 39.0, 180.0, "oxyurid_pharyngodon_egg", True),
    ("b.png", 10.0, 10.0, None, None, None, "coccidian", False),
)


def as_csv(path: Path, marks: Any = MARKS) -> Path:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(
            ["picture", "x_px", "y_px", "length_um", "width_um", "angle_deg", "name", "sure", "mine"]
        )
        for row in marks:
            writer.writerow(["" if cell is None else cell for cell in row] + ["left alone"])
    return path


def as_annotations(path: Path) -> Path:
    scale = 0.65
    items = []
    for picture, x, y, length, width, angle, name, sure in MARKS:
        body = [{"type": "TextualBody", "purpose": "tagging", "value": name}]
        if not sure:
            body.append({"type": "TextualBody", "purpose": "tagging", "value": "unsure"})
        value = f"xywh=pixel:{x - 4.5},{y - 4.5},10,10"
        kind = "FragmentSelector"
        if length:
            kind = "SvgSelector"
            value = (
                f'<svg xmlns="http://www.w3.org/2000/svg"><ellipse cx="{x + 0.5}" cy="{y + 0.5}"'
                f' rx="{length / scale / 2}" ry="{width / scale / 2}"'
                f' transform="rotate({angle} {x + 0.5} {y + 0.5})"/></svg>'
            )
        target = {"source": f"https://example.org/slides/{picture}", "umPerPx": scale if length else None}
        target["selector"] = {"type": kind, "value": value}
        items.append({"type": "Annotation", "body": body, "target": target})
    page = {"@context": "http://www.w3.org/ns/anno.jsonld", "type": "AnnotationPage", "items": items}
    path.write_text(json.dumps(page), encoding="utf-8")
    return path


@pytest.mark.parametrize("written", [as_csv, as_annotations], ids=["csv", "web-annotation"])
def test_marks_are_read_counted_and_kept(
    do: Do, stool: Any, tmp_path: Path, pictures: dict[str, Path], written: Callable[[Path], Path]
) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    marks = written(tmp_path / "marks")
    whole = do(
        *("exam", "add", stool("Saffron", "2025-03-04"), *FLOAT, "--read-at", "2025-03-04 09:00"),
        *("--objective", "10", "--um-per-px", "0.65", "--marks", str(marks)),
        *("--picture", str(pictures["a.jpg"]), "--picture", str(pictures["b.png"])),
    )
    first, second = whole["exam"]["preparations"][0]["readings"]
    assert whole["exam"]["counts"] == {"oxyurid": 1, "oxyurid_pharyngodon_egg": 1}
    assert whole["exam"]["unsure"] == {"coccidian": 1}
    assert whole["cases_opened"] == ["C1"], "both eggs are of one group, the unsure one opens nothing"
    found = [(m["x_px"], m["y_px"], m["length_um"], m["width_um"], m["angle_deg"]) for m in first["marks"]]
    assert found[0] == pytest.approx((20.5, 30.25, 130, 38, 45), abs=0.01)
    assert found[1][4] == pytest.approx(0), "half a turn is the same axis"
    assert [m["sure"] for m in second["marks"]] == [False]


def test_a_picture_without_marks_is_a_field_with_nothing_and_that_is_said(
    do: Do, stool: Any, tmp_path: Path, pictures: Any, fecallab: Run
) -> None:
    """One file of marks for a whole afternoon: pictures that it does not name showed nothing."""
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    whole = do(
        *("exam", "add", stool("Saffron", "2025-03-04"), *FLOAT, "--read-at", "2025-03-04 09:00"),
        *("--objective", "10", "--picture", str(pictures["c.tif"]), "--marks", as_csv(tmp_path / "m.csv")),
    )
    assert whole["exam"]["counts"] == {}
    assert whole["cases_opened"] == []
    said = fecallab(
        *("exam", "read", "E1-1", "--objective", "10", "--marks", tmp_path / "m.csv"),
        *("--picture", pictures["a.jpg"], "--picture", pictures["c.tif"]),
    )
    assert "Nothing is marked on c.tif: recorded as a field in which nothing was seen." in said.err


# Case, plan, doses, care


def test_the_whole_course_of_a_case(do: Do, say: Say, fecallab: Run, case: str, float_exam: Do) -> None:
    assert "not treated" in say("case", "list", "--on", "2025-03-05")
    assert do("due", "--on", "2025-03-05")["due"][0]["what"] == "ask the vet (not treated)"
    planned = say("plan", "add", case, *PLAN)
    assert "fenbendazole 50 mg/kg by mouth, 100 mg/ml, 2 doses every 14 days" in planned
    assert "Follow-up: 3 negatives, 14 days apart, from 30 days after the last dose" in planned
    assert do("plan", "show", case)["plans"][0]["vet"] == "Dr Ilse Varnholt"
    assert "weigh, then dose 1 of 2" in say("due", "--on", "2025-03-06")

    no_weight = fecallab("dose", "work-out", case, "--at", "2025-03-07 08:00", "--json")
    assert (no_weight.code, no_weight.json["refused"]) == (1, True)
    assert no_weight.json["reasons"][0]["code"].startswith("weight")

    do("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00")
    worked = do("dose", "work-out", case, "--at", "2025-03-07 08:10")
    assert float(worked["volume_ml"]) == pytest.approx(317 / 1000 * 50 / 100)
    assert worked["refused"] is False
    spoken = say("dose", "work-out", case, "--at", "2025-03-07 08:10")
    assert "draw 0.16 ml (zero point one six millilitres)" in spoken and "weight 317 g" in spoken

    given = do("dose", "give", case, "--at", "2025-03-07 08:15", "--lot", "L-77")
    assert given["standing"] == "on treatment"
    assert (given["dose"]["volume_ml"], given["dose"]["by"], given["dose"]["lot"]) == ("0.16", KEEPER, "L-77")
    too_early = fecallab("dose", "give", case, "--at", "2025-03-07 20:15", "--json")
    assert too_early.code == 1 and len(do("case", "show", case, "--on", "2025-03-08")["doses"]) == 1
    assert do("due", "--on", "2025-03-10")["due"][0]["on_or_after"] == "2025-03-21"

    do("animal", "weigh", "Saffron", "321", "--at", "2025-03-21 08:00")
    assert "waiting until 20 April 2025" in say("dose", "give", case, "--at", "2025-03-21 08:15")
    do("animal", "weigh", "Saffron", "324", "--at", "2025-04-04 08:00")
    used_up = fecallab("dose", "work-out", case, "--at", "2025-04-04 08:10", "--json")
    assert used_up.code == 1, "a course is never extended by itself"

    early = fecallab("case", "close", case, "--on", "2025-04-05", "--json")
    assert (early.code, early.json["reasons"][0]["code"]) == (1, "goal-not-reached")
    assert "20 April 2025" in early.json["reasons"][0]["next"]

    for day in ("2025-04-21", "2025-05-06"):
        float_exam("Saffron", day)
    shown = do("case", "show", case, "--on", "2025-05-07")
    assert (shown["standing"], shown["k"], shown["n"]) == ("k of n", 2, 3)
    assert shown["next_sample_on_or_after"] == "2025-05-20"
    assert 0 < shown["chance_left"]["independent"] < shown["chance_left"]["cautious"] < 0.5
    assert "examine the next stool passed on or after 20 May 2025" in say("due", "--on", "2025-05-07")
    float_exam("Saffron", "2025-05-21")
    text = say("case", "show", case, "--on", "2025-05-22")
    assert "clear by the rule" in text and "nothing found in stools by these exams" in text
    assert do("due", "--on", "2025-05-22")["due"][0]["what"] == "the case may be closed"
    closed = say("case", "close", case, "--on", "2025-05-23")
    assert "C1 closed: goal reached" in closed and "no diagnosis" in closed
    assert do("case", "show", case, "--on", "2025-05-23")["closed"] == "closed on 23 May 2025: goal reached"
    assert do("case", "show", case, "--on", "2025-05-22")["closed"] == "", "a past day knows nothing of it"
    assert say("due", "--on", "2025-05-24").endswith("Nothing is open.\n")


def test_a_late_positive_leads_back_to_the_vet(
    do: Do, say: Say, fecallab: Run, treated: str, float_exam: Do
) -> None:
    float_exam("Saffron", "2025-04-21")
    float_exam("Saffron", "2025-05-06", "oxyurid=1")
    shown = do("case", "show", treated, "--on", "2025-05-07")
    assert shown["standing"] == "positive again: back to the vet"
    assert [reason["code"] for reason in shown["reasons"]] == ["positive-again", "reinfection-possible"]
    do("animal", "weigh", "Saffron", "330", "--at", "2025-05-07 08:00")
    refused = fecallab("dose", "work-out", treated, "--at", "2025-05-07 08:10", "--json")
    assert (refused.code, refused.json["reasons"][0]["code"]) == (1, "vet-first")
    again = [word if word != "2025-03-06" else "2025-05-08" for word in PLAN]
    do("plan", "add", treated, *again)
    assert do("case", "show", treated, "--on", "2025-05-08")["standing"] == "not treated"
    assert "(replaced)" in say("plan", "show", treated)


def test_a_broken_course_counts_nothing_until_the_vet_says_so(
    do: Do, fecallab: Run, case: str, float_exam: Do
) -> None:
    do("plan", "add", case, *PLAN)
    do("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00")
    do("dose", "give", case, "--at", "2025-03-07 08:15")
    spat = do("dose", "give", case, "--at", "2025-03-21 08:15", "--outcome", "spat")
    assert spat["standing"] == "course incomplete"
    for day in ("2025-04-21", "2025-05-06", "2025-05-21"):
        float_exam("Saffron", day)
    assert do("case", "show", case, "--on", "2025-05-22")["standing"] == "course incomplete"
    nobody = fecallab("animal", "event", "Saffron", "vet accepts course", "--json")
    assert (nobody.code, nobody.error["code"]) == (2, "vet-missing")
    word = ("--vet", "Dr Ilse Varnholt", "--case", case, "--from", "2025-05-22")
    do("animal", "event", "Saffron", "vet accepts course", *word)
    assert do("case", "show", case, "--on", "2025-05-22")["standing"] == "clear by the rule"


def test_a_dose_that_was_given_all_the_same_is_logged_with_why_not(do: Do, fecallab: Run, case: str) -> None:
    do("plan", "add", case, *PLAN)
    refused = fecallab("dose", "give", case, "--at", "2025-03-07 08:15", "--json")
    assert refused.code == 1 and refused.json["reasons"][-1]["code"] == "log-anyway"
    logged = do("dose", "give", case, "--at", "2025-03-07 08:15", "--already-given", "--volume-ml", "0.1625")
    assert logged["dose"]["volume_ml"] == "0.1625"
    assert "logged though refused: weight" in logged["dose"]["remark"]


def test_the_weight_shown_with_a_dose_is_the_one_it_was_worked_out_from(do: Do, say: Say, case: str) -> None:
    do("plan", "add", case, *PLAN)
    do("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00")
    do("animal", "weigh", "Saffron", "400", "--at", "2025-06-07 08:00")
    text = say("dose", "work-out", case, "--at", "2025-03-07 08:10")
    assert "weight 317 g of 7 March 2025" in text and "400" not in text


def test_a_plan_keeps_every_figure_of_the_vet(do: Do, case: str) -> None:
    words = [{"50": "1.2345678", "100": "0,05"}.get(word, word) for word in PLAN]
    plan = do("plan", "add", case, *words)["plan"]
    assert (plan["dose_mg_per_kg"], plan["concentration_mg_per_ml"]) == ("1.2345678", "0.05")


def test_a_plan_of_today_is_not_the_plan_of_a_past_day(do: Do, treated: str) -> None:
    again = [word if word != "2025-03-06" else "2025-06-01" for word in PLAN]
    do("plan", "add", treated, *again)
    assert do("case", "show", treated, "--on", "2025-04-01")["plan"]["code"] == "P1"
    past = do("case", "show", treated, "--on", "2025-04-01")
    assert past["standing"] == "course done, not confirmed: waiting"
    assert do("case", "show", treated, "--on", "2025-06-02")["standing"] == "not treated"


def test_a_plan_on_the_day_of_a_dose_does_not_stop_what_is_due(do: Do, say: Say, case: str) -> None:
    do("plan", "add", case, *PLAN)
    do("animal", "weigh", "Saffron", "317", "--at", "2025-03-07 08:00")
    do("dose", "give", case, "--at", "2025-03-07 08:15")
    do("plan", "add", case, *[word if word != "2025-03-06" else "2025-03-07" for word in PLAN])
    assert "Saffron" in say("due", "--on", "2025-03-08")


@pytest.mark.parametrize(
    ("kind", "amount", "unit"),
    [
        ("fluids", "6", "ml"),
        ("feeding", "12.5", "g"),
        ("warm end", "38", "°C"),
        ("lowest at night", "23", "°C"),
        ("soak", "20", "min"),
        ("cleaning", None, ""),
        ("other", None, ""),
    ],
)
def test_care_is_logged_with_its_unit(do: Do, say: Say, kind: str, amount: str | None, unit: str) -> None:
    do("animal", "add", "Saffron", "--enclosure", "vivarium 4", "--weight-g", "318")
    words = ("care", "log", "Saffron", kind, *filter(None, [amount]), "--at", "2025-03-07 12:00")
    entry = do(*words, "--remark", "dry after")["care"]
    assert entry["amount"] == (float(amount) if amount else None)
    assert entry["unit"] == unit
    assert kind in say("animal", "show", "Saffron")


def test_a_night_below_zero_can_be_written_down(do: Do, say: Say, fecallab: Run) -> None:
    do("animal", "add", "Barley")
    assert "-- -1.5" in fecallab("care", "log", "Barley", "lowest at night", "-1.5").err
    assert "lowest at night -1.5 °C" in say("care", "log", "Barley", "lowest at night", "--", "-1.5")


def test_much_fluid_in_a_day_is_pointed_at(do: Do, say: Say) -> None:
    do("animal", "add", "Saffron", "--weight-g", "318")
    assert "18.9 ml/kg" in say("care", "log", "Saffron", "fluids", "6", "--at", "2025-03-07 08:00")
    assert "More than 30 ml/kg" in say("care", "log", "Saffron", "fluids", "6", "--at", "2025-03-07 18:00")


def test_of_an_animal_that_died_nothing_more_is_asked(do: Do, say: Say, fecallab: Run, treated: str) -> None:
    not_known = fecallab("case", "close", treated, "--ending", "animal died", "--on", "2025-04-01", "--json")
    assert (not_known.code, not_known.json["reasons"][0]["code"]) == (1, "event-missing")
    do("animal", "event", "Saffron", "died", "--from", "2025-04-01")
    assert "the animal died: close the case" in say("due", "--on", "2025-04-02")
    assert "closed: animal died" in say(
        "case", "close", treated, "--ending", "animal died", "--on", "2025-04-02"
    )


@pytest.mark.parametrize("ending", ["animal left", "on a vet's order", "withdrawn: reading corrected"])
def test_every_other_ending_asks_for_what_it_rests_on(
    do: Do, fecallab: Run, treated: str, ending: str
) -> None:
    refused = fecallab("case", "close", treated, "--ending", ending, "--on", "2025-04-01", "--json")
    assert refused.code == 1
    if ending == "animal left":
        do("animal", "event", "Saffron", "left", "--from", "2025-03-30")
    elif ending == "on a vet's order":
        ending_words = ("--vet", "Dr Ilse Varnholt", "--reason", "moved to a sanctuary")
        done = do("case", "close", treated, "--ending", ending, *ending_words, "--on", "2025-04-01")
        assert done["closing"]["reason"] == "moved to a sanctuary"
        return
    else:
        do("correct", "E1-1-1", "counts.oxyurid=0", "--reason", "it was pollen")
    assert (
        do("case", "close", treated, "--ending", ending, "--on", "2025-04-01")["closing"]["ending"] == ending
    )


def test_after_a_closing_nothing_more_is_planned_or_given(do: Do, fecallab: Run, treated: str) -> None:
    order = ("--ending", "on a vet's order", "--vet", "Dr Ilse Varnholt", "--reason", "sanctuary")
    do("case", "close", treated, *order, "--on", "2025-04-01")
    for words in (
        ("plan", "add", treated, "--vet", "Dr Ilse Varnholt", "--written", "2025-04-02"),
        ("dose", "give", treated, "--outcome", "missed", "--at", "2025-04-02 08:00"),
        ("dose", "work-out", treated, "--at", "2025-04-02 08:00"),
    ):
        said = fecallab(*words, "--json")
        assert (said.code, said.json["reasons"][0]["code"]) == (1, "case-closed"), words
    again = fecallab("case", "close", treated, "--json")
    assert (again.code, again.error["code"]) == (2, "closed-already")


# Corrections


def test_a_correction_keeps_the_old_row_and_moves_the_conclusion(
    do: Do, say: Say, treated: str, float_exam: Do
) -> None:
    for day in ("2025-04-21", "2025-05-06", "2025-05-21"):
        float_exam("Saffron", day)
    do("case", "close", treated, "--on", "2025-05-22")
    text = say("correct", "E3-1-1", "counts.oxyurid=2", "--reason", "overlooked at first")
    assert "The old row stays" in text
    assert do("case", "show", treated)["closed"] == "closed, no longer supported"
    assert [e["fact"]["counts"] for e in do("history", "E3-1-1")["history"]] == [
        {"oxyurid": 0},
        {"oxyurid": 2},
    ]


def test_a_correction_that_reveals_a_find_opens_its_case(do: Do, float_exam: Do) -> None:
    do("animal", "add", "Saffron", "--species", "Pogona vitticeps")
    float_exam("Saffron", "2025-03-04", "oxyurid=0")
    assert do("case", "list")["cases"] == []
    corrected = do("correct", "E1-1-1", "counts.coccidian=2", "--reason", "seen on the picture")
    assert corrected["cases_opened"] == ["C1"]


def test_a_remark_on_an_old_exam_opens_no_closed_case_again(do: Do, treated: str) -> None:
    order = ("--ending", "on a vet's order", "--vet", "Dr Ilse Varnholt", "--reason", "sanctuary")
    do("case", "close", treated, *order, "--on", "2025-04-01")
    assert do("correct", "E1", "remark=by daylight", "--reason", "added")["cases_opened"] == []
    assert (
        do("exam", "read", "E1-1", "--objective", "10", "--counts", "1", "--of", "oxyurid")["cases_opened"]
        == []
    )


def test_pages_are_written_for_an_exam_and_a_case(do: Do, treated: str, tmp_path: Path) -> None:
    (page,) = do("report", "exam", "E1", "--to", tmp_path / "pages")["pages"]
    pages = do("report", "case", treated, "--to", tmp_path / "pages", "--on", "2025-04-01")["pages"]
    assert Path(page).read_text(encoding="utf-8").startswith("<!")
    assert len(pages) == 2 and all("Saffron" in Path(path).read_text(encoding="utf-8") for path in pages)


def test_a_second_case_is_not_held_open_by_what_the_first_one_found(
    do: Do, fecallab: Run, treated: str, float_exam: Do
) -> None:
    order = ("--ending", "on a vet's order", "--vet", "Dr Ilse Varnholt", "--reason", "sanctuary")
    do("case", "close", treated, *order, "--on", "2025-04-01")
    assert float_exam("Saffron", "2025-08-01", "oxyurid=1")["cases_opened"] == ["C2"]
    held = fecallab("case", "close", "C2", "--ending", "withdrawn: reading corrected", "--json")
    assert held.json["reasons"][0]["code"] == "still-supported"
    assert "E2" in held.json["reasons"][0]["text"] and "E1" not in held.json["reasons"][0]["text"]
    do("correct", "E2-1-1", "counts.oxyurid=0", "--reason", "it was pollen")
    shown = do("case", "show", "C2")
    assert (shown["standing"], shown["reasons"][0]["code"]) == (
        "waiting for the vet's word",
        "no-longer-supported",
    )
    do("case", "close", "C2", "--ending", "withdrawn: reading corrected")
    assert do("case", "show", "C2")["closed"].endswith("withdrawn: reading corrected")
