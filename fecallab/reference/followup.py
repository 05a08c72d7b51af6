"""Default waits, spacings and numbers of negatives, where the plan is silent."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from fecallab.domain.errors import BadInput
from fecallab.domain.followup_default import FollowupDefault
from fecallab.domain.organism import TARGET_GROUPS
from fecallab.reference.hosts import lineage
from fecallab.reference.tables import number, parts, read_rows


def _days(text: str) -> int | None:
    return int(text) if text else None


@cache
def followup_defaults() -> tuple[FollowupDefault, ...]:
    """Return every default, in table order."""
    return tuple(
        FollowupDefault(
            target=row["target"],
            stages=parts(row["stages_that_must_be_negative"]),
            host=row["host_group"],
            wait_after_last_dose_days=_days(row["wait_after_last_dose_days"]),
            spacing_days=_days(row["spacing_days"]),
            negatives_needed=_days(row["negatives_needed"]),
            goal=row["default_goal"],
            source=row["source"],
            source_kind=row["source_kind"],
            note=". ".join(part.rstrip(".") for part in (row["source_parts"], row["note"]) if part),
        )
        for row in read_rows("followup_defaults")
    )


def followup_default(
    target: str, host_group: str, plant_eater: bool, adult: bool | None = None
) -> FollowupDefault:
    """Return the narrowest default that fits a target and an animal.

    A named host goes before a diet word, the nearer group before the wider one, ``plant eater adult`` before
    ``plant eater``, and ``any`` last. An unknown age is not taken for adult, so the stricter row is used.

    Parameters
    ----------
    target : str
        One of the groups that a case can be about.
    host_group : str
        A key or another name of the host table.
    plant_eater : bool
        Whether the animal mainly eats plants.
    adult : bool or None
        None when unknown.

    Returns
    -------
    FollowupDefault
        The row, with its source and what kind of figure it is.

    Raises
    ------
    BadInput
        When no case can be about the target, or the host is unknown.

    Examples
    --------
    >>> followup_default("oxyurid", "tortoise", True, True).goal
    'low burden'
    >>> followup_default("oxyurid", "tortoise", True, None).goal
    'clear'
    """
    rows = {row.host: row for row in followup_defaults() if row.target == target}
    if not rows:
        raise BadInput(
            f"There is no follow-up default for '{target}'.",
            next=f"Name a group: {', '.join(TARGET_GROUPS)}",
            code="target-unknown",
        )
    words = list(lineage(host_group))
    if plant_eater:
        words += ["plant eater adult", "plant eater"] if adult else ["plant eater"]
    return next(rows[word] for word in (*words, "any") if word in rows)


@dataclass(frozen=True)
class RetestWindow:
    """When a first look after treatment can mean something, for one organism.

    ``first_day`` and ``series_days`` count from the last dose; None and empty where stool does not tell.
    """

    key: str
    target: str
    organism: str
    host: str
    prepatent_days: tuple[float | None, float | None]
    first_day: int | None
    series_days: tuple[int, ...]
    advice: str
    source: str
    source_kind: str
    note: str


@cache
def retest_windows() -> tuple[RetestWindow, ...]:
    """Return every re-test window, in table order."""
    return tuple(
        RetestWindow(
            key=row["key"],
            target=row["target"],
            organism=row["organism"],
            host=row["host"],
            prepatent_days=(number(row["prepatent_days_min"]), number(row["prepatent_days_max"])),
            first_day=_days(row["first_day"]),
            series_days=tuple(int(day) for day in parts(row["series_days"])),
            advice=row["advice"],
            source=row["source"],
            source_kind=row["source_kind"],
            note=". ".join(part.rstrip(".") for part in (row["source_parts"], row["note"]) if part),
        )
        for row in read_rows("retest_windows")
    )
