"""The dose card, drawn: what to give, how far to draw the syringe, what to watch; or what stands in the way."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from fecallab.domain.safety import BANNER
from fecallab.domain.spoken import say_date, volume_in_digits
from fecallab.report.sheet_model import DoseBlock, SheetStamp
from fecallab.report.sheet_paper import MARGIN_MM, POINT_MM, Paper
from fecallab.report.sheet_syringe import draw_syringe

_SCALES = (1.0, 0.94, 0.88, 0.82, 0.76, 0.7)
_SPAT = "Do not repeat it; call the vet."
_NOT_CHECKED = "Not checked here: "


def draw_dose_card(block: DoseBlock, stamp: SheetStamp, paper: str) -> Paper:
    """Draw the dose card of one case on one page.

    Parameters
    ----------
    block : DoseBlock
        The dose, or what stands in its way.
    stamp : SheetStamp
        What the sheet says about itself.
    paper : str
        ``a4`` or ``letter``.
    """
    pdf = Paper(paper, f"Dose card {block.case}, {say_date(stamp.made_on)}", stamp.made_on)
    pdf.add_page()
    y = _head(pdf, block, stamp)
    y = _order(pdf, block, y + 2)
    if block.draw_ml is None:
        y = _obstacles(pdf, block, y + 4)
        y = _asked(pdf, y + 5)
        if y + 50 < _limit(pdf):
            _list(pdf, y + 6, "Also", [str(reason) for reason in block.warnings[:4]])
    else:
        y = _list(pdf, y + 2, "Mix first", block.mixing, 9.5)
        y = _to_give(pdf, block, y + 1)
        y = _given(pdf, y + 2)
        _foot(pdf, block, stamp)
        _know(pdf, block, stamp, y)
        return pdf
    _foot(pdf, block, stamp)
    return pdf


def _know(pdf: Paper, block: DoseBlock, stamp: SheetStamp, y: float) -> None:
    """Write what must be known, the most pressing first; what finds no room goes on a second page."""

    def fits(parts: tuple[Callable[..., float], ...], scale: float) -> bool:
        at = y
        for part in parts:
            at = part(pdf, block, at, scale, draw=False)
        return at < _limit(pdf)

    for parts in ((_pressing, _usual), (_pressing,)):
        scale = next((scale for scale in _SCALES if fits(parts, scale)), None)
        if scale is not None or parts == (_pressing,):
            break
    for part in parts:
        y = part(pdf, block, y, scale or 0.6)
    if _usual not in parts:
        pdf.add_page()
        _foot(pdf, block, stamp)
        _usual(pdf, block, _head(pdf, block, stamp) + 3, 1.2)


def _pressing(pdf: Paper, block: DoseBlock, y: float, scale: float, *, draw: bool = True) -> float:
    warned = [str(reason) for reason in block.warnings]
    for title, lines in (
        ("Through the tube", block.tube),
        ("Before it is given", warned),
        ("Missed, spat out or brought up again", block.brought_up or (_SPAT,)),
        ("Watch", block.watch),
    ):
        y = _list(pdf, y, title, lines, 9 * scale, draw=draw)
    return y


def _usual(pdf: Paper, block: DoseBlock, y: float, scale: float, *, draw: bool = True) -> float:
    unchecked = [reason.text.removeprefix(_NOT_CHECKED) for reason in block.not_checked]
    y = _list(pdf, y, "At the act", block.cautions, 7.6 * scale, columns=2, draw=draw)
    title = "Not checked here: is any of this so?"
    return _list(pdf, y, title, unchecked, 7.6 * scale, columns=2, draw=draw)


def _limit(pdf: Paper) -> float:
    return float(pdf.h) - MARGIN_MM - 10


def _head(pdf: Paper, block: DoseBlock, stamp: SheetStamp) -> float:
    y = MARGIN_MM
    pdf.put(pdf.left, y, "Dose card", 11, bold=True)
    right = f"case {block.case} · {block.target} · {say_date(stamp.made_on)}"
    pdf.put(pdf.left, y, right, 11, width=pdf.wide, align="R")
    y += 6.5
    x = pdf.put(pdf.left, y, block.animal, 24, bold=True, width=pdf.wide * 0.6)
    about = " · ".join(part for part in (block.code, block.about, block.place) if part)
    pdf.put(x + 4, y + 4.2, about, 11, width=pdf.w - MARGIN_MM - x - 4)
    pdf.rule(y + 11.5, weight=0.6)
    return y + 12.5


def _order(pdf: Paper, block: DoseBlock, y: float) -> float:
    """Write what the vet ordered and what it rests on, in two columns."""
    if not block.drug:
        return y
    written = f", {say_date(block.written_on)}" if block.written_on else ""
    left = [
        ("drug", block.drug),
        ("dose", f"{block.dose_mg_per_kg} mg per kg, {block.route}"),
        ("strength", f"{block.concentration_mg_per_ml} mg per ml (read it on the bottle)"),
        ("weight", block.weight or "not weighed yet"),
    ]
    right = [
        ("vet", f"{block.vet}, plan {block.plan}{written}"),
        ("this is", f"dose {block.number} of at most {block.doses_planned}, {block.interval}".rstrip(", ")),
        *[("given", line) for line in block.log[-2:]],
    ]
    column = pdf.wide / 2
    for side, lines in enumerate((left, right)):
        for number, (what, value) in enumerate(lines):
            x, at = pdf.left + side * column, y + number * 6.4
            pdf.put(x, at + 0.6, what, 8.5)
            pdf.put(x + 19, at, value, 10.5, bold=what in ("drug", "weight"), width=column - 22)
    return y + 4 * 6.4


def _to_give(pdf: Paper, block: DoseBlock, y: float) -> float:
    """Write the volume in digits and words, and draw the syringe."""
    assert block.draw_ml is not None
    height = 69.0 if block.syringe_ml is not None else 32.0
    pdf.set_line_width(1.0)
    pdf.rect(pdf.left, y, pdf.wide, height)
    x = pdf.put(pdf.left + 5, y + 2.5, "draw", 13)
    x = pdf.put(x + 3, y + 2, f"{volume_in_digits(block.draw_ml)} ml", 40, bold=True)
    if block.mixing:
        pdf.put(x + 5, y + 11, "of the mixture", 14, bold=True)
    units = _units(block)
    if units:
        pdf.put(x + 5, y + 5.5, units, 12, bold=True)
    pdf.put(pdf.left + 5, y + 20, block.draw_words, 14, bold=True, width=pdf.wide - 10)
    small = f"worked out {block.exact_ml} ml; the marks of the syringe deliver {block.delivered}"
    if block.before:
        small += f"; with the weight of the last dose it was {block.before} ml"
    pdf.put(pdf.left + 5, y + 26.5, small, 9, width=pdf.wide - 10)
    if block.syringe_ml is not None and block.graduation_ml is not None:
        draw_syringe(
            pdf,
            pdf.left + 6,
            y + 41,
            pdf.wide - 34,
            block.syringe_ml,
            block.graduation_ml,
            block.draw_ml,
            units,
        )
    text = "Another weight today? Then this card is void: record the weight and print it anew."
    return pdf.wrap(pdf.left, y + height + 1.5, pdf.wide, text, 9, bold=True)


def _units(block: DoseBlock) -> str:
    """Say the same volume in the units that an insulin syringe is marked in."""
    if block.units_per_ml is None or block.draw_ml is None:
        return ""
    return f"= {volume_in_digits(block.draw_ml * block.units_per_ml)} units on a U-{block.units_per_ml:f} syringe only"


def _obstacles(pdf: Paper, block: DoseBlock, y: float) -> float:
    """Write what stands in the way of the dose and what to do about it; no volume."""
    pdf.put(pdf.left + 5, y + 3, "No dose now", 24, bold=True)
    room = _limit(pdf) - 35
    sizes = [11 * scale for scale in (*_SCALES, 0.6, 0.5)]
    size = next((size for size in sizes if _reasons(pdf, block, y + 15, size, draw=False) < room), sizes[-1])
    end = _reasons(pdf, block, y + 15, size)
    pdf.set_line_width(1.0)
    pdf.rect(pdf.left, y, pdf.wide, end - y)
    return end


def _reasons(pdf: Paper, block: DoseBlock, y: float, size: float, *, draw: bool = True) -> float:
    x, wide = pdf.left + 5, pdf.wide - 10
    for reason in block.obstacles:
        y = pdf.wrap(x, y, wide, reason.text, size, bold=True, draw=draw)
        if reason.next:
            y = pdf.wrap(x, y, wide, f"→ {reason.next}", size, draw=draw)
        y += 2
    return y


def _asked(pdf: Paper, y: float) -> float:
    """Draw lines for what is done instead: a weight, and the vet's answer."""
    x = pdf.asked(pdf.left, y, "weighed today", 24, "g", size=10)
    pdf.asked(x + 2, y, "at", 18, size=10)
    y += 9
    x = pdf.asked(pdf.left, y, "vet asked on", 26, size=10)
    pdf.asked(x + 2, y, "answer", pdf.w - MARGIN_MM - x - 20, size=10)
    y += 9
    pdf.blank(pdf.left, y, pdf.wide, size=10)
    return y + 5


def _list(
    pdf: Paper,
    y: float,
    title: str,
    lines: Iterable[str],
    size: float = 9,
    *,
    columns: int = 1,
    draw: bool = True,
) -> float:
    """Write a titled list in one column or two; nothing when it is empty. Return where it ends."""
    shown = list(dict.fromkeys(lines))
    if not shown:
        return y
    if draw:
        pdf.put(pdf.left, y, title, size + 0.5, bold=True)
    y += (size + 0.5) * POINT_MM * 1.35
    wide = (pdf.wide - 5 * (columns - 1)) / columns
    ends = [y] * columns
    for line in shown:
        column = ends.index(min(ends))
        x = pdf.left + column * (wide + 5)
        if draw:
            pdf.put(x + 0.5, ends[column], "–", size)
        ends[column] = pdf.wrap(x + 3.5, ends[column], wide - 3.5, line, size, leading=1.2, draw=draw) + 0.5
    return max(ends) + 1.4


def _given(pdf: Paper, y: float) -> float:
    """Draw the lines in which the dose is signed off."""
    x = pdf.asked(pdf.left, y, "given at", 20, size=10)
    x = pdf.asked(x, y, "ml", 16, size=10)
    x = pdf.asked(x, y, "by", 28, size=10)
    pdf.asked(x, y, "volume read by a second person", 24, size=10)
    pdf.ticks(pdf.left, y + 7.5, ("all given", "partly", "spat out", "brought up again", "missed"), 10, 4.2)
    pdf.rule(y + 14)
    return y + 16


def _foot(pdf: Paper, block: DoseBlock, stamp: SheetStamp) -> None:
    y = pdf.h - MARGIN_MM - 7.5
    y = pdf.wrap(pdf.left, y, pdf.wide, BANNER, 7.5, leading=1.2)
    log = f"Log it: fecallab dose give {block.case}.  " if block.draw_ml is not None else ""
    pdf.put(
        pdf.left,
        y,
        f"{log}fecallab {stamp.program_version}, tables {stamp.edition}, printed {say_date(stamp.made_on)}.",
        6.5,
        width=pdf.wide,
    )
