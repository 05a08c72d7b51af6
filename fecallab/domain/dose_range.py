"""Is the dose inside a published range? The row is matched by animal and interval, the narrowest first."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from fecallab.domain.dose_answer import RangeUsed
from fecallab.domain.dose_facts import DrugName, DrugRow
from fecallab.domain.dose_found import Found
from fecallab.domain.dose_request import DoseRequest, Figures
from fecallab.domain.figures import figure_text
from fecallab.domain.slips import find_slips
from fecallab.domain.taxon import Taxon

_CONFIDENCE = {"high": 0, "medium": 1, "low": 2}


def check_range(request: DoseRequest, figures: Figures, drug: DrugName, found: Found) -> RangeUsed | None:
    """Compare a dose with the published range that fits best.

    Parameters
    ----------
    request, figures
        What is asked, and its figures.
    drug : DrugName
        The drug, found in the table.
    found : Found
        Collects refusals and warnings.

    Returns
    -------
    RangeUsed or None
        None when the table has no range for the drug at all.
    """
    rows = [row for row in found.facts.rows_of(drug.drug) if row.sets_range]
    used = _choose(rows, request.taxon, figures.interval_hours, found)
    if used is not None:
        _compare(figures.dose, used, found)
    _say_what_the_rows_say(request, figures.dose, drug, used, found)
    return used


def _bounds(row: DrugRow) -> tuple[Decimal, Decimal]:
    """Return the range of a row that sets one."""
    if row.dose_min_mg_per_kg is None or row.dose_max_mg_per_kg is None:
        raise ValueError(f"the drug row {row.key} sets a range and has none")
    return row.dose_min_mg_per_kg, row.dose_max_mg_per_kg


def _interval_gap(row: DrugRow, hours: Decimal) -> Decimal:
    """Return by what factor an interval misses a row's; 1 inside it or where the row names none."""
    if row.interval_min_hours is None or row.interval_max_hours is None:
        return Decimal(1)
    return max(Decimal(1), row.interval_min_hours / hours, hours / row.interval_max_hours)


def _interval_width(row: DrugRow) -> Decimal:
    """Return how wide a row's interval is; rows that name none come last."""
    if row.interval_min_hours is None or row.interval_max_hours is None:
        return Decimal("Infinity")
    return row.interval_max_hours / row.interval_min_hours


def _of_row(row: DrugRow, basis: str) -> RangeUsed:
    low, high = _bounds(row)
    return RangeUsed(row.key, low, high, row.ceiling_mg_per_kg, basis, row)


def _choose(
    rows: Sequence[DrugRow], taxon: Taxon | None, hours: Decimal | None, found: Found
) -> RangeUsed | None:
    """Choose the row for this animal and interval: the narrowest taxon, then the nearest interval."""
    if not rows:
        if taxon is not None:
            found.say("no-range-known", "No published range of this drug is in the table.")
        return None
    mine = [row for row in rows if taxon is not None and row.speaks_of(taxon)]
    if not mine or taxon is None:
        return _other_reptiles(rows, taxon, found)
    if hours is None:
        return _without_interval(mine, taxon, found)
    limit = found.facts.rule("interval-unlike-published").at_high()
    near = [row for row in mine if _interval_gap(row, hours) <= limit]
    if near:
        best = min(
            near,
            key=lambda row: (
                -row.narrowness_for(taxon),
                _interval_gap(row, hours),
                _interval_width(row),
                _CONFIDENCE.get(row.confidence, len(_CONFIDENCE)),
                _bounds(row)[1],
            ),
        )
        return _of_row(best, "animal and interval")
    best = min(mine, key=lambda row: (_interval_gap(row, hours), -row.narrowness_for(taxon), _bounds(row)[1]))
    low, high = best.interval_min_hours, best.interval_max_hours
    if low is None or high is None:
        raise AssertionError("a row without an interval is near to any")
    published = f"{figure_text(low)} h" if low == high else f"{figure_text(low)} to {figure_text(high)} h"
    found.say(
        "interval-unlike-published",
        f"Every {figure_text(hours)} h is unlike any published interval for this animal; the nearest is every "
        f"{published}, and its range was used.",
    )
    return _of_row(best, "animal; the nearest published interval")


def _without_interval(mine: Sequence[DrugRow], taxon: Taxon, found: Found) -> RangeUsed:
    """Use the row with the lowest top among the narrowest when no interval was given."""
    closest = max(row.narrowness_for(taxon) for row in mine)
    narrow = [row for row in mine if row.narrowness_for(taxon) == closest]
    best = min(narrow, key=lambda row: (_bounds(row)[1], _CONFIDENCE.get(row.confidence, len(_CONFIDENCE))))
    if len({_bounds(row) for row in mine}) > 1:
        found.say(
            "interval-not-given",
            "Ranges of this drug hang on the interval, and none was given: the row with the lowest top "
            "was used.",
        )
    return _of_row(best, "animal; interval not given")


def _other_reptiles(rows: Sequence[DrugRow], taxon: Taxon | None, found: Found) -> RangeUsed:
    """Use the span over all rows to look for slips when no row speaks of the animal."""
    who = taxon.name if taxon else "an animal that was not named"
    found.say("no-range-known", f"No published range of this drug for {who} is in the table.")
    ceilings = [row.ceiling_mg_per_kg for row in rows if row.ceiling_mg_per_kg is not None]
    low = min(_bounds(row)[0] for row in rows)
    high = max(_bounds(row)[1] for row in rows)
    basis = "ranges of other reptiles, to look for slips"
    return RangeUsed("other-reptiles", low, high, max(ceilings, default=None), basis)


def _compare(dose: Decimal, used: RangeUsed, found: Found) -> None:
    """Refuse or warn by how far the dose lies outside the range, and name a slip that explains it."""
    low, high, ceiling = used.low_mg_per_kg, used.high_mg_per_kg, used.ceiling_mg_per_kg
    rule = found.facts.rule
    span = figure_text(low) if low == high else f"{figure_text(low)} to {figure_text(high)}"
    of_whom = used.row.studied_in if used.row else "other reptiles"
    here = f"{figure_text(dose)} mg per kg, published range {span} ({of_whom})"
    slips = find_slips(dose, low, high, rule("slip-found").at_low())
    named = "".join(f" {slip.words}" for slip in slips)
    far, beyond = rule("dose-far-outside-range"), rule("dose-beyond-range")
    outside = True
    if ceiling is not None and dose > ceiling:
        basis = f": {used.row.ceiling_basis}" if used.row and used.row.ceiling_basis else ""
        found.say("dose-above-ceiling", f"{here}; never above {figure_text(ceiling)}{basis}.{named}")
    elif dose >= high * beyond.at_high() or dose <= low * beyond.at_low():
        found.say("dose-beyond-range", f"{here}: beyond anything published.{named}")
    elif dose > high * far.at_high() or dose < low * far.at_low():
        if not slips:
            found.say("dose-far-outside-range", f"{here}: far outside.")
    elif not low <= dose <= high:
        found.say("dose-outside-range", f"{here}: outside.{named}")
        outside = False
    else:
        outside = False
    if outside and slips:
        found.say("slip-found", f"{here}.{named}")
    if low * rule("range-too-wide").at_high() <= high:
        found.say("range-too-wide", f"The range {span} is so wide that a slip of ten would not be seen.")


def _say_what_the_rows_say(
    request: DoseRequest, dose: Decimal, drug: DrugName, used: RangeUsed | None, found: Found
) -> None:
    """Pass on what the rows about this animal say besides the range."""
    row = used.row if used else None
    about = [
        item
        for item in found.facts.rows_of(drug.drug)
        if request.taxon is not None and item.speaks_of(request.taxon)
    ]
    if row is not None:
        if row.source_kind != "read" or row.confidence == "low":
            text = f"The range in use is of kind: {row.source_kind}; confidence {row.confidence}."
            found.say("range-weakly-sourced", text)
        if row.caution:
            found.say("drug-caution", f"{row.drug}: {row.caution}.")
        if row.component:
            found.say("component-assumed", f"{row.drug}: {row.component}.")
        if request.route and row.routes and request.route not in row.routes:
            text = f"By {request.route}, while the range in use is for {', '.join(row.routes)}."
            found.say("route-not-listed", text)
    close = found.facts.rule("trial-dose").at_low()
    for item in about:
        top = item.dose_max_mg_per_kg
        if not item.sets_range and item.use != "never" and top and abs(dose - top) <= top * close:
            text = f"{figure_text(top)} mg per kg is of the kind: {item.use} ({item.studied_in})."
            if used is None or dose > used.high_mg_per_kg:
                found.say("trial-dose", text)
    if any(item.hydration_first for item in about):
        found.say("hydration-first", f"{drug.drug} is for an animal that is not dry.")


def is_narrow_margin(drug: DrugName, taxon: Taxon | None, found: Found) -> bool:
    """Say whether a drug has a narrow margin in this animal; in any animal where it is not known."""
    rows = found.facts.rows_of(drug.drug)
    about = [row for row in rows if taxon is not None and row.speaks_of(taxon)]
    return any(row.narrow_margin for row in (about or rows))
