"""The exam methods, the flotation fluids and how heavy eggs are."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fecallab.domain.errors import BadInput
from fecallab.reference.tables import number, parts, read_rows


@dataclass(frozen=True, kw_only=True)
class Method:
    """One way to look at a sample.

    Attributes
    ----------
    key, name : str
        Stable word and name.
    exam_methods : tuple of str
        The words that a preparation carries for it; empty where it makes none.
    finds_groups, cannot_find_groups : tuple of str
        Groups that the eye can tell; the stage is in the words beside.
    min_sample_g, usual_sample_g : float or None
        Mass of stool.
    read_after_min, read_before_min : float or None
        When to read, in minutes; where adequacy asks for something else, ``adequacy_rule_differs`` says so.
    sg_min, sg_max : float or None
        Specific gravity of the fluid.
    multiplication_factor : float or None
        One egg counted stands for that many per gram.
    from_memory_or_practice : str
        Which parts of the row were not read.
    """

    key: str
    name: str
    exam_methods: tuple[str, ...]
    principle: str
    finds_groups: tuple[str, ...]
    finds_words: str
    cannot_find_groups: tuple[str, ...]
    cannot_find_words: str
    min_sample_g: float | None
    usual_sample_g: float | None
    sample_age_limit: str
    read_after_min: float | None
    read_before_min: float | None
    solution_keys: tuple[str, ...]
    sg_min: float | None
    sg_max: float | None
    multiplication_factor: float | None
    detection_limit: str
    inadequate_if: tuple[str, ...]
    adequacy_rule_differs: str
    source: str
    source_kind: str
    from_memory_or_practice: str
    note: str


@cache
def methods() -> dict[str, Method]:
    """Return the methods by key."""
    return {
        row["key"]: Method(
            key=row["key"],
            name=row["name"],
            exam_methods=parts(row["exam_methods"]),
            principle=row["principle"],
            finds_groups=parts(row["finds_groups"]),
            finds_words=row["finds_words"],
            cannot_find_groups=parts(row["cannot_find_groups"]),
            cannot_find_words=row["cannot_find_words"],
            min_sample_g=number(row["min_sample_g"]),
            usual_sample_g=number(row["usual_sample_g"]),
            sample_age_limit=row["sample_age_limit"],
            read_after_min=number(row["read_after_min"]),
            read_before_min=number(row["read_before_min"]),
            solution_keys=parts(row["solution_keys"]),
            sg_min=number(row["sg_min"]),
            sg_max=number(row["sg_max"]),
            multiplication_factor=number(row["multiplication_factor"]),
            detection_limit=row["detection_limit"],
            inadequate_if=parts(row["inadequate_if"]),
            adequacy_rule_differs=row["adequacy_rule_differs"],
            source=row["source"],
            source_kind=row["source_kind"],
            from_memory_or_practice=row["fields_from_memory_or_practice"],
            note=row["note"],
        )
        for row in read_rows("methods")
    }


def method(key: str) -> Method:
    """Return one method.

    Raises
    ------
    BadInput
        When there is no such method.

    Examples
    --------
    >>> method("mcmaster_50").multiplication_factor
    50.0
    """
    found = methods().get(key)
    if found is None:
        raise BadInput(
            f"There is no method '{key}'.", next=f"Name one of: {', '.join(methods())}", code="method-unknown"
        )
    return found


@dataclass(frozen=True, kw_only=True)
class FlotationSolution:
    """One fluid; ``gives_what_it_says`` is False where recipe and printed gravity disagree."""

    key: str
    name: str
    recipe: str
    sg_min: float
    sg_max: float
    target_sg: float | None
    tolerance_sg: float
    gives_what_it_says: bool
    source: str
    source_kind: str
    note: str


@cache
def flotation_solutions() -> dict[str, FlotationSolution]:
    """Return the flotation fluids by key.

    Examples
    --------
    >>> flotation_solutions()["zinc_sulfate_fresh"].target_sg
    1.18
    """
    return {
        row["key"]: FlotationSolution(
            key=row["key"],
            name=row["solution"],
            recipe=row["recipe"],
            sg_min=float(row["sg_min"]),
            sg_max=float(row["sg_max"]),
            target_sg=number(row["target_sg"]),
            tolerance_sg=float(row["tolerance_sg"]),
            gives_what_it_says=row["gives_what_it_says"] == "yes",
            source=row["source"],
            source_kind=row["source_kind"],
            note=" ".join(filter(None, (row["source_parts"], row["note"]))),
        )
        for row in read_rows("flotation_solutions")
    }


@dataclass(frozen=True, kw_only=True)
class EggGravity:
    """How heavy the eggs of one worm are; all are worms of mammals, stand-ins for reptiles."""

    key: str
    organism: str
    group: str
    sg_min: float
    sg_max: float
    host: str
    source: str
    source_kind: str


@cache
def egg_gravities() -> tuple[EggGravity, ...]:
    """Return the measured specific gravities of eggs."""
    return tuple(
        EggGravity(
            key=row["key"],
            organism=row["organism"],
            group=row["group"],
            sg_min=float(row["sg_min"]),
            sg_max=float(row["sg_max"]),
            host=row["host"],
            source=row["source"],
            source_kind=row["source_kind"],
        )
        for row in read_rows("egg_gravities")
    )


def eggs_that_sink(specific_gravity: float) -> tuple[EggGravity, ...]:
    """Return the measured eggs that are as heavy as a fluid or heavier, and so stay down.

    Parameters
    ----------
    specific_gravity : float
        Of the fluid, 1.0 for water.

    Examples
    --------
    >>> [egg.organism for egg in eggs_that_sink(1.20)]
    ['Taenia sp.', 'Physaloptera sp.', 'Opisthorchis viverrini']
    """
    return tuple(egg for egg in egg_gravities() if egg.sg_max >= specific_gravity)
