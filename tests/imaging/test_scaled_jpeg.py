"""Small pictures for reports: their size, nothing but pixels, and the depth of the camera."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from fecallab.imaging.read import scaled_jpeg, to_8bit

from .picture_files import exif_bytes, save, scene

# --- small pictures for reports ------------------------------------------------------------------------


def test_scaled_jpeg_has_the_asked_size_and_nothing_but_pixels(tmp_path: Path) -> None:
    exif = exif_bytes(orientation=1, original="2026:05:03 08:15:00", gps=True)
    path = save(tmp_path / "p.jpg", scene(600, 800), exif=exif, comment=b"at home")
    assert b"Exif" in path.read_bytes()
    small = scaled_jpeg(path, 200, 85)
    image = Image.open(io.BytesIO(small))
    assert image.size == (200, 150)
    assert not image.getexif() and b"Exif" not in small and b"at home" not in small


def test_scaled_jpeg_is_the_same_each_time_and_from_file_or_array(tmp_path: Path) -> None:
    path = save(tmp_path / "p.png", scene(300, 400))
    assert scaled_jpeg(path, 100, 80) == scaled_jpeg(path, 100, 80) == scaled_jpeg(scene(300, 400), 100, 80)


def test_scaled_jpeg_never_enlarges() -> None:
    assert Image.open(io.BytesIO(scaled_jpeg(scene(), 5000, 85))).size == (64, 48)


def test_scaled_jpeg_of_twelve_bits_in_sixteen_is_not_black() -> None:
    values = np.full((40, 40), 3500, np.uint16)
    values[0, 0] = 4095
    shown = np.array(Image.open(io.BytesIO(scaled_jpeg(values, 40, 90))))
    assert abs(int(shown[20, 20]) - 3500 * 255 // 4095) <= 3


@pytest.mark.parametrize("depth", [8, 10, 12, 14, 16])
def test_to_8bit_takes_the_camera_depth(depth: int) -> None:
    top = 2**depth - 1
    assert to_8bit(np.array([[0, top]], np.uint16)).tolist() == [[0, 255]]


@pytest.mark.parametrize(("longest", "quality"), [(0, 80), (100, 0), (100, 96)])
def test_scaled_jpeg_says_what_is_out_of_range(longest: int, quality: int) -> None:
    with pytest.raises(ValueError, match="must be"):
        scaled_jpeg(scene(), longest, quality)
