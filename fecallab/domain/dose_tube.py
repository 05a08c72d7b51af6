"""The rules of giving a dose through a tube: one way only, not too much at once, not into a full snake."""

from __future__ import annotations

from decimal import Decimal

from fecallab.domain.dose_facts import DoseFacts, DoseRule
from fecallab.domain.dose_found import Found
from fecallab.domain.dose_request import exact
from fecallab.domain.errors import BadInput
from fecallab.domain.figures import figure_text
from fecallab.domain.taxon import Taxon
from fecallab.domain.tube import (
    WAYS,
    TubeAnswer,
    TubeUse,
    delivery_steps,
    outer_diameter_mm,
    priming_by_weighing_ml,
    priming_ml,
)


def tube_figures(
    french: Decimal, inner_diameter_mm: Decimal | None, length_mm: Decimal, facts: DoseFacts
) -> tuple[Decimal, Decimal | None]:
    """Return the outer diameter of a tube in mm, and what it holds in ml where the inner one is known.

    Parameters
    ----------
    french : Decimal
        French size.
    inner_diameter_mm : Decimal or None
        As on the package; None gives no volume.
    length_mm : Decimal
        Whole length.
    facts : DoseFacts
        The rule table.

    Raises
    ------
    BadInput
        For a size, length or inner diameter that no feeding tube has.
    """
    size, length = facts.rule("tube-size-unlikely"), facts.rule("tube-length-unlikely")
    if not size.at_low() <= french <= size.at_high():
        raise _bad(size, f"The French size is {figure_text(french)}.")
    if not length.at_low() <= length_mm <= length.at_high():
        raise _bad(length, f"The length is {figure_text(length_mm)} mm.")
    outer = outer_diameter_mm(french)
    if inner_diameter_mm is None:
        return outer, None
    if not 0 < inner_diameter_mm < outer:
        text = f"The inner diameter is {figure_text(inner_diameter_mm)} mm, the outer one {figure_text(outer)} mm."
        raise _bad(facts.rule("tube-inner-unlikely"), text)
    return outer, priming_ml(inner_diameter_mm, length_mm)


def weighed_tube_ml(empty_g: Decimal, full_g: Decimal, facts: DoseFacts) -> Decimal:
    """Return what a tube holds, in ml, from weighing it empty and full of water.

    Raises
    ------
    BadInput
        When the full tube is not the heavier one.
    """
    if not 0 < empty_g < full_g:
        text = f"Empty {figure_text(empty_g)} g, full of water {figure_text(full_g)} g."
        raise _bad(facts.rule("tube-weighing-unlikely"), text)
    return priming_by_weighing_ml(empty_g, full_g)


def _bad(rule: DoseRule, text: str) -> BadInput:
    return BadInput(text, next=rule.next, code=rule.code)


def check_tube(
    dose_ml: Decimal, weight_g: Decimal, use: TubeUse, taxon: Taxon | None, weak: bool, found: Found
) -> TubeAnswer | None:
    """Work out how a dose goes through a tube, or refuse.

    Parameters
    ----------
    dose_ml : Decimal
        The dose as drawn, in ml; 0 for food or fluid alone.
    weight_g : Decimal
        Weight of the animal.
    use : TubeUse
        The tube and everything that goes through it.
    taxon : Taxon or None
        The animal.
    weak : bool
        Whether it is debilitated.
    found : Found
        Collects refusals and warnings.

    Returns
    -------
    TubeAnswer or None
        None when refused.
    """
    figures = _read(use, found)
    if figures is None:
        return None
    priming, asked_flush, feed, fluid = figures
    way = use.way.strip().casefold()
    if way not in WAYS:
        found.say("tube-way-missing", f'The way through the tube is "{use.way.strip()[:20]}".')
        return None
    _check_way(way, dose_ml, priming, (asked_flush, feed + fluid), found)
    times = found.facts.rule("tube-flush").at_high()
    flush = Decimal(0) if way == "overfill" else asked_flush if asked_flush else priming * times
    into = dose_ml + flush + feed + fluid
    limit = check_stomach(into, weight_g, use, weak, found)
    _check_meal(taxon, use, found)
    if found.refused:
        return None
    draw = dose_ml + priming if way == "overfill" else dose_ml
    waste = priming if way == "overfill" else Decimal(0)
    steps = delivery_steps(way, dose_ml, priming, flush, feed + fluid)
    return TubeAnswer(way, draw, priming, flush, waste, into, limit, steps)


def _read(use: TubeUse, found: Found) -> tuple[Decimal, Decimal, Decimal, Decimal] | None:
    """Read the figures of a tube, or refuse."""
    priming = exact(use.priming_ml)
    if use.priming_ml is None:
        found.say("tube-priming-unknown", "How much the tube holds is not known.")
        return None
    rest = [exact(value) for value in (use.flush_ml or 0, use.feed_ml, use.fluid_ml)]
    if priming is None or priming <= 0 or any(value is None or value < 0 for value in rest):
        found.say("number-not-positive", "What the tube holds and what goes through it are numbers in ml.")
        return None
    flush, feed, fluid = (value or Decimal(0) for value in rest)
    return priming, flush, feed, fluid


def _check_way(
    way: str, dose_ml: Decimal, priming: Decimal, after: tuple[Decimal, Decimal], found: Found
) -> None:
    """Compare what the tube holds with the dose; refuse both ways at once.

    Food and fluid after an overfilled tube push its drug in just as a flush does.
    """
    held, flush = figure_text(priming), after[0]
    if way == "overfill" and sum(after) > 0:
        text = f"Something is pushed after an overfilled tube: up to {held} ml of drug too much would go in."
        found.say("tube-two-ways", text)
    least = priming * found.facts.rule("tube-flush-too-small").at_low()
    if way == "flush" and 0 < flush < least:
        found.say("tube-flush-too-small", f"A flush of {figure_text(flush)} ml leaves drug in the tube.")
    if dose_ml <= 0:
        return
    most = found.facts.rule("tube-overfill-too-small").at_high()
    if way == "overfill" and priming > dose_ml * most:
        found.say("tube-overfill-too-small", f"The tube holds {held} ml, more than the dose.")
    share = found.facts.rule("tube-dead-volume-large").at_high()
    if priming > dose_ml * share:
        percent = figure_text(share * 100)
        found.say("tube-dead-volume-large", f"The tube holds {held} ml, more than {percent} % of the dose.")


def check_stomach(into_ml: Decimal, weight_g: Decimal, use: TubeUse, weak: bool, found: Found) -> Decimal:
    """Refuse more at one time than a stomach takes; return the limit in ml.

    Drug, flush, food and fluid count together. A volume that the vet wrote lifts the limit, up to
    the most that was ever published.
    """
    full, first = found.facts.rule("stomach-too-full"), found.facts.rule("stomach-first-gavages")
    early = weak and (use.gavages_before is None or use.gavages_before < first.at_low())
    rule = first if early else full
    limit = weight_g * rule.at_high() / 100
    written = exact(use.total_written_ml)
    percent = figure_text(rule.at_high())
    text = (
        f"Together {figure_text(into_ml)} ml, more than {percent} % of body weight ({figure_text(limit)} ml)."
    )
    if into_ml <= limit:
        return limit
    if written is None or into_ml > written:
        found.say(rule.code, text)
        return limit
    most = found.facts.rule("stomach-beyond-published")
    if into_ml * 100 > weight_g * most.at_high():
        found.say(
            most.code, f"Together more than {figure_text(most.at_high())} % of body weight at one time."
        )
    else:
        found.say("stomach-by-vets-volume", f"{text} The vet's sheet says {figure_text(written)} ml.")
    return written


def _check_meal(taxon: Taxon | None, use: TubeUse, found: Found) -> None:
    """Refuse a tube into a snake that has just eaten."""
    if taxon is None or not taxon.is_a("host_group snake"):
        return
    hours = exact(use.hours_since_meal)
    if hours is None or hours < 0:
        found.say("gavage-after-meal", "When this snake ate last is not known.", "unknown")
        return
    for scope in ("refuse", "warn"):
        least = found.facts.rule("gavage-after-meal", scope).at_high()
        if hours < least:
            text = f"It ate {figure_text(hours)} h ago; {figure_text(least)} h are asked for."
            found.say("gavage-after-meal", text, scope)
            return
