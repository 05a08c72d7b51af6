"""Calculators on counts: density, epg, field, residual, reduction, agreement. No rules here, only words."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

import typer

from fecallab.cli.typed import read_count, read_counts, read_number, say_number
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import number_of, say_percent

if TYPE_CHECKING:
    from fecallab.domain.reduction import Reduction

JSON = typer.Option(False, "--json", help="Print one JSON object.")
_METHODS = {
    "exact-two-count": "exact interval of all eggs together",
    "arithmetic-means-paired": "arithmetic means, the same animals, log-ratio t interval",
    "arithmetic-means-unpaired": "arithmetic means, different animals, log-ratio t interval",
    "beta": "arithmetic means, beta limit on raw eggs",
}


def density(
    counts: str = typer.Option(..., metavar="0,2,1,…", help="What each field showed, zeros too."),
    as_json: bool = JSON,
) -> None:
    """Organisms per field, with the interval that the fields allow."""
    from fecallab.cli.output import emit
    from fecallab.domain.counting import FIELDS_FOR_A_CLUMPED_MODEL, field_density

    found = field_density(read_counts(counts, "--counts"))
    low, high = (say_number(limit) for limit in found.ci95)
    fields = f"{found.fields} field" + ("s" if found.fields > 1 else "")
    if found.upper95_if_zero is not None:
        lines = [
            f"None seen in {fields}: the mean is below {say_number(found.upper95_if_zero)} per field "
            "(one-sided 95 % limit)."
        ]
    else:
        lines = [
            f"{say_number(found.mean_per_field)} per field (95 % interval {low} to {high} per field): "
            f"{found.total} in {fields}."
        ]
    if found.dispersion_index is not None and found.dispersion_p is not None:
        spread = (
            f"variance over mean {say_number(found.dispersion_index)}, chance of that or more if "
            f"organisms lay at random {say_percent(found.dispersion_p)}"
        )
        if found.model == "negative-binomial":
            lines.append(f"They lie in clumps ({spread}); the interval allows for it (negative binomial).")
        elif found.dispersion_p < 0.05:
            lines.append(
                f"They seem to lie in clumps ({spread}); with under {FIELDS_FOR_A_CLUMPED_MODEL} fields that "
                "cannot be allowed for: take the interval as too narrow and read more fields."
            )
        elif found.dispersion_p > 0.975:
            lines.append(
                f"They lie more evenly than chance ({spread}): were some fields guessed or read twice?"
            )
        else:
            lines.append(f"Clumps are not shown ({spread}); exact Poisson interval.")
    lines.append(
        "It does not say: what the fields that were not read hold, nor how much per gram. A field's size "
        "hangs on eyepiece and objective (fecallab calc field). A few fields without a find are no negative "
        "exam."
    )
    emit(asdict(found), "\n".join(lines), as_json)


def epg(
    count: str = typer.Option(..., metavar="N", help="Eggs or oocysts over all grids that were read."),
    sample_g: str = typer.Option(..., metavar="G", help="Stool in the suspension, g."),
    suspension_ml: str = typer.Option(..., metavar="ML", help="The finished suspension, ml (1 g is 1 ml)."),
    counted_ml: str = typer.Option(..., metavar="ML", help="All the volume that was read, ml."),
    as_json: bool = JSON,
) -> None:
    """Eggs or oocysts per gram from a counting chamber."""
    from fecallab.cli.output import emit
    from fecallab.domain.chamber import chamber_count

    grams, suspension = read_number(sample_g, "--sample-g"), read_number(suspension_ml, "--suspension-ml")
    counted = read_number(counted_ml, "--counted-ml")
    found = chamber_count(read_count(count, "--count"), grams, suspension, counted)
    low, high = (say_number(limit) for limit in found.ci95)
    if found.upper95_if_zero is not None:
        head = (
            f"None counted: below {say_number(found.upper95_if_zero)} per gram (one-sided 95 % limit), "
            "not none at all."
        )
    else:
        head = f"{say_number(found.epg)} per gram (95 % interval {low} to {high}): {found.count} counted."
    text = (
        f"{head}\nRead as {grams:g} g in {suspension:g} ml, {counted:g} ml counted: one egg stands for "
        f"{say_number(found.factor)} per gram (the factor).\n"
        f"Found with 95 % chance: {say_number(found.reliable_epg)} per gram and more; at "
        f"{say_number(found.factor)} per gram 37 % of such chambers show nothing.\n"
        "It does not say: what was lost before the chamber, how shedding changes from day to day, or whether "
        "the animal is ill. The interval is that of counting alone."
    )
    emit(asdict(found), text, as_json)


def field(
    field_number: str = typer.Option(..., metavar="MM", help="The number on the eyepiece, as 20 in 10x/20."),
    objective: str = typer.Option(..., metavar="TIMES", help="The objective alone: 4, 10, 40."),
    as_json: bool = JSON,
) -> None:
    """Size of the field of view and its share of a 22 × 22 mm cover glass."""
    from fecallab.cli.output import emit
    from fecallab.domain.field import covered_share, field_area_mm2, field_diameter_mm, fields_to_cover

    power = read_number(objective.strip().rstrip("xX×"), "--objective")
    diameter = field_diameter_mm(read_number(field_number, "--field-number"), power)
    area, share = field_area_mm2(diameter), covered_share(diameter)
    third = fields_to_cover(1 / 3, diameter)
    payload = {
        "diameter_mm": diameter,
        "area_mm2": area,
        "cover_glass_share": share,
        "cover_glass": "22x22",
        "fields_for_a_third": third,
    }
    text = (
        f"The field is {diameter:.3g} mm across, {area:.3g} mm²: {say_percent(share)} of a 22 × 22 mm "
        "cover glass.\n"
        f"A third of the glass is {third:,} fields, none overlapping; 10 fields show "
        f"{say_percent(covered_share(diameter, fields=10))} of it.\n"
        "It does not say what a camera shows: that is less than the eyepiece and hangs on sensor and adapter."
    )
    emit(payload, text, as_json)


def residual(
    prior: str = typer.Option(..., metavar="0-1", help="Chance of infection before these exams."),
    sensitivity: str = typer.Option(..., metavar="0-1", help="Chance that one exam finds it if it is there."),
    negatives: str = typer.Option(..., metavar="K", help="Adequate negatives of separate stools."),
    correlation: str = typer.Option(
        "", metavar="0-1", help="Between exams of one animal; left out: 0.576, a fit to human data."
    ),
    as_json: bool = JSON,
) -> None:
    """Chance that infection is still there after negatives: exams independent, and cautious."""
    from fecallab.cli.output import emit
    from fecallab.domain.residual import HUMAN_CORRELATION, negatives_needed, residual_chance

    before, finds = read_number(prior, "--prior"), read_number(sensitivity, "--sensitivity")
    k = read_count(negatives, "--negatives")
    rho = read_number(correlation, "--correlation") if correlation.strip() else HUMAN_CORRELATION
    found = residual_chance(before, finds, k, rho)
    needed = negatives_needed(before, finds, 0.05)
    needed_cautious = negatives_needed(before, finds, 0.05, correlation=rho)
    payload = {
        "probability_infected": found.independent,
        "probability_infected_cautious": found.cautious,
        "prior": before,
        "sensitivity": finds,
        "negatives": k,
        "correlation": found.correlation,
        "note": found.note,
    }
    text = (
        f"Chance that the infection is still there, before: {say_percent(before)} (the prior, as given).\n"
        f"After {k} adequate negative exam{'' if k == 1 else 's'}, each finding it with chance {finds:g}:\n"
        f"  if exams are independent: {say_percent(found.independent)}\n"
        f"  cautious, light shedders stay light (correlation {rho:g}): {say_percent(found.cautious)}\n"
        f"{found.note} Published repeat-stool data speak against independence: take both as the ends of a "
        "bracket.\n"
        f"What lowers it: more negatives of separate, spaced stools (5 % or less: {_exams(needed)} if "
        f"independent, {_exams(needed_cautious)} cautious), a method that finds more, a laboratory's test.\n"
        "It does not say: clear or not (that is the plan's rule), nor anything on what stools cannot show."
    )
    emit(payload, text, as_json)


def _exams(number: int | None) -> str:
    return "not reachable" if number is None else f"{number} in all"


def reduction(
    before: str = typer.Option(..., metavar="40,31,…", help="Raw eggs before, one number per animal."),
    after: str = typer.Option(..., metavar="2,0,…", help="Raw eggs after, one number per animal."),
    factor_before: str = typer.Option("", metavar="F", help="Eggs per gram of one egg counted before."),
    factor_after: str = typer.Option("", metavar="F", help="Eggs per gram of one egg counted after."),
    paired: bool = typer.Option(False, "--paired", help="The same animals in the same order."),
    as_json: bool = JSON,
) -> None:
    """How much lower counts are after than before, with its interval."""
    from fecallab.cli.output import emit
    from fecallab.domain.reduction import reduction as work_out

    if bool(factor_before.strip()) != bool(factor_after.strip()):
        raise BadInput(
            "one factor was given and the other was not; only both together say how the methods compare.",
            next="Give --factor-before and --factor-after, or neither when the method was the same.",
            code="factor-missing",
        )
    factors = [
        read_number(text, option) if text.strip() else 1.0
        for text, option in ((factor_before, "--factor-before"), (factor_after, "--factor-after"))
    ]
    found = work_out(
        read_counts(before, "--before"),
        read_counts(after, "--after"),
        factor_before=factors[0],
        factor_after=factors[1],
        paired=paired,
    )
    emit(asdict(found), "\n".join(_reduction_lines(found)), as_json)


def _change(percent: float) -> str:
    if percent >= 0:
        return f"{percent:.1f} % fewer" if percent < 99.95 or percent == 100 else "over 99.9 % fewer"
    if percent > -1000:
        return f"{-percent:.1f} % more"
    return "more than 11 times as many"


def _reduction_lines(found: Reduction) -> list[str]:
    low, high = found.ci95
    if high is None:
        lines = [
            f"None counted after ({number_of(found.eggs_before, 'egg')} before). With 95 % confidence: {_change(low)} or "
            "better. That all is gone is not proven."
        ]
        if found.lower99_percent is not None:
            lines.append(f"With 99 % confidence: {_change(found.lower99_percent)} or better.")
    else:
        lines = [
            f"{_change(found.reduction_percent)} after than before (95 % interval: {_change(low)} to "
            f"{_change(high)}); {number_of(found.eggs_before, 'egg')} before, {found.eggs_after} after."
        ]
    lines.append(
        "One animal: exact counting interval; how shedding changes from day to day comes on top."
        if found.animals_before == found.animals_after == 1
        else f"Groups of {found.animals_before} before and {found.animals_after} after: "
        f"{_METHODS[found.method]}."
    )
    lines += found.warnings
    lines.append(
        "It does not say whether a drug works: thresholds in print are for worms of livestock, none was "
        "found for reptiles. Show the vet the number with its interval."
    )
    return lines


def agreement(
    table: str = typer.Option(..., metavar='"a,b;c,d"', help="Rows keeper, columns vet; positive first."),
    as_json: bool = JSON,
) -> None:
    """How well two readers agree on the same things."""
    from fecallab.cli.output import emit
    from fecallab.domain.agreement import agreement as work_out

    found = work_out([read_counts(row, "--table") for row in table.split(";")])
    lines = [f"Named alike: {say_percent(found.agreement)} of {found.n}."]
    if found.kappa is None or found.ci95 is None:
        lines.append("Kappa: cannot be worked out, a reader or both used one name only.")
    else:
        low, high = found.ci95
        lines.append(
            f"Beyond chance: kappa {found.kappa:.2f} (95 % interval {low:.2f} to {high:.2f}), "
            f"AC1 {found.ac1:.2f}."
        )
    for word, value in (("positive", found.positive_agreement), ("negative", found.negative_agreement)):
        if value is not None:
            lines.append(f"Agreement on {word}: {say_percent(value)}.")
    lines.append(
        "It does not say who is right. Kappa falls when nearly everything has one name; look at AC1 and at "
        "both agreements then."
    )
    emit(asdict(found), "\n".join(lines), as_json)


def register(app: typer.Typer) -> None:
    """Add these calculators to the noun ``calc``."""
    for command in (density, epg, field, residual, reduction, agreement):
        app.command(command.__name__)(command)
