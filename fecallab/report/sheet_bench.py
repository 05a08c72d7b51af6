"""The microscope sheet, drawn: one preparation on half a page, read at arm's length, filled in by pencil."""

from __future__ import annotations

from fecallab.domain.spoken import say_date
from fecallab.report.sheet_model import FIELDS, BenchBlock, BenchSheet, Question
from fecallab.report.sheet_paper import MARGIN_MM, Paper

_TOP_MM, _FOOT_MM, _GAP_MM = 8.5, 16.0, 6.0
_NAME_MM, _SWEEP_MM, _HEAD_MM = 34.0, 17.0, 9.0
_ROWS = 5
GRIDS = 4
"""Boxes for the grids of a counting chamber, before their sum."""
_ANSWER_MM = 15.0
_SIGN_COLUMNS, _SIGN_MM = 3, 3.7
_SMALLEST_ROW_MM, _LARGEST_ROW_MM = 6.0, 8.4
_FORMS, _KEPT = ("formed", "soft", "liquid"), ("room", "fridge", "frozen", "fixed")


def draw_bench_sheet(sheet: BenchSheet, paper: str) -> Paper:
    """Draw the microscope sheet.

    Parameters
    ----------
    sheet : BenchSheet
        Its blocks, in order; two go on a page.
    paper : str
        ``a4`` or ``letter``.
    """
    pdf = Paper(paper, f"Microscope sheet, {say_date(sheet.stamp.made_on)}", sheet.stamp.made_on)
    height = (pdf.h - _TOP_MM - _FOOT_MM - _GAP_MM) / 2
    for place, block in enumerate(sheet.blocks):
        top = _TOP_MM
        if place % 2 == 1:
            top += height + _GAP_MM
            pdf.fold(top - _GAP_MM / 2)
        else:
            pdf.add_page()
            _foot(pdf, sheet)
        _draw_block(pdf, block, top, height)
    return pdf


def _foot(pdf: Paper, sheet: BenchSheet) -> None:
    """State at the foot how the sheet is typed in."""
    y = pdf.h - _FOOT_MM + 2.2
    text = (
        "Type it in: fecallab sheet type-in   or as a table (CSV): fecallab sheet type-in FILE.csv, one line per row of"
        f" the grid, columns: {', '.join(sheet.columns)}."
    )
    y = pdf.wrap(pdf.left, y, pdf.wide, text, 5, leading=1.15)
    stamp = sheet.stamp
    pdf.put(
        pdf.left,
        y,
        f"fecallab {stamp.program_version}, tables {stamp.edition}, printed {say_date(stamp.made_on)}. A field with"
        " nothing in it is a 0, an empty box was not read. No diagnosis: the vet decides.",
        5,
        width=pdf.wide,
    )


def _draw_block(pdf: Paper, block: BenchBlock, top: float, height: float) -> None:
    lines = -(-len(block.signs) // _SIGN_COLUMNS) if block.signs else 1
    end = top + height - max(2, lines) * _SIGN_MM - 1.8
    y = _sample(pdf, block, _who(pdf, block, top))
    below = 1.2 + _questions(pdf, block, 0, draw=False) + 6.4
    row = (end - y - _HEAD_MM - below) / _ROWS
    y = _grid(pdf, block, y, min(_LARGEST_ROW_MM, max(_SMALLEST_ROW_MM, row)))
    _questions(pdf, block, y + 1.2)
    x = pdf.asked(pdf.left, end - 5.6, "remark", pdf.wide - 62)
    pdf.asked(x + 2, end - 5.6, "initials", 26)
    _signs(pdf, block.signs, end, top + height)


def _who(pdf: Paper, block: BenchBlock, y: float) -> float:
    """Write whose sample it is, and draw the box for its code."""
    box = 42.0
    x = pdf.put(pdf.left, y, block.animal, 15, bold=True, width=82)
    about = " · ".join(part for part in (block.code, block.about, block.place) if part)
    pdf.put(x + 3, y + 2, about, 8, width=pdf.w - MARGIN_MM - box - 3 - x - 3)
    pdf.set_line_width(0.5)
    edge = pdf.w - MARGIN_MM - box
    pdf.rect(edge, y - 0.4, box, 9)
    pdf.put(edge + 1, y + 0.1, "sample code", 5.5)
    pdf.put(edge + 14, y + 1.6, block.sample or "S", 13, bold=bool(block.sample))
    what = f"{block.method_words}" + (f"  ({block.part})" if block.part else "")
    x = pdf.put(pdf.left, y + 6.6, what, 9.5, bold=True)
    more = f"for {', '.join(block.targets)}" if block.targets else "what is there?"
    if block.counts_from is not None:
        more += f"; counts if passed on or after {say_date(block.counts_from)}"
    pdf.put(x + 3, y + 7, more + (f". {block.note}" if block.note else ""), 7.5, width=edge - x - 6)
    return y + 12


def _sample(pdf: Paper, block: BenchBlock, y: float) -> float:
    """Two lines about the stool, one about the reading."""
    x = pdf.left
    if block.sample:
        pdf.put(x, y, block.passed, 8.5, width=pdf.wide)
        y += 6.4
    else:
        x = pdf.asked(x, y, "passed on", 22)
        x = pdf.asked(x, y, "between", 15)
        x = pdf.asked(x, y, "and", 15) + 2
        x = pdf.ticks(x, y + 0.1, _FORMS)
        pdf.asked(x + 1, y, "mass", 12, "g")
        y += 6.4
        x = pdf.put(pdf.left, y, "kept", 8) + 2
        x = pdf.ticks(x, y + 0.1, _KEPT)
        x = pdf.tick(x + 2, y + 0.1, "whole stool used") + 4
    x = pdf.asked(x, y, "read on", 20)
    x = pdf.asked(x, y, "at", 14)
    numbers = {question.number for question in block.questions}
    if "room" in numbers:
        pdf.tick(x + 2, y + 0.1, "slide warmed")
    elif numbers & {"gravity", "which"}:
        pdf.asked(x + 1, y, "solution", pdf.w - MARGIN_MM - x - 16)
    return y + 6.6


def _grid(pdf: Paper, block: BenchBlock, y: float, tall: float) -> float:
    """Draw the boxes for fields and sweeps (or for the chamber), a row per organism, one for what is unsure."""
    sweeps, boxes = (1, GRIDS) if block.chamber else (2, FIELDS)
    cell = (pdf.wide - _NAME_MM - sweeps * _SWEEP_MM) / boxes
    x0, first = pdf.left, pdf.left + _NAME_MM
    right = first + boxes * cell
    last = y + _HEAD_MM + _ROWS * tall
    pdf.shade(x0, y, pdf.wide, _HEAD_MM)
    what = "chamber" if block.chamber else "fields"
    pdf.put(x0 + 1, y + 0.8, f"{what}: objective ____×", 7, width=_NAME_MM - 2)
    if not block.chamber:
        pdf.put(x0 + 1, y + 4.9, "eyepiece no. ____ mm", 7, width=_NAME_MM - 2)
    for number in range(boxes):
        label = f"grid {number + 1}" if block.chamber else str(number + 1)
        pdf.put(first + number * cell, y + 2.9, label, 7.5, width=cell, align="C")
    for number in range(sweeps):
        x = right + number * _SWEEP_MM
        if block.chamber:
            pdf.put(x, y + 2.9, "in all", 7.5, bold=True, width=_SWEEP_MM, align="C")
        else:
            pdf.put(x, y + 0.8, f"sweep {number + 1}: ___×", 6.5, width=_SWEEP_MM, align="C")
            pdf.put(x, y + 4.9, "share ____", 6.5, width=_SWEEP_MM, align="C")
    named = block.organisms[: _ROWS - 2]
    names = [*named, *["other:"] * (_ROWS - 1 - len(named)), "not sure:"]
    for place, name in enumerate(names):
        row = y + _HEAD_MM + place * tall
        pdf.put(x0 + 1, row + tall / 2 - 1.9, name, 9, bold=name in block.targets, width=_NAME_MM - 2)
    pdf.set_line_width(0.2)
    for place in range(_ROWS + 1):
        height = y + _HEAD_MM + place * tall
        pdf.line(x0, height, pdf.w - MARGIN_MM, height)
    for number in range(boxes + 1):
        pdf.set_line_width(0.45 if number % 5 == 0 else 0.2)
        pdf.line(first + number * cell, y, first + number * cell, last)
    pdf.set_line_width(0.45)
    for number in range(1, sweeps):
        pdf.line(right + number * _SWEEP_MM, y, right + number * _SWEEP_MM, last)
    pdf.rect(x0, y, pdf.wide, last - y)
    return last


def _questions(pdf: Paper, block: BenchBlock, y: float, *, draw: bool = True) -> float:
    """Ask the questions of the adequacy table in two columns, yes and no behind each; or only measure it."""
    half = -(-len(block.questions) // 2)
    column = (pdf.wide - 5) / 2
    lowest = y
    for side in (0, 1):
        x, at = pdf.left + side * (column + 5), y
        if draw:
            pdf.put(x + column - _ANSWER_MM + 0.4, at, "yes", 6)
            pdf.put(x + column - _ANSWER_MM + 8.2, at, "no", 6)
        at += 2.7
        for question in block.questions[side * half : (side + 1) * half]:
            at = _question(pdf, question, x, at, column, draw)
        lowest = max(lowest, at)
    return lowest


def _question(pdf: Paper, question: Question, x: float, y: float, width: float, draw: bool) -> float:
    room = width - _ANSWER_MM - 1
    written = 0.0
    if question.number:
        label = f"{question.number} ______ {question.unit}"
        written = pdf.width_of(label, 7) + 1
        if draw:
            pdf.put(x + room - written, y + 0.3, label, 7)
    if draw:
        pdf.tick(x + width - _ANSWER_MM + 0.6, y + 0.1)
        pdf.tick(x + width - _ANSWER_MM + 8.2, y + 0.1)
    end = pdf.wrap(x, y + 0.3, room - written - 1, question.text, 7.2, leading=1.12, draw=draw)
    return max(end, y + 4.0) + 0.8


def _signs(pdf: Paper, signs: tuple[str, ...], y: float, end: float) -> None:
    """Draw the box of signs that must not wait."""
    pdf.set_line_width(0.5)
    pdf.rect(pdf.left, y, pdf.wide, end - y)
    pdf.put(pdf.left + 1.5, y + 1.2, "To the vet now", 8.5, bold=True)
    pdf.put(pdf.left + 1.5, y + 5.2, "if seen; do not wait for this sheet", 6.5, width=31)
    start = pdf.left + 34
    column = (pdf.wide - 35) / _SIGN_COLUMNS
    for number, sign in enumerate(signs):
        row, place = divmod(number, _SIGN_COLUMNS)
        x, at = start + place * column, y + 1.2 + row * _SIGN_MM
        pdf.set_line_width(0.3)
        pdf.rect(x, at, 2.7, 2.7)
        pdf.put(x + 3.7, at - 0.2, sign, 7, width=column - 5)
