"""Reading back what was recorded: the facts that stand today, and the story of one of them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.animal import Animal, AnimalEvent, CareEntry, Measurement, Weighing
from fecallab.domain.case import Case, Closing
from fecallab.domain.control import ControlRun
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Exam, Picture
from fecallab.domain.plan import DoseGiven, DoseReaction, OtherDrugGiven, Plan
from fecallab.domain.sample import Sample
from fecallab.domain.signs import SignAnswer
from fecallab.records import casefile, history, rows, schema, trees
from fecallab.records.casefile import CaseFile, in_time
from fecallab.records.clean import name_key
from fecallab.records.finding import find_animal, one_row
from fecallab.records.history import Entry
from fecallab.records.housing import HousingReader
from fecallab.records.picture_place import PicturePlace
from fecallab.records.rows import Kind

if TYPE_CHECKING:
    import pandas as pd


class Reader(HousingReader):
    """Everything that can be asked of the records; `Records` and `Writer` both answer it."""

    folder: Path
    place: PicturePlace

    def _connection(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    @property
    def identity(self) -> str:
        """The identity of the collection, by which backups and vet's pages know it."""
        with self._connection() as connection:
            return str(connection.execute(sa.select(schema.collection.c.identity)).scalar())

    def animals(self) -> list[Animal]:
        """Return all animals, tubs and pens."""
        with self._connection() as connection:
            return trees.facts(connection, rows.ANIMAL)

    def animal(self, name_or_code: str) -> Animal:
        """Return one animal by its code (``A1``) or by its name in any case.

        Raises
        ------
        BadInput
            When there is none; the nearest names are given.
        """
        with self._connection() as connection:
            return find_animal(connection, name_or_code)

    def weighings(self, animal: str | None = None) -> list[Weighing]:
        """Return the weighings of one animal, or of all, oldest first."""
        return self._of_animal(rows.WEIGHING, animal)

    def latest_weighing(self, animal: str) -> Weighing | None:
        """Return the last weighing of an animal, or None."""
        found = self.weighings(animal)
        return found[-1] if found else None

    def events(self, animal: str | None = None) -> list[AnimalEvent]:
        """Return brumations and other events of one animal, or of all, oldest first."""
        return self._of_animal(rows.EVENT, animal)

    def care(self, animal: str) -> list[CareEntry]:
        """Return the care of an animal and of the enclosure that it lives in, oldest first."""
        table = schema.care_entries
        with self._connection() as connection:
            owner = find_animal(connection, animal)
            mine = sa.or_(table.c.animal == owner.code, table.c.enclosure == owner.enclosure)
            found = trees.facts(connection, rows.CARE, mine)
        return in_time(entry for entry in found if casefile.concerns(entry, owner))

    def care_of_enclosure(self, enclosure: str) -> list[CareEntry]:
        """Return what was done in one enclosure as a whole, oldest first; capitals make no difference."""
        with self._connection() as connection:
            found = trees.facts(connection, rows.CARE, schema.care_entries.c.enclosure != "")
        asked = name_key(enclosure)
        return in_time(entry for entry in found if name_key(entry.enclosure) == asked)

    def measurements(self, animal: str) -> list[Measurement]:
        """Return the lengths that were measured along an animal, oldest first."""
        return self._of_animal(rows.MEASUREMENT, animal)

    def other_drugs(self, animal: str) -> list[OtherDrugGiven]:
        """Return the drugs that an animal was given outside of any plan here, oldest first."""
        return self._of_animal(rows.OTHER_DRUG, animal)

    def signs(self, animal: str | None = None) -> list[SignAnswer]:
        """Return the answers about danger signs of one animal, or of all, oldest first."""
        return self._of_animal(rows.SIGN, animal)

    def controls(self) -> list[ControlRun]:
        """Return all control runs, oldest first."""
        with self._connection() as connection:
            return in_time(trees.facts(connection, rows.CONTROL))

    def samples(self, animal: str | None = None) -> list[Sample]:
        """Return the samples of one animal, or of all, oldest first."""
        return self._of_animal(rows.SAMPLE, animal)

    def sample(self, code: str) -> Sample:
        """Return one sample by its code."""
        found: Sample = self._one(rows.SAMPLE, code)
        return found

    def exams(self, animal: str | None = None) -> list[Exam]:
        """Return the exams of one animal, or of all, with all their parts, oldest first."""
        with self._connection() as connection:
            if animal is None:
                return in_time(trees.load_exams(connection))
            owner = find_animal(connection, animal)
            mine = sa.select(schema.samples.c.code).where(schema.samples.c.animal == owner.code)
            which = sa.select(schema.exams.c.code).where(schema.exams.c.sample.in_(mine))
            samples = trees.facts(connection, rows.SAMPLE, schema.samples.c.animal == owner.code)
            codes = {sample.code for sample in samples}
            return in_time(exam for exam in trees.load_exams(connection, which) if exam.sample in codes)

    def exam(self, code: str) -> Exam:
        """Return one exam with all its parts."""
        with self._connection() as connection:
            row = one_row(connection, rows.EXAM, code)
            found = trees.load_exams(connection, trees.one_code(row["code"]))
            return found[0]

    def pictures(self) -> list[Picture]:
        """Return all pictures, in the order in which they were added."""
        with self._connection() as connection:
            query = sa.select(schema.pictures).order_by(schema.pictures.c.id)
            return [rows.picture_of(row) for row in connection.execute(query).mappings()]

    def picture(self, sha256: str) -> Picture:
        """Return one picture by its hash, or by the beginning of it when that fits one only."""
        table = schema.pictures
        with self._connection() as connection:
            asked = sha256.strip().lower()
            query = sa.select(table).where(sa.func.substr(table.c.sha256, 1, len(asked)) == asked).limit(2)
            found = connection.execute(query).mappings().all() if asked else []
        if len(found) != 1:
            raise BadInput(
                f"{'No' if not found else 'More than one'} picture has the hash {sha256!r}.",
                next="Give the whole hash, as exam show names it.",
                code="unknown-picture",
            )
        return rows.picture_of(found[0])

    def picture_path(self, sha256: str) -> Path:
        """Return a file with the untouched bytes of a picture; it is fetched first when it lies elsewhere."""
        return self.place.path(self.picture(sha256))

    def cases(self, animal: str | None = None, open_only: bool = False) -> list[Case]:
        """Return the cases of one animal, or of all, in the order in which they were opened."""
        table = schema.cases
        with self._connection() as connection:
            where: list[trees.Where] = []
            if animal is not None:
                where.append(table.c.animal == find_animal(connection, animal).code)
            if open_only:
                where.append(table.c.code.in_(casefile.open_case_codes()))
            return in_time(trees.load_cases(connection, *where))

    def case(self, code: str) -> Case:
        """Return one case by its code."""
        with self._connection() as connection:
            row = one_row(connection, rows.CASE, code)
            return trees.load_cases(connection, schema.cases.c.code == row["code"])[0]

    def plans(self, case: str) -> list[Plan]:
        """Return the plans of a case in the order in which they were written; the last one is in force."""
        with self._connection() as connection:
            code = one_row(connection, rows.CASE, case)["code"]
            return in_time(trees.facts(connection, rows.PLAN, schema.plans.c.case == code))

    def plan(self, code: str) -> Plan:
        """Return one plan by its code."""
        found: Plan = self._one(rows.PLAN, code)
        return found

    def current_plan(self, case: str) -> Plan | None:
        """Return the plan of a case that is in force: the last one written."""
        found = self.plans(case)
        return found[-1] if found else None

    def doses(self, plan_or_case: str) -> list[DoseGiven]:
        """Return what was given under one plan (``P1``) or in a whole case (``C1``), oldest first."""
        table = schema.doses_given
        with self._connection() as connection:
            if rows.kind_of_code(plan_or_case.strip().upper()) is rows.CASE:
                code = one_row(connection, rows.CASE, plan_or_case)["code"]
                of_case = trees.current(rows.PLAN).where(schema.plans.c.case == code)
                which = table.c.plan.in_(of_case.with_only_columns(schema.plans.c.code))
            else:
                which = table.c.plan == one_row(connection, rows.PLAN, plan_or_case)["code"]
            return in_time(trees.facts(connection, rows.DOSE, which))

    def dose(self, code: str) -> DoseGiven:
        """Return one dose by its code."""
        found: DoseGiven = self._one(rows.DOSE, code)
        return found

    def doses_of_animal(self, animal: str) -> list[tuple[Plan, DoseGiven]]:
        """Return what an animal was given in all its cases, with the plan of each dose, oldest first."""
        with self._connection() as connection:
            owner = find_animal(connection, animal)
            cases = trees.current(rows.CASE).where(schema.cases.c.animal == owner.code)
            of_cases = schema.plans.c.case.in_(cases.with_only_columns(schema.cases.c.code))
            plans = {plan.code: plan for plan in trees.facts(connection, rows.PLAN, of_cases)}
            of_plans = sa.select(schema.plans.c.code).where(of_cases)
            doses = trees.facts(connection, rows.DOSE, schema.doses_given.c.plan.in_(of_plans))
            return [(plans[dose.plan], dose) for dose in in_time(doses) if dose.plan in plans]

    def reactions(self, dose_or_case: str) -> list[DoseReaction]:
        """Return what was seen after one dose (``D1``) or after the doses of a case (``C1``), oldest first."""
        if rows.kind_of_code(dose_or_case.strip().upper()) is rows.CASE:
            return list(self.case_file(dose_or_case).reactions)
        with self._connection() as connection:
            code = one_row(connection, rows.DOSE, dose_or_case)["code"]
            return in_time(trees.facts(connection, rows.REACTION, schema.dose_reactions.c.dose == code))

    def closing(self, case: str) -> Closing | None:
        """Return the act that closed a case, or None while it is open."""
        with self._connection() as connection:
            code = one_row(connection, rows.CASE, case)["code"]
            found = in_time(trees.facts(connection, rows.CLOSING, schema.closings.c.case == code))
            return found[-1] if found else None

    def case_file(self, code: str) -> CaseFile:
        """Return a case with everything that its standing is worked out from."""
        with self._connection() as connection:
            row = one_row(connection, rows.CASE, code)
            return casefile.load_case_files(connection, trees.one_code(row["code"]))[0]

    def open_case_files(self, *, tallies_only: bool = False, of_case_only: bool = False) -> list[CaseFile]:
        """Return the files of all open cases; the number of queries does not grow with them.

        With `tallies_only` the marks are counted by the database and not listed: `Reading.tally`, and so
        every standing, is the same, and many marks cost little. With `of_case_only` the exams of stools from
        before a case are left out, which its standing never rests on.
        """
        with self._connection() as connection:
            which = casefile.open_case_codes()
            return casefile.load_case_files(
                connection, which, tallies_only=tallies_only, of_case_only=of_case_only
            )

    def history(self, code: str) -> list[Entry]:
        """Return every row that was ever recorded of a fact and its parts, oldest first."""
        with self._connection() as connection:
            return history.load_history(connection, code.strip().upper())

    def story(self, code: str) -> list[Entry]:
        """Return every row that was ever recorded about something and all that rests on it, oldest first."""
        with self._connection() as connection:
            return history.load_story(connection, code.strip().upper())

    def table(self, name: str, *, every_row: bool = False) -> pd.DataFrame:
        """Return one table as a pandas DataFrame, see `frames.table_as_frame`.

        Parameters
        ----------
        name : str
            Name of a table, such as ``readings``.
        every_row : bool
            Also the rows that were replaced or withdrawn.
        """
        from fecallab.records.frames import table_as_frame

        with self._connection() as connection:
            return table_as_frame(connection, name, every_row=every_row)

    @contextmanager
    def at_one_moment(self) -> Iterator[Reader]:
        """Answer several questions from the same moment, whatever others write meanwhile."""
        with self._connection() as connection:
            yield Snapshot(self.folder, connection, self.place)

    def _one(self, kind: Kind, code: str) -> Any:
        with self._connection() as connection:
            return trees.fact_at(connection, kind, one_row(connection, kind, code))

    def _of_animal(self, kind: Kind, animal: str | None) -> list[Any]:
        with self._connection() as connection:
            where = []
            if animal is not None:
                where.append(kind.table.c.animal == find_animal(connection, animal).code)
            return in_time(trees.facts(connection, kind, *where))


class Snapshot(Reader):
    """The records as they were at one moment."""

    def __init__(self, folder: Path, connection: Connection, place: PicturePlace) -> None:
        self.folder = folder
        self.place = place
        self._open = connection

    @contextmanager
    def _connection(self) -> Iterator[Connection]:
        yield self._open
