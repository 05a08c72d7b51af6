"""Proposals from the command line: `image detect`, `exam propose` and `image learn`."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from .conftest import Said

Run = Callable[..., Said]
KEYS = {"x_px", "y_px", "length_um", "width_um", "angle_deg", "score"}


def eggs(path: Path, seed: int = 1) -> Path:
    """Two brown solid ovals of 80 × 50 µm on light ground, at 1 µm per pixel."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:200, 0:300]
    light = np.full((200, 300, 3), 215.0)
    for cx, cy in ((80, 90), (210, 110)):
        depth = np.clip((1 - np.hypot((x - cx) / 40, (y - cy) / 25)) * 20, 0, 1)[..., None]
        light *= np.exp(-depth * np.array([0.3, 0.6, 1.0]))
    Image.fromarray(np.clip(light + rng.normal(0, 2, light.shape), 0, 255).astype(np.uint8)).save(path)
    return path


@pytest.fixture
def recorded(folder: Path, fecallab: Run, tmp_path: Path) -> str:
    """An exam with two pictures, one of them recorded with its scale."""
    assert fecallab("animal", "add", "Saffron", "--species", "Pogona vitticeps").code == 0
    passed = ("--passed-from", "2025-03-04 06:30", "--passed-to", "2025-03-04 08:00")
    assert fecallab("sample", "add", "Saffron", *passed).code == 0
    float_it = ("--method", "simple_flotation", "--read-at", "2025-03-04 09:00", "--objective", "10")
    said = fecallab(
        "exam", "add", "S1", *float_it, "--picture", eggs(tmp_path / "a.png"), "--um-per-px", "1.0"
    )
    assert said.code == 0, said.all
    said = fecallab("exam", "read", "E1-1", "--objective", "10", "--picture", eggs(tmp_path / "b.png", 2))
    assert said.code == 0, said.all
    return "E1"


def test_detect_answers_with_its_keys_and_writes_a_table(fecallab: Run, tmp_path: Path) -> None:
    picture, table = eggs(tmp_path / "eggs.png"), tmp_path / "marks.csv"
    said = fecallab("image", "detect", picture, "--um-per-px", "1.0", "--out", table, "--json")
    assert said.code == 0, said.all
    (image,) = said.json["images"]
    assert {"file", "objects", "lit_fraction", "sharpness", "seconds"} <= set(image)
    assert image["file"] == "eggs.png"
    assert all(set(one) == KEYS for one in image["objects"])
    places = sorted((one["x_px"], one["y_px"]) for one in image["objects"])[:2]
    assert np.allclose(places, [(80, 90), (210, 110)], atol=3)
    for one in image["objects"][:2]:
        assert one["length_um"] == pytest.approx(80, rel=0.07)
        assert one["width_um"] == pytest.approx(50, rel=0.07)
    rows = list(csv.DictReader(table.open()))
    assert len(rows) == len(image["objects"])
    assert {row["sure"] for row in rows} == {"false"}


def test_a_table_of_proposals_cannot_be_recorded_before_they_are_named(
    recorded: str, fecallab: Run, tmp_path: Path
) -> None:
    table = tmp_path / "marks.csv"
    picture = eggs(tmp_path / "c.png", 3)
    assert fecallab("image", "detect", picture, "--um-per-px", "1.0", "--out", table).code == 0
    said = fecallab("exam", "read", "E1-1", "--objective", "10", "--picture", picture, "--marks", table)
    assert said.code == 2
    assert "unconfirmed" in said.err


@pytest.mark.parametrize(
    "words",
    [
        ("eggs.png",),
        ("eggs.png", "--um-per-px", "0"),
        ("eggs.png", "--um-per-px", "90"),
        ("no.png", "--um-per-px", "1"),
        ("clip.mp4", "--um-per-px", "1"),
        ("eggs.png", "--um-per-px", "1", "--out", "marks.xls"),
        ("eggs.png", "--um-per-px", "1", "--threshold", "3"),
    ],
)
def test_what_cannot_be_meant_gives_one_line(fecallab: Run, tmp_path: Path, words: tuple[str, ...]) -> None:
    eggs(tmp_path / "eggs.png")
    (tmp_path / "clip.mp4").write_bytes(b"\0\0\0\x18ftypisom" + bytes(64))
    said = fecallab("image", "detect", *words)
    assert said.code == 2
    assert len(said.err.strip().splitlines()) == 1
    assert fecallab("image", "detect", *words, "--json").error["next"]


def test_proposals_are_kept_beside_the_records_and_counted_nowhere(
    recorded: str, fecallab: Run, folder: Path
) -> None:
    before = fecallab("exam", "show", recorded, "--json").json
    said = fecallab("exam", "propose", recorded, "--workers", "1", "--json")
    assert said.code == 0, said.all
    states = {one["file"]: (one["state"], one["proposals"]) for one in said.json["pictures"]}
    assert states["a.png"][0] == "proposed"
    assert states["a.png"][1] >= 2
    assert states["b.png"] == ("no scale", None)
    assert len(list((folder / "proposals").rglob("*.json"))) == 1
    assert fecallab("exam", "show", recorded, "--json").json == before
    assert fecallab("records", "check").code == 0


def test_proposing_again_goes_on_where_it_stopped(recorded: str, fecallab: Run, folder: Path) -> None:
    fecallab("exam", "propose", recorded, "--workers", "1")
    (kept,) = (folder / "proposals").rglob("*.json")
    first = kept.read_text()
    said = fecallab("exam", "propose", recorded, "--workers", "1", "--um-per-px", "1.0")
    assert "1 of 1: b.png" in said.err
    assert kept.read_text() == first
    kept.write_text("{")  # a damaged file is made anew
    said = fecallab("exam", "propose", recorded, "--workers", "1", "--um-per-px", "1.0")
    assert "1 of 1: a.png" in said.err


def test_an_exam_without_pictures_is_said(fecallab: Run, recorded: str) -> None:
    fecallab(
        "exam",
        "add",
        "S1",
        "--method",
        "iodine_smear",
        "--read-at",
        "2025-03-04 09:30",
        "--objective",
        "40",
        "--share",
        "0.4",
    )
    said = fecallab("exam", "propose", "E2")
    assert said.code == 2
    assert "no pictures" in said.err


def test_learning_from_too_little_changes_nothing(recorded: str, fecallab: Run, folder: Path) -> None:
    said = fecallab("image", "learn", "--json")
    assert said.code == 0, said.all
    assert said.json["learnt"] is False
    assert "Too little" in said.json["why"]
    assert not (folder / "proposals" / "ranker.json").exists()
    assert fecallab("image", "learn", "--back").code == 2
