"""Is the weight that a dose stands on fresh, and does it make sense beside the ones before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from fecallab.domain.dose_found import Found
from fecallab.domain.dose_request import Figure, exact
from fecallab.domain.figures import figure_text
from fecallab.domain.slips import find_slips
from fecallab.domain.spoken import number_of, say_date

EXPLAINED = ("urine passed", "eggs laid", "gut emptied", "gravid", "just fed", "just soaked")
"""What can make a weight jump without illness."""

NOT_EMPTY = ("gravid", "just fed", "just soaked")
"""With what the scale shows more than the animal itself."""


@dataclass(frozen=True, kw_only=True)
class WeightFact:
    """One weighing; ``state`` says what makes it odd, one of :data:`EXPLAINED` or empty.

    ``scale_step_g`` is the smallest step that the scale shows; None where nobody looked.
    """

    weight_g: Figure
    weighed_on: date
    state: str = ""
    scale_step_g: Figure | None = None


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
        found.say(
            "weight-in-future",
            f"The weighing is dated {say_date(weight.weighed_on)}, after today, {say_date(today)}.",
        )
    allowed, scope, why = _allowed_age(
        value, found, growing=growing, narrow=narrow, max_age_days=max_age_days
    )
    if age > allowed:
        days = (
            "be of the same day"
            if allowed == 0
            else f"be at most {figure_text(allowed)} {'day' if allowed == 1 else 'days'} old"
        )
        found.say(
            "weight-stale", f"The weight is {number_of(age, 'day')} old; it must {days} ({why}).", scope
        )
    elif age >= found.facts.rule("weight-some-days-old").at_low():
        found.say("weight-some-days-old", f"The weight is {number_of(age, 'day')} old.")
    if weight.state in NOT_EMPTY:
        found.say("weight-not-empty", f"The weight was taken when it was {weight.state}.")
    step = exact(weight.scale_step_g)
    if value is not None and value > 0:
        _check_scale(value, step, found)
    before = [item for item in map(exact, earlier) if item is not None and item > 0]
    if value is not None and value > 0 and before:
        _compare_weights(value, before[0], before[-1], weight.state, growing, found)
        _compare_volumes(value, before[-1], step, found)


def _check_scale(value: Decimal, step: Decimal | None, found: Found) -> None:
    """Refuse or warn by the scale's step; an animal under 10 g follows the step."""
    coarse, too_coarse = found.facts.rule("scale-coarse"), found.facts.rule("scale-too-coarse")
    if step is None or step <= 0:
        least = found.facts.rule("scale-step-unknown")
        if value < least.at_high():
            found.say(least.code, f"{figure_text(value)} g, and the step of the scale is not known.")
        return
    said = f"{figure_text(value)} g on a scale with steps of {figure_text(step)} g"
    if step / 2 > value * too_coarse.at_high():
        percent = figure_text(round(step * 50 / value, 1))
        found.say(too_coarse.code, f"{said}: the weight may be off by {percent} %.")
    elif value >= coarse.at_low() and step > value * coarse.at_high():
        found.say(coarse.code, f"{said}.")


def _compare_volumes(value: Decimal, last: Decimal, step: Decimal | None, found: Found) -> None:
    """Say that the volume changes; under 10 g a change of one step of the scale is none."""
    odd, changed = found.facts.rule("weight-odd"), found.facts.rule("weight-changed")
    ratio = value / last
    if not odd.at_low() <= ratio <= odd.at_high() or abs(ratio - 1) <= changed.at_high():
        return
    small = value < found.facts.rule("scale-coarse").at_low()
    if small and step is not None and abs(value - last) <= step:
        return
    told = f"{figure_text(value)} g now, {figure_text(last)} g at the last dose"
    found.say(changed.code, f"{told}: the volume changes with it.")


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
    slips = find_slips(value, last, last, rule("weight-changed").at_high())
    named = "".join(f" {slip.words}" for slip in slips)
    if not jump.at_low() <= ratio <= jump.at_high():
        found.say("weight-jump", f"{told}: a jump that no animal makes, a slip of units perhaps.{named}")
        return
    change = value / first - 1
    course = f"{figure_text(value)} g now, {figure_text(first)} g when the course began"
    loss = -change
    scope = "growing" if growing or state in EXPLAINED else "adult"
    if loss > rule("weight-loss").at_high() and state not in EXPLAINED:
        found.say("weight-loss", f"{course}: a loss of {figure_text(loss * 100)} %.")
    elif loss > rule("weight-loss-watch").at_high():
        noted = f" ({state})" if state else ""
        found.say("weight-loss-watch", f"{course}: a loss of {figure_text(loss * 100)} %{noted}.")
    elif change > rule("weight-gain", scope).at_high():
        found.say("weight-gain", f"{course}: a gain of {figure_text(change * 100)} %.", scope)
    if not odd.at_low() <= ratio <= odd.at_high():
        found.say("weight-odd", f"{told}.{named}")
