"""Put a rough ellipse onto the true edge of an object, and measure it there.

Along lines across the rough outline the place is taken where the light changes fastest, to a part of a pixel;
places that disagree with their neighbours (debris that touches the object) are left out, and an ellipse is
fitted through the rest. Its scatter, the picture's scale and the blur make the interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.domain.ellipse import EllipseFit, distance_from, fit_ellipse
from fecallab.domain.measuring import EDGE_SE_UM, Amount, Measured, Point, Scale, measure_outline
from fecallab.imaging.grey import Grey

_NORMALS, _REACH, _STEP_PX = 96, 0.35, 0.25
_FEWEST_EDGES = 0.5
EDGE_SE_PX, EDGE_SE_SHARE = 1.6, 0.30
"""By how much a found edge may lie beside the true one as a whole, one standard deviation, besides what holds for
edges placed by hand: pixels, and share of the edge's width (tuned on drawn micrographs)."""


@dataclass(frozen=True)
class Edge:
    """The outer edge of an object.

    Attributes
    ----------
    points : ndarray, shape (n, 2)
        Columns and rows in order around the object.
    fit : EllipseFit
        The ellipse through them.
    blur_px : float
        Width of the edge (standard deviation), from focus, halo and wall together.
    """

    points: NDArray[np.float64]
    fit: EllipseFit
    blur_px: float


def find_edge(grey: Grey, centre: Point, long_px: float, short_px: float, angle_deg: float) -> Edge | None:
    """Find the outer edge of an object near a rough ellipse.

    Parameters
    ----------
    grey : ndarray of float32, shape (rows, columns)
        Brightness.
    centre : (float, float)
        Column and row of the rough ellipse.
    long_px, short_px : float
        Its long and short axes (whole, not halves), within about a tenth of the truth.
    angle_deg : float
        Long axis from +x towards +y (down).

    Returns
    -------
    Edge or None
        None when less than half of the outline shows an edge.
    """
    rough = EllipseFit(centre, long_px / 2, short_px / 2, angle_deg, 0.0, (0.0, 0.0, 0.0))
    reach = max(3.0, _REACH * short_px / 2)
    edge: Edge | None = None
    for share in (1.0, 0.45):
        seen = _edges(grey, rough, share * reach)
        fit = None if seen is None else _without_strays(seen[0])
        if seen is None or fit is None:
            return None
        rough = fit[0]
        edge = Edge(fit[1], rough, seen[1])
    return edge


def outer_axes(edge: Edge) -> tuple[float, float]:
    """Return the outer length and width along the axes of the fitted ellipse, pears and beans included.

    The distances of the points from the ellipse are smoothed around it by a few waves, so that single strays do
    not count.
    """
    fit, turn = edge.fit, np.radians(edge.fit.angle_deg)
    c, s = np.cos(turn), np.sin(turn)
    dx, dy = edge.points[:, 0] - fit.centre[0], edge.points[:, 1] - fit.centre[1]
    t = np.arctan2((c * dy - s * dx) / fit.half_short, (c * dx + s * dy) / fit.half_long)
    waves = _waves(t)
    strength = np.linalg.lstsq(
        waves.T @ waves + 0.02 * len(t) * np.eye(waves.shape[1]),
        waves.T @ distance_from(edge.points, fit),
        rcond=None,
    )[0]
    around = np.linspace(0, 2 * np.pi, 361)
    out = _waves(around) @ strength
    nu, nv = fit.half_short * np.cos(around), fit.half_long * np.sin(around)
    length = np.hypot(nu, nv)
    u = fit.half_long * np.cos(around) + out * nu / length
    v = fit.half_short * np.sin(around) + out * nv / length
    return float(np.ptp(u)), float(np.ptp(v))


def _waves(t: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.column_stack([wave(k * t) for k in (2, 3, 4) for wave in (np.cos, np.sin)])


def measure_on_edge(
    grey: Grey, centre: Point, long_px: float, short_px: float, angle_deg: float, scale: Scale
) -> Measured | None:
    """Measure an object from a rough ellipse, on its edge in the picture.

    Parameters as :func:`find_edge`.

    Returns
    -------
    Measured or None
        None when the picture shows no edge there.

    Notes
    -----
    Where the true edge lies within a soft one cannot be known from its scatter: halo, wall and focus move all of
    it together. On drawn micrographs that part is about one pixel at each end, far more than the scatter.
    """
    edge = find_edge(grey, centre, long_px, short_px, angle_deg)
    if edge is None:
        return None
    aside = math.hypot(
        EDGE_SE_UM, EDGE_SE_PX * scale.um_per_px, EDGE_SE_SHARE * edge.blur_px * scale.um_per_px
    )
    # neighbouring edges share pixels: about every third one tells something of its own
    thinned = edge.points[:: max(1, len(edge.points) // 28)]
    found, whole = (
        measure_outline(
            [(float(x), float(y)) for x, y in points], scale, edge_se_um=aside, placed_by_hand=False
        )
        for points in (thinned, edge.points)
    )
    assert found.width is not None
    long, short = (side * scale.um_per_px for side in outer_axes(edge))
    length, width = Amount(long, found.length.half_width), Amount(short, found.width.half_width)
    if width.value > length.value:
        length, width = width, length
    return replace(whole, length=length, width=width, angle_half_width_deg=found.angle_half_width_deg)


def _edges(grey: Grey, rough: EllipseFit, reach: float) -> tuple[NDArray[np.float64], float] | None:
    """Places of the edge along normals of a rough ellipse, and its width."""
    t = np.linspace(0, 2 * np.pi, _NORMALS, endpoint=False)
    turn = np.radians(rough.angle_deg)
    c, s = np.cos(turn), np.sin(turn)
    u, v = rough.half_long * np.cos(t), rough.half_short * np.sin(t)
    nu, nv = rough.half_short * np.cos(t), rough.half_long * np.sin(t)
    length = np.hypot(nu, nv)
    nu, nv = nu / length, nv / length
    x, y = rough.centre[0] + c * u - s * v, rough.centre[1] + s * u + c * v
    nx, ny = c * nu - s * nv, s * nu + c * nv
    along = np.arange(-reach, reach + _STEP_PX, _STEP_PX)
    at = np.stack([y[:, None] + ny[:, None] * along, x[:, None] + nx[:, None] * along])
    inside = (x > 1) & (y > 1) & (x < grey.shape[1] - 2) & (y < grey.shape[0] - 2)
    if inside.mean() < _FEWEST_EDGES:
        return None
    profile = ndimage.gaussian_filter1d(
        ndimage.map_coordinates(grey, at, order=3, mode="nearest"), 0.8 / _STEP_PX, axis=1
    )
    rise = np.asarray(np.gradient(profile, axis=1), float)  # from inside to outside
    outward, inward = (float(np.median(part.max(axis=1))) for part in (rise, -rise))
    if outward < 0.3 * inward:  # brighter than its ground, and without a dark rim
        rise = -rise
    k = np.argmax(rise[:, 2:-2], axis=1) + 2
    n = np.arange(len(t))
    before, peak, after = rise[n, k - 1], rise[n, k], rise[n, k + 1]
    curve = before - 2 * peak + after
    shift = np.where(curve < -1e-12, 0.5 * (before - after) / np.where(curve == 0, 1, curve), 0)
    place = along[k] + _STEP_PX * np.clip(shift, -1, 1)
    curvature = rough.half_long * rough.half_short / length**3
    blur = _edge_blur_px(rise, k)
    place = place + np.minimum(0.5 * blur**2 * curvature, 1.0)  # blur moves an edge inwards
    good = inside & (peak > 0.3 * np.median(peak[inside])) & (k > 2) & (k < len(along) - 3)
    if good.mean() < _FEWEST_EDGES:
        return None
    return np.asarray(np.column_stack([x + nx * place, y + ny * place])[good], float), blur


def _edge_blur_px(rise: NDArray[np.float64], peak: NDArray[np.intp]) -> float:
    """Blur of the edge (standard deviation), from how high and how narrow its rise is."""
    reach = int(6.0 / _STEP_PX)
    padded = np.pad(np.maximum(rise, 0), ((0, 0), (reach, reach)))
    rows = np.arange(len(peak))[:, None]
    around = padded[rows, peak[:, None] + np.arange(2 * reach + 1)]
    height = around[:, reach]
    width = around.sum(axis=1) * _STEP_PX / np.maximum(height, 1e-12) / np.sqrt(2 * np.pi)
    usual = float(np.median(width))
    return float(np.sqrt(max(usual**2 - 0.8**2, 0.0)))


def _without_strays(points: NDArray[np.float64]) -> tuple[EllipseFit, NDArray[np.float64]] | None:
    """Fit an ellipse, leaving out places far from it."""
    kept = points
    fit: EllipseFit | None = None
    for _ in range(3):
        fit = fit_ellipse(kept)
        if fit is None:
            return None
        rest = distance_from(points, fit)
        wide = max(1.4826 * float(np.median(np.abs(rest))), 0.15)
        chosen = points[np.abs(rest) < 3.5 * wide]
        if len(chosen) < _FEWEST_EDGES * _NORMALS * 0.8:
            return None
        if len(chosen) == len(kept):
            break
        kept = chosen
    return None if fit is None else (fit, kept)
