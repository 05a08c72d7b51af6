"""Figures for chances and bounds: recoveries, sensitivities, shares of hosts infected, quarantine lengths.

Most are figures of people and farm animals, since few were measured in reptiles; every row says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fecallab.domain.errors import BadInput
from fecallab.reference.hosts import lineage
from fecallab.reference.tables import number, read_rows


def _joined(row: dict[str, str]) -> str:
    return " ".join(filter(None, (row.get("source_parts", ""), row["note"])))


@dataclass(frozen=True, kw_only=True)
class Recovery:
    """Share of the eggs that a method brings up (0 to 1), with the range read and whose stool it was."""

    key: str
    method: str
    variant: str
    host: str
    parasite: str
    recovered_share: float | None
    recovered_share_min: float | None
    recovered_share_max: float | None
    detected_share: float | None
    measure: str
    default_for_bound: bool
    mammal_figure: bool
    source: str
    source_kind: str
    note: str


@cache
def recoveries() -> tuple[Recovery, ...]:
    """Return every recovery figure, in table order."""
    return tuple(
        Recovery(
            key=row["key"],
            method=row["method"],
            variant=row["variant"],
            host=row["host"],
            parasite=row["parasite"],
            recovered_share=number(row["recovered_share"]),
            recovered_share_min=number(row["recovered_share_min"]),
            recovered_share_max=number(row["recovered_share_max"]),
            detected_share=number(row["detected_share"]),
            measure=row["measure"],
            default_for_bound=row["default_for_bound"] == "yes",
            mammal_figure=row["mammal_figure"] == "yes",
            source=row["source"],
            source_kind=row["source_kind"],
            note=_joined(row),
        )
        for row in read_rows("recoveries")
    )


def recovery_for_bound(method: str) -> Recovery | None:
    """Return the figure that the bound of a negative is divided by, or None where none was found.

    Parameters
    ----------
    method : str
        A method word of a preparation, for example ``simple_flotation``.

    Examples
    --------
    >>> recovery_for_bound("simple_flotation").recovered_share
    0.24
    >>> recovery_for_bound("sedimentation") is None
    True
    """
    return next((row for row in recoveries() if row.default_for_bound and row.method == method), None)


@dataclass(frozen=True, kw_only=True)
class Sensitivity:
    """Share of the infected that one or several exams find, or another figure named by ``quantity``."""

    key: str
    host: str
    reptile: bool
    target: str
    test: str
    quantity: str
    samples: int | None
    value: float
    found: int | None
    of: int | None
    against: str
    source: str
    source_kind: str
    note: str


@cache
def sensitivities() -> dict[str, Sensitivity]:
    """Return the sensitivity figures by key."""
    return {
        row["key"]: Sensitivity(
            key=row["key"],
            host=row["host"],
            reptile=row["reptile"] == "yes",
            target=row["target"],
            test=row["test"],
            quantity=row["quantity"],
            samples=int(row["samples"]) if row["samples"] else None,
            value=float(row["value"]),
            found=int(row["found"]) if row["found"] else None,
            of=int(row["of"]) if row["of"] else None,
            against=row["against"],
            source=row["source"],
            source_kind=row["source_kind"],
            note=_joined(row),
        )
        for row in read_rows("sensitivities")
    }


def sensitivity(key: str) -> Sensitivity:
    """Return one sensitivity figure.

    Raises
    ------
    BadInput
        When there is no such figure.

    Examples
    --------
    >>> sensitivity("people_exam_correlation").value
    0.576
    """
    found = sensitivities().get(key)
    if found is None:
        raise BadInput(
            f"There is no sensitivity figure '{key}'.",
            next="Type: fecallab reference show sensitivities",
            code="figure-unknown",
        )
    return found


@dataclass(frozen=True, kw_only=True)
class Prior:
    """Share of a surveyed population that was positive; one survey sample is itself one exam."""

    key: str
    host_group: str
    population: str
    target: str
    organism: str
    share: float
    n: int | None
    source: str
    source_kind: str
    note: str


@cache
def priors() -> tuple[Prior, ...]:
    """Return every survey figure, in table order."""
    return tuple(
        Prior(
            key=row["key"],
            host_group=row["host_group"],
            population=row["population"],
            target=row["target"],
            organism=row["organism"],
            share=float(row["share"]),
            n=int(row["n"]) if row["n"] else None,
            source=row["source"],
            source_kind=row["source_kind"],
            note=_joined(row),
        )
        for row in read_rows("priors")
    )


def priors_for(target: str, host_group: str) -> tuple[Prior, ...]:
    """Return the survey figures for a target in a host, the narrowest host first, the larger survey first.

    Parameters
    ----------
    target : str
        A group that the eye can tell.
    host_group : str
        A key or another name of the host table.

    Examples
    --------
    >>> [row.key for row in priors_for("oxyurid", "tortoise")][:2]
    ['de_tortoise_oxyurid', 'uk_tortoise_oxyurid']
    """
    words = lineage(host_group)
    rows = [row for row in priors() if row.target == target and row.host_group in words]
    return tuple(sorted(rows, key=lambda row: (words.index(row.host_group), -(row.n or 0))))


@dataclass(frozen=True, kw_only=True)
class QuarantineDefault:
    """How long newcomers stay apart and how many clean exams in a row; the vet goes before it."""

    key: str
    host_group: str
    days: int
    negatives_in_a_row: int
    spacing_days: int
    rule: str
    source: str
    source_kind: str
    note: str


@cache
def _quarantine_defaults() -> dict[str, QuarantineDefault]:
    return {
        row["host_group"]: QuarantineDefault(
            key=row["key"],
            host_group=row["host_group"],
            days=int(row["days_min"]),
            negatives_in_a_row=int(row["negatives_in_a_row"]),
            spacing_days=int(row["spacing_days"]),
            rule=row["rule"],
            source=row["source"],
            source_kind=row["source_kind"],
            note=_joined(row),
        )
        for row in read_rows("quarantine")
        if row["role"] == "default" and row["days_min"]
    }


def quarantine_default(host_group: str) -> QuarantineDefault | None:
    """Return the narrowest default for a host, or None where the custom names none.

    Examples
    --------
    >>> quarantine_default("ball python").days
    180
    """
    rows = _quarantine_defaults()
    return next((rows[word] for word in lineage(host_group) if word in rows), None)
