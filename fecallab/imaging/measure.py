"""Put a rough ellipse onto the true edge of an object, and measure it there.

Along lines across the rough outline the place is taken where the light changes fastest, to a part of a pixel;
places that disagree with their neighbours (debris that touches the object) are left out, and an ellipse is
fitted through the rest. Its scatter, the picture's scale and the blur make the interval.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.domain.ellipse import EllipseFit, fit_ellipse
from fecallab.domain.measuring import Measured, Point, Scale, measure_outline
from fecallab.imaging.grey import Grey

_NORMALS, _REACH, _STEP_PX = 96, 0.35, 0.25
_FEWEST_EDGES = 0.5


def edge_points(
    grey: Grey, centre: Point, long_px: float, short_px: float, angle_deg: float
) -> NDArray[np.float64] | None:
    """Find the outer edge of an object near a rough ellipse.

    Parameters
    ----------
    grey : ndarray of float32, shape (rows, columns)
        Brightness.
    centre : (float, float)
        Column and row of the rough ellipse.
    long_px, short_px : float
        Its long and short axes (whole, not halves), within about a quarter of the truth.
    angle_deg : float
        Long axis from +x towards +y (down).

    Returns
    -------
    ndarray, shape (n, 2), or None
        Columns and rows in order around the object; None when less than half of the outline shows an edge.
    """
    rough = EllipseFit(centre, long_px / 2, short_px / 2, angle_deg, 0.0, (0.0, 0.0, 0.0))
    reach = max(3.0, _REACH * short_px / 2)
    points = None
    for share in (1.0, 0.45):
        points = _edges(grey, rough, share * reach)
        if points is None:
            return None
        fit = _without_strays(points)
        if fit is None:
            return None
        rough, points = fit
    return points


def measure_on_edge(
    grey: Grey, centre: Point, long_px: float, short_px: float, angle_deg: float, scale: Scale
) -> Measured | None:
    """Measure an object from a rough ellipse, on its edge in the picture.

    Parameters as :func:`edge_points`.

    Returns
    -------
    Measured or None
        None when the picture shows no edge there.
    """
    points = edge_points(grey, centre, long_px, short_px, angle_deg)
    if points is None:
        return None
    # neighbouring edges share pixels: about every third one tells something of its own
    thinned = points[:: max(1, len(points) // 28)]
    found = measure_outline([(float(x), float(y)) for x, y in thinned], scale, placed_by_hand=False)
    whole = measure_outline([(float(x), float(y)) for x, y in points], scale, placed_by_hand=False)
    length, width = found.length, found.width
    assert width is not None and whole.width is not None
    return replace(
        whole,
        length=replace(length, value=whole.length.value),
        width=replace(width, value=whole.width.value),
        angle_half_width_deg=found.angle_half_width_deg,
    )


def _edges(grey: Grey, rough: EllipseFit, reach: float) -> NDArray[np.float64] | None:
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
    rise = np.gradient(profile, axis=1)  # from inside to outside
    middle = np.median(rise, axis=0)
    if abs(middle.min()) > abs(middle.max()):  # an object brighter than its ground
        rise = -rise
    k = np.argmax(rise[:, 2:-2], axis=1) + 2
    n = np.arange(len(t))
    before, peak, after = rise[n, k - 1], rise[n, k], rise[n, k + 1]
    curve = before - 2 * peak + after
    shift = np.where(curve < -1e-12, 0.5 * (before - after) / np.where(curve == 0, 1, curve), 0)
    place = along[k] + _STEP_PX * np.clip(shift, -1, 1)
    curvature = rough.half_long * rough.half_short / length**3
    place = place + np.minimum(0.5 * _edge_blur_px(rise, k) ** 2 * curvature, 1.0)  # blur moves an edge inwards
    good = inside & (peak > 0.3 * np.median(peak[inside])) & (k > 2) & (k < len(along) - 3)
    if good.mean() < _FEWEST_EDGES:
        return None
    return np.asarray(np.column_stack([x + nx * place, y + ny * place])[good], float)


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
    from fecallab.domain.ellipse import distance_from

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
