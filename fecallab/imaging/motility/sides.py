"""What is known of a body on one side of a moment, and by how much two sides differ: one body, or two?

The weights are a logistic fit to drawn clips; :mod:`.fit_sides` makes it again.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]
NAMES = ("area", "peak", "length", "course", "place")
"""What two sides may differ in, each in its own usual differences, squared."""
FEW = 4
_WINDOW_S, _LOOKS_S = 0.25, 0.8


@dataclass(frozen=True)
class Side:
    """What is known of a body on one side of a meeting."""

    time_s: float
    place: Values  # (2,) at `time_s`
    velocity: Values  # (2,), µm/s
    looks: Values  # (3,) log of area, peak and length
    spread: Values  # (3,) how much these vary by themselves


def side_of(held: tuple[NDArray[np.intp], Values], times_s: Values, way: int) -> Side | None:
    """Return what the rows before (`way` -1) or after (1) a meeting tell; None for too few."""
    at, rows = held
    if len(at) < FEW:
        return None
    order = slice(None, None, -1) if way < 0 else slice(None)
    at, rows = at[order], rows[order]
    since = np.abs(times_s[at] - times_s[at[0]])
    near = since <= _WINDOW_S
    near[:FEW] = True
    t = times_s[at[near]] - times_s[at[0]]
    xy = rows[near, :2]
    middle = t.mean()
    velocity = ((t - middle)[:, None] * xy).sum(axis=0) / max(float(((t - middle) ** 2).sum()), 1e-9)
    whole = (since <= _LOOKS_S) & (rows[:, 7] < 0.5)
    if whole.sum() < FEW:
        whole = since <= _LOOKS_S
    seen = np.log(np.maximum(rows[whole][:, [2, 6, 3]], 1e-6))
    return Side(
        time_s=float(times_s[at[0]]),
        place=xy.mean(axis=0) - velocity * middle,
        velocity=velocity,
        looks=np.median(seen, axis=0),
        spread=seen.std(axis=0) + 0.05,
    )


def unlikeness(before: Side, after: Side) -> Values:
    """Return how much two sides differ in each of `NAMES`: the logarithm of 1 + the square of usual differences."""
    looks = (before.looks - after.looks) ** 2 / (0.15**2 + before.spread**2 + after.spread**2)
    wait = max(after.time_s - before.time_s, 0.0)
    pace = max(float(np.hypot(*before.velocity)), float(np.hypot(*after.velocity)))
    turned = float(((after.velocity - before.velocity) ** 2).sum()) / (4.0 + 0.4 * pace) ** 2
    miss = after.place - before.place - 0.5 * (before.velocity + after.velocity) * wait
    size = float(np.exp(0.5 * (before.looks[2] + after.looks[2])))
    off = float((miss**2).sum()) / (1.0 + 0.1 * size + 0.25 * pace * wait) ** 2
    return np.asarray(np.log1p([*looks, turned, off]))


@dataclass(frozen=True)
class TwoBodies:
    """A logistic of `unlikeness`.

    Attributes
    ----------
    weights : ndarray, shape (5,)
        Of `NAMES`, 0 or more.
    two_from : float
        From this sum on, two sides are of two bodies rather than of one.
    """

    weights: Values
    two_from: float

    def odds(self, before: Side, after: Side) -> float:
        """Return the logarithm of how much likelier two sides are of two bodies than of one."""
        return float(self.weights @ unlikeness(before, after)) - self.two_from


def data_folder() -> Path:
    """Return where the coefficients and the table that they are fitted to lie."""
    return Path(str(resources.files("fecallab.imaging.motility"))) / "data"


@cache
def drawn_odds(where: str) -> TwoBodies:
    """Return the coefficients for ``hops`` within one track, or for ``meetings`` of two."""
    told = json.loads((data_folder() / "sides.json").read_text(encoding="utf-8"))
    if tuple(told["features"]) != NAMES:
        raise ValueError("the coefficients belong to other features")
    return TwoBodies(np.array(told[where]["weights"], float), float(told[where]["two_from"]))
