"""``image calibrate``: the scale from a stage micrometer, a grid, a known object or the round field."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import JSON, number_or_none
from fecallab.cli.output import emit
from fecallab.domain.errors import BadInput

if TYPE_CHECKING:
    from fecallab.domain.field_diameter import FieldDiameter
    from fecallab.domain.measuring import Point
    from fecallab.imaging.calibrate import Calibration

_WAYS = (
    "--division-um 10 (stage micrometer), --grid-um 250, --known-um 100 --from x,y --to x,y, or --lit-circle"
)


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(calibrate)


def read_point(text: str | None, option: str) -> Point:
    """Return column and row as typed: ``120.5,88``.

    Examples
    --------
    >>> read_point("120.5,88", "--from")
    (120.5, 88.0)
    """
    from fecallab.cli.typed import read_number

    parts = (text or "").replace(";", ",").split(",")
    if len(parts) != 2:
        raise BadInput(
            f"{option} is {(text or '')[:40]!r}; a point is its column and row.",
            next=f"Type: {option} 120,88",
            code="not-a-point",
        )
    x, y = (read_number(part, option) for part in parts)
    if not (abs(x) <= 1e6 and abs(y) <= 1e6):
        raise BadInput(
            f"{option} lies far outside any picture.", next="Check the numbers.", code="not-a-point"
        )
    return x, y


def metadata_line(um_per_px: float) -> str:
    """Say what the file states about its scale, and that it is not used."""
    return (
        f"  The file itself states {um_per_px:g} µm per pixel: shown, not used, since it does not know the"
        " objective."
    )


def calibrate(
    file: Path = typer.Argument(
        help="A picture of a stage micrometer, a grid, a known object, or a round field."
    ),
    division_um: str | None = typer.Option(None, help="Stage micrometer: µm between its finest lines (10)."),
    grid_um: str | None = typer.Option(None, help="Counting grid: µm between neighbouring lines."),
    about_px: str | None = typer.Option(
        None, help="Roughly how many pixels apart they are, if it is unclear."
    ),
    known_um: str | None = typer.Option(None, help="Known distance between --from and --to, µm."),
    start: str | None = typer.Option(None, "--from", help="One end: column,row in pixels."),
    end: str | None = typer.Option(None, "--to", help="The other end: column,row."),
    lit_circle: bool = typer.Option(
        False, "--lit-circle", help="Use the round field of a phone at the eyepiece."
    ),
    field_number: str | None = typer.Option(None, help="Number on the eyepiece: 18, 20, 22 (mm)."),
    objective: str | None = typer.Option(None, help="Objective of this picture: 4, 10, 40."),
    ruler_mm: str | None = typer.Option(None, help="Millimetres of a plain ruler that span the field …"),
    ruler_objective: str | None = typer.Option(None, help="… under this (the lowest) objective: 4."),
    as_json: bool = JSON,
) -> None:
    """How many µm is one pixel of this picture? With an interval."""
    from fecallab.imaging.calibrate import by_grid, by_known_object, by_lit_circle, by_ruler
    from fecallab.imaging.read import open_picture, probe

    round_field = lit_circle or ruler_mm is not None
    ways = [division_um is not None, grid_um is not None, known_um is not None, round_field]
    if sum(ways) != 1:
        raise BadInput(
            f"{'No way' if not any(ways) else 'More than one way'} to calibrate was named; one is needed.",
            next=f"Give one of: {_WAYS}",
            code="calibrate-how",
        )
    near = number_or_none(about_px, "--about-px", low=3, high=20_000)
    info = probe(file)
    found: Calibration
    if division_um is not None:
        um = number_or_none(division_um, "--division-um", low=0.01, high=100_000)
        found = by_ruler(open_picture(file), um or 0.0, near)
    elif grid_um is not None:
        um = number_or_none(grid_um, "--grid-um", low=0.01, high=100_000)
        found = by_grid(open_picture(file), um or 0.0, near)
    elif known_um is not None:
        um = number_or_none(known_um, "--known-um", low=0.01, high=1_000_000)
        ends = read_point(start, "--from"), read_point(end, "--to")
        for option, (x, y) in zip(("--from", "--to"), ends, strict=True):
            if not (-0.5 <= x < info.width_px and -0.5 <= y < info.height_px):
                raise BadInput(
                    f"{option} {x:g},{y:g} lies outside the picture ({info.width_px} × {info.height_px} pixels).",
                    next="Column first, then row, counted from the upper left corner.",
                    code="point-outside",
                )
        found = by_known_object(um or 0.0, *ends)
    else:
        found = by_lit_circle(
            open_picture(file), _field_diameter(field_number, objective, ruler_mm, ruler_objective)
        )
    payload: dict[str, Any] = {
        "um_per_px": found.um_per_px,
        "ci95": list(found.ci95),
        "angle_deg": found.angle_deg,
        "how": found.how,
        "lines": found.lines,
        "remarks": list(found.remarks),
        "metadata_um_per_px": info.metadata_um_per_px,
        "field_diameter_px": found.circle.diameter_px if found.circle else None,
        "lit_fraction": found.circle.lit_fraction if found.circle else None,
        "field_area_mm2": found.circle.area_mm2(found.um_per_px) if found.circle else None,
    }
    import numpy as np

    half = (found.ci95[1] - found.ci95[0]) / 2
    share = 100 * half / found.um_per_px
    give_or_take = np.format_float_positional(half, precision=2, fractional=False, trim="-")
    lines = [
        f"{found.um_per_px:.5g} µm per pixel ± {give_or_take} (95 %, {share:.2g} % of it), from {found.how}."
    ]
    if found.angle_deg is not None:
        lines.append(f"  The ruler lies at {found.angle_deg:.1f}°.")
    lines += [f"  {remark}" for remark in found.remarks]
    if info.metadata_um_per_px:
        lines.append(metadata_line(info.metadata_um_per_px))
    lines.append(
        "  It holds for this microscope, objective, camera and picture size, unless zoomed or cropped."
    )
    emit(payload, "\n".join(lines), as_json)


def _field_diameter(
    field_number: str | None, objective: str | None, ruler_mm: str | None, ruler_objective: str | None
) -> FieldDiameter:
    from fecallab.domain.field_diameter import field_from_numbers, field_from_ruler

    power = number_or_none(objective, "--objective", low=0.25, high=250)
    if ruler_mm is not None:
        read = number_or_none(ruler_mm, "--ruler-mm", low=0.05, high=100)
        lowest = number_or_none(ruler_objective, "--ruler-objective", low=0.25, high=250) or power
        if lowest is None:
            raise BadInput(
                "Under which objective was the ruler read?",
                next="Give --ruler-objective 4 (and --objective for this picture).",
                code="ruler-objective-missing",
            )
        return field_from_ruler(read or 0.0, lowest, power)
    number = number_or_none(field_number, "--field-number", low=4, high=40)
    if number is None or power is None:
        raise BadInput(
            "The round field has a size only with the numbers on eyepiece and objective.",
            next="Give --field-number 20 --objective 40, or --ruler-mm 4.5 --ruler-objective 4 --objective 40.",
            code="field-number-missing",
        )
    return field_from_numbers(number, power)
