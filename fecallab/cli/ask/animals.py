"""Questions about an animal: a new one, and its weight."""

from __future__ import annotations

from decimal import Decimal

from fecallab.cli.ask import pick
from fecallab.cli.ask.amounts import GRAMS, read_amount
from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.moments import say_moment
from fecallab.cli.ask.question import (
    Answer,
    Question,
    Reader,
    Script,
    amount,
    choice,
    day,
    is_unknown,
    moment,
    not_known,
    with_unit,
    words,
    yes_no,
)
from fecallab.cli.ask.talk import Talk
from fecallab.cli.typed import plain_number
from fecallab.domain.animal import KINDS, Weighing
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import say_change

LIGHTEST_G, HEAVIEST_G = 0.05, 1_000_000
HALF, TWICE = Decimal("0.5"), Decimal(2)
"""A weight below half or above twice the last one is asked again (common sense, no source)."""
SLIPS = (10, 100, 1000)
"""Factors of the slips that are offered instead: a point in the wrong place, or kg for g."""


def weigh(desk: Desk) -> Script:
    """Ask for an animal and its weight."""
    owner = yield pick.animal(desk)
    before = desk.known.weight(owner.only)
    yield mass(desk, owner.only, before, "mass_g")
    yield Question(
        key="at",
        label="when",
        text="When was it weighed? For example now, 8:30, yesterday 19:00",
        read=moment("at", desk.now),
        fills=("at",),
        default="now",
        quiet=True,
    )
    yield Question(
        key="state",
        label="odd",
        text="What makes it odd? For example gravid, urine passed, just fed, after a soak",
        read=words("state"),
        fills=("state",),
        default="-",
        default_said="nothing",
        quiet=True,
        why="A tortoise that passed urine on the scale is lighter without being ill; it is kept with the weight.",
    )
    return ()


def mass(desk: Desk, owner: str, before: Weighing | None, name: str) -> Question:
    """Ask for a weight, with the last one beside it."""
    last = (
        f" (last: {plain_number(before.mass_g)} g, {say_moment(before.weighed_at, desk.now)})"
        if before
        else ""
    )
    return Question(
        key=f"{name} of {owner}",
        label="weight",
        text=f"Weight in g?{last}",
        read=_mass_read(name, before),
        fills=(name,),
        why="A number in g, for example 318 or 0,5; kg are written behind it: 1.2 kg.",
    )


def _mass_read(name: str, before: Weighing | None) -> Reader:
    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            raise BadInput("A weight is a number.", next="Type it in g, or q to stop.")
        mass_g = believed_mass(
            read_amount(typed, talk, units=GRAMS, low=LIGHTEST_G, high=HEAVIEST_G), before, talk
        )
        said = with_unit(plain_number(mass_g), "g")
        if before is not None:
            said += f" (before: {plain_number(before.mass_g)} g, {say_change(mass_g, before.mass_g)})"
        return Answer(said, {name: plain_number(mass_g)}, plain_number(mass_g))

    return read


def believed_mass(mass_g: float, before: Weighing | None, talk: Talk) -> float:
    """Return a weight; ask about one that is far from the last, and offer what a usual slip would explain."""
    from fecallab.domain.slips import find_slips

    if before is None:
        return mass_g
    last = Decimal(str(before.mass_g))
    typed = Decimal(str(mass_g))
    if HALF * last <= typed <= TWICE * last:
        return mass_g
    slips = find_slips(typed, last * Decimal("0.8"), last * Decimal("1.25"), Decimal(0))
    offered = [float(slip.corrected) for slip in slips if slip.factor in SLIPS]
    lines = [f"{plain_number(one)} g" for one in offered] + [f"{plain_number(mass_g)} g is right"]
    place = talk.pick(
        f"{plain_number(mass_g)} g is far from the last weight, {plain_number(before.mass_g)} g. What is right?",
        [*lines, "type it again"],
    )
    if place == len(lines):
        raise BadInput("Type the weight again.")
    return [*offered, mass_g][place]


def add(desk: Desk) -> Script:
    """Ask for a new animal, tub or pen."""
    yield Question(
        key="name",
        label="name",
        text="Its name? For example Saffron",
        read=_name_read(desk),
        fills=("name",),
        why="A name that is unique in these records and can be read on a label.",
    )
    species = yield Question(
        key="species",
        label="species",
        text="Species, common or Latin name? For example bearded dragon",
        read=_species_read,
        fills=("species",),
        default="-",
        default_said="not known",
        why="It tells the host group and the diet, and so what is normal in the animal.",
    )
    if not species.only or not _known_here(species.only):
        yield from _group()
    yield Question(
        key="adult",
        label="grown up",
        text="Is it grown up? y, n",
        read=yes_no("adult"),
        fills=("adult",),
        default="-",
        default_said="not known",
    )
    yield Question(
        key="enclosure",
        label="lives in",
        text="Where does it live? For example vivarium 4",
        read=words("enclosure", empty="not said"),
        fills=("enclosure",),
        default="-",
        default_said="not said",
        why="Animals with the same enclosure share what is cleaned and what is infected.",
    )
    yield Question(
        key="weight_g",
        label="weight",
        text="Today's weight in g? For example 318",
        read=_first_mass,
        fills=("weight_g",),
        default="-",
        default_said="not weighed",
    )
    yield Question(
        key="arrived",
        label="arrived",
        text="On which day did it arrive? For example 2026-03-04, yesterday",
        read=day("arrived", desk.now.date(), optional=True),
        fills=("arrived",),
        default="-",
        default_said="not known",
        quiet=True,
    )
    yield from _kind()
    return ()


def _kind() -> Script:
    kind = yield Question(
        key="kind",
        label="kind",
        text="One animal, or several that are sampled as one?",
        read=choice("kind", KINDS),
        fills=("kind",),
        default="animal",
        choices=KINDS,
        quiet=True,
        why="A tub or pen with several animals: its samples never confirm one of them.",
    )
    if kind.only not in ("animal", ""):
        yield Question(
            key="number",
            label="how many",
            text=f"How many animals live in the {kind.only}? For example 6",
            read=amount("number", "", low=1, high=100_000, optional=False),
            fills=("number",),
        )
    return ()


def _name_read(desk: Desk) -> Reader:
    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            raise BadInput("A name is needed.", next="Type one that can be read on a label.")
        there = next((one for one in desk.known.animals if one.name.casefold() == typed.casefold()), None)
        if there is not None:
            raise BadInput(
                f"{there.name} is in the records already ({there.code}).", next="Type another name."
            )
        return Answer(typed, {"name": typed}, typed)

    return read


def _known_here(species: str) -> bool:
    from fecallab.reference.taxa import resolve_taxon

    taxon = resolve_taxon(species)
    return taxon is not None and bool(taxon.host_group)


def _species_read(typed: str, talk: Talk) -> Answer:
    from fecallab.reference.taxa import resolve_taxon, suggest_taxon

    if is_unknown(typed):
        return not_known("species")
    taxon = resolve_taxon(typed)
    if taxon is None:
        near = suggest_taxon(typed)
        if near:
            place = talk.pick(f"{typed} is not in the table of species.", [*near, f"{typed}, as typed"])
            if place < len(near):
                return _species_read(near[place], talk)
        return Answer(f"{typed} (not in the table)", {"species": typed}, typed)
    food = {True: ", eats plants", False: "", None: ""}[taxon.plant_eater]
    return Answer(f"{typed} ({taxon.host_group or taxon.order}{food})", {"species": typed}, typed)


def _group() -> Script:
    from fecallab.cli.animal import HOST_GROUPS

    yield Question(
        key="host_group",
        label="group",
        text="Which group does it belong to?",
        read=choice("host_group", HOST_GROUPS, optional=True),
        fills=("host_group",),
        default="-",
        default_said="not known",
        choices=HOST_GROUPS,
    )
    yield Question(
        key="plant_eater",
        label="eats plants",
        text="Does it mainly eat plants? y, n",
        read=yes_no("plant_eater"),
        fills=("plant_eater",),
        default="-",
        default_said="not known",
        why="Ciliates and some pinworms are normal inhabitants of plant eaters.",
    )
    return ()


def _first_mass(typed: str, talk: Talk) -> Answer:
    if is_unknown(typed):
        return Answer("not weighed", {"weight_g": None}, "-")
    mass_g = plain_number(read_amount(typed, talk, units=GRAMS, low=LIGHTEST_G, high=HEAVIEST_G))
    return Answer(with_unit(mass_g, "g"), {"weight_g": mass_g}, mass_g)
