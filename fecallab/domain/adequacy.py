"""Could this exam have shown the target? Positive, negative or inconclusive, with every reason.

All thresholds are rows of a table (`Route`, `Condition`); this module only knows how to ask one question.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from fecallab.domain.adequacy_model import AdequacyFacts as AdequacyFacts
from fecallab.domain.adequacy_model import Blind as Blind
from fecallab.domain.adequacy_model import Bound as Bound
from fecallab.domain.adequacy_model import Condition as Condition
from fecallab.domain.adequacy_model import ExamAnswer as ExamAnswer
from fecallab.domain.adequacy_model import ExamEvidence as ExamEvidence
from fecallab.domain.adequacy_model import PreparationEvidence as PreparationEvidence
from fecallab.domain.adequacy_model import Recovery as Recovery
from fecallab.domain.adequacy_model import Route as Route
from fecallab.domain.errors import Reason
from fecallab.domain.exam import method_words
from fecallab.domain.spoken import number_of, say_gravity, say_percent, say_span

MINUS_LOG_5_PERCENT = 2.995732273553991
"""-ln 0.05: none seen leaves at most this many expected, one-sided 95 % (exact Poisson, computed)."""


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
        said = f"{sum(seen.values())} {target}" if seen else ""
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
    text = f"None found, and it could have been: {way.route.says}, by {method}."
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
    "standing_minutes": "it stood {:g} minutes",
    "mass_g": "{:g} g",
}


def _measured(quantity: str, value: Any) -> str:
    """Say what was found instead, with its unit."""
    if quantity == "older_minutes":
        return f"{say_span(value)} at the older end"
    if quantity == "cover_share":
        return f"{say_percent(value)} of it"
    if quantity == "gravity_checked":
        return "it was not checked"
    if quantity == "specific_gravity":
        return f"gravity {say_gravity(value)}"
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
