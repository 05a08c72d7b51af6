"""How a mark looks: a colour and a shape for every organism group.

The colours are the palette of Okabe and Ito (2008, "Color Universal Design", https://jfly.uni-koeln.de/color/;
kind: memory of the believed source). Every group has a shape of its own, so colour is never needed: each line
is white, black and colour side by side, and so reads on light, on dark and in grey.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, sin

Point = tuple[float, float]

OKABE_ITO = {
    "black": "#000000",
    "orange": "#E69F00",
    "sky blue": "#56B4E9",
    "bluish green": "#009E73",
    "yellow": "#F0E442",
    "blue": "#0072B2",
    "vermillion": "#D55E00",
    "reddish purple": "#CC79A7",
}


@dataclass(frozen=True)
class MarkStyle:
    """Colour (``#RRGGBB``) and the name of a shape in `SHAPES`."""

    colour: str
    shape: str


def _star(points: int, inner: float) -> tuple[Point, ...]:
    angles = [pi * k / points - pi / 2 for k in range(2 * points)]
    return tuple(
        (cos(a) * (inner if k % 2 else 1.0), sin(a) * (inner if k % 2 else 1.0)) for k, a in enumerate(angles)
    )


def _drop() -> tuple[Point, ...]:
    """A pear with its point at the bottom."""
    top = [(0.72 * cos(a), -0.28 + 0.72 * sin(a)) for a in (pi * k / 16 for k in range(16, 33))]
    return (*top, (0.36, 0.45), (0.0, 1.0), (-0.36, 0.45))


def _half_circle() -> tuple[Point, ...]:
    return tuple((cos(a), 0.45 + sin(a)) for a in (pi + pi * k / 14 for k in range(15)))


def _crescent() -> tuple[Point, ...]:
    """Open to the right."""
    outer = [(0.2 + cos(a), sin(a)) for a in (pi / 3 + 4 * pi / 3 * k / 20 for k in range(21))]
    inner = [
        (0.62 + 0.87 * cos(a), 0.87 * sin(a)) for a in (1.53 * pi - 1.06 * pi * k / 16 for k in range(17))
    ]
    return tuple(outer + inner)


def _plus(arm: float) -> tuple[Point, ...]:
    corners = [(-arm, -1), (arm, -1), (arm, -arm), (1, -arm), (1, arm), (arm, arm)]
    return (*corners, *((-x, -y) for x, y in corners))


def _turned(points: tuple[Point, ...], angle: float) -> tuple[Point, ...]:
    c, s = cos(angle), sin(angle)
    return tuple((c * x - s * y, s * x + c * y) for x, y in points)


def _oval(wide: float, high: float) -> tuple[Point, ...]:
    return tuple((wide * cos(2 * pi * k / 28), high * sin(2 * pi * k / 28)) for k in range(28))


SHAPES: dict[str, tuple[Point, ...]] = {
    "drop": _drop(),
    "standing oval": _oval(0.6, 1.0),
    "three-lobed": tuple(
        ((0.74 + 0.26 * sin(3 * a)) * cos(a), (0.74 + 0.26 * sin(3 * a)) * sin(a))
        for a in (2 * pi * k / 48 for k in range(48))
    ),
    "circle": _oval(0.92, 0.92),
    "six-point star": _star(6, 0.58),
    "lying bar": ((-1, -0.36), (1, -0.36), (1, 0.36), (-1, 0.36)),
    "half circle": _half_circle(),
    "square": ((-0.8, -0.8), (0.8, -0.8), (0.8, 0.8), (-0.8, 0.8)),
    "triangle up": ((0, -0.95), (0.95, 0.75), (-0.95, 0.75)),
    "diamond": ((0, -1), (0.8, 0), (0, 1), (-0.8, 0)),
    "triangle down": ((-0.95, -0.75), (0.95, -0.75), (0, 0.95)),
    "hourglass": ((-0.8, -0.9), (0.8, -0.9), (0.2, 0), (0.8, 0.9), (-0.8, 0.9), (-0.2, 0)),
    "chevron": ((-1, -0.1), (0, -0.9), (1, -0.1), (1, 0.8), (0, 0.0), (-1, 0.8)),
    "T": (
        (-0.9, -0.9),
        (0.9, -0.9),
        (0.9, -0.25),
        (0.33, -0.25),
        (0.33, 0.95),
        (-0.33, 0.95),
        (-0.33, -0.25),
        (-0.9, -0.25),
    ),
    "flat-topped trapezium": ((-0.45, -0.7), (0.45, -0.7), (1, 0.7), (-1, 0.7)),
    "slanted bar": ((-0.4, -0.75), (1, -0.75), (0.4, 0.75), (-1, 0.75)),
    "crescent": _crescent(),
    "five-point star": _star(5, 0.45),
    "plus": _plus(0.36),
    "cross": _turned(_plus(0.32), pi / 4),
}
"""Outlines in the unit circle, x to the right and y down, each a closed polygon."""

_O = OKABE_ITO
MARK_STYLE: dict[str, MarkStyle] = {
    "flagellate": MarkStyle(_O["vermillion"], "drop"),
    "ciliate": MarkStyle(_O["bluish green"], "standing oval"),
    "amoeba": MarkStyle(_O["reddish purple"], "three-lobed"),
    "coccidian": MarkStyle(_O["orange"], "circle"),
    "cryptosporidium": MarkStyle(_O["vermillion"], "six-point star"),
    "microsporidian": MarkStyle(_O["blue"], "lying bar"),
    "other protist": MarkStyle(_O["sky blue"], "half circle"),
    "oxyurid": MarkStyle(_O["sky blue"], "square"),
    "ascarid": MarkStyle(_O["blue"], "triangle up"),
    "strongylid": MarkStyle(_O["yellow"], "diamond"),
    "rhabditid": MarkStyle(_O["reddish purple"], "triangle down"),
    "capillarid/trichurid": MarkStyle(_O["bluish green"], "hourglass"),
    "spirurid": MarkStyle(_O["orange"], "chevron"),
    "cestode": MarkStyle(_O["vermillion"], "T"),
    "trematode": MarkStyle(_O["blue"], "flat-topped trapezium"),
    "acanthocephalan": MarkStyle(_O["yellow"], "slanted bar"),
    "pentastomid": MarkStyle(_O["reddish purple"], "crescent"),
    "mite": MarkStyle(_O["bluish green"], "five-point star"),
    "pseudoparasite": MarkStyle(_O["black"], "plus"),
    "artefact": MarkStyle(_O["black"], "cross"),
}
"""Colour and shape of each group of organisms; every shape occurs once."""

UNKNOWN_STYLE = MarkStyle(_O["black"], "circle")
"""For a group that is not in the table: a black ring, never an error in a report."""


def style_of(group: str) -> MarkStyle:
    """Return the style of a group, or `UNKNOWN_STYLE`.

    Examples
    --------
    >>> style_of("oxyurid").shape
    'square'
    """
    return MARK_STYLE.get(group, UNKNOWN_STYLE)
