"""The form of the answer: what the docs show is read, what a page is made of changes its hash, canonical JSON."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.domain.exam import Exam, Mark, Preparation, Reading
from fecallab.vet.answer import EXAMPLE, page_identity, parse_answer, to_block
from fecallab.vet.canonical import canonical

DOCS = Path(__file__).parents[2] / "docs" / "vet-answer.md"


@pytest.mark.skipif(not DOCS.exists(), reason="the pages are in the clone only")
def test_the_answer_in_the_docs_is_one() -> None:
    found = re.findall(r"```json\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.S)
    assert len(found) == 1
    read = parse_answer(found[0].encode())
    assert len(read.answer.marks) == 4 and read.answer.cases[0].follow_up is not None


def test_every_field_of_the_form_stands_in_the_docs() -> None:
    from fecallab.vet import answer

    text = DOCS.read_text(encoding="utf-8")
    for form in (answer.Answer, answer.MarkAnswer, answer.MissedAnswer, answer.ExamAnswer, answer.CaseAnswer):
        for name in form.model_fields:
            assert f"`{name}`" in text, name
    for form in (answer.NewPlan, answer.FollowUp, answer.Signature, answer.PageRef, answer.VetRef):
        for name in form.model_fields:
            assert f"`{name}`" in text or f'"{name}"' in text, name


def exam(**more: Any) -> Exam:
    marks = (Mark(code="E1-1-1-1", x_px=3.0, y_px=4.5, name="oxyurid"),)
    reading = Reading(code="E1-1-1", picture="ab" * 32, marks=marks)
    counted = Reading(code="E1-1-2", counts={"oxyurid": 2, "coccidian": 0}, unsure={"oxyurid": 1})
    whole = Preparation(code="E1-1", method="simple_flotation", readings=(reading, counted))
    return Exam(code="E1", sample="S1", examined_at=datetime(2026, 5, 1), preparations=(whole,), **more)


def with_mark(**more: Any) -> Exam:
    whole = exam()
    first, second = whole.preparations[0].readings
    changed = replace(first, marks=(replace(first.marks[0], **more),))
    return replace(whole, preparations=(replace(whole.preparations[0], readings=(changed, second)),))


def test_items_are_marks_then_counts_without_a_picture() -> None:
    found = page_identity("id", "E1", [exam()])
    assert [(one.number, one.key, one.sure, one.count) for one in found.items] == [
        (1, "E1-1-1-1", True, 1),
        (2, "E1-1-2:oxyurid", True, 2),
        (3, "E1-1-2:oxyurid?", False, 1),
    ]


@pytest.mark.parametrize(
    "other",
    [
        lambda: page_identity("other", "E1", [exam()]),
        lambda: page_identity("id", "C1", [exam()]),
        lambda: page_identity("id", "E1", [exam()], question="is it?"),
        lambda: page_identity("id", "E1", [exam(), replace(exam(), code="E2")]),
        lambda: page_identity("id", "E1", [with_mark(x_px=3.5)]),
        lambda: page_identity("id", "E1", [with_mark(name="coccidian")]),
        lambda: page_identity("id", "E1", [with_mark(sure=False)]),
    ],
)
def test_whatever_is_asked_changes_the_page(other: Any) -> None:
    mine = page_identity("id", "E1", [exam()])
    assert mine == page_identity("id", "E1", [exam(remark="typed later", by="somebody")])
    assert other().hash != mine.hash and other().id != mine.id


def test_canonical_numbers_are_those_of_ecmascript() -> None:
    """Printed forms of ECMAScript's Number::toString, by its definition (derived)."""
    known = {
        0.0: "0", 1.0: "1", 1e21: "1e+21", 1e20: "100000000000000000000", 123456.5: "123456.5",
        0.000001: "0.000001", 1e-7: "1e-7", 1.5e-10: "1.5e-10", 1.5e300: "1.5e+300", -2.25: "-2.25",
        5e-324: "5e-324", 333333333.33333329: "333333333.3333333", 4.5: "4.5", 0.1: "0.1",
    }  # fmt: skip
    for value, text in known.items():
        assert canonical(value).decode() == text, value
    assert canonical(-0.0) == b"0"


@settings(max_examples=200, deadline=None)
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(-(2.0**53), 2.0**53)
        | st.text(st.characters(exclude_categories=["Cs"]), max_size=10),
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"]), max_size=5), inner, max_size=4),
        max_leaves=12,
    )
)  # fmt: skip
def test_canonical_json_says_the_same_and_only_one_way(value: Any) -> None:
    written = canonical(value)
    assert json.loads(written) == value
    assert canonical(json.loads(written)) == written
    shuffled = json.loads(json.dumps(value), object_pairs_hook=lambda pairs: dict(reversed(pairs)))
    assert canonical(shuffled) == written


def test_the_example_is_read_as_file_and_as_block() -> None:
    data = json.dumps(EXAMPLE).encode()
    assert parse_answer(data) == parse_answer(to_block(data).encode())
