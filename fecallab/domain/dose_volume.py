"""The volume itself: exact, on a real syringe, and not too much for the animal."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal, localcontext

from fecallab.domain.dose_facts import DrugName, Found
from fecallab.domain.dose_request import DoseRequest, Drawn, Figures
from fecallab.domain.figures import figure_text
from fecallab.domain.slips import find_slips
from fecallab.domain.syringe import Syringe, round_to_mark, smallest_holding, with_size


def volume_ml(weight_g: Decimal, dose_mg_per_kg: Decimal, concentration_mg_per_ml: Decimal) -> Decimal:
    """Return weight × dose / concentration, in ml, exactly where the decimal ends.

    Examples
    --------
    >>> volume_ml(Decimal(420), Decimal(20), Decimal(40))
    Decimal('0.21')
    """
    with localcontext(prec=40):
        return weight_g * dose_mg_per_kg / (1000 * concentration_mg_per_ml)


def check_weight(request: DoseRequest, weight_g: Decimal, found: Found) -> None:
    """Refuse a weight that no animal of the group has, naming the unit slip that would explain it."""
    limits = found.facts.rules_with("weight-implausible")
    scope = request.taxon.host_group if request.taxon and request.taxon.host_group in limits else "any"
    low, high = limits[scope].at_low(), limits[scope].at_high()
    if low <= weight_g <= high:
        return
    slips = [
        slip
        for slip in find_slips(weight_g, low, high, found.facts.rule("slip-found").at_low())
        if slip.of_units
    ]
    group = "animal" if scope == "any" else scope
    named = "".join(f" {slip.words}" for slip in slips)
    text = f"{figure_text(weight_g)} g is no weight of a {group}.{named}"
    found.say("weight-implausible", text.replace("a animal", "an animal"), scope)


def check_strength(concentration: Decimal, drug: DrugName, found: Found) -> None:
    """Compare a strength with those that are known; refuse those of pastes and granules."""
    known = {strength for row in found.facts.rows_of(drug.drug) for strength in row.known_concentrations}
    liquids = sorted({strength.value for strength in known if strength.unit == "mg/ml"})
    close = found.facts.rule("strength-unknown").at_low()
    if any(_near(concentration, value, close) for value in liquids):
        return
    solids = [strength.value for strength in known if strength.unit == "mg/g"]
    if any(_near(concentration, value, found.facts.rule("strength-per-gram").at_low()) for value in solids):
        text = f"{figure_text(concentration)} is the strength of a {drug.drug} paste or granules in mg per g."
        found.say("strength-per-gram", f"{text} A syringe measures ml.")
        return
    if not liquids:
        return
    shown = ", ".join(figure_text(value) for value in liquids)
    percent = found.facts.rule("strength-looks-like-percent").at_low()
    if any(_near(concentration * 10, value, percent) for value in liquids):
        found.say(
            "strength-looks-like-percent",
            f"{figure_text(concentration)} mg per ml is no known strength of {drug.drug} ({shown}), but ten "
            f"times is: {figure_text(concentration)} % would be {figure_text(concentration * 10)} mg per ml.",
        )
        return
    found.say(
        "strength-unknown",
        f"Known strengths of {drug.drug}: {shown} mg per ml, not {figure_text(concentration)}.",
    )


def _near(value: Decimal, known: Decimal, share: Decimal) -> bool:
    return abs(value - known) <= known * share


def check_amount(request: DoseRequest, volume: Decimal, weight_g: Decimal, found: Found) -> None:
    """Refuse or warn by the volume's share of body weight, by mouth, and per place when injected."""
    per_place = found.facts.rules_with("volume-per-site-too-large").get(request.route)
    if per_place is not None:
        if volume * 1000 > weight_g * per_place.at_high():
            text = f"More than {figure_text(per_place.at_high())} ml per kg in one place ({request.route})."
            found.say("volume-per-site-too-large", text, request.route)
        return
    if request.route not in ("PO", ""):
        return
    percent = volume * 100 / weight_g
    refuse, warn = found.facts.rule("volume-by-mouth-too-large"), found.facts.rule("volume-by-mouth-large")
    if percent > refuse.at_high():
        text = f"The volume is more than {figure_text(refuse.at_high())} % of body weight by mouth."
        found.say("volume-by-mouth-too-large", text)
    elif percent > warn.at_high():
        text = f"The volume is {figure_text(percent)} % of body weight by mouth."
        found.say("volume-by-mouth-large", text)


def draw(figures: Figures, narrow_margin: bool, route: str, found: Found) -> Drawn | None:
    """Put the volume on the marks of a syringe, or refuse.

    Parameters
    ----------
    figures : Figures
        Weight, dose, strength and the syringe at hand.
    narrow_margin : bool
        Round down instead of to the nearest mark.
    route : str
        Route in letters; a needle never goes into a mouth.
    found : Found
        Collects refusals and warnings.
    """
    volume = volume_ml(figures.weight_g, figures.dose, figures.concentration)
    syringe = _syringe_for(volume, figures, found)
    if syringe is None:
        return None
    mark = figures.graduation_ml or syringe.graduation_ml
    fewest = found.facts.rule("graduation-unlikely").at_low()
    if mark * fewest > syringe.nominal_ml:
        text = f"A mark every {figure_text(mark)} ml leaves fewer than {fewest} marks on the barrel."
        found.say("graduation-unlikely", text)
        return None
    drawn_ml = round_to_mark(volume, mark, down=narrow_margin)
    _check_marks(volume, drawn_ml, mark, syringe, found)
    if found.refused:
        return None
    with localcontext(prec=40):
        drawn = Drawn(
            volume_ml=volume,
            draw_ml=drawn_ml,
            delivered_mg_per_kg=drawn_ml * figures.concentration / figures.weight_kg,
            error_percent=(drawn_ml - volume) * 100 / volume,
            percent_of_body_weight=volume * 100 / figures.weight_g,
            syringe_ml=syringe.nominal_ml,
            graduation_ml=mark,
        )
    if syringe.units_per_ml is not None:
        units, printed = figure_text(drawn_ml * syringe.units_per_ml), figure_text(syringe.units_per_ml)
        mouth = " It has a needle." if route in ("PO", "") else ""
        text = f"{figure_text(drawn_ml)} ml is {units} units on a U-{printed} barrel.{mouth}"
        found.say("syringe-in-units", text)
    return drawn


def _syringe_for(volume: Decimal, figures: Figures, found: Found) -> Syringe | None:
    """Return the syringe at hand, or the smallest that holds the volume in one draw."""
    syringes: Sequence[Syringe] = found.facts.syringes
    if figures.syringe_ml is None:
        syringe = smallest_holding(volume, syringes)
        if syringe is None:
            found.say("syringe-too-small", "No syringe in the table holds this dose in one draw.")
        return syringe
    syringe = with_size(figures.syringe_ml, syringes)
    if syringe is None:
        found.say(
            "syringe-unknown", f"There is no syringe of {figure_text(figures.syringe_ml)} ml in the table."
        )
    elif volume > syringe.nominal_ml:
        found.say(
            "syringe-too-small",
            f"The dose does not go into {figure_text(syringe.nominal_ml)} ml in one draw.",
        )
        return None
    return syringe


def _check_marks(volume: Decimal, drawn: Decimal, mark: Decimal, syringe: Syringe, found: Found) -> None:
    """Refuse a volume that the syringe cannot measure, or that rounding would change too much."""
    smallest, near = found.facts.rule("volume-too-small"), found.facts.rule("volume-near-smallest")
    coarse = found.facts.rule("rounding-too-coarse")
    size = figure_text(syringe.nominal_ml)
    least = max(syringe.smallest_ml(smallest.at_high()), smallest.at_low() * mark)
    wished = max(syringe.smallest_ml(near.at_high()), near.at_low() * mark)
    if volume < least:
        found.say(
            "volume-too-small",
            f"The dose is less than {figure_text(least)} ml, the least that a {size} ml syringe marked every "
            f"{figure_text(mark)} ml measures.",
        )
    elif volume < wished:
        found.say(
            "volume-near-smallest",
            f"Below {figure_text(wished)} ml a {size} ml syringe may be off by more than "
            f"{figure_text(near.at_high() * 100)} %, or has few marks.",
        )
    if abs(drawn - volume) > volume * coarse.at_high():
        found.say(
            "rounding-too-coarse",
            f"Marks every {figure_text(mark)} ml would change the dose by "
            f"{figure_text(abs(drawn - volume) * 100 / volume)} %, more than "
            f"{figure_text(coarse.at_high() * 100)} %.{_finer(volume, mark, found)}",
        )


def _finer(volume: Decimal, mark: Decimal, found: Found) -> str:
    """Name a finer syringe of the table that would hold the volume, if there is one."""
    finer = [item for item in found.facts.syringes if item.nominal_ml >= volume and item.graduation_ml < mark]
    if not finer:
        return ""
    best = max(finer, key=lambda item: (item.default, item.graduation_ml, -item.nominal_ml))
    size, marks = figure_text(best.nominal_ml), figure_text(best.graduation_ml)
    return f" A {size} ml syringe marked every {marks} ml is finer."
