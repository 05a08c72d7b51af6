"""What is recorded of who lives where, as the rules of contact and release read it."""

from __future__ import annotations

from collections.abc import Collection
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.animal import Animal, AnimalEvent, CareEntry
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Exam
from fecallab.domain.housing import (
    GONE_EVENTS,
    Arrival,
    ArrivalMember,
    ArrivalProtocol,
    CountChange,
    Enclosure,
    Housing,
    Release,
    Sharing,
    Stay,
    gone_on,
    number_on,
)
from fecallab.domain.near_spelling import near_spellings
from fecallab.domain.sample import Sample
from fecallab.records import rows, schema, trees
from fecallab.records.clean import name_key
from fecallab.records.finding import find_animal, one_row
from fecallab.records.rows import Kind

MOST_LISTED = 20_000
"""How many codes are named one by one in a query; SQLite takes 32,766 values (its default since 3.32)."""


class HousingReader:
    """Questions about enclosures, stays, arrivals and releases; part of `Reader`."""

    def _connection(self) -> AbstractContextManager[Connection]:
        raise NotImplementedError

    def enclosures(self) -> list[Enclosure]:
        """Return all enclosures."""
        return self._all_of(rows.ENCLOSURE)

    def enclosure(self, name_or_code: str) -> Enclosure:
        """Return one enclosure by its code (``B1``) or by its name in any case.

        Raises
        ------
        BadInput
            When there is none; the nearest names are given.
        """
        with self._connection() as connection:
            return find_enclosure(connection, name_or_code)

    def sharings(self, enclosure: str | None = None) -> list[Sharing]:
        """Return what an enclosure shares, or what all do."""
        with self._connection() as connection:
            where = []
            if enclosure is not None:
                where.append(schema.sharings.c.enclosure == find_enclosure(connection, enclosure).code)
            return trees.facts(connection, rows.SHARING, *where)

    def stays(self, animal: str | None = None) -> list[Stay]:
        """Return the stays of one animal, or of all, as they were recorded, oldest first."""
        found: list[Stay] = self._of_owner(rows.STAY, animal)
        return sorted(found, key=lambda stay: (stay.start or date.min, rows.code_order(stay.code)))

    def count_changes(self, animal: str | None = None) -> list[CountChange]:
        """Return the changes of number of one tub, or of all, oldest first."""
        found: list[CountChange] = self._of_owner(rows.COUNT_CHANGE, animal)
        return sorted(found, key=lambda change: (change.on, rows.code_order(change.code)))

    def arrivals(self) -> list[Arrival]:
        """Return all arrivals."""
        return self._all_of(rows.ARRIVAL)

    def any_arrival(self) -> bool:
        """Say whether any arrival was ever recorded."""
        with self._connection() as connection:
            return connection.execute(sa.select(schema.arrivals.c.id).limit(1)).first() is not None

    def arrival(self, name_or_code: str) -> Arrival:
        """Return one arrival by its code (``I1``), or by its name in any case when it has one.

        Raises
        ------
        BadInput
            When there is none, or when two have that name.
        """
        with self._connection() as connection:
            asked = name_or_code.strip()
            if rows.kind_of_code(asked.upper()) is rows.ARRIVAL:
                found: Arrival = rows.fact_of(rows.ARRIVAL, one_row(connection, rows.ARRIVAL, asked))
                return found
            all_of_them: list[Arrival] = trees.facts(connection, rows.ARRIVAL)
        named = [one for one in all_of_them if one.name and name_key(one.name) == name_key(asked)]
        if len(named) == 1:
            return named[0]
        if named:
            text = f"{len(named)} arrivals are called {asked!r}: {', '.join(one.code for one in named)}."
            raise BadInput(text, next="Give the code of one.", code="two-arrivals")
        codes = ", ".join(f"{one.code}{f' {one.name}' if one.name else ''}" for one in all_of_them[-9:])
        step = f"There are: {codes}." if codes else "Type: fecallab arrivals add ANIMAL…"
        raise BadInput(f"There is no arrival {asked!r} here.", next=step, code="unknown-arrival")

    def members(self, arrival: str) -> list[ArrivalMember]:
        """Return the members of an arrival, those that were split off included."""
        with self._connection() as connection:
            code = one_row(connection, rows.ARRIVAL, arrival)["code"]
            return trees.facts(connection, rows.MEMBER, schema.arrival_members.c.arrival == code)

    def memberships(self, animal: str) -> list[ArrivalMember]:
        """Return the arrivals that an animal belongs or belonged to."""
        return self._of_owner(rows.MEMBER, animal)

    def protocols(self, arrival: str) -> list[ArrivalProtocol]:
        """Return the protocols of an arrival in the order in which they were written; the last one stands."""
        with self._connection() as connection:
            code = one_row(connection, rows.ARRIVAL, arrival)["code"]
            found = trees.facts(connection, rows.PROTOCOL, schema.arrival_protocols.c.arrival == code)
        return sorted(found, key=lambda one: (one.written_on, rows.code_order(one.code)))

    def releases(self, arrival: str | None = None) -> list[Release]:
        """Return the releases of one arrival, or all, oldest first."""
        with self._connection() as connection:
            where = []
            if arrival is not None:
                code = one_row(connection, rows.ARRIVAL, arrival)["code"]
                where.append(schema.releases.c.arrival == code)
            found = trees.facts(connection, rows.RELEASE, *where)
        return sorted(found, key=lambda one: (one.on, rows.code_order(one.code)))

    def housing(self) -> Housing:
        """Return all that is recorded of who lives where, in a fixed number of queries.

        Stays end with the death or the leaving of their animal, and when nobody is left in a tub.
        """
        with self._connection() as connection:
            return load_housing(connection)

    def events_of_kind(self, kind: str) -> list[AnimalEvent]:
        """Return the events of one kind of all animals."""
        with self._connection() as connection:
            return trees.facts(connection, rows.EVENT, schema.animal_events.c.kind == kind)

    def cleanings(self) -> list[CareEntry]:
        """Return when which enclosure was cleaned."""
        table = schema.care_entries
        with self._connection() as connection:
            return trees.facts(connection, rows.CARE, table.c.kind == "cleaning", table.c.enclosure != "")

    def exams_of(
        self, animals: Collection[str], with_findings: Collection[str] = ()
    ) -> list[tuple[Exam, Sample]]:
        """Return the exams of some animals with their samples, marks counted and not listed.

        Parameters
        ----------
        animals : collection of str
            Codes of animals of which every exam is wanted.
        with_findings : collection of str
            Codes of animals of which those exams are wanted in which anything was seen.
        """
        with self._connection() as connection:
            return load_exams_of(connection, animals, with_findings)

    def _all_of(self, kind: Kind) -> list[Any]:
        with self._connection() as connection:
            return trees.facts(connection, kind)

    def _of_owner(self, kind: Kind, animal: str | None) -> list[Any]:
        with self._connection() as connection:
            where = []
            if animal is not None:
                where.append(kind.table.c.animal == find_animal(connection, animal).code)
            return trees.facts(connection, kind, *where)


def load_exams_of(
    connection: Connection, animals: Collection[str], with_findings: Collection[str]
) -> list[tuple[Exam, Sample]]:
    """Return the exams of some animals, and those of others in which anything was seen, with their samples."""
    t = schema
    mine = sa.select(t.samples.c.code).where(t.samples.c.animal.in_(animals))
    which = sa.select(t.exams.c.code).where(t.exams.c.sample.in_(mine))
    if with_findings:
        theirs = sa.select(t.samples.c.code).where(t.samples.c.animal.in_(with_findings))
        exams = sa.select(t.exams.c.code).where(t.exams.c.sample.in_(theirs))
        of_readings = sa.select(t.readings.c.preparation).where(_seen_in_reading())
        of_preparations = sa.select(t.preparations.c.exam).where(t.preparations.c.code.in_(of_readings))
        stated = sa.select(t.elsewhere_results.c.exam).where(t.elsewhere_results.c.result == "positive")
        missed = sa.select(t.missed_organisms.c.exam)
        table = t.exams.c.code
        found = sa.or_(table.in_(of_preparations), table.in_(stated), table.in_(missed))
        which = sa.union(which, exams.where(found)).subquery().select()
    codes = list(connection.scalars(which))
    known: trees.Codes = sa.select(t.codes.c.code).where(t.codes.c.code.in_(codes))
    if len(codes) > MOST_LISTED:  # more than a database takes one by one
        known = which
    exams_found = trees.load_exams(connection, known, tallies_only=True)
    owners = [*animals, *with_findings]
    samples = {one.code: one for one in trees.facts(connection, rows.SAMPLE, t.samples.c.animal.in_(owners))}
    return [(exam, samples[exam.sample]) for exam in exams_found if exam.sample in samples]


def _seen_in_reading() -> sa.ColumnElement[bool]:
    counts, marks, readings = schema.reading_counts, schema.marks, schema.readings
    counted = sa.select(sa.literal(1)).where(counts.c.reading_id == readings.c.id, counts.c.count > 0)
    marked = sa.select(sa.literal(1)).where(marks.c.reading == readings.c.code)
    return sa.or_(counted.exists(), marked.exists())


def load_housing(connection: Connection) -> Housing:
    """Return everything about housing as of the moment of the connection."""
    events = tuple(trees.facts(connection, rows.EVENT, schema.animal_events.c.kind.in_(GONE_EVENTS)))
    animals: dict[str, Animal] = {one.code: one for one in trees.facts(connection, rows.ANIMAL)}
    changes = tuple(trees.facts(connection, rows.COUNT_CHANGE))
    gone: dict[str, date] = {}
    for code in {event.animal for event in events}:
        event = gone_on(code, events)
        if event is not None:
            gone[code] = event.start
    for code in {change.animal for change in changes} & set(animals):
        mine = [change for change in changes if change.animal == code]
        empty = [change.on for change in mine if number_on(animals[code], mine, change.on) <= 0]
        last = max(change.on for change in mine)
        if empty and number_on(animals[code], mine, last) <= 0:
            gone[code] = min(gone.get(code, date.max), max(empty))
    stays = tuple(_until_gone(stay, gone) for stay in trees.facts(connection, rows.STAY))
    return Housing(
        animals=animals,
        events=events,
        enclosures=tuple(trees.facts(connection, rows.ENCLOSURE)),
        sharings=tuple(trees.facts(connection, rows.SHARING)),
        stays=stays,
        changes=changes,
        arrivals=tuple(trees.facts(connection, rows.ARRIVAL)),
        members=tuple(trees.facts(connection, rows.MEMBER)),
        protocols=tuple(trees.facts(connection, rows.PROTOCOL)),
        releases=tuple(trees.facts(connection, rows.RELEASE)),
    )


def _until_gone(stay: Stay, gone: dict[str, date]) -> Stay:
    last = gone.get(stay.animal)
    if last is None or (stay.end is not None and stay.end <= last):
        return stay
    return replace(stay, end=last if stay.start is None else max(last, stay.start))


def find_enclosure(connection: Connection, name_or_code: str) -> Enclosure:
    """Return one enclosure by its code or name, or say which names are near."""
    asked = name_or_code.strip()
    found = enclosure_called(connection, asked)
    if found is not None:
        return found
    if rows.kind_of_code(asked.upper()) is rows.ENCLOSURE:
        one_row(connection, rows.ENCLOSURE, asked)
    names = {name_key(one.name): one.name for one in trees.facts(connection, rows.ENCLOSURE)}
    near = [names[key] for key in near_spellings(name_key(asked), names)]
    if near:
        step = f"Did you mean {' or '.join(near)}? Else type: fecallab enclosure add NAME"
    else:
        step = "Type: fecallab enclosure add NAME"
    raise BadInput(f"No enclosure is called {asked!r} here.", next=step, code="unknown-enclosure")


def enclosure_called(connection: Connection, name_or_code: str) -> Enclosure | None:
    """Return the enclosure of a code or name, or None."""
    table = schema.enclosures
    asked = name_or_code.strip()
    if rows.kind_of_code(asked.upper()) is rows.ENCLOSURE:
        found = trees.facts(connection, rows.ENCLOSURE, table.c.code == asked.upper())
    else:
        found = trees.facts(connection, rows.ENCLOSURE, table.c.name_key == name_key(asked))
    return found[0] if found else None


def facts_of_animal(
    connection: Connection, kind: Kind, animal: str, *where: sa.ColumnElement[bool]
) -> list[Any]:
    """Return the standing facts of a kind about one animal, by its code."""
    return trees.facts(connection, kind, kind.table.c.animal == animal, *where)
