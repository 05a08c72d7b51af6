"""Host groups and species: who belongs to whom, what they eat, how warm they are kept."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fecallab.domain.errors import BadInput
from fecallab.domain.near_spelling import near_spellings
from fecallab.reference.tables import number, parts, read_rows


@dataclass(frozen=True, kw_only=True)
class Host:
    """One host group or species.

    Attributes
    ----------
    key, name : str
        Stable word and name.
    parent : str
        Key of the next wider group; empty for all reptiles.
    kind : str
        ``group`` or ``species``.
    diet : str
        What it typically eats.
    plant_eater : bool or None
        None where the keeper must say.
    range_low_c, range_high_c : float or None
        Temperature range in °C; None where none is known.
    range_means : str
        What the range is about: preferred zone, body, gradient, water.
    source, source_kind : str
        Where the range comes from.
    """

    key: str
    name: str
    parent: str
    kind: str
    aliases: tuple[str, ...]
    diet: str
    plant_eater: bool | None
    range_low_c: float | None
    range_high_c: float | None
    range_means: str
    warm_end_c: str
    source: str
    source_kind: str
    note: str


@cache
def hosts() -> dict[str, Host]:
    """Return the host table by key, wider groups before narrower ones."""
    answer = {"yes": True, "no": False, "ask": None}
    return {
        row["key"]: Host(
            key=row["key"],
            name=row["name"],
            parent=row["parent"],
            kind=row["kind"],
            aliases=parts(row["aliases"]),
            diet=row["diet"],
            plant_eater=answer[row["plant_eater"]],
            range_low_c=number(row["range_low_c"]),
            range_high_c=number(row["range_high_c"]),
            range_means=row["range_means"],
            warm_end_c=row["warm_end_c"],
            source=row["source"],
            source_kind=row["source_kind"],
            note=row["note"],
        )
        for row in read_rows("hosts")
    }


@cache
def _names() -> dict[str, str]:
    found: dict[str, str] = {}
    for item in hosts().values():
        for name in (item.key, item.key.replace("_", " "), item.name.lower(), *item.aliases):
            found.setdefault(name, item.key)
    return found


def host(name: str) -> Host:
    """Return one host by key or by another of its names; capitals do not matter.

    Raises
    ------
    BadInput
        When the table does not know it; the nearest names are offered.

    Examples
    --------
    >>> host("Hermann's tortoise").key
    'testudo'
    """
    word = " ".join(name.lower().split())
    key = _names().get(word)
    if key is None:
        near = near_spellings(word, _names())
        hint = f"Did you mean {' or '.join(near)}?" if near else "Type: fecallab reference show hosts"
        raise BadInput(f"The host '{name}' is not in the table.", next=hint, code="host-unknown")
    return hosts()[key]


def lineage(name: str) -> tuple[str, ...]:
    """Return a host's key and the keys of its wider groups, narrowest first.

    Raises
    ------
    BadInput
        When the table does not know the host.

    Examples
    --------
    >>> lineage("gecko")
    ('gecko', 'lizard', 'squamate', 'reptile')
    """
    item = host(name)
    keys = [item.key]
    while item.parent:
        item = hosts()[item.parent]
        keys.append(item.key)
    return tuple(keys)


def temperature_range(name: str) -> Host | None:
    """Return the narrowest row with a temperature range for a host, or None where no range is known.

    Examples
    --------
    >>> row = temperature_range("corn snake")
    >>> (row.range_low_c, row.range_high_c, row.source_kind)
    (25.0, 32.0, 'read')
    """
    for key in lineage(name):
        row = hosts()[key]
        if row.range_low_c is not None:
            return row
    return None
