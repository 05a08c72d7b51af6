"""How a method is shown to find anything: which controls, how often, and what they must reach."""

from __future__ import annotations

from functools import cache

from fecallab.domain.control import ControlLimits, ControlPlanRow
from fecallab.domain.errors import BadInput
from fecallab.reference.tables import number, read_rows


@cache
def control_limits() -> ControlLimits:
    """Return what a control run must reach.

    Examples
    --------
    >>> control_limits().gravity_tolerance
    0.01
    """
    value = {row["key"]: number(row["value"]) or 0.0 for row in read_rows("control_limits")}
    return ControlLimits(
        band_level=value["band-level"],
        strong_mean=value["strong-enough"],
        zero_stops_from_mean=value["zero-always-stops"],
        own_runs=int(value["own-runs"]),
        own_warn_sd=value["own-warn"],
        own_stop_sd=value["own-stop"],
        gravity_tolerance=value["gravity-tolerance"],
        scale_share=value["scale-agreement"],
    )


@cache
def control_plan() -> dict[str, ControlPlanRow]:
    """Return how often each kind of control that is recorded is done, by kind.

    Examples
    --------
    >>> control_plan()["known positive"].longest_days
    91
    """
    return {
        row["kind"]: ControlPlanRow(
            kind=row["kind"],
            how=row["how"],
            longest_days=_whole(row["longest_days"]),
            while_examining_days=_whole(row["while_examining_days"]),
            each_new_bottle=row["each_new_bottle"] == "yes",
            accept=row["accept"],
            if_it_fails=row["if_it_fails"],
        )
        for row in read_rows("control_plan")
        if row["recorded"] == "yes"
    }


def _whole(text: str) -> int | None:
    return int(text) if text else None


def gravity_aimed_at(solution: str) -> tuple[str, float]:
    """Return the key and the gravity that a fluid is aimed at, by its key or the beginning of its name.

    Raises
    ------
    BadInput
        When no fluid or more than one gravity fits; the fluids that the table knows are named.

    Examples
    --------
    >>> gravity_aimed_at("sugar")
    ('sugar_sheather', 1.27)
    """
    asked = " ".join(solution.replace("_", " ").casefold().split())
    rows = [row for row in read_rows("flotation_solutions") if row["target_sg"]]
    exact = [row for row in rows if row["key"].replace("_", " ") == asked]
    near = exact or [
        row
        for row in rows
        if asked and row["key"].replace("_", " ").startswith(asked.replace("sulphate", "sulfate"))
    ]
    if len({row["target_sg"] for row in near}) == 1:
        return near[0]["key"], float(near[0]["target_sg"])
    choices = ", ".join(f"{row['key']} {row['target_sg']}" for row in near or rows)
    what = "can mean several fluids" if near else "is no fluid whose gravity is known here"
    raise BadInput(
        f"{solution!r} {what}: {choices}.",
        next="Give the gravity that you aim at: --expected 1.18",
        code="gravity-not-known",
    )
