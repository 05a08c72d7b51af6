"""What the rules of quarantine rest on: templates, ways of spread, hosts kept apart, what stools cannot show."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fecallab.domain.errors import Reason
from fecallab.domain.exam import method_words
from fecallab.domain.housing import ArrivalProtocol

STANDS_FOR = {
    "simple_flotation": ("centrifugal_flotation", "mcmaster"),
    "direct_saline_smear": ("cloacal_wash",),
}
"""Which preparation may stand in for one that a protocol asks for."""


@dataclass(frozen=True)
class TemplateValue:
    """One default of a template, with where it comes from."""

    item: str
    value: str
    source: str
    source_kind: str
    note: str


@dataclass(frozen=True)
class ProtocolTemplate:
    """Defaults for arrivals of one host group, each with its own source; the vet's numbers go before them.

    Attributes
    ----------
    key : str
        Name of the template, such as ``snake``.
    host_group : str
        Host group that it is meant for.
    values : mapping of str to TemplateValue
        By name of the field of `ArrivalProtocol` that it fills.
    """

    key: str
    host_group: str
    values: Mapping[str, TemplateValue]

    def words(self, item: str) -> tuple[str, ...]:
        """Return a value that is a list."""
        found = self.values.get(item)
        return tuple(word for word in found.value.split(";") if word) if found else ()

    def number(self, item: str) -> int | None:
        """Return a value that is a number, None where the template is silent."""
        found = self.values.get(item)
        return int(found.value) if found and found.value else None

    def text(self, item: str, otherwise: str) -> str:
        """Return a value that is a word."""
        found = self.values.get(item)
        return found.value if found and found.value else otherwise

    @property
    def source(self) -> str:
        """Every default with its source and kind, in one line."""
        return "; ".join(
            f"{value.item.replace('_', ' ')} {', '.join(map(method_words, value.value.split(';'))) or 'none'}:"
            f" {value.source.replace(';', ', ')} "
            f"({value.source_kind})"
            for value in self.values.values()
        )

    def protocol(self, arrival: str, written_on: date, edition: str) -> ArrivalProtocol:
        """Return the template's numbers as a protocol of one arrival."""
        return ArrivalProtocol(
            arrival=arrival,
            written_on=written_on,
            template=self.key,
            edition=edition,
            days_at_least=self.number("days_at_least") or 0,
            negatives_needed=self.number("negatives_needed") or 0,
            spacing_days=self.number("spacing_days") or 0,
            last_exam_after_days=self.number("last_exam_after_days"),
            laboratory_pcrs=self.number("laboratory_pcrs") or 0,
            preparations=self.words("preparations"),
            blocking=self.words("blocking"),
            not_blocking=self.words("not_blocking"),
            positive_restarts=self.text("positive_restarts", "the contact group"),
            newcomer_restarts=self.text("newcomer_restarts", "the contact group"),
            source=self.source,
        )


@dataclass(frozen=True)
class Spread:
    """How a target group gets from one animal to the next.

    Attributes
    ----------
    direct : bool or None
        Straight from host to host; None where it depends or is not known.
    ways : tuple of str
        Which of `contacts.WAYS` can pass it on.
    survival_days : float or None
        How long its stages live in an enclosure that was left; None when not known: until it is cleaned.
    latest_shedding_days : float or None
        Longest time read from infection to shedding; None where none was found.
    """

    group: str
    direct: bool | None
    ways: tuple[str, ...]
    survival_days: float | None
    latest_shedding_days: float | None
    words: str
    source: str
    source_kind: str


@dataclass(frozen=True)
class NeverMixed:
    """Hosts that are kept apart whatever stools say: one can carry unseen what harms the other."""

    key: str
    carriers: str
    towards: str
    organism: str
    words: str
    source: str
    source_kind: str

    def bars(self, one: Collection[str], other: Collection[str]) -> bool:
        """Say whether it keeps two hosts apart, each given as its key with its wider groups.

        Examples
        --------
        >>> row = NeverMixed("e", "chelonian", "snake", "", "", "", "")
        >>> row.bars(("tortoise", "chelonian"), ("snake",)), row.bars(("snake",), ("snake",))
        (True, False)
        """
        return (self.carriers in one and self.towards in other) or (
            self.carriers in other and self.towards in one
        )


@dataclass(frozen=True)
class NotShown:
    """Something that no number of stool exams can show in a host group."""

    key: str
    host_group: str
    what: str
    words: str
    source: str
    source_kind: str


def kept_apart(
    hosts: Mapping[str, Sequence[str]], rows: Iterable[NeverMixed], into: Iterable[Sequence[str]] = ()
) -> tuple[Reason, ...]:
    """Return which animals may not share with which, whatever the stools say.

    Parameters
    ----------
    hosts : mapping of str to sequence of str
        Each animal's host key with its wider groups, by the animal's name.
    rows : iterable of NeverMixed
        The table.
    into : iterable of sequence of str
        Hosts (with their wider groups) that they would join.
    """
    found: dict[tuple[str, str], Reason] = {}
    kinds = sorted({tuple(line) for line in hosts.values()})
    joined = sorted({tuple(line) for line in into})
    for row in rows:
        for place, one in enumerate(kinds):
            for other in [*kinds[place + 1 :], *joined]:
                if row.bars(one, other):
                    named = ", ".join(name for name, line in hosts.items() if tuple(line) == one)
                    text = (
                        f"{named or one[0]} ({one[0].replace('_', ' ')}) never with "
                        f"{other[0].replace('_', ' ')}, whatever the stools say: {row.words}"
                    )
                    step = "Give them rooms, water and tools of their own."
                    found.setdefault((row.key, f"{one}{other}"), Reason("never-mixed", text, step))
    return tuple(found.values())


def never_with(hosts: Iterable[Sequence[str]], rows: Iterable[NeverMixed]) -> tuple[str, ...]:
    """Return what these hosts are never mixed with, in words, for an answer that does not know where they go."""
    lines = [frozenset(line) for line in hosts]
    said: dict[str, None] = {}
    for row in rows:
        for carrier, other in ((row.carriers, row.towards), (row.towards, row.carriers)):
            if any(carrier in line for line in lines):
                said.setdefault(f"never with {other.replace('_', ' ')}s: {row.words}")
    return tuple(said)
