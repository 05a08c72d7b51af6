"""Learning is judged on exams that were left out whole: never on another field of an exam that it saw."""

from __future__ import annotations

from importlib import import_module
from typing import Any

import numpy as np
import pytest

from fecallab.imaging.detect.features import NAMES
from fecallab.imaging.detect.learn import LEAST_FOR_OPTICS, OwnExamples
from fecallab.imaging.detect.ranker import Ranker, default_terms, drawn_ranker

module = import_module("fecallab.imaging.detect.learn")


def fields_of(exams: int, each: int = 3) -> list[OwnExamples]:
    """Three fields of every exam, the second half of the exams under another objective."""
    rng = np.random.default_rng(4)
    return [
        OwnExamples(
            f"E{exam}",
            "10x" if 2 * exam < exams else "40x",
            rng.normal(size=(8, len(NAMES))),
            np.arange(8) % 2 == 0,
        )
        for exam in range(exams)
        for _ in range(each)
    ]


@pytest.mark.parametrize("exams", [3, 5, 8])
def test_no_exam_is_judged_by_a_ranker_that_saw_one_of_its_fields(
    exams: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = fields_of(exams)
    exam_of = {id(one.features): one.exam for one in own}
    judged: list[str] = []

    class Fitted(Ranker):
        saw: frozenset[str]

        def score(self, features: Any) -> Any:
            exam = exam_of[id(features)]
            assert exam not in self.saw
            judged.append(exam)
            return np.where(np.arange(len(features)) % 2 == 0, 0.9, 0.1)

    def fitted(seen: list[OwnExamples], _drawn: Any, edition: str) -> Fitted:
        old = drawn_ranker()
        made = Fitted(edition, old.names, old.mean, old.spread, default_terms(), old.weights, old.bias, 0.5)
        object.__setattr__(made, "saw", frozenset(one.exam for one in seen))
        return made

    monkeypatch.setattr(module, "_fitted", fitted)
    drawn = (np.zeros((0, len(NAMES))), np.zeros(0, bool), np.zeros(0))
    lesson = module.learn(own, drawn, drawn_ranker(), "own")
    assert sorted(judged) == sorted(one.exam for one in own), "every field is judged once"
    assert lesson.after == 1.0 and lesson.ranker is not None
    confirmed = {
        optics: sum(int(o.positive.sum()) for o in own if o.optics == optics) for optics in ("10x", "40x")
    }
    assert set(lesson.ranker.thresholds) == {o for o, n in confirmed.items() if n >= LEAST_FOR_OPTICS}
    assert all(0.1 < value < 0.9 for value in lesson.ranker.thresholds.values())
    assert lesson.ranker.threshold_for("4x") == lesson.ranker.threshold
