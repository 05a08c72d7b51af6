"""The ranker: a standardised logistic on outline features and their squares, small enough to be read.

It knows no size in µm and no pixels, so it cannot learn the kinds that were drawn; see :mod:`.train`.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fecallab.domain.errors import CouldNot
from fecallab.imaging.detect.features import NAMES
from fecallab.imaging.detect.trace import Floats

CLIP = 2.0
OUTDATED = "ranker-outdated"
_ROUNDS = 40


@dataclass(frozen=True)
class Ranker:
    """A logistic on standardised features and their squares.

    Attributes
    ----------
    edition : str
        Which coefficients these are.
    names : tuple of str
        Features that it reads.
    mean, spread : ndarray
        For standardising; standardised values are cut at ± 2, so that what no drawing showed cannot outweigh all else.
    terms : tuple of (str, ...)
        One or two feature names whose product is a term.
    weights : ndarray
        One for each term.
    bias : float
    threshold : float
        Score from which an outline is proposed.
    thresholds : dict of str to float
        The same for single optics, set on confirmed marks.
    """

    edition: str
    names: tuple[str, ...]
    mean: Floats
    spread: Floats
    terms: tuple[tuple[str, ...], ...]
    weights: Floats
    bias: float
    threshold: float
    thresholds: dict[str, float] = field(default_factory=dict)

    def score(self, features: Floats) -> Floats:
        """Return a score from 0 to 1 for each row of features."""
        return 1 / (1 + np.exp(-np.clip(self.logit(features), -30, 30)))

    def logit(self, features: Floats) -> Floats:
        """Return the logarithm of the odds."""
        columns = expanded(self._standard(features), self.names, self.terms)
        return np.asarray(columns @ self.weights + self.bias)

    def _standard(self, features: Floats) -> Floats:
        return np.clip((features - self.mean) / self.spread, -CLIP, CLIP)

    def threshold_for(self, optics: str) -> float:
        """Return the threshold for an objective such as ``10x``."""
        return self.thresholds.get(optics, self.threshold)

    def as_dict(self) -> dict[str, Any]:
        """Return what is written to the file."""
        return {
            "edition": self.edition,
            "about": "logistic on standardised outline features; no term holds a size",
            "bias": round(self.bias, 6),
            "threshold": round(self.threshold, 4),
            "thresholds": {key: round(value, 4) for key, value in sorted(self.thresholds.items())},
            "features": [
                {"name": name, "mean": round(float(m), 6), "spread": round(float(s), 6)}
                for name, m, s in zip(self.names, self.mean, self.spread, strict=True)
            ],
            "terms": [
                {"of": list(term), "weight": round(float(w), 6)}
                for term, w in zip(self.terms, self.weights, strict=True)
            ],
        }


def expanded(standard: Floats, names: tuple[str, ...], terms: tuple[tuple[str, ...], ...]) -> Floats:
    """Return one column for each term: the product of its features."""
    place = {name: k for k, name in enumerate(names)}
    return np.stack([np.prod([standard[:, place[name]] for name in term], axis=0) for term in terms], axis=1)


def from_dict(told: dict[str, Any]) -> Ranker:
    """Read a ranker as :meth:`Ranker.as_dict` writes it."""
    listed, terms = told["features"], told["terms"]
    return Ranker(
        edition=str(told["edition"]),
        names=tuple(str(one["name"]) for one in listed),
        mean=np.array([one["mean"] for one in listed], float),
        spread=np.array([one["spread"] for one in listed], float),
        terms=tuple(tuple(str(name) for name in one["of"]) for one in terms),
        weights=np.array([one["weight"] for one in terms], float),
        bias=float(told["bias"]),
        threshold=float(told["threshold"]),
        thresholds={str(key): float(value) for key, value in told["thresholds"].items()},
    )


def read_ranker(path: Path, names: tuple[str, ...] = NAMES) -> Ranker:
    """Read a ranker from a file.

    Raises
    ------
    CouldNot
        When it cannot be read, or (code `OUTDATED`) belongs to the features of an older program.
    """
    try:
        found = from_dict(json.loads(path.read_text(encoding="utf-8")))
        if len(found.weights) != len(found.terms):
            raise ValueError("weights and terms do not go together")
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise CouldNot(
            f"What proposals have learnt ({path.name}) cannot be read: {str(error)[:60]}.",
            next="Go back to the ranker before it: fecallab image learn --back",
            code="ranker-damaged",
        ) from error
    if found.names != names:
        raise CouldNot(
            "What proposals have learnt here belongs to an older program.",
            next="Learn anew: fecallab image learn",
            code=OUTDATED,
        )
    return found


@cache
def drawn_ranker() -> Ranker:
    """Return the ranker that was trained on drawings and comes with the program."""
    return read_ranker(Path(str(resources.files("fecallab.imaging.detect") / "data" / "ranker.json")))


def fit_ranker(
    features: Floats,
    positive: NDArray[np.bool_],
    terms: tuple[tuple[str, ...], ...],
    *,
    edition: str,
    weight: Floats | None = None,
    ridge: float = 1.0,
    names: tuple[str, ...] = NAMES,
) -> Ranker:
    """Fit a ranker by Newton's method; the same rows give the same coefficients.

    Parameters
    ----------
    features : ndarray, shape (rows, features)
    positive : ndarray of bool, shape (rows,)
    terms : tuple of tuple of str
    edition : str
    weight : ndarray, optional
        Of each row.
    ridge : float, optional
        Spring that holds the weights of the terms near zero.
    names : tuple of str, optional
        Of the features.
    """
    w = np.ones(len(features)) if weight is None else weight
    mean = np.average(features, axis=0, weights=w)
    spread = np.sqrt(np.average((features - mean) ** 2, axis=0, weights=w)) + 1e-9
    standard = np.clip((features - mean) / spread, -CLIP, CLIP)
    x = np.column_stack([expanded(standard, names, terms), np.ones(len(features))])
    y = positive.astype(float)
    spring = np.full(x.shape[1], float(ridge))
    spring[-1] = 1e-6

    def loss(of: Floats) -> float:
        at = x @ of
        return float(w @ (np.logaddexp(0, at) - y * at) + spring @ of**2 / 2)

    beta = np.zeros(x.shape[1])
    for _ in range(_ROUNDS):
        p = 1 / (1 + np.exp(-np.clip(x @ beta, -30, 30)))
        slope = x.T @ (w * (y - p)) - spring * beta
        bend = (x * (w * np.maximum(p * (1 - p), 1e-6))[:, None]).T @ x + np.diag(spring)
        step = np.linalg.solve(bend, slope)
        now = loss(beta)
        while loss(beta + step) > now + 1e-9 * abs(now) and np.abs(step).max() >= 1e-8:
            step /= 2  # a step too far: without this, few rows and many terms run away
        beta += step
        if np.abs(step).max() < 1e-8:
            break
    return Ranker(edition, names, mean, spread, terms, beta[:-1], float(beta[-1]), 0.5)


def default_terms(names: tuple[str, ...] = NAMES) -> tuple[tuple[str, ...], ...]:
    """Return the terms that are used: every relative feature and its square.

    Without the squares F1 was 0.866 instead of 0.876 in 72 tuning fields, and 0.860 instead of 0.890 in 48 fields of
    a style that trained nothing.
    """
    used = tuple(name for name in names if name not in UNUSED)
    return (*((name,) for name in used), *((name, name) for name in used))


UNUSED = ("darkest", "drop", "ground_step")
"""Features that are computed but not used: how dark something is does not carry over from one lamp, stain or way of
drawing to another (left out: the same on drawings of its own style, better on another style)."""
