"""The score of long objects: a logistic of readable features, fitted to drawings (tests/bench/long_thin_fields.py)."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path

import numpy as np

from fecallab.imaging.detect.trace import Floats

SHARES = 6
LONG_NAMES = (
    "length", "aspect", "width", "fit", "fit_worst", "fit_second_worst",
    *(f"walls_{k}" for k in range(SHARES)),
    "beyond_head", "beyond_tail", "tail_if_even", "head_if_even", "narrower", "wider", "sides_differ",
    *(f"inside_{k}" for k in range(SHARES)),
    "outside_differs", "inside_uneven", "outside_uneven", "strength", "straight", "turning", "bend_uneven", "line",
    "at_border", "crossed",
)  # fmt: skip
"""Names of the features of long objects, in order; `walls_0` and `inside_0` belong to the head, the last to the tail."""
_SCORE = Path(str(resources.files("fecallab.imaging.detect"))) / "data" / "long.json"
_CLIP = 4.0


@dataclass(frozen=True)
class LongScore:
    """A logistic of the features and their squares, each by its mean and spread.

    Attributes
    ----------
    mean, spread : ndarray, shape (len(LONG_NAMES),)
    weights : ndarray, shape (2 * len(LONG_NAMES),)
        Of the features, then of their squares.
    intercept : float
    """

    mean: Floats
    spread: Floats
    weights: Floats
    intercept: float

    def terms(self, features: Floats) -> Floats:
        """Return features and squares as they are weighed, shape (n, 2 * len(LONG_NAMES))."""
        standard = np.clip((features - self.mean) / self.spread, -_CLIP, _CLIP)
        return np.column_stack([standard, standard**2 / _CLIP])

    def of(self, features: Floats) -> Floats:
        """Return a score from 0 to 1 for each row."""
        logit = self.terms(features) @ self.weights + self.intercept
        return np.asarray(1 / (1 + np.exp(-np.clip(logit, -30, 30))))


@cache
def drawn_long_score() -> LongScore:
    """Return the score that was fitted to drawn larvae, fibres, hairs and debris (tests/bench/long_thin_fields.py)."""
    told = json.loads(_SCORE.read_text(encoding="utf-8"))
    if tuple(told["features"]) != LONG_NAMES:
        raise ValueError("the coefficients belong to other features")
    mean, spread, weights = (np.array(told[key], float) for key in ("mean", "spread", "weights"))
    return LongScore(mean, spread, weights, float(told["intercept"]))


def write_long_score(score: LongScore) -> None:
    """Write the coefficients beside those of the ranker."""
    told = {
        "fitted": "logistic with squares on drawn fields, seeds from 720 000 on",
        "features": LONG_NAMES,
        "intercept": round(score.intercept, 5),
        **{key: [round(float(v), 5) for v in getattr(score, key)] for key in ("mean", "spread", "weights")},
    }
    lines = ",\n".join(f" {json.dumps(key)}: {json.dumps(value)}" for key, value in told.items())
    _SCORE.write_text("{\n" + lines + "\n}\n", encoding="utf-8")


def long_score(features: Floats) -> Floats:
    """Return a score from 0 to 1 for each row of features."""
    return drawn_long_score().of(features)
