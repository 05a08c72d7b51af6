"""The grading scales, typed, and how many fields a reading takes."""

from __future__ import annotations

from functools import cache

from fecallab.domain.errors import BadInput
from fecallab.domain.grading import GradeStep, GradingScale, bound
from fecallab.domain.organism import is_target_group
from fecallab.reference.tables import parts, read_rows

LOWER_RULES = ("at least", "more than")
UPPER_RULES = ("below", "up to", "")


def _step(row: dict[str, str]) -> GradeStep:
    return GradeStep(
        word=row["grade"],
        unit=row["unit"],
        lower=bound(row["lower"]),
        upper=bound(row["upper"]),
        lower_open=row["lower_rule"] == "more than",
        upper_closed=row["upper_rule"] == "up to",
        rank=int(row["rank"]),
        published_as=row["published_as"],
        source=row["source"],
        source_kind=row["source_kind"],
    )


@cache
def grading_scales() -> dict[str, GradingScale]:
    """Return the scales by key, steps from the highest to the lowest."""
    rows: dict[str, list[dict[str, str]]] = {}
    for row in read_rows("grading_scales"):
        rows.setdefault(row["scale"], []).append(row)
    scales = {}
    for key, members in rows.items():
        first = members[0]
        steps = tuple(sorted(map(_step, members), key=lambda step: -step.rank))
        scales[key] = GradingScale(
            key=key,
            name=first["scale_name"],
            unit=steps[0].unit,
            stages=parts(first["stages"]),
            groups=parts(first["groups"]),
            use=first["use"],
            people_only=first["people_only"] == "yes",
            steps=steps,
            note=first["scale_note"],
        )
    return scales


def grading_scale(key: str) -> GradingScale:
    """Return one scale.

    Raises
    ------
    BadInput
        When there is no such scale.

    Examples
    --------
    >>> grading_scale("eggs_per_10x_field").use
    'default'
    """
    found = grading_scales().get(key)
    if found is None:
        raise BadInput(
            f"There is no grading scale '{key}'.",
            next=f"Name one of: {', '.join(grading_scales())}",
            code="scale-unknown",
        )
    return found


def default_scale(group: str, stage: str) -> GradingScale | None:
    """Return the scale that is used when nobody chose one, or None where none is published.

    There is none for protozoa: their counts stay counts unless somebody chooses the house scale.

    Examples
    --------
    >>> default_scale("oxyurid", "egg").key
    'eggs_per_10x_field'
    >>> default_scale("flagellate", "trophozoite") is None
    True
    """
    if not is_target_group(group):
        return None
    for scale in grading_scales().values():
        fits_group = "any" in scale.groups or group in scale.groups
        if scale.use == "default" and stage in scale.stages and fits_group:
            return scale
    return None
