"""Cases: where they stand, why, and how they end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from fecallab.cli.agree import agreed, check_nothing_new
from fecallab.cli.common import BY, JSON, ON, RECORDS, fact_dict, now, one_of, open_folder, read_day, who
from fecallab.cli.output import emit
from fecallab.domain.spoken import say_date

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.followup import Standing
    from fecallab.records.casefile import CaseFile
    from fecallab.records.reader import Reader

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)


@app.command(name="open")
def open_case(
    animal: str = typer.Argument(help="Name or code."),
    target: str = typer.Argument(help="A group that the eye can tell: oxyurid, flagellate …"),
    vet: str = typer.Option(..., help="The vet who decides that this is a case."),
    species: str = typer.Option("", help="Species, as a note."),
    on: str | None = ON,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Open a case by a vet's decision (a sure positive that is no normal inhabitant opens one by itself)."""
    from fecallab.cli.exam_input import organism_name
    from fecallab.domain.case import Case
    from fecallab.domain.errors import BadInput
    from fecallab.domain.organism import is_target_group
    from fecallab.gather import group_of, stages_of

    group = group_of(organism_name(target))
    if not is_target_group(group):
        text = f"{target!r} is a {group}: it opens no case."
        raise BadInput(text, next="Name a group of parasites.", code="no-target")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        owner = writer.animal(animal)
        same = [c.code for c in writer.cases(owner.code, open_only=True) if c.target == group]
        if same:
            text = f"{owner.name} has an open case for {group} already: {same[0]}."
            raise BadInput(text, next=f"Type: fecallab case show {same[0]}", code="case-open-already")
        case = writer.add(
            Case(
                animal=owner.code,
                target=group,
                stages=stages_of(group, owner),
                species=species,
                opened_on=read_day(on, "--on"),
                remark=f"opened by the decision of {vet}",
            )
        )
    text = f"{case.code}: {group} in {owner.name}, opened by the decision of {vet}. Recorded."
    emit({"case": fact_dict(case)}, text, as_json)


@app.command(name="list")
def list_cases(
    animal: str | None = typer.Argument(None, help="Name or code; all when left out."),
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """List cases and where they stand."""
    from fecallab.cli.words import standing_headline, standing_payload, table
    from fecallab.gather import as_on, case_standing

    today = read_day(on, "--on")
    with open_folder(records) as store:
        files = [store.case_file(case.code) for case in store.cases(animal)]
    stood = [(file, *case_standing(as_on(file, today), today)[1:]) for file in files]
    rows = [
        [
            f.case.code,
            f.animal.name,
            f.case.target,
            say_date(f.case.opened_on),
            state or standing_headline(standing),
        ]
        for f, standing, state in stood
    ]
    payload = {
        "cases": [
            {**fact_dict(f.case), "animal_name": f.animal.name, "closed": state, **standing_payload(standing)}
            for f, standing, state in stood
        ]
    }
    text = table(["case", "animal", "target", "opened", "standing"], rows) if rows else "No cases."
    emit(payload, text, as_json)


@app.command()
def show(
    case: str = typer.Argument(help="Code of the case."),
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Show one case: standing, reasons, exams, doses, plan, and the chance that it is still there."""
    from fecallab.cli.case_words import case_lines, case_payload
    from fecallab.gather import as_on, case_standing
    from fecallab.gather_vet import keeper_sensitivity

    today = read_day(on, "--on")
    with open_folder(records) as store:
        file = as_on(store.case_file(case), today)
        controls = [run for run in store.controls() if run.done_at.date() <= today]
        reading = keeper_sensitivity(store, file.case.target)
    judged, standing, state = case_standing(file, today)
    emit(
        case_payload(file, judged, standing, state, today, controls, reading),
        "\n".join(case_lines(file, judged, standing, state, today, controls, reading)),
        as_json,
    )


@app.command()
def close(
    case: str = typer.Argument(help="Code of the case."),
    ending: str = typer.Option("goal reached", help="How it ends (a wrong word lists them)."),
    vet: str = typer.Option("", help="The vet who orders it, where a vet must."),
    reason: str = typer.Option("", help="Why."),
    yes: bool = typer.Option(False, "--yes", help="Close it without asking, on exams in doubt too."),
    on: str | None = ON,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Close a case: a person's act. It is refused while the goal is not reached."""
    from fecallab.domain.case import ENDINGS, Closing
    from fecallab.domain.control_note import doubt
    from fecallab.domain.safety import cautions_for
    from fecallab.gather_doubt import CLOSE
    from fecallab.reference.tables import EDITION

    today = read_day(on, "--on")
    ending = one_of(ending, ENDINGS, "--ending")
    warned: list[str] = []
    with open_folder(records) as store:
        file, standing, doubted = _may_close(store, case, today, ending, vet, reason)
    if doubted:
        warned = [f"{file.case.code} is to be closed: {ending}.", f"  ! {doubt(doubted, CLOSE)}"]
        if not agreed("\n".join(warned), yes, as_json, "Close it all the same?"):
            payload = {"closed": False, "standing": standing.standing, "counted_not_proven": doubted}
            emit(payload, "The case stays open. To close it all the same: add --yes", as_json)
            return
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        shown, (file, standing, doubted) = doubted, _may_close(writer, case, today, ending, vet, reason)
        check_nothing_new(shown, doubted, yes)
        closing = writer.add(
            Closing(
                case=file.case.code,
                closed_on=today,
                by=who(by),
                ending=ending,
                vet=vet,
                reason=reason,
                standing_then=standing.standing,
                edition=EDITION,
            )
        )
    lines = [*(warned if yes else []), f"{file.case.code} closed: {ending}. Recorded."]
    lines += [f"  {caution.text}" for caution in cautions_for("closing a case")]
    payload = {
        "closed": True,
        "closing": fact_dict(closing),
        "standing": standing.standing,
        "counted_not_proven": doubted,
    }
    emit(payload, "\n".join(lines), as_json)


def _may_close(
    store: Reader, case: str, today: date, ending: str, vet: str, reason: str
) -> tuple[CaseFile, Standing, list[str]]:
    """Return a case that may be closed so, where it stands, and the exams in doubt that its end would rest on.

    Raises
    ------
    BadInput
        When it is closed, or was opened later.
    Refused
        When it may not be closed so.
    """
    from fecallab.domain.casework import may_close_as
    from fecallab.domain.errors import BadInput, Reason, Refused
    from fecallab.gather import case_standing
    from fecallab.gather_doubt import case_in_doubt

    file = store.case_file(case)
    if file.closing is not None:
        text = f"{file.case.code} was closed on {say_date(file.closing.closed_on)} ({file.closing.ending})."
        raise BadInput(text, next="A new positive opens a new case.", code="closed-already")
    if today < file.case.opened_on:
        text = f"{file.case.code} was opened on {say_date(file.case.opened_on)}, after {say_date(today)}."
        raise BadInput(text, next="Check the day.", code="closed-before-opened")
    judged, standing, _ = case_standing(file, today)
    may_close_as(ending, standing, judged, vet=vet, reason=reason)
    gone = {"animal died": "died", "animal left": "left"}.get(ending)
    if gone and not any(event.kind == gone for event in file.events):
        step = f"Type: fecallab animal event {file.animal.name} {gone}"
        raise Refused([Reason("event-missing", f"It is not recorded that {file.animal.name} {gone}.", step)])
    if ending != "goal reached":
        return file, standing, []
    controls = [run for run in store.controls() if run.done_at.date() <= today]
    return file, standing, case_in_doubt(controls, judged, standing)
