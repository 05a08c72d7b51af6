"""Paper: a PDF page in millimetres with the few things that a sheet is drawn from.

Everything is black on white with one light grey, so that any printer and any copier will do.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time
from io import BytesIO

from fpdf import FPDF
from fpdf.enums import XPos, YPos

from fecallab.report.figures import tidy
from fecallab.report.sheet_fonts import MISSING, font_for, own_font
from fecallab.report.sheet_model import PAPERS

MARGIN_MM = 10.0
"""Wider than the edge that home printers cannot reach (about 6 mm; common practice, no source)."""
POINT_MM = 25.4 / 72
GREY = 225
PALE = 150
_FAMILY = "sheet"
_NARROW = 90
_NARROWEST = 70


class Paper(FPDF):
    """A document of sheets.

    Parameters
    ----------
    paper : str
        One of `PAPERS`: ``a4`` or ``letter``.
    title : str
        What the document is called.
    made_on : date
        The day that it speaks of; the same sheet on the same day gives the same bytes.
    """

    def __init__(self, paper: str, title: str, made_on: date) -> None:
        super().__init__(orientation="portrait", unit="mm", format=PAPERS[paper])
        self.set_auto_page_break(False)
        self.set_margin(0)
        self.c_margin = 0.0
        self.set_title(tidy(title))
        self.set_creator("fecallab")
        self.set_producer("fecallab")
        self.set_lang("en")
        self.set_creation_date(datetime.combine(made_on, time(12)).astimezone())
        for style in ("", "B"):
            self.add_font(_FAMILY, style, own_font(style))
        self.foreign: dict[str, str] = {}
        self.not_printed: set[str] = set()

    @property
    def left(self) -> float:
        """The left edge of what is printed, mm."""
        return MARGIN_MM

    @property
    def wide(self) -> float:
        """The width of what is printed, mm."""
        return float(self.w) - 2 * MARGIN_MM

    def letters(self, text: str) -> str:
        """Return a text in one line that can be printed; a font is fetched for every foreign script."""
        kept = []
        for letter in self.blanks(tidy(text)):
            font = font_for(letter)
            if font is None:
                self.not_printed.add(letter)
                kept.append(MISSING)
                continue
            if font != own_font() and str(font) not in self.foreign:
                family = f"foreign{len(self.foreign)}"
                self.add_font(family, "", font)
                self.foreign[str(font)] = family
                self.set_fallback_fonts(list(self.foreign.values()), exact_match=False)
            kept.append(letter)
        return "".join(kept)

    def blanks(self, text: str) -> str:
        """Return a text in one line, every kind of blank as one plain blank."""
        return " ".join(text.split())

    def pen(self, size: float, bold: bool = False, stretch: float = _NARROW) -> None:
        """Take letters of a size in points."""
        self.set_font(_FAMILY, "B" if bold else "", size)
        self.set_stretching(stretch)

    def width_of(self, text: str, size: float, bold: bool = False) -> float:
        """Return how wide a text becomes, mm."""
        self.pen(size, bold)
        return float(self.get_string_width(self.letters(text)))

    def put(
        self,
        x: float,
        y: float,
        text: str,
        size: float = 9,
        *,
        bold: bool = False,
        width: float | None = None,
        align: str = "L",
    ) -> float:
        """Write one line whose top is at `y`; too long for `width` it is narrowed, then cut with an ellipsis.

        Returns
        -------
        float
            Where it ends, mm from the left edge of the paper.
        """
        shown = self.letters(text)
        room = width if width is not None else self.w - x
        self.pen(size, bold)
        needed = self.get_string_width(shown)
        if needed > room:
            self.pen(size, bold, max(_NARROWEST, _NARROW * room / needed * 0.995))
            while shown and self.get_string_width(shown) > room:
                shorter = shown.rstrip("…")[:-1].rstrip()
                shown = f"{shorter}…" if shorter else ""
        self.set_xy(x, y)
        self.cell(room, size * POINT_MM * 1.2, shown, align=align, new_x=XPos.RIGHT, new_y=YPos.TOP)
        return x + min(room, float(self.get_string_width(shown)))

    def wrap(
        self,
        x: float,
        y: float,
        width: float,
        text: str,
        size: float = 9,
        *,
        bold: bool = False,
        leading: float = 1.25,
        draw: bool = True,
    ) -> float:
        """Write a text over as many lines as it needs, or only measure it; return where the next line starts."""
        shown = self.letters(text)
        self.pen(size, bold)
        self.set_xy(x, y)
        height = size * POINT_MM * leading
        lines = self.multi_cell(width, height, shown, align="L", dry_run=True, output="LINES")
        assert isinstance(lines, list)
        if draw:
            for number, line in enumerate(lines):
                self.set_xy(x, y + number * height)
                self.cell(width, height, line)
        return y + height * max(1, len(lines))

    def tick(self, x: float, y: float, label: str = "", size: float = 8, box: float = 3.4) -> float:
        """Draw a box to tick with its label; return where the next thing may start."""
        self.set_line_width(0.3)
        self.rect(x, y, box, box)
        if not label:
            return x + box + 1.5
        middle = y + box / 2 - size * POINT_MM * 0.6
        return self.put(x + box + 1.2, middle, label, size) + 2.8

    def ticks(self, x: float, y: float, labels: Iterable[str], size: float = 8, box: float = 3.4) -> float:
        """Draw several boxes in a row; return where the row ends."""
        for label in labels:
            x = self.tick(x, y, label, size, box)
        return x

    def tick_rows(
        self, x: float, y: float, labels: Iterable[str], size: float, step: float, *, draw: bool = True
    ) -> float:
        """Draw boxes over as many rows as they need, or only measure; return where the last row starts."""
        at, end = x, self.w - MARGIN_MM
        for label in labels:
            wide = self.width_of(label, size) + 7.4
            if at > x and at + wide > end:
                at, y = x, y + step
            if draw:
                self.tick(at, y, label, size)
            at += wide
        return y

    def blank(self, x: float, y: float, width: float, unit: str = "", size: float = 8) -> float:
        """Draw a line to write on, its unit behind; `y` is the top of a line of this size."""
        base = y + size * POINT_MM * 1.15
        self.set_line_width(0.2)
        self.line(x, base, x + width, base)
        return self.put(x + width + 0.8, y, unit, size) + 2.5 if unit else x + width + 2.5

    def asked(self, x: float, y: float, label: str, width: float, unit: str = "", size: float = 8) -> float:
        """Write a label with a line behind it to write on; return where the next thing may start."""
        return self.blank(self.put(x, y, label, size) + 1.2, y, width, unit, size)

    def rule(self, y: float, x: float | None = None, width: float | None = None, weight: float = 0.3) -> None:
        """Draw a line across."""
        start = self.left if x is None else x
        self.set_line_width(weight)
        self.line(start, y, start + (self.wide if width is None else width), y)

    def fold(self, y: float) -> None:
        """Draw a dashed line to cut or fold along, over the whole paper."""
        self.set_draw_color(PALE)
        self.set_line_width(0.2)
        self.set_dash_pattern(dash=2, gap=2)
        self.line(4, y, self.w - 4, y)
        self.set_dash_pattern()
        self.set_draw_color(0)

    def shade(self, x: float, y: float, width: float, height: float) -> None:
        """Fill a rectangle with the light grey."""
        self.set_fill_color(GREY)
        self.rect(x, y, width, height, style="F")
        self.set_fill_color(255)

    def content(self) -> bytes:
        """Return the document."""
        out = BytesIO()
        self.output(out)
        return out.getvalue()
