"""The ellipse that fits points on an outline best, and how certain its axes are."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True)
class EllipseFit:
    """An ellipse fitted to points.

    Attributes
    ----------
    centre : (float, float)
    half_long, half_short : float
        Half axes.
    angle_deg : float
        Long axis from +x towards +y (down), 0 ≤ angle < 180.
    scatter_px : float
        Standard deviation of the points across the outline.
    unit_errors : (float, float, float)
        Standard errors of the two half axes, and of the place of the long axis's end across it, for points
        that scatter by 1.
    """

    centre: tuple[float, float]
    half_long: float
    half_short: float
    angle_deg: float
    scatter_px: float
    unit_errors: tuple[float, float, float]


def fit_ellipse(points: NDArray[np.float64]) -> EllipseFit | None:
    """Fit an ellipse by the distances of the points from it; None when they go around nothing.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        Columns and rows of five points or more.

    Examples
    --------
    >>> import numpy as np
    >>> t = np.linspace(0, 6, 40)
    >>> fit = fit_ellipse(np.column_stack([20 + 9 * np.cos(t), 30 + 4 * np.sin(t)]))
    >>> round(fit.half_long, 6), round(fit.half_short, 6), round(math.sin(math.radians(fit.angle_deg)), 6)
    (9.0, 4.0, 0.0)
    """
    import numpy as np
    from scipy.optimize import least_squares

    mean = points.mean(axis=0)
    spread = np.cov((points - mean).T)
    if not np.isfinite(spread).all():
        return None
    values, vectors = np.linalg.eigh(spread)
    if values[0] <= 1e-6 * values[1] or values[0] <= 0:
        return None
    size = math.sqrt(2 * values[1])
    start = [*mean, size, math.sqrt(2 * values[0]), math.atan2(vectors[1, 1], vectors[0, 1])]

    def rest(p: Any) -> Any:
        return _distance(points, p)

    found = least_squares(rest, start, x_scale=[size, size, size, size, 1.0], method="trf", max_nfev=200)
    x, y, a, b, turn = found.x
    a, b = abs(a), abs(b)
    if not np.isfinite(found.x).all() or b <= 0 or a > 20 * size:
        return None
    around = np.sort(np.arctan2(*((points - [x, y]).T[::-1])))
    if np.max(np.diff(np.append(around, around[0] + 2 * math.pi))) > 1.2 * math.pi:
        return None
    jacobian = np.asarray(found.jac, float)
    covariance = np.linalg.pinv(jacobian.T @ jacobian)
    se = np.sqrt(np.maximum(np.diag(covariance), 0))
    scatter = math.sqrt(2 * found.cost / max(len(points) - 5, 1))
    errors = (float(se[2]), float(se[3]), float(se[4]) * abs(a - b))
    if b > a:
        a, b, turn, errors = b, a, turn + math.pi / 2, (errors[1], errors[0], errors[2])
    return EllipseFit(
        (float(x), float(y)), float(a), float(b), math.degrees(turn) % 180 % 180, scatter, errors
    )


def _distance(points: NDArray[np.float64], p: Any) -> Any:
    """Distance of points from an ellipse, to second order (exact for points on it)."""
    import numpy as np

    x, y, a, b, turn = p
    c, s = math.cos(turn), math.sin(turn)
    u = (c * (points[:, 0] - x) + s * (points[:, 1] - y)) / a
    v = (c * (points[:, 1] - y) - s * (points[:, 0] - x)) / b
    level = np.hypot(u, v)
    slope = np.hypot(u / a, v / b) / np.maximum(level, 1e-12)
    return (level - 1) / np.maximum(slope, 1e-12)


def distance_from(points: NDArray[np.float64], fit: EllipseFit) -> NDArray[np.float64]:
    """Return how far points lie from an ellipse, positive outside (exact on it, close to exact near it)."""
    turn = math.radians(fit.angle_deg)
    found: NDArray[np.float64] = _distance(points, (*fit.centre, fit.half_long, fit.half_short, turn))
    return found
