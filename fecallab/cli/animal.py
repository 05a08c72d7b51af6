"""Animals, tubs and pens; their weights; what happens to them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import typer

from fecallab.cli.animal_move import housed, move
from fecallab.cli.common import (
    BY,
    JSON,
    ON,
    RECORDS,
    REMARK,
    fact_dict,
    now,
    number_or_none,
    one_of,
    open_folder,
    read_day,
    who,
)
from fecallab.cli.output import emit
from fecallab.cli.weigh import measure, weigh
from fecallab.domain.spoken import say_date, say_time

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.animal import Animal, AnimalEvent, Weighing

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

HOST_GROUPS = ("tortoise", "turtle", "snake", "lizard", "gecko", "chameleon", "crocodilian", "other")


@app.command()
def add(
    name: str = typer.Argument(help="Its name; unique in this record folder."),
    species: str = typer.Option("", help="Species or common name; it tells host group and diet."),
    kind: str = typer.Option("animal", help="animal, tub or pen."),
    number: int = typer.Option(1, help="How many animals live in the tub or pen."),
    host_group: str | None = typer.Option(None, help="Host group, when the species is not known here."),
    plant_eater: bool | None = typer.Option(
        None, "--plant-eater/--no-plant-eater", help="Mainly eats plants."
    ),
    adult: bool | None = typer.Option(None, "--adult/--young", help="Grown up or not."),
    enclosure: str = typer.Option("", help="Where it lives."),
    arrived: str | None = typer.Option(None, help="Day of arrival, 2026-03-04."),
    weight_g: str | None = typer.Option(None, help="Today's weight in g."),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Add an animal, or a tub or pen that is sampled as one."""
    from dataclasses import replace

    from fecallab.domain.animal import Weighing
    from fecallab.reference.taxa import resolve_taxon

    animal = animal_from(name, species, kind, number, host_group, plant_eater)
    arrived_on = read_day(arrived, "--arrived") if arrived else None
    animal = replace(animal, adult=adult, enclosure=enclosure, arrived_on=arrived_on, remark=remark)
    mass_g = number_or_none(weight_g, "--weight-g", low=0.05, high=1_000_000)
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        animal = writer.add(animal)
        if mass_g is not None:
            writer.add(Weighing(animal=animal.code, weighed_at=now(), mass_g=mass_g))
    text = f"{animal.code} {animal.name}: {animal.kind}, {animal.species or 'species not given'}"
    text += f" ({animal.host_group}{', plant eater' if animal.plant_eater else ''}). Recorded."
    if species and (near := species_spelled_nearly(species)):
        text += f'\n  Did you mean {near}? Type: fecallab correct {animal.code} "species={near}" --reason "mistyped"'
    elif species and resolve_taxon(species) is None:
        text += (
            f"\n  {species!r} is not in the table of species: set --host-group and --plant-eater yourself."
        )
    emit({"animal": fact_dict(animal)}, text, as_json)


def species_spelled_nearly(species: str) -> str:
    """Return the known name that differs from a species by a slip of the fingers; empty when none does."""
    from difflib import SequenceMatcher

    from fecallab.reference.taxa import suggest_taxon

    for near in suggest_taxon(species, 1):
        alike = SequenceMatcher(None, near.casefold(), species.strip().casefold()).ratio()
        if 0.85 <= alike < 1:
            return near
    return ""


def animal_from(
    name: str, species: str, kind: str, number: int, host_group: str | None, plant_eater: bool | None
) -> Animal:
    """Return an animal, tub or pen that may be recorded; what is left out follows from the species."""
    from fecallab.domain.animal import KINDS, Animal
    from fecallab.domain.errors import BadInput
    from fecallab.reference.taxa import resolve_taxon

    kind = one_of(kind, KINDS, "--kind")
    if not any(character.isprintable() and not character.isspace() for character in name):
        text = f"The name {name[:40]!r} shows nothing that could be read on a label."
        raise BadInput(text, next="Give a name that can be read.", code="name-empty")
    if kind == "animal" and number != 1:
        text = f"--number is {number}, but an animal is one."
        raise BadInput(
            text, next="Type: --kind tub  for a tub with several animals.", code="number-of-animals"
        )
    taxon = resolve_taxon(species) if species else None
    group = one_of(host_group, HOST_GROUPS, "--host-group") if host_group else None
    return Animal(
        name=name,
        kind=kind,
        number_of_animals=number,
        species=species,
        host_group=group or (taxon.host_group if taxon else "") or "other",
        plant_eater=plant_eater if plant_eater is not None else bool(taxon and taxon.plant_eater),
    )


app.command()(move)
app.command()(weigh)
app.command()(measure)


def _weight_words(weighing: Weighing | None) -> str:
    """Return a weight in words, marked where it was only told."""
    from fecallab.domain.animal import AS_TOLD

    if weighing is None:
        return "-"
    return f"{weighing.mass_g:g} g{f', {AS_TOLD}' if weighing.as_told else ''}"


@app.command(name="list")
def list_animals(records: str | None = RECORDS, as_json: bool = JSON) -> None:
    """List the animals with their last weight."""
    from fecallab.cli.words import table

    with open_folder(records) as store:
        animals = store.animals()
        weights = {animal.code: store.latest_weighing(animal.code) for animal in animals}
    rows = [[a.code, a.name, a.kind, a.species, a.enclosure, _weight_words(weights[a.code])] for a in animals]
    text = table(["code", "name", "kind", "species", "enclosure", "last weight"], rows)
    emit(
        {
            "animals": [
                {**fact_dict(a), "last_weight_g": w.mass_g if (w := weights[a.code]) else None}
                for a in animals
            ]
        },
        text if animals else "No animals yet. Type: fecallab animal add NAME",
        as_json,
    )


@app.command()
def show(
    animal: str = typer.Argument(help="Name or code."),
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Show one animal: weights, samples, exams, cases and where they stand."""
    from fecallab.cli.words import standing_headline, table
    from fecallab.domain.animal import AS_TOLD
    from fecallab.gather import as_on, case_standing
    from fecallab.gather_notes import drug_words, sign_dict, signs_of_animal

    today = read_day(on, "--on")
    with open_folder(records) as store:
        known = store.animal(animal)
        weighings = store.weighings(known.code)
        exams = store.exams(known.code)
        samples = store.samples(known.code)
        files = [store.case_file(case.code) for case in store.cases(known.code)]
        care = store.care(known.code)
        lengths = store.measurements(known.code)
        drugs = store.other_drugs(known.code)
        signs = signs_of_animal(store, known, today)
        home = housed(store, known, today)
    stood = [(file, *case_standing(as_on(file, today), today)) for file in files]
    lines = [f"{known.code} {known.name}, {known.species or 'species not given'} ({known.host_group})"]
    lines += home.lines
    lines += [f"  {one.line}" for one in signs]
    weights = (
        f"{w.mass_g:g} g ({say_date(w.weighed_at)}{f', {AS_TOLD}' if w.as_told else ''})" for w in weighings
    )
    lines.append(f"Weights: {', '.join(weights) or 'none'}")
    if lengths:
        measured = (f"{m.kind} {m.value_mm:g} mm ({say_date(m.measured_at)})" for m in lengths)
        lines.append(f"Lengths: {', '.join(measured)}")
    if drugs:
        lines.append(f"Other drugs: {', '.join(map(drug_words, drugs))}")
    lines.append(f"Samples: {', '.join(sample.code for sample in samples) or 'none'}")
    lines.append(f"Exams: {', '.join(exam.code for exam in exams) or 'none'}")
    for file, _, standing, state in stood:
        lines.append(f"Case {file.case.code}, {file.case.target}: {state or standing_headline(standing)}")
    if care:
        rows = [
            [say_time(c.at), c.kind, f"{c.amount:g} {c.unit}" if c.amount else "", c.remark] for c in care
        ]
        lines += ["Care:", table(["when", "what", "amount", "remark"], rows[-10:])]
    lines.append(f"As on {say_date(today)}.")
    payload = {
        "animal": fact_dict(known),
        "weighings": [fact_dict(w) for w in weighings],
        "samples": [s.code for s in samples],
        "exams": [e.code for e in exams],
        "cases": [
            {"case": f.case.code, "target": f.case.target, "standing": s.standing} for f, _, s, _ in stood
        ],
        "care": [fact_dict(c) for c in care],
        "measurements": [fact_dict(m) for m in lengths],
        "other_drugs": [fact_dict(d) for d in drugs],
        "signs": [sign_dict(one) for one in signs],
        "number_of_animals_today": home.number,
        "stays": home.stays,
        "arrival": home.arrival,
    }
    emit(payload, "\n".join(lines), as_json)


@app.command()
def event(
    animal: str = typer.Argument(help="Name or code."),
    kind: str = typer.Argument(help="brumation, died, left, or: vet accepts course"),
    start: str | None = typer.Option(None, "--from", help="First day (today when left out)."),
    end: str | None = typer.Option(None, "--to", help="Last day, for a brumation that is over."),
    case: str = typer.Option("", help="The case that the vet's word is about."),
    vet: str = typer.Option("", help="The vet, for: vet accepts course"),
    remark: str = REMARK,
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Record brumation, death, leaving, or the vet's word that a broken course counts."""
    from dataclasses import replace

    from fecallab.domain.animal import EVENT_KINDS, AnimalEvent
    from fecallab.domain.errors import BadInput

    kind = one_of(kind, EVENT_KINDS, "the event")
    first = read_day(start, "--from")
    last = read_day(end, "--to") if end else None
    if last is not None and kind != "brumation":
        raise BadInput(f"{kind} has one day.", next="Type it with --from alone.", code="end-not-asked")
    if kind == "vet accepts course" and not (vet and case):
        text = "That a broken course counts is a named vet's word about one case."
        raise BadInput(text, next='Type: --vet "NAME" --case C1', code="vet-missing")
    with open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        known = writer.animal(animal)
        sleeps = (
            [e for e in writer.events(known.code) if e.kind == "brumation"] if kind == "brumation" else []
        )
        open_sleep = next((e for e in sleeps if e.end is None), None)
        if open_sleep is not None and last is not None and (not start or first == open_sleep.start):
            _check_sleep(open_sleep.start, last, [e for e in sleeps if e is not open_sleep])
            ended = replace(open_sleep, end=last)
            recorded = writer.correct(open_sleep.code, ended, reason="brumation ended")
        else:
            if kind == "brumation":
                if last is not None and not start:
                    text = f"No brumation of {known.name} is open that could end on {say_date(last)}."
                    raise BadInput(text, next="Give its first day too: --from 2026-11-01", code="not-asleep")
                _check_sleep(first, last, sleeps)
            recorded = writer.add(
                AnimalEvent(
                    animal=known.code,
                    kind=kind,
                    start=first,
                    end=last,
                    case=writer.case(case).code if case else "",
                    by=vet,
                    remark=remark,
                )
            )
    until = f" to {say_date(recorded.end)}" if recorded.end else ""
    text = f"{known.name}: {kind} from {say_date(recorded.start)}{until}. Recorded."
    emit({"event": fact_dict(recorded)}, text, as_json)


def _check_sleep(first: date, last: date | None, others: Sequence[AnimalEvent]) -> None:
    """Refuse a brumation that ends before it begins, or that lies over another one."""
    from datetime import date

    from fecallab.domain.errors import BadInput

    if last is not None and last < first:
        text = f"The brumation would end on {say_date(last)}, before it begins on {say_date(first)}."
        raise BadInput(text, next="Check both days.", code="end-before-start")
    for other in others:
        if first < (other.end or date.max) and other.start < (last or date.max):
            said = (
                f"from {say_date(other.start)} to {say_date(other.end)}"
                if other.end
                else f"since {say_date(other.start)}"
            )
            text = f"A brumation {said} is recorded already ({other.code})."
            step = (
                "Type its end: --to DAY" if other.end is None else f"Mend it: fecallab correct {other.code}"
            )
            raise BadInput(text, next=step, code="asleep-already")
