"""Labels for sample cups: code, animal, lines for the dates, and a QR code that names the collection too."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

import segno

from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import say_time
from fecallab.report.sheet_model import PAPERS, Label, LabelGrid
from fecallab.report.sheet_paper import POINT_MM, Paper

if TYPE_CHECKING:
    from fecallab.records.reader import Reader

SCHEME = "fecallab"
COLLECTION_LETTERS = 8
"""So much of a collection's identity stands in a code: two collections share it by chance in 1 of 4 billion."""
ERROR_LEVEL = "M"
"""15 % of a code may be unreadable (ISO/IEC 18004, from memory)."""
QUIET_MODULES = 4
"""White edge of a QR code in modules (ISO/IEC 18004, from memory)."""
SMALLEST_MODULE_MM = 0.3
"""Smaller squares are not read surely from a phone's picture of a print (common practice, no source)."""
GRIDS = {
    "a4": LabelGrid(
        paper="a4",
        rows=7,
        columns=3,
        top_mm=15.1,
        left_mm=7.2,
        width_mm=63.5,
        height_mm=38.1,
        gap_across_mm=2.5,
    ),
    "letter": LabelGrid(
        paper="letter",
        rows=10,
        columns=3,
        top_mm=12.7,
        left_mm=4.8,
        width_mm=66.7,
        height_mm=25.4,
        gap_across_mm=3.2,
    ),
}
"""A common sheet of each paper: 21 labels on A4, 30 on Letter (usual in shops; from memory)."""


def label_content(collection: str, code: str) -> str:
    """Return what a QR code says.

    Examples
    --------
    >>> label_content("3f2a91bc-77aa-4b1e-9f00-000000000000", "S12")
    'fecallab:3f2a91bc:S12'
    """
    return f"{SCHEME}:{collection[:COLLECTION_LETTERS].lower()}:{code.upper()}"


def code_from_label(text: str, collection: str) -> str:
    """Return the code in what a scanner read; a text that is no label of ours is returned as it is.

    Raises
    ------
    BadInput
        For a label of another collection.

    Examples
    --------
    >>> code_from_label("fecallab:3f2a91bc:S12", "3f2a91bc-77aa"), code_from_label(" s12 ", "3f2a91bc-77aa")
    ('S12', 's12')
    """
    given = text.strip()
    scheme, _, rest = given.partition(":")
    whose, _, code = rest.partition(":")
    if scheme.casefold() != SCHEME or not code:
        return given
    if whose.casefold() != collection[:COLLECTION_LETTERS].casefold():
        raise BadInput(
            f"The label {given[:60]!r} is of another collection, not of these records.",
            next="Name its record folder: --records FOLDER, or type the code of a sample of this one.",
            code="label-of-another-collection",
        )
    return code.upper()


def labels_for(store: Reader, names: Sequence[str], collection: str, copies: int = 1) -> list[Label]:
    """Return labels for samples (by code), or for the next samples of animals (by name or code).

    Without names: every sample that no exam has read yet.

    Raises
    ------
    BadInput
        For an unknown sample or animal, and when there is nothing to label.
    """
    from fecallab.records.rows import SAMPLE, kind_of_code

    animals = {animal.code: animal for animal in store.animals()}
    chosen = list(names)
    if not chosen:
        read = {exam.sample for exam in store.exams()}
        chosen = [sample.code for sample in store.samples() if sample.code not in read]
    found: list[Label] = []
    for name in chosen:
        if kind_of_code(name.strip().upper()) is SAMPLE:
            sample = store.sample(name)
            owner = animals[sample.animal]
            when = say_time(sample.passed_from) if sample.passed_from else ""
            label = Label(
                code=sample.code,
                animal=owner.name,
                animal_code=owner.code,
                passed=when,
                content=label_content(collection, sample.code),
            )
        else:
            owner = store.animal(name)
            content = label_content(collection, owner.code)
            label = Label(animal=owner.name, animal_code=owner.code, content=content)
        found += [label] * copies
    if not found:
        text = "No recorded sample waits for an exam."
        raise BadInput(
            text, next="Name samples or animals: fecallab sheet labels S12 Saffron", code="nothing-due"
        )
    return found


def grid_from(
    paper: str,
    *,
    rows: int | None = None,
    columns: int | None = None,
    top_mm: float | None = None,
    left_mm: float | None = None,
    width_mm: float | None = None,
    height_mm: float | None = None,
    gap_across_mm: float | None = None,
    gap_down_mm: float | None = None,
) -> LabelGrid:
    """Return the grid of a label sheet; what is left out comes from the usual sheet, or from what is left over.

    A size that is not given fills the sheet between equal margins.

    Raises
    ------
    BadInput
        When the labels do not fit on the paper, or leave no room for a code that can be read.

    Examples
    --------
    >>> grid_from("a4", rows=4, columns=2, top_mm=10, left_mm=10).width_mm
    95.0
    """
    usual, (wide, tall) = GRIDS[paper], PAPERS[paper]
    if rows is None and columns is None and top_mm is None and left_mm is None and width_mm is None:
        rows, columns, top_mm, left_mm = usual.rows, usual.columns, usual.top_mm, usual.left_mm
        width_mm, gap_across_mm = (
            usual.width_mm,
            usual.gap_across_mm if gap_across_mm is None else gap_across_mm,
        )
        height_mm = usual.height_mm if height_mm is None else height_mm
    rows, columns = rows or usual.rows, columns or usual.columns
    top, left = usual.top_mm if top_mm is None else top_mm, usual.left_mm if left_mm is None else left_mm
    across, down = gap_across_mm or 0.0, gap_down_mm or 0.0
    width = (wide - 2 * left - (columns - 1) * across) / columns if width_mm is None else width_mm
    height = (tall - 2 * top - (rows - 1) * down) / rows if height_mm is None else height_mm
    right_end = left + columns * width + (columns - 1) * across
    lower_end = top + rows * height + (rows - 1) * down
    if width <= 0 or height <= 0 or right_end > wide + 0.05 or lower_end > tall + 0.05:
        text = (
            f"{columns} × {rows} labels of {width:.1f} × {height:.1f} mm end at {right_end:.1f} × {lower_end:.1f} mm;"
            f" the paper is {wide:g} × {tall:g} mm."
        )
        raise BadInput(
            text, next="Measure the sheet again: margins, gaps, rows, columns.", code="labels-too-large"
        )
    if width < 30 or height < 15:
        text = f"A label of {width:.1f} × {height:.1f} mm has no room for a code that a phone can read."
        raise BadInput(text, next="Take labels of 30 × 15 mm or more.", code="labels-too-small")
    return LabelGrid(
        paper=paper,
        rows=rows,
        columns=columns,
        top_mm=top,
        left_mm=left,
        width_mm=width,
        height_mm=height,
        gap_across_mm=across,
        gap_down_mm=down,
    )


def draw_labels(labels: Sequence[Label], grid: LabelGrid, made_on: date, *, skip: int = 0) -> Paper:
    """Draw labels on as many sheets as they need.

    Parameters
    ----------
    labels : sequence of Label
        In order, row by row.
    grid : LabelGrid
        The sheet.
    made_on : date
        The day of printing.
    skip : int
        Labels at the start of the first sheet that are used up already.
    """
    pdf = Paper(grid.paper, "Labels", made_on)
    for number, label in enumerate(labels, start=skip):
        place = number % grid.on_a_sheet
        if place == 0 or number == skip:
            pdf.add_page()
        row, column = divmod(place, grid.columns)
        x = grid.left_mm + column * (grid.width_mm + grid.gap_across_mm)
        y = grid.top_mm + row * (grid.height_mm + grid.gap_down_mm)
        _draw(pdf, label, x, y, grid.width_mm, grid.height_mm)
    return pdf


def _draw(pdf: Paper, label: Label, x: float, y: float, width: float, height: float) -> None:
    side = min(height - 2, width * 0.46, 26.0)
    draw_qr(pdf, label.content, x + 1, y + (height - side) / 2, side)
    left, room = x + side + 2, width - side - 4
    size = min(15.0, height / 38 * 17)
    at = y + max(1.5, height * 0.08)
    if label.code:
        pdf.put(left, at, label.code, size, bold=True, width=room)
    else:
        pdf.put(left, at, "S", size, bold=True)
        pdf.blank(left + 5, at, room - 6, size=size)
    at += size * POINT_MM * 1.25
    small = max(6.5, min(10.0, size * 0.62))
    pdf.put(left, at, label.animal, small, bold=True, width=room)
    at += small * POINT_MM * 1.3
    pdf.put(left, at, label.animal_code, small - 1, width=room)
    step = (y + height - 1.5 - at - small * POINT_MM) / 2
    at += small * POINT_MM * 0.5 + step * 0.55
    if label.passed:
        pdf.put(left, at, f"passed {label.passed}", small - 1, width=room)
    else:
        end = pdf.put(left, at, "passed", small - 1, width=room) + 1
        pdf.blank(end, at, left + room - end, size=small - 1)
    at += step
    end = pdf.put(left, at, "read", small - 1, width=room) + 1
    pdf.blank(end, at, left + room - end, size=small - 1)


def draw_qr(pdf: Paper, content: str, x: float, y: float, side: float) -> None:
    """Draw a full QR code, its white edge included, as black squares; never a Micro QR code.

    Parameters
    ----------
    content : str
        What it says.
    x, y, side : float
        Upper left corner and side, mm.
    """
    matrix = segno.make_qr(content, error=ERROR_LEVEL, boost_error=False).matrix
    module = side / (len(matrix) + 2 * QUIET_MODULES)
    pdf.set_fill_color(0)
    for row, line in enumerate(matrix):
        start = None
        for column, dark in enumerate([*line, 0]):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                left = x + (start + QUIET_MODULES) * module
                pdf.rect(
                    left, y + (row + QUIET_MODULES) * module, (column - start) * module, module, style="F"
                )
                start = None
    pdf.set_fill_color(255)
