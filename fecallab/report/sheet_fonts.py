"""Letters for printed sheets: DejaVu Sans from matplotlib's own folder; other scripts from this computer.

DejaVu knows Latin, Greek, Cyrillic, Arabic, Hebrew and the signs of the trade (µ, ×, °, ≥). A name in another
script is looked up among the fonts of the computer, and only then; what no font here can write becomes a box.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

MISSING = "\u25a1"
"""Printed for a letter that no font of this computer knows."""

_LIKELY = (
    "noto",
    "cjk",
    "gothic",
    "yahei",
    "simsun",
    "malgun",
    "hiragino",
    "pingfang",
    "arial unicode",
    "segoe",
)


def own_font(style: str = "") -> Path:
    """Return the font file of a style: ``""`` or ``"B"``."""
    import matplotlib

    name = {"": "DejaVuSans.ttf", "B": "DejaVuSans-Bold.ttf"}[style]
    return Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name


@cache
def letters_of(font: Path, number: int = 0) -> frozenset[int]:
    """Return the code points that a font file can write; none when the file cannot be read."""
    from fontTools.ttLib import TTFont, TTLibError

    try:
        with TTFont(font, fontNumber=number, lazy=True) as opened:
            return frozenset(opened.getBestCmap() or {})
    except (TTLibError, OSError, KeyError, AssertionError):
        return frozenset()


@cache
def font_for(letter: str) -> Path | None:
    """Return a font of this computer that can write a letter, or None.

    Examples
    --------
    >>> font_for("a") == own_font()
    True
    """
    if ord(letter) in letters_of(own_font()):
        return own_font()
    return next((font for font in _fonts_here() if ord(letter) in letters_of(font)), None)


@cache
def _fonts_here() -> tuple[Path, ...]:
    """Return the computer's upright fonts, those that know many scripts first."""
    from matplotlib import font_manager

    files = sorted(Path(name) for name in font_manager.findSystemFonts())
    upright = [
        file for file in files if not any(word in file.stem.lower() for word in ("bold", "italic", "emoji"))
    ]
    return tuple(sorted(upright, key=lambda file: not any(word in file.name.lower() for word in _LIKELY)))
