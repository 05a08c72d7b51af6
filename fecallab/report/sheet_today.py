"""Fills today's care: weighing, doses, fluids, feeding, warmth, cleaning, from plans and what comes next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from fecallab.domain.dosing import read_route
from fecallab.domain.due import next_for_case
from fecallab.domain.errors import BadInput
from fecallab.domain.followup import NOT_TREATED, ON_TREATMENT
from fecallab.domain.safety import act_of_route, cautions_for
from fecallab.domain.spoken import say_date
from fecallab.gather_dose import DoseDay, care_of_today, other_cases_of
from fecallab.report.figures import grams, number
from fecallab.report.sheet_build import sheet_stamp, signs_asked
from fecallab.report.sheet_doses import dose_block
from fecallab.report.sheet_model import CareBlock, CareSheet, DoseBlock

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal, CareEntry, Weighing
    from fecallab.domain.care_plan import CareToday
    from fecallab.domain.plan import Plan
    from fecallab.records.casefile import CaseFile
    from fecallab.records.reader import Reader

NO_REACTIONS = ("none", "other", "vomited")
"""Rows of the table of reactions that are no sign to look for."""


def care_sheet(
    store: Reader,
    now: datetime,
    names: Sequence[str] = (),
    *,
    confirmed: Sequence[str] = (),
) -> CareSheet:
    """Return today's care.

    Parameters
    ----------
    store : Reader
        The records.
    now : datetime
        When the sheet is made; doses are worked out for this moment.
    names : sequence of str
        Animals; all with an open case when empty.
    confirmed : sequence of str
        Codes of warnings that the vet has confirmed.

    Raises
    ------
    BadInput
        For an unknown animal, and when no animal has an open case.
    """
    files: dict[str, list[CaseFile]] = {}
    animals: dict[str, Animal] = {}
    for file in store.open_case_files(tallies_only=True):
        if not any(e.kind in ("died", "left") and e.start <= now.date() for e in file.events):
            files.setdefault(file.animal.code, []).append(file)
            animals[file.animal.code] = file.animal
    if names:
        animals = {animal.code: animal for animal in map(store.animal, names)}
    if not animals:
        raise BadInput(
            "No animal has an open case.",
            next="Name the animals: fecallab sheet care NAME",
            code="nothing-due",
        )
    blocks = []
    acts: dict[str, None] = {}
    signs: dict[str, None] = {}
    for animal in sorted(animals.values(), key=lambda one: (one.enclosure.casefold(), one.name.casefold())):
        mine = files.get(animal.code, [])
        plans = [file.plan for file in mine if file.plan is not None]
        block = _block(store, animal, mine, plans, now, confirmed)
        blocks.append(block)
        weighed = store.latest_weighing(animal.code)
        signs.update(dict.fromkeys(signs_asked(animal, weighed.mass_g if weighed else None)))
        if block.doses:
            acts.update(dict.fromkeys(act_of_route(read_route(p.route) or "") for p in plans if p.drug))
    return CareSheet(
        stamp=sheet_stamp(now.date()), blocks=tuple(blocks), signs=tuple(signs), cautions=_cautions(acts)
    )


def _cautions(acts: Iterable[str]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return the cautions of some acts, each once, in the order of the table."""
    seen: set[str] = set()
    found = []
    for act in acts:
        texts = tuple(c.text for c in cautions_for(act) if c.text not in seen)
        seen.update(texts)
        found.append((act, texts))
    return tuple(found)


def _block(
    store: Reader,
    animal: Animal,
    files: Sequence[CaseFile],
    plans: Sequence[Plan],
    now: datetime,
    confirmed: Sequence[str],
) -> CareBlock:
    care = [entry for entry in store.care(animal.code) if entry.at <= now]
    days = {
        file.case.code: DoseDay(confirmed=confirmed, other_cases=other_cases_of(store, file))
        for file in files
    }
    doses, others = _doses(files, now, days)
    today = [care_of_today(file, now, day=days[file.case.code]) for file in files]
    return CareBlock(
        animal=animal.name,
        code=animal.code,
        about=animal.species
        if animal.kind == "animal"
        else f"{animal.kind}, {animal.number_of_animals} animals",
        place=animal.enclosure,
        weight=_last_weight([one for one in store.weighings(animal.code) if one.weighed_at <= now]),
        doses=doses,
        no_dose=others,
        fluids=_said((*(plan.fluids for plan in plans), *_care_lines(today, "fluids", "soak"))),
        feeding=_said(_care_lines(today, "food")),
        warm_end=_floor(plan.warm_end_at_least_c for plan in plans),
        lowest=_floor(plan.night_at_least_c for plan in plans),
        cleaning=_last_cleaning(care),
        watch=reactions_to_watch() if doses or _dosed_lately(files, now) else (),
    )


def _doses(
    files: Sequence[CaseFile], now: datetime, days: Mapping[str, DoseDay]
) -> tuple[tuple[DoseBlock, ...], tuple[str, ...]]:
    """Return the doses that are due today, and what comes next in the other cases."""
    from fecallab.gather import case_standing

    doses, others = [], []
    for file in files:
        standing = case_standing(file, now.date())[1]
        due = next_for_case(file.animal.name, file.case.code, standing, file.plan, file.doses)
        treated = (
            standing.standing in (ON_TREATMENT, NOT_TREATED) and file.plan is not None and file.plan.drug
        )
        today = due.on_or_after is not None and due.on_or_after <= now.date()
        if treated and today:
            doses.append(dose_block(file, now, day=days[file.case.code]))
        else:
            day = due.on_or_after
            when = f", from {say_date(day)}" if treated and day is not None else ""
            others.append(f"{file.case.target}: {'no dose today; ' if treated else ''}{due.what}{when}")
    return tuple(doses), tuple(others)


def reactions_to_watch() -> tuple[str, ...]:
    """Return what is looked for after a dose, in the words of the table of reactions.

    Examples
    --------
    >>> "tremor" in reactions_to_watch()
    True
    """
    from fecallab.reference.signs import reaction_signs

    watched = (one for one in reaction_signs().values() if one.watch_hours and one.stops)
    return tuple(one.key for one in watched if one.key not in NO_REACTIONS)


def _dosed_lately(files: Sequence[CaseFile], now: datetime) -> bool:
    from fecallab.reference.signs import reaction_signs

    since = now - timedelta(hours=max(one.watch_hours or 0 for one in reaction_signs().values()))
    return any(
        since <= dose.given_at <= now and dose.outcome != "missed" for file in files for dose in file.doses
    )


def _last_weight(weighings: Sequence[Weighing]) -> str:
    if not weighings:
        return "never weighed"
    return f"last {grams(weighings[-1].mass_g)} on {say_date(weighings[-1].weighed_at)}"


def _care_lines(today: Iterable[CareToday], *acts: str) -> list[str]:
    """Return what the plans ask for of an act, and why not now where something stands in its way."""
    lines = [line for care in today for line in care.lines if line.act in acts]
    return [
        f"{line.state}: {line.text}" if line.state in ("not now", "ask the vet") else line.text.rstrip(".")
        for line in lines
    ]


def _said(texts: Iterable[str]) -> str:
    return "; ".join(dict.fromkeys(text for text in texts if text))


def _floor(floors: Iterable[float | None]) -> str:
    """Return the highest floor in °C that a plan sets, in words."""
    known = [floor for floor in floors if floor is not None]
    return f"at least {number(max(known))} °C" if known else ""


def _last_cleaning(care: Sequence[CareEntry]) -> str:
    cleaned = [entry.at for entry in care if entry.kind == "cleaning"]
    return f"last {say_date(max(cleaned))}" if cleaned else "none recorded"
