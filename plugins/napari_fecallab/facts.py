"""What the records say of an exam and whose it is; read once when the session begins and after it was recorded."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from fecallab.domain.errors import BadInput
from fecallab.gather import scale_for
from napari_fecallab.names import label_of

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal
    from fecallab.domain.case import Case
    from fecallab.domain.exam import Exam, Picture, Preparation
    from fecallab.domain.grading import GradingScale
    from fecallab.domain.sample import Sample
    from fecallab.records.picture_place import PicturePlace
    from fecallab.records.reader import Reader


@dataclass(frozen=True)
class ExamFacts:
    """An exam with its sample, its animal, the open cases and the pictures that are in the records."""

    exam: Exam
    sample: Sample
    animal: Animal
    cases: tuple[Case, ...]
    scales: Mapping[str, str]
    """Key of the grading scale that a plan chose, by target."""
    pictures: Mapping[str, Picture]
    place: PicturePlace
    """Where the bytes of the pictures lie: in the record folder, or shared elsewhere."""

    @property
    def preparations(self) -> dict[str, Preparation]:
        """Preparations by their codes, in order."""
        return {preparation.code: preparation for preparation in self.exam.preparations}

    @property
    def open_targets(self) -> tuple[str, ...]:
        """Targets of the open cases."""
        return tuple(dict.fromkeys(case.target for case in self.cases))

    @cached_property
    def host(self) -> str:
        """Narrowest host group that the animal's species tells."""
        from fecallab.cli.tally_start import host_of

        return host_of(self.animal)

    @cached_property
    def words_of_vets(self) -> dict[str, str]:
        """What vets say of marks, by code of the mark; the keeper's own name stays beside it."""
        from fecallab.domain.verdict import standing_words

        verdicts = self.exam.verdicts
        return {
            item: "; ".join(
                f"{verdicts.answers[one.answer].vet}: {one.word if one.word != 'other' else label_of(one.name)}"
                for one in said
            )
            for item, said in standing_words(verdicts).items()
        }

    def scale(self, target: str, stages: tuple[str, ...]) -> GradingScale | None:
        """Return the scale to grade a target on."""
        return scale_for(target, stages, self.scales.get(target, ""))


def facts_of(store: Reader, exam_code: str) -> ExamFacts:
    """Look an exam up.

    Raises
    ------
    BadInput
        No such exam, one without preparations, or one that somebody told of.
    """
    exam = store.exam(exam_code)
    if exam.as_told or not exam.preparations:
        what = "was only told of" if exam.as_told else "has no preparation yet"
        step = f"Type: fecallab exam prepare {exam.code} --method simple_flotation"
        raise BadInput(
            f"The exam {exam.code} {what}, so there is nothing to mark in.",
            next="Its result stands as it was told." if exam.as_told else step,
            code="no-preparation",
        )
    sample = store.sample(exam.sample)
    animal = store.animal(sample.animal)
    cases = tuple(store.cases(animal.code, open_only=True))
    plans = {case.target: store.current_plan(case.code) for case in cases}
    return ExamFacts(
        exam=exam,
        sample=sample,
        animal=animal,
        cases=cases,
        scales={target: plan.grade_scale for target, plan in plans.items() if plan and plan.grade_scale},
        pictures={picture.sha256: picture for picture in store.pictures()},
        place=store.place,
    )


def was_recorded(folder: Path, exam_code: str, at: datetime, by: str) -> bool:
    """Say whether anything of an exam was recorded by this person at exactly this moment (UTC)."""
    from fecallab.records.store import open_records

    with open_records(folder) as store:
        return any(
            entry.recorded_by == by and entry.recorded_at.replace(tzinfo=UTC) == at
            for entry in store.history(exam_code)
        )
