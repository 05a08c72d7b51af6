"""How likely a path is that of a swimmer, from its evidence, by trees that were grown on drawn clips.

:mod:`.fit_chances` grows them again.
"""

from __future__ import annotations

from functools import cache

from fecallab.imaging.motility.evidence import NAMES
from fecallab.imaging.motility.sides import data_folder
from fecallab.imaging.trees import Trees, read

FILE = "chances.json"


@cache
def drawn_chances() -> Trees:
    """Return the trees that were grown on drawn clips."""
    return read((data_folder() / FILE).read_text(encoding="utf-8"), NAMES)
