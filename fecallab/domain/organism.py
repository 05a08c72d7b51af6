"""Organisms, the group that the eye can tell, and what counts for a case."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from fecallab.domain.errors import BadInput
from fecallab.domain.near_spelling import near_spellings

TARGET_GROUPS = (
    "flagellate",
    "ciliate",
    "amoeba",
    "coccidian",
    "cryptosporidium",
    "microsporidian",
    "other protist",
    "oxyurid",
    "ascarid",
    "strongylid",
    "rhabditid",
    "capillarid/trichurid",
    "spirurid",
    "cestode",
    "trematode",
    "acanthocephalan",
    "pentastomid",
    "mite",
)
"""Groups that a case can be about, from the small to the large."""

NEVER_A_CASE = ("pseudoparasite", "artefact")
"""What passes through or only looks like something: it opens nothing and counts for nothing."""

EYE_GROUPS = TARGET_GROUPS + NEVER_A_CASE

STAGES = ("trophozoite", "cyst", "oocyst", "spore", "egg", "larva", "adult")
"""Stages that an exam can be asked about."""


@dataclass(frozen=True, kw_only=True)
class Organism:
    """One organism or look-alike of the reference table.

    Attributes
    ----------
    key : str
        Stable word used in marks and counts.
    group : str
        Where it belongs by kinship.
    eye_group : str
        The group that the eye can tell and that a case is about; one of `EYE_GROUPS`.
    stage : str
        The stage in the words of the table.
    stages : tuple of str
        The same in the closed words of `STAGES`; empty for artefacts and for what shows no stage in stool.
    hosts : str
        Hosts in words.
    host_groups : tuple of str
        Keys of the host table; ``any`` stands for all.
    length_um, width_um : tuple of float, or None
        Smallest and largest, in micrometres; None where no size is known.
    range_kind : str
        What the range is: published, remembered, a single mean …
    size_source_kind : str
        Kind of the size figures.
    motile : bool
        Whether it moves by itself.
    normal_inhabitant_in : tuple of str
        Host groups or diet words in which its mere presence opens a note and no case.
    clearable_by_stool : bool
        False where no number of clean stools confirms that it is gone.
    keeper_can_name : bool
        False where a keeper's own mark stays unsure until a vet or a laboratory has named it.
    prepatent_days : tuple of float or None
        Shortest and longest time from infection to shedding; either may be None.
    """

    key: str
    scientific_name: str
    group: str
    eye_group: str
    stage: str
    stages: tuple[str, ...]
    hosts: str
    host_groups: tuple[str, ...]
    length_um: tuple[float, float] | None
    width_um: tuple[float, float] | None
    range_kind: str
    shape: str
    motile: bool
    motility_words: str
    stain: str
    best_methods: tuple[str, ...]
    method_keys: tuple[str, ...]
    destroyed_or_missed_by: str
    freshness_limit: str
    significance: str
    zoonotic: str
    life_cycle: str
    prepatent_days: tuple[float | None, float | None]
    look_alikes: tuple[str, ...]
    confidence: str
    normal_inhabitant_in: tuple[str, ...]
    clearable_by_stool: bool
    keeper_can_name: bool
    source: str
    size_source_kind: str
    source_kind_other: str
    source_detail: str


def is_target_group(name: str) -> bool:
    """Return whether a case can be about this group.

    Examples
    --------
    >>> is_target_group("oxyurid"), is_target_group("artefact")
    (True, False)
    """
    return name in TARGET_GROUPS


def group_of(name: str, organisms: Mapping[str, Organism]) -> str:
    """Return the group that the eye can tell for an organism key or a group's own name.

    Parameters
    ----------
    name : str
        An organism key such as ``thelandros_egg``, or one of `EYE_GROUPS`.
    organisms : mapping of str to Organism
        The organism table by key.

    Returns
    -------
    str
        One of `EYE_GROUPS`.

    Raises
    ------
    BadInput
        When it is neither; the nearest names are offered.

    Examples
    --------
    >>> group_of("oxyurid", {})
    'oxyurid'
    """
    if name in EYE_GROUPS:
        return name
    found = organisms.get(name)
    if found is not None:
        return found.eye_group
    near = near_spellings(name, [*EYE_GROUPS, *organisms])
    hint = f"Did you mean {' or '.join(near)}?" if near else "Names: fecallab reference show organisms"
    raise BadInput(f"'{name}' is no organism or group of the table.", next=hint, code="organism-unknown")


def counts_for_target(name: str, target: str, organisms: Mapping[str, Organism]) -> bool:
    """Return whether a mark or count of this name counts for a case about the target.

    Any organism whose group is the target's counts, whatever the species; pseudoparasites and artefacts
    never do.

    Parameters
    ----------
    name : str
        An organism key or a group.
    target : str
        One of `TARGET_GROUPS`.
    organisms : mapping of str to Organism
        The organism table by key.

    Raises
    ------
    BadInput
        When the name or the target is unknown.

    Examples
    --------
    >>> counts_for_target("oxyurid", "oxyurid", {}), counts_for_target("artefact", "oxyurid", {})
    (True, False)
    """
    if not is_target_group(target):
        near = near_spellings(target, TARGET_GROUPS) or list(TARGET_GROUPS)
        raise BadInput(
            f"A case cannot be about '{target}'.",
            next=f"Name a group: {', '.join(near)}",
            code="target-unknown",
        )
    return group_of(name, organisms) == target


def host_words(host_groups: Collection[str], *, plant_eater: bool, adult: bool | None) -> frozenset[str]:
    """Return the words of an animal that a `normal_inhabitant_in` list is compared with.

    An unknown age is not taken for adult.

    Examples
    --------
    >>> sorted(host_words(["tortoise"], plant_eater=True, adult=None))
    ['plant eater', 'tortoise']
    """
    words = set(host_groups)
    if plant_eater:
        words.add("plant eater")
        if adult:
            words.add("plant eater adult")
    return frozenset(words)


def is_normal_inhabitant(
    name: str,
    organisms: Mapping[str, Organism],
    host_groups: Collection[str],
    *,
    plant_eater: bool,
    adult: bool | None,
) -> bool:
    """Return whether its mere presence in this animal opens a note and no case.

    A bare group counts as a normal inhabitant only where every organism of that group is one in this animal,
    so that "flagellate" alone always goes the careful way.

    Parameters
    ----------
    name : str
        An organism key or a group.
    organisms : mapping of str to Organism
        The organism table by key.
    host_groups : collection of str
        The animal's host group and the wider groups that it belongs to.
    plant_eater : bool
        Whether it mainly eats plants.
    adult : bool or None
        None when unknown; then it is not taken for adult.

    Raises
    ------
    BadInput
        When the name is unknown.
    """
    words = host_words(host_groups, plant_eater=plant_eater, adult=adult)
    if name in organisms:
        return bool(words.intersection(organisms[name].normal_inhabitant_in))
    group = group_of(name, organisms)
    members = [item for item in organisms.values() if item.eye_group == group]
    return bool(members) and all(words.intersection(item.normal_inhabitant_in) for item in members)


def is_clearable_by_stool(name: str, organisms: Mapping[str, Organism]) -> bool:
    """Return whether clean stools can confirm that this organism or group is gone.

    A group is clearable when any of its organisms is: the species is a note of the case, not its target.

    Raises
    ------
    BadInput
        When the name is unknown.
    """
    if name in organisms:
        return organisms[name].clearable_by_stool
    group = group_of(name, organisms)
    members = [item for item in organisms.values() if item.eye_group == group]
    return not members or any(item.clearable_by_stool for item in members)


def of_group(group: str, organisms: Iterable[Organism]) -> tuple[Organism, ...]:
    """Return the organisms whose eye group this is, in table order."""
    return tuple(item for item in organisms if item.eye_group == group)
