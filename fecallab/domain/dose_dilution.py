"""Choosing the recipe of a dilution: the fewest and smallest steps that make a dose measurable."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from fecallab.domain.dilution import NAMED_BY, DilutionOrder, Mixing, Recipe, too_strong_by, ways, whole
from fecallab.domain.dose_found import Found
from fecallab.domain.figures import figure_text
from fecallab.domain.spoken import say_date
from fecallab.domain.syringe import Syringe, draw_error_share, smallest_holding

_WATERY = ("water", "saline", "ringer", "glucose", "juice")


@dataclass(frozen=True)
class Fit:
    """How a volume is drawn on the dosing syringe: how far the draw may be off, and whether it has a needle."""

    error_share: Decimal
    has_needle: bool


def check_order(order: DilutionOrder | None, drug: str, found: Found) -> bool:
    """Say whether a drug may be thinned at all: liquid, name and place of mixing; refuse if not."""
    if order is None or not order.diluent.strip() or not order.named_by.strip() or order.role not in NAMED_BY:
        said = (
            ""
            if order is None
            else f' ("{order.diluent.strip()[:30]}", named by {order.named_by or "nobody"})'
        )
        found.say("dilution-diluent-missing", f"No vet or pharmacist has named the liquid{said}.")
        return False
    if order.mixed_in.strip().casefold() != "vial":
        dead = max(item.dead_space_ml for item in found.facts.syringes if item.mixes and item.nominal_ml <= 1)
        share = too_strong_by(Decimal(1) / 10, Decimal(1), dead) * 100
        text = (
            f"Mixed in the {order.mixed_in.strip()[:30]}: 0.1 ml of drug filled up to 1 ml would be up to "
            f"{figure_text(share.quantize(Decimal(1)))} % too strong."
        )
        found.say("dilution-in-dosing-syringe", text)
        return False
    if drug == "ivermectin" and any(word in order.diluent.casefold() for word in _WATERY):
        text = f"Ivermectin hardly dissolves in water, and {order.diluent.strip()[:30]} is watery."
        found.say("dilution-not-with-water", text)
    return True


def recipe(
    volume_ml: Decimal,
    stock_mg_per_ml: Decimal,
    order: DilutionOrder | None,
    fits: Callable[[Decimal], Fit | None],
    found: Found,
    *,
    drug: str = "",
) -> Recipe | None:
    """Return how to thin a drug so that its dose can be measured, or refuse.

    Parameters
    ----------
    volume_ml : Decimal
        The dose undiluted, too small to measure.
    stock_mg_per_ml : Decimal
        Strength of the bottle.
    order : DilutionOrder or None
        The liquid, and who named it.
    fits : callable
        Says how a volume is drawn on the dosing syringe, or None when it cannot be drawn well.
    found : Found
        Collects refusals and warnings.
    drug : str
        Generic name.

    Returns
    -------
    Recipe or None
        None when refused. The mass of drug in the volume to give is that of the dose, exactly.
    """
    if not check_order(order, drug, found) or order is None:
        return None
    possible = ways(found.facts)
    if order.factor is not None:
        possible = tuple(way for way in possible if whole(way) == order.factor)
        if not possible:
            text = f"1 in {order.factor} is none of the dilutions that are used."
            found.say("dilution-factor-unknown", text)
            return None
    limit = found.facts.rule("dilution-error-too-large").at_high()
    ranked = []
    for way in possible:
        fit = fits(volume_ml * whole(way))
        if fit is None:
            continue
        aside = found.aside()
        steps = _steps(way, volume_ml, stock_mg_per_ml, order, aside)
        made = None if steps is None else _made(steps, volume_ml * whole(way), order, found)
        too_far = made is None or made.error_share(fit.error_share) > limit
        ranked.append(((made is None, len(way), too_far, fit.has_needle, whole(way)), made, aside))
    if not ranked:
        text = (
            f"Thinned 1 in {order.factor} the dose still cannot be measured on this syringe."
            if order.factor is not None
            else "No dilution of one or two steps makes this dose measurable."
        )
        found.say("dilution-too-many-steps", text)
        return None
    _, made, aside = min(ranked, key=lambda item: item[0])
    found.take(aside)
    return made


def _made(steps: tuple[Mixing, ...], given_ml: Decimal, order: DilutionOrder, found: Found) -> Recipe:
    """Put a recipe together; it is discarded after the session unless the pharmacist gave a day."""
    day = f"Discard it on {say_date(order.discard_on)}, as the pharmacist said." if order.discard_on else ""
    discard = day or found.facts.rule("dilution-expiry").next
    return Recipe(steps, given_ml, order.diluent.strip(), order.named_by.strip(), discard)


def _steps(
    way: Sequence[int], volume_ml: Decimal, stock: Decimal, order: DilutionOrder, found: Found
) -> tuple[Mixing, ...] | None:
    """Lay out each step of mixing, the last one first known: each must leave enough for what follows."""
    mixed: list[Mixing] = []
    needed = volume_ml * whole(way)
    for number in range(len(way) - 1, -1, -1):
        wished = order.stock_draw_ml if number == 0 else None
        strength = stock / whole(way[:number])
        step = _mix(way[number], strength, needed, wished, found)
        if step is None:
            return None
        mixed.insert(0, step)
        needed = step.stock_ml
    return tuple(mixed)


def _mix(
    factor: int, strength: Decimal, needed_ml: Decimal, wished: Decimal | None, found: Found
) -> Mixing | None:
    """Choose how much of the stock is drawn: enough to measure, enough to give, both draws on their marks."""
    facts, syringes = found.facts, found.facts.syringes
    small = facts.rule("dilution-stock-draw-small")
    spare = 1 + facts.rule("stock-waste").at_high()
    least = facts.rule("dilution-stock-draw-too-small").at_low()
    if wished is not None:
        candidates = [wished] if wished * factor >= needed_ml else []
    else:
        enough = needed_ml * spare / factor
        usual = [small.at_high() + least / 2 * count for count in range(100)]
        candidates = [value for value in usual if value >= enough and _on_marks(value, factor, syringes)]
    stock_ml = candidates[0] if candidates else None
    pair = _syringes_for(stock_ml, factor, syringes) if stock_ml is not None and stock_ml >= least else None
    if stock_ml is None or pair is None:
        text = f"At least {figure_text(least)} ml of the stock is drawn, and enough for the dose."
        found.say("dilution-stock-draw-too-small", text)
        return None
    if stock_ml < small.at_high():
        found.say("dilution-stock-draw-small", f"{figure_text(stock_ml)} ml of the stock is a small draw.")
    first, second = pair
    diluent_ml = stock_ml * (factor - 1)
    shares = (
        draw_error_share(stock_ml, first, first.graduation_ml),
        draw_error_share(diluent_ml, second, second.graduation_ml),
    )
    return Mixing(factor, strength, stock_ml, first.nominal_ml, diluent_ml, second.nominal_ml, shares)


def _syringes_for(
    stock_ml: Decimal, factor: int, syringes: Sequence[Syringe]
) -> tuple[Syringe, Syringe] | None:
    """Return the syringes for stock and liquid, or None when none holds one of them in one draw."""
    first = smallest_holding(stock_ml, syringes, to_mix=True)
    second = smallest_holding(stock_ml * (factor - 1), syringes, to_mix=True)
    return None if first is None or second is None else (first, second)


def _on_marks(stock_ml: Decimal, factor: int, syringes: Sequence[Syringe]) -> bool:
    """Say whether stock and liquid both end on a mark of their syringe."""
    pair = _syringes_for(stock_ml, factor, syringes)
    if pair is None:
        return False
    first, second = pair
    return stock_ml % first.graduation_ml == 0 and stock_ml * (factor - 1) % second.graduation_ml == 0
