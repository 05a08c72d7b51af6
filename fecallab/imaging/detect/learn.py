"""Learn from a lab's own confirmed marks: fit, compare over whole exams, and say honestly whether it is better."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fecallab.domain.spoken import number_of
from fecallab.imaging.detect.ranker import Ranker, default_terms, fit_ranker
from fecallab.imaging.detect.trace import Floats

LEAST_EXAMS, LEAST_RIGHT = 3, 20
"""Fewer exams or confirmed outlines teach nothing (own choice, no source)."""
OWN_SHARE, MOST_OWN_WEIGHT, RIDGE, MOST_FOLDS = 0.5, 60.0, 5.0, 5
LEAST_GAIN = 0.005
"""Gain in average precision that counts as better (own choice, no source)."""
LEAST_FOR_OPTICS = 10
THIN_DRAWN = 3
"""Every third of the drawn examples is enough beside a lab's own marks, and three times as quick."""


@dataclass(frozen=True)
class OwnExamples:
    """Outlines of one exam's pictures under one objective, told right or wrong by its marks."""

    exam: str
    optics: str
    features: Floats
    positive: NDArray[np.bool_]


@dataclass(frozen=True)
class Lesson:
    """What came of learning.

    Attributes
    ----------
    ranker : Ranker or None
        The new one; None when it is not better.
    before, after : float or None
        Average precision on exams that were left out, with the old and the new ranker.
    exams, right : int
        Exams and confirmed outlines that were learnt from.
    why : str
        One line for the reader.
    """

    ranker: Ranker | None
    before: float | None
    after: float | None
    exams: int
    right: int
    why: str


def average_precision(score: Floats, positive: NDArray[np.bool_]) -> float:
    """Return the mean of the precision at each right outline, best score first.

    Examples
    --------
    >>> round(average_precision(np.array([0.9, 0.8, 0.1]), np.array([True, False, True])), 3)
    0.833
    """
    told = positive[np.argsort(-score, kind="stable")]
    if not told.any():
        return 0.0
    precision = np.cumsum(told) / np.arange(1, len(told) + 1)
    return float(precision[told].mean())


def learn(
    own: Sequence[OwnExamples],
    drawn: tuple[Floats, NDArray[np.bool_], Floats],
    old: Ranker,
    edition: str,
) -> Lesson:
    """Fit a ranker to drawings and own marks together, if that is better on exams that it has not seen.

    Parameters
    ----------
    own : sequence of OwnExamples
    drawn : tuple
        Features, positive and weight of the drawn examples.
    old : Ranker
        What is used now.
    edition : str
        Name of the new one.

    Returns
    -------
    Lesson
    """
    exams = sorted({one.exam for one in own})
    right = int(sum(int(one.positive.sum()) for one in own))
    if len(exams) < LEAST_EXAMS or right < LEAST_RIGHT:
        why = (
            f"Too little to learn from: {right} confirmed outlines in {number_of(len(exams), 'exam')}; {LEAST_RIGHT} in"
            f" {LEAST_EXAMS} are needed. Nothing was changed."
        )
        return Lesson(None, None, None, len(exams), right, why)
    folds = min(MOST_FOLDS, len(exams))
    fold_of = {exam: k % folds for k, exam in enumerate(exams)}
    new_scores: list[Floats] = [np.zeros(len(one.positive)) for one in own]
    for fold in range(folds):
        ranker = _fitted([one for one in own if fold_of[one.exam] != fold], drawn, edition)
        for k, one in enumerate(own):
            if fold_of[one.exam] == fold:
                new_scores[k] = ranker.score(one.features)
    truth = np.concatenate([one.positive for one in own])
    before = average_precision(np.concatenate([old.score(one.features) for one in own]), truth)
    after = average_precision(np.concatenate(new_scores), truth)
    told = f"average precision {after:.3f} after, {before:.3f} before, on exams that were left out"
    if after < before + LEAST_GAIN:
        return Lesson(None, before, after, len(exams), right, f"Not better ({told}). Nothing was changed.")
    thresholds = {}
    for optics in sorted({one.optics for one in own if one.optics}):
        score = np.concatenate([s for s, one in zip(new_scores, own, strict=True) if one.optics == optics])
        positive = np.concatenate([one.positive for one in own if one.optics == optics])
        if positive.sum() >= LEAST_FOR_OPTICS:
            thresholds[optics] = best_threshold(score, positive)
    ranker = replace(
        _fitted(own, drawn, edition),
        threshold=best_threshold(np.concatenate(new_scores), truth),
        thresholds=thresholds,
    )
    return Lesson(ranker, before, after, len(exams), right, f"Better ({told}). It is used from now on.")


def best_threshold(score: Floats, positive: NDArray[np.bool_]) -> float:
    """Return the score at which outlines are told apart best (largest F1).

    Examples
    --------
    >>> best_threshold(np.array([0.9, 0.8, 0.3, 0.1]), np.array([True, True, False, False]))
    0.55
    """
    order = np.argsort(-score, kind="stable")
    met = np.cumsum(positive[order])
    f1 = 2 * met / (np.arange(1, len(score) + 1) + positive.sum())
    k = int(f1.argmax())
    below = score[order[k + 1]] if k + 1 < len(score) else 0.0
    return float(np.clip(round(0.5 * float(score[order[k]] + below), 4), 0.02, 0.98))


def _fitted(
    own: Sequence[OwnExamples], drawn: tuple[Floats, NDArray[np.bool_], Floats], edition: str
) -> Ranker:
    features, positive, weight = (column[::THIN_DRAWN] for column in drawn)
    parts = [one.features for one in own]
    rows = sum(len(part) for part in parts)
    each = min(OWN_SHARE * float(weight.sum()) / max(rows, 1), MOST_OWN_WEIGHT)  # drawings are many more
    return fit_ranker(
        np.concatenate([features, *parts]),
        np.concatenate([positive, *(one.positive for one in own)]),
        default_terms(),
        edition=edition,
        weight=np.concatenate([weight, np.full(rows, each)]),
        ridge=RIDGE,
    )
