"""How an outline stands among the others of its picture: how many agree with it, and whether a better one lies there.

The contents of an egg, its inner wall, or a patch of debris around it can all look like outlines; beside the right one
they show. Strengths are told against the strongest of the picture too, so that one score serves clean and crowded,
sharp and blurred pictures.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fecallab.imaging.detect.trace import Ellipses, Floats

RELATION_NAMES = (
    "agreeing", "rival_fit", "rival_edge", "rival_larger", "margin_here", "likeness_here",
    "rival_looks", "rival_larger_looks", "agreeing_looks", "looks_here",
)  # fmt: skip
"""Names of these features, in order."""
_NEAR, _SAME_CENTRE, _SAME_AXES, _LARGER = 0.9, 0.25, 0.15, 1.3
_STRONG_PERCENTILE, _BEST_PERCENTILE, _LIMIT, _LOOKS_UNIT = 90, 99, 2.0, 3.0


def relations(
    ellipses: Ellipses, fit: Floats, margin: Floats, edge: Floats, likeness: Floats, looks: Floats
) -> Floats:
    """Compare the outlines of a picture, or of a tile, with each other.

    Parameters
    ----------
    ellipses : Ellipses
        All outlines.
    fit, margin, edge, likeness, looks : ndarray, shape (n,)
        Their features ``fit``, ``margin``, ``edge_mean``, ``likeness`` and ``closer``.

    Returns
    -------
    ndarray, shape (n, len(RELATION_NAMES))
        Logarithm of the number of outlines that agree; by how much the best of the others that overlap fits better,
        has the stronger edge, and so the best larger one (no less than -2); margin and likeness less those of the
        strongest tenth; by how much the best other and the best larger one looks better; the best looks of those
        that agree, less its own; looks less those of the best hundredth.

    Examples
    --------
    >>> three = Ellipses(*np.array([[50, 50, 90], [50, 51, 50], [20, 20, 5], [10, 10, 5], [0, 0, 0]], float))
    >>> one = np.ones(3)
    >>> relations(three, one, one, one, one, one)[:, 0].round(2).tolist()
    [0.69, 0.69, 0.0]
    """
    n = len(ellipses)
    if not n:
        return np.zeros((0, len(RELATION_NAMES)))
    a, b = ellipses.half_long, ellipses.half_short
    away = np.hypot(ellipses.x[:, None] - ellipses.x, ellipses.y[:, None] - ellipses.y)
    near = (away < _NEAR * a[:, None]) & ~np.eye(n, dtype=bool)
    same = near & agree(ellipses, ellipses)
    rival = near & ~same
    larger = rival & (a * b > _LARGER * (a * b)[:, None])
    strength, likely = margin + edge, looks / _LOOKS_UNIT

    def best(value: Floats, among: np.ndarray) -> Floats:
        over = np.where(among, value[None, :] - value[:, None], -_LIMIT).max(axis=1)
        return np.asarray(np.clip(over, -_LIMIT, _LIMIT))

    return np.stack(
        [
            np.log1p(same.sum(axis=1)),
            best(fit, rival),
            best(strength, rival),
            best(strength, larger),
            margin - np.percentile(margin, _STRONG_PERCENTILE),
            likeness - np.percentile(likeness, _STRONG_PERCENTILE),
            best(likely, rival),
            best(likely, larger),
            best(likely, same),
            likely - np.percentile(likely, _BEST_PERCENTILE),
        ],
        axis=1,
    )


def agree(some: Ellipses, others: Ellipses) -> NDArray[np.bool_]:
    """Say which of two sets of ellipses are of about the same place and size, shape (some, others)."""
    away = np.hypot(some.x[:, None] - others.x, some.y[:, None] - others.y)
    same = away < _SAME_CENTRE * some.half_short[:, None]
    for one, other in ((some.half_long, others.half_long), (some.half_short, others.half_short)):
        same &= np.abs(np.log(one[:, None] / other)) < _SAME_AXES
    return np.asarray(same)
