"""Today's care, drawn: a box for every animal, in the order of the round, to be ticked with wet fingers."""

from __future__ import annotations

from fecallab.domain.safety import BANNER
from fecallab.domain.spoken import say_date, volume_in_digits
from fecallab.report.sheet_model import CareBlock, CareSheet, DoseBlock
from fecallab.report.sheet_paper import MARGIN_MM, Paper

_LINE_MM = 7.4
_TEXT = 9.0
_FOOT_MM = 17.0
_INDENT_MM = 24.0


def draw_care_sheet(sheet: CareSheet, paper: str) -> Paper:
    """Draw today's care; a block is never torn over two pages.

    Parameters
    ----------
    sheet : CareSheet
        What is to be done, animal by animal.
    paper : str
        ``a4`` or ``letter``.
    """
    pdf = Paper(paper, f"Care on {say_date(sheet.stamp.made_on)}", sheet.stamp.made_on)
    y = _new_page(pdf, sheet)
    for block in sheet.blocks:
        if y + _block(pdf, block, y, draw=False) > _limit(pdf) and pdf.page_no() > 0 and y > 40:
            y = _new_page(pdf, sheet)
        y += _block(pdf, block, y) + 2.4
    texts = [text for _, lines in sheet.cautions for text in lines]
    if texts:
        if _cautions(pdf, texts, y, draw=False) > _limit(pdf):
            y = _new_page(pdf, sheet)
        _cautions(pdf, texts, y)
    return pdf


def _limit(pdf: Paper) -> float:
    return float(pdf.h) - _FOOT_MM - 2


def _new_page(pdf: Paper, sheet: CareSheet) -> float:
    pdf.add_page()
    y = MARGIN_MM - 1
    pdf.put(pdf.left, y, f"Care on {say_date(sheet.stamp.made_on)}", 16, bold=True)
    pdf.asked(pdf.w - MARGIN_MM - 62, y + 1.5, "done by", 46, size=10)
    foot = pdf.h - _FOOT_MM
    pdf.rule(foot)
    x = pdf.put(pdf.left, foot + 1.6, "To the vet now, if seen:", 8, bold=True) + 2
    room = pdf.w - MARGIN_MM - x
    signs = ", ".join(sheet.signs)
    end = pdf.wrap(x, foot + 1.6, room, signs, 8 if pdf.width_of(signs, 8) < 1.9 * room else 6.5)
    end = pdf.wrap(pdf.left, end + 0.6, pdf.wide, BANNER, 6.5, leading=1.15)
    stamp = sheet.stamp
    said = f"fecallab {stamp.program_version}, tables {stamp.edition}, page {pdf.page_no()}."
    pdf.put(pdf.left, end, said, 6)
    return y + 9


def _block(pdf: Paper, block: CareBlock, top: float, *, draw: bool = True) -> float:
    """Draw one animal, or only measure it; return its height."""
    y = top
    if draw:
        pdf.shade(pdf.left, y, pdf.wide, 7.2)
        x = pdf.put(pdf.left + 1.5, y + 0.9, block.animal, 13, bold=True, width=88)
        about = " · ".join(part for part in (block.code, block.about) if part)
        pdf.put(x + 3, y + 2, about, 9, width=pdf.w - MARGIN_MM - x - 48)
        pdf.put(pdf.left, y + 1.5, block.place, 10, bold=True, width=pdf.wide - 1.5, align="R")
    y += 9
    if draw:
        x = _ticked(pdf, y, "weigh")
        x = pdf.blank(x, y, 22, "g", _TEXT) + 1
        pdf.put(x, y + 0.4, block.weight, 8)
    y += _LINE_MM
    for dose in block.doses:
        y = _dose(pdf, dose, y, draw)
    for text in block.no_dose:
        if draw:
            pdf.put(pdf.left + 1.5, y, "–", _TEXT)
        y = pdf.wrap(pdf.left + 6.5, y, pdf.wide - 8, text, _TEXT, draw=draw) + 2
    y = _pair(pdf, y, ("fluids", block.fluids, "given", "ml"), ("feeding", block.feeding, "ate", ""), draw)
    y = _pair(
        pdf, y, ("warm end", block.warm_end, "", "°C"), ("lowest at night", block.lowest, "", "°C"), draw
    )
    y = _pair(pdf, y, ("cleaning", block.cleaning, "at", ""), ("stool passed", "", "at", ""), draw)
    if block.watch:
        x = pdf.left + 1.5 + pdf.width_of("seen?", _TEXT, bold=True) + 3
        if draw:
            pdf.put(pdf.left + 1.5, y, "seen?", _TEXT, bold=True)
        y = pdf.tick_rows(x, y + 0.1, (*block.watch, "none of these"), 8.5, 5.4, draw=draw) + 6
    if draw:
        pdf.set_line_width(0.35)
        pdf.rect(pdf.left, top, pdf.wide, y - top)
    return y - top


def _ticked(pdf: Paper, y: float, label: str, x: float = 0.0) -> float:
    """Draw a box with a bold label; return where the text behind it starts."""
    start = pdf.left + 1.5 + x
    pdf.tick(start, y, box=3.8)
    end = pdf.put(start + 5, y - 0.1, label, _TEXT, bold=True)
    return max(end + 2, start + _INDENT_MM)


def _dose(pdf: Paper, dose: DoseBlock, y: float, draw: bool) -> float:
    """Write a dose with its volume, or why there is none."""
    if dose.draw_ml is None:
        if draw:
            pdf.put(pdf.left + 1.5, y - 0.1, "no dose now", _TEXT, bold=True)
        x = pdf.left + 1.5 + _INDENT_MM
        for reason in dose.obstacles:
            y = (
                pdf.wrap(x, y, pdf.wide - _INDENT_MM - 3, f"{reason.text} → {reason.next}", 8.5, draw=draw)
                + 0.8
            )
        return y + 1.5
    if draw:
        x = _ticked(pdf, y + 0.6, "dose")
        x = pdf.put(x, y - 1, f"{volume_in_digits(dose.draw_ml)} ml", 15, bold=True) + 2.5
        of = "of the mixture " if dose.mixing else ""
        pdf.put(x, y + 0.6, f"{of}({dose.draw_words})", _TEXT, bold=True, width=pdf.w - MARGIN_MM - 58 - x)
        pdf.asked(pdf.w - MARGIN_MM - 56, y + 0.6, "at", 16, size=_TEXT)
        pdf.asked(pdf.w - MARGIN_MM - 31, y + 0.6, "by", 23, size=_TEXT)
    y += 7.6
    x = pdf.left + 1.5 + _INDENT_MM
    syringe = f"; syringe of {volume_in_digits(dose.syringe_ml)} ml" if dose.syringe_ml is not None else ""
    units = (
        f", {volume_in_digits(dose.draw_ml * dose.units_per_ml)} units on a U-{dose.units_per_ml:f}"
        if dose.units_per_ml is not None
        else ""
    )
    what = (
        f"{dose.drug}{'' if dose.mixing else f' {dose.concentration_mg_per_ml} mg per ml'} {dose.route}, dose {dose.number} of at most"
        f" {dose.doses_planned}{syringe}{units}. For {dose.weight}: another weight today makes it void. Dose card: {dose.case}."
    )
    through = ("Through the tube: the steps stand on the dose card.",) if dose.tube else ()
    for text in (*dose.mixing, what, *through, *(str(warning) for warning in dose.warnings)):
        y = pdf.wrap(x, y, pdf.wide - _INDENT_MM - 3, text, 8.5, draw=draw) + 0.6
    return y + 1.6


def _pair(
    pdf: Paper, y: float, one: tuple[str, str, str, str], other: tuple[str, str, str, str], draw: bool
) -> float:
    """Draw two things to tick side by side, each with what is ordered and a line for what was done."""
    half = pdf.wide / 2
    lowest = y
    for place, (label, ordered, asked, unit) in enumerate((one, other)):
        shift = place * half
        room = half - _INDENT_MM - 3
        if draw:
            x = _ticked(pdf, y, label, shift)
            room = pdf.left + shift + half - 2 - x
            written = 16.0 + pdf.width_of(f"{asked}  {unit}", 8.5)
            if not ordered or pdf.width_of(ordered, 8.5) < room - written - 2:
                if ordered:
                    x = pdf.put(x, y, ordered, 8.5) + 2
                pdf.asked(x, y, asked, 14, unit, 8.5) if asked else pdf.blank(x, y, 14, unit, 8.5)
            else:
                end = pdf.wrap(x, y, room, ordered, 8.5)
                pdf.asked(x, end + 0.8, asked, 14, unit, 8.5) if asked else pdf.blank(
                    x, end + 0.8, 14, unit, 8.5
                )
        x = pdf.left + shift + 1.5 + _INDENT_MM
        room = half - _INDENT_MM - 3.5
        written = 16.0 + pdf.width_of(f"{asked}  {unit}", 8.5)
        if ordered and pdf.width_of(ordered, 8.5) >= room - written - 2:
            lowest = max(lowest, pdf.wrap(x, y, room, ordered, 8.5, draw=False) + 0.8)
    return lowest + _LINE_MM


def _cautions(pdf: Paper, texts: list[str], y: float, *, draw: bool = True) -> float:
    """Write the cautions of the acts of the day in two columns; return where they end."""
    if draw:
        pdf.put(pdf.left, y, "At every dose", 8.5, bold=True)
    ends = [y + 4.6, y + 4.6]
    wide = (pdf.wide - 5) / 2
    for text in texts:
        column = ends.index(min(ends))
        x = pdf.left + column * (wide + 5)
        if draw:
            pdf.put(x, ends[column], "–", 7)
        ends[column] = pdf.wrap(x + 3, ends[column], wide - 3, text, 7, leading=1.18, draw=draw) + 0.4
    return max(ends)
