"""The volume itself: exact, from a plausible weight and a known strength, and not too much for the animal."""

from __future__ import annotations

from decimal import Decimal, localcontext

from fecallab.domain.dose_facts import DrugName
from fecallab.domain.dose_found import Found
from fecallab.domain.dose_request import DoseRequest, exact
from fecallab.domain.figures import figure_text
from fecallab.domain.slips import find_slips


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


def check_strength(
    concentration: Decimal, drug: DrugName, found: Found, *, typed_twice: bool | None = None
) -> None:
    """Compare a strength with those that are known; refuse those of pastes and granules.

    A strength that is not known is to be typed twice; ``typed_twice`` is None where nobody can tell.
    """
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
    text = f"Known strengths of {drug.drug}: {shown} mg per ml, not {figure_text(concentration)}."
    found.say("strength-unknown", text, "typed-once" if typed_twice is False else "")


def _near(value: Decimal, known: Decimal, share: Decimal) -> bool:
    return abs(value - known) <= known * share


def check_amount(request: DoseRequest, volume: Decimal, weight_g: Decimal, found: Found) -> None:
    """Refuse or warn by the volume's share of body weight, by mouth, and per place when injected.

    A volume that stands on the vet's sheet lifts both limits.
    """
    written = exact(request.volume_written_ml)
    per_place = found.facts.rules_with("volume-per-site-too-large").get(request.route)
    if per_place is not None:
        if volume * 1000 > weight_g * per_place.at_high():
            text = f"More than {figure_text(per_place.at_high())} ml per kg in one place ({request.route})."
            _say_too_much(per_place.code, text, request.route, (volume, written), found)
        return
    if request.route not in ("PO", ""):
        return
    percent = volume * 100 / weight_g
    refuse, warn = found.facts.rule("volume-by-mouth-too-large"), found.facts.rule("volume-by-mouth-large")
    if percent > refuse.at_high():
        text = f"The volume is more than {figure_text(refuse.at_high())} % of body weight by mouth."
        _say_too_much(refuse.code, text, "", (volume, written), found)
    elif percent > warn.at_high():
        text = f"The volume is {figure_text(percent)} % of body weight by mouth."
        found.say("volume-by-mouth-large", text)


def _say_too_much(
    code: str, text: str, scope: str, volumes: tuple[Decimal, Decimal | None], found: Found
) -> None:
    """Refuse a volume above a limit, unless the vet wrote about as much."""
    volume, written = volumes
    close = found.facts.rule("vet-volume-differs").at_high()
    if written is None or written <= 0 or volume > written * (1 + close):
        found.say(code, text, scope)
    else:
        found.say("volume-by-vets-word", f"{text} The vet's sheet says {figure_text(written)} ml.")
