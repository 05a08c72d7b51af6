"""What the records know already, for defaults and choices; read when it is first needed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

from fecallab.cli.common import open_folder

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal, Weighing
    from fecallab.domain.case import Case
    from fecallab.domain.exam import Exam, Preparation, Reading
    from fecallab.domain.plan import Plan
    from fecallab.domain.sample import Sample
    from fecallab.records.casefile import CaseFile
    from fecallab.records.store import Records


class Known:
    """The record folder of one conversation.

    Parameters
    ----------
    records : str or None
        What ``--records`` gave.
    """

    def __init__(self, records: str | None) -> None:
        self._named = records
        self._open: Records | None = None

    @property
    def store(self) -> Records:
        """The open records; whoever has no record folder is told at the first question."""
        if self._open is None:
            self._open = open_folder(self._named).__enter__()
        return self._open

    def close(self) -> None:
        """Let go of the records, so that the command itself opens them."""
        if self._open is not None:
            self._open.close()
            self._open = None

    @cached_property
    def animals(self) -> Sequence[Animal]:
        """All animals, the last one that anything was recorded for first."""
        from fecallab.records.recent import animals_by_use

        with self.store.at_one_moment() as reader:
            used = animals_by_use(reader)
            return sorted(reader.animals(), key=lambda animal: used[animal.code], reverse=True)

    def animal(self, name_or_code: str) -> Animal:
        """Return one animal."""
        return self.store.animal(name_or_code)

    def weight(self, animal: str) -> Weighing | None:
        """Return the last weighing of an animal."""
        return self.store.latest_weighing(animal)

    @cached_property
    def open_cases(self) -> Sequence[Case]:
        """Open cases, in the order of the animals."""
        place = {animal.code: number for number, animal in enumerate(self.animals)}
        return sorted(self.store.cases(open_only=True), key=lambda case: place[case.animal])

    def cases_of(self, animal: str) -> list[Case]:
        """Return the open cases of an animal."""
        code = self.animal(animal).code
        return [case for case in self.open_cases if case.animal == code]

    def case_file(self, case: str) -> CaseFile:
        """Return a case with everything that belongs to it."""
        return self.store.case_file(case)

    def plan(self, case: str) -> Plan | None:
        """Return the plan in force."""
        return self.store.current_plan(case)

    @cached_property
    def last_samples(self) -> Sequence[tuple[Sample, bool]]:
        """The last samples, newest first, each with whether it has an exam; those without one come first."""
        from fecallab.records.recent import last_samples

        with self.store.at_one_moment() as reader:
            found = last_samples(reader)
        return sorted(found, key=lambda pair: pair[1])

    @cached_property
    def last_exams(self) -> Sequence[Exam]:
        """The last exams, newest first, without their parts."""
        from fecallab.records.recent import last_exams

        with self.store.at_one_moment() as reader:
            return last_exams(reader)

    @cached_property
    def last_preparation(self) -> Preparation | None:
        """The last preparation, without its readings."""
        from fecallab.records.recent import last_preparation

        with self.store.at_one_moment() as reader:
            return last_preparation(reader)

    @cached_property
    def last_float(self) -> Preparation | None:
        """The last preparation with a solution of known gravity."""
        from fecallab.records.recent import last_preparation

        with self.store.at_one_moment() as reader:
            return last_preparation(reader, with_gravity=True)

    @cached_property
    def last_reading(self) -> Reading | None:
        """The last reading with the number of an eyepiece."""
        from fecallab.records.recent import last_reading

        with self.store.at_one_moment() as reader:
            return last_reading(reader)

    @cached_property
    def last_vet(self) -> str:
        """The vet of the last plan, empty when there is none."""
        from fecallab.records.recent import last_plan

        with self.store.at_one_moment() as reader:
            plan = last_plan(reader)
        return plan.vet if plan is not None else ""

    def name_of(self, code: str) -> str:
        """Return the name of an animal by its code."""
        return next((animal.name for animal in self.animals if animal.code == code), code)
