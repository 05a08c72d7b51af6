"""The sample slides as they lie in the folder; test_draw.py holds that they are what the program draws."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.read import open_picture

FOLDER = Path(__file__).parents[2] / "sample_slides"


def slide_pixels(name: str) -> NDArray[np.generic]:
    """Return the pixels of a sample slide."""
    return open_picture(FOLDER / name)
