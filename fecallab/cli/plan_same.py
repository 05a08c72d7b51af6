"""The same plan once more: one step for the vet to confirm."""

from __future__ import annotations

from pathlib import Path

import typer

from fecallab.cli.common import BY, JSON, RECORDS, REMARK, fact_dict, now, open_folder, read_day, who
from fecallab.cli.output import emit
from fecallab.domain.spoken import say_date


def same(
    case: str = typer.Argument(help="Code of the case."),
    vet: str = typer.Option(..., help="The vet who orders the same plan again."),
    written: str | None = typer.Option(None, help="Day on which it was ordered (today when left out)."),
    file: Path | None = typer.Option(None, help="A picture of the new sheet."),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Record that the vet orders the last plan again, with today's weight: a new plan, never an edit."""
    from dataclasses import replace

    from fecallab.cli.case_words import course_words
    from fecallab.cli.exam_input import take_in
    from fecallab.domain.errors import BadInput, Reason, Refused
    from fecallab.reference.tables import EDITION

    name = vet.strip()
    if not name:
        text = "A plan is a named vet's order, the same one again too."
        raise Refused([Reason("order-missing", text, 'Type: --vet "NAME"')])
    day = read_day(written, "--written")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        known = writer.case_file(case)
        last = known.plan
        if last is None:
            text = f"{known.case.code} has no plan yet that could be the same again."
            raise BadInput(text, next=f"Type: fecallab plan add {known.case.code} --vet NAME", code="no-plan")
        if known.closing is not None:
            text = f"{known.case.code} was closed on {say_date(known.closing.closed_on)} ({known.closing.ending})."
            step = f"Open a new one: fecallab case open {known.animal.code} {known.case.target} --vet NAME"
            raise Refused([Reason("case-closed", text, step)])
        if day < last.written_on:
            text = (
                f"The plan is of {say_date(day)}, older than the one in force ({say_date(last.written_on)})."
            )
            raise BadInput(text, next="Check --written.", code="plan-older")
        plan = writer.add(
            replace(
                last,
                code="",
                vet=name,
                written_on=day,
                volume_written_ml="",
                picture=take_in(file, writer).sha256 if file else "",
                as_told=False,
                confirmed=(),
                edition=EDITION,
                remark=remark or f"the same plan as {last.code} of {say_date(last.written_on)}",
            )
        )
    lines = [
        f"{plan.code} for {known.case.code} ({known.animal.name}) by {name}:"
        f" the same plan as on {say_date(last.written_on)} ({last.code}). Recorded."
    ]
    if plan.drug:
        lines.append(f"  {course_words(plan)}")
    first = next((d.weight_g for d in known.doses if d.plan == last.code and d.weight_g), None)
    weighed = known.weighings[-1] if known.weighings else None
    fresh = weighed is not None and weighed.weighed_at.date() == now().date()
    if weighed is not None and first:
        lines.append(
            f"  Weight then {first:g} g, last {weighed.mass_g:g} g ({say_date(weighed.weighed_at)})."
        )
    if plan.doses_planned:
        weigh = "" if fresh else f"weigh {known.animal.name}, then: "
        lines.append(f"  Next: {weigh}fecallab dose work-out {known.case.code}")
    payload = {
        "plan": fact_dict(plan),
        "same_as": last.code,
        "weight_then_g": first,
        "weight_g": weighed.mass_g if weighed else None,
        "weighed_today": fresh,
    }
    emit(payload, "\n".join(lines), as_json)
