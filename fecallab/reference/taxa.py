"""Names of animals: common names and Latin ones, from the species up to the order."""

from __future__ import annotations

from functools import cache

from fecallab.domain.taxon import HOST_GROUPS, Taxon
from fecallab.reference.tables import parts, read_rows

_GROUP_ORDER = {
    "tortoise": "Testudines",
    "turtle": "Testudines",
    "crocodilian": "Crocodylia",
    "snake": "Squamata",
    "lizard": "Squamata",
    "gecko": "Squamata",
    "chameleon": "Squamata",
}


def _plain(text: str) -> str:
    """Bring a typed name into one form: lower case, no apostrophes, no hyphens, single spaces."""
    for mark in ("\N{RIGHT SINGLE QUOTATION MARK}", "'", "`"):
        text = text.replace(mark, "")
    return " ".join(text.replace("-", " ").split()).casefold()


def _from_row(row: dict[str, str]) -> Taxon:
    """Make a taxon of one row."""
    return Taxon(
        name=row["name"],
        rank=row["rank"],
        species=row["species"],
        genus=row["genus"],
        family=row["family"],
        order=row["order"],
        host_group=row["host_group"],
        plant_eater={"yes": True, "no": False}.get(row["plant_eater"]),
    )


def _shared(values: set[bool | None]) -> bool | None:
    """Return the one value that all share, or None."""
    return values.pop() if len(values) == 1 else None


@cache
def taxa() -> tuple[Taxon, ...]:
    """Return every named animal or group of the table."""
    return tuple(_from_row(row) for row in read_rows("taxa"))


@cache
def _by_name() -> dict[str, Taxon]:
    """Every name that resolves: common and other names, species, genera, families, orders."""
    names: dict[str, Taxon] = {}
    for row in read_rows("taxa"):
        taxon = _from_row(row)
        for name in (row["name"], *parts(row["other_names"])):
            names.setdefault(_plain(name), taxon)
    for taxon in taxa():
        if taxon.species:
            names.setdefault(_plain(taxon.species), taxon)
    for rank in ("genus", "family", "order"):
        for latin in dict.fromkeys(getattr(taxon, rank) for taxon in taxa()):
            if latin:
                names.setdefault(_plain(latin), _at_rank(rank, latin))
    return names


@cache
def _genera() -> dict[str, Taxon]:
    """Every genus by its Latin name, also where the same word is a common name."""
    return {_plain(genus): _at_rank("genus", genus) for genus in {t.genus for t in taxa() if t.genus}}


def _at_rank(rank: str, latin: str) -> Taxon:
    """Make the taxon of a genus, family or order from the rows below it."""
    below = [taxon for taxon in taxa() if getattr(taxon, rank) == latin and taxon.rank == "species"]
    first = below[0]
    groups = {taxon.host_group for taxon in below if taxon.host_group}
    return Taxon(
        name=latin,
        rank=rank,
        genus=latin if rank == "genus" else "",
        family=first.family if rank == "genus" else latin if rank == "family" else "",
        order=first.order,
        host_group=groups.pop() if len(groups) == 1 else "",
        plant_eater=_shared({taxon.plant_eater for taxon in below}),
    )


def resolve_taxon(text: str) -> Taxon | None:
    """Find an animal by a common or Latin name, as closely as it can be told.

    Species come first, then genus, family and order. A Latin species that is not in the table
    resolves by its genus; an unknown common name by the group word at its end (``… skink``).

    Parameters
    ----------
    text : str
        What was typed; capitals and hyphens do not matter.

    Returns
    -------
    Taxon or None
        None when nothing fits.

    Examples
    --------
    >>> resolve_taxon("Corn Snake").species
    'Pantherophis guttatus'
    >>> resolve_taxon("Testudo boettgeri").rank
    'genus'
    >>> resolve_taxon("unicorn") is None
    True
    """
    said = _plain(text)
    names = _by_name()
    if said in names:
        return names[said]
    words = said.split()
    if " ".join(words[:2]) in names and words[0] in _genera():
        return names[" ".join(words[:2])]
    for start in range(1, len(words)):
        tail = names.get(" ".join(words[start:]))
        if tail is not None:
            return tail
    return _genera().get(words[0]) if words else None


def suggest_taxon(text: str, count: int = 3) -> tuple[str, ...]:
    """Return the known names nearest to what was typed.

    Examples
    --------
    >>> suggest_taxon("corn snak")[0]
    'corn snake'
    """
    from fecallab.domain.near_spelling import near_spellings

    shown: dict[str, str] = {}
    for row in read_rows("taxa"):
        for name in (row["name"], *parts(row["other_names"]), row["species"], row["genus"], row["family"]):
            if name:
                shown.setdefault(_plain(name), name)
    return tuple(shown[name] for name in near_spellings(_plain(text), shown, count))


def group_taxon(text: str) -> Taxon | None:
    """Return the taxon of a host group such as ``lizard``, or None when there is no such group.

    Examples
    --------
    >>> group_taxon("tortoise").order, group_taxon("dragon")
    ('Testudines', None)
    """
    said = _plain(text)
    if said in ("chelonian", "chelonians"):
        return Taxon("chelonian", "group", order="Testudines")
    if said not in HOST_GROUPS:
        return None
    return Taxon(said, "group", order=_GROUP_ORDER[said], host_group=said)
