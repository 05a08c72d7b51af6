"""What a correction must keep of doses, reactions, danger signs, controls and exams as told."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from fecallab.cli.common import one_of
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import say_time

if TYPE_CHECKING:
    from fecallab.records.writer import Writer

LIMITS: dict[str, tuple[float, float]] = {
    "value_mm": (5, 10_000),
    "syringe_ml": (0.05, 100),
    "dilution_factor": (1, 10_000),
    "flush_ml": (0, 1000),
    "doses": (1, 1000),
}
"""Lowest and highest number of a field, as the commands that add it take them."""

JUDGED = ("kind", "method", "expected", "found", "expected_value", "value", "passed", "judged")
"""Fields of a control run that its judgement rests on."""


def checked_care(fact: Any, writer: Writer) -> Any:
    """Return a changed fact as it may be recorded; what follows from a changed number is worked out anew.

    Raises
    ------
    BadInput
        When it could not have been added like that either.
    """
    from fecallab.domain.control import ControlRun
    from fecallab.domain.exam import Exam
    from fecallab.domain.plan import DoseGiven, DoseReaction, OtherDrugGiven
    from fecallab.domain.signs import SignAnswer
    from fecallab.reference.signs import reaction_signs, sign

    if isinstance(fact, Exam) and fact.stated_adequate is not None and not fact.as_told:
        text = "Whether an exam that was read here is adequate follows from what was done, not from a word."
        raise BadInput(text, next="Type: as_told=yes, or stated_adequate=", code="adequate-not-asked")
    if isinstance(fact, SignAnswer):
        return replace(fact, sign=sign(fact.sign).key)
    if isinstance(fact, DoseReaction):
        if fact.at < writer.dose(fact.dose).given_at:
            text = f"The reaction of {say_time(fact.at)} is before its dose."
            raise BadInput(text, next="Check the time.", code="reaction-before-dose")
        return replace(fact, sign=one_of(fact.sign, tuple(reaction_signs()), "the sign"))
    if isinstance(fact, OtherDrugGiven):
        return replace(
            fact, drug=" ".join(fact.drug.lower().split()), mg_per_kg=_decimal(fact.mg_per_kg, "mg_per_kg")
        )
    if isinstance(fact, ControlRun):
        before = next(run for run in writer.controls() if run.code == fact.code)
        if any(getattr(fact, name) != getattr(before, name) for name in JUDGED):
            text = "What a control run was judged by is not changed afterwards."
            step = f"Type: fecallab withdraw {fact.code} --reason WHY  and record it anew"
            raise BadInput(text, next=step, code="judged-already")
    if isinstance(fact, DoseGiven):
        return _dose(fact, writer)
    return fact


def _dose(dose: Any, writer: Writer) -> Any:
    from fecallab.cli.dose_options import delivered_mg_per_kg

    volume = _decimal(dose.volume_ml, "volume_ml")
    thinned = _decimal(dose.diluted_mg_per_ml, "diluted_mg_per_ml")
    strength = thinned or writer.plan(dose.plan).concentration_mg_per_ml
    made = delivered_mg_per_kg(volume, strength, dose.weight_g) if dose.outcome == "given" else ""
    return replace(dose, volume_ml=volume, diluted_mg_per_ml=thinned, delivered_mg_per_kg=made)


def _decimal(text: str, field: str) -> str:
    """Return a number that is kept as it was typed; empty stays empty."""
    from fecallab.cli.typed import plain_number, read_number

    if not text:
        return ""
    value = read_number(text, field)
    if not 0.0001 <= value <= 10_000:
        said = f"{field} is {value:g}; it lies outside 0.0001 to 10000."
        raise BadInput(said, next="Check the number and its unit.", code="out-of-range")
    return plain_number(value)
