"""From what was drawn over an object to its size, again whenever the scale changes."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from fecallab.domain.errors import BadInput
from fecallab.domain.measuring import Scale, measure_ellipse, measure_line, measure_outline
from napari_fecallab.state import Field, Mark, Point

if TYPE_CHECKING:
    from fecallab.domain.measuring import Measured

ELLIPSE_POINTS = 24
"""As how many points an ellipse is kept (own choice)."""
MOST_PX = 1e6
"""Columns and rows beyond this are no place in any picture."""
Measure = Callable[[Scale, float], "Measured"]
"""Measures with a scale and a blur in pixels."""


def ellipse_points(centre: Point, long_px: float, short_px: float, angle_deg: float) -> tuple[Point, ...]:
    """Return the outline of an ellipse; its first point is an end of the axis that was named first.

    Examples
    --------
    >>> ellipse_points((10, 20), 8, 4, 0)[0]
    (14.0, 20.0)
    """
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    turns = (2 * math.pi * k / ELLIPSE_POINTS for k in range(ELLIPSE_POINTS))
    half = [(long_px / 2 * math.cos(t), short_px / 2 * math.sin(t)) for t in turns]
    return tuple((centre[0] + c * u - s * v, centre[1] + s * u + c * v) for u, v in half)


def ellipse_of(points: Sequence[Point]) -> tuple[Point, float, float, float]:
    """Return centre, axes and angle of an ellipse from its outline.

    Examples
    --------
    >>> centre, long_px, short_px, angle = ellipse_of(ellipse_points((10, 20), 8, 4, 30))
    >>> [round(value, 6) for value in (*centre, long_px, short_px, angle)]
    [10.0, 20.0, 8.0, 4.0, 30.0]
    """
    half, quarter = len(points) // 2, len(points) // 4
    x = sum(p[0] for p in points) / len(points)
    y = sum(p[1] for p in points) / len(points)
    end, other, side, beyond = points[0], points[half], points[quarter], points[half + quarter]
    long_px = math.dist(end, other)
    short_px = math.dist(side, beyond)
    angle = math.degrees(math.atan2(end[1] - other[1], end[0] - other[0])) % 180 % 180
    return (x, y), long_px, short_px, angle


def moved_points(points: Sequence[Point], by: Point) -> tuple[Point, ...]:
    """Return points moved along."""
    return tuple((x + by[0], y + by[1]) for x, y in points)


def sized(mark: Mark, place: Field, blur_px: float, how: Measure) -> Mark:
    """Return a mark with the size that was measured; without a scale only with its direction.

    Raises
    ------
    BadInput
        When what was drawn goes around nothing or has no length.
    """
    scale = Scale(place.um_per_px, place.scale_half_width) if place.um_per_px else Scale(1.0)
    found = how(scale, blur_px)
    if place.um_per_px is None:
        none = {"length_um": None, "length_half_um": None, "width_um": None, "width_half_um": None}
        return replace(mark, angle_deg=found.angle_deg, **none)  # type: ignore[arg-type]
    return replace(
        mark,
        length_um=found.length.value,
        length_half_um=found.length.half_width,
        width_um=found.width.value if found.width else None,
        width_half_um=found.width.half_width if found.width else None,
        angle_deg=found.angle_deg,
    )


def at_scale(mark: Mark, before: Field, after: Field, blur_px: float) -> Mark:
    """Return a mark as it is measured with another scale of its field.

    What was drawn is measured again; a recorded size, of which only the µm are known, grows with the scale.
    """
    if mark.shape:
        return sized(mark, after, blur_px, _again(mark))
    if mark.length_um is None:
        return mark
    if after.um_per_px is None:
        none = {"length_um": None, "length_half_um": None, "width_um": None, "width_half_um": None}
        return replace(mark, **none)  # type: ignore[arg-type]
    if before.um_per_px is None:
        return mark
    times = after.um_per_px / before.um_per_px
    return replace(
        mark,
        length_um=mark.length_um * times,
        width_um=mark.width_um * times if mark.width_um else None,
        length_half_um=None,
        width_half_um=None,
    )


def _again(mark: Mark) -> Measure:
    points = mark.points_px
    if mark.shape == "line":
        return lambda scale, blur: measure_line(points[0], points[1], scale, blur_px=blur)
    if mark.shape == "ellipse":
        return lambda scale, blur: measure_ellipse(*ellipse_of(points), scale, blur_px=blur)
    return lambda scale, blur: measure_outline(points, scale, blur_px=blur)


def place_px(value: float, what: str) -> float:
    """Return a column or row as a number, or refuse what is none."""
    number = float(value)
    if not math.isfinite(number) or abs(number) > MOST_PX:
        raise BadInput(f"The {what} {value!r} is no place in a picture.", code="no-place")
    return number
