"""``calc dose``: the arithmetic of one dose, with hard stops, ranges and slips, and without records."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from decimal import Decimal

    from fecallab.domain.dosing import DoseAnswer, DoseFacts, DoseRequest
    from fecallab.domain.taxon import Taxon


def register(app: typer.Typer) -> None:
    """Add ``dose`` to the calculators."""
    app.command("dose")(dose)


def dose(
    weight_g: str = typer.Option(..., "--weight-g", help="Weight of the animal in g."),
    dose_mg_per_kg: str = typer.Option(..., "--dose-mg-per-kg", help="What the vet ordered."),
    concentration_mg_per_ml: str = typer.Option(
        ..., "--concentration-mg-per-ml", help="The mg per ml on the bottle."
    ),
    drug: str = typer.Option("", "--drug", help="Generic name of the drug."),
    host_group: str = typer.Option(
        "", "--host-group", help="tortoise, turtle, snake, lizard, gecko, chameleon or crocodilian."
    ),
    taxon: str = typer.Option("", "--taxon", help="The animal: common or Latin name, species to order."),
    arithmetic_only: bool = typer.Option(
        False, "--arithmetic-only", help="The bare sum, without a range check."
    ),
    interval_hours: str | None = typer.Option(None, "--interval-hours", help="Time between two doses."),
    route: str = typer.Option("", "--route", help="PO (by mouth), SC, IM or TOP (on the skin)."),
    syringe_ml: str | None = typer.Option(None, "--syringe-ml", help="Size of the syringe at hand."),
    graduation_ml: str | None = typer.Option(
        None, "--graduation-ml", help="Volume between two of its marks."
    ),
    as_json: bool = typer.Option(False, "--json", help="Print one JSON object."),
) -> None:
    """Work out the volume of a dose that the vet ordered; hard stops, ranges and slips apply."""
    from fecallab.cli.output import emit
    from fecallab.domain.dosing import DoseRequest, work_out
    from fecallab.domain.figures import read_figure
    from fecallab.reference.drugs import dose_facts
    from fecallab.reference.taxa import suggest_taxon

    animal, unknown = _animal(taxon, host_group)
    request = DoseRequest(
        weight_g=_positive(read_figure(weight_g, "g", "--weight-g"), "--weight-g"),
        dose_mg_per_kg=_positive(
            read_figure(dose_mg_per_kg, "mg_per_kg", "--dose-mg-per-kg"), "--dose-mg-per-kg"
        ),
        concentration_mg_per_ml=_positive(
            read_figure(concentration_mg_per_ml, "mg_per_ml", "--concentration-mg-per-ml"),
            "--concentration-mg-per-ml",
        ),
        drug=drug.strip(),
        taxon=animal,
        taxon_text=unknown,
        near_names=suggest_taxon(unknown) if unknown else (),
        interval_hours=_optional(interval_hours, "hours", "--interval-hours"),
        route=route,
        syringe_ml=_optional(syringe_ml, "ml", "--syringe-ml"),
        graduation_ml=_optional(graduation_ml, "ml", "--graduation-ml"),
        arithmetic_only=arithmetic_only,
    )
    facts = dose_facts()
    answer = work_out(request, facts)
    payload: dict[str, Any] = {
        **answer.as_dict(),
        "checked": False,
        "read_as": _read_as(request),
        "in_words": _in_words(answer),
        "edition": facts.edition,
    }
    emit(payload, _as_text(request, answer, facts), as_json)


def _optional(text: str | None, unit: str, option: str) -> Decimal | None:
    """Read an option that may be left out."""
    from fecallab.domain.figures import read_figure

    return None if text is None else _positive(read_figure(text, unit, option), option)


def _positive(figure: Decimal, option: str) -> Decimal:
    """Return a figure above zero."""
    from fecallab.domain.errors import BadInput

    if figure <= 0:
        raise BadInput(
            f"{option} is {figure}: it must be above zero.",
            next="Type a plain number above zero, such as 0.5.",
            code="number-not-positive",
        )
    return figure


def _animal(taxon: str, host_group: str) -> tuple[Taxon | None, str]:
    """Return the animal as closely as it was named, and the name that was not found."""
    from fecallab.domain.errors import BadInput
    from fecallab.domain.taxon import HOST_GROUPS
    from fecallab.reference.taxa import group_taxon, resolve_taxon

    group = group_taxon(host_group) if host_group.strip() else None
    if host_group.strip() and group is None:
        raise BadInput(
            f'--host-group is "{host_group.strip()[:40]}", which is no group.',
            next=f"Type one of: {', '.join(HOST_GROUPS)}.",
            code="host-group-unknown",
        )
    found = resolve_taxon(taxon) if taxon.strip() else None
    if found is None:
        return group, taxon.strip()
    if group is not None and not _agree(found, group):
        raise BadInput(
            f"--host-group is {group.name}, and {found.name} belongs to {found.host_group or found.order}.",
            next="Leave --host-group out, or correct --taxon.",
            code="host-group-differs",
        )
    return found, ""


def _agree(found: Taxon, group: Taxon) -> bool:
    """Say whether an animal can belong to a group that was named besides."""
    if not group.host_group or not found.host_group:
        return found.order == group.order
    return found.is_a(f"host_group {group.host_group}") or group.is_a(f"host_group {found.host_group}")


def _read_as(request: DoseRequest) -> dict[str, Any]:
    """Return what was understood, so that it can be compared with the sheet."""
    animal = request.taxon
    return {
        "weight_g": request.weight_g,
        "dose_mg_per_kg": request.dose_mg_per_kg,
        "concentration_mg_per_ml": request.concentration_mg_per_ml,
        "drug": request.drug,
        "taxon": animal.name if animal else None,
        "taxon_rank": animal.rank if animal else None,
        "species": animal.species if animal else None,
        "host_group": animal.host_group if animal else None,
        "interval_hours": request.interval_hours,
        "route": request.route,
    }


def _in_words(answer: DoseAnswer) -> str | None:
    """Say the volume to draw in words, or nothing when refused."""
    from fecallab.domain.figures import figure_in_words

    if answer.draw_ml is None:
        return None
    said = figure_in_words(answer.draw_ml)
    return f"{said} millilitre" if answer.draw_ml == 1 else f"{said} millilitres"


def _as_text(request: DoseRequest, answer: DoseAnswer, facts: DoseFacts) -> str:
    """Put the answer into words for people."""
    from fecallab.domain.dosing import exact
    from fecallab.domain.figures import figure_text
    from fecallab.domain.safety import BANNER

    def said(figure: object) -> str:
        value = exact(figure if isinstance(figure, str | int | float) else str(figure))
        return figure_text(value) if value is not None else "?"

    animal = request.taxon
    parts = [
        f"{said(request.weight_g)} g",
        f"{said(request.dose_mg_per_kg)} mg per kg",
        f"{said(request.concentration_mg_per_ml)} mg per ml",
        request.drug,
        f"{animal.name} ({animal.species or animal.narrowest_name})" if animal else request.taxon_text,
        f"every {said(request.interval_hours)} h" if request.interval_hours is not None else "",
        request.route,
    ]
    lines = [BANNER, "", f"Read as: {', '.join(part for part in parts if part)}"]
    if answer.refused:
        until_then = facts.rule("until-then").next
        lines += ["", "REFUSED: no volume is given."]
        for reason in answer.reasons:
            forward = reason.next.removesuffix(until_then).strip()
            lines += [f"  - {reason.text} ({reason.code})", f"    {forward}"]
        lines += ["", until_then]
    else:
        lines += ["", *_volume_lines(answer)]
    if answer.range_used is not None:
        used = answer.range_used
        whom = f" ({used.row.studied_in}; {used.row.source_kind})" if used.row else ""
        span = figure_text(used.low_mg_per_kg)
        if used.high_mg_per_kg != used.low_mg_per_kg:
            span += f" to {figure_text(used.high_mg_per_kg)}"
        lines += ["", f"Compared with {span} mg per kg by {used.basis}{whom}."]
    if answer.warnings:
        lines += ["", "Warnings:"]
        lines += [f"  - {warning.text} {warning.next} ({warning.code})" for warning in answer.warnings]
    by_rule = {rule.code for rule in facts.rules}
    lines += [
        "",
        "Not checked here: what needs the plan, the day of the weight, a history, the animal today;",
    ]
    lines += ["the dose is worked out with all of it by: fecallab dose work-out"]
    lines += [
        f"  - {reason.text} {reason.next}" for reason in answer.not_checked if reason.code not in by_rule
    ]
    return "\n".join(lines)


def _volume_lines(answer: DoseAnswer) -> list[str]:
    """Say the volume in digits and words, the syringe, and what it delivers."""
    from fecallab.domain.figures import figure_text

    drawn = [answer.draw_ml, answer.syringe_ml, answer.graduation_ml, answer.volume_ml]
    volume, syringe, mark, exactly = ("" if figure is None else figure_text(figure) for figure in drawn)
    given, off = answer.delivered_mg_per_kg or 0, answer.error_percent or 0
    rounding = f"{abs(off):.2g} % {'more' if off > 0 else 'less'} than ordered" if off else "as ordered"
    return [
        f"Draw up {volume} ml ({_in_words(answer)}) in a {syringe} ml syringe marked every {mark} ml.",
        f"Exact volume {exactly} ml, {answer.percent_of_body_weight or 0:.2g} % of body weight. "
        f"Drawn: {given:.3g} mg per kg, {rounding} (rounding to a mark of the syringe).",
    ]
