"""The signs that must not wait, and what may be seen after a dose."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from functools import cache

from fecallab.domain.animal import Animal
from fecallab.domain.errors import BadInput
from fecallab.domain.near_spelling import near_spellings
from fecallab.domain.signs import Sign
from fecallab.domain.taxon import HOST_GROUPS
from fecallab.reference.hosts import hosts, lineage
from fecallab.reference.tables import number, parts, read_rows
from fecallab.reference.taxa import resolve_taxon


@cache
def signs() -> dict[str, Sign]:
    """Return the signs by key, in the order of the table."""
    return {
        row["key"]: Sign(
            key=row["key"],
            sign=row["sign"],
            question=row["question"],
            threshold=row["threshold"],
            hosts=parts(row["hosts"]),
            host_words=row["host_words"],
            age=row["age"],
            plant_eater=row["plant_eater"] == "yes",
            asked_first=row["asked_first"] == "yes",
            asked_about=row["asked_about"],
            loss_percent_over=number(row["loss_percent_over"]),
            loss_percent_per_month_over=number(row["loss_percent_per_month_over"]),
            within_days=number(row["within_days"]),
            under_g=number(row["under_g"]),
            urgency=row["urgency"],
            urgency_kind=row["urgency_kind"],
            why=row["why"],
            until_the_vet=row["until_the_vet"],
            source=row["source"],
            source_kind=row["source_kind"],
            note=row["note"],
        )
        for row in read_rows("to_the_vet_now")
    }


def sign(name: str) -> Sign:
    """Return one sign by its key, by a beginning of it that fits one only, or by its number in the list.

    Raises
    ------
    BadInput
        When nothing or more than one fits.

    Examples
    --------
    >>> sign("collapse").urgency, sign("6").key
    ('today', 'collapse')
    """
    asked = "-".join(name.strip().casefold().replace("_", " ").replace("-", " ").split())
    known = list(signs())
    if asked in known:
        return signs()[asked]
    if asked.isascii() and asked.isdigit() and 1 <= int(asked) <= len(known):
        return signs()[known[int(asked) - 1]]
    begins = [key for key in known if asked and key.startswith(asked)]
    if len(begins) == 1:
        return signs()[begins[0]]
    near = begins or near_spellings(asked, known)
    raise BadInput(
        f"{name[:40]!r} is no sign that is known here{', or more than one' if begins else ''}.",
        next=f"Did you mean {' or '.join(near)}?" if near else "Type: fecallab sign list",
        code="sign-unknown",
    )


def groups_of(animal: Animal) -> tuple[str, ...]:
    """Return the host groups that an animal is of, and those finer ones that it may be of.

    Examples
    --------
    >>> "monitor" in groups_of(Animal(name="Tilo", species="savannah monitor", host_group="lizard"))
    True
    >>> "monitor" in groups_of(Animal(name="Saffron", species="Pogona vitticeps", host_group="lizard"))
    False
    >>> groups_of(Animal(name="Rue", species="Uromastyx acanthinura", host_group="lizard"))[:2]
    ('uromastyx', 'agamid')
    """
    taxon = resolve_taxon(animal.species) if animal.species else None
    for name in (animal.species, *((taxon.name, taxon.genus) if taxon is not None else ())):
        with suppress(BadInput):
            return lineage(name)
    known = lineage(animal.host_group)
    finer = (key for key, row in hosts().items() if row.kind == "group" and key not in HOST_GROUPS)
    return (*known, *(key for key in finer if animal.host_group in lineage(key)))


def signs_for(animal: Animal, mass_g: float | None = None, *, first: bool = False) -> list[Sign]:
    """Return the signs that a keeper is asked about for this animal, those of today first.

    Parameters
    ----------
    mass_g : float, optional
        The last weight; small animals are asked what young ones are.
    first : bool
        Only the few that are asked with every sample.

    Examples
    --------
    >>> tortoise = Animal(name="Tilda", host_group="tortoise", adult=True)
    >>> [one.key for one in signs_for(tortoise, first=True) if one.sign == "not eating"]
    ['not-eating-chelonian']
    """
    groups = groups_of(animal)
    asked = [
        one
        for one in signs().values()
        if one.asked_about != "weights"
        and (one.asked_first or not first)
        and one.is_asked_of(groups, adult=animal.adult, plant_eater=animal.plant_eater, mass_g=mass_g)
    ]
    return sorted(asked, key=lambda one: one.urgency != "today")


@dataclass(frozen=True, kw_only=True)
class ReactionSign:
    """One thing that may be seen after a dose; ``stops`` says that it ends the course until the vet's word."""

    key: str
    words: str
    stops: bool
    watch_hours: float | None
    next: str
    source: str
    source_kind: str


@cache
def reaction_signs() -> dict[str, ReactionSign]:
    """Return what may be seen after a dose, by key.

    Examples
    --------
    >>> reaction_signs()["tremor"].stops
    True
    """
    return {
        row["key"]: ReactionSign(
            key=row["key"],
            words=row["words"],
            stops=row["stops"] == "yes",
            watch_hours=number(row["watch_hours"]),
            next=row["next"],
            source=row["source"],
            source_kind=row["source_kind"],
        )
        for row in read_rows("reaction_signs")
    }
