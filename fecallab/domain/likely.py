"""Which organisms get a number key: what this animal, this method and this objective are likely to show."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from fecallab.domain.adequacy import Route
from fecallab.domain.organism import EYE_GROUPS, NEVER_A_CASE, Organism, is_target_group
from fecallab.domain.tally import KEYS_IN_A_ROW

PLANT_EATERS_ONLY = ("plant eater",)
"""What the organism table says of those that are at home in plant eaters and hardly met elsewhere."""


@dataclass(frozen=True)
class LikelyKeys:
    """What stands on the number keys.

    Attributes
    ----------
    first : tuple of str
        At most nine organism keys or groups: targets of open cases first, then from the small to the large.
    second : tuple of str
        At most nine look-alikes, behind one key: ``artefact`` and ``pseudoparasite`` first.
    """

    first: tuple[str, ...]
    second: tuple[str, ...]


def likely_organisms(
    organisms: Sequence[Organism],
    exam_methods: Mapping[str, Collection[str]],
    routes: Sequence[Route],
    *,
    method: str,
    objective: float | None = None,
    plant_eater: bool = False,
    open_targets: Sequence[str] = (),
) -> LikelyKeys:
    """Choose the organisms for the number keys.

    Parameters
    ----------
    organisms : sequence of Organism
        Those that may be met in the host, in table order.
    exam_methods : mapping of str to collection of str
        For every key of the method table the words that a preparation carries for it.
    routes : sequence of Route
        The adequacy table: what shows a stage, and at which objective.
    method : str
        Method of the preparation.
    objective : float or None
        Its power; None when it is not known yet.
    plant_eater : bool
        Whether the animal mainly eats plants; what is at home in plant eaters only comes last otherwise.
    open_targets : sequence of str
        Groups of the animal's open cases, in their order; they come first whatever the method shows.

    Returns
    -------
    LikelyKeys
        The organisms of a group have keys of their own only where stage or size tells them apart, where a
        keeper can name every one (none of the same group in this host is like it), and where all find room. Else the group has one key, and so has the
        target of an open case, because any species of the group counts for it.

    Notes
    -----
    An organism is likely when its row names the method, or when the adequacy table has a way to show its
    stage by the method. Those that the table asks a stronger objective for come after the others. The
    answer depends on nothing else, so that a hand learns it.
    """
    table = _Shown(exam_methods, routes, method, objective, plant_eater)
    groups: dict[str, list[Organism]] = {}
    for item in organisms:
        if is_target_group(item.eye_group) and table.likely(item):
            groups.setdefault(item.eye_group, []).append(item)
    come_first = list(dict.fromkeys(name for name in open_targets if is_target_group(name)))
    rest = [name for name in groups if name not in come_first]
    rest.sort(key=lambda name: (all(map(table.comes_later, groups[name])), EYE_GROUPS.index(name)))
    order = [*come_first, *rest]
    names = {
        name: [name] if name in come_first else _own_names(name, groups[name], organisms) for name in order
    }
    while sum(map(len, names.values())) > KEYS_IN_A_ROW:
        widest = max(order, key=lambda name: (len(names[name]), order.index(name)))
        if len(names[widest]) == 1:
            break
        names[widest] = [widest]
    first = [one for name in order for one in names[name]]
    return LikelyKeys(tuple(first[:KEYS_IN_A_ROW]), _look_alikes(organisms, table))


@dataclass(frozen=True)
class _Shown:
    """What the tables say of one organism in this preparation."""

    exam_methods: Mapping[str, Collection[str]]
    routes: Sequence[Route]
    method: str
    objective: float | None
    plant_eater: bool

    def _ways(self, item: Organism) -> list[Route]:
        return [
            route
            for route in self.routes
            if self.method in route.methods
            and set(item.stages).intersection(route.stages)
            and (item.eye_group in route.targets or item.eye_group in NEVER_A_CASE)
        ]

    def likely(self, item: Organism) -> bool:
        named = any(self.method in self.exam_methods.get(key, ()) for key in item.method_keys)
        return named or bool(self._ways(item))

    def comes_later(self, item: Organism) -> bool:
        powers = [_objective_asked(route) for route in self._ways(item)]
        too_small = self.objective is not None and bool(powers) and min(powers) > self.objective
        elsewhere = item.normal_inhabitant_in == PLANT_EATERS_ONLY and not self.plant_eater
        return too_small or elsewhere


def _objective_asked(route: Route) -> float:
    """Return the objective that a route asks for, 0 when it asks for none."""
    asked = [c.at_least for c in route.conditions if c.quantity == "objective" and c.at_least is not None]
    return max(asked, default=0.0)


def _own_names(group: str, likely: Sequence[Organism], in_host: Sequence[Organism]) -> list[str]:
    """Return the likely organisms of a group when a keeper can name them and tell them from all its others."""
    others = [item for item in in_host if item.eye_group == group]
    told = all(_told_apart(item, other) for item in likely for other in others if other is not item)
    return [item.key for item in likely] if told and all(i.keeper_can_name for i in likely) else [group]


def _told_apart(one: Organism, other: Organism) -> bool:
    """Say whether stage or length tells two organisms of a group apart."""
    if not set(one.stages).intersection(other.stages):
        return True
    if one.length_um is None or other.length_um is None:
        return False
    return one.length_um[1] < other.length_um[0] or other.length_um[1] < one.length_um[0]


def _look_alikes(organisms: Sequence[Organism], table: _Shown) -> tuple[str, ...]:
    """Return what stands behind the one key for look-alikes: the unnamed first, then half of each kind."""
    unnamed = tuple(reversed(NEVER_A_CASE))
    room = KEYS_IN_A_ROW - len(unnamed)
    kinds = {
        group: [
            item.key
            for item in organisms
            if item.eye_group == group
            and item.keeper_can_name
            and (table.likely(item) or not item.method_keys)
        ]
        for group in NEVER_A_CASE
    }
    prey, lifeless = kinds["pseudoparasite"], kinds["artefact"]
    half = max((room + 1) // 2, room - len(lifeless))
    return (*unnamed, *prey[:half], *lifeless[: room - len(prey[:half])])
