"""The numbered sources of the reference tables, and how they are spelled out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fecallab.domain.errors import BadInput
from fecallab.reference.tables import parts, read_rows

SOURCE_KINDS = ("read", "memory", "common practice", "derived", "mixed", "proposal", "none")
"""Kinds of a figure. ``mixed`` rows say in another column which part is which."""


@dataclass(frozen=True)
class Source:
    """One source; ``what_was_read`` says how much of it was read, often an abstract or one table."""

    id: str
    kind: str
    citation: str
    address: str
    what_was_read: str


@cache
def sources() -> dict[str, Source]:
    """Return all sources by id."""
    return {
        row["id"]: Source(row["id"], row["kind"], row["citation"], row["address"], row["what_was_read"])
        for row in read_rows("sources")
    }


def source(identifier: str) -> Source:
    """Return one source.

    Raises
    ------
    BadInput
        When there is no such id.

    Examples
    --------
    >>> source("R76").kind
    'read'
    """
    found = sources().get(identifier)
    if found is None:
        raise BadInput(
            f"There is no source '{identifier}'.",
            next="Type: fecallab reference show sources",
            code="source-unknown",
        )
    return found


def cite(identifiers: str) -> tuple[str, ...]:
    """Spell out source ids joined by ``;``, one line each.

    Examples
    --------
    >>> cite("C01")
    ('C01 (common practice): Custom of keepers and clinics; no source could be found',)
    """
    lines = []
    for identifier in parts(identifiers):
        found = source(identifier)
        address = "" if found.address in ("-", "") or found.address.startswith("(") else f" {found.address}"
        lines.append(f"{found.id} ({found.kind}): {found.citation}{address}")
    return tuple(lines)
