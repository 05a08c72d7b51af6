"""One outline per object: of ellipses that cover each other, the one that ranks higher stays."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from fecallab.imaging.detect.trace import Ellipses, Floats

_RINGS, _TURNS = (0.25, 0.55, 0.8, 0.97), 16


def alike(ellipses: Ellipses, score: Floats, tolerance: float = 0.16) -> NDArray[np.intp]:
    """Return which to keep of ellipses that are nearly the same, best score first.

    Parameters
    ----------
    ellipses : Ellipses
    score : ndarray, shape (n,)
    tolerance : float, optional
        Two are alike when centres, sizes and ends differ by less than this share of the short half axis.
    """
    order = np.argsort(-score, kind="stable")
    if len(order) < 2:
        return order
    e = ellipses.of(order)
    ends = _ends(e).reshape(len(order), -1)
    reach = 2 * tolerance * e.half_short
    pairs = cKDTree(ends).query_pairs(float(reach.max()), p=np.inf, output_type="ndarray")
    away = np.abs(ends[pairs[:, 0]] - ends[pairs[:, 1]]).max(axis=1)
    pairs = pairs[away < np.maximum(reach[pairs[:, 0]], reach[pairs[:, 1]])]
    pairs = pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]
    dead = np.zeros(len(order), bool)
    for better, worse in pairs.tolist():
        if not dead[better]:
            dead[worse] = True
    return order[~dead]


def _ends(e: Ellipses) -> NDArray[np.floating]:
    """Boxes around the ellipses at 0 and at 45 degrees, which differ where the ellipses differ."""
    sides = []
    for turn in (0.0, np.pi / 4, np.pi / 2, 3 * np.pi / 4):
        reach = np.hypot(e.half_long * np.cos(e.angle - turn), e.half_short * np.sin(e.angle - turn))
        middle = e.x * np.cos(turn) + e.y * np.sin(turn)
        sides.append(np.stack([middle - reach, middle + reach], axis=-1))
    return np.stack(sides, axis=1)


def suppress(ellipses: Ellipses, score: Floats, share: float = 0.4) -> NDArray[np.intp]:
    """Return which to keep, best first: none whose smaller partner is covered by more than `share`.

    Parameters
    ----------
    ellipses : Ellipses
    score : ndarray, shape (n,)
    share : float, optional
        Share of the smaller of two ellipses that the other may cover.
    """
    order = np.argsort(-score, kind="stable")
    kept: list[int] = []
    for k in order:
        if all(_covered(ellipses, k, j) <= share for j in kept if _near(ellipses, k, j)):
            kept.append(int(k))
    return np.array(kept, np.intp)


def _near(e: Ellipses, k: int, j: int) -> bool:
    reach = e.half_long[k] + e.half_long[j]
    return bool(abs(e.x[k] - e.x[j]) < reach and abs(e.y[k] - e.y[j]) < reach)


def _covered(e: Ellipses, k: int, j: int) -> float:
    """Share of the smaller of two ellipses that lies in the larger one."""
    small, large = (k, j) if e.half_long[k] * e.half_short[k] < e.half_long[j] * e.half_short[j] else (j, k)
    t = np.arange(_TURNS) * (2 * np.pi / _TURNS)
    ring = np.array(_RINGS)[:, None]
    u, v = (ring * e.half_long[small] * np.cos(t)).ravel(), (ring * e.half_short[small] * np.sin(t)).ravel()
    c, s = np.cos(e.angle[small]), np.sin(e.angle[small])
    dx, dy = e.x[small] + c * u - s * v - e.x[large], e.y[small] + s * u + c * v - e.y[large]
    c, s = np.cos(e.angle[large]), np.sin(e.angle[large])
    inside = ((c * dx + s * dy) / e.half_long[large]) ** 2 + (
        (c * dy - s * dx) / e.half_short[large]
    ) ** 2 < 1
    weight = np.repeat(np.array(_RINGS), _TURNS)
    return float((inside * weight).sum() / weight.sum())
