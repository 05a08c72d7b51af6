"""The adequacy tables: routes, their conditions, and why other methods are blind."""

from __future__ import annotations

from functools import cache

from fecallab.domain.adequacy import AdequacyFacts, Blind, Condition, Recovery, Route
from fecallab.domain.errors import Reason
from fecallab.reference.tables import number, parts, read_rows


def _when(text: str) -> tuple[str, tuple[str, ...]] | None:
    """Read a guard such as ``form=formed|soft``."""
    if not text:
        return None
    name, values = text.split("=")
    return name, parts(values, "|")


@cache
def adequacy_conditions() -> tuple[Condition, ...]:
    """Return every condition, in file order."""
    return tuple(
        Condition(
            route=row["route"],
            code=row["condition"],
            quantity=row["quantity"],
            at_least=number(row["at_least"]),
            at_most=number(row["at_most"]),
            one_of=parts(row["one_of"]),
            unless=row["unless"],
            when=_when(row["when"]),
            blocks_when_unknown=row["if_unknown"] == "blocks",
            question=row["question"],
            next=row["next"],
            source=row["source"],
            source_kind=row["source_kind"],
        )
        for row in read_rows("adequacy_conditions")
    )


@cache
def adequacy_routes() -> tuple[Route, ...]:
    """Return every route with its conditions."""
    return tuple(
        Route(
            code=row["route"],
            targets=parts(row["targets"]),
            stages=parts(row["stages"]),
            methods=parts(row["methods"]),
            bound=row["bound"],
            says=row["says"],
            conditions=tuple(c for c in adequacy_conditions() if c.route == row["route"]),
        )
        for row in read_rows("adequacy_routes")
    )


@cache
def adequacy_facts() -> AdequacyFacts:
    """Return everything that `fecallab.domain.adequacy.judge` needs."""
    blind = tuple(
        Blind(
            methods=parts(row["methods"]),
            stages=parts(row["stages"]),
            targets=parts(row["targets"]),
            reason=Reason(row["code"], row["text"], row["next"]),
        )
        for row in read_rows("adequacy_blind")
    )
    return AdequacyFacts(
        routes=adequacy_routes(),
        blind=blind,
        recoveries=_recoveries(),
        group_of=_group_of(),
        not_clearable=_not_clearable(),
    )


def _not_clearable() -> frozenset[str]:
    """Return the organisms that no stool exam clears, and the groups in which that holds for every one."""
    rows = read_rows("organisms")
    clearable = {row["eye_group"] for row in rows if row["not_clearable_by_stool"] != "yes"}
    keys = {row["key"] for row in rows if row["not_clearable_by_stool"] == "yes"}
    return frozenset(keys | ({row["eye_group"] for row in rows} - clearable))


def _recoveries() -> dict[str, Recovery]:
    found: dict[str, Recovery] = {}
    for row in read_rows("recoveries"):
        if row["default_for_bound"] == "yes":
            found[row["method"]] = Recovery(
                share=float(row["recovered_share"]),
                poorest=float(row["recovered_share_min"] or row["recovered_share"]),
                best=float(row["recovered_share_max"] or row["recovered_share"]),
                source=row["source"],
            )
    return found


def _group_of() -> dict[str, str]:
    """Map organism keys, group names and everyday spellings to the group that the eye can tell."""
    groups: dict[str, str] = {}
    for row in read_rows("organisms"):
        groups[row["key"]] = row["eye_group"]
        groups[row["eye_group"]] = row["eye_group"]
    for row in read_rows("group_names"):
        groups[row["said"]] = row["eye_group"]
    return groups
