"""Turns what was typed for a control run into one that is judged by the limits of the table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fecallab.cli.common import number_or_none, one_of
from fecallab.cli.typed import plain_number, read_count
from fecallab.domain.control import (
    ControlAnswer,
    ControlRun,
    gravity_by_weighing,
    judge_blank,
    judge_blind,
    judge_gravity,
    judge_known_positive,
    judge_scale,
)
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import METHODS

RESULTS = ("positive", "negative", "inconclusive")
NEEDS_METHOD = ("known positive", "blank", "outside check")


def judged_run(
    kind: str,
    found: str | None,
    expected: str | None,
    weights_g: Sequence[float | None],
    earlier: Sequence[ControlRun],
    **more: Any,
) -> tuple[ControlRun, str]:
    """Return the run as it is recorded, and what to mind.

    Parameters
    ----------
    kind : str
        One of the kinds of control.
    found, expected : str or None
        As typed; what they mean hangs on the kind.
    weights_g : sequence of float or None
        The flask empty, with water and with fluid; for the gravity alone.
    earlier : sequence of ControlRun
        Runs that are recorded already.
    more
        The other fields of a `ControlRun`; ``of`` is what a known positive holds.
    """
    from fecallab.reference.controls import control_limits

    limits = control_limits()
    of = more.pop("of")
    more["method"] = _method(kind, more["method"])
    if kind != "gravity" and any(weight is not None for weight in weights_g):
        text = "The weights of a flask say something about a gravity only."
        raise BadInput(text, next="Type: fecallab control add gravity …", code="weights-not-asked")
    expected_value: float | None = None
    value: float | None = None
    words = {"expected": of, "found": ""}
    answer: ControlAnswer
    if kind == "known positive":
        count = read_count(_needed(found, kind, "--found 14"), "--found")
        expected_value = number_or_none(expected, "--expected", low=0.1, high=10_000)
        value = float(count)
        same = [
            run.value
            for run in earlier
            if run.kind == kind
            and run.value is not None
            and (run.method, run.expected) == (more["method"], of)
            and run.done_at < more["done_at"]
        ]
        answer = judge_known_positive(count, expected_value, same, limits)
    elif kind == "blank":
        count = read_count(_needed(found, kind, "--found 0"), "--found")
        expected_value, value = 0.0, float(count)
        answer = judge_blank(count)
    elif kind == "gravity":
        value, expected_value = _gravity(found, expected, weights_g, more["solution"])
        answer = judge_gravity(value, expected_value, limits)
    elif kind == "microscope scale":
        if more["objective"] is None:
            text = "Which objective's scale was checked is not said."
            raise BadInput(text, next="Type: --objective 40", code="objective-missing")
        expected_value = _scale(expected, kind, "--expected")
        value = _scale(found, kind, "--found")
        answer = judge_scale(expected_value, value, limits)
    elif kind == "slide read blind":
        due, seen = _names(expected, "--expected"), _names(found, "--found", empty=True)
        answer = judge_blind(due, seen, limits)
        words = {"expected": _said(due), "found": _said(seen)}
    else:
        theirs = one_of(_needed(expected, kind, "--expected positive"), RESULTS, "--expected")
        ours = one_of(_needed(found, kind, "--found positive"), RESULTS, "--found")
        words = {"expected": theirs, "found": ours}
        answer = ControlAnswer(theirs == ours, f"they: {theirs}, here: {ours}")
    run = ControlRun(
        kind=kind,
        expected_value=expected_value,
        value=value,
        passed=answer.passed,
        judged=answer.judged,
        **words,
        **more,
    )
    return run, answer.caution


def _method(kind: str, method: str) -> str:
    word = method.strip().replace(" ", "_").replace("-", "_")
    if word:
        return one_of(word, METHODS, "--method")
    if kind in NEEDS_METHOD:
        text = f"Which method the {kind} tried is not said; it speaks for that method only."
        raise BadInput(text, next="Type: --method simple_flotation", code="method-missing")
    return ""


def _needed(text: str | None, kind: str, example: str) -> str:
    if text is None or not text.strip():
        option = example.split()[0]
        raise BadInput(f"The {kind} lacks {option}.", next=f"Type: {example}", code="value-missing")
    return text


def _scale(text: str | None, kind: str, option: str) -> float:
    value = number_or_none(_needed(text, kind, f"{option} 0.25"), option, low=0.0001, high=10_000)
    assert value is not None
    return value


def _gravity(
    found: str | None, expected: str | None, weights_g: Sequence[float | None], solution: str
) -> tuple[float, float]:
    """Return the gravity that was measured and the one that was aimed at."""
    from fecallab.reference.controls import gravity_aimed_at

    empty, water, fluid = weights_g
    if empty is not None and water is not None and fluid is not None:
        if found is not None:
            text = "The gravity is given, and weighed besides."
            raise BadInput(text, next="Leave out --found, or the weights.", code="given-twice")
        measured = gravity_by_weighing(empty, water, fluid)
        number_or_none(plain_number(measured), "the gravity by these weights", low=0.9, high=2)
    elif any(weight is not None for weight in weights_g):
        text = "A gravity by weighing needs three weights of the same flask."
        raise BadInput(text, next="Type: --empty-g 52 --water-g 152 --fluid-g 170", code="flask-weights")
    else:
        typed = number_or_none(_needed(found, "gravity", "--found 1.18"), "--found", low=0.9, high=2)
        assert typed is not None
        measured = typed
    aimed = number_or_none(expected, "--expected", low=0.9, high=2)
    if aimed is None:
        if not solution:
            text = "Which gravity was aimed at is not said."
            raise BadInput(text, next="Type: --expected 1.18, or --solution sugar", code="gravity-not-known")
        aimed = gravity_aimed_at(solution)[1]
    return measured, aimed


def _names(text: str | None, option: str, *, empty: bool = False) -> dict[str, int]:
    from fecallab.cli.exam_input import organism_name

    named: dict[str, int] = {}
    for piece in (part for part in (text or "").split(",") if part.strip()):
        name, sign, number = piece.partition("=")
        if not sign:
            example = f'Type: {option} "oxyurid=12,pollen_pine=3"'
            raise BadInput(f"{option} is {piece[:40]!r}.", next=example, code="not-a-count")
        key = organism_name(name)
        named[key] = named.get(key, 0) + read_count(number, option)
    if not named and not (empty and text is not None):
        example = f'Type: {option} "oxyurid=12"' + ("  (nothing seen: --found none=0)" if empty else "")
        raise BadInput(f"{option} of the slide read blind is missing.", next=example, code="value-missing")
    return named


def _said(named: dict[str, int]) -> str:
    return ", ".join(f"{name} {number}" for name, number in named.items()) or "nothing"
