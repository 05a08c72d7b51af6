"""``exam tally``: counting at the eyepiece without a look at the screen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import BY, JSON, RECORDS, REMARK, now, open_folder, who
from fecallab.cli.options import PREPARATION, with_options
from fecallab.cli.output import say

if TYPE_CHECKING:
    from fecallab.cli.tally_draft import Draft
    from fecallab.cli.tally_journal import Journal
    from fecallab.cli.tally_screen import Facts
    from fecallab.domain.animal import Animal
    from fecallab.domain.case import Case
    from fecallab.domain.exam import Exam, Preparation, Reading
    from fecallab.domain.sample import Sample
    from fecallab.domain.tally import Tally
    from fecallab.records.reader import Reader
    from fecallab.records.writer import Writer

METHOD = (str | None, typer.Option(None, help="Of a new preparation; asked when left out."))
NEW_PREPARATION = {**PREPARATION, "method": METHOD}


def register(app: typer.Typer) -> None:
    """Give the exam commands this one."""
    app.command()(tally)


@with_options(NEW_PREPARATION)
def tally(
    of: str | None = typer.Argument(None, help="Code of the preparation (E1-1), or of the sample (S1)."),
    objective: str | None = typer.Option(None, help="Objective: 10, 40 … (asked when left out)."),
    field_number: str | None = typer.Option(None, help="Number on the eyepiece, mm (asked once)."),
    resume: bool = typer.Option(False, "--resume", help="Go on with a tally that was not finished."),
    quiet: bool = typer.Option(False, "--quiet", help="No sounds."),
    question: str = typer.Option("", help="What you want the vet to answer (new exams)."),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
    **options: Any,
) -> None:
    """Count by keys, field by field; what was counted is recorded at the end, after a read-back.

    Every key is on the disk before it is answered: a closed window loses nothing.
    """
    from fecallab.cli import tally_journal
    from fecallab.cli.ask import may_ask
    from fecallab.cli.tally_count import THROW_AWAY, Counter
    from fecallab.cli.tally_keys import open_terminal
    from fecallab.cli.tally_start import Asked, begin_head, choose_draft, offered

    with open_folder(records) as store:
        folder = store.folder
        offer = of is None and not resume and may_ask(["--json"] if as_json else [])
        of = offered(store, folder) or None if offer else of
        asked = Asked(of, objective, field_number, question, remark, who(by), options)
        draft = choose_draft(folder, of, resume=resume, agreed=offer)
        head = draft.head if draft is not None else begin_head(store, folder, asked)
        bench = Bench.of(store, head)
        if draft is not None and draft.recording is not None and (done := recorded_as(store, draft)):
            tally_journal.resume(draft.path)[0].remove()
            say(f"This tally is in the records already, as {done}; nothing was recorded twice.")
            return
    if draft is None:
        journal, draft = tally_journal.begin(folder, head)
    else:
        journal, draft = tally_journal.resume(draft.path)
    try:
        with open_terminal(quiet=quiet) as terminal:
            counter = Counter(journal, draft.course, terminal, bench.facts, draft.shift_keys)
            readings = counter.run()
    except (EOFError, KeyboardInterrupt):
        journal.close()
        say("Stopped. Nothing is lost and nothing is recorded yet: fecallab exam tally --resume")
        raise typer.Exit(130) from None
    except BaseException:
        journal.close()
        raise
    if counter.ending == THROW_AWAY:
        journal.remove()
        say("Thrown away. Nothing was recorded.")
        return
    _record(bench, readings, journal, records, as_json)


@dataclass(frozen=True)
class Bench:
    """What lies under the microscope: whose it is, and what it could show."""

    head: Mapping[str, Any]
    exam: Exam
    preparation: Preparation
    sample: Sample
    animal: Animal
    cases: tuple[Case, ...]

    @classmethod
    def of(cls, store: Reader, head: Mapping[str, Any]) -> Bench:
        """Look up the preparation, or make the one that will be recorded with a new exam."""
        from datetime import datetime

        from fecallab.cli.exam_input import preparation_from
        from fecallab.cli.tally_start import find_preparation
        from fecallab.domain.exam import Exam

        code = str(head["of"])
        if code.startswith("S"):
            sample = store.sample(code)
            preparation = preparation_from(head["options"])
            at = preparation.read_at or datetime.fromisoformat(head["began"])
            exam = Exam(sample=code, examined_at=at, by=head["by"], question=head["question"])
        else:
            exam, preparation = find_preparation(store, code)
            sample = store.sample(exam.sample)
        animal = store.animal(sample.animal)
        cases = tuple(store.cases(animal.code, open_only=True))
        return cls(head, exam, preparation, sample, animal, cases)

    @property
    def is_new(self) -> bool:
        """Whether a new exam will be recorded."""
        return not self.preparation.code

    def facts(self, tally: Tally) -> Facts:
        """Return what stands beside the counts: the share that was read and what is still missing."""
        from fecallab.cli.tally_screen import Facts
        from fecallab.domain.burden import share_at
        from fecallab.domain.tally_missing import in_lines, still_missing
        from fecallab.reference.adequacy import adequacy_facts

        joined = tally.joined_to(self.preparation)
        others = [p for p in self.exam.preparations if p.code != joined.code]
        missing = still_missing(
            replace(self.exam, preparations=(*others, joined)),
            joined,
            self.sample,
            self.animal,
            self._wanted(tally),
            adequacy_facts(),
            objective=tally.objective,
            field_number=tally.field_number,
        )
        of_cases = {case.target for case in self.cases}
        missing = tuple(sorted(missing, key=lambda one: (one.target not in of_cases, one.fields is None)))
        share = share_at(joined, tally.objective or 0)
        known = tally.field_number is not None or share is not None
        name = self.preparation.code or f"{self.sample.code} (new exam)"
        title = f"{name}  {self.animal.name}, {self.preparation.method.replace('_', ' ')}"
        return Facts(title, (share or 0.0) if known else None, tuple(in_lines(missing)))

    def _wanted(self, tally: Tally) -> list[tuple[str, str]]:
        """Return what should be shown to be absent: the open cases, then what the keys are for."""
        from fecallab.domain.organism import is_target_group
        from fecallab.gather import group_of, stages_of
        from fecallab.reference.adequacy import adequacy_routes

        wanted = [(case.target, stage) for case in self.cases for stage in case.stages]
        groups = [group for name in tally.first if is_target_group(group := group_of(name))]
        for group in dict.fromkeys(groups):
            for stage in stages_of(group, self.animal):
                shown = any(
                    group in route.targets
                    and stage in route.stages
                    and self.preparation.method in route.methods
                    for route in adequacy_routes()
                )
                if shown and (group, stage) not in wanted:
                    wanted.append((group, stage))
        return wanted


def _record(
    bench: Bench, readings: tuple[Reading, ...], journal: Journal, records: str | None, as_json: bool
) -> None:
    """Record the readings in one transaction, then let the journal go."""
    from fecallab.cli.exam import _say_recorded, check_time, open_cases
    from fecallab.cli.tally_draft import RECORDING

    head = bench.head
    try:
        with open_folder(records) as store, store.write(by=head["by"], now=now()) as writer:
            before = None if bench.is_new else writer.exam(bench.exam.code)
            journal.append({"act": RECORDING, "before": _codes_before(writer, bench), "as": _plain(readings)})
            if before is None:
                check_time(bench.sample, bench.preparation.read_at)
                preparation = replace(bench.preparation, readings=readings)
                exam = writer.add(
                    replace(bench.exam, preparations=(preparation,), remark=str(head.get("remark", "")))
                )
            else:
                writer.add_readings(bench.preparation.code, readings)
                exam = writer.exam(before.code)
            known = writer.sample(exam.sample)
            animal = writer.animal(known.animal)
            opened, notes = open_cases(writer, exam, known, animal, before)
    except BaseException:
        journal.close()
        say(f"The counts are kept in {journal.path}: fecallab exam tally --resume")
        raise
    journal.remove()
    _say_recorded(exam, known, animal, opened, notes, as_json, before)


def _codes_before(store: Reader | Writer, bench: Bench) -> list[str]:
    """Return the codes of what the sample or the preparation holds already."""
    if bench.is_new:
        return [exam.code for exam in store.exams(bench.animal.code) if exam.sample == bench.sample.code]
    from fecallab.cli.tally_start import find_preparation

    return [reading.code for reading in find_preparation(store, bench.preparation.code)[1].readings]


def _plain(readings: tuple[Reading, ...]) -> list[list[Any]]:
    """Return readings as plain lists, to compare them with what the records hold."""
    return [
        [
            r.kind,
            r.objective,
            r.field_number,
            r.cover_share,
            sorted(r.counts.items()),
            sorted(r.unsure.items()),
        ]
        for r in readings
    ]


def recorded_as(store: Reader, draft: Draft) -> str:
    """Return where a tally stands in the records, whose window closed before its journal was removed.

    Empty when it is not there: then nothing of it was recorded.
    """
    import json

    from fecallab.cli.tally_start import find_preparation

    line = draft.recording or {}
    before, wanted = set(line["before"]), line["as"]
    code = str(draft.head["of"])
    if code.startswith("S"):
        exams = [exam for exam in store.exams(store.sample(code).animal) if exam.sample == code]
        groups = {p.code: p.readings for exam in exams if exam.code not in before for p in exam.preparations}
    else:
        found = find_preparation(store, code)[1]
        groups = {code: tuple(reading for reading in found.readings if reading.code not in before)}
    for name, readings in groups.items():
        held = json.loads(json.dumps(_plain(readings)))
        if any(held[i : i + len(wanted)] == wanted for i in range(len(held) - len(wanted) + 1)):
            return name
    return ""
