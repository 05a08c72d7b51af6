"""Could this exam have shown the target? Positive, negative or inconclusive, with every reason.

All thresholds are rows of a table (`Route`, `Condition`); this module only knows how to ask one question.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from fecallab.domain.errors import Reason
from fecallab.domain.exam import method_words
from fecallab.domain.spoken import number_of, say_percent, say_span

MINUS_LOG_5_PERCENT = 2.995732273553991
"""-ln 0.05: none seen leaves at most this many expected, one-sided 95 % (exact Poisson, computed)."""


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


def judge(evidence: ExamEvidence, facts: AdequacyFacts) -> ExamAnswer:
    """Judge one exam for one stage of one target.

    Parameters
    ----------
    evidence : ExamEvidence
        What was seen, and how.
    facts : AdequacyFacts
        The tables.

    Returns
    -------
    ExamAnswer
        ``positive`` for any sure mark or count of the target's group; ``negative`` only when a preparation
        could have shown the target and nothing of its group, sure or unsure, is there.
    """
    target = facts.group_of.get(evidence.target, evidence.target)
    seen = {
        name: n for name, n in evidence.counts.items() if n > 0 and facts.group_of.get(name, name) == target
    }
    unsure = [name for name in evidence.unsure if facts.group_of.get(name, name) == target]
    ways = _ways(target, evidence, facts)
    way = next((way for way in ways if not way.lacks), None)
    adequate = way is not None
    sites = (evidence.origin,) if evidence.origin else ()
    stated_positive = [p for p in evidence.preparations if p.stated_result == "positive"]
    if seen or stated_positive:
        said = ", ".join(f"{n} {name.replace('_', ' ')}" for name, n in seen.items())
        who = f"{stated_positive[0].stated_by or 'elsewhere'} reports it" if stated_positive else ""
        text = f"Seen and sure: {said or who}. What was seen counts, whatever the method."
        reasons = [Reason("seen", text, "The case is the vet's: send the pictures.")]
        if evidence.owner not in (None, "animal"):
            reasons.append(_owner_reason(evidence))
        return ExamAnswer("positive", tuple(reasons), adequate=adequate, sites=sites)
    if unsure:
        named = ", ".join(sorted({name.replace("_", " ") for name in unsure}))
        text = f"An unsure mark of the group ({named}) blocks a negative."
        reason = Reason("unsure-mark", text, "Send the picture to the vet; it opens nothing before that.")
        return ExamAnswer("inconclusive", (reason,), unsure=True, adequate=adequate, sites=sites)
    beyond = facts.not_clearable & {target, evidence.target}
    if beyond and not any(p.stated_result for p in evidence.preparations):
        text = f"No exam of stool at home can show that {target} is absent: it can only be positive."
        reason = Reason("not-clearable", text, "Ask the vet for laboratory tests.")
        return ExamAnswer("inconclusive", (reason,), sites=sites)
    if way is None:
        return ExamAnswer("inconclusive", _why_not(target, evidence, facts, ways), sites=sites)
    method = method_words(way.preparation.method)
    text = f"None found, and it could have been: {way.route.says} ({method})."
    return ExamAnswer(
        "negative",
        (Reason("none-found", text),),
        bound=_bound(way.route, way.preparation, evidence, facts),
        adequate=True,
        sites=sites,
    )


def _owner_reason(evidence: ExamEvidence) -> Reason:
    text = f"The sample is of a {evidence.owner}: it does not say which animal."
    return Reason("owner-unknown", text, "Take a stool of each animal by itself.")


_STATED = Route("from elsewhere", (), (), ("from_elsewhere",), "none", "as the laboratory or vet states", ())


@dataclass(frozen=True)
class _Way:
    """One preparation tried by one route, with what it lacks."""

    route: Route
    preparation: PreparationEvidence
    lacks: tuple[Reason, ...]


def _ways(target: str, evidence: ExamEvidence, facts: AdequacyFacts) -> list[_Way]:
    """Return every way that was tried to show the stage."""
    ways: list[_Way] = []
    owner = _owner_lacks(evidence)
    for preparation in evidence.preparations:
        if preparation.method == "from_elsewhere":
            if preparation.stated_adequate and preparation.stated_result == "negative":
                ways.append(_Way(_STATED, preparation, owner))
            continue
        ways += [
            _Way(route, preparation, (*owner, *_lacks(route, preparation, evidence)))
            for route in facts.routes
            if target in route.targets
            and evidence.stage in route.stages
            and preparation.method in route.methods
        ]
    return ways


def _lacks(route: Route, preparation: PreparationEvidence, evidence: ExamEvidence) -> list[Reason]:
    found = (_lack(condition, preparation, evidence) for condition in route.conditions)
    return [reason for reason in found if reason is not None]


def _owner_lacks(evidence: ExamEvidence) -> tuple[Reason, ...]:
    if evidence.asked_of == "group" or evidence.owner == "animal":
        return ()
    if evidence.owner is None:
        text = "It is not known whose stool it is."
        return (Reason("owner-unknown", text, "Note the animal, or take a stool of each animal by itself."),)
    text = f"The sample is of a {evidence.owner}: none found there never confirms one animal."
    return (Reason("owner-unknown", text, "Take a stool of each animal by itself."),)


def _value(quantity: str, preparation: PreparationEvidence, evidence: ExamEvidence) -> Any:
    """Return the value of a quantity, the older end of the passing window for ages, or None."""
    if quantity == "older_minutes":
        window = preparation.passed_minutes_ago or evidence.passed_minutes_ago
        return None if window is None else max(window)
    if quantity == "mass_g" and preparation.sample_g is not None:
        return preparation.sample_g
    value = getattr(preparation, quantity, None)
    return getattr(evidence, quantity, None) if value is None else value


def ask(condition: Condition, preparation: PreparationEvidence, evidence: ExamEvidence) -> str:
    """Ask one condition's question of one preparation.

    Returns
    -------
    str
        ``yes``, ``no``, ``not known``, or ``not asked`` (it does not apply, or is only looked at when stated).
    """
    guard_unknown = False
    if condition.when is not None:
        name, values = condition.when
        guard = _value(name, preparation, evidence)
        if guard is not None and guard not in values:
            return "not asked"
        guard_unknown = guard is None
    if condition.unless and _value(condition.unless, preparation, evidence) is True:
        return "yes"
    value = _value(condition.quantity, preparation, evidence)
    if value is None or value == "":
        return "not known" if condition.blocks_when_unknown else "not asked"
    if _holds(condition, value):
        return "yes"
    return "not known" if guard_unknown else "no"


def _lack(condition: Condition, preparation: PreparationEvidence, evidence: ExamEvidence) -> Reason | None:
    """Return why a condition does not hold, or None when it holds or is not asked."""
    answer = ask(condition, preparation, evidence)
    if answer in ("yes", "not asked"):
        return None
    value = _value(condition.quantity, preparation, evidence)
    if answer == "not known":
        guard_unknown = condition.when and _value(condition.when[0], preparation, evidence) is None
        what = condition.when[0] if guard_unknown and condition.when else condition.quantity
        text = f"Not known: {what.replace('_', ' ')}. {condition.question}"
    else:
        text = f"{condition.question} No: {_measured(condition.quantity, value)}."
    if condition.code.startswith(("fresh", "kept-warm")):
        return Reason("motility-not-assessable", f"Motility not assessable. {text}", condition.next)
    return Reason(condition.code, text, condition.next)


def _holds(condition: Condition, value: Any) -> bool:
    if condition.one_of:
        said = {True: "yes", False: "no"}.get(value, value) if isinstance(value, bool) else value
        return str(said).lower() in condition.one_of
    number = float(value)
    if condition.at_least is not None and not number >= condition.at_least:
        return False
    return condition.at_most is None or number <= condition.at_most


_MEASURED = {
    "objective": "read at {:g}×",
    "room_c": "the room had {:g} °C",
    "specific_gravity": "gravity {:g}",
    "standing_minutes": "it stood {:g} minutes",
    "mass_g": "{:g} g",
}


def _measured(quantity: str, value: Any) -> str:
    """Say what was found instead, with its unit."""
    if quantity == "older_minutes":
        return f"{say_span(value)} at the older end"
    if quantity == "cover_share":
        return f"{say_percent(value)} of it"
    words = _MEASURED.get(quantity)
    return words.format(value) if words else f"{quantity.replace('_', ' ')} is {_said(value)}"


def _said(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, (int, float)) else str(value)


def _why_not(
    target: str, evidence: ExamEvidence, facts: AdequacyFacts, ways: Sequence[_Way]
) -> tuple[Reason, ...]:
    """Return the reasons of the way that came nearest, or why every preparation was blind."""
    reasons: list[Reason] = []
    if ways:
        reasons += min(ways, key=lambda way: len(way.lacks)).lacks
    for preparation in evidence.preparations:
        if preparation.stated_result and not (preparation.stated_adequate and reasons):
            text = (
                f"{preparation.stated_by or 'The result from elsewhere'} does not say that it was adequate."
            )
            reasons.append(Reason("adequacy-not-stated", text, "Ask whether it could have shown the target."))
    if not reasons:
        reasons += _blind_reasons(target, evidence, facts)
    if not reasons:
        text = f"No preparation of this exam could have shown {target} ({evidence.stage})."
        reasons = [Reason("no-preparation", text, _way_in(target, evidence.stage, facts))]
    return tuple(dict.fromkeys(reasons))


def _blind_reasons(target: str, evidence: ExamEvidence, facts: AdequacyFacts) -> list[Reason]:
    return [
        blind.reason
        for preparation in evidence.preparations
        for blind in facts.blind
        if preparation.method in blind.methods
        and ("any" in blind.stages or evidence.stage in blind.stages)
        and ("any" in blind.targets or target in blind.targets)
    ]


def _way_in(target: str, stage: str, facts: AdequacyFacts) -> str:
    methods: Iterable[str] = (
        method
        for route in facts.routes
        if target in route.targets and stage in route.stages
        for method in route.methods
    )
    named = " or ".join(dict.fromkeys(map(method_words, methods)))
    return f"Add: {named}." if named else "Ask the vet for a laboratory test."


def _bound(
    route: Route, preparation: PreparationEvidence, evidence: ExamEvidence, facts: AdequacyFacts
) -> Bound | None:
    """Return what none found still allows; None for a sweep alone."""
    grams: float | None = None
    if route.bound == "chamber":
        if preparation.sample_g and preparation.counted_ml and preparation.suspension_ml:
            grams = preparation.sample_g * preparation.counted_ml / preparation.suspension_ml
    elif route.bound in ("float", "deposit"):
        grams = _value("mass_g", preparation, evidence)
    if grams:
        all_found = MINUS_LOG_5_PERCENT / grams
        recovery = facts.recoveries.get(preparation.method)
        if recovery is None:
            says = f"under {all_found:.3g} per gram if the method missed nothing (no recovery published)"
            return Bound(all_found, "per_g", None, all_found, says)
        value = all_found / recovery.share
        says = (
            f"under {value:.3g} per gram at {say_percent(recovery.share)} recovery, a mammal figure "
            f"({all_found:.3g} if all were found, {all_found / recovery.poorest:.3g} at the poorest published)"
        )
        return Bound(value, "per_g", recovery.share, all_found, says)
    if preparation.fields:
        value = MINUS_LOG_5_PERCENT / preparation.fields
        return Bound(
            value,
            "per_field",
            says=f"mean under {value:.3g} per field ({number_of(preparation.fields, 'field')})",
        )
    return None
