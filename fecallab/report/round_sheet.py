"""The round of sampling on paper: room by room, a code to scan and blanks for one stool of each animal or tub."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fecallab.domain.spoken import say_date
from fecallab.report.labels import draw_qr
from fecallab.report.sheet_paper import MARGIN_MM, Paper

FOOT = (
    "A sheet to write on. What is not filled in stays unknown, and what is unknown can keep an exam from counting. "
    "No diagnosis: your vet and the law where you live go before it."
)
_QR_MM = 15.0
_LINE_MM = 6.6
_FOOT_MM = 13.0
_TEXT = 8.5


@dataclass(frozen=True, kw_only=True)
class RoundStop:
    """One stop of the round: an animal or tub whose next stool counts.

    Attributes
    ----------
    room, enclosure : str
        Where it is; may be empty.
    animal, code : str
        Name and code.
    number : int
        How many animals it stands for.
    exams : str
        How many clean exams count so far, "1 of 3".
    preparations : tuple of str
        What each exam must hold, in words.
    content : str
        What its code says to a scanner.
    since : date
        First day whose stool counts.
    """

    room: str
    enclosure: str
    animal: str
    code: str
    number: int
    exams: str
    preparations: tuple[str, ...]
    content: str
    since: date


def draw_round(stops: Sequence[RoundStop], day: date, paper: str, version: str) -> Paper:
    """Draw the round; a room begins with its name, a stop is never torn over two pages.

    Parameters
    ----------
    stops : sequence of RoundStop
        In the order of the round.
    day : date
        The day.
    paper : str
        ``a4`` or ``letter``.
    version : str
        Of the program, for the foot.
    """
    pdf = Paper(paper, f"Samples on {say_date(day)}", day)
    y = _new_page(pdf, day, version)
    room: str | None = None
    for stop in stops:
        tall = _height(stop)
        header = 9.0 if stop.room != room else 0.0
        if y + header + tall > pdf.h - _FOOT_MM - 2:
            y = _new_page(pdf, day, version)
            header = 9.0
        if header:
            count = sum(one.room == stop.room for one in stops)
            pdf.shade(pdf.left, y, pdf.wide, 7)
            more = ", continued" if stop.room == room else f": {count} to sample"
            pdf.put(pdf.left + 1.5, y + 0.9, f"{stop.room or 'no room said'}{more}", 12, bold=True)
            y += header
            room = stop.room
        _draw_stop(pdf, stop, y)
        y += tall
    return pdf


def _height(stop: RoundStop) -> float:
    return float(max(_QR_MM + 1.5, 8.2 + _LINE_MM * (1 + len(stop.preparations))))


def _new_page(pdf: Paper, day: date, version: str) -> float:
    pdf.add_page()
    y = MARGIN_MM - 1
    pdf.put(pdf.left, y, f"Samples on {say_date(day)}", 16, bold=True)
    pdf.asked(pdf.w - MARGIN_MM - 62, y + 1.5, "done by", 46, size=10)
    foot = pdf.h - _FOOT_MM
    pdf.rule(foot)
    end = pdf.wrap(pdf.left, foot + 1.2, pdf.wide, FOOT, 6.5, leading=1.15)
    said = (
        f"fecallab {version}, page {pdf.page_no()}. Typed in later: fecallab batch take-in, or scan a code."
    )
    pdf.put(pdf.left, end + 0.4, said, 6)
    return y + 10


def _draw_stop(pdf: Paper, stop: RoundStop, y: float) -> None:
    draw_qr(pdf, stop.content, pdf.left, y, _QR_MM)
    x = pdf.left + _QR_MM + 2
    end = pdf.put(x, y + 0.6, stop.animal, 12, bold=True, width=62)
    many = f" · {stop.number} animals" if stop.number != 1 else ""
    place = f" · in {stop.enclosure}" if stop.enclosure and stop.enclosure != stop.animal else ""
    about = f"{stop.code}{many}{place} · {stop.exams} clean exams count"
    pdf.put(end + 3, y + 1.7, about, 8, width=pdf.w - MARGIN_MM - end - 3)
    at = y + 8.0
    here = pdf.tick(x, at + 0.2, "none found", _TEXT)
    here = pdf.asked(here + 1, at, "passed between", 24, size=_TEXT)
    here = pdf.asked(here, at, "and", 24, size=_TEXT)
    if stop.number != 1:
        pdf.asked(here, at, "stool of", 9, f"of {stop.number}", size=_TEXT)
    for preparation in stop.preparations:
        at += _LINE_MM
        here = max(pdf.put(x, at, preparation, _TEXT, bold=True) + 2, x + 36)
        here = pdf.asked(here, at, "read at", 16, size=_TEXT)
        if "flotation" in preparation:
            here = pdf.asked(here, at, "share at 10×", 8, size=_TEXT)
            here = pdf.asked(here, at, "40×", 8, size=_TEXT)
        else:
            here = pdf.asked(here, at, "share", 10, size=_TEXT)
        here = pdf.put(here, at, "found", _TEXT) + 1.2
        pdf.blank(here, at, pdf.w - MARGIN_MM - here, size=_TEXT)
    pdf.rule(y + _height(stop) - 1.0, weight=0.12)
