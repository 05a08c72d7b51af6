"""Putting a volume on the marks of a real syringe, thinned first when it is too small to measure."""

from __future__ import annotations

from decimal import Decimal, localcontext

from fecallab.domain.dilution import DilutionOrder, Recipe, ways, whole
from fecallab.domain.dose_answer import Drawn
from fecallab.domain.dose_dilution import Fit, recipe
from fecallab.domain.dose_facts import DoseFacts
from fecallab.domain.dose_found import Found
from fecallab.domain.dose_request import DoseRequest, Figures
from fecallab.domain.dose_volume import check_amount, volume_ml
from fecallab.domain.figures import figure_text
from fecallab.domain.syringe import Syringe, draw_error_share, round_to_mark, smallest_holding, with_size

_TOO_FINE = {"volume-too-small", "rounding-too-coarse"}


def measure(request: DoseRequest, figures: Figures, drug: str, narrow: bool, found: Found) -> Drawn | None:
    """Put the dose on a syringe; thin it first where it is too small and a liquid was named.

    Parameters
    ----------
    request : DoseRequest
        Route (in letters), the liquid for a dilution, and the volume on the vet's sheet.
    figures : Figures
        Weight, dose, strength and the syringe at hand.
    drug : str
        Generic name.
    narrow : bool
        Round down instead of to the nearest mark.
    found : Found
        Collects refusals and warnings.
    """
    volume = volume_ml(figures.weight_g, figures.dose, figures.concentration)
    order = request.dilution
    if order is not None and order.factor is not None:
        return _thinned(order, volume, request, figures, drug, narrow, found)
    aside = found.aside()
    drawn = _draw(volume, figures, narrow, request.route, aside)
    if order is not None and aside.refused and {reason.code for reason in aside.reasons} <= _TOO_FINE:
        return _thinned(order, volume, request, figures, drug, narrow, found)
    check_amount(request, volume, figures.weight_g, found)
    if aside.refused and {reason.code for reason in aside.reasons} <= _TOO_FINE:
        found.warnings += aside.warnings
        hint = _could_be_thinned(volume, figures, narrow, request.route, found.facts)
        for reason in aside.reasons:
            found.say(reason.code, reason.text, next=hint)
        return None
    found.take(aside)
    return drawn


def _thinned(
    order: DilutionOrder,
    volume: Decimal,
    request: DoseRequest,
    figures: Figures,
    drug: str,
    narrow: bool,
    found: Found,
) -> Drawn | None:
    """Return the volume of a dilution on the dosing syringe, or None when refused."""

    def fits(thinned: Decimal) -> Fit | None:
        return _measures(thinned, figures, narrow, request.route, found.facts)

    made = recipe(volume, figures.concentration, order, fits, found, drug=drug)
    if made is None:
        return None
    check_amount(request, made.volume_ml, figures.weight_g, found)
    return _draw(made.volume_ml, figures, narrow, request.route, found, made)


def _could_be_thinned(volume: Decimal, figures: Figures, narrow: bool, route: str, facts: DoseFacts) -> str:
    """Say which dilution would make a dose measurable."""
    for way in ways(facts):
        if _measures(volume * whole(way), figures, narrow, route, facts) is not None:
            steps = (
                "" if len(way) == 1 else f", in two steps ({' and '.join(f'1 in {part}' for part in way)})"
            )
            return f"Thinned 1 in {whole(way)}{steps} it could be measured."
    return "No dilution of one or two steps would do: ask for a weaker product."


def _measures(volume: Decimal, figures: Figures, narrow: bool, route: str, facts: DoseFacts) -> Fit | None:
    """Say how a volume is drawn; None when not within the tolerance that is wished for and close to a mark."""
    aside = Found(facts)
    syringe = _syringe_for(volume, figures, route, aside)
    if syringe is None:
        return None
    mark = figures.graduation_ml or syringe.graduation_ml
    drawn = round_to_mark(volume, mark, down=narrow)
    close = abs(drawn - volume) <= volume * facts.rule("rounding-too-coarse").at_high()
    if not close or volume < _bound("volume-near-smallest", syringe, mark, facts):
        return None
    return Fit(draw_error_share(volume, syringe, mark), route == "PO" and not syringe.oral)


def _bound(code: str, syringe: Syringe, mark: Decimal, facts: DoseFacts) -> Decimal:
    """Return the smallest volume by a rule's number of marks and share of tolerance."""
    rule = facts.rule(code)
    return max(syringe.smallest_ml(rule.at_high()), rule.at_low() * mark)


def _draw(
    volume: Decimal, figures: Figures, narrow: bool, route: str, found: Found, made: Recipe | None = None
) -> Drawn | None:
    """Put one volume on the marks of a syringe, or refuse."""
    syringe = _syringe_for(volume, figures, route, found)
    if syringe is None:
        return None
    mark = figures.graduation_ml or syringe.graduation_ml
    fewest = found.facts.rule("graduation-unlikely").at_low()
    if mark * fewest > syringe.nominal_ml:
        text = f"A mark every {figure_text(mark)} ml leaves fewer than {fewest} marks on the barrel."
        found.say("graduation-unlikely", text)
        return None
    drawn_ml = round_to_mark(volume, mark, down=narrow)
    _check_marks(volume, drawn_ml, mark, syringe, found)
    if found.refused:
        return None
    own = draw_error_share(volume, syringe, mark)
    share = own if made is None else made.error_share(own)
    strength = figures.concentration if made is None else made.concentration_mg_per_ml
    if made is not None and not _dilution_is_close_enough(made, share, narrow, found):
        return None
    with localcontext(prec=40):
        drawn = Drawn(
            volume_ml=volume,
            draw_ml=drawn_ml,
            delivered_mg_per_kg=drawn_ml * strength / figures.weight_kg,
            error_percent=(drawn_ml - volume) * 100 / volume,
            percent_of_body_weight=volume * 100 / figures.weight_g,
            syringe_ml=syringe.nominal_ml,
            graduation_ml=mark,
            concentration_mg_per_ml=strength,
            syringe_key=syringe.key,
            error_share=share,
            dilution=made,
        )
    _say_of_needles(drawn_ml, syringe, route, found)
    return drawn


def _dilution_is_close_enough(made: Recipe, share: Decimal, narrow: bool, found: Found) -> bool:
    """Refuse (narrow margin) or warn by the error of every draw together; tell what a dilution asks for."""
    said = f"Mixing and dosing together may be off by up to {figure_text(round(share * 100, 1))} %."
    if narrow and share > found.facts.rule("dilution-error-too-large").at_high():
        found.say("dilution-error-too-large", said)
        return False
    if share > found.facts.rule("dilution-error").at_high():
        found.say("dilution-error", said)
    strength = figure_text(made.concentration_mg_per_ml)
    found.say(
        "dilution-used",
        f"The volume is of the drug thinned 1 in {made.factor} with {made.diluent}, {strength} mg per ml.",
        next=made.discard,
    )
    return True


def _say_of_needles(drawn_ml: Decimal, syringe: Syringe, route: str, found: Found) -> None:
    """Say what a barrel in units and a syringe for needles ask for."""
    if syringe.units_per_ml is not None:
        units, printed = figure_text(drawn_ml * syringe.units_per_ml), figure_text(syringe.units_per_ml)
        mouth = " It has a needle." if route in ("PO", "") else ""
        text = f"{figure_text(drawn_ml)} ml is {units} units on a U-{printed} barrel.{mouth}"
        found.say("syringe-in-units", text)
    elif route == "PO" and not syringe.oral:
        found.say("syringe-without-needle", f"A {figure_text(syringe.nominal_ml)} ml syringe takes a needle.")


def _syringe_for(volume: Decimal, figures: Figures, route: str, found: Found) -> Syringe | None:
    """Return the syringe at hand, or the one to propose, or refuse."""
    by_mouth = route == "PO"
    if figures.syringe_ml is None:
        syringe = _proposed(volume, figures.graduation_ml, by_mouth, found.facts)
        if syringe is None:
            found.say("syringe-too-small", "No syringe in the table holds this dose in one draw.")
        return syringe
    size = figure_text(figures.syringe_ml)
    syringe = with_size(figures.syringe_ml, found.facts.syringes, oral=by_mouth)
    if syringe is None:
        found.say("syringe-unknown", f"There is no syringe of {size} ml in the table.")
    elif volume > syringe.nominal_ml:
        found.say("syringe-too-small", f"The dose does not go into {size} ml in one draw.")
        return None
    return syringe


def _proposed(volume: Decimal, mark: Decimal | None, by_mouth: bool, facts: DoseFacts) -> Syringe | None:
    """Return the smallest syringe that holds the volume; by mouth one without a needle if it measures well."""
    plain = smallest_holding(volume, facts.syringes)
    oral = smallest_holding(volume, facts.syringes, oral=True) if by_mouth else None
    if oral is None:
        return plain
    well = volume >= _bound("volume-near-smallest", oral, mark or oral.graduation_ml, facts)
    return oral if well or plain is None else plain


def _check_marks(volume: Decimal, drawn: Decimal, mark: Decimal, syringe: Syringe, found: Found) -> None:
    """Refuse a volume that the syringe cannot measure, or that rounding would change too much."""
    facts = found.facts
    near, coarse = facts.rule("volume-near-smallest"), facts.rule("rounding-too-coarse")
    size, marks = figure_text(syringe.nominal_ml), figure_text(mark)
    least, wished = (
        _bound(code, syringe, mark, facts) for code in ("volume-too-small", "volume-near-smallest")
    )
    if volume < least:
        found.say(
            "volume-too-small",
            f"The dose is less than {figure_text(least)} ml, the least that a {size} ml syringe marked every "
            f"{marks} ml measures.",
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
            f"Marks every {marks} ml would change the dose by "
            f"{float(abs(drawn - volume) * 100 / volume):.3g} %, more than "
            f"{figure_text(coarse.at_high() * 100)} %.{_finer(volume, mark, facts)}",
        )


def _finer(volume: Decimal, mark: Decimal, facts: DoseFacts) -> str:
    """Name a finer syringe of the table that would hold the volume, if there is one."""
    finer = [item for item in facts.syringes if item.nominal_ml >= volume and item.graduation_ml < mark]
    if not finer:
        return ""
    best = max(finer, key=lambda item: (item.default, item.graduation_ml, -item.nominal_ml))
    size, marks = figure_text(best.nominal_ml), figure_text(best.graduation_ml)
    return f" A {size} ml syringe marked every {marks} ml is finer."
