"""``image detect``: proposals on pictures, for the person to confirm; nothing is recorded or counted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import JSON, number_or_none
from fecallab.cli.out_file import checked_out, write_whole
from fecallab.cli.output import emit, say
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from fecallab.imaging.detect.propose import Detection

UNCONFIRMED = "unconfirmed"
"""Name of a proposal in a table of marks: it is no organism, so that it cannot be recorded before it is named."""

MOST = 400
"""Proposals of one picture that are listed (own choice, no source)."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(detect)


def detect(
    files: list[Path] = typer.Argument(help="Pictures."),
    um_per_px: str | None = typer.Option(
        None, help="Scale from a calibration, µm per pixel, of all of them."
    ),
    out: Path | None = typer.Option(None, help="Write the proposals as a table of marks (.csv)."),
    threshold: str | None = typer.Option(None, help="Smallest score, 0 to 1; lower shows more."),
    host: str = typer.Option("", help="Host, for the words beside each proposal: bearded dragon …"),
    as_json: bool = JSON,
) -> None:
    """Propose where to look: outlines from 8 µm on that could be an organism. You decide; nothing is counted."""
    from fecallab.imaging.read import probe

    scale = number_or_none(um_per_px, "--um-per-px", low=1e-4, high=1e4)
    least = number_or_none(threshold, "--threshold", low=0, high=1)
    target = checked_out(out, (".csv",), files) if out is not None else None
    infos = [probe(file) for file in files]
    if not scale:
        stated = next((info.metadata_um_per_px for info in infos if info.metadata_um_per_px), None)
        states = f" The file states {stated:g} µm per pixel, which is not used." if stated else ""
        raise BadInput(
            f"Without a scale nothing can be told by its size.{states}",
            next="Calibrate first: fecallab image calibrate RULER.jpg --division-um 10, then give --um-per-px.",
            code="no-scale",
        )
    found = [_one(file, scale, least, len(files) > 1) for file in files]
    if target is not None:
        _write_table(target, files, found)
    images = [
        {
            "file": file.name,
            "objects": [one.as_dict() for one in detection.proposals],
            "lit_fraction": detection.lit_fraction,
            "sharpness": detection.sharpness,
            "seconds": detection.seconds,
            "remark": detection.remark,
        }
        for file, detection in zip(files, found, strict=True)
    ]
    lines = ["Proposals for your eyes: unconfirmed, and never counted."]
    for file, detection in zip(files, found, strict=True):
        lines += _lines(file, detection, host)
    if target is not None:
        lines.append(f"Wrote {target}. Put a name to each before you record it.")
    emit({"images": images, "confirmed": False}, "\n".join(lines), as_json)


def _one(file: Path, scale: float, least: float | None, many: bool) -> Detection:
    from fecallab.imaging.detect import propose
    from fecallab.imaging.read import open_picture

    def tell(done: int, parts: int) -> None:
        if parts > 1:
            say(f"{file.name}: part {done} of {parts}")

    found = propose(open_picture(file), scale, threshold=least, most=MOST, progress=tell)
    if many:
        say(f"{file.name}: {number_of(len(found.proposals), 'proposal')}")
    return found


def _lines(file: Path, detection: Detection, host: str) -> list[str]:
    from fecallab.imaging.detect.words import words_for

    lines = [f"{file.name}: {number_of(len(detection.proposals), 'proposal')}."]
    if len(detection.proposals) == MOST:
        lines.append("  Those are the strongest; there are more. Cut the picture, or raise --threshold.")
    if detection.remark:
        lines.append(f"  {detection.remark}")
    for one in detection.proposals:
        size = f"{one.length_um:.1f} × {one.width_um:.1f} µm (± {one.length_half_width_um:.1f})"
        words = words_for(one, host).words
        lines.append(f"  at {one.x_px:.0f},{one.y_px:.0f}: {size}, {words}")
    return lines


def _write_table(target: Path, files: list[Path], found: list[Detection]) -> None:
    import csv
    import io

    store = io.StringIO()
    columns = ("picture", "x_px", "y_px", "length_um", "width_um", "angle_deg", "score", "name", "sure")
    table = csv.DictWriter(store, columns, lineterminator="\n")
    table.writeheader()
    for file, detection in zip(files, found, strict=True):
        for one in detection.proposals:
            row: dict[str, Any] = {
                "picture": file.name,
                **one.as_dict(),
                "name": UNCONFIRMED,
                "sure": "false",
            }
            table.writerow(row)
    write_whole(target, store.getvalue().encode("utf-8"))
