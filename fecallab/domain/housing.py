"""Where animals live and lived, what they share, how they came in, and when they were released: stored facts.

Whatever is worked out from them (contacts, contact groups, may they mix?) is never stored; only acts are.
Days are whole days on the keeper's calendar, both ends counted: who left an enclosure on the day when another
came in has met it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from fecallab.domain.animal import Animal, AnimalEvent

SHARED_THINGS = ("water", "tools", "round")
"""What enclosures share besides walls: a water line or bowl, tools, one feeding or cleaning round."""

ORIGINS_OF_ARRIVALS = ("captive bred", "farmed", "wild caught", "confiscated", "unknown")

CHANGE_KINDS = ("died", "sold", "moved out", "moved in", "escaped", "found again")
"""Why the number of a tub changed; `COMES_IN` raise it, the others lower it."""

COMES_IN = ("moved in", "found again")

WHO_RESTARTS = ("the animal", "the contact group", "the arrival", "the room")
"""Whose run of clean exams begins anew, from the narrowest to the widest."""

GONE_EVENTS = ("died", "left")
"""Kinds of `AnimalEvent` after which an animal is in no enclosure."""


@dataclass(frozen=True, kw_only=True)
class Enclosure:
    """One enclosure: a tub, rack drawer, terrarium, pen or free room.

    Attributes
    ----------
    code : str
        ``B1``, given by the records.
    name : str
        What is written on it; no two enclosures have the same name.
    room : str
        Name of the room, empty when unknown. Enclosures with the same room word stand in the same room.
    """

    code: str = ""
    name: str
    room: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class Sharing:
    """An enclosure shares water, tools or a round with all others that have the same label at the same time.

    A fact with dates, so that new tools for one tub end a contact and do not undo the days before.

    Attributes
    ----------
    code : str
        ``BW1``.
    enclosure : str
        Code of the enclosure.
    thing : str
        One of `SHARED_THINGS`.
    label : str
        What it is called, "red tongs"; the same word (case does not matter) means the same thing.
    start : date or None
        First day; None when it has always been so.
    end : date or None
        Last day; None while it lasts.
    """

    code: str = ""
    enclosure: str
    thing: str
    label: str
    start: date | None = None
    end: date | None = None
    remark: str = ""

    def holds_on(self, day: date) -> bool:
        """Say whether it was shared on a day; an unknown start counts as always (what is unknown never helps)."""
        return _within(self.start, self.end, day)


@dataclass(frozen=True, kw_only=True)
class Stay:
    """An animal (or tub of animals) is in an enclosure, for a time.

    Attributes
    ----------
    code : str
        ``BT1``.
    animal, enclosure : str
        Their codes.
    start : date or None
        First day; None when nobody knows since when.
    end : date or None
        Last day; None while it lasts. The day of a move is the last day of one stay and the first of the next.
    number_of_animals : int
        How many of the owner's animals: all of them for a home; for a visit as many as were there.
    visit : bool
        False for the home: an animal has one home at a time. True for a short stay elsewhere while the home
        stays the home (an escape, a mating, one bath together): every such meeting is a contact like any other.
    """

    code: str = ""
    animal: str
    enclosure: str
    start: date | None = None
    end: date | None = None
    number_of_animals: int = 1
    visit: bool = False
    remark: str = ""

    def holds_on(self, day: date) -> bool:
        """Say whether the animal was there on a day; an unknown start counts as always."""
        return _within(self.start, self.end, day)


@dataclass(frozen=True, kw_only=True)
class Arrival:
    """Animals that came in together; what may be released is not the arrival but a contact group within it.

    Attributes
    ----------
    code : str
        ``I1``.
    name : str
        What the keeper calls it, "geckos from the north"; may be empty.
    arrived_on : date
        The day when they came in.
    origin : str
        One of `ORIGINS_OF_ARRIVALS`.
    source : str
        From whom; the keeper's own words.
    split_from : str
        Code of the arrival that it was split off from, empty for one that came in by itself. It keeps
        the day of that arrival: splitting never makes time pass.
    """

    code: str = ""
    name: str = ""
    arrived_on: date
    origin: str = "unknown"
    source: str = ""
    split_from: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class ArrivalMember:
    """One animal (or tub of animals) belongs to an arrival; to no other one on the same days.

    Attributes
    ----------
    code : str
        ``IM1``.
    joined_on : date
        Day of the arrival for those that came with it; later for a newcomer, which may restart runs.
    left_on : date or None
        When it was split off into another arrival; None while it belongs here. Death and sale are no leaving of
        the arrival: they are `AnimalEvent` (one animal) or `CountChange` (a tub).
    """

    code: str = ""
    arrival: str
    animal: str
    joined_on: date
    left_on: date | None = None
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class ArrivalProtocol:
    """What must hold before a contact group of an arrival may mix: numbers copied in, never edited, only replaced.

    The protocol recorded last for an arrival stands. Numbers are copied from a template (or set by the vet), so
    that a new edition of the templates moves no old conclusion.

    Attributes
    ----------
    code : str
        ``IP1``.
    template : str
        Name of the template that it began as; "custom" when nobody's.
    edition : str
        Edition of the templates and tables that it was copied from.
    vet : str
        Named vet who set or confirmed the numbers; empty when they are the template's as they stand.
    days_at_least : int
        Days from the arrival (or from what restarted the clock).
    negatives_needed : int
        Clean adequate exams in a row, each of a defecation of its own.
    spacing_days : int
        Days between two that count.
    last_exam_after_days : int or None
        At least one of them this many days or more after the last possible exposure; None: not asked.
    laboratory_pcrs : int
        Laboratory PCRs against *Cryptosporidium*, each negative; 0: not asked.
    preparations : tuple of str
        Methods of `domain.exam.METHODS` that each exam that counts must hold; empty: as the targets ask.
    blocking, not_blocking : tuple of str
        Target groups whose finding blocks release, and those that do not (normal inhabitants). What stands in
        neither blocks.
    positive_restarts, newcomer_restarts : str
        Whose run begins anew (one of `WHO_RESTARTS`).
    source : str
        Where the numbers come from, with the kind of source.
    """

    code: str = ""
    arrival: str
    written_on: date
    template: str = "custom"
    edition: str = ""
    vet: str = ""
    days_at_least: int
    negatives_needed: int
    spacing_days: int
    last_exam_after_days: int | None = None
    laboratory_pcrs: int = 0
    preparations: tuple[str, ...] = ()
    blocking: tuple[str, ...] = ()
    not_blocking: tuple[str, ...] = ()
    positive_restarts: str = "the contact group"
    newcomer_restarts: str = "the contact group"
    source: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class CountChange:
    """The number of a tub (or pen) changed.

    ``Animal.number_of_animals`` is the number when the tub was recorded; see `number_on`.

    Attributes
    ----------
    code : str
        ``F1``.
    animal : str
        Code of the tub.
    on : date
        The day.
    kind : str
        One of `CHANGE_KINDS`.
    number : int
        How many animals, always 1 or more.
    other : str
        Code of the animal or tub that they became ("moved out") or came from ("moved in"); empty when none. A
        tub that began as part of another carries all contacts that the other had up to that day.
    """

    code: str = ""
    animal: str
    on: date
    kind: str
    number: int
    other: str = ""
    by: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class Release:
    """A person released animals of an arrival from quarantine: an act, never worked out, never taken back.

    Attributes
    ----------
    code : str
        ``L1``.
    animals : tuple of str
        Codes of those that were released, a contact group or more.
    to : str
        Where they went: an enclosure, "the collection", a buyer.
    vet : str
        Named vet on whose order it was done before time; empty for a release that the rules supported.
    reason : str
        Why, asked for when it was before time.
    protocol : str
        Code of the protocol that stood then.
    answer_then, edition : str
        The answer to "may they mix?" that it relied on, in words, and the edition of the rules.
    supported_then : bool
        Whether the rules said yes on that day.
    """

    code: str = ""
    arrival: str
    animals: tuple[str, ...]
    on: date
    to: str = ""
    by: str
    vet: str = ""
    reason: str = ""
    protocol: str = ""
    answer_then: str = ""
    edition: str = ""
    supported_then: bool = True
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class Housing:
    """All that is recorded of who lives where, as of one moment; what the rules of contact and release read.

    `animals` by code; `events` are deaths and leavings only. Everything else as recorded, in no promised order.
    """

    animals: dict[str, Animal] = field(default_factory=dict)
    events: tuple[AnimalEvent, ...] = ()
    enclosures: tuple[Enclosure, ...] = ()
    sharings: tuple[Sharing, ...] = ()
    stays: tuple[Stay, ...] = ()
    changes: tuple[CountChange, ...] = ()
    arrivals: tuple[Arrival, ...] = ()
    members: tuple[ArrivalMember, ...] = ()
    protocols: tuple[ArrivalProtocol, ...] = ()
    releases: tuple[Release, ...] = ()


def number_on(animal: Animal, changes: Iterable[CountChange], day: date) -> int:
    """Return how many animals a tub held at the end of a day, by all changes up to it.

    Below 0 is never right; whoever records a change asks first.

    Examples
    --------
    >>> tub = Animal(code="A1", name="tub 1", kind="tub", number_of_animals=60)
    >>> lost = CountChange(animal="A1", on=date(2026, 5, 2), kind="died", number=2)
    >>> [number_on(tub, [lost], date(2026, 5, day)) for day in (1, 2)]
    [60, 58]
    """
    number = animal.number_of_animals
    for change in changes:
        if change.animal == animal.code and change.on <= day:
            number += change.number if change.kind in COMES_IN else -change.number
    return number


def gone_on(animal: str, events: Iterable[AnimalEvent]) -> AnimalEvent | None:
    """Return the first death or leaving of an animal, or None while it is here."""
    found = [event for event in events if event.animal == animal and event.kind in GONE_EVENTS]
    return min(found, key=lambda event: event.start, default=None)


def _within(start: date | None, end: date | None, day: date) -> bool:
    return (start is None or start <= day) and (end is None or day <= end)
