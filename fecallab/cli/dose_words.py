"""A worked-out dose in words: what to draw, with what, what to watch, what nobody checked."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fecallab.domain.dosing import DoseAnswer
    from fecallab.records.casefile import CaseFile


def answer_lines(file: CaseFile, answer: DoseAnswer, moment: datetime) -> list[str]:
    """Return a dose that is not refused, a line each."""
    from fecallab.cli.words import volume_in_words
    from fecallab.domain.dosing import read_route
    from fecallab.domain.safety import act_of_route, cautions_for

    plan, weight = file.plan, [w for w in file.weighings if w.weighed_at <= moment][-1]
    assert plan is not None and answer.draw_ml is not None and answer.volume_ml is not None
    of = " of the mixture" if answer.dilution is not None else ""
    lines = [
        f"{file.animal.name}: {plan.drug}, {plan.dose_mg_per_kg} mg/kg {plan.route} by {plan.vet}'s plan {plan.code}",
        f"  weight {weight.mass_g:g} g of {weight.weighed_at:%Y-%m-%d}, strength {plan.concentration_mg_per_ml} mg/ml",
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
    lines += _tube_lines(answer)
    for warning in answer.warnings:
        sign = "needs the vet's word" if warning.code in answer.to_confirm else "note"
        lines.append(f"  {sign} ({warning.code}): {warning}")
    lines += [f"  lifted by a recorded word: {code}" for code in answer.lifted]
    lines += [f"  not checked: {reason}" for reason in answer.not_checked]
    lines += [f"  {caution.text}" for caution in cautions_for(act_of_route(read_route(plan.route) or ""))]
    lines.append(f"  Then: fecallab dose give {file.case.code}")
    return lines


def _mixing_lines(answer: DoseAnswer) -> list[str]:
    if answer.dilution is None:
        return []
    return [f"  mix first: {step}" for step in answer.dilution.lines()]


def _tube_lines(answer: DoseAnswer) -> list[str]:
    if answer.tube is None:
        return []
    return [f"  tube: {step}" for step in answer.tube.steps]
