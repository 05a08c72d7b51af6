"""The organism table, typed, and the domain's questions asked of it."""

from __future__ import annotations

from functools import cache
from types import MappingProxyType

from fecallab.domain import organism as rules
from fecallab.domain.errors import BadInput
from fecallab.domain.organism import Organism
from fecallab.reference.hosts import lineage
from fecallab.reference.tables import number, parts, read_rows


def _range(low: str, high: str) -> tuple[float, float] | None:
    smallest, largest = number(low), number(high)
    return None if smallest is None or largest is None else (smallest, largest)


def _typed(row: dict[str, str]) -> Organism:
    return Organism(
        key=row["key"],
        scientific_name=row["scientific_name"],
        group=row["group"],
        eye_group=row["eye_group"],
        stage=row["stage"],
        stages=parts(row["stages"]),
        hosts=row["hosts"],
        host_groups=parts(row["host_groups"]),
        length_um=_range(row["length_um_min"], row["length_um_max"]),
        width_um=_range(row["width_um_min"], row["width_um_max"]),
        range_kind=row["range_kind"],
        shape=row["shape"],
        motile=row["motile"] == "yes",
        motility_words=row["motility_words"],
        stain=row["stain"],
        best_methods=parts(row["best_methods"]),
        method_keys=parts(row["method_keys"]),
        destroyed_or_missed_by=row["destroyed_or_missed_by"],
        freshness_limit=row["freshness_limit"],
        significance=row["significance"],
        zoonotic=row["zoonotic"],
        life_cycle=row["life_cycle"],
        prepatent_days=(number(row["prepatent_days_min"]), number(row["prepatent_days_max"])),
        look_alikes=parts(row["look_alikes"]),
        confidence=row["confidence"],
        normal_inhabitant_in=parts(row["normal_inhabitant_in"]),
        clearable_by_stool=row["not_clearable_by_stool"] != "yes",
        keeper_can_name=row["keeper_can_name"] == "yes",
        source=row["source"],
        size_source_kind=row["source_kind"],
        source_kind_other=row["source_kind_other"],
        source_detail=row["source_detail"],
    )


@cache
def organisms() -> tuple[Organism, ...]:
    """Return every organism and look-alike, in table order."""
    return tuple(_typed(row) for row in read_rows("organisms"))


@cache
def organisms_by_key() -> MappingProxyType[str, Organism]:
    """Return the organisms by key, read-only."""
    return MappingProxyType({item.key: item for item in organisms()})


def organism(key: str) -> Organism:
    """Return one organism.

    Raises
    ------
    BadInput
        When there is no such key; the nearest names are offered.

    Examples
    --------
    >>> organism("thelandros_egg").length_um
    (65.4, 79.2)
    """
    found = organisms_by_key().get(key)
    if found is None:
        group = rules.group_of(key, organisms_by_key())
        raise BadInput(
            f"'{key}' is a group, not one organism.",
            next=f"Name one of: {', '.join(item.key for item in rules.of_group(group, organisms()))}",
            code="organism-is-group",
        )
    return found


def group_of(name: str) -> str:
    """Return the group that the eye can tell for an organism key or a group.

    Examples
    --------
    >>> group_of("thelandros_egg"), group_of("atractis_larva"), group_of("yeast")
    ('oxyurid', 'rhabditid', 'artefact')
    """
    return rules.group_of(name, organisms_by_key())


def counts_for_target(name: str, target: str) -> bool:
    """Return whether a mark or count of this name counts for a case about the target.

    Examples
    --------
    >>> counts_for_target("thelandros_egg", "oxyurid"), counts_for_target("syphacia_muris_egg", "oxyurid")
    (True, False)
    """
    return rules.counts_for_target(name, target, organisms_by_key())


def is_normal_inhabitant(name: str, host_group: str, plant_eater: bool, adult: bool | None) -> bool:
    """Return whether its mere presence in such an animal opens a note and no case.

    Parameters
    ----------
    name : str
        An organism key or a group.
    host_group : str
        A key or another name of the host table.
    plant_eater : bool
        Whether the animal mainly eats plants.
    adult : bool or None
        None when unknown; then it is not taken for adult.

    Examples
    --------
    >>> is_normal_inhabitant("ciliate", "tortoise", True, None)
    True
    >>> is_normal_inhabitant("oxyurid", "tortoise", True, None)
    False
    """
    return rules.is_normal_inhabitant(
        name, organisms_by_key(), lineage(host_group), plant_eater=plant_eater, adult=adult
    )


def is_clearable_by_stool(name: str) -> bool:
    """Return whether clean stools can confirm that this organism or group is gone.

    Examples
    --------
    >>> is_clearable_by_stool("coccidian"), is_clearable_by_stool("cryptosporidium")
    (True, False)
    """
    return rules.is_clearable_by_stool(name, organisms_by_key())


def organisms_in_host(host_group: str) -> tuple[Organism, ...]:
    """Return what may be met in a host: of its own, wider and narrower groups, and of any host.

    Examples
    --------
    >>> "caryospora_snake" in {item.key for item in organisms_in_host("tortoise")}
    False
    """
    wanted = set(lineage(host_group))
    own = lineage(host_group)[0]
    return tuple(
        item
        for item in organisms()
        if "any" in item.host_groups
        or wanted.intersection(item.host_groups)
        or any(own in lineage(word) for word in item.host_groups)
    )
