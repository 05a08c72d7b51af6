"""What the tables of a batch hold once they are checked, and whom they refer to: the records or each other."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from fecallab.cli.batch_columns import Table
from fecallab.cli.batch_sheet import Sheet
from fecallab.cli.batch_typed import Row
from fecallab.domain.animal import Animal, Weighing
from fecallab.domain.case import Case
from fecallab.domain.errors import BadInput, FecallabError, Reason
from fecallab.domain.exam import Exam
from fecallab.domain.near_spelling import near_spellings
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.sample import Sample

if TYPE_CHECKING:
    from fecallab.cli.batch_housing import HousingBatch
    from fecallab.records.reader import Reader

NEW = "new "
"""What a reference to something in the same batch begins with; everything else is a code of the records."""


@dataclass
class Entry:
    """A fact with the row that it comes from; ``owner`` and the codes in the fact are references.

    ``made`` is true for a sample that no row of samples describes: that of a result from elsewhere.
    """

    sheet: Sheet
    row: Row
    fact: Any
    owner: str = ""
    label: str = ""
    made: bool = False


@dataclass
class Batch:
    """Everything that is to be recorded, in the order in which it will be; nothing is written by it.

    ``opening`` holds the exams that open a case or show a normal inhabitant, oldest stool first; ``new_only``
    passes over rows that are recorded already.
    """

    reader: Reader
    sheets: list[Sheet]
    who: str
    animals: dict[str, Entry] = field(default_factory=dict)
    weights: list[Entry] = field(default_factory=list)
    samples: dict[str, Entry] = field(default_factory=dict)
    exams: dict[str, Entry] = field(default_factory=dict)
    plans: dict[str, Entry] = field(default_factory=dict)
    doses: list[Entry] = field(default_factory=list)
    cases: dict[tuple[str, str], str] = field(default_factory=dict)
    new_only: bool = False
    skipped: int = 0
    opening: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    housing: HousingBatch = field(default_factory=lambda: _housing())
    unsound: set[tuple[str, str]] = field(default_factory=set)
    recorded: dict[tuple[str, str], str] = field(default_factory=dict)
    _owners: dict[str, Animal] = field(default_factory=dict)
    _names: dict[str, str] = field(default_factory=dict)
    _weighings: dict[str, list[Weighing]] = field(default_factory=dict)
    _found: dict[tuple[str, str], Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        from fecallab.records.clean import name_key

        for animal in self.reader.animals():
            self._owners[animal.code] = animal
            self._names[name_key(animal.name)] = animal.code

    def add_animal(self, key: str, entry: Entry) -> None:
        """Take an animal of the batch in, so that other rows may refer to it."""
        ref = f"{NEW}{key}"
        self.animals[ref] = entry
        self._owners[ref] = entry.fact
        self._names[key] = ref

    def name_taken(self, key: str) -> str:
        """Return the reference of the animal that has a name already, empty when nobody has."""
        return self._names.get(key, "")

    def pass_over(self, trouble: BadInput, what: str = "", key: str = "") -> bool:
        """Say whether a row may be passed over because it is recorded; its label then names what is."""
        if not (self.new_only and isinstance(trouble, RecordedAlready)):
            return False
        self.skipped += 1
        if key:
            self.recorded[what, key] = trouble.known
        return True

    def owner(self, asked: str) -> str:
        """Return the reference of an animal; empty when its own row has a fault.

        Raises
        ------
        BadInput
            When there is none; the nearest names are given.
        """
        from fecallab.records.clean import name_key

        key = name_key(asked)
        ref = asked.strip().upper() if asked.strip().upper() in self._owners else self._names.get(key, "")
        if ref:
            return ref
        if ("animal", key) in self.unsound:
            return ""
        if ("no animal", key) not in self._found:
            names = {k: self._owners[ref].name for k, ref in self._names.items()}
            near = [names[k] for k in near_spellings(key, names)]
            step = f"Did you mean {' or '.join(near)}? " if near else ""
            self._found["no animal", key] = f"{step}Or add a row for it to animals.csv."
        text = f"No animal is called {asked!r} in the records or in this batch."
        raise BadInput(text, next=self._found["no animal", key], code="unknown-animal")

    def animal(self, ref: str) -> Animal:
        """Return the animal of a reference."""
        return self._owners[ref]

    def weighings(self, ref: str) -> list[Weighing]:
        """Return the recorded weighings of an animal, oldest first."""
        if ref not in self._weighings:
            self._weighings[ref] = [] if ref.startswith(NEW) else self.reader.weighings(ref)
        return self._weighings[ref]

    def recorded_weights(self, ref: str) -> dict[tuple[datetime, float], str]:
        """Return the codes of the recorded weighings of an animal by time and mass."""
        if ("weights", ref) not in self._found:
            self._found["weights", ref] = {(w.weighed_at, w.mass_g): w.code for w in self.weighings(ref)}
        codes: dict[tuple[datetime, float], str] = self._found["weights", ref]
        return codes

    def recorded_samples(self, ref: str) -> dict[Sample, str]:
        """Return the codes of the recorded samples of an animal by all that they say but the remark."""
        if ("samples", ref) not in self._found:
            found = [] if ref.startswith(NEW) else self.reader.samples(ref)
            self._found["samples", ref] = {replace(one, code="", remark=""): one.code for one in found}
        codes: dict[Sample, str] = self._found["samples", ref]
        return codes

    def sample(self, asked: str) -> tuple[str, Sample | None]:
        """Return a sample by the label of the batch or its code; None when its own row has a fault."""
        key = label_key(asked)
        ref = f"{NEW}{key}"
        if ref in self.samples:
            return ref, self.samples[ref].fact
        if ("sample", key) in self.unsound:
            return "", None
        asked = self.recorded.get(("sample", key), asked)
        return asked.strip().upper(), self._lookup("sample", asked, "samples.csv")

    def sample_of(self, ref: str) -> Sample:
        """Return the sample of a reference."""
        found: Sample = self.samples[ref].fact if ref in self.samples else self._lookup("sample", ref, "")
        return found

    def plan(self, asked: str) -> tuple[str, str, Plan | None]:
        """Return a plan by label or code: its reference, its owner's, and the plan (None after a fault)."""
        key = label_key(asked)
        ref = f"{NEW}{key}"
        if ref in self.plans:
            return ref, self.plans[ref].owner, self.plans[ref].fact
        if ("plan", key) in self.unsound:
            return "", "", None
        asked = self.recorded.get(("plan", key), asked)
        found: Plan = self._lookup("plan", asked, "plans.csv")
        return found.code, self.reader.case(found.case).animal, found

    def _lookup(self, what: str, asked: str, table: str) -> Any:
        """Return what a code of the records names, or raise BadInput; asked of the records once."""
        known = self._found.get((what, asked))
        if known is None:
            try:
                known = getattr(self.reader, what)(asked)
            except BadInput as trouble:
                text = f"{asked!r} is no label of {table} in this batch and no {what} of the records."
                step = f"Write the label of a {what} of {table}, or a code. {trouble.reason.next}"
                known = BadInput(text, next=step.strip(), code=f"unknown-{what}")
            self._found[what, asked] = known
        if isinstance(known, BadInput):
            raise known
        return known

    def open_case(self, owner: str, target: str) -> Case | str | None:
        """Return the open case of an animal: of the records, or the words why this batch will open one."""
        if (owner, target) in self.cases:
            return self.cases[owner, target]
        return next((case for case in self._open_cases(owner) if case.target == target), None)

    def open_targets(self, owner: str) -> set[str]:
        """Return the targets of all open cases of an animal, those that this batch opens too."""
        return {case.target for case in self._open_cases(owner)} | {t for o, t in self.cases if o == owner}

    def _open_cases(self, owner: str) -> list[Case]:
        if ("cases", owner) not in self._found:
            found = [] if owner.startswith(NEW) else self.reader.cases(owner, open_only=True)
            self._found["cases", owner] = found
        cases: list[Case] = self._found["cases", owner]
        return cases

    def recorded_doses(self, plan: str) -> list[DoseGiven]:
        """Return the recorded doses of a recorded plan."""
        if ("doses", plan) not in self._found:
            self._found["doses", plan] = self.reader.doses(plan)
        doses: list[DoseGiven] = self._found["doses", plan]
        return doses

    def exams_of(self, owner: str) -> list[Exam]:
        """Return the recorded exams of an animal."""
        if ("exams", owner) not in self._found:
            self._found["exams", owner] = [] if owner.startswith(NEW) else self.reader.exams(owner)
        exams: list[Exam] = self._found["exams", owner]
        return exams


def _housing() -> HousingBatch:
    from fecallab.cli.batch_housing import HousingBatch

    return HousingBatch()


class RecordedAlready(BadInput):
    """A row that says what the records hold already, under a code."""

    def __init__(self, what: str, code: str) -> None:
        text = f"{what} is recorded already ({code})."
        step = "Delete the row, or take in only what is new: --new-only"
        super().__init__(text, next=step, code="recorded-already")
        self.known = code


def label_key(label: str) -> str:
    """Return the form of a label by which two count as the same.

    Examples
    --------
    >>> label_key(" S 1 ") == label_key("s 1")
    True
    """
    return " ".join(label.split()).casefold()


def in_words_of(table: Table, trouble: FecallabError) -> tuple[Reason, str]:
    """Return a problem of a single command in the words of a table, and the column that it is about.

    Options become columns: ``--gravity is 12`` reads ``'gravity' is 12``.
    """
    columns = {column.option: column.title for column in table.columns if column.option}
    named = [
        columns[option] for option in re.findall(r"--[a-z][a-z-]*", trouble.reason.text) if option in columns
    ]

    def said(text: str) -> str:
        replaced = re.sub(
            r"--[a-z][a-z-]*", lambda found: f"'{columns.get(found.group(), found.group())}'", text
        )
        return re.sub(r"\bType: (?=')", "Write ", replaced)

    reason = trouble.reason
    return Reason(reason.code, said(reason.text), said(reason.next)), named[0] if named else ""


def blame_row(sheet: Sheet, row: Row, trouble: FecallabError, column: str = "") -> None:
    """Note a fault of a row that was found by a check of the single commands."""
    assert sheet.table is not None
    reason, named = in_words_of(sheet.table, trouble)
    title = column or named
    found = next((one for one in sheet.columns if one.title == title), None)
    row.bad.add(found.key if found else "*")
    sheet.blame(reason, row.raw, title, row.raw.cells.get(found.key, "").strip() if found else "")


def natural(label: str) -> tuple[tuple[bool, int, str], ...]:
    """Return what sorts labels as people do: 2 before 10.

    Examples
    --------
    >>> sorted(["E10", "E2", "E1"], key=natural)
    ['E1', 'E2', 'E10']
    """
    parts: Iterable[str] = re.findall(r"\d+|\D+", label.casefold())
    return tuple((not part.isdecimal(), int(part) if part.isdecimal() else 0, part) for part in parts)
