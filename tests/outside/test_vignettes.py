"""Every exam vignette gives the answer that is due (the project's adequacy rule; kinds beside each row)."""

import json
from pathlib import Path

import pytest

from fecallab.cli.forms import ExamQuestion
from fecallab.domain.adequacy import judge
from fecallab.reference.adequacy import adequacy_facts

DATA = Path(__file__).parent / "data"
VIGNETTES = json.loads((DATA / "vignettes.json").read_text(encoding="utf-8"))["vignettes"]


@pytest.mark.parametrize("vignette", VIGNETTES, ids=lambda v: f"{v['id']}-{v['expected']}")
def test_the_exam_gives_the_answer_that_is_due(vignette):
    question = ExamQuestion.model_validate(vignette)
    answer = judge(question.evidence(), adequacy_facts())
    assert answer.result == vignette["expected"], (vignette["why"], answer.reasons)
    assert answer.reasons
    assert question.unknown_keys() == []


def test_all_rows_are_used():
    assert len(VIGNETTES) == 26
    assert {v["expected"] for v in VIGNETTES} == {"positive", "negative", "inconclusive"}


def test_a_chamber_with_none_counted_is_negative_with_its_bound():
    vignette = next(v for v in VIGNETTES if v["id"] == "v28")
    answer = judge(ExamQuestion.model_validate(vignette).evidence(), adequacy_facts())
    assert answer.bound is not None
    assert answer.bound.unit == "per_g"
    assert answer.bound.value_all_found == pytest.approx(149.79, abs=0.01)  # 2.9957 x factor 50 (computed)
    assert answer.bound.value == pytest.approx(170, abs=0.5)  # at 88 % recovery, a mammal figure (read)


def test_a_sweep_alone_has_no_bound():
    vignette = next(v for v in VIGNETTES if v["id"] == "v01")
    assert judge(ExamQuestion.model_validate(vignette).evidence(), adequacy_facts()).bound is None
