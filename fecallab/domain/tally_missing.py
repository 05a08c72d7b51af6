"""What is still missing before none found would be a negative: in fields, in glass, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fecallab.domain.adequacy import (
    AdequacyFacts,
    Condition,
    ExamEvidence,
    PreparationEvidence,
    Route,
    ask,
    judge,
)
from fecallab.domain.animal import Animal
from fecallab.domain.burden import share_at
from fecallab.domain.casework import evidence_of
from fecallab.domain.exam import Exam, Preparation, Reading, method_words
from fecallab.domain.field import field_diameter_mm, fields_to_cover
from fecallab.domain.sample import Sample

READ_WITH = ("objective", "cover_share")
"""What reading on can still mend; everything else was decided before."""


@dataclass(frozen=True)
class StillMissing:
    """What one stage of one target still lacks for a negative.

    Attributes
    ----------
    target, stage : str
        What it is about.
    says : str
        In words.
    fields : int or None
        Fields that are still to be read at ``objective``; 0 when it is enough, None where that cannot be
        told or nothing more to read would help.
    objective : float or None
        The objective that they are to be read at.
    """

    target: str
    stage: str
    says: str
    fields: int | None = None
    objective: float | None = None


def still_missing(
    exam: Exam,
    preparation: Preparation,
    sample: Sample,
    animal: Animal,
    wanted: Sequence[tuple[str, str]],
    facts: AdequacyFacts,
    *,
    objective: float | None,
    field_number: float | None,
) -> tuple[StillMissing, ...]:
    """Say for every stage of every target what reading on would still have to bring.

    Parameters
    ----------
    exam : Exam
        As it would be if the counting ended now, ``preparation`` included.
    preparation : Preparation
        The one that is counted, with the readings so far.
    wanted : sequence of (target, stage)
        What should be shown to be absent.
    facts : AdequacyFacts
        The tables; every number comes from them.
    objective, field_number : float or None
        What is looked through now; the field number in mm.
    """
    return tuple(
        _missing(exam, preparation, sample, animal, target, stage, facts, objective, field_number)
        for target, stage in wanted
    )


def _missing(
    exam: Exam,
    preparation: Preparation,
    sample: Sample,
    animal: Animal,
    target: str,
    stage: str,
    facts: AdequacyFacts,
    objective: float | None,
    field_number: float | None,
) -> StillMissing:
    whole = evidence_of(exam, sample, animal, target, stage)
    answer = judge(whole, facts)
    if answer.result == "positive":
        return StillMissing(target, stage, "seen, so no negative")
    if answer.unsure:
        return StillMissing(target, stage, "not sure, so no negative before the vet's word")
    if answer.result == "negative":
        return StillMissing(target, stage, "enough for a negative", 0, objective)
    routes = [
        route
        for route in facts.routes
        if target in route.targets and stage in route.stages and preparation.method in route.methods
    ]
    if target in facts.not_clearable or not routes:
        return StillMissing(target, stage, f"this {method_words(preparation.method)} cannot give a negative")
    tried = [
        _Try.of(route, exam, preparation, sample, animal, target, stage, objective, field_number)
        for route in routes
    ]
    best = min(tried, key=lambda one: (len(one.blocked), one.power != objective, one.fields or 0))
    return StillMissing(target, stage, best.says(), None if best.blocked else best.fields, best.power)


@dataclass(frozen=True)
class _Try:
    """One route with what it lacks: what reading on can mend, and what it cannot."""

    blocked: tuple[tuple[Condition, str], ...]
    power: float | None
    share: float
    lacking: float
    fields: int | None

    @classmethod
    def of(
        cls,
        route: Route,
        exam: Exam,
        preparation: Preparation,
        sample: Sample,
        animal: Animal,
        target: str,
        stage: str,
        objective: float | None,
        field_number: float | None,
    ) -> _Try:
        """Ask everything that the route asks, as if the glass were read on at the objective that it wants."""
        asked = max((c.at_least or 0 for c in route.conditions if c.quantity == "objective"), default=0.0)
        power = max(asked, objective or 0) or None
        share = max((c.at_least or 0 for c in route.conditions if c.quantity == "cover_share"), default=0.0)
        seen = (share_at(preparation, asked) or 0.0) if share else 0.0
        piece, evidence = _evidence(exam, preparation, sample, animal, target, stage, asked or power)
        answers = [(c, ask(c, piece, evidence)) for c in route.conditions if c.quantity not in READ_WITH]
        blocked = tuple((c, answer) for c, answer in answers if answer in ("no", "not known"))
        lacking = max(0.0, share - seen)
        fields: int | None = 0
        if lacking:
            fields = None
            if field_number and power:
                diameter = field_diameter_mm(field_number, power)
                fields = fields_to_cover(lacking, diameter, cover_glass=preparation.cover_glass)
        return cls(blocked, power, share, lacking, fields)

    def says(self) -> str:
        """Say it in words."""
        if self.blocked:
            condition, answer = self.blocked[0]
            more = f" (and {len(self.blocked) - 1} more)" if len(self.blocked) > 1 else ""
            if answer == "not known":
                return f"no negative while not known: {_about(condition)}{more}"
            return f"no negative: {condition.question} No{more}"
        at = f" at {self.power:g}×" if self.power else ""
        if not self.lacking:
            return f"for a negative read it to the end{at}"
        if self.fields is None:
            return f"for a negative read {_share(self.share)}{at}"
        more = f"{self.fields} more field{'s' if self.fields > 1 else ''}"
        return f"for a negative {more}{at} for {_share(self.share)}"


def _evidence(
    exam: Exam,
    preparation: Preparation,
    sample: Sample,
    animal: Animal,
    target: str,
    stage: str,
    power: float | None,
) -> tuple[PreparationEvidence, ExamEvidence]:
    """Return what is known of the preparation, also before anything was read in it."""
    begun = Reading(kind="sweep", objective=power, cover_share=0.0)
    alone = replace(preparation, readings=(begun,))
    evidence = evidence_of(replace(exam, preparations=(alone,)), sample, animal, target, stage)
    return evidence.preparations[0], evidence


def _about(condition: Condition) -> str:
    """Name what a condition asks about.

    Examples
    --------
    >>> from fecallab.domain.adequacy import Condition
    >>> row = ["fresh", "older_minutes", None, 60, (), "", None, True, "", "", "", ""]
    >>> _about(Condition("saline", *row))
    'the age of the stool'
    """
    known = {"older_minutes": "the age of the stool", "mass_g": "the grams", "room_c": "the room's warmth"}
    return known.get(condition.quantity, condition.quantity.replace("_", " "))


def _share(share: float) -> str:
    """Say a share of the glass.

    Examples
    --------
    >>> _share(0.333), _share(1), _share(0.4)
    ('a third of the glass', 'the whole glass', '40 % of the glass')
    """
    if share == 1:
        return "the whole glass"
    return f"{'a third' if abs(share - 1 / 3) < 0.001 else f'{share * 100:.3g} %'} of the glass"


def in_lines(missing: Sequence[StillMissing]) -> list[str]:
    """Return one line for all that lack the same, in the order in which they came.

    Examples
    --------
    >>> says = "for a negative 291 more fields at 40x for a third of the glass"
    >>> in_lines([StillMissing("flagellate", "trophozoite", says), StillMissing("amoeba", "trophozoite", says)])
    ['For a negative 291 more fields at 40x for a third of the glass: flagellate, amoeba (trophozoite)']
    """
    stages: dict[str, dict[str, list[str]]] = {}
    for one in missing:
        stages.setdefault(one.says, {}).setdefault(one.stage, []).append(one.target)
    return [
        f"{says[0].upper()}{says[1:]}: "
        + ", ".join(f"{', '.join(dict.fromkeys(names))} ({stage})" for stage, names in by_stage.items())
        for says, by_stage in stages.items()
    ]
