"""Today's care for one animal, in the order in which it helps: warm, weigh, water, drug, food, watch.

The order warm, water, food was read (LafeberVet, Nutritional support in reptiles); a cold or dry animal
is not fed. What to give is the vet's; here stands how much of it is due today and what is still open.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from typing import Any

from fecallab.domain.dose_answer import DoseAnswer
from fecallab.domain.dose_case import AnimalToday
from fecallab.domain.dose_facts import DoseFacts
from fecallab.domain.dose_found import Found, WordGiven
from fecallab.domain.dose_request import Figure, exact
from fecallab.domain.dose_tube import check_stomach
from fecallab.domain.dose_weight import WeightFact
from fecallab.domain.errors import Reason
from fecallab.domain.figures import figure_text
from fecallab.domain.fluids import FluidAnswer, FluidOrder, work_out_fluids
from fecallab.domain.spoken import say_date
from fecallab.domain.syringe import round_to_mark, smallest_holding
from fecallab.domain.tube import TubeUse
from fecallab.domain.warmth import WarmthFloor, check_warmth

STATES = ("to do", "done", "not now", "ask the vet")
"""How one line of today's care stands."""


@dataclass(frozen=True, kw_only=True)
class CareOrder:
    """What the vet wrote about care besides the drug.

    ``fluids`` needs no weight of its own: that of today is put in. ``feeding`` and ``soak`` are the vet's
    words, ``feed_ml`` the volume of one meal by tube.
    """

    vet: str = ""
    fluids: FluidOrder | None = None
    feeding: str = ""
    feed_ml: Figure | None = None
    soak: str = ""
    floor: WarmthFloor = field(default_factory=WarmthFloor)
    words: tuple[WordGiven, ...] = ()


@dataclass(frozen=True, kw_only=True)
class CareDone:
    """What was done today: ``fluids`` (ml), ``feeding``, ``soak``; the amount where there is one."""

    kind: str
    amount: Figure | None = None


@dataclass(frozen=True)
class CareLine:
    """One line of today's care: the act, one of :data:`STATES`, what is to be done in words."""

    act: str
    state: str
    text: str


@dataclass(frozen=True)
class CareToday:
    """Today's care, with what stands in its way."""

    lines: tuple[CareLine, ...]
    reasons: tuple[Reason, ...]
    warnings: tuple[Reason, ...]

    def as_dict(self) -> dict[str, Any]:
        """Return plain keys for ``--json``."""
        return {
            "lines": [{"act": line.act, "state": line.state, "text": line.text} for line in self.lines],
            "reasons": [reason.as_dict() for reason in self.reasons],
            "warnings": [reason.as_dict() for reason in self.warnings],
        }


def care_today(
    order: CareOrder,
    weight: WeightFact | None,
    today: date,
    animal: AnimalToday,
    done: Sequence[CareDone],
    facts: DoseFacts,
    *,
    dose: DoseAnswer | None = None,
) -> CareToday:
    """Lay out today's care for one animal.

    Parameters
    ----------
    order : CareOrder
        What the vet wrote.
    weight : WeightFact or None
        The latest weighing.
    today : date
        The day.
    animal : AnimalToday
        How it is: warmth, findings, hydration.
    done : sequence of CareDone
        What was given today already.
    facts : DoseFacts
        The rule table.
    dose : DoseAnswer, optional
        Today's dose, worked out or refused.

    Returns
    -------
    CareToday
        A line for each act; a cold animal is warmed and weighed and nothing else.
    """
    found = Found(facts, order.words, today)
    standing = check_warmth(animal.warmth, animal.warm_range, order.floor, found, first_dose=False)
    cold = standing == "cold" and not _lifted_all(found)
    lines = [_warm_line(standing, found), _weigh_line(weight, today)]
    hard_on_kidneys = dose is not None and "hydration-first" in {item.code for item in dose.warnings}
    lines += _water_lines(order, weight, done, cold, hard_on_kidneys, found)
    if dose is not None:
        lines += _dose_lines(dose)
    lines += _food_lines(order, weight, animal, done, cold, found)
    return CareToday(tuple(lines), tuple(dict.fromkeys(found.reasons)), tuple(dict.fromkeys(found.warnings)))


def _lifted_all(found: Found) -> bool:
    return bool(found.lifted) and not found.reasons


def _warm_line(standing: str, found: Found) -> CareLine:
    """Say how warm it is and what to do about it."""
    said = " ".join(reason.text for reason in (*found.reasons, *found.warnings, *found.not_checked))
    if standing == "ok":
        return CareLine("warmth", "done", "Warm enough by day and at night. Keep it so through the course.")
    if standing == "unknown":
        ask = found.facts.rule("warmth").ask
        return CareLine("warmth", "to do", f"{said} {ask}".strip())
    return CareLine("warmth", "to do", f"{said} This comes before everything else.")


def _weigh_line(weight: WeightFact | None, today: date) -> CareLine:
    """Ask for today's weight; rising weight through a course is a sign of response (common practice)."""
    if weight is not None and weight.weighed_on == today:
        grams = exact(weight.weight_g)
        return CareLine("weigh", "done", f"{figure_text(grams or Decimal(0))} g today.")
    last = "" if weight is None else f" The last weight is of {say_date(weight.weighed_on)}."
    return CareLine("weigh", "to do", f"Weigh it before feeding and soaking, on the same scale.{last}")


def _water_lines(
    order: CareOrder,
    weight: WeightFact | None,
    done: Sequence[CareDone],
    cold: bool,
    hard_on_kidneys: bool,
    found: Found,
) -> list[CareLine]:
    """Lay out soak and fluids."""
    lines = []
    if order.soak.strip():
        soaked = any(item.kind == "soak" for item in done)
        lines.append(CareLine("soak", "done" if soaked else "to do", f"{order.soak.strip()} (lukewarm)."))
    if order.fluids is None:
        if hard_on_kidneys:
            text = "The drug is hard on kidneys and the plan names no fluids: fluids come with such a drug."
            lines.append(CareLine("fluids", "ask the vet", text))
        return lines
    if weight is None:
        return [*lines, CareLine("fluids", "not now", "There is no weight: weigh it first.")]
    aside = Found(found.facts, order.words, found.today)
    planned = replace(order.fluids, weight_g=weight.weight_g, by_plan=True)
    answer = work_out_fluids(planned, found.facts, aside)
    found.reasons += answer.reasons
    found.warnings += answer.warnings
    if answer.refused:
        said = " ".join(reason.text for reason in answer.reasons)
        return [*lines, CareLine("fluids", "ask the vet", said)]
    return [*lines, _fluid_line(planned, answer, done, cold, found.facts)]


def _fluid_line(
    order: FluidOrder, answer: FluidAnswer, done: Sequence[CareDone], cold: bool, facts: DoseFacts
) -> CareLine:
    """Say how much of the day's fluids is still open, and how it is divided."""
    if answer.total_ml is None or answer.per_site_ml is None:
        raise AssertionError("an answer that does not refuse has volumes")
    amounts = [exact(item.amount) or Decimal(0) for item in done if item.kind == "fluids"]
    given = sum((amount for amount in amounts if amount > 0), Decimal(0))
    left = max(answer.total_ml - given, Decimal(0))
    syringe = smallest_holding(answer.per_site_ml, facts.syringes, to_mix=True)
    portion = round_to_mark(answer.per_site_ml, syringe.graduation_ml) if syringe else answer.per_site_ml
    parts = (
        f"{order.times} times, each in {order.sites} places" if order.sites > 1 else f"{order.times} times"
    )
    text = (
        f"{figure_text(answer.total_ml)} ml of {order.product} in the day (named by {order.named_by}), warmed: "
        f"{parts}, {figure_text(portion)} ml each. Given so far {figure_text(given)} ml, "
        f"left {figure_text(left)} ml."
    )
    if cold and left > 0:
        return CareLine("fluids", "not now", f"Warm it first. {text}")
    return CareLine("fluids", "to do" if left > 0 else "done", text)


def _dose_lines(dose: DoseAnswer) -> list[CareLine]:
    """Say today's dose, or what stands in its way, and what to watch for afterwards."""
    if dose.draw_ml is None:
        return [CareLine("drug", "not now", " ".join(reason.text for reason in dose.reasons))]
    if dose.to_confirm:
        codes = ", ".join(dose.to_confirm)
        return [CareLine("drug", "ask the vet", f"A word of the vet is needed first: {codes}.")]
    thinned = f", thinned 1 in {dose.dilution.factor}" if dose.dilution else ""
    lines = [CareLine("drug", "to do", f"Draw up {figure_text(dose.draw_ml)} ml{thinned}.")]
    watch = [warning for warning in dose.warnings if warning.code == "narrow-margin-watch"]
    return lines + [CareLine("watch", "to do", warning.next) for warning in watch[:1]]


def _food_lines(
    order: CareOrder,
    weight: WeightFact | None,
    animal: AnimalToday,
    done: Sequence[CareDone],
    cold: bool,
    found: Found,
) -> list[CareLine]:
    """Say today's food; none for a cold or dry animal, and not more at once than a stomach takes."""
    amount = exact(order.feed_ml)
    if not order.feeding.strip() and amount is None:
        return []
    text = order.feeding.strip() or f"{figure_text(amount or Decimal(0))} ml by tube"
    if any(item.kind == "feeding" for item in done):
        return [CareLine("food", "done", f"{text}.")]
    before = len(found.reasons)
    findings = animal.known_findings or frozenset()
    why = [word for word, holds in (("cold", cold), ("dry", "dehydrated" in findings)) if holds]
    if why:
        found.say("feeding-cold-or-dry", f"It is {' and '.join(why)}.")
    grams = exact(weight.weight_g) if weight is not None else None
    if amount is not None and amount > 0 and grams is not None and grams > 0:
        use = TubeUse(priming_ml=None, way="", total_written_ml=order.feed_ml if order.vet.strip() else None)
        check_stomach(amount, grams, use, "debilitated" in findings, found)
    if len(found.reasons) > before:
        said = " ".join(reason.text for reason in found.reasons[before:])
        return [CareLine("food", "not now", f"{said} First warm, then fluids, then food.")]
    return [CareLine("food", "to do", f"{text}.")]
