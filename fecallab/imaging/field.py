"""The lit circle: a phone at the eyepiece shows a round field in a dark surround.

The circle is found in a small copy, then its rim is placed along rays in the picture itself, and a circle is
fitted to it; what lies outside it is no part of the field, and its area is the area that was looked at.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.grey import Grey, WorkingCopy

_SMALL_PX = 360
_LIT_SHARE, _BRIGHT_PERCENTILE = 0.35, 98
_LEAST_ARC, _MOST_ROUGH, _DARKEST_SURROUND = 0.2, 0.02, 0.5
Points = NDArray[np.float64]


@dataclass(frozen=True)
class LitCircle:
    """The round field in a picture, in the picture's own pixels.

    Attributes
    ----------
    x_px, y_px : float
        Centre, column and row.
    diameter_px : float
        Diameter of the rim (where the light falls fastest).
    diameter_se_px : float
        Its standard error, from the scatter of the rim about a circle.
    arc : float
        Share of the rim that lies inside the picture, 0 to 1.
    lit_fraction : float
        Share of the picture that is lit.
    lit_area_px : float
        Area of the circle that lies inside the picture, in square pixels.
    """

    x_px: float
    y_px: float
    diameter_px: float
    diameter_se_px: float
    arc: float
    lit_fraction: float
    lit_area_px: float

    def area_mm2(self, um_per_px: float) -> float:
        """Return the area of the field that the picture shows, mm²."""
        return self.lit_area_px * (um_per_px / 1000) ** 2


def find_lit_circle(copy: WorkingCopy) -> LitCircle | None:
    """Find the lit circle.

    Parameters
    ----------
    copy : WorkingCopy
        From :func:`fecallab.imaging.grey.working_copy`.

    Returns
    -------
    LitCircle or None
        None when the whole picture is lit, when nothing is, or when the lit part is not round.
    """
    grey = copy.grey
    small, factor = _reduced(grey)
    rim = _rim_of(lit_part(small))
    if rim is None or len(rim) < 12:
        return None
    circle = _fitted(rim)
    if circle is None:
        return None
    x, y, r = ((circle[0] + 0.5) * factor - 0.5, (circle[1] + 0.5) * factor - 0.5, circle[2] * factor)
    edge = _edge_along_rays(grey, x, y, r, reach=max(4.0, 0.06 * r))
    fine = _fitted(edge) if len(edge) >= 30 else None
    if fine is None:
        return None
    x, y, r, rough, used = fine
    if rough > _MOST_ROUGH * r or len(edge) / _RAYS < _LEAST_ARC or not _dark_outside(grey, x, y, r):
        return None
    mask = disc(grey.shape, x, y, r)
    se = 2 * rough / np.sqrt(max(used / 8, 1)) + 0.2  # neighbouring rays see the same stain on the rim
    return LitCircle(
        x_px=copy.to_picture(x),
        y_px=copy.to_picture(y),
        diameter_px=2 * r * copy.shrink,
        diameter_se_px=float(se) * copy.shrink,
        arc=len(edge) / _RAYS,
        lit_fraction=float(mask.mean()),
        lit_area_px=float(mask.sum()) * copy.shrink**2,
    )


def disc(shape: tuple[int, ...], x_px: float, y_px: float, radius_px: float) -> NDArray[np.bool_]:
    """Return which pixels lie inside a circle.

    Examples
    --------
    >>> int(disc((5, 5), 2, 2, 1).sum())
    5
    """
    y = np.arange(shape[0])[:, None] - y_px
    x = np.arange(shape[1])[None, :] - x_px
    return np.asarray(x**2 + y**2 <= radius_px**2)


def lit_part(grey: Grey) -> NDArray[np.bool_]:
    """Return the largest lit part of a picture, holes filled; meant for a small copy."""
    smooth = ndimage.gaussian_filter(grey, 1.5)
    bright = float(np.percentile(smooth, _BRIGHT_PERCENTILE))
    lit = smooth > max(_LIT_SHARE * bright, 0.02)
    labels, count = ndimage.label(lit)
    if count > 1:
        sizes = np.bincount(labels.ravel())
        sizes[0] = 0
        lit = labels == int(np.argmax(sizes))
    framed = np.pad(lit, 1)  # holes that touch the border are not filled
    return np.asarray(ndimage.binary_fill_holes(framed)[1:-1, 1:-1], bool)


def _reduced(grey: Grey) -> tuple[Grey, int]:
    factor = max(1, int(np.ceil(max(grey.shape) / _SMALL_PX)))
    factor = min(factor, *grey.shape)
    rows, columns = (side // factor * factor for side in grey.shape)
    blocks = grey[:rows, :columns].reshape(rows // factor, factor, columns // factor, factor)
    return np.asarray(blocks.mean(axis=(1, 3)), np.float32), factor


def _rim_of(lit: NDArray[np.bool_]) -> Points | None:
    """Places on the edge of the lit part that do not lie on the border of the picture."""
    if not lit.any() or lit.all() or min(lit.shape) < 8:
        return None
    edge = lit & ~ndimage.binary_erosion(lit, border_value=1)
    edge[[0, 1, -2, -1], :] = False
    edge[:, [0, 1, -2, -1]] = False
    rows, columns = np.nonzero(edge)
    return np.column_stack([columns, rows]).astype(float)


def _fitted(points: Points) -> tuple[float, float, float, float, int] | None:
    """Fit a circle, outliers left out; centre, radius, scatter, points used."""
    rng = np.random.default_rng(0)
    best, most = np.ones(len(points), bool), -1
    tolerance = max(1.5, 0.01 * float(np.ptp(points, axis=0).max()))
    for _ in range(60):
        trial = _least_squares(points[rng.choice(len(points), 3, replace=False)])
        if trial is None:
            continue
        near = np.abs(np.hypot(points[:, 0] - trial[0], points[:, 1] - trial[1]) - trial[2]) < tolerance
        if near.sum() > most:
            best, most = near, int(near.sum())
    if most < max(10, 0.5 * len(points)):
        return None
    for _ in range(4):
        circle = _least_squares(points[best])
        if circle is None:
            return None
        x, y, r = circle
        rest = np.hypot(points[:, 0] - x, points[:, 1] - y) - r
        wide = max(1.4826 * float(np.median(np.abs(rest[best]))), 0.05)
        best = np.abs(rest) < 3.5 * wide
        if best.sum() < 8:
            return None
    return x, y, r, float(np.sqrt(np.mean(rest[best] ** 2))), int(best.sum())


def _least_squares(points: Points) -> tuple[float, float, float] | None:
    """Circle through points: algebraic fit about their mean, then geometric steps."""
    mean = points.mean(axis=0)
    x, y = (points - mean).T
    design = np.column_stack([x, y, np.ones(len(x))])
    answer, _, rank, _ = np.linalg.lstsq(design, x**2 + y**2, rcond=None)
    if rank < 3:
        return None
    cx, cy = answer[0] / 2, answer[1] / 2
    r = float(np.sqrt(max(answer[2] + cx**2 + cy**2, 0)))
    for _ in range(4 if len(points) > 3 else 0):
        away = np.hypot(x - cx, y - cy)
        jacobian = np.column_stack([(cx - x) / away, (cy - y) / away, -np.ones(len(x))])
        change = np.linalg.lstsq(jacobian, r - away, rcond=None)[0]
        cx, cy, r = cx + change[0], cy + change[1], r + float(change[2])
    return float(cx + mean[0]), float(cy + mean[1]), r


_RAYS = 720


def _edge_along_rays(grey: Grey, x: float, y: float, r: float, reach: float) -> Points:
    """Where the light falls fastest along rays from the centre, near a radius.

    Rays that leave the picture are left out.
    """
    angle = np.linspace(0, 2 * np.pi, _RAYS, endpoint=False)
    distance = np.arange(r - reach, r + reach, 0.5)
    px = x + np.cos(angle)[:, None] * distance
    py = y + np.sin(angle)[:, None] * distance
    value = ndimage.map_coordinates(grey, [py, px], order=1, mode="nearest")
    smooth = ndimage.gaussian_filter1d(value, 2.0 + r / 400, axis=1)
    fall = -np.gradient(smooth, axis=1)
    k = np.argmax(fall[:, 2:-2], axis=1) + 2
    rays = np.arange(_RAYS)
    before, at, after = fall[rays, k - 1], fall[rays, k], fall[rays, k + 1]
    curve = before - 2 * at + after
    shift = np.where(np.abs(curve) > 1e-12, 0.5 * (before - after) / np.where(curve == 0, 1, curve), 0)
    found = distance[k] + 0.5 * np.clip(shift, -1, 1)
    ex, ey = x + np.cos(angle) * found, y + np.sin(angle) * found
    inside = (ex > 1) & (ey > 1) & (ex < grey.shape[1] - 2) & (ey < grey.shape[0] - 2)
    strong = at > 0.25 * np.median(at[inside]) if inside.any() else inside
    return np.asarray(np.column_stack([ex, ey])[inside & strong], float)


def _dark_outside(grey: Grey, x: float, y: float, r: float) -> bool:
    inner = disc(grey.shape, x, y, 0.93 * r)
    outer = disc(grey.shape, x, y, 1.15 * r) & ~disc(grey.shape, x, y, 1.06 * r)
    if not inner.any() or outer.sum() < 20:
        return False
    return float(np.median(grey[outer])) < _DARKEST_SURROUND * float(np.median(grey[inner]))
