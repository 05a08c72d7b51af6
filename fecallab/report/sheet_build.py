"""Fills the microscope sheet from the record folder: who is due, by which method, and what the tables ask."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from fecallab.domain.adequacy import Route
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import method_words
from fecallab.domain.spoken import number_of, say_date
from fecallab.report.sheet_model import BenchBlock, BenchSheet, Question, SheetStamp
from fecallab.report.words import KEPT_WORDS, material, passed

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal
    from fecallab.domain.followup import Standing
    from fecallab.domain.sample import Sample
    from fecallab.records.casefile import CaseFile
    from fecallab.records.reader import Reader

ROWS = 3
"""Organisms that the grid names; two more rows are for others and for what is unsure."""
AHEAD_DAYS = 7
"""A sheet is printed for stools that count from this many days ahead on (own choice)."""
FIRST_LOOK = ("direct_saline_smear", "simple_flotation")
"""Preparations for an animal without a case: one for what moves, one for what floats."""
WRITTEN = {
    "room_c": ("room", "°C"),
    "specific_gravity": ("gravity", ""),
    "standing_minutes": ("stood", "min"),
    "sample_g": ("stool", "g"),
    "suspension_ml": ("in all", "ml"),
    "counted_ml": ("read", "ml"),
    "solution": ("which", ""),
}
"""Quantities of the adequacy table that are written beside their question, with their unit."""


def sheet_stamp(today: date) -> SheetStamp:
    """Return what every sheet says about itself."""
    from fecallab import __version__
    from fecallab.reference.tables import EDITION

    return SheetStamp(made_on=today, program_version=__version__, edition=EDITION)


def bench_sheet(
    store: Reader,
    today: date,
    names: Sequence[str] = (),
    *,
    methods: Sequence[str] = (),
    columns: Sequence[str] = (),
    ahead_days: int = AHEAD_DAYS,
) -> BenchSheet:
    """Return the microscope sheet for the next samples.

    Parameters
    ----------
    store : Reader
        The records.
    today : date
        The day of printing.
    names : sequence of str
        Animals (names or codes) or samples (codes); everything that is due when empty.
    methods : sequence of str
        Preparations to make instead of those that the cases need.
    columns : sequence of str
        The columns of the table by which it is typed in, as they are printed.
    ahead_days : int
        Without names: stools that count from so many days ahead on are on the sheet.

    Raises
    ------
    BadInput
        For an unknown animal or sample, and when nothing is due.
    """
    files = store.open_case_files(tallies_only=True)
    blocks: list[BenchBlock] = []
    for animal, sample in _wanted(store, files, names, today, ahead_days):
        mine = [file for file in files if file.animal.code == animal.code]
        weighed = store.latest_weighing(animal.code)
        signs = signs_asked(animal, weighed.mass_g if weighed else None)
        blocks += _blocks(animal, sample, mine, today, methods, signs)
    if not blocks:
        text = f"No stool is waited for within {number_of(ahead_days, 'day')} of {say_date(today)}."
        raise BadInput(text, next="Name the animals: fecallab sheet microscope NAME NAME", code="nothing-due")
    return BenchSheet(stamp=sheet_stamp(today), blocks=tuple(blocks), columns=tuple(columns))


def signs_asked(animal: Animal, mass_g: float | None) -> tuple[str, ...]:
    """Return the signs that are asked of an animal with every sample, in words, each once."""
    from fecallab.reference.signs import signs_for

    return tuple(dict.fromkeys(one.sign for one in signs_for(animal, mass_g, first=True)))


def _wanted(
    store: Reader, files: Sequence[CaseFile], names: Sequence[str], today: date, ahead_days: int
) -> list[tuple[Animal, Sample | None]]:
    """Return whose samples come next: those named, else every animal whose next stool counts soon."""
    from fecallab.records.rows import SAMPLE, kind_of_code

    if names:
        found: list[tuple[Animal, Sample | None]] = []
        for name in names:
            if kind_of_code(name.strip().upper()) is SAMPLE:
                sample = store.sample(name)
                found.append((store.animal(sample.animal), sample))
            else:
                found.append((store.animal(name), None))
        return found
    from fecallab.gather import case_standing

    due: dict[str, tuple[date, Animal]] = {}
    for file in files:
        gone = any(event.kind in ("died", "left") and event.start <= today for event in file.events)
        day = case_standing(file, today)[1].next_sample_on_or_after
        if day is None or gone or day > today + timedelta(days=ahead_days):
            continue
        if file.animal.code not in due or day < due[file.animal.code][0]:
            due[file.animal.code] = (day, file.animal)
    return [(animal, None) for _, animal in sorted(due.values(), key=lambda one: (one[0], one[1].name))]


def _blocks(
    animal: Animal,
    sample: Sample | None,
    files: Sequence[CaseFile],
    today: date,
    methods: Sequence[str],
    signs: tuple[str, ...],
) -> list[BenchBlock]:
    from fecallab.gather import case_standing

    stands: list[tuple[CaseFile, Standing]] = [(file, case_standing(file, today)[1]) for file in files]
    needs = {(file.case.target, stage): _in_urine(file) for file in files for stage in file.case.stages}
    chosen = {method: _ways(method, needs) for method in methods} or preparations_for(needs)
    beyond = [target for target, _ in needs if not _any_way(target, [s for t, s in needs if t == target])]
    if not chosen:
        chosen = {method: _ways(method, needs) for method in FIRST_LOOK}
    blocks = []
    for number, (method, routes) in enumerate(chosen.items(), start=1):
        targets = tuple(dict.fromkeys(t for t, _ in needs if any(t in route.targets for route in routes)))
        days = [
            standing.next_sample_on_or_after
            for file, standing in stands
            if file.case.target in targets and standing.next_sample_on_or_after is not None
        ]
        note = f"For {', '.join(dict.fromkeys(beyond))} only a laboratory can answer." if beyond else ""
        if animal.kind != "animal":
            note = f"A {animal.kind}'s sample confirms no single animal. {note}".strip()
        asking = routes or _first_look_routes(method)
        blocks.append(
            BenchBlock(
                animal=animal.name,
                code=animal.code,
                about=animal.species,
                place=animal.enclosure,
                sample=sample.code if sample else "",
                passed=_of_sample(sample) if sample else "",
                counts_from=min(days) if days and sample is None else None,
                targets=targets,
                method=method,
                method_words=method_words(method),
                organisms=likely_rows(animal, method, targets, asking),
                questions=questions_of(asking),
                chamber=method in ("mcmaster", "stoll_dilution"),
                signs=signs,
                part=f"{number} of {len(chosen)}" if len(chosen) > 1 else "",
                note=note,
            )
        )
    return blocks


def _of_sample(sample: Sample) -> str:
    """Say what is recorded of a sample; it is not asked again."""
    kept = f", kept {KEPT_WORDS[sample.kept]}" if sample.kept else ", how it was kept is not known"
    return f"passed {passed(sample)}; {material(sample)}{kept}"


def _in_urine(file: CaseFile) -> bool:
    """Say whether the animal was last positive in its urine: only urine speaks for the case then."""
    from fecallab.gather import judged_exams

    positive = [one for one in judged_exams(file) if one.result == "positive"]
    return bool(positive) and max(positive, key=lambda one: one.sample.taken_on).sample.origin == "urine"


def preparations_for(needs: Mapping[tuple[str, str], bool]) -> dict[str, list[Route]]:
    """Return the preparations that together can show every stage, each with its routes of the adequacy table.

    A simple way goes before a counting chamber, and a preparation that is needed anyway before another one.

    Parameters
    ----------
    needs : mapping of (target, stage) to bool
        Which stages of which targets must be negative; the value says whether in urine.

    Examples
    --------
    >>> list(preparations_for({("oxyurid", "egg"): False, ("coccidian", "oocyst"): False}))
    ['simple_flotation']
    >>> list(preparations_for({("amoeba", "trophozoite"): False, ("amoeba", "cyst"): False}))
    ['direct_saline_smear', 'iodine_smear']
    """
    chosen: dict[str, list[Route]] = {}
    for (target, stage), urine in needs.items():
        routes = [route for route in _routes(target, stage) if _for_urine(route) == urine]
        if not routes:
            continue
        taken = [(method, route) for route in routes for method in route.methods if method in chosen]
        method, route = taken[0] if taken else (routes[0].methods[0], routes[0])
        if route not in chosen.setdefault(method, []):
            chosen[method].append(route)
    return chosen


def _routes(target: str, stage: str) -> list[Route]:
    from fecallab.reference.adequacy import adequacy_routes

    fitting = [route for route in adequacy_routes() if target in route.targets and stage in route.stages]
    return sorted(fitting, key=lambda route: route.bound == "chamber")


def _any_way(target: str, stages: Sequence[str]) -> bool:
    return any(_routes(target, stage) for stage in stages)


def _for_urine(route: Route) -> bool:
    return route.methods == ("urine_wet_mount",)


def _ways(method: str, needs: Mapping[tuple[str, str], bool]) -> list[Route]:
    """Return the routes by which one method can show what is needed."""
    ways = [route for target, stage in needs for route in _routes(target, stage) if method in route.methods]
    return list(dict.fromkeys(ways))


def _first_look_routes(method: str) -> list[Route]:
    """Return the route of a method that speaks for most groups."""
    from fecallab.reference.adequacy import adequacy_routes

    ways = [route for route in adequacy_routes() if method in route.methods]
    return [max(ways, key=lambda route: len(route.targets))] if ways else []


def questions_of(routes: Sequence[Route]) -> tuple[Question, ...]:
    """Return the yes/no questions of some routes, each once, with the number that is written beside."""
    found: dict[str, Question] = {}
    for condition in (condition for route in routes for condition in route.conditions):
        number, unit = WRITTEN.get(condition.quantity, ("", ""))
        question = Question(code=condition.code, text=condition.question, number=number, unit=unit)
        found.setdefault(condition.question, question)
    return tuple(found.values())


def likely_rows(
    animal: Animal, method: str, targets: Sequence[str], routes: Sequence[Route] = ()
) -> tuple[str, ...]:
    """Return the groups that the grid names: the targets first, then what host and method make likely.

    Parameters
    ----------
    animal : Animal
        The host.
    method : str
        Method of the preparation.
    targets : sequence of str
        What its cases are about.
    routes : sequence of Route
        What is asked of the preparation; its objective tells what can be seen at all.
    """
    from fecallab.domain.likely import likely_organisms
    from fecallab.gather import group_of
    from fecallab.reference.adequacy import adequacy_routes
    from fecallab.reference.methods import methods
    from fecallab.reference.organisms import organisms_in_host

    conditions = [condition for route in routes for condition in route.conditions]
    asked = [c.at_least for c in conditions if c.quantity == "objective" and c.at_least is not None]
    likely = likely_organisms(
        organisms_in_host(animal.host_group),
        {key: row.exam_methods for key, row in methods().items()},
        adequacy_routes(),
        method=method,
        objective=min(asked) if asked else None,
        plant_eater=animal.plant_eater,
        open_targets=targets,
    )
    return tuple(dict.fromkeys(group_of(name) for name in likely.first))[:ROWS]
