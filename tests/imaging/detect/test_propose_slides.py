"""Proposals on the drawn slides of the clone, of other kinds of files: TIFF, and OME-TIFF of 16 bits in grey."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from fecallab.imaging.detect import propose
from fecallab.imaging.read import open_picture

SLIDES = Path(__file__).parents[3] / "sample_slides"


@pytest.mark.parametrize(("name", "least"), [("snake_flotation.tif", 3), ("dragon_isospora_grey.ome.tif", 2)])
def test_organisms_of_a_slide_are_among_the_first_five_with_their_size(name: str, least: int) -> None:
    if not SLIDES.is_dir():
        pytest.skip("the slides are in the clone only")
    with (SLIDES / "truth.csv").open(encoding="utf-8") as table:
        truth = [row for row in csv.DictReader(table) if row["picture"] == name]
    assert len(truth) == 3
    scale = float(truth[0]["um_per_px"])
    first = propose(open_picture(SLIDES / name), scale).proposals[:5]
    met = 0
    for row in truth:
        length, width = float(row["length_um"]), float(row["width_um"])
        met += any(
            np.hypot(one.x_px - float(row["x_px"]), one.y_px - float(row["y_px"])) * scale < 0.1 * length
            and one.length_um == pytest.approx(length, rel=0.1)
            and one.width_um == pytest.approx(width, rel=0.1)
            for one in first
        )
    assert met >= least
