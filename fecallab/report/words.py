"""Records in words, as people read them on a page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import groupby

from fecallab.domain.animal import Animal, Weighing
from fecallab.domain.counting import FieldDensity
from fecallab.domain.exam import Preparation, Reading
from fecallab.domain.followup import K_OF_N, NEXT_STOOL, WAITING, Standing
from fecallab.domain.grading import UNIT_WORDS
from fecallab.domain.plan import Plan
from fecallab.domain.sample import Sample
from fecallab.domain.spoken import number_of, say_gravity, span_ends
from fecallab.report.figures import GAP, THIN, day, grams, interval, moment, number, percent, unbroken
from fecallab.report.model import CountRow, ReadingLine, Seen

KEPT_WORDS = {"room": "at room temperature", "fridge": "in the fridge", "frozen": "frozen", "fixed": "fixed"}


def freshness(sample: Sample, read_at: datetime) -> str:
    """Say how old the sample was when it was read; the older end of the passing counts.

    Examples
    --------
    >>> stool = Sample(animal="A1", collected_at=datetime(2026, 3, 4, 8))
    >>> freshness(stool, datetime(2026, 3, 4, 9))
    'time of passing not known'
    """
    window = sample.passed_minutes_ago(read_at)
    if window is None:
        return "time of passing not known"
    younger, older = map(unbroken, span_ends(*window))
    if younger == older:
        return f"{older} old when read"
    return f"between {younger} and {older} old when read; the older end counts"


def passed(sample: Sample) -> str:
    """Say when the sample was passed."""
    if sample.passed_from is None:
        return "not known"
    if sample.passed_to is None or sample.passed_to == sample.passed_from:
        return moment(sample.passed_from)
    if sample.passed_to.date() == sample.passed_from.date():
        return f"{day(sample.passed_from)}, between {sample.passed_from:%H:%M} and {sample.passed_to:%H:%M}"
    return f"between {moment(sample.passed_from)} and {moment(sample.passed_to)}"


def owner(animal: Animal) -> str:
    """Say whose sample it is, and that a group's sample names no single animal."""
    if animal.kind == "animal":
        return animal.name
    if animal.kind == "tub":
        return f"{animal.name}, a tub with {number_of(animal.number_of_animals, 'animal')}"
    return f"{animal.name}, a pen; which animal passed it is not known"


def material(sample: Sample) -> str:
    """Say what the sample is: ``soft stool, 1.2 g``."""
    text = f"{sample.form} {sample.origin}" if sample.form and sample.origin == "stool" else sample.origin
    if sample.mass_g is not None:
        text += f", {number(sample.mass_g)}{GAP}g"
    if sample.whole_stool_used:
        text += ", the whole of it used"
    return text


def seen_words(seen: Sequence[Seen]) -> str:
    """Write what was seen: ``3 oxyurid eggs, 1 unsure``; ``none seen`` when nothing was."""
    parts = []
    for one in seen:
        if one.sure:
            parts.append(f"{one.sure} {one.words}")
        if one.unsure:
            parts.append(f"{one.unsure} {one.words} (unsure)")
    return ", ".join(parts) or "none seen"


FIELDS_IN_A_ROW = 4
"""From this many like fields on, one line holds them all (own choice)."""


def reading_lines(preparation: Preparation, organism_words: Mapping[str, str]) -> tuple[ReadingLine, ...]:
    """Return the readings of a preparation in words; many like fields share a line, zeros included.

    Parameters
    ----------
    preparation : Preparation
        With its readings.
    organism_words : mapping of str to str
        Organism key or group to the words to print; a missing one is printed as it is.
    """
    from fecallab.domain.casework import reading_share
    from fecallab.domain.clip_words import reading_remark

    lines: list[ReadingLine] = []
    place_of_kind: dict[str, int] = {}

    def look(reading: Reading) -> tuple[object, ...]:
        alike = reading.kind, reading.objective, reading_share(reading, preparation)
        return alike if reading.kind == "field" and not reading.remark else (id(reading),)

    for _, run in groupby(preparation.readings, key=look):
        readings = list(run)
        kind = readings[0].kind
        first = place_of_kind.get(kind, 0) + 1
        place_of_kind[kind] = first + len(readings) - 1
        if len(readings) >= FIELDS_IN_A_ROW:
            share = reading_share(readings[0], preparation)
            lines.append(
                ReadingLine(
                    what=f"fields {first} to {place_of_kind[kind]}",
                    objective=readings[0].objective,
                    cover_share=None if share is None else min(1.0, share * len(readings)),
                    field_by_field=_field_by_field(readings, organism_words),
                )
            )
            continue
        lines += [
            ReadingLine(
                what=f"{kind} {place}",
                objective=reading.objective,
                cover_share=reading_share(reading, preparation),
                seen=_seen(reading, organism_words),
                remark=reading_remark(reading),
            )
            for place, reading in enumerate(readings, start=first)
        ]
    return tuple(lines)


def _field_by_field(readings: Sequence[Reading], organism_words: Mapping[str, str]) -> tuple[str, ...]:
    """Return one text per organism: ``oxyurid eggs: 0, 2, 1``; unsure ones get a text of their own."""
    texts = []
    for sure in (True, False):
        tallies = [reading.tally(sure=sure) for reading in readings]
        for name in dict.fromkeys(name for tally in tallies for name, seen in tally.items() if seen):
            unsure = "" if sure else " (unsure)"
            counts = ", ".join(str(tally.get(name, 0)) for tally in tallies)
            texts.append(f"{organism_words.get(name, name)}{unsure}: {counts}")
    return tuple(texts)


def _seen(reading: Reading, organism_words: Mapping[str, str]) -> tuple[Seen, ...]:
    sure, unsure = reading.tally(), reading.tally(sure=False)
    names = list(dict.fromkeys([*sure, *unsure]))
    return tuple(
        Seen(words=organism_words.get(name, name), sure=sure.get(name, 0), unsure=unsure.get(name, 0))
        for name in names
        if sure.get(name, 0) or unsure.get(name, 0)
    )


def preparation_facts(preparation: Preparation, sample: Sample) -> list[tuple[str, str]]:
    """Return what was noted about how a preparation was made, as (what, value) pairs; unknowns left out."""

    def yes(value: bool) -> str:
        return "yes" if value else "no"

    facts: list[tuple[str, str]] = []

    def add(what: str, value: float | None, unit: str) -> None:
        if value is not None:
            facts.append((what, f"{number(value)}{GAP}{unit}"))

    if preparation.read_at is not None:
        facts.append(("read", f"{moment(preparation.read_at)}; {freshness(sample, preparation.read_at)}"))
    if preparation.solution:
        facts.append(("solution", preparation.solution))
    if preparation.specific_gravity is not None:
        checked = {True: ", checked", False: ", not checked", None: ""}[preparation.gravity_checked]
        facts.append(("specific gravity", f"{say_gravity(preparation.specific_gravity)}{checked}"))
    add("sample used", preparation.sample_g, "g")
    add("finished suspension", preparation.suspension_ml, "ml")
    add("volume read", preparation.counted_ml, "ml")
    add("standing", preparation.standing_minutes, "min")
    add("room", preparation.room_c, "°C")
    if preparation.slide_warmed is not None:
        facts.append(("slide warmed", yes(preparation.slide_warmed)))
    if preparation.method not in ("mcmaster", "stoll_dilution"):
        facts.append(("cover glass", preparation.cover_glass.replace("x", f"{THIN}×{THIN}") + f"{GAP}mm"))
    return facts


def standing_line(standing: Standing) -> tuple[str, str]:
    """Return the headline of a standing, with its numbers, and what its date adds.

    The words are those of the rule; only ``k of n`` carries its two numbers instead of the letters.

    Examples
    --------
    >>> standing_line(Standing("k of n", 1, 3, None, False, ()))
    ('1 of 3', 'exams count so far')
    """
    word = standing.standing
    when = standing.next_sample_on_or_after
    if word == NEXT_STOOL and when:
        return word, day(when)
    if word == WAITING and when:
        return word, f"until {day(when)}; the next stool counts if it is passed on or after that day"
    added = f"next stool on or after {day(when)}" if when else ""
    if word == K_OF_N:
        return f"{standing.k} of {standing.n}", "; ".join(filter(None, ("exams count so far", added)))
    return word, added


def weight_trend(weights: Sequence[Weighing]) -> tuple[str, str]:
    """Return the last weight and how it compares, both in words; empty texts when nothing was weighed.

    Parameters
    ----------
    weights : sequence of Weighing
        In any order.
    """
    if not weights:
        return "", ""
    ordered = sorted(weights, key=lambda one: one.weighed_at)
    last = ordered[-1]
    state = f" ({last.state})" if last.state else ""
    now = f"{grams(last.mass_g)} on {day(last.weighed_at)}{state}"
    if len(ordered) == 1:
        return now, "the only weighing"
    compared = [ordered[-2]] if len(ordered) == 2 else [ordered[-2], ordered[0]]
    return now, "; ".join(_change(last, earlier) for earlier in compared)


def _change(last: Weighing, earlier: Weighing) -> str:
    difference = last.mass_g - earlier.mass_g
    when = day(earlier.weighed_at)
    state = f" ({earlier.state})" if earlier.state else ""
    if difference == 0:
        return f"the same as on {when}{state}"
    word = "more" if difference > 0 else "less"
    share = f" ({percent(abs(difference) / earlier.mass_g)})" if earlier.mass_g > 0 else ""
    return f"{grams(abs(difference))}{share} {word} than on {when}{state}"


def plan_lines(plan: Plan) -> list[tuple[str, str]]:
    """Return a plan as (what, value) pairs in the vet's own numbers; what it does not say is left out."""
    lines: list[tuple[str, str]] = [("written", f"{day(plan.written_on)} by {plan.vet}"), ("goal", plan.goal)]
    if plan.doses_planned:
        lines.append(("drug", f"{plan.drug} ({plan.component})" if plan.component else plan.drug))
        lines += [
            (what, f"{value} {unit}".strip())
            for what, value, unit in (
                ("dose", plan.dose_mg_per_kg, "mg per kg"),
                ("concentration", plan.concentration_mg_per_ml, "mg per ml"),
                ("route", plan.route, ""),
            )
            if value
        ]
        doses = f"{plan.doses_planned}"
        if plan.interval_days and plan.doses_planned != 1:
            doses += f", {number_of(plan.interval_days, 'day')} apart"
        lines.append(("doses", doses))
    else:
        lines.append(("treatment", "none"))
    follow = []
    if plan.negatives_needed:
        follow.append(number_of(plan.negatives_needed, "exam"))
    if plan.spacing_days is not None:
        follow.append(f"at least {number_of(plan.spacing_days, 'day')} apart")
    if plan.wait_after_last_dose_days is not None:
        follow.append(
            f"the first {number_of(plan.wait_after_last_dose_days, 'day')} after the last dose or later"
        )
    if follow:
        lines.append(("follow-up", ", ".join(follow)))
    if plan.grade_at_most:
        scale = f" ({plan.grade_scale})" if plan.grade_scale else ""
        lines.append(("grade to reach", f"{plan.grade_at_most} or less{scale}"))
    warmth = plan.warm_end_at_least_c
    warm_end = f"{number(warmth)}{GAP}°C or more" if warmth is not None else ""
    extra = (
        ("follow-up numbers from", plan.follow_up_source),
        ("fluids", plan.fluids),
        ("feeding", plan.feeding),
        ("warm end", warm_end),
        ("remark", plan.remark),
    )
    return lines + [(what, value) for what, value in extra if value]


def graded_value(value: float, unit: str) -> str:
    """Write the number that a grade was given for: ``4.2 per field at 10×``."""
    return f"{number(value)} {UNIT_WORDS.get(unit, unit)}"


def seen_in(row: CountRow) -> str:
    """Say how many were seen and in what: all in single fields, or only some of them."""
    text = f"{row.total}"
    if row.density is not None:
        fields = f"{row.density.fields} field" + ("" if row.density.fields == 1 else "s")
        if row.density.total == row.total:
            text += f" in {fields}"
        else:
            text += f" in all, {row.density.total} of them in the {fields} counted one by one"
    return f"{text}; {row.unsure} more unsure, not counted" if row.unsure else text


def mean_per_field(row: CountRow) -> str:
    """Write the mean per field with its interval; for none seen anywhere the limit that this leaves."""
    density = row.density
    if density is None:
        return ""
    if row.total == 0 and density.upper95_if_zero is not None:
        return f"none seen; under {number(density.upper95_if_zero)} per field (one-sided 95{GAP}% limit)"
    mean = number(density.mean_per_field)
    return f"{mean} (95{GAP}% interval {interval(density.ci95)})"


def model_of(density: FieldDensity) -> str:
    """Name the model behind an interval, and how unevenly the fields were filled."""
    clumped = "negative binomial, since the fields are clumped"
    text = "Poisson, exact" if density.model == "poisson" else clumped
    if density.dispersion_index is None:
        return text
    return f"{text}; variance is {number(density.dispersion_index)} times the mean"
