"""Paper: the microscope sheet, today's care, labels for sample cups, the dose card; typing a sheet in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli import sheet_in
from fecallab.cli.common import JSON, RECORDS, now, number_or_none, one_of, open_folder, read_day, read_time
from fecallab.cli.dose import SYRINGE
from fecallab.cli.dose_options import DOSE_DAY
from fecallab.cli.options import with_options
from fecallab.cli.output import emit
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from fecallab.report.sheet_paper import Paper

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)
sheet_in.register(app)

TO = typer.Option(Path("sheets"), "--to", help="Folder for the sheets (made when missing), or a .pdf file.")
PAPER = typer.Option("a4", "--paper", help="a4 or letter.")
OPEN = typer.Option(False, "--open", help="Open the sheet to print it.")
CONFIRMED = typer.Option([], help="Code of a warning that the vet has confirmed; may be repeated.")


@app.command()
def microscope(
    who: list[str] = typer.Argument(
        None, help="Animals, or codes of samples; all that are due when left out."
    ),
    method: list[str] = typer.Option([], help="Preparation instead of what the cases need; may be repeated."),
    ahead_days: int = typer.Option(7, help="Stools that count from so many days ahead on."),
    to: Path = TO,
    paper: str = PAPER,
    on: str | None = typer.Option(None, "--on", help="For this day, 2026-03-04 (today when left out)."),
    open_it: bool = OPEN,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Print the microscope sheet for the next samples, to be filled in by pencil."""
    from fecallab.cli.sheet_table import column_titles
    from fecallab.domain.exam import METHODS
    from fecallab.report.sheet_bench import draw_bench_sheet
    from fecallab.report.sheet_build import bench_sheet

    day = read_day(on, "--on", future=True)
    size = _paper(paper)
    made = [m for m in METHODS if m != "from_elsewhere"]
    ways = [one_of(m.replace(" ", "_").replace("-", "_"), tuple(made), "--method") for m in method]
    if not 0 <= ahead_days <= 365:
        number_or_none(str(ahead_days), "--ahead-days", low=0, high=365)
    with open_folder(records) as store:
        sheet = bench_sheet(
            store, day, who or (), methods=ways, columns=column_titles(), ahead_days=ahead_days
        )
    pdf = draw_bench_sheet(sheet, size)
    path = _write(pdf, to, f"microscope-{day}.pdf")
    whose = ", ".join(dict.fromkeys(block.animal for block in sheet.blocks))
    said = f"Microscope sheet for {whose}: {number_of(len(sheet.blocks), 'half page', 'half pages')}."
    _said(path, pdf, said, {"animals": [block.code for block in sheet.blocks]}, open_it, as_json)


@app.command()
def care(
    who: list[str] = typer.Argument(None, help="Animals; all with an open case when left out."),
    confirmed: list[str] = CONFIRMED,
    at: str | None = typer.Option(None, help="Work the doses out for this time (now when left out)."),
    to: Path = TO,
    paper: str = PAPER,
    open_it: bool = OPEN,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Print today's care with boxes to tick: weighing, doses, fluids, feeding, warmth, cleaning."""
    from fecallab.report.sheet_care import draw_care_sheet
    from fecallab.report.sheet_today import care_sheet

    moment, size = read_time(at, "--at"), _paper(paper)
    with open_folder(records) as store:
        sheet = care_sheet(store, moment, who or (), confirmed=confirmed)
    pdf = draw_care_sheet(sheet, size)
    path = _write(pdf, to, f"care-{moment:%Y-%m-%d}.pdf")
    doses = [dose for block in sheet.blocks for dose in block.doses]
    drawn = sum(dose.draw_ml is not None for dose in doses)
    due = f"{number_of(len(doses), 'dose')} due, {drawn} worked out" if doses else "no dose due"
    said = f"Care for {number_of(len(sheet.blocks), 'animal')}; {due}."
    lines = [said, *(f"  {d.animal}: {reason}" for d in doses for reason in d.obstacles)]
    found = {
        "animals": [block.code for block in sheet.blocks],
        "doses": [
            {"case": d.case, "draw_ml": d.draw_ml, "reasons": [reason.as_dict() for reason in d.obstacles]}
            for d in doses
        ],
    }
    _said(path, pdf, "\n".join(lines), found, open_it, as_json)


@app.command(name="dose-card")
@with_options(SYRINGE, DOSE_DAY)
def dose_card(
    case: str = typer.Argument(help="Code of the case."),
    confirmed: list[str] = CONFIRMED,
    at: str | None = typer.Option(None, help="Work it out for this time (now when left out)."),
    to: Path = TO,
    paper: str = PAPER,
    open_it: bool = OPEN,
    records: str | None = RECORDS,
    as_json: bool = JSON,
    **options: Any,
) -> None:
    """Print the card for one dose: volume, syringe, warnings; or what stands in the way, without a volume."""
    from fecallab.cli.dose_options import day_of_dose
    from fecallab.report.dose_card import draw_dose_card
    from fecallab.report.sheet_build import sheet_stamp
    from fecallab.report.sheet_doses import dose_block

    moment, size = read_time(at, "--at"), _paper(paper)
    with open_folder(records) as store:
        file = store.case_file(case)
        block = dose_block(file, moment, day=day_of_dose(options, confirmed, store, file))
    pdf = draw_dose_card(block, sheet_stamp(moment.date()), size)
    path = _write(pdf, to, f"dose-card-{block.case}-{moment:%Y-%m-%d}.pdf")
    if block.draw_ml is not None:
        said = f"{block.animal}: draw {block.draw_ml.normalize():f} ml ({block.draw_words})."
    else:
        said = "\n".join(
            [f"{block.animal}: no volume is printed.", *(f"  ({r.code}) {r}" for r in block.obstacles)]
        )
    found = {
        "case": block.case,
        "draw_ml": block.draw_ml,
        "refused": block.draw_ml is None,
        "reasons": [reason.as_dict() for reason in block.obstacles],
    }
    _said(path, pdf, said, found, open_it, as_json)


@app.command()
def labels(
    what: list[str] = typer.Argument(
        None,
        help="Codes of samples, or animals for their next sample; samples without an exam when left out.",
    ),
    copies: int = typer.Option(1, help="Labels of each."),
    skip: int = typer.Option(0, help="Labels at the start of the sheet that are used up."),
    rows: int | None = typer.Option(None, help="Rows of labels on the sheet."),
    columns: int | None = typer.Option(None, help="Columns of labels."),
    top_mm: str | None = typer.Option(None, help="Upper edge of the paper to the first label, mm."),
    left_mm: str | None = typer.Option(None, help="Left edge of the paper to the first label, mm."),
    width_mm: str | None = typer.Option(None, help="Width of a label, mm (fills the sheet when left out)."),
    height_mm: str | None = typer.Option(None, help="Height of a label, mm."),
    gap_across_mm: str | None = typer.Option(None, help="Gap between columns, mm."),
    gap_down_mm: str | None = typer.Option(None, help="Gap between rows, mm."),
    to: Path = TO,
    paper: str = PAPER,
    open_it: bool = OPEN,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Print labels with a QR code for sample cups."""
    from fecallab.domain.errors import BadInput
    from fecallab.records.folder import read_marker
    from fecallab.report.labels import draw_labels, grid_from, labels_for

    size = _paper(paper)
    given = {
        "top_mm": top_mm,
        "left_mm": left_mm,
        "width_mm": width_mm,
        "height_mm": height_mm,
        "gap_across_mm": gap_across_mm,
        "gap_down_mm": gap_down_mm,
    }
    lengths = {k: number_or_none(v, f"--{k.replace('_', '-')}", low=0, high=300) for k, v in given.items()}
    for option, value, low, high in (
        ("--rows", rows, 1, 50),
        ("--columns", columns, 1, 20),
        ("--copies", copies, 1, 100),
        ("--skip", skip, 0, 1000),
    ):
        if value is not None:
            number_or_none(str(value), option, low=low, high=high)
    grid = grid_from(size, rows=rows, columns=columns, **lengths)
    if skip >= grid.on_a_sheet:
        text = f"--skip is {skip}, but a sheet holds {grid.on_a_sheet} labels."
        raise BadInput(text, next="Take a new sheet: --skip 0", code="out-of-range")
    with open_folder(records) as store:
        found = labels_for(store, what or (), read_marker(store.folder).collection, copies)
    pdf = draw_labels(found, grid, now().date(), skip=skip)
    path = _write(pdf, to, f"labels-{now():%Y-%m-%d}.pdf")
    said = f"{number_of(len(found), 'label')}, {grid.columns} × {grid.rows} on a sheet. Print at 100 %, not 'fit to page'."
    _said(path, pdf, said, {"labels": [label.content for label in found]}, open_it, as_json)


def _paper(text: str) -> str:
    from fecallab.report.sheet_model import PAPERS

    return one_of(text, tuple(PAPERS), "--paper")


def _write(pdf: Paper, to: Path, name: str) -> Path:
    """Write a sheet into a folder under its usual name, or to the file that was named."""
    from fecallab.report.sheet_files import write_sheet

    return write_sheet(pdf, to if to.suffix.lower() == ".pdf" else to / name)


def _said(
    path: Path, pdf: Paper, text: str, found: Mapping[str, object], open_it: bool, as_json: bool
) -> None:
    from fecallab.cli.report import open_page

    if open_it:
        open_page(path)
    lines = [text, *_not_printed(pdf.not_printed), f"Written: {path.resolve()}"]
    emit({"sheet": str(path.resolve()), "pages": pdf.pages_count, **found}, "\n".join(lines), as_json)


def _not_printed(letters: Iterable[str]) -> list[str]:
    shown = " ".join(sorted(letters))
    return (
        [f"No font of this computer can print: {shown} (a box stands there; the code tells who it is)."]
        if shown
        else []
    )
