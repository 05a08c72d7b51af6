"""Fluids: ml per kg for a day over places and times, what is missing over some days, ceilings, and by whom.

The vet names the fluid and the amount; this is the arithmetic, and what stands in its way.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal, localcontext
from typing import Any

from fecallab.domain.dose_facts import DoseFacts, read_route
from fecallab.domain.dose_found import Found
from fecallab.domain.dose_request import Figure, exact
from fecallab.domain.errors import Reason
from fecallab.domain.figures import figure_text

_AT_HOME = ("", "PO", "SC", "IM")


@dataclass(frozen=True)
class FluidProduct:
    """A fluid as the table knows it: for the vet to name, never to be chosen here."""

    key: str
    name: str
    osmolarity_mosm_per_l: Decimal | None
    words: str
    source: str
    source_kind: str


@dataclass(frozen=True)
class FluidRate:
    """A published or usual amount of fluid for a day."""

    key: str
    whom: str
    low_ml_per_kg: Decimal
    high_ml_per_kg: Decimal
    routes: tuple[str, ...]
    words: str
    source: str
    source_kind: str


@dataclass(frozen=True, kw_only=True)
class FluidOrder:
    """What is to be given in a day.

    Attributes
    ----------
    weight_g, ml_per_kg : figure
        Weight, and ml per kg for the day (maintenance and what is missing together).
    sites, times : int
        Places at one time, and times of the day.
    route : str
        By letters or words; empty when not said.
    product, named_by : str
        The fluid, and the vet who named it; both empty in a bare calculation.
    volume_written_ml : figure or None
        The volume of the day on the vet's sheet: it lifts the ceiling.
    by_plan : bool
        Whether a vet's plan is carried out: then the fluid must be named.
    """

    weight_g: Figure
    ml_per_kg: Figure
    sites: int = 1
    times: int = 1
    route: str = ""
    product: str = ""
    named_by: str = ""
    volume_written_ml: Figure | None = None
    by_plan: bool = False


@dataclass(frozen=True)
class FluidAnswer:
    """The volumes of a day; None while anything refuses."""

    total_ml: Decimal | None
    per_time_ml: Decimal | None
    per_site_ml: Decimal | None
    refused: bool
    reasons: tuple[Reason, ...]
    warnings: tuple[Reason, ...]

    def __post_init__(self) -> None:
        figures = (self.total_ml, self.per_time_ml, self.per_site_ml)
        if self.refused != bool(self.reasons):
            raise ValueError("a refusal needs a reason, and a reason refuses")
        if any((figure is None) != self.refused for figure in figures):
            raise ValueError("volumes stand in an answer exactly when nothing refuses")

    def as_dict(self) -> dict[str, Any]:
        """Return plain keys for ``--json``."""
        names = ("total_ml", "per_time_ml", "per_site_ml")
        figures = {name: getattr(self, name) for name in names}
        return {
            **{name: None if figure is None else float(figure) for name, figure in figures.items()},
            "warnings": [reason.as_dict() for reason in self.warnings],
            "refused": self.refused,
            "reasons": [reason.as_dict() for reason in self.reasons],
        }


def day_volume_ml(weight_g: Decimal, ml_per_kg: Decimal) -> Decimal:
    """Return the volume of a day, in ml, exactly.

    Examples
    --------
    >>> day_volume_ml(Decimal(350), Decimal(20)), day_volume_ml(Decimal(350), Decimal(30))
    (Decimal('7'), Decimal('10.5'))
    """
    with localcontext(prec=60):
        return weight_g * ml_per_kg / 1000


def deficit_ml(weight_g: Decimal, dry_percent: Decimal) -> Decimal:
    """Return what an animal lacks, in ml: kg × percent × 10 (read: Vet Nursing Journal 41(1), 2026, page 55).

    Examples
    --------
    >>> deficit_ml(Decimal(350), Decimal(8))
    Decimal('28')
    """
    with localcontext(prec=60):
        return weight_g * dry_percent / 100


def ml_per_kg_with_deficit(
    maintenance_ml_per_kg: Figure, dry_percent: Figure, days: Figure | None, found: Found
) -> Decimal | None:
    """Return ml per kg for a day: maintenance, and a share of what is missing, or None when refused.

    Parameters
    ----------
    maintenance_ml_per_kg : figure
        For a day, by the vet.
    dry_percent : figure
        How dry the animal is, in percent of body weight, by the vet; 0 when it is not.
    days : figure or None
        Over how many days it is given back; None takes the table's.
    found : Found
        Collects refusals and warnings.
    """
    facts = found.facts
    default, usual = facts.rule("fluids-deficit-default").at_high(), facts.rule("fluids-deficit-days")
    most = facts.rule("fluids-dryness-unlikely")
    upkeep, dry = exact(maintenance_ml_per_kg), exact(dry_percent)
    over = default if days is None else exact(days)
    if upkeep is None or dry is None or over is None or upkeep < 0 or dry < 0 or over <= 0:
        found.say(
            "number-not-positive", "Maintenance, dryness and days are numbers, none of them below zero."
        )
        return None
    if dry > most.at_high():
        found.say(most.code, f"{figure_text(dry)} % of body weight missing.")
        return None
    if dry > 0 and not usual.at_low() <= over <= usual.at_high():
        span = f"{figure_text(usual.at_low())} to {figure_text(usual.at_high())} days"
        found.say(usual.code, f"What is missing over {figure_text(over)} days; {span} are usual.")
    with localcontext(prec=60):
        return upkeep + dry * 10 / over


def work_out_fluids(order: FluidOrder, facts: DoseFacts, found: Found | None = None) -> FluidAnswer:
    """Work out the fluids of a day, or say why not and what to do.

    Parameters
    ----------
    order : FluidOrder
        Weight, amount, places, times, route, fluid.
    facts : DoseFacts
        The rule table (``fecallab.reference.drugs.dose_facts()``).
    found : Found, optional
        What other rules found already, such as recorded words.

    Returns
    -------
    FluidAnswer
        Every volume None while a rule refuses.
    """
    found = Found(facts) if found is None else found
    figures = _read(order, found)
    route = read_route(order.route)
    if route is None:
        found.say("route-unknown", f'The route "{order.route.strip()[:30]}" is not known.')
    elif route not in _AT_HOME:
        found.say("fluids-route-not-at-home", f"Fluids by {route} are given at the practice.")
    if order.by_plan and not (order.product.strip() and order.named_by.strip()):
        found.say("fluids-product-missing", "The plan does not say which fluid, or who named it.")
    if figures is None or found.refused:
        return _conclude(None, 1, 1, found)
    weight, amount = figures
    total = day_volume_ml(weight, amount)
    _check_day(amount, total, exact(order.volume_written_ml), found)
    _check_site(order, route or "", amount, found)
    return _conclude(None if found.refused else total, order.sites, order.times, found)


def _read(order: FluidOrder, found: Found) -> tuple[Decimal, Decimal] | None:
    """Read the figures of an order, or refuse them."""
    places, reach = found.facts.rule("fluids-places-unlikely"), found.facts.rule("number-out-of-reach")
    for words, count in (("places", order.sites), ("times of the day", order.times)):
        if not places.at_low() <= count <= places.at_high():
            found.say(places.code, f"The number of {words} is {str(count)[:30]}.")
    values = []
    for words, figure in (("weight in g", order.weight_g), ("amount in ml per kg", order.ml_per_kg)):
        value = exact(figure)
        shown = str(figure)[:30]
        if value is None or value <= 0:
            found.say("number-not-positive", f"The {words} is {shown}: it must be a number above zero.")
        elif not reach.at_low() <= value <= reach.at_high():
            found.say(reach.code, f"The {words} is {shown}: no animal and no sheet has that.")
        else:
            values.append(value)
    if found.refused:
        return None
    weight, amount = values
    limits = found.facts.rule("weight-implausible", "any")
    if not limits.at_low() <= weight <= limits.at_high():
        found.say(limits.code, f"{figure_text(weight)} g is no weight of an animal.", "any")
        return None
    return weight, amount


def _check_day(amount: Decimal, total: Decimal, written: Decimal | None, found: Found) -> None:
    """Refuse or warn by ml per kg for a day; a volume that the vet wrote lifts the ceiling."""
    most, much = found.facts.rule("fluids-too-much"), found.facts.rule("fluids-much")
    text = f"{figure_text(amount)} ml per kg in a day, above"
    close = found.facts.rule("vet-volume-differs")
    if written is not None and written > 0 and abs(total - written) > written * close.at_high():
        percent = figure_text(close.at_high() * 100)
        found.say(close.code, f"The vet's own volume differs by more than {percent} % from this amount.")
    elif amount > most.at_high():
        if written is not None and written > 0:
            said = f"{text} {figure_text(most.at_high())}. The vet's sheet says {figure_text(written)} ml."
            found.say("fluids-by-vets-volume", said)
        else:
            found.say(most.code, f"{text} {figure_text(most.at_high())}.")
    elif amount > much.at_high():
        found.say(much.code, f"{text} {figure_text(much.at_high())}.")


def _check_site(order: FluidOrder, route: str, amount: Decimal, found: Found) -> None:
    """Refuse or warn by ml per kg in one place, or at one time by mouth."""
    if route == "PO":
        _check_stomach(order, amount, found)
        return
    rule = found.facts.rules_with("fluids-per-site").get(route)
    if rule is None:
        return
    parts = order.sites * order.times
    if amount > rule.at_high() * parts:
        needed = (amount / (rule.at_high() * order.times)).to_integral_value(ROUND_CEILING)
        text = (
            f"{figure_text(amount / parts)} ml per kg in one place, above {figure_text(rule.at_high())}: "
            f"at least {figure_text(needed)} places at each time."
        )
        found.say(rule.code, text, route)


def _check_stomach(order: FluidOrder, amount: Decimal, found: Found) -> None:
    """Refuse more at one time by mouth than a stomach takes, unless the vet wrote the volume."""
    full = found.facts.rule("stomach-too-full")
    percent = amount / order.times / 10
    written = exact(order.volume_written_ml)
    if percent <= full.at_high():
        return
    text = f"By mouth {figure_text(percent)} % of body weight at one time, above {figure_text(full.at_high())} %."
    if written is not None and written > 0:
        found.say(
            "stomach-by-vets-volume", f"{text} The vet's sheet says {figure_text(written)} ml in the day."
        )
    else:
        found.say(full.code, text)


def _conclude(total: Decimal | None, sites: int, times: int, found: Found) -> FluidAnswer:
    """Put the answer together."""
    found.close()
    refused = found.refused or total is None
    with localcontext(prec=60):
        each = None if refused or total is None else total / times
        place = None if each is None else each / sites
    return FluidAnswer(
        total_ml=None if refused else total,
        per_time_ml=each,
        per_site_ml=place,
        refused=found.refused,
        reasons=tuple(dict.fromkeys(found.reasons)),
        warnings=tuple(dict.fromkeys(found.warnings)),
    )
