"""Where an animal stands in the system, and which rule rows speak about it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

HOST_GROUPS = ("tortoise", "turtle", "snake", "lizard", "gecko", "chameleon", "crocodilian")
"""The groups that a keeper can name without knowing the species."""

_WIDER_GROUP = {"gecko": "lizard", "chameleon": "lizard"}
_NARROWNESS = {"species": 6, "genus": 5, "family": 4, "order": 2, "any": 1}


@dataclass(frozen=True)
class Taxon:
    """An animal's place, as far as it is known.

    Attributes
    ----------
    name : str
        Name for people, such as ``corn snake``.
    rank : str
        How closely it was named: ``species``, ``genus``, ``family``, ``order`` or ``group``.
    species, genus, family, order : str
        Latin names; empty below the rank that was named.
    host_group : str
        One of :data:`HOST_GROUPS`, or empty where the rank is too wide to tell.
    plant_eater : bool or None
        Whether adults live mainly on plants; None when not known.
    """

    name: str
    rank: str
    species: str = ""
    genus: str = ""
    family: str = ""
    order: str = ""
    host_group: str = ""
    plant_eater: bool | None = None

    @property
    def narrowest_name(self) -> str:
        """The closest name that is known: species, genus, family, host group or order."""
        return self.species or self.genus or self.family or self.host_group or self.order

    def is_a(self, entry: str) -> bool:
        """Say whether a rule's taxon surely holds for this animal.

        Parameters
        ----------
        entry : str
            ``any``, or a rank and a name: ``genus Lampropeltis``, ``host_group lizard``.

        Examples
        --------
        >>> gecko = Taxon("leopard gecko", "species", "Eublepharis macularius", "Eublepharis",
        ...               "Eublepharidae", "Squamata", "gecko")
        >>> gecko.is_a("host_group lizard"), gecko.is_a("genus Lampropeltis")
        (True, False)
        """
        if entry == "any":
            return True
        rank, _, name = entry.partition(" ")
        if rank == "host_group":
            return name in (self.host_group, _WIDER_GROUP.get(self.host_group, "")) and bool(name)
        known = {"species": self.species, "genus": self.genus, "family": self.family, "order": self.order}
        return bool(name) and known.get(rank, "").casefold() == name.casefold()

    def may_be(self, entries: Iterable[str], within: Iterable[str]) -> bool:
        """Say whether the animal was named too widely to rule a rule's taxon out.

        Parameters
        ----------
        entries : iterable of str
            The rule's taxa, as for :meth:`is_a`.
        within : iterable of str
            The wider names that hold the rule's taxa, such as ``Colubridae`` for indigo snakes.
        """
        return not any(self.is_a(entry) for entry in entries) and self.narrowest_name in tuple(within)


def narrowness(entry: str) -> int:
    """Rank a rule's taxon by how closely it names an animal; larger is narrower.

    Examples
    --------
    >>> narrowness("species Iguana iguana") > narrowness("host_group gecko") > narrowness("any")
    True
    """
    rank, _, name = entry.partition(" ")
    if rank == "host_group":
        return 2 if name in ("lizard", "snake", "crocodilian") else 3
    return _NARROWNESS[rank]
