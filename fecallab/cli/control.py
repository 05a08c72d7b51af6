"""Control runs: is the method working? Record one, and see which are due."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import typer

from fecallab.cli.common import (
    BY,
    JSON,
    ON,
    RECORDS,
    REMARK,
    fact_dict,
    now,
    number_or_none,
    one_of,
    open_folder,
    read_day,
    read_time,
    who,
)
from fecallab.cli.output import emit
from fecallab.domain.exam import method_words
from fecallab.domain.spoken import say_date, say_time

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.control import ControlRun
    from fecallab.domain.exam import Exam

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)


@app.command()
def add(
    kind: str = typer.Argument(help="known positive, blank, gravity, slide read blind, microscope scale …"),
    found: str | None = typer.Option(
        None, help="What was found: a count, a gravity, a scale, or oxyurid=12 of a slide read blind."
    ),
    expected: str | None = typer.Option(
        None, help="What should be found: the long-run mean, the gravity aimed at, the scale on record …"
    ),
    method: str = typer.Option("", help="The exam method that was tried: simple_flotation …"),
    of: str = typer.Option("", help="What the known positive holds: oxyurid …"),
    solution: str = typer.Option("", help="The fluid, as you name it in your exams."),
    bottle: str = typer.Option("", help="Which bottle or batch of it."),
    objective: str | None = typer.Option(None, help="Objective whose scale was checked: 10, 40 …"),
    empty_g: str | None = typer.Option(None, help="Gravity by weighing: the dry flask, g."),
    water_g: str | None = typer.Option(None, help="The same flask with water to the mark, g."),
    fluid_g: str | None = typer.Option(None, help="The same flask with fluid to the mark, g."),
    at: str | None = typer.Option(None, help='When, "2026-03-04 08:30" (now when left out).'),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Record a control run; a failed one puts every negative since the last good run in doubt."""
    from fecallab.cli.control_judge import judged_run
    from fecallab.domain.control import CONTROL_KINDS
    from fecallab.reference.controls import control_plan

    word = one_of(kind.replace("-", " "), CONTROL_KINDS, "the kind of control")
    weights = [
        number_or_none(text, option, low=0, high=100_000)
        for text, option in ((empty_g, "--empty-g"), (water_g, "--water-g"), (fluid_g, "--fluid-g"))
    ]
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        run, caution = judged_run(
            word,
            found,
            expected,
            weights,
            writer.controls(),
            method=method,
            of=of,
            solution=solution.strip(),
            bottle=bottle.strip(),
            objective=number_or_none(objective, "--objective", low=0.25, high=250),
            done_at=read_time(at, "--at"),
            by=who(by),
            remark=remark,
        )
        run = writer.add(run)
        doubted = [] if run.passed else _put_in_doubt(writer.controls(), writer.exams(), run)
    lines = [f"{run.code} {run.kind}: {'passed' if run.passed else 'FAILED'} ({run.judged}). Recorded."]
    if caution:
        lines.append(f"  {caution}")
    if not run.passed:
        lines.append(f"  If it fails: {control_plan()[run.kind].if_it_fails}.")
    if doubted:
        lines.append(f"  Negatives of these exams are not proven now: {', '.join(doubted)}. Positives stand.")
        lines.append(
            "  They count all the same where a case or a quarantine ends. Ask the vet whether they are to be repeated."
        )
    payload = {"control": fact_dict(run), "caution": caution, "not_proven": doubted}
    emit(payload, "\n".join(lines), as_json)


def _put_in_doubt(controls: Sequence[ControlRun], exams: Sequence[Exam], run: ControlRun) -> list[str]:
    """Return the exams whose negatives are not proven because of a run."""
    from fecallab.domain.control_note import not_proven

    without = [other for other in controls if other.code != run.code]
    return [exam.code for exam in exams if len(not_proven(controls, exam)) > len(not_proven(without, exam))]


@app.command(name="list")
def list_controls(
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """List control runs, when each kind was last done, and which are due."""
    from fecallab.cli.words import table
    from fecallab.domain.control import control_due
    from fecallab.reference.controls import control_plan

    today = read_day(on, "--on")
    with open_folder(records) as store:
        runs = [run for run in store.controls() if run.done_at.date() <= today]
        days: list[date] = [exam.examined_at.date() for exam in store.exams() if exam.preparations]
    due = [control_due(row, runs, days, today) for row in control_plan().values()]
    lines = [f"On {say_date(today)}:"]
    rows = [
        [
            one.kind,
            say_date(one.last.done_at) if one.last else "never",
            "-" if one.last is None else "passed" if one.last.passed else "FAILED",
            "now" if one.due else f"from {say_date(one.due_on)}" if one.due_on else "-",
            one.why,
        ]
        for one in due
    ]
    lines.append(table(["control", "last done", "how it ended", "due", "why"], rows))
    if runs:
        shown = [
            [
                run.code,
                say_time(run.done_at),
                run.kind,
                " ".join(filter(None, (method_words(run.method), run.solution, run.bottle))) or "-",
                "passed" if run.passed else "FAILED",
                run.judged,
            ]
            for run in runs
        ]
        lines += [
            "",
            table(["code", "when", "control", "method, fluid, bottle", "ended", "judged by"], shown),
        ]
    lines += ["", "How: fecallab reference show control_plan"]
    payload = {
        "today": today,
        "controls": [fact_dict(run) for run in runs],
        "due": [
            {
                "kind": one.kind,
                "last_on": one.last.done_at.date() if one.last else None,
                "passed": one.last.passed if one.last else None,
                "due": one.due,
                "due_on": one.due_on,
                "why": one.why,
            }
            for one in due
        ],
    }
    emit(payload, "\n".join(lines), as_json)
