"""The tables as their files hold them, and how a failure names a row."""

from __future__ import annotations

import re
from importlib import resources

DATA = resources.files("fecallab.reference").joinpath("data")
TABLES = sorted(path.name.removesuffix(".csv") for path in DATA.iterdir() if path.name.endswith(".csv"))
SOURCE_TABLES = ("sources", "dose_sources")
OURS = (
    "organisms",
    "methods",
    "flotation_solutions",
    "egg_gravities",
    "grading_scales",
    "fields_to_read",
    "hosts",
    "followup_defaults",
    "retest_windows",
    "recoveries",
    "sensitivities",
    "priors",
    "risk_factors",
    "quarantine",
    "quarantine_protocols",
    "not_shown",
)
"""Tables whose sources are ids of the numbered source table."""

SAYS_WHICH = ("source_parts", "source_detail", "source_kind_note", "fields_from_memory_or_practice", "note")
ID = re.compile(r"[RMCDP]\d{2,3}")


def named(row: dict[str, str]) -> str:
    """Name a row for a failure message."""
    return next(iter(row.values()))


def ids_in(text: str) -> set[str]:
    return set(re.findall(r"\b[RM]\d{2,3}\b", text))


def low_of(column: str) -> str | None:
    """Return what a lower bound is a bound of: ``length_um_min`` and ``dose_min_mg`` alike."""
    return _bound_of(column, ("min", "low", "least", "lower"))


def high_of(column: str) -> str | None:
    return _bound_of(column, ("max", "high", "most", "upper"))


def _bound_of(column: str, words: tuple[str, ...]) -> str | None:
    pieces = column.split("_")
    if not any(word in pieces for word in words):
        return None
    return "_".join(piece for piece in pieces if piece not in words) or "bound"
