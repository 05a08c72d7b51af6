"""How marks look on the canvas: a symbol, a filling and a colour for every organism group.

Colours are those of `fecallab.imaging.mark_style`. The canvas knows fewer symbols than there are groups, so a
symbol may come twice: open, and filled. Colour is never needed to tell two groups apart, an unsure mark has a
thinner rim and a question mark, and the legend of the dock draws the same symbols beside the words.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fecallab.imaging.mark_style import style_of

SURE_RIM, UNSURE_RIM = 0.16, 0.08
"""Width of the rim as a share of a symbol of usual size; a large symbol has the same rim in pixels."""
FILLING = 0.45
"""Opacity of a filled symbol: what lies under it stays to be seen."""
ON_TOP = "translucent_no_depth"
"""How what is drawn over the picture is blended: the order of the list alone says what is in front. A canvas that
compares depths may hide all of it behind the picture, which lies level with it."""

_SYMBOLS: dict[str, tuple[str, bool]] = {
    "flagellate": ("tailed_arrow", False),
    "ciliate": ("vbar", False),
    "amoeba": ("clobber", False),
    "coccidian": ("disc", False),
    "cryptosporidium": ("star", True),
    "microsporidian": ("hbar", False),
    "other protist": ("disc", True),
    "oxyurid": ("square", False),
    "ascarid": ("triangle_up", False),
    "strongylid": ("diamond", False),
    "rhabditid": ("triangle_down", False),
    "capillarid/trichurid": ("vbar", True),
    "spirurid": ("arrow", False),
    "cestode": ("square", True),
    "trematode": ("triangle_up", True),
    "acanthocephalan": ("diamond", True),
    "pentastomid": ("triangle_down", True),
    "mite": ("star", False),
    "pseudoparasite": ("cross", False),
    "artefact": ("x", False),
}
_UNKNOWN = ("clobber", True)


@dataclass(frozen=True)
class Look:
    """Symbol of the canvas, whether it is filled, and the colour of its rim (``#RRGGBB``)."""

    symbol: str
    filled: bool
    colour: str


@cache
def look_of(group: str) -> Look:
    """Return how marks of a group look.

    Examples
    --------
    >>> look_of("oxyurid")
    Look(symbol='square', filled=False, colour='#56B4E9')
    """
    symbol, filled = _SYMBOLS.get(group, _UNKNOWN)
    return Look(symbol, filled, style_of(group).colour)


@cache
def rgba(colour: str, opacity: float = 1.0) -> tuple[float, float, float, float]:
    """Return a colour as four shares of 1.

    Examples
    --------
    >>> rgba("#FF0000", 0.5)
    (1.0, 0.0, 0.0, 0.5)
    """
    red, green, blue = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    return red, green, blue, opacity


def short_word(name: str, group: str, *, sure: bool) -> str:
    """Return the word beside a mark: its name without underscores, a question mark when it is unsure.

    Examples
    --------
    >>> short_word("pollen_pine", "pseudoparasite", sure=False)
    'pollen pine?'
    """
    said = (name or group).replace("_", " ")
    return said if sure else f"{said}?"
