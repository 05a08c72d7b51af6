"""How many of a target one preparation showed: the mean per field, the share that was read, the grade."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from fecallab.domain.chamber import chamber_count
from fecallab.domain.counting import FieldDensity, field_density
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Exam, Preparation, Reading
from fecallab.domain.field import covered_share, field_diameter_mm
from fecallab.domain.grading import Grade, GradingScale, grade
from fecallab.domain.verdict import ruled


@dataclass(frozen=True)
class Burden:
    """How many of a target group one preparation showed at one objective.

    ``per_field`` is None where no single fields were read; ``grade`` None where no scale fits what was read.
    """

    preparation: str
    method: str
    objective: float | None
    total: int
    per_field: FieldDensity | None
    cover_share: float | None
    grade: Grade | None = None
    per_gram: float | None = None
    per_gram_ci95: tuple[float, float] | None = None
    cautions: tuple[str, ...] = field(default=())


def reading_share(reading: Reading, preparation: Preparation) -> float | None:
    """Return the share of the cover glass that a reading saw; None when it cannot be told."""
    if reading.kind == "sweep":
        return reading.cover_share
    if reading.kind == "field" and reading.objective and reading.field_number:
        diameter = field_diameter_mm(reading.field_number, reading.objective)
        return covered_share(diameter, cover_glass=preparation.cover_glass)
    return None


def share_at(preparation: Preparation, objective: float) -> float | None:
    """Return the share of the cover glass read at this objective or a stronger one, at most 1."""
    shares = [
        share
        for reading in preparation.readings
        if reading.objective is not None and reading.objective >= objective
        if (share := reading_share(reading, preparation)) is not None
    ]
    return min(1.0, sum(shares)) if shares else None


def burdens_of(
    exam: Exam, target: str, group_of: Mapping[str, str], scale: GradingScale | None = None
) -> tuple[Burden, ...]:
    """Return the burden of a target group in every preparation and at every objective that was used.

    What vets have named takes the place of the keeper's names.
    """
    found: list[Burden] = []
    for preparation in ruled(exam).preparations:
        powers = list(dict.fromkeys(reading.objective for reading in preparation.readings))
        for power in powers:
            readings = [reading for reading in preparation.readings if reading.objective == power]
            found.append(_burden(preparation, readings, power, target, group_of, scale))
    return tuple(found)


def _burden(
    preparation: Preparation,
    readings: Sequence[Reading],
    power: float | None,
    target: str,
    group_of: Mapping[str, str],
    scale: GradingScale | None,
) -> Burden:
    def seen(reading: Reading) -> int:
        return sum(n for name, n in reading.tally().items() if group_of.get(name, name) == target)

    total = sum(seen(reading) for reading in readings)
    single = [seen(reading) for reading in readings if reading.kind == "field"]
    density = field_density(single) if single else None
    shares = [s for reading in readings if (s := reading_share(reading, preparation)) is not None]
    share = min(1.0, sum(shares)) if shares else None
    burden = Burden(preparation.code, preparation.method, power, total, density, share)
    if preparation.sample_g and preparation.suspension_ml and preparation.counted_ml:
        answer = chamber_count(total, preparation.sample_g, preparation.suspension_ml, preparation.counted_ml)
        return replace(burden, per_gram=answer.epg, per_gram_ci95=answer.ci95)
    found = _grade(scale, power, density, total, share)
    if found is not None and "wet mount" in found.scale_name and "flotation" in preparation.method:
        caution = "the scale is made for wet mounts; a float gathers eggs, so the grade reads too high"
        burden = replace(burden, cautions=(caution,))
    return replace(burden, grade=found)


def _grade(
    scale: GradingScale | None,
    power: float | None,
    density: FieldDensity | None,
    total: int,
    share: float | None,
) -> Grade | None:
    if scale is None or (scale.unit == "per_10x_field" and power != 10):
        return None
    mean = density.mean_per_field if density is not None else None
    try:
        return grade(scale, mean=mean, seen=total, whole_cover_glass=share is not None and share >= 1)
    except BadInput:
        return None
