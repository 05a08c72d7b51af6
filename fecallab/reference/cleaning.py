"""What kills which stage, how long it lives outside, and how cleaning is done."""

from __future__ import annotations

from functools import cache

from fecallab.domain.cleaning import CleaningAdvice, CleaningRow
from fecallab.reference.tables import number, read_rows

_ANSWER = {"yes": True, "no": False, "": None}


@cache
def working_rows() -> dict[str, CleaningRow]:
    """Return the rows that may be shown, by group; ``all`` is the general rule.

    Rows of the role ``evidence`` (one trial, one page) stand in the table for whoever asks where a figure is
    from; they are never advice.
    """
    return {
        row["group"]: CleaningRow(
            key=row["key"],
            group=row["group"],
            about=row["about"],
            infective_stage=row["infective_stage"],
            direct_cycle=_ANSWER[row["direct_cycle"]],
            survival_days_min=number(row["survival_days_min"]),
            survival_days_max=number(row["survival_days_max"]),
            survival_note=row["survival_note"],
            maturation_days_min=number(row["maturation_days_min"]),
            maturation_days_max=number(row["maturation_days_max"]),
            maturation_note=row["maturation_note"],
            heat_c=number(row["heat_c"]),
            heat_minutes=number(row["heat_minutes"]),
            drying=row["drying"],
            ammonia_percent=number(row["ammonia_percent"]),
            ammonia_means=row["ammonia_means"],
            ammonia_minutes=number(row["ammonia_minutes"]),
            peroxide_percent=number(row["peroxide_percent"]),
            peroxide_minutes=number(row["peroxide_minutes"]),
            steam=row["steam"],
            not_effective=row["not_effective"],
            removal_hours=number(row["removal_hours"]),
            removal_note=row["removal_note"],
            substrate=row["substrate"],
            people=row["people"],
            cautions=row["cautions"],
            source=row["source"],
            source_kind=row["source_kind"],
        )
        for row in read_rows("cleaning")
        if row["role"] == "working"
    }


def cleaning_advice(target: str) -> CleaningAdvice:
    """Return what is advised for a target group; the general rule alone where the table has no row for it.

    Examples
    --------
    >>> cleaning_advice("coccidian").own.removal_hours
    12.0
    >>> cleaning_advice("mite").own is None
    True
    """
    rows = working_rows()
    return CleaningAdvice(target, rows.get(target) if target != "all" else None, rows["all"])
