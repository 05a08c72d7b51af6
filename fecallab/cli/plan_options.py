"""What a plan may say besides drug and follow-up: fluids, warmth, dilution, tube, pictures, the vet's words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import AS_TOLD, number_or_none, one_of
from fecallab.cli.options import Group
from fecallab.cli.typed import plain_number
from fecallab.domain.animal import AS_TOLD as AS_TOLD_WORDS
from fecallab.domain.errors import BadInput
from fecallab.domain.plan import TUBE_WAYS, Plan, RuleWord
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from fecallab.records.writer import Writer

MM_PER_FRENCH = 1 / 3
"""Outer diameter of a tube in mm for each French (the definition of the scale)."""

PLAN_MORE: Group = {
    "repeats_allowed": (
        int | None,
        typer.Option(None, help="How often the whole course may be repeated without a new plan."),
    ),
    "fluids_ml_per_kg_day": (str | None, typer.Option(None, help="Fluids for the day, ml per kg.")),
    "fluid_product": (str, typer.Option("", help="Which fluid, as the vet named it.")),
    "night_c": (str | None, typer.Option(None, help="Lowest at night at least, °C.")),
    "diluent": (str, typer.Option("", help="With what the drug may be thinned.")),
    "diluent_by": (str, typer.Option("", help="The vet or pharmacist who named it.")),
    "volume_written_ml": (str | None, typer.Option(None, help="The volume on the vet's sheet, ml.")),
    "specialist_word": (str, typer.Option("", help="Name and date of a specialist's written word.")),
    "bottle_ml": (str | None, typer.Option(None, help="What is in the bottle now, ml.")),
    "tube_french": (str | None, typer.Option(None, help="Size of the feeding tube, French.")),
    "tube_inner_mm": (str | None, typer.Option(None, help="Its inner diameter, mm.")),
    "tube_length_mm": (str | None, typer.Option(None, help="Its length, mm.")),
    "tube_way": (str, typer.Option("", help="How it is emptied: flush or overfill.")),
    "label": (Path | None, typer.Option(None, help="A picture of the label on the bottle.")),
    "confirm": (
        list[str],
        typer.Option([], help="A warning that the vet has answered: CODE=WHY (may be repeated)."),
    ),
    "as_told": (bool, AS_TOLD),
}
"""Options of ``plan add`` besides drug and follow-up."""


def more_of_plan(
    options: Mapping[str, Any], vet: str, now: datetime, warm_end_c: float | None
) -> dict[str, Any]:
    """Return the fields of a plan that these options give, checked; the label's picture is not among them."""
    repeats = options["repeats_allowed"]
    if repeats is not None and not 0 <= repeats <= 100:
        text = f"--repeats-allowed is {repeats}; it lies outside 0 to 100."
        raise BadInput(text, next="Check the number.", code="out-of-range")
    diluent, diluent_by = options["diluent"].strip(), options["diluent_by"].strip()
    if bool(diluent) != bool(diluent_by):
        text = "What a drug is thinned with is named by a vet or a pharmacist; both belong together."
        raise BadInput(text, next='Type: --diluent water --diluent-by "NAME"', code="diluent-by-whom")
    night = number_or_none(options["night_c"], "--night-c", low=-5, high=50)
    if night is not None and warm_end_c is not None and night > warm_end_c:
        text = f"The lowest at night ({night:g} °C) is above the warm end ({warm_end_c:g} °C)."
        raise BadInput(text, next="Swap or correct them.", code="night-above-warm-end")
    written = number_or_none(options["volume_written_ml"], "--volume-written-ml", low=0.001, high=1000)
    return {
        "repeats_allowed": repeats,
        "fluids_ml_per_kg_day": number_or_none(
            options["fluids_ml_per_kg_day"], "--fluids-ml-per-kg-day", low=0.1, high=500
        ),
        "fluid_product": options["fluid_product"],
        "night_at_least_c": night,
        "diluent": diluent,
        "diluent_by": diluent_by,
        "volume_written_ml": plain_number(written) if written is not None else "",
        "specialist_word": options["specialist_word"],
        "bottle_ml": number_or_none(options["bottle_ml"], "--bottle-ml", low=0.1, high=10_000),
        **_tube(options),
        "as_told": options["as_told"],
        "confirmed": words_on_rules(options["confirm"], vet, now, "--confirm"),
    }


def _tube(options: Mapping[str, Any]) -> dict[str, Any]:
    french = number_or_none(options["tube_french"], "--tube-french", low=1, high=40)
    inner = number_or_none(options["tube_inner_mm"], "--tube-inner-mm", low=0.1, high=13)
    length = number_or_none(options["tube_length_mm"], "--tube-length-mm", low=10, high=3000)
    if french is not None and inner is not None and inner >= french * MM_PER_FRENCH:
        text = f"A tube of {french:g} French is {french * MM_PER_FRENCH:.3g} mm thick outside; {inner:g} mm inside cannot be."
        raise BadInput(text, next="Check both numbers.", code="tube-too-thin")
    return {
        "tube_french": french,
        "tube_inner_diameter_mm": inner,
        "tube_length_mm": length,
        "tube_way": one_of(options["tube_way"], TUBE_WAYS, "--tube-way") if options["tube_way"] else None,
    }


def words_on_rules(texts: Sequence[str], by: str, now: datetime, option: str) -> tuple[RuleWord, ...]:
    """Read ``CODE=WHY`` (repeated) into somebody's words on rules.

    Raises
    ------
    BadInput
        For what is no word code, and for a rule that is named twice.
    """
    import re

    found: dict[str, RuleWord] = {}
    for text in texts:
        code, _, why = text.partition("=")
        code = code.strip().lower()
        if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", code):
            step = f"Type: {option} weight-some-days-old=WHY"
            raise BadInput(
                f"{option} {text[:40]!r} names no rule by its code.", next=step, code="no-rule-code"
            )
        if code in found:
            raise BadInput(f"{option} names {code} twice.", next="Name it once.", code="given-twice")
        found[code] = RuleWord(rule=code, by=by, at=now, why=why.strip())
    return tuple(found.values())


def label_of(options: Mapping[str, Any], writer: Writer) -> str:
    """Copy the picture of the label in and return its hash; empty without one."""
    from fecallab.cli.exam_input import take_in

    return take_in(options["label"], writer).sha256 if options["label"] else ""


def more_words(plan: Plan) -> list[str]:
    """Return what a plan says besides drug and follow-up, a line each."""
    lines = []
    if plan.fluids_ml_per_kg_day or plan.fluid_product:
        much = f" {plan.fluids_ml_per_kg_day:g} ml/kg a day" if plan.fluids_ml_per_kg_day else ""
        lines.append(f"Fluids:{much} {plan.fluid_product}".rstrip())
    if plan.warm_end_at_least_c is not None or plan.night_at_least_c is not None:
        ends = [
            f"{name} {value:g} °C"
            for name, value in (
                ("warm end at least", plan.warm_end_at_least_c),
                ("at night at least", plan.night_at_least_c),
            )
            if value is not None
        ]
        lines.append(f"Warmth: {', '.join(ends)}")
    if plan.diluent:
        lines.append(f"May be thinned with {plan.diluent} (named by {plan.diluent_by})")
    if plan.tube_french:
        way = f", emptied by {plan.tube_way}" if plan.tube_way else ""
        lines.append(f"Tube: {plan.tube_french:g} French{way}")
    lines += [f"{word.by} on {word.rule}: {word.why or 'answered'}" for word in plan.confirmed]
    return lines


def plan_fields(plan: Plan) -> list[str]:
    """Return everything that a plan says, field by field."""
    from dataclasses import asdict

    lines = []
    for name, value in asdict(plan).items():
        if value is None or value is False or value in ("", ()) or name == "confirmed":
            continue
        lines.append(AS_TOLD_WORDS if name == "as_told" else say_field(name, value))
    return [*lines, *(f"{word.by} on {word.rule}: {word.why or 'answered'}" for word in plan.confirmed)]


_UNITS = {
    "_ml_per_kg_day": "ml/kg a day",
    "_mg_per_kg": "mg/kg",
    "_mg_per_ml": "mg/ml",
    "_days": "days",
    "_ml": "ml",
    "_mm": "mm",
    "_c": "°C",
}
"""What a field's name ends with, and how it is said."""


def say_field(name: str, value: object) -> str:
    """Say one field of a plan: its unit behind the number, a day spelled out.

    Examples
    --------
    >>> say_field("interval_days", 14.0), say_field("written_on", date(2026, 3, 4)), say_field("drug", "fenbendazole")
    ('interval: 14 days', 'written on: 4 March 2026', 'drug: fenbendazole')
    """
    from fecallab.domain.spoken import number_of

    text = (
        say_date(value)
        if isinstance(value, date)
        else f"{value:g}"
        if isinstance(value, float)
        else f"{value}"
    )
    ending = next((end for end in _UNITS if name.endswith(end)), "")
    if ending == "_days" and isinstance(value, int | float):
        text = number_of(value, "day")
    elif ending:
        text += f" {_UNITS[ending]}"
    return f"{name.removesuffix(ending).replace('_', ' ')}: {text}"
