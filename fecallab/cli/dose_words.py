"""A worked-out dose in words: what to draw, with what, what to watch, what nobody checked."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from fecallab.domain.spoken import number_of, say_change, say_date

if TYPE_CHECKING:
    from fecallab.domain.dosing import DoseAnswer, OtherDrug
    from fecallab.domain.followup import Standing
    from fecallab.records.casefile import CaseFile


def answer_lines(file: CaseFile, answer: DoseAnswer, moment: datetime) -> list[str]:
    """Return a dose that is not refused, a line each; no volume while a warning needs the vet's word."""
    from fecallab.domain.dosing import read_route
    from fecallab.domain.safety import act_of_route, cautions_for

    plan, weight = file.plan, [w for w in file.weighings if w.weighed_at <= moment][-1]
    assert plan is not None
    lines = [
        f"{file.animal.name}: {plan.drug}, {plan.dose_mg_per_kg} mg/kg {plan.route} by {plan.vet}'s plan {plan.code}",
        f"  weight {weight.mass_g:g} g of {say_date(weight.weighed_at)}, strength {plan.concentration_mg_per_ml} mg/ml",
        *(_waiting_lines(file, answer) if answer.to_confirm else _volume_lines(file, answer)),
    ]
    for warning in answer.warnings:
        if warning.code not in answer.to_confirm:
            lines.append(f"  note ({warning.code}): {warning}")
    lines += [f"  lifted by a recorded word: {code}" for code in answer.lifted]
    lines += [f"  {reason}" for reason in answer.not_checked]
    lines += [f"  {caution.text}" for caution in cautions_for(act_of_route(read_route(plan.route) or ""))]
    if not answer.to_confirm:
        lines.append(f"  Then: fecallab dose give {file.case.code}")
    return lines


def _waiting_lines(file: CaseFile, answer: DoseAnswer) -> list[str]:
    """Return what the vet has to answer before a volume is shown."""
    codes = " ".join(f"--confirmed {code}" for code in answer.to_confirm)
    return [
        *(
            f"  needs the vet's word ({warning.code}): {warning}"
            for warning in answer.warnings
            if warning.code in answer.to_confirm
        ),
        f"  No volume before that word. Ask, then type: fecallab dose work-out {file.case.code} {codes}",
    ]


def _volume_lines(file: CaseFile, answer: DoseAnswer) -> list[str]:
    """Return how to mix, what to draw and with what."""
    from fecallab.cli.words import volume_in_words

    assert answer.draw_ml is not None and answer.volume_ml is not None
    of = " of the mixture" if answer.dilution is not None else ""
    lines = [
        *_mixing_lines(answer),
        f"  draw {answer.draw_ml.normalize():f} ml{of} ({volume_in_words(answer.draw_ml)})",
        f"  exactly {answer.volume_ml:.4f} ml; delivers {answer.delivered_mg_per_kg:.3g} mg/kg"
        f" ({answer.error_percent:+.1f} %)",
    ]
    if answer.volume_with_last_weight_ml is not None:
        before = answer.volume_with_last_weight_ml
        lines.append(f"  with the weight of the last dose it was {before:.4f} ml")
    if answer.syringe_ml is not None:
        lines.append(f"  syringe {answer.syringe_ml:f} ml, marks of {answer.graduation_ml:f} ml")
    return lines + _tube_lines(file, answer)


def _mixing_lines(answer: DoseAnswer) -> list[str]:
    if answer.dilution is None:
        return []
    return [f"  mix first: {step}" for step in answer.dilution.lines()]


def _tube_lines(file: CaseFile, answer: DoseAnswer) -> list[str]:
    from fecallab.gather_dose import tube_mark_words

    if answer.tube is None:
        return []
    return [f"  tube: {tube_mark_words(file)}", *(f"  tube: {step}" for step in answer.tube.steps)]


LOOK_BACK_DAYS = 60
"""How far back earlier doses are shown to the vet (proposal, no source)."""


def again_lines(file: CaseFile, standing: Standing, doses: Sequence[OtherDrug], today: date) -> list[str]:
    """Return what the vet needs for a new plan: where it stands, weights, every earlier dose, the last plan."""
    from fecallab.cli.case_words import plan_lines
    from fecallab.cli.words import standing_lines

    weights = [w for w in file.weighings if w.weighed_at.date() <= today]
    lines = [
        f"{file.case.code}: {file.case.target} in {file.animal.name}, {file.animal.species or 'species not given'}"
    ]
    lines += standing_lines(standing)
    if weights:
        first, last = weights[0], weights[-1]
        change = f", {say_change(last.mass_g, first.mass_g)} than on {say_date(first.weighed_at)}"
        lines.append(
            f"Weight: {last.mass_g:g} g on {say_date(last.weighed_at.date())}{change if last is not first else ''}"
        )
        if last.weighed_at.date() != today:
            lines.append("  That is not of today: weigh it again before the vet writes.")
    else:
        lines.append("Weight: none. Weigh it first.")
    lines.append("Last plan:")
    lines += [f"  {line.strip()}" for line in plan_lines(file)]
    recent = [dose for dose in doses if dose.days_ago <= LOOK_BACK_DAYS]
    lines.append(f"Doses of the last {LOOK_BACK_DAYS} days, over all courses: {len(recent) or 'none'}")
    lines += [f"  {dose.words}" for dose in recent]
    if len(doses) > len(recent):
        lines.append(
            f"Before that: {number_of(len(doses) - len(recent), 'dose')}, the last {doses[len(recent)].words}"
        )
    cleaned = [c.at for c in file.care if c.kind == "cleaning"]
    lines.append(f"Cleaned: {', '.join(f'{say_date(at)}' for at in cleaned) or 'never logged'}")
    lines.append("No volume before the vet has written a new plan. Send the page, then record the answer:")
    lines.append(f"  fecallab vet page {file.case.code}")
    lines.append(
        f'  fecallab plan same {file.case.code} --vet "NAME"   or   fecallab plan add {file.case.code} ...'
    )
    return lines


def again_payload(
    file: CaseFile, standing: Standing, doses: Sequence[OtherDrug], today: date
) -> dict[str, Any]:
    """Return the same for ``--json``."""
    from fecallab.cli.common import fact_dict
    from fecallab.cli.words import standing_payload

    weights = [w for w in file.weighings if w.weighed_at.date() <= today]
    return {
        "case": fact_dict(file.case),
        **standing_payload(standing),
        "weight_g": weights[-1].mass_g if weights else None,
        "weighed_on": weights[-1].weighed_at.date() if weights else None,
        "last_plan": fact_dict(file.plan) if file.plan else None,
        "doses_of_the_last_60_days": [
            {"drug": d.drug, "given_on": d.given_on, "mg_per_kg": d.dose_mg_per_kg, "doses": d.doses}
            for d in doses
            if d.days_ago <= LOOK_BACK_DAYS
        ],
        "volume_ml": None,
    }
