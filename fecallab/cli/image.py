"""Pictures without records: calibrate, check, measure, name, draw marks, contact sheets."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli import (
    image_calibrate,
    image_detect,
    image_detect_all,
    image_learn,
    image_measure,
    image_motility,
)
from fecallab.cli.common import JSON, number_or_none
from fecallab.cli.out_file import checked_out, write_whole
from fecallab.cli.output import emit
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from fecallab.domain.exam import Mark

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)
image_calibrate.register(app)
image_measure.register(app)
image_detect.register(app)
image_detect_all.register(app)
image_learn.register(app)
image_motility.register(app)


@app.command()
def check(
    file: Path = typer.Argument(help="A picture."),
    um_per_px: str | None = typer.Option(None, help="Scale, µm per pixel, for the area of the round field."),
    cover_glass: str = typer.Option("22x22", help="18x18, 20x20, 22x22 or 22x50 mm."),
    as_json: bool = JSON,
) -> None:
    """Is a picture good enough to read? Focus, light, clipping, shake, and the round field."""
    from fecallab.domain.field import cover_glass_area_mm2
    from fecallab.imaging.quality import check_picture
    from fecallab.imaging.read import open_picture, probe

    scale = number_or_none(um_per_px, "--um-per-px", low=1e-4, high=1e4)
    glass = cover_glass_area_mm2(cover_glass)
    info = probe(file)
    pixels = open_picture(file)
    found = check_picture(pixels)
    circle = found.circle
    area_px = circle.lit_area_px if circle else pixels.shape[0] * pixels.shape[1]
    area_mm2 = area_px * (scale / 1000) ** 2 if scale else None
    payload = {
        "file": file.name,
        "verdict": found.verdict,
        "findings": [one.as_dict() for one in found.findings],
        "sharpness": found.sharpness,
        "blur_px": found.blur_px,
        "shake": found.shake,
        "exposure": found.exposure,
        "white_share": found.white_share,
        "black_share": found.black_share,
        "unevenness": found.unevenness,
        "lit_fraction": found.lit_fraction,
        "lit_circle": None
        if circle is None
        else {"x_px": circle.x_px, "y_px": circle.y_px, "diameter_px": circle.diameter_px, "arc": circle.arc},
        "area_mm2": area_mm2,
        "cover_glass_share": None if area_mm2 is None else min(1.0, area_mm2 / glass),
        "width_px": info.width_px,
        "height_px": info.height_px,
        "frames": info.frames,
        "metadata_um_per_px": info.metadata_um_per_px,
    }
    sharp = "cannot be told" if found.sharpness is None else f"{found.sharpness:.2f} of 1"
    lines = [f"{file.name}: {found.verdict}. Sharpness {sharp}, ground {100 * found.exposure:.0f} % bright."]
    lines += [f"  - {one.text} {one.next}" for one in found.findings]
    if circle:
        lines.append(
            f"  Round field {circle.diameter_px:.0f} pixels across; {100 * found.lit_fraction:.0f} % of the"
            " picture is lit."
        )
    if area_mm2 is not None:
        share = 100 * area_mm2 / glass
        lines.append(f"  It shows {area_mm2:.3g} mm², {share:.2g} % of a {cover_glass} mm cover glass.")
    if info.frames > 1:
        lines.append(f"  The file holds {info.frames} pages; only the first was looked at.")
    if info.metadata_um_per_px and not scale:
        lines.append(image_calibrate.metadata_line(info.metadata_um_per_px))
    emit(payload, "\n".join(lines), as_json)


@app.command()
def overlay(
    file: Path = typer.Argument(help="A picture."),
    marks: Path = typer.Option(..., help="Marks on it: CSV or W3C Web Annotation JSON."),
    um_per_px: str | None = typer.Option(None, help="Scale, µm per pixel; without it no scale bar is drawn."),
    out: Path | None = typer.Option(
        None, help="Where to write (.png); beside the picture's name if left out."
    ),
    as_json: bool = JSON,
) -> None:
    """Draw outlines, numbers and a scale bar over a picture, as a new PNG."""
    import io

    from PIL import Image

    from fecallab.imaging.contact_sheet import picture_marks
    from fecallab.imaging.overlay import draw_overlay
    from fecallab.imaging.read import open_picture
    from fecallab.reference.organisms import group_of

    scale = number_or_none(um_per_px, "--um-per-px", low=1e-4, high=1e4)
    target = checked_out(out or Path(f"{file.stem}-marked.png"), (".png",), [file, marks])
    found = _marks_of(marks, [file])[0]
    groups = [group_of(one.name) for one in found]
    drawn = draw_overlay(open_picture(file), picture_marks(found, range(1, len(found) + 1), groups), scale)
    store = io.BytesIO()
    Image.fromarray(drawn).save(store, "PNG")
    write_whole(target, store.getvalue())
    payload = {"file": str(target), "marks": len(found), "scale_bar": scale is not None}
    without = "" if scale else " No scale bar: give --um-per-px for one."
    emit(payload, f"Wrote {target}: {number_of(len(found), 'mark')}.{without}", as_json)


@app.command("contact-sheet")
def contact_sheet(
    files: list[Path] = typer.Argument(help="Pictures that the marks are on."),
    marks: Path = typer.Option(..., help="Marks on them: CSV or W3C Web Annotation JSON."),
    um_per_px: str | None = typer.Option(None, help="Scale of all of them, µm per pixel."),
    out: Path = typer.Option(..., help="Where to write: .png for a messenger, .html to print."),
    title: str = typer.Option("", help="First line; the question is asked if left out."),
    names: bool = typer.Option(False, "--names", help="Also write your own names beside the numbers."),
    as_json: bool = JSON,
) -> None:
    """Cut out every mark with a number, so that a vet can answer by number."""
    from fecallab.imaging.contact_sheet import SheetField, numbered, sheet_html, sheet_png
    from fecallab.imaging.read import open_picture

    scale = number_or_none(um_per_px, "--um-per-px", low=1e-4, high=1e4)
    target = checked_out(out, (".png", ".html"), [*files, marks])
    on_each = _marks_of(marks, files)
    fields = [
        SheetField(file.name, open_picture(file), scale, tuple(found))
        for file, found in zip(files, on_each, strict=True)
        if found
    ]
    given = numbered(fields)
    if target.suffix.lower() == ".png":
        write_whole(target, sheet_png(fields, title=title, with_names=names))
    else:
        write_whole(target, sheet_html(fields, title=title, with_names=names).encode("utf-8"))
    listed = [
        {"number": number, "picture": field.name, "x_px": mark.x_px, "y_px": mark.y_px, "name": mark.name}
        for field, numbers in given
        for number, mark in zip(numbers, field.marks, strict=True)
    ]
    emit(
        {"file": str(target), "marks": listed},
        f"Wrote {target}: {number_of(len(listed), 'numbered mark')} in {number_of(len(fields), 'field')}.",
        as_json,
    )


def _marks_of(marks: Path, files: list[Path]) -> list[list[Mark]]:
    """Return the marks of each picture; marks that name no picture belong to the only one."""
    from fecallab.imaging.marks_file import read_marks

    names = [file.name for file in files]
    if len(set(names)) < len(names):
        raise BadInput(
            "Two pictures have the same name, so their marks cannot be told apart.",
            next="Rename one of them, or make two sheets.",
            code="pictures-same-name",
        )
    result: list[list[Any]] = [[] for _ in files]
    others = set()
    for picture, mark in read_marks(marks):
        if picture in names:
            result[names.index(picture)].append(mark)
        elif not picture and len(files) == 1:
            result[0].append(mark)
        else:
            others.add(picture or "(no name)")
    if not any(result):
        on = f" They are on {', '.join(sorted(others)[:3])}." if others else ""
        raise BadInput(
            f"{marks.name} holds no marks on {', '.join(names[:3])}.{on}",
            next="Name the picture that the marks are on.",
            code="no-marks",
        )
    return result
