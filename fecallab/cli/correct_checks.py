"""What a correction must keep: the same limits and the same order of things as when a fact is added."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from fecallab.cli.common import one_of
from fecallab.cli.correct_care import LIMITS as CARE_LIMITS
from fecallab.cli.correct_care import checked_care
from fecallab.cli.typed import plain_number
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import say_time

if TYPE_CHECKING:
    from fecallab.domain.sample import Sample
    from fecallab.records.writer import Writer

LIMITS: dict[str, tuple[float, float]] = {
    "mass_g": (0.001, 1_000_000),
    "scale_step_g": (0.001, 1000),
    "weight_g": (0.05, 1_000_000),
    "amount": (-40, 100_000),
    "room_c": (-20, 60),
    "specific_gravity": (0.9, 2),
    "standing_minutes": (0, 100_000),
    "sample_g": (0.001, 1000),
    "suspension_ml": (0.01, 10_000),
    "counted_ml": (0.001, 10_000),
    "objective": (0.25, 250),
    "field_number": (4, 40),
    "cover_share": (0, 1),
    "um_per_px": (0.001, 1000),
    "x_px": (-0.5, 1e6),
    "y_px": (-0.5, 1e6),
    "length_um": (0.001, 100_000),
    "width_um": (0.001, 100_000),
    "angle_deg": (0, 179.999),
}
"""Lowest and highest number of a field, as the commands that add it take them."""


def checked_fact(fact: Any, writer: Writer) -> Any:
    """Return a changed fact as it may be recorded.

    Raises
    ------
    BadInput
        When a number, a word or an order of times could not have been added like that either.
    """
    from fecallab.domain.animal import Animal
    from fecallab.domain.case import Case
    from fecallab.domain.exam import ElsewhereResult, Exam, Preparation, Reading
    from fecallab.domain.sample import Sample

    for field, (low, high) in {**LIMITS, **CARE_LIMITS}.items():
        value = getattr(fact, field, None)
        if value is not None and not low <= value <= high:
            text = f"{field} is {plain_number(value)}; it lies outside {plain_number(low)} to {plain_number(high)}."
            raise BadInput(text, next="Check the number and its unit.", code="out-of-range")
    fact = checked_care(fact, writer)
    if isinstance(fact, Animal):
        from fecallab.cli.animal import HOST_GROUPS

        return replace(fact, host_group=one_of(fact.host_group, HOST_GROUPS, "host_group"))
    if isinstance(fact, Case | ElsewhereResult):
        return replace(fact, target=_target(fact.target))
    if isinstance(fact, Sample):
        return _sample(fact, writer)
    if isinstance(fact, Exam):
        _check_exam(fact, writer.sample(fact.sample))
    if isinstance(fact, Preparation):
        from fecallab.domain.field import COVER_GLASS_SIDES_MM

        whole = writer.exam(fact.code.partition("-")[0])
        parts = tuple(fact if part.code == fact.code else part for part in whole.preparations)
        _check_exam(replace(whole, preparations=parts), writer.sample(whole.sample))
        return replace(fact, cover_glass=one_of(fact.cover_glass, tuple(COVER_GLASS_SIDES_MM), "cover_glass"))
    if isinstance(fact, Reading) and fact.kind == "sweep" and fact.cover_share is None:
        text = "A sweep needs the share of the cover glass that was read."
        raise BadInput(text, next="Type: cover_share=0.4 kind=sweep", code="share-missing")
    return fact


def _target(name: str) -> str:
    from fecallab.cli.exam_input import organism_name
    from fecallab.domain.organism import is_target_group
    from fecallab.gather import group_of

    group = group_of(organism_name(name))
    if not is_target_group(group):
        text = f"{name!r} is a {group}: no case is about it."
        raise BadInput(text, next="Name a group of parasites.", code="no-target")
    return group


def _sample(sample: Sample, writer: Writer) -> Sample:
    from fecallab.cli.sample import check_stools_of, first_of_same_stool

    owner = writer.animal(sample.animal)
    check_stools_of(sample.stools_of, owner, writer.count_changes(owner.code), sample.taken_on)
    first, last = sample.passed_from, sample.passed_to
    if last is not None and first is None:
        text = "passed_to alone does not say how old the stool can be."
        raise BadInput(text, next="Give passed_from too, or empty both: passed_to=", code="window-open")
    if first is not None and sample.collected_at < first:
        text = f"collected_at {say_time(sample.collected_at)} is before the stool was passed."
        raise BadInput(text, next="Check the times.", code="collected-before-passed")
    if sample.same_stool_as:
        same = first_of_same_stool(writer, sample.same_stool_as, writer.animal(sample.animal))
        if same == sample.code:
            text = f"{sample.code} would be of the same stool as itself."
            raise BadInput(text, next="Empty it: same_stool_as=", code="same-stool-as-itself")
        sample = replace(sample, same_stool_as=same)
    for exam in writer.exams(writer.animal(sample.animal).code):
        if exam.sample == sample.code:
            _check_exam(exam, sample)
    return sample


def _check_exam(exam: Any, sample: Sample) -> None:
    from fecallab.cli.exam import check_time

    for moment in (exam.examined_at, *(part.read_at for part in exam.preparations)):
        check_time(sample, moment)
