"""What a line of the treatment log may say besides time, outcome and volume."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import AS_TOLD, number_or_none
from fecallab.cli.options import Group
from fecallab.cli.plan_options import words_on_rules
from fecallab.cli.typed import plain_number
from fecallab.domain.errors import BadInput
from fecallab.domain.plan import Plan, RuleWord

if TYPE_CHECKING:
    from fecallab.domain.dosing import DoseAnswer
    from fecallab.gather_dose import DoseDay
    from fecallab.records.casefile import CaseFile
    from fecallab.records.reader import Reader

DOSE_MORE: Group = {
    "second_person": (str, typer.Option("", help="Who read the volume a second time.")),
    "syringe_ml": (str | None, typer.Option(None, help="Size of the syringe that was used, ml.")),
    "dilution_factor": (
        str | None,
        typer.Option(None, help="How many times it was thinned: 4 is one part in four."),
    ),
    "diluted_mg_per_ml": (
        str | None,
        typer.Option(None, help="Strength after thinning, mg per ml (strength / factor when left out)."),
    ),
    "flush_ml": (str | None, typer.Option(None, help="What rinsed the tube afterwards, ml.")),
    "as_told": (bool, AS_TOLD),
}
"""Options of ``dose give`` besides time, outcome and volume."""

DOSE_DAY: Group = {
    "override": (
        list[str],
        typer.Option([], help="A rule that somebody overrode: CODE=WHY (may be repeated)."),
    ),
    "override_by": (str, typer.Option("", help="Who overrode it: the vet, by name.")),
    "finding": (
        list[str],
        typer.Option([], help="How it is today: gravid, limp, renal-failure … or: none (may be repeated)."),
    ),
    "override_role": (str, typer.Option("vet", help="vet or specialist: who that named person is.")),
    "hydration": (str | None, typer.Option(None, help="normal, dry or not known.")),
    "warm_end_c": (str | None, typer.Option(None, help="Warm end by day, °C (else as logged lately).")),
    "night_c": (str | None, typer.Option(None, help="Lowest at night, °C (else as logged lately).")),
    "feed_ml": (str | None, typer.Option(None, help="Food through the tube at the same time, ml.")),
    "fluid_ml": (str | None, typer.Option(None, help="Fluid through the tube at the same time, ml.")),
    "hours_since_meal": (str | None, typer.Option(None, help="Hours since its last meal (snakes).")),
    "bottle_expires": (str | None, typer.Option(None, help="Printed on the bottle: good until, 2027-03-31.")),
    "bottle_discard": (str | None, typer.Option(None, help="Opened bottle to be discarded on, 2026-12-31.")),
    "graduation_ml": (str | None, typer.Option(None, help="Smallest mark of the syringe, ml.")),
}
"""What somebody says of the day of a dose; what is not said is named as not checked."""


def check_override_is_named(options: Mapping[str, Any]) -> None:
    """Refuse an override that nobody stands for."""
    if options["override"] and not options["override_by"].strip():
        text = "An override is a named person's word."
        raise BadInput(text, next='Type: --override-by "NAME"', code="override-by-whom")


def day_of_dose(
    options: Mapping[str, Any],
    confirmed: Sequence[str],
    reader: Reader,
    file: CaseFile,
    moment: datetime | None = None,
) -> DoseDay:
    """Return what these options say of today, with the animal's other cases."""
    from fecallab.cli.common import now, one_of, read_day
    from fecallab.domain.dosing import DELICATE, FINDINGS, HYDRATION, SIGNS_TODAY, WordGiven
    from fecallab.gather_dose import DoseDay, other_cases_of

    words = (*FINDINGS, *SIGNS_TODAY, *DELICATE, "none")
    said = [one_of(word, words, "--finding") for word in options["finding"]]
    check_override_is_named(options)
    role = one_of(options["override_role"], ("vet", "specialist"), "--override-role")
    hydration = options["hydration"]
    expires, discard = options["bottle_expires"], options["bottle_discard"]
    return DoseDay(
        findings=frozenset(said) - {"none"} if said else None,
        hydration=one_of(hydration, HYDRATION, "--hydration") if hydration else None,
        warm_end_c=number_or_none(options["warm_end_c"], "--warm-end-c", low=-20, high=70),
        lowest_at_night_c=number_or_none(options["night_c"], "--night-c", low=-20, high=70),
        syringe_ml=number_or_none(options["syringe_ml"], "--syringe-ml", low=0.05, high=100),
        graduation_ml=number_or_none(options["graduation_ml"], "--graduation-ml", low=0.001, high=10),
        feed_ml=number_or_none(options["feed_ml"], "--feed-ml", low=0, high=1000) or 0,
        fluid_ml=number_or_none(options["fluid_ml"], "--fluid-ml", low=0, high=1000) or 0,
        hours_since_meal=number_or_none(
            options["hours_since_meal"], "--hours-since-meal", low=0, high=10_000
        ),
        confirmed=tuple(confirmed),
        words=tuple(
            WordGiven(code=word.rule, by=word.by, on=word.at.date(), role=role, reason=word.why)
            for word in words_on_rules(
                options["override"], options["override_by"].strip(), moment or now(), "--override"
            )
        ),
        expires_on=read_day(expires, "--bottle-expires", future=True) if expires else None,
        discard_on=read_day(discard, "--bottle-discard", future=True) if discard else None,
        other_cases=other_cases_of(reader, file),
    )


def more_of_dose(
    options: Mapping[str, Any], plan: Plan, confirmed: Sequence[str], now: datetime
) -> dict[str, Any]:
    """Return the fields of a dose that these options give, checked.

    Raises
    ------
    BadInput
        For numbers that cannot be meant, a thinned strength that is no thinner, and an override without a
        name.
    """
    factor = number_or_none(options["dilution_factor"], "--dilution-factor", low=1, high=10_000)
    strength = number_or_none(options["diluted_mg_per_ml"], "--diluted-mg-per-ml", low=0.0001, high=10_000)
    stock = float(plan.concentration_mg_per_ml) if plan.concentration_mg_per_ml else None
    if strength is None and factor is not None and stock is not None:
        strength = float(f"{stock / factor:.6g}")
    if strength is not None and stock is not None and strength > stock:
        text = f"--diluted-mg-per-ml {strength:g} is stronger than the bottle ({stock:g} mg/ml)."
        raise BadInput(text, next="Check both strengths.", code="diluted-is-stronger")
    if factor is not None and stock is not None and strength is not None:
        off = abs(strength * factor / stock - 1)
        if off > 0.01:
            text = (
                f"{stock:g} mg/ml thinned {factor:g} times is {stock / factor:.4g}, not {strength:g} mg/ml."
            )
            raise BadInput(text, next="Give one of both.", code="dilution-disagrees")
    check_override_is_named(options)
    words = words_on_rules(options["override"], options["override_by"].strip(), now, "--override")
    named = {word.rule for word in words}
    words += tuple(
        RuleWord(rule=code, by=plan.vet, at=now, why="confirmed by the vet")
        for code in dict.fromkeys(confirmed)
        if code not in named
    )
    return {
        "second_person": options["second_person"].strip(),
        "syringe_ml": number_or_none(options["syringe_ml"], "--syringe-ml", low=0.05, high=100),
        "dilution_factor": factor,
        "diluted_mg_per_ml": plain_number(strength) if strength is not None else "",
        "flush_ml": number_or_none(options["flush_ml"], "--flush-ml", low=0, high=1000),
        "as_told": options["as_told"],
        "overrides": words,
    }


def as_worked_out(more: Mapping[str, Any], answer: DoseAnswer, now: datetime) -> dict[str, Any]:
    """Fill what was not typed from the dose as it was worked out: syringe, mixture, and whose word counted."""
    filled = dict(more)
    if filled["syringe_ml"] is None and answer.syringe_ml is not None:
        filled["syringe_ml"] = float(answer.syringe_ml)
    if filled["dilution_factor"] is None and not filled["diluted_mg_per_ml"] and answer.dilution is not None:
        filled["dilution_factor"] = float(answer.dilution.factor)
        filled["diluted_mg_per_ml"] = plain_number(float(answer.dilution.concentration_mg_per_ml))
    known = {word.rule for word in filled["overrides"]}
    filled["overrides"] = (
        *filled["overrides"],
        *(
            RuleWord(rule=word.code, by=word.by, at=now, why=word.reason)
            for word in answer.words_used
            if word.code not in known
        ),
    )
    return filled


def delivered_mg_per_kg(volume_ml: str, strength_mg_per_ml: str, weight_g: float | None) -> str:
    """Return what a volume makes per kg, to four figures; empty where one of the three is not known.

    Examples
    --------
    >>> delivered_mg_per_kg("0.16", "100", 317.0)
    '50.47'
    """
    if not volume_ml or not strength_mg_per_ml or not weight_g:
        return ""
    made = Decimal(volume_ml) * Decimal(strength_mg_per_ml) * 1000 / Decimal(repr(weight_g))
    return plain_number(float(f"{made:.4g}"))
