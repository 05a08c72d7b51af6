"""``calc fluids`` and ``calc tube``: fluids of a day, and what a feeding tube holds, without records."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from decimal import Decimal

    from fecallab.domain.dosing import TubeAnswer
    from fecallab.domain.fluids import FluidAnswer

JSON = typer.Option(False, "--json", help="Print one JSON object.")


def register(app: typer.Typer) -> None:
    """Add ``fluids`` and ``tube`` to the calculators."""
    app.command("fluids")(fluids)
    app.command("tube")(tube)


def fluids(
    weight_g: str = typer.Option(..., "--weight-g", help="Weight of the animal in g."),
    ml_per_kg: str | None = typer.Option(
        None, "--ml-per-kg", help="ml per kg for one day, as the vet ordered."
    ),
    sites: str = typer.Option("1", "--sites", help="Places at one time."),
    times: str = typer.Option("1", "--times", help="Times in the day."),
    route: str = typer.Option("", "--route", help="PO (by mouth), SC or IM."),
    maintenance_ml_per_kg: str | None = typer.Option(
        None, "--maintenance-ml-per-kg", help="Instead of --ml-per-kg: maintenance for one day."
    ),
    dry_percent: str = typer.Option("0", "--dry-percent", help="How dry it is, in percent of body weight."),
    over_days: str | None = typer.Option(
        None, "--over-days", help="Days over which what is missing is given back."
    ),
    volume_written_ml: str | None = typer.Option(
        None, "--volume-written-ml", help="The volume of the day on the vet's sheet."
    ),
    as_json: bool = JSON,
) -> None:
    """Work out the fluids of one day over places and times; the vet names fluid and amount."""
    from fecallab.cli.output import emit
    from fecallab.cli.typed import read_count
    from fecallab.domain.dosing import Found
    from fecallab.domain.fluids import FluidOrder, work_out_fluids
    from fecallab.reference.drugs import dose_facts

    facts = dose_facts()
    found = Found(facts)
    grams = _positive(weight_g, "g", "--weight-g")
    order = FluidOrder(
        weight_g=grams,
        ml_per_kg=_amount(ml_per_kg, maintenance_ml_per_kg, dry_percent, over_days, found),
        sites=read_count(sites, "--sites"),
        times=read_count(times, "--times"),
        route=route,
        volume_written_ml=_optional(volume_written_ml, "ml", "--volume-written-ml"),
    )
    answer = work_out_fluids(order, facts, found)
    payload = {**answer.as_dict(), "read_as": _fluids_read_as(order), "edition": facts.edition}
    emit(payload, _fluid_text(order, answer, facts.rule("until-then").next), as_json)


def tube(
    french: str = typer.Option(..., "--french", help="French size on the package (Fr, Ch)."),
    length_mm: str = typer.Option(..., "--length-mm", help="Length of the whole tube in mm."),
    inner_diameter_mm: str | None = typer.Option(
        None, "--inner-diameter-mm", help="Inner diameter on the package; without it no volume."
    ),
    empty_g: str | None = typer.Option(None, "--empty-g", help="Weight of the dry tube in g."),
    full_g: str | None = typer.Option(None, "--full-g", help="Weight of the tube full of water in g."),
    dose_ml: str | None = typer.Option(None, "--dose-ml", help="The dose as drawn, for the two ways."),
    weight_g: str | None = typer.Option(None, "--weight-g", help="Weight of the animal, for the two ways."),
    as_json: bool = JSON,
) -> None:
    """Say how thick a tube is and what it holds; with a dose and a weight also the two ways through it."""
    from fecallab.cli.output import emit
    from fecallab.domain.dose_tube import tube_figures, weighed_tube_ml
    from fecallab.domain.errors import BadInput
    from fecallab.reference.drugs import dose_facts

    facts = dose_facts()
    outer, held = tube_figures(
        _positive(french, "french", "--french"),
        _optional(inner_diameter_mm, "mm", "--inner-diameter-mm"),
        _positive(length_mm, "mm", "--length-mm"),
        facts,
    )
    if (empty_g is None) != (full_g is None):
        text = "Weighing the tube needs both weights."
        raise BadInput(text, next="Type --empty-g and --full-g.", code="tube-weighing-unlikely")
    weighed = None
    if empty_g is not None and full_g is not None:
        weighed = weighed_tube_ml(
            _positive(empty_g, "g", "--empty-g"), _positive(full_g, "g", "--full-g"), facts
        )
    if (dose_ml is None) != (weight_g is None):
        text = "The two ways through a tube need the dose and the animal's weight."
        raise BadInput(text, next="Type --dose-ml and --weight-g.", code="number-unreadable")
    priming = held if weighed is None else weighed
    ways: dict[str, Any] | None = None
    lines = _tube_lines(outer, priming, weighed is not None)
    if dose_ml is not None and weight_g is not None:
        ways, more = _ways(
            _positive(dose_ml, "ml", "--dose-ml"), _positive(weight_g, "g", "--weight-g"), priming
        )
        lines += more
    payload = {
        "outer_diameter_mm": float(outer),
        "priming_ml": None if priming is None else float(priming),
        "priming_by": None if priming is None else "inner diameter" if weighed is None else "weighing",
        "ways": ways,
        "edition": facts.edition,
    }
    emit(payload, "\n".join(lines), as_json)


def _amount(
    ml_per_kg: str | None, maintenance: str | None, dry_percent: str, over_days: str | None, found: Any
) -> Decimal:
    """Return ml per kg for the day, as typed or from maintenance and what is missing."""
    from fecallab.domain.errors import BadInput
    from fecallab.domain.figures import read_figure
    from fecallab.domain.fluids import ml_per_kg_with_deficit

    if (ml_per_kg is None) == (maintenance is None):
        raise BadInput(
            "The amount is given by --ml-per-kg or by --maintenance-ml-per-kg, one of the two.",
            next="Type --ml-per-kg 20, or --maintenance-ml-per-kg 15 --dry-percent 5.",
            code="number-unreadable",
        )
    if ml_per_kg is not None:
        return _positive(ml_per_kg, "ml_per_kg", "--ml-per-kg")
    upkeep = _positive(maintenance or "", "ml_per_kg", "--maintenance-ml-per-kg")
    dry = read_figure(dry_percent, "percent", "--dry-percent")
    days = _optional(over_days, "days", "--over-days")
    amount = ml_per_kg_with_deficit(upkeep, dry, days, found)
    return upkeep if amount is None else amount


def _positive(text: str, unit: str, option: str) -> Decimal:
    """Return a figure above zero."""
    from fecallab.domain.errors import BadInput
    from fecallab.domain.figures import read_figure

    figure = read_figure(text, unit, option)
    if figure <= 0:
        raise BadInput(
            f"{option} is {figure}: it must be above zero.",
            next="Type a plain number above zero, such as 0.5.",
            code="number-not-positive",
        )
    return figure


def _optional(text: str | None, unit: str, option: str) -> Decimal | None:
    """Read an option that may be left out."""
    return None if text is None else _positive(text, unit, option)


def _fluids_read_as(order: Any) -> dict[str, Any]:
    """Return what was understood, so that it can be compared with the sheet."""
    return {
        "weight_g": order.weight_g,
        "ml_per_kg": order.ml_per_kg,
        "sites": order.sites,
        "times": order.times,
        "route": order.route,
    }


def _fluid_text(order: Any, answer: FluidAnswer, until_then: str) -> str:
    """Put the fluids of a day into words."""
    from fecallab.domain.figures import figure_text, times_in_words
    from fecallab.domain.safety import BANNER, cautions_for

    amount = f"{figure_text(order.weight_g)} g, {figure_text(order.ml_per_kg)} ml per kg in the day"
    how = f"{times_in_words(order.times)}, in {order.sites} place{'' if order.sites == 1 else 's'}"
    lines = [BANNER, "", f"Read as: {amount}, {how} {order.route}".rstrip()]
    if answer.total_ml is None or answer.per_time_ml is None or answer.per_site_ml is None:
        lines += ["", "REFUSED: no volume is given."]
        for reason in answer.reasons:
            forward = reason.next.removesuffix(until_then).strip()
            lines += [f"  - {reason.text} ({reason.code})", f"    {forward}"]
        return "\n".join([*lines, "", until_then])
    lines += [
        "",
        f"In the day {figure_text(answer.total_ml)} ml; each time {figure_text(answer.per_time_ml)} ml; "
        f"in each place {figure_text(answer.per_site_ml)} ml.",
    ]
    if answer.warnings:
        lines += ["", "Warnings:"]
        lines += [f"  - {warning.text} {warning.next} ({warning.code})" for warning in answer.warnings]
    return "\n".join([*lines, "", *(f"  {caution.text}" for caution in cautions_for("fluids"))])


def _tube_lines(outer: Decimal, priming: Decimal | None, weighed: bool) -> list[str]:
    """Say how thick the tube is and what it holds."""
    from fecallab.domain.figures import figure_text

    lines = [f"Outer diameter {figure_text(round(outer, 3))} mm."]
    if priming is None:
        more = (
            "What it holds is not known: read the inner diameter on the package, or weigh it empty and full."
        )
        return [*lines, more]
    how = "by weighing, 1 g is 1 ml" if weighed else "by inner diameter and length; weighing is more exact"
    return [*lines, f"It holds {figure_text(round(priming, 4))} ml ({how})."]


def _ways(dose_ml: Decimal, weight_g: Decimal, priming: Decimal | None) -> tuple[dict[str, Any], list[str]]:
    """Work out both ways through the tube, to choose one of them."""
    from fecallab.domain.dose_tube import check_tube
    from fecallab.domain.dosing import Found, TubeUse
    from fecallab.domain.tube import WAYS
    from fecallab.reference.drugs import dose_facts

    answers: dict[str, Any] = {}
    lines = ["", "Two ways, never both:"]
    for way, words in WAYS.items():
        found = Found(dose_facts())
        use = TubeUse(priming_ml=priming, way=way)
        through: TubeAnswer | None = check_tube(dose_ml, weight_g, use, None, False, found)
        answers[way] = {
            "answer": None if through is None else through.as_dict(),
            "refused": found.refused,
            "reasons": [reason.as_dict() for reason in found.reasons],
            "warnings": [warning.as_dict() for warning in found.warnings],
        }
        lines += ["", f"{way.upper()}. {words}"]
        lines += [f"  - {reason.text} ({reason.code})" for reason in (*found.reasons, *found.warnings)]
        lines += [f"  {number}. {step}" for number, step in enumerate(through.steps, 1)] if through else []
    return answers, lines
