"""`image learn` on a record folder: exams held apart, honest words, the vet's word first, and back again."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from fecallab.cli.main import run

from .conftest import KEEPER, Said

Run = Callable[..., Said]
LONG, ROUND = (104.0, 44.0), (62.0, 60.0)
PLACES = [(75 + 125 * (k % 4), 65 + 90 * (k // 4)) for k in range(8)]
"""By turns a long and a round body; this lab marks the round ones alone."""


def bodies(path: Path, seed: int) -> Path:
    """Brown solid bodies at 1 µm per pixel, long and round ones by turns."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:220, 0:530]
    light = np.full((220, 530, 3), 215.0)
    for k, (cx, cy) in enumerate(PLACES):
        length, width = LONG if k % 2 == 0 else ROUND
        depth = np.clip((1 - np.hypot((x - cx) / (length / 2), (y - cy) / (width / 2))) * 20, 0, 1)
        light *= np.exp(-depth[..., None] * np.array([0.3, 0.6, 1.0]))
    Image.fromarray(np.clip(light + rng.normal(0, 2, light.shape), 0, 255).astype(np.uint8)).save(path)
    return path


def marks(path: Path, sized: bool = True) -> Path:
    rows = ["name,x_px,y_px,length_um,width_um,angle_deg,sure"]
    for x, y in PLACES[1::2]:
        size = f"{ROUND[0]},{ROUND[1]},0" if sized else ",,"
        rows.append(f"oxyurid,{x},{y},{size},true")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def marked_exams(tmp_path_factory: pytest.TempPathFactory, empty_folder: Path) -> Path:
    """A record folder with three exams of one marked picture each, and one picture that nobody looked at."""
    home = tmp_path_factory.mktemp("learning")
    folder = home / "records"
    shutil.copytree(empty_folder, folder)
    at = ("--records", str(folder), "--by", KEEPER)

    def do(*words: str | Path) -> None:
        assert run([str(word) for word in (*words, *at)]) == 0

    do("animal", "add", "Saffron", "--species", "Pogona vitticeps", "--adult")
    for k, day in enumerate(("2025-03-04", "2025-03-11", "2025-03-18")):
        do("sample", "add", "Saffron", "--passed-from", f"{day} 06:30", "--passed-to", f"{day} 08:00")
        read = ("--read-at", f"{day} 09:00", "--objective", "10", "--um-per-px", "1.0")
        picture, table = bodies(home / f"{k}.png", k), marks(home / f"{k}.csv")
        do(
            "exam",
            "add",
            f"S{k + 1}",
            "--method",
            "simple_flotation",
            *read,
            "--picture",
            picture,
            "--marks",
            table,
        )
    return folder


@pytest.fixture(scope="session")
def traced() -> dict[Any, Any]:
    """What was traced in a picture, for all tests of this file."""
    return {}


@pytest.fixture(autouse=True)
def quicker(traced: dict[Any, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    """Trace each picture once for all tests, and learn beside every sixth of the drawn examples."""
    from importlib import import_module

    from fecallab.imaging.detect import train

    propose = import_module("fecallab.imaging.detect.propose")  # the package names its function the same

    trace, read = propose.candidates, train.read_table

    def once(picture: Any, *more: Any) -> Any:
        if len(more) > 2:
            return trace(picture, *more)
        key = picture.tobytes()
        if key not in traced:
            traced[key] = trace(picture, *more)
        return traced[key]

    monkeypatch.setattr(propose, "candidates", once)
    monkeypatch.setattr(train, "read_table", lambda path: tuple(part[::6] for part in read(path)))


@pytest.fixture
def lab(marked_exams: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = Path(shutil.copytree(marked_exams, tmp_path / "records"))
    monkeypatch.setenv("FECALLAB_RECORDS", str(folder))
    return folder


@pytest.fixture
def first_lesson(marked_exams: Path, traced: dict[Any, Any], fecallab: Run) -> dict[str, Any]:
    """What learning on the marked exams says, done once; the ranker lies beside it under ``ranker``."""
    if "lesson" not in traced:
        said = fecallab("image", "learn", "--records", marked_exams, "--json")
        assert said.code == 0, said.all
        made = marked_exams / "proposals" / "ranker.json"
        traced["lesson"] = {**said.json, "ranker": made.read_text()}
        shutil.rmtree(marked_exams / "proposals")
    return dict(traced["lesson"])


@pytest.fixture
def learnt(lab: Path, first_lesson: dict[str, Any]) -> Path:
    """The ranker of a lab that has learnt once."""
    place = lab / "proposals" / "ranker.json"
    place.parent.mkdir()
    place.write_text(first_lesson["ranker"])
    return place


def test_it_learns_says_by_how_much_uses_it_and_goes_back(
    lab: Path, learnt: Path, first_lesson: dict[str, Any], fecallab: Run
) -> None:
    told = first_lesson
    assert told["learnt"] is True and told["exams"] == 3
    assert told["average_precision_after"] > told["average_precision_before"] + 0.005
    assert f"{told['average_precision_after']:.3f} after" in told["why"]
    assert "exams that were left out" in told["why"]
    kept = json.loads(learnt.read_text())
    assert kept["edition"] == told["edition"] and set(kept["thresholds"]) == {"10x"}

    said = fecallab("exam", "propose", "E1", "--workers", "1", "--json")
    (kept_file,) = (path for path in (lab / "proposals").rglob("*.json") if path.parent != learnt.parent)
    first = json.loads(kept_file.read_text())
    assert first["edition"] == told["edition"]
    lengths = [one["length_um"] / one["width_um"] for one in first["proposals"][:4]]
    assert max(lengths) < 1.25, "the four round bodies come first now"

    again = fecallab("image", "learn", "--json")
    assert again.json["learnt"] is False, "the same marks teach nothing more"
    assert "Nothing was changed" in again.json["why"]
    assert json.loads(learnt.read_text()) == kept

    said = fecallab("image", "learn", "--back", "--json")
    assert said.json["learnt"] is False and said.json["edition"] != told["edition"]
    assert not learnt.exists()
    said = fecallab("exam", "propose", "E1", "--workers", "1")
    assert "1 of 1: 0.png" in said.err, "another edition is another question"
    assert fecallab("image", "learn", "--back").code == 2


def test_the_one_before_the_last_comes_back_first(lab: Path, learnt: Path, fecallab: Run) -> None:
    first = json.loads(learnt.read_text())
    worse = {
        **first,
        "edition": "own marks, worse",
        "terms": [{**t, "weight": -t["weight"]} for t in first["terms"]],
    }
    learnt.write_text(json.dumps(worse))
    assert fecallab("image", "learn", "--json").json["learnt"] is True
    assert json.loads(learnt.read_text())["edition"] not in (first["edition"], "own marks, worse")
    assert fecallab("image", "learn", "--back", "--json").json["edition"] == "own marks, worse"
    assert fecallab("image", "learn", "--back").code == 0
    assert not learnt.exists()


def test_the_threshold_of_the_objective_is_the_one_that_is_used(lab: Path, fecallab: Run) -> None:
    from fecallab.imaging.detect.ranker import drawn_ranker

    (lab / "proposals").mkdir(exist_ok=True)
    for optics, some in (("10x", False), ("40x", True)):
        told = {**drawn_ranker().as_dict(), "edition": f"strict at {optics}", "thresholds": {optics: 1.1}}
        (lab / "proposals" / "ranker.json").write_text(json.dumps(told))
        said = fecallab("exam", "propose", "E1", "--workers", "1", "--json")
        assert (said.json["pictures"][0]["proposals"] > 0) is some


def test_what_a_vet_called_something_else_teaches_the_other_way(
    lab: Path, first_lesson: dict[str, Any], fecallab: Run
) -> None:
    numbers = "; ".join(f"{k} pollen" for k in range(1, 4))
    said = fecallab("verdict", "add", "E1", numbers, "--vet", "Dr Ilse Varnholt", "--yes")
    assert said.code == 0, said.all
    after = fecallab("image", "learn", "--json").json
    assert after["confirmed_outlines"] < first_lesson["confirmed_outlines"]


def test_marks_without_a_size_and_pictures_that_nobody_read_teach_nothing(
    lab: Path, first_lesson: dict[str, Any], fecallab: Run, tmp_path: Path
) -> None:
    table = marks(tmp_path / "points.csv", sized=False)
    picture = bodies(tmp_path / "points.png", 9)
    read = ("--objective", "10", "--um-per-px", "1.0", "--picture")
    assert fecallab("exam", "read", "E1-1", *read, picture, "--marks", table).code == 0
    assert fecallab("exam", "read", "E2-1", *read, bodies(tmp_path / "unread.png", 10)).code == 0
    said = fecallab("image", "learn", "--json")
    assert said.json["marks_without_size"] == 4
    assert said.json["confirmed_outlines"] == first_lesson["confirmed_outlines"]
    assert said.err.count("confirmed by marks") == 4, "the picture that was only taken in is left out"


def test_a_damaged_ranker_is_one_line_with_a_way_out(lab: Path, fecallab: Run) -> None:
    (lab / "proposals").mkdir(exist_ok=True)
    (lab / "proposals" / "ranker.json").write_text("{")
    said = fecallab("exam", "propose", "E1", "--workers", "1")
    assert said.code == 3 and len(said.err.strip().splitlines()) == 1
    assert "ranker.json" in said.err
    assert fecallab("image", "learn", "--back").code == 0
