"""``image measure`` and ``image identify``: a size with its uncertainty, and what it may be."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import JSON, number_or_none
from fecallab.cli.image_calibrate import metadata_line, read_point
from fecallab.cli.output import emit
from fecallab.domain.errors import BadInput

if TYPE_CHECKING:
    from fecallab.domain.identify import Candidate
    from fecallab.domain.measuring import Amount, Measured, Scale

_SHAPES = '--line x,y,x,y, --ellipse x,y,long,short,angle (pixels), or --outline "x,y x,y x,y x,y x,y"'


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command()(measure)
    app.command()(identify)


def measure(
    file: Path = typer.Argument(help="A picture."),
    um_per_px: str | None = typer.Option(None, help="Scale from a calibration, µm per pixel."),
    scale_error: str | None = typer.Option(
        None, help="Half of the scale's 95 % interval, µm per pixel, as the calibration tells it."
    ),
    line: str | None = typer.Option(None, help="Two ends: x,y,x,y in pixels."),
    ellipse: str | None = typer.Option(
        None, help="Centre, long and short axis, angle: x,y,long,short,angle."
    ),
    outline: str | None = typer.Option(None, help='Five points or more around it: "x,y x,y …".'),
    on_edge: bool = typer.Option(False, "--on-edge", help="Let --ellipse find the edge in the picture."),
    as_json: bool = JSON,
) -> None:
    """Measure a line, an ellipse or an outline: axes, angle and area, each with its interval."""
    from fecallab.domain.measuring import Scale
    from fecallab.imaging.quality import check_picture
    from fecallab.imaging.read import open_picture, probe

    if sum(shape is not None for shape in (line, ellipse, outline)) != 1:
        raise BadInput("One shape is needed.", next=f"Give one of: {_SHAPES}", code="one-shape")
    info = probe(file)
    size = number_or_none(um_per_px, "--um-per-px", low=1e-4, high=1e4)
    if not size:
        states = (
            f" The file states {info.metadata_um_per_px:g} µm per pixel, which is not used."
            if info.metadata_um_per_px
            else ""
        )
        raise BadInput(
            f"Without a scale there is no size in µm.{states}",
            next="Calibrate first: fecallab image calibrate RULER.jpg --division-um 10, then give --um-per-px.",
            code="no-scale",
        )
    scale = Scale(size, number_or_none(scale_error, "--scale-error", low=0, high=1e4) or 0.0)
    pixels = open_picture(file)
    blur = check_picture(pixels).blur_px or 0.0
    found = _measured(pixels, scale, blur, line, ellipse, outline, on_edge)
    if not (-0.5 <= found.x_px < info.width_px and -0.5 <= found.y_px < info.height_px):
        raise BadInput(
            f"What was measured lies outside the picture ({info.width_px} × {info.height_px} pixels).",
            next="Column first, then row, counted from the upper left corner.",
            code="point-outside",
        )
    payload: dict[str, Any] = {
        "length_um": found.length.value,
        "length_ci95": list(found.length.interval),
        "width_um": found.width.value if found.width else None,
        "width_ci95": list(found.width.interval) if found.width else None,
        "area_um2": found.area.value if found.area else None,
        "area_ci95": list(found.area.interval) if found.area else None,
        "angle_deg": found.angle_deg,
        "angle_half_width_deg": found.angle_half_width_deg,
        "x_px": found.x_px,
        "y_px": found.y_px,
        "blur_px": blur,
        "metadata_um_per_px": info.metadata_um_per_px,
    }
    words = [f"length {_amount(found.length)} µm"]
    if found.width and found.area:
        words += [f"width {_amount(found.width)} µm", f"area {_amount(found.area)} µm²"]
    turn = "no direction" if found.angle_half_width_deg >= 60 else f"at {found.angle_deg:.0f}°"
    lines = [", ".join([*words, turn]) + " (95 % intervals)."]
    if scale.half_width == 0:
        lines.append("  The scale was taken as exact; give --scale-error to count its interval too.")
    if found.roundness_rest > 0.05:
        lines.append("  It is not much like an ellipse: length and width are those of the nearest one.")
    if info.metadata_um_per_px:
        lines.append(metadata_line(info.metadata_um_per_px))
    emit(payload, "\n".join(lines), as_json)


def _amount(one: Amount) -> str:
    digits = 0 if one.value >= 1000 else 1
    return f"{one.value:,.{digits}f} ± {one.half_width:,.{digits}f}"


def _numbers(text: str, option: str, count: int) -> list[float]:
    from fecallab.cli.typed import read_number

    parts = text.split(",")
    if len(parts) != count:
        raise BadInput(
            f"{option} is {text[:60]!r}; {count} numbers with commas between them are asked for.",
            next=f"Shapes are: {_SHAPES}",
            code="shape-numbers",
        )
    return [read_number(part, option) for part in parts]


def _measured(
    pixels: Any,
    scale: Scale,
    blur: float,
    line: str | None,
    ellipse: str | None,
    outline: str | None,
    on_edge: bool,
) -> Measured:
    from fecallab.domain.measuring import measure_ellipse, measure_line, measure_outline
    from fecallab.imaging.grey import working_copy
    from fecallab.imaging.measure import measure_on_edge

    if on_edge and ellipse is None:
        raise BadInput("--on-edge goes with --ellipse.", next=f"Shapes are: {_SHAPES}", code="one-shape")
    if line is not None:
        x, y, to_x, to_y = _numbers(line, "--line", 4)
        return measure_line((x, y), (to_x, to_y), scale, blur_px=blur)
    if outline is not None:
        points = [read_point(word, "--outline") for word in outline.split()]
        return measure_outline(points, scale, blur_px=blur)
    x, y, long, short, angle = _numbers(ellipse or "", "--ellipse", 5)
    by_hand = measure_ellipse((x, y), long, short, angle, scale, blur_px=blur)
    if not on_edge:
        return by_hand
    grey = working_copy(pixels, most_megapixels=260).grey
    found = measure_on_edge(grey, (x, y), long, short, angle, scale)
    if found is None:
        raise BadInput(
            "The picture shows no edge all around near this ellipse.",
            next="Lay the ellipse closer to the object, or leave out --on-edge.",
            code="no-edge",
        )
    return found


def identify(
    host: str = typer.Option(..., help="Host: bearded dragon, corn snake, tortoise …"),
    length_um: str | None = typer.Option(None, help="Length, µm."),
    width_um: str | None = typer.Option(None, help="Width, µm."),
    error_um: str | None = typer.Option(None, help="Half of their 95 % interval, µm (1 if left out)."),
    length_px: str | None = typer.Option(None, help="Length in pixels; needs --um-per-px."),
    width_px: str | None = typer.Option(None, help="Width in pixels; needs --um-per-px."),
    um_per_px: str | None = typer.Option(None, help="Scale from a calibration, µm per pixel."),
    method: str = typer.Option("", help="direct_saline_smear, simple_flotation, sedimentation …"),
    shape: str = typer.Option("", help='Words about its look: "oval, larva inside".'),
    moving: bool | None = typer.Option(None, "--moving/--still", help="Did it move by itself?"),
    as_json: bool = JSON,
) -> None:
    """What may this be? A shortlist with reasons and look-alikes; no diagnosis."""
    from fecallab.domain.identify import refuse_without_scale
    from fecallab.domain.measuring import Amount
    from fecallab.imaging.identify import DEFAULT_ERROR_UM
    from fecallab.imaging.identify import identify as shortlist_of

    sizes: dict[str, Amount | None] = {}
    scale = number_or_none(um_per_px, "--um-per-px", low=1e-4, high=1e4)
    error = number_or_none(error_um, "--error-um", low=0, high=1000)
    for what, um_text, px_text in (("length", length_um, length_px), ("width", width_um, width_px)):
        um = number_or_none(um_text, f"--{what}-um", low=0.05, high=100_000)
        px = number_or_none(px_text, f"--{what}-px", low=0.05, high=100_000)
        if um is not None and px is not None:
            raise BadInput(f"The {what} was given twice.", next="Give it in µm or in pixels.", code="twice")
        refuse_without_scale(px, scale)
        um = px * scale if px is not None and scale else um
        sizes[what] = None if um is None else Amount(um, DEFAULT_ERROR_UM if error is None else error)
    if sizes["length"] is None and sizes["width"] is not None:
        raise BadInput("A width alone names nothing.", next="Give the length too.", code="width-alone")
    if sizes["length"] and sizes["width"] and sizes["width"].value > sizes["length"].value:
        sizes["length"], sizes["width"] = sizes["width"], sizes["length"]
    found = shortlist_of(host, **sizes, method=method, shape=shape, moves=moving)
    payload = {
        "fits": [one.as_dict() for one in found.fits],
        "nearly": [one.as_dict() for one in found.nearly],
        "left_out": dict(found.left_out),
        "named_by_size": found.named_by_size,
        "diagnosis": False,
    }
    lines = ["A shortlist, no diagnosis: your vet decides. In no order of likelihood."]
    if not found.named_by_size:
        lines.append("No size was given, so nothing is named by size.")
    lines.append(f"Fits ({len(found.fits)}):" if found.fits else "Nothing in the table fits.")
    for one in found.fits:
        lines += _candidate_lines(one)
    if found.nearly:
        lines.append("Does not fit, but is near:")
        lines += [f"  {one.name} ({one.key}): {'; '.join(one.reasons)}" for one in found.nearly]
    if found.left_out:
        left = ", ".join(f"{count} {word}" for word, count in sorted(found.left_out.items()))
        lines.append(f"Left out: {left}.")
    emit(payload, "\n".join(lines), as_json)


def _candidate_lines(one: Candidate) -> list[str]:
    passes = ", passes through: opens nothing" if one.passes_through else ""
    lines = [f"  {one.name} ({one.key}; {one.eye_group}{passes})"]
    lines += [f"      {reason}" for reason in one.reasons]
    for other in one.tells_apart:
        lines.append(f"      not {other.name}" + (f": that is {other.look}" if other.look else ""))
    lines += [f"      next: {step}" for step in one.next]
    return lines
