"""Small pictures as files: a scene that differs in every corner, the words cameras add, and how one is refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from fecallab.domain.errors import BadInput
from fecallab.imaging.read import verify_picture

EXIF_ORIENTATION, EXIF_DATETIME, EXIF_IFD, EXIF_DATETIME_ORIGINAL, EXIF_GPS = 274, 306, 34665, 36867, 34853


def scene(height: int = 48, width: int = 64) -> np.ndarray:
    """A smooth colour picture that is different in every corner."""
    y, x = np.mgrid[0:height, 0:width]
    red = 255 * x / (width - 1)
    green = 255 * y / (height - 1)
    blue = np.where((x < width // 3) & (y < height // 4), 255, 40)
    return np.dstack([red, green, blue]).round().astype(np.uint8)


def save(path: Path, array: np.ndarray, **options: object) -> Path:
    Image.fromarray(array).save(path, **options)
    return path


def exif_bytes(**tags: object) -> Image.Exif:
    exif = Image.Exif()
    if "orientation" in tags:
        exif[EXIF_ORIENTATION] = tags["orientation"]
    if "datetime" in tags:
        exif[EXIF_DATETIME] = tags["datetime"]
    if "original" in tags:
        exif.get_ifd(EXIF_IFD)[EXIF_DATETIME_ORIGINAL] = tags["original"]
    if "gps" in tags:
        exif.get_ifd(EXIF_GPS)[1] = "N"
        exif.get_ifd(EXIF_GPS)[2] = (51.0, 28.0, 40.12)
    return exif


def refusal(path: str | Path) -> BadInput:
    with pytest.raises(BadInput) as caught:
        verify_picture(path)
    assert "\n" not in caught.value.reason.text
    assert caught.value.reason.next, "what to do next is said"
    return caught.value
