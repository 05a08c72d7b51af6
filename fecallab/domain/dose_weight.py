"""Is the weight that a dose stands on fresh, and does it make sense beside the ones before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from fecallab.domain.dose_facts import Found
from fecallab.domain.dose_request import Figure, exact
from fecallab.domain.figures import figure_text

EXPLAINED = ("urine passed", "eggs laid", "gut emptied", "gravid", "just fed", "just soaked")
"""What can make a weight jump without illness."""


@dataclass(frozen=True, kw_only=True)
class WeightFact:
    """One weighing; ``state`` says what makes it odd, one of :data:`EXPLAINED` or empty."""

    weight_g: Figure
    weighed_on: date
    state: str = ""


def check_weighing(
    weight: WeightFact | None,
    today: date,
    earlier: Sequence[Figure],
    found: Found,
    *,
    growing: bool,
    narrow: bool,
    max_age_days: float | None,
) -> None:
    """Check that there is a weight, that it is fresh enough, and that it goes on from those before.

    Parameters
    ----------
    weight : WeightFact or None
        The latest weighing.
    today : date
        The day of the dose.
    earlier : sequence of figure
        Weights in g that earlier doses of the course were worked out with, oldest first.
    found : Found
        Collects refusals and warnings.
    growing, narrow : bool
        Whether the animal grows, and whether the drug has a narrow margin in it.
    max_age_days : float or None
        What the plan says; it may only tighten the default.
    """
    if weight is None:
        found.say("weight-missing", "There is no weight of this animal.")
        return
    age = (today - weight.weighed_on).days
    value = exact(weight.weight_g)
    if age < 0:
        found.say("weight-in-future", f"The weighing is dated {weight.weighed_on}, after today, {today}.")
    allowed, scope, why = _allowed_age(
        value, found, growing=growing, narrow=narrow, max_age_days=max_age_days
    )
    if age > allowed:
        days = "be of the same day" if allowed == 0 else f"be at most {figure_text(allowed)} days old"
        found.say("weight-stale", f"The weight is {age} days old; it must {days} ({why}).", scope)
    elif age >= found.facts.rule("weight-some-days-old").at_low():
        found.say("weight-some-days-old", f"The weight is {age} days old.")
    before = [item for item in map(exact, earlier) if item is not None and item > 0]
    if value is not None and value > 0 and before:
        _compare_weights(value, before[0], before[-1], weight.state, growing, found)


def _allowed_age(
    value: Decimal | None, found: Found, *, growing: bool, narrow: bool, max_age_days: float | None
) -> tuple[Decimal, str, str]:
    """Return how old a weight may be in days, by which row, and why."""
    rules = found.facts.rules_with("weight-stale")
    small = rules["small"].at_low()
    choices = [(rules["adult"].at_high(), "adult", "an adult")]
    if growing:
        choices.append((rules["growing"].at_high(), "growing", "it grows"))
    if value is not None and value < small:
        choices.append((rules["small"].at_high(), "small", f"under {figure_text(small)} g"))
    if narrow:
        choices.append((rules["narrow-margin"].at_high(), "narrow-margin", "a narrow-margin drug"))
    written = exact(max_age_days)
    if written is not None:
        choices.append((written, "adult", "the plan says so"))
    return min(choices)


def _compare_weights(
    value: Decimal, first: Decimal, last: Decimal, state: str, growing: bool, found: Found
) -> None:
    """Compare a weight with the first and the last one of the course."""
    rule = found.facts.rule
    jump, odd = rule("weight-jump"), rule("weight-odd")
    ratio = value / last
    told = f"{figure_text(value)} g now, {figure_text(last)} g at the last dose"
    if not jump.at_low() <= ratio <= jump.at_high():
        found.say("weight-jump", f"{told}: a jump that no animal makes, a slip of units perhaps.")
        return
    change = value / first - 1
    course = f"{figure_text(value)} g now, {figure_text(first)} g when the course began"
    loss = -change
    if loss > rule("weight-loss").at_high() and state not in EXPLAINED:
        found.say("weight-loss", f"{course}: a loss of {figure_text(loss * 100)} %.")
    elif loss > rule("weight-loss-watch").at_high():
        noted = f" ({state})" if state else ""
        found.say("weight-loss-watch", f"{course}: a loss of {figure_text(loss * 100)} %{noted}.")
    elif change > rule("weight-gain", "adult").at_high():
        scope = "growing" if growing or state in EXPLAINED else "adult"
        found.say("weight-gain", f"{course}: a gain of {figure_text(change * 100)} %.", scope)
    if not odd.at_low() <= ratio <= odd.at_high():
        found.say("weight-odd", f"{told}.")
    elif abs(ratio - 1) > rule("weight-changed").at_high():
        found.say("weight-changed", f"{told}: the volume changes with it.")
