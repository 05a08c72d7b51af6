"""Report pages: one self-contained file for an exam, a case with its exams, or a contact group of arrivals."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from fecallab.cli.common import JSON, ON, RECORDS, open_folder, read_day
from fecallab.cli.output import emit, say

if TYPE_CHECKING:
    from datetime import date

    from fecallab.domain.housing import Arrival
    from fecallab.records.reader import Reader

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

TO = typer.Option(Path("reports"), "--to", help="Folder for the pages (made when missing).")
OPEN = typer.Option(False, "--open", help="Open the page in the browser.")


@app.command()
def exam(
    code: str = typer.Argument(help="Code of the exam."),
    to: Path = TO,
    open_it: bool = OPEN,
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Write the page of one exam."""
    with open_folder(records) as store:
        page = write_exam(store, store.exam(code).code, to, read_day(on, "--on"))
    _said([page], open_it, as_json)


@app.command()
def case(
    code: str = typer.Argument(help="Code of the case."),
    to: Path = TO,
    open_it: bool = OPEN,
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Write the page of one case, and of every exam that it names."""
    with open_folder(records) as store:
        pages = write_case(store, store.case(code).code, to, read_day(on, "--on"))
    _said(pages, open_it, as_json)


@app.command()
def arrival(
    code: str = typer.Argument(help="Code or name of the arrival."),
    animal: str = typer.Option("", help="Only the contact group of this animal."),
    to: Path = TO,
    open_it: bool = OPEN,
    on: str | None = ON,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Write a page for every contact group of an arrival, for the buyer or the vet."""
    from fecallab.domain.errors import BadInput

    with open_folder(records) as store, store.at_one_moment() as reader:
        known = reader.arrival(code)
        of = reader.animal(animal).code if animal else ""
        pages = write_arrival(reader, known, to, read_day(on, "--on"), of)
    if not pages:
        who = f"{animal} is in no group" if animal else "Nobody is"
        text = f"{who} of {known.code} on that day."
        raise BadInput(text, next=f"Type: fecallab arrivals show {known.code}", code="no-member")
    _said(pages, open_it, as_json)


def write_arrival(store: Reader, arrival: Arrival, folder: Path, today: date, of: str = "") -> list[Path]:
    """Write a page for every contact group of an arrival."""
    from fecallab.report.files import write_page
    from fecallab.report.group_page import group_pages, render_group

    folder.mkdir(parents=True, exist_ok=True)
    return [
        write_page(folder / f"{name}.html", render_group(page))
        for name, page in group_pages(store, arrival, today, of=of)
    ]


def write_exam(store: Reader, code: str, folder: Path, today: date) -> Path:
    """Write one exam's page into a folder."""
    from fecallab.report.build import exam_page
    from fecallab.report.files import write_page
    from fecallab.report.page import render_exam

    folder.mkdir(parents=True, exist_ok=True)
    return write_page(folder / f"exam-{code}.html", render_exam(exam_page(store, code, today)))


def write_case(store: Reader, code: str, folder: Path, today: date) -> list[Path]:
    """Write one case's page and the pages of its exams; the case comes first."""
    from fecallab.report.build import case_page
    from fecallab.report.files import write_page
    from fecallab.report.page import render_case

    folder.mkdir(parents=True, exist_ok=True)
    page = case_page(store, code, today)
    pages = [write_page(folder / f"case-{code}.html", render_case(page))]
    for number, point in enumerate(page.exams, start=1):
        say(f"  page {number} of {len(page.exams)}: exam {point.code}")
        pages.append(write_exam(store, point.code, folder, today))
    return pages


def _said(pages: list[Path], open_it: bool, as_json: bool) -> None:
    if open_it:
        open_page(pages[0])
    text = "\n".join(["Written:", *(f"  {page.resolve()}" for page in pages)])
    emit({"pages": [str(page.resolve()) for page in pages]}, text, as_json)


def open_page(page: Path) -> bool:
    """Open a page where there is a desktop; return whether it was tried."""
    import os
    import sys
    import webbrowser

    desktop = (
        sys.platform in ("win32", "darwin") or os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    )
    if not desktop or os.environ.get("CI"):
        return False
    return webbrowser.open(page.resolve().as_uri())
