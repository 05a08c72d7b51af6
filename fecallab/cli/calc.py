"""Calculators that need no records."""

from __future__ import annotations

from pathlib import Path

import typer

from fecallab.cli import calc_care, calc_counts, calc_dose, calc_group
from fecallab.cli.output import emit

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)
calc_counts.register(app)
calc_dose.register(app)
calc_care.register(app)
calc_group.register(app)

JSON = typer.Option(False, "--json", help="Print one JSON object.")


@app.command()
def adequacy(
    file: Path = typer.Argument(help="A JSON file with one exam (docs: forms)."),
    as_json: bool = JSON,
) -> None:
    """Could this exam have shown the target? Positive, negative or inconclusive, and why."""
    from fecallab.cli.forms import ExamQuestion, read_form
    from fecallab.domain.adequacy import judge
    from fecallab.reference.adequacy import adequacy_facts

    question = read_form(file, ExamQuestion)
    answer = judge(question.evidence(), adequacy_facts())
    ignored = question.unknown_keys()
    payload = {
        "result": answer.result,
        "unsure": answer.unsure,
        "reasons": [reason.as_dict() for reason in answer.reasons],
        "bound": answer.bound.as_dict() if answer.bound else None,
        "keys_not_read": ignored,
    }
    lines = [f"{answer.result} for {question.target} ({question.stage})"]
    lines += [f"  - {reason}" for reason in answer.reasons]
    if answer.bound:
        lines.append(f"  None found, one-sided 95 % limit: {answer.bound.says}.")
    if ignored:
        lines.append(f"  Not read (unknown keys): {', '.join(ignored)}")
    emit(payload, "\n".join(lines), as_json)


@app.command()
def standing(
    file: Path = typer.Argument(help="A JSON file with one case history (docs: forms)."),
    as_json: bool = JSON,
) -> None:
    """Where does a case stand on a day, and why?"""
    from fecallab.cli.forms import CaseQuestion, read_form
    from fecallab.cli.words import standing_lines, standing_payload
    from fecallab.domain.followup import assess

    question = read_form(file, CaseQuestion)
    answer = assess(question.history(), question.today)
    ignored = question.unknown_keys()
    payload = {**standing_payload(answer), "keys_not_read": ignored}
    lines = standing_lines(answer)
    if ignored:
        lines.append(f"  Not read (unknown keys): {', '.join(ignored)}")
    emit(payload, "\n".join(lines), as_json)
