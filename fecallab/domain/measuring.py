"""Sizes with their uncertainty: from pixels, blur and scale to micrometres; lines, ellipses and outlines.

Every half width here is that of a 95 % interval. Three things make a size uncertain and are added as squares: where
points are placed (by hand, on a blurred edge), where the true edge lies within the line that is seen, and the scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fecallab.domain.checked import positive_number
from fecallab.domain.errors import BadInput

Point = tuple[float, float]

Z95 = 1.959963984540054
"""Half width of a 95 % interval, in standard errors."""
POINTING_SE_PX = 0.5
"""How well a hand puts a point on a sharp edge, one standard deviation (own choice, no source)."""
BLUR_SHARE = 0.35
"""What part of the edge's blur is added to that (own choice, no source)."""


EDGE_SE_UM = 0.25
"""Where the true edge lies within the line that is seen, one standard deviation in µm; all edges of an object move
together, so that a size gets ± 1 µm (derived: half a µm at each end, as eggs are usually measured)."""


@dataclass(frozen=True)
class Amount:
    """A number with the half width of its 95 % interval.

    Examples
    --------
    >>> Amount(24.0, 1.0).interval
    (23.0, 25.0)
    """

    value: float
    half_width: float

    @property
    def interval(self) -> tuple[float, float]:
        """Lower and upper limit; the lower one is never below 0."""
        return max(0.0, self.value - self.half_width), self.value + self.half_width


@dataclass(frozen=True)
class Scale:
    """µm per pixel and the half width of its 95 % interval."""

    um_per_px: float
    half_width: float = 0.0

    def __post_init__(self) -> None:
        positive_number(self.um_per_px, "the scale", least=1e-4, most=1e4, unit="µm per pixel")
        if not 0 <= self.half_width < self.um_per_px:
            raise BadInput(
                f"the scale's interval is ± {self.half_width!r}; it lies between 0 and the scale itself.",
                next="Give the half width of its interval in µm per pixel.",
                code="scale-interval",
            )

    @property
    def share(self) -> float:
        """Half width as a share of the scale."""
        return self.half_width / self.um_per_px


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What was measured; None where the shape has no such size.

    Attributes
    ----------
    length, width : Amount or None
        µm; the outer long and short axes, or the length of a line.
    area : Amount or None
        µm².
    angle_deg : float
        Long axis from +x towards +y (down), 0 ≤ angle < 180.
    angle_half_width_deg : float
        Half of its 95 % interval; 90 for a circle, which has no direction.
    x_px, y_px : float
        Centre.
    roundness_rest : float
        How far the points lie from an ellipse, as a share of the short axis; 0 for a line or a given ellipse.
    """

    length: Amount
    width: Amount | None = None
    area: Amount | None = None
    angle_deg: float
    angle_half_width_deg: float
    x_px: float
    y_px: float
    roundness_rest: float = 0.0


def placing_se_px(blur_px: float = 0.0) -> float:
    """Return how well one point of an edge is placed by hand, one standard deviation in pixels.

    Examples
    --------
    >>> placing_se_px(), round(placing_se_px(3.0), 2)
    (0.5, 1.16)
    """
    if not 0 <= blur_px <= 1000:
        raise BadInput(
            f"the blur is {blur_px!r}; it is 0 to 1000 pixels.", next="Check the number.", code="blur"
        )
    return math.hypot(POINTING_SE_PX, BLUR_SHARE * blur_px)


def _scaled(length_px: float, se_px: float, scale: Scale, edge_se_um: float) -> Amount:
    value = length_px * scale.um_per_px
    placed, edge = Z95 * se_px * scale.um_per_px, Z95 * 2 * edge_se_um
    return Amount(value, math.hypot(placed, edge, value * scale.share))


def measure_line(
    start: Point, end: Point, scale: Scale, *, blur_px: float = 0.0, edge_se_um: float = EDGE_SE_UM
) -> Measured:
    """Measure from point to point.

    Parameters
    ----------
    start, end : (float, float)
        Column and row.
    scale : Scale
        Of the picture.
    blur_px : float, optional
        Blur of the edges (standard deviation), as the check of the picture tells it.
    edge_se_um : float, optional
        Where the true edge lies within the seen one; 0 for lines that are no edges.

    Examples
    --------
    >>> found = measure_line((0, 0), (300, 400), Scale(0.25, 0.001))
    >>> round(found.length.value, 2), round(found.length.half_width, 2), round(found.angle_deg, 1)
    (125.0, 1.15, 53.1)
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = math.hypot(dx, dy)
    if not (math.isfinite(length) and length > 0):
        raise BadInput("The two ends lie on each other.", next="Give two different points.", code="no-length")
    se = placing_se_px(blur_px)
    turn = math.degrees(Z95 * se * math.sqrt(2) / length)
    return Measured(
        length=_scaled(length, se * math.sqrt(2), scale, edge_se_um),
        angle_deg=math.degrees(math.atan2(dy, dx)) % 180 % 180,
        angle_half_width_deg=min(turn, 90.0),
        x_px=(start[0] + end[0]) / 2,
        y_px=(start[1] + end[1]) / 2,
    )


def measure_ellipse(
    centre: Point,
    long_px: float,
    short_px: float,
    angle_deg: float,
    scale: Scale,
    *,
    blur_px: float = 0.0,
    edge_se_um: float = EDGE_SE_UM,
) -> Measured:
    """Measure an ellipse that was laid over an object: outer long and short axes in pixels.

    Each axis is two edges placed by hand.

    Examples
    --------
    >>> found = measure_ellipse((50, 50), 100, 60, 30, Scale(0.5))
    >>> round(found.length.value), round(found.width.value), round(found.area.value)
    (50, 30, 1178)
    """
    for name, value in (("the long axis", long_px), ("the short axis", short_px)):
        positive_number(value, name, least=1e-3, most=1e6, unit="pixels")
    if short_px > long_px:
        long_px, short_px, angle_deg = short_px, long_px, angle_deg + 90
    se = placing_se_px(blur_px) * math.sqrt(2)
    return _ellipse(centre, (long_px, se), (short_px, se), angle_deg, se, scale, edge_se_um)


def _ellipse(
    centre: Point,
    long: tuple[float, float],
    short: tuple[float, float],
    angle_deg: float,
    turn_se_px: float,
    scale: Scale,
    edge_se_um: float,
    *,
    rest: float = 0.0,
    area_px: float | None = None,
) -> Measured:
    area = math.pi / 4 * long[0] * short[0] if area_px is None else area_px
    aside = 2 * edge_se_um / scale.um_per_px * (1 / long[0] + 1 / short[0])  # all edges move together
    share = math.hypot(long[1] / long[0], short[1] / short[0], aside)
    um2 = area * scale.um_per_px**2
    longer = max(long[0] - short[0], 1e-9)
    turn = math.degrees(Z95 * turn_se_px / longer)
    return Measured(
        length=_scaled(*long, scale, edge_se_um),
        width=_scaled(*short, scale, edge_se_um),
        area=Amount(um2, um2 * math.hypot(Z95 * share, 2 * scale.share)),
        angle_deg=angle_deg % 180 % 180,
        angle_half_width_deg=min(turn, 90.0),
        x_px=centre[0],
        y_px=centre[1],
        roundness_rest=rest,
    )


def measure_outline(
    points: Sequence[Point],
    scale: Scale,
    *,
    blur_px: float = 0.0,
    edge_se_um: float = EDGE_SE_UM,
    placed_by_hand: bool = True,
) -> Measured:
    """Measure a closed outline of five points or more.

    Axes and angle are those of the ellipse that fits the points best (least squares of the distances); the area
    is that of the outline itself where it has twelve points or more, else of the ellipse.

    Parameters
    ----------
    points : sequence of (float, float)
        Column and row, in order around the object.
    scale, blur_px, edge_se_um
        As for :func:`measure_line`.
    placed_by_hand : bool, optional
        Points set by hand are taken to be no better than a hand can be; else only their scatter counts.

    Raises
    ------
    BadInput
        Fewer than five points, or points that go around nothing.
    """
    import numpy as np
    from scipy import stats

    from fecallab.domain.ellipse import fit_ellipse

    at = np.asarray(points, float)
    if at.ndim != 2 or at.shape[0] < 5 or at.shape[1] != 2 or not np.isfinite(at).all():
        raise BadInput(
            f"{len(points)} points were given; an outline needs five or more.",
            next="Set points all around the object.",
            code="outline-points",
        )
    fit = fit_ellipse(at)
    if fit is None:
        raise BadInput(
            "These points do not go around an object.",
            next="Set points all around the object, in order.",
            code="outline-open",
        )
    degrees = max(len(at) - 5, 1)
    seen = fit.scatter_px * float(stats.t.ppf(0.975, degrees)) / Z95
    if placed_by_hand:  # few points tell little of their own scatter
        seen = max(fit.scatter_px, placing_se_px(blur_px))
    se_long, se_short, se_turn = (2 * seen * unit for unit in fit.unit_errors)
    x, y = at.T
    polygon = abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))) / 2
    return _ellipse(
        fit.centre,
        (2 * fit.half_long, se_long),
        (2 * fit.half_short, se_short),
        fit.angle_deg,
        se_turn,
        scale,
        edge_se_um,
        rest=fit.scatter_px / fit.half_short / 2,
        area_px=polygon if len(at) >= 12 else None,
    )
