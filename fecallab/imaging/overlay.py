"""Marks and a scale bar over a picture: geometry, SVG fragments, and the same drawn into pixels.

Coordinates are those of marks everywhere: column and row of the centre, 0 at the centre of the first pixel;
angles of the long axis from +x towards +y (down). An SVG picture of ``width`` × ``height`` pixels shows
pixel 0 between 0 and 1, so half a pixel is added when a mark is written as SVG.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from math import cos, floor, hypot, isfinite, log10, pi, radians, sin
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from fecallab.imaging.mark_style import MARK_STYLE, SHAPES, Point, style_of
from fecallab.imaging.samples import PictureArray, to_8bit

__all__ = [
    "MARK_STYLE",
    "PictureMark",
    "ScaleBar",
    "draw_overlay",
    "mark_geometry",
    "mark_svg",
    "overlay_svg",
    "scale_bar",
    "scale_bar_svg",
]

_OUTLINE_ROOM = 1.12  # the ellipse is drawn this much outside the object, so that its wall stays visible


@dataclass(frozen=True)
class PictureMark:
    """One mark to be drawn over a picture.

    Attributes
    ----------
    x_px, y_px : float
        Centre, column and row.
    length_um, width_um : float or None
        Outer long and short axes, when measured.
    angle_deg : float or None
        Long axis from +x towards +y (down).
    group : str
        Organism group; chooses colour and shape.
    sure : bool
        False draws dashed lines and a question mark.
    number : int
        Shown beside the mark.
    """

    x_px: float
    y_px: float
    length_um: float | None
    width_um: float | None
    angle_deg: float | None
    group: str
    sure: bool
    number: int


@dataclass(frozen=True)
class ScaleBar:
    """A scale bar: its length in µm and in pixels, and its words."""

    length_um: float
    length_px: float
    label: str


@dataclass(frozen=True)
class MarkGeometry:
    """Where the parts of a mark lie, in pixels: outline, group shape, and the anchor of the number."""

    outline: tuple[Point, ...]
    badge: tuple[Point, ...]
    text_at: Point
    text: str


def scale_bar(um_per_px: float, picture_width_px: float, largest_share: float = 0.25) -> ScaleBar:
    """Choose the longest bar of 1, 2 or 5 × 10ⁿ µm that takes no more than a share of the picture's width.

    Parameters
    ----------
    um_per_px : float
        Scale of the picture, above 0.
    picture_width_px : float
        Width of the picture, above 0.
    largest_share : float, optional
        Largest part of the width that the bar may take.

    Returns
    -------
    ScaleBar

    Raises
    ------
    ValueError
        When a number is not above 0.

    Examples
    --------
    >>> scale_bar(0.65, 1024)
    ScaleBar(length_um=100.0, length_px=153.84615384615384, label='100 µm')
    """
    room_um = um_per_px * picture_width_px * largest_share
    if not (isfinite(room_um) and um_per_px > 0 and picture_width_px > 0 and largest_share > 0):
        raise ValueError(f"a scale bar needs sizes above 0, got {um_per_px} µm/px and {picture_width_px} px")
    decade = 10.0 ** floor(log10(room_um))
    step = next(s for s in (5, 2, 1) if s * decade <= room_um * (1 + 1e-9))
    length_um = step * decade
    label = f"{length_um / 1000:g} mm" if length_um >= 1000 else f"{length_um:g} µm"
    return ScaleBar(length_um, length_um / um_per_px, label)


def mark_geometry(
    mark: PictureMark, um_per_px: float | None, unit_px: float, size_px: Point | None = None
) -> MarkGeometry:
    """Lay out one mark: an ellipse around the object and the group's shape with the number beside it.

    Parameters
    ----------
    mark : PictureMark
        What to draw.
    um_per_px : float or None
        Scale of the picture; without it, or without sizes, the outline is a plain ring.
    unit_px : float
        Size of the group's shape (its radius), in pixels of the picture.
    size_px : (float, float), optional
        Width and height of the picture; shape and number then go to a side where they are inside it.

    Returns
    -------
    MarkGeometry
        In the coordinates of marks (0 at the centre of the first pixel).
    """
    if um_per_px and mark.length_um and mark.width_um:
        half_long = max(mark.length_um / um_per_px / 2 * _OUTLINE_ROOM, mark.length_um / um_per_px / 2 + 2)
        half_short = max(mark.width_um / um_per_px / 2 * _OUTLINE_ROOM, mark.width_um / um_per_px / 2 + 2)
    else:
        half_long = half_short = 2.2 * unit_px
    turn = radians(mark.angle_deg or 0.0)
    c, s = cos(turn), sin(turn)
    outline = []
    for k in range(72):
        a, b = half_long * cos(2 * pi * k / 72), half_short * sin(2 * pi * k / 72)
        outline.append((mark.x_px + c * a - s * b, mark.y_px + s * a + c * b))
    text = f"{mark.number}" if mark.sure else f"{mark.number}?"
    text_px = (1.45 + 1.7 * len(text)) * unit_px
    for right, down in ((1, -1), (1, 1), (-1, -1), (-1, 1)):  # the first side that lies inside the picture
        aim = pi / 4 * (right * down)
        reach = hypot(half_long * cos(aim - turn), half_short * sin(aim - turn)) + 1.5 * unit_px
        badge_x = mark.x_px + right * reach * cos(pi / 4) - (text_px if right < 0 else 0)
        badge_y = mark.y_px + down * reach * sin(pi / 4)
        if size_px is None or (
            unit_px <= badge_x <= size_px[0] - text_px
            and 1.5 * unit_px <= badge_y <= size_px[1] - 1.5 * unit_px
        ):
            break
    badge = tuple(
        (badge_x + unit_px * x, badge_y + unit_px * y) for x, y in SHAPES[style_of(mark.group).shape]
    )
    return MarkGeometry(tuple(outline), badge, (badge_x + 1.45 * unit_px, badge_y), text)


def default_unit_px(width_px: float, height_px: float) -> float:
    """Return the radius of a group's shape that suits a picture of this size."""
    return max(5.0, max(width_px, height_px) / 130)


def _inks(colour: str, unit_px: float) -> tuple[tuple[str, float], ...]:
    """Return the lines of an outline with their widths: white around black around the group's colour."""
    inner = max(0.2 * unit_px, 1.2)
    black = inner + 2 * max(0.11 * unit_px, 0.9)
    return ("#ffffff", black + 2 * max(0.1 * unit_px, 0.9)), ("#000000", black), (colour, inner)


# ---------------------------------------------------------------------------------------------------------
# SVG


def mark_svg(mark: PictureMark, um_per_px: float | None, unit_px: float, size_px: Point | None = None) -> str:
    """Return one mark as an SVG ``<g>`` in the pixel coordinates of the picture.

    Parameters
    ----------
    mark, um_per_px, unit_px, size_px
        As for :func:`mark_geometry`.

    Returns
    -------
    str
        A ``<g>`` with a ``<title>`` (number, group, sure or unsure) and lines in white, black and colour.
    """
    shape = mark_geometry(mark, um_per_px, unit_px, size_px)
    style = style_of(mark.group)
    dash = "" if mark.sure else f' stroke-dasharray="{unit_px:.1f} {0.8 * unit_px:.1f}"'
    outline, badge = _path(shape.outline), _path(shape.badge)
    lines = "".join(
        f'<path d="{outline}" fill="none" stroke="{colour}" stroke-width="{width:.2f}"{dash}/>'
        for colour, width in _inks(style.colour, unit_px)
    )
    x, y = shape.text_at[0] + 0.5, shape.text_at[1] + 0.5
    words = f"{mark.number}: {mark.group or 'no group'}, {'sure' if mark.sure else 'unsure'}"
    return (
        f'<g class="mark"><title>{_escaped(words)}</title>{lines}'
        f'<path d="{badge}" fill="{style.colour}" stroke="#ffffff" stroke-width="{0.6 * unit_px:.2f}"'
        f' paint-order="stroke"/>'
        f'<path d="{badge}" fill="none" stroke="#000000" stroke-width="{0.22 * unit_px:.2f}"/>'
        f"{_text_svg(x, y, shape.text, 2.6 * unit_px)}</g>"
    )


def scale_bar_svg(um_per_px: float, width_px: float, height_px: float) -> str:
    """Return the scale bar as an SVG ``<g>`` for the lower right corner of a picture."""
    bar = scale_bar(um_per_px, width_px)
    unit = default_unit_px(width_px, height_px)
    right, bottom = width_px - 2.5 * unit, height_px - 2.5 * unit
    left, thick = right - bar.length_px, 0.7 * unit
    rect = f'x="{left:.2f}" y="{bottom - thick:.2f}" width="{bar.length_px:.2f}" height="{thick:.2f}"'
    label = _text_svg((left + right) / 2, bottom - 2.6 * unit, bar.label, 2.8 * unit, anchor="middle")
    return (
        f'<g class="scale-bar"><rect {rect} fill="#000000" stroke="#ffffff" stroke-width="{0.5 * unit:.2f}"'
        f' paint-order="stroke"/>{label}</g>'
    )


def overlay_svg(
    marks: Iterable[PictureMark], um_per_px: float | None, width_px: float, height_px: float
) -> str:
    """Return all marks and, when the scale is known, the scale bar as one SVG ``<g>``.

    Parameters
    ----------
    marks : iterable of PictureMark
        What to draw, in this order.
    um_per_px : float or None
        Scale of the picture.
    width_px, height_px : float
        Size of the picture; the fragment belongs into a ``viewBox`` of that size.

    Returns
    -------
    str
    """
    unit = default_unit_px(width_px, height_px)
    drawn = "".join(mark_svg(mark, um_per_px, unit, (width_px, height_px)) for mark in marks)
    bar = scale_bar_svg(um_per_px, width_px, height_px) if um_per_px else ""
    return f'<g class="marks">{drawn}{bar}</g>'


def _path(points: Sequence[Point]) -> str:
    return "M" + "L".join(f"{x + 0.5:.2f} {y + 0.5:.2f}" for x, y in points) + "Z"


def _text_svg(x: float, y: float, text: str, size: float, anchor: str = "start") -> str:
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-family="sans-serif" font-weight="bold" font-size="{size:.2f}"'
        f' text-anchor="{anchor}" dominant-baseline="central" fill="#000000" stroke="#ffffff"'
        f' stroke-width="{size / 5:.2f}" stroke-linejoin="round" paint-order="stroke">{_escaped(text)}</text>'
    )


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")


# ---------------------------------------------------------------------------------------------------------
# pixels


def draw_overlay(
    pixels: PictureArray, marks: Iterable[PictureMark], um_per_px: float | None
) -> NDArray[np.uint8]:
    """Draw marks and a scale bar into a copy of a picture, for a PNG that stands alone.

    Parameters
    ----------
    pixels : ndarray, shape (height, width) or (height, width, 3)
        ``uint8`` or ``uint16``.
    marks : iterable of PictureMark
        What to draw.
    um_per_px : float or None
        Scale of the picture; without it no bar is drawn.

    Returns
    -------
    ndarray of uint8, shape (height, width, 3)
    """
    image = Image.fromarray(to_8bit(pixels)).convert("RGB")
    width, height = image.size
    unit = default_unit_px(width, height)
    for mark in marks:
        shape = mark_geometry(mark, um_per_px, unit, (width, height))
        colour = style_of(mark.group).colour
        tile = _Tile(
            [*shape.outline, *shape.badge, shape.text_at], margin=4 * unit + 2 * unit * len(shape.text)
        )
        for ink, line in _inks(colour, unit):
            tile.line(shape.outline, ink, line, dash=None if mark.sure else (unit, 0.8 * unit))
        tile.line(shape.badge, "#ffffff", 0.6 * unit)
        tile.polygon(shape.badge, colour)
        tile.line(shape.badge, "#000000", 0.22 * unit)
        tile.text(shape.text_at, shape.text, 2.6 * unit, "lm")
        tile.paste_on(image)
    if um_per_px:
        bar = scale_bar(um_per_px, width)
        right, bottom = width - 0.5 - 2.5 * unit, height - 0.5 - 2.5 * unit
        left, top = right - bar.length_px, bottom - 0.7 * unit
        corners = ((left, top), (right, top), (right, bottom), (left, bottom))
        middle = ((left + right) / 2, bottom - 2.6 * unit)
        tile = _Tile([*corners, middle], margin=6 * unit)
        tile.line(corners, "#ffffff", 0.5 * unit)
        tile.polygon(corners, "#000000")
        tile.text(middle, bar.label, 2.8 * unit, "mm")
        tile.paste_on(image)
    return np.asarray(image).copy()


@cache
def font_file() -> str:
    """A font that comes with matplotlib and has the µ; Pillow's own lacks it."""
    import matplotlib

    return str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans-Bold.ttf")


class _Tile:
    """A small transparent sheet, drawn four times finer and then averaged, so that lines are smooth."""

    FINER = 4

    def __init__(self, points: Sequence[Point], margin: float) -> None:
        self.left = floor(min(x for x, _ in points) - margin)
        self.top = floor(min(y for _, y in points) - margin)
        width = int(max(x for x, _ in points) + margin) - self.left + 1
        height = int(max(y for _, y in points) + margin) - self.top + 1
        self.sheet = Image.new("RGBA", (width * self.FINER, height * self.FINER))
        self.pen = ImageDraw.Draw(self.sheet)

    def _at(self, point: Point) -> Point:
        return (point[0] - self.left + 0.5) * self.FINER, (point[1] - self.top + 0.5) * self.FINER

    def polygon(self, points: Sequence[Point], ink: str) -> None:
        self.pen.polygon([self._at(p) for p in points], fill=ink)

    def line(self, points: Sequence[Point], ink: str, width: float, dash: Point | None = None) -> None:
        thick = max(1, round(width * self.FINER))
        for piece in _dashes(points, dash) if dash else [[*points, points[0], points[1]]]:
            self.pen.line([self._at(p) for p in piece], fill=ink, width=thick, joint="curve")

    def text(self, point: Point, text: str, size: float, anchor: str) -> None:
        font = ImageFont.truetype(font_file(), size * self.FINER)
        stroke = max(1, round(size * self.FINER / 9))
        at = self._at(point)
        self.pen.text(at, text, "#000000", font, anchor, stroke_width=stroke, stroke_fill="#ffffff")

    def paste_on(self, image: Image.Image) -> None:
        small = self.sheet.reduce(self.FINER)
        image.paste(small, (self.left, self.top), small)


def _dashes(points: Sequence[Point], dash: Point) -> list[list[Point]]:
    """Cut a closed line into dashes of ``dash[0]`` with gaps of ``dash[1]``, evened out over its length."""
    ring = np.array([*points, points[0]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    count = max(3, round(along[-1] / sum(dash)))
    period = along[-1] / count
    share = dash[0] / sum(dash)
    pieces = []
    for k in range(count):
        at = np.linspace(k * period, (k + share) * period, 6)
        pieces.append(
            list(zip(np.interp(at, along, ring[:, 0]), np.interp(at, along, ring[:, 1]), strict=True))
        )
    return pieces
