"""The report on real pictures: how it judges, what was counted by eye, and that the page says what it measures."""

from __future__ import annotations

import csv
import importlib.util
import os
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from PIL import Image

from fecallab.domain.finding import Findings
from fecallab.imaging.detect.propose import Detection, Proposal

ROOT = Path(__file__).parents[3]
BENCH = ROOT / "tests" / "bench"


@pytest.fixture(scope="module")
def report() -> Iterator[ModuleType]:
    """The script, loaded from its file."""
    before = list(sys.path)
    spec = importlib.util.spec_from_file_location("detect_real", BENCH / "detect_real.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["detect_real"] = module
    spec.loader.exec_module(module)
    yield module
    sys.path[:] = before


def proposal(x: float, y: float, score: float) -> Proposal:
    return Proposal(
        x_px=x,
        y_px=y,
        length_um=20.0,
        width_um=10.0,
        length_half_width_um=1.0,
        width_half_width_um=1.0,
        angle_deg=0.0,
        score=score,
        kind="oval",
        outline_px=((x - 5, y), (x, y - 5), (x + 5, y), (x, y + 5)),
    )


def test_each_thing_is_met_once_and_an_open_one_is_neither_right_nor_wrong(report: ModuleType) -> None:
    places = ((51, 50), (49, 50), (101, 50), (100, 52), (150, 150))
    found = tuple(proposal(x, y, 0.9 - 0.1 * k) for k, (x, y) in enumerate(places))
    things = (report.Thing(50, 50, 20), report.Thing(100, 50, 20, sure=False), report.Thing(20, 150, 20))
    detection = Detection(proposals=found, lit_fraction=1, sharpness=1, remark="", seconds=0)
    seen = report.Seen("a", np.full((200, 200), 200, np.uint8), 1.0, things, detection)
    assert seen.marked == ["right", "wrong", "open", "open", "wrong"]
    assert seen.findings == Findings(right=1, wrong=2, missed=1)
    drawn = report.overlay(seen)
    assert drawn.shape == (800, 800, 3)
    colours = {tuple(colour) for colour in drawn.reshape(-1, 3)}
    assert {(0, 170, 60), (220, 30, 30), (230, 180, 0), (40, 90, 255)} <= colours


def test_the_counts_by_eye_are_whole_and_as_many_as_the_page_says(report: ModuleType) -> None:
    lines = (BENCH / "real_counts.csv").read_text(encoding="utf-8").splitlines()
    assert any("by eye" in line for line in lines if line.startswith("#"))
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    sure = {"living_dead_cells": 0, "paramecium": 0}
    for row in rows:
        assert row["state"] in ("sure", "open")
        assert 0 <= float(row["x_px"]) < 640 and 0 <= float(row["y_px"]) < 480
        assert 8 <= float(row["length_px"]) <= 40
        sure[row["folder"]] += row["state"] == "sure"
    page = ROOT / "docs" / "proposals.md"
    if not page.is_file():
        pytest.skip("the pages are in the clone only")
    said = page.read_text(encoding="utf-8")
    assert f"{sure['living_dead_cells']} cells and {sure['paramecium']} ciliates" in said


def test_the_report_on_one_drawn_egg(
    report: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    images = tmp_path / "schisto_eggs" / "images"
    images.mkdir(parents=True)
    y, x = np.mgrid[0:200, 0:260]
    depth = np.clip((1 - np.hypot((x - 80) / 45, (y - 90) / 22)) * 20, 0, 1)
    light = 210 * np.exp(-0.7 * depth) + np.random.default_rng(0).normal(0, 2, x.shape)
    Image.fromarray(np.clip(light, 0, 255).astype(np.uint8)).save(images / "a.png")
    (tmp_path / "schisto_eggs" / "boxes.csv").write_text(
        "image,x_px,y_px,width_px,height_px,label\na.png,35,68,90,44,egg\n", encoding="utf-8"
    )
    report.tell_eggs(tmp_path)
    said = capsys.readouterr().out
    assert said.count("egg among the first 5 proposals in 1 of 1") == 2
    assert re.search(r"a\.png: rank 1 of \d+, its box shares (8[5-9]|9\d|100) %", said)
    (empty,) = report.without_organisms(tmp_path)
    assert empty.name == "a.png right of the egg" and empty.pixels.shape == (200, 127)
    assert empty.findings.things == 0


def test_the_page_says_what_the_report_measures(
    report: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    named = os.environ.get("FECALLAB_REAL_DATA")
    if not named:
        pytest.skip("measured on real pictures with FECALLAB_REAL_DATA=FOLDER")
    report.tell_eggs(Path(named))
    measured = re.search(
        r"as it is set: egg among the first 5 proposals in (\d) of 4", capsys.readouterr().out
    )
    said = re.search(
        r"egg among the first five: (\d) of 4", (ROOT / "docs" / "proposals.md").read_text("utf-8")
    )
    assert measured and said and measured.group(1) == said.group(1)
