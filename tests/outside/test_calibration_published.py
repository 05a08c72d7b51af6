"""Scales against worked examples of others, and against an open picture of a stage micrometer.

Sources: the coincidence rule and 7.24 µm per division, med-chem.com, Calibration of Microscope with an Ocular
Micrometer (read); other rows are plain arithmetic (derived). The open picture is not part of this project: its
author (S. W. Harden, github.com/swharden/patch, commit 294988e, MIT licence) states 89 divisions of 10 µm =
688.33 pixels, 1.293 µm per pixel (read). Name a folder that holds ``stage_micrometer_MIT/cal10.png`` in
FECALLAB_OPEN_PICTURES to measure it.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from fecallab.domain.measuring import Scale, measure_ellipse, measure_line
from fecallab.imaging.calibrate import by_known_object, by_ruler
from fecallab.imaging.read import open_picture

OPEN_PICTURES = os.environ.get("FECALLAB_OPEN_PICTURES", "")


def test_coinciding_divisions_read() -> None:
    """21 stage divisions of 10 µm against 29 divisions of the eyepiece: the source prints 7.24 (read)."""
    assert by_known_object(210, (0, 0), (29, 0)).um_per_px == pytest.approx(7.24, abs=0.005)


def test_a_millimetre_across_3200_pixels_derived() -> None:
    found = by_known_object(1000, (0, 0), (3200, 0))
    assert found.um_per_px == pytest.approx(0.3125)
    egg = measure_ellipse((500, 500), 384, 192, 0, found.scale)
    assert egg.width is not None
    assert (egg.length.value, egg.width.value) == pytest.approx((120, 60))


def test_thirty_divisions_of_the_eyepiece_derived() -> None:
    assert measure_line((0, 0), (30, 0), Scale(2.5)).length.value == pytest.approx(75)


@pytest.mark.skipif(not OPEN_PICTURES, reason="FECALLAB_OPEN_PICTURES names no folder")
def test_a_real_stage_micrometer_read() -> None:
    """Tilted by about 3°, author's text and bar burned in: within 0.5 % of the author's scale."""
    path = Path(OPEN_PICTURES) / "stage_micrometer_MIT" / "cal10.png"
    found = by_ruler(open_picture(path), 10)
    assert found.um_per_px == pytest.approx(1.293, rel=0.005)
    assert found.angle_deg is not None and 175.5 < found.angle_deg < 179.5
