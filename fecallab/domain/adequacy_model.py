"""What adequacy is judged from and what it answers: the rows of the tables, an exam as evidence, the answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from fecallab.domain.errors import Reason


@dataclass(frozen=True)
class Condition:
    """One checkable condition of a route and the yes/no question that it asks."""

    route: str
    code: str
    quantity: str
    at_least: float | None
    at_most: float | None
    one_of: tuple[str, ...]
    unless: str
    when: tuple[str, tuple[str, ...]] | None
    blocks_when_unknown: bool
    question: str
    next: str
    source: str
    source_kind: str


@dataclass(frozen=True)
class Route:
    """One way in which a preparation can show a stage of some target groups."""

    code: str
    targets: tuple[str, ...]
    stages: tuple[str, ...]
    methods: tuple[str, ...]
    bound: str
    says: str
    conditions: tuple[Condition, ...]


@dataclass(frozen=True)
class Blind:
    """Why a method can never give a negative for a stage."""

    methods: tuple[str, ...]
    stages: tuple[str, ...]
    targets: tuple[str, ...]
    reason: Reason


@dataclass(frozen=True)
class Recovery:
    """Share of eggs that a method finds, from a trial in mammals."""

    share: float
    poorest: float
    best: float
    source: str


@dataclass(frozen=True)
class AdequacyFacts:
    """The tables that adequacy rests on.

    ``group_of`` maps every organism key and group name to the group that the eye can tell;
    ``not_clearable`` are groups that no stool exam clears.
    """

    routes: tuple[Route, ...]
    blind: tuple[Blind, ...]
    recoveries: Mapping[str, Recovery]
    group_of: Mapping[str, str]
    not_clearable: frozenset[str]


@dataclass(frozen=True)
class PreparationEvidence:
    """What is known of one preparation at one objective; None is unknown. Names follow `exam.Preparation`."""

    method: str
    objective: float | None = None
    cover_share: float | None = None
    fields: int | None = None
    room_c: float | None = None
    slide_warmed: bool | None = None
    solution: str = ""
    specific_gravity: float | None = None
    gravity_checked: bool | None = None
    standing_minutes: float | None = None
    sample_g: float | None = None
    suspension_ml: float | None = None
    counted_ml: float | None = None
    passed_minutes_ago: tuple[float, float] | None = None
    stated_result: str = ""
    stated_adequate: bool | None = None
    stated_by: str = ""


@dataclass(frozen=True)
class ExamEvidence:
    """Everything that one exam can say about one stage of one target.

    ``passed_minutes_ago`` is (younger end, older end) of the passing window at the time of reading, unless a
    preparation carries its own. ``counts`` are sure ones by organism key or group, ``unsure`` the names of
    unsure marks.
    """

    target: str
    stage: str
    origin: str | None = None
    owner: str | None = None
    asked_of: str = "animal"
    form: str | None = None
    kept: str | None = None
    mass_g: float | None = None
    whole_stool_used: bool | None = None
    passed_minutes_ago: tuple[float, float] | None = None
    preparations: tuple[PreparationEvidence, ...] = ()
    counts: Mapping[str, int] = field(default_factory=dict)
    unsure: tuple[str, ...] = ()


@dataclass(frozen=True)
class Bound:
    """What none found still allows: one-sided upper 95 % limit.

    ``unit`` is ``per_field`` or ``per_g``; ``value_all_found`` is the per-gram limit if the method missed
    nothing, ``recovery`` the share that it is divided by (mammal figures), None where none is published.
    """

    value: float
    unit: str
    recovery: float | None = None
    value_all_found: float | None = None
    says: str = ""
    level: float = 0.95
    sided: str = "one"

    def as_dict(self) -> dict[str, Any]:
        """Return plain keys for ``--json``."""
        return {
            "value": self.value,
            "unit": self.unit,
            "level": self.level,
            "sided": self.sided,
            "recovery": self.recovery,
            "value_all_found": self.value_all_found,
            "says": self.says,
        }


@dataclass(frozen=True)
class ExamAnswer:
    """The answer of one exam for one stage of one target.

    ``result`` is positive, negative or inconclusive; ``unsure`` tells that an unsure mark of the group waits
    for the vet. ``adequate`` tells whether a preparation could have shown the target, whatever was seen.
    """

    result: str
    reasons: tuple[Reason, ...]
    bound: Bound | None = None
    unsure: bool = False
    adequate: bool = False
    sites: tuple[str, ...] = ()

    @property
    def for_case(self) -> str:
        """The result as the follow-up rule wants it: an unsure exam is its own kind."""
        return "unsure" if self.unsure and self.result != "positive" else self.result
