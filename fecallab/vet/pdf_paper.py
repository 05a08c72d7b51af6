"""Paper for the letter to the vet: a running text over pages, made from the sheets' own paper."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from io import BytesIO

from PIL import Image

from fecallab.report.sheet_paper import POINT_MM, Paper

TOP_MM, BOTTOM_MM, SIDE_MM = 14.0, 16.0, 16.0
_LABEL_MM = 40.0


class Letter(Paper):
    """A letter that runs over as many pages as it needs.

    Parameters
    ----------
    paper, title, made_on
        As for `Paper`.
    running : str
        Stands at the foot of every page, before its number.
    """

    def __init__(self, paper: str, title: str, made_on: date, running: str) -> None:
        super().__init__(paper, title, made_on)
        self.running = running
        self.at = TOP_MM
        self.alias_nb_pages("{nb}")
        self.add_page()

    @property
    def left(self) -> float:
        """The left edge of what is printed, mm."""
        return SIDE_MM

    @property
    def wide(self) -> float:
        """The width of what is printed, mm."""
        return float(self.w) - 2 * SIDE_MM

    @property
    def right(self) -> float:
        """The right edge of what is printed, mm."""
        return self.left + self.wide

    @property
    def room(self) -> float:
        """What is left of this page, mm."""
        return float(self.h) - BOTTOM_MM - self.at

    def turn_over(self) -> None:
        """Begin the next page."""
        self.add_page()
        self.at = TOP_MM

    def keep(self, height_mm: float) -> None:
        """Begin the next page when this one has less room than that."""
        if self.room < height_mm:
            self.turn_over()

    def gap(self, height_mm: float) -> None:
        """Leave some room."""
        self.at += height_mm

    def tell(
        self,
        text: str,
        size: float,
        *,
        bold: bool = False,
        x: float | None = None,
        width: float | None = None,
    ) -> None:
        """Write a text over as many lines and pages as it needs."""
        start = self.left if x is None else x
        room = self.wide if width is None else width
        shown = self.letters(text)
        self.pen(size, bold, 96)
        height = size * POINT_MM * 1.32
        lines = self.multi_cell(room, height, shown, align="L", dry_run=True, output="LINES")
        assert isinstance(lines, list)
        for line in lines or [""]:
            self.keep(height)
            self.pen(size, bold, 96)
            self.set_xy(start, self.at)
            self.cell(room, height, line)
            self.at += height

    def heading(self, text: str, size: float = 12, keep_mm: float = 34) -> None:
        """Write a heading under a line, never alone at the foot of a page."""
        self.gap(5)
        self.keep(keep_mm)
        self.line_across()
        self.tell(text, size, bold=True)
        self.gap(1)

    def line_across(self) -> None:
        """Draw a line across."""
        self.rule(self.at, weight=0.25)
        self.gap(1.6)

    def pairs(self, rows: Sequence[tuple[str, str]], size: float = 9.5) -> None:
        """Write pairs of a label and what it says, hairlines between."""
        for label, said in rows:
            if not said:
                continue
            self.keep(7)
            top = self.at
            self.set_draw_color(200)
            self.rule(top, weight=0.15)
            self.set_draw_color(0)
            self.gap(0.9)
            begun, page = self.at, self.page_no()
            self.tell(label, size, width=_LABEL_MM - 3)
            if self.page_no() == page:
                after, self.at = self.at, begun
                self.tell(said, size, x=self.left + _LABEL_MM, width=self.wide - _LABEL_MM)
                self.at = max(after, self.at) if self.page_no() == page else self.at
            else:
                self.tell(said, size, x=self.left + _LABEL_MM, width=self.wide - _LABEL_MM)
            self.gap(0.9)

    def grid(
        self, head: Sequence[str], rows: Sequence[Sequence[str]], shares: Sequence[float], size: float = 8.5
    ) -> None:
        """Write a table; no row is cut in two."""
        widths = [share * self.wide / sum(shares) for share in shares]
        for number, row in enumerate([head, *rows]):
            bold = number == 0
            height = max(
                self._height(text, width - 2, size, bold) for text, width in zip(row, widths, strict=True)
            )
            self.keep(height + 2 + (height + 2 if bold else 0))
            top, x = self.at, self.left
            for text, width in zip(row, widths, strict=True):
                self.at = top + 0.7
                self.tell(text, size, bold=bold, x=x, width=width - 2)
                x += width
            self.at = top + height + 1.6
            self.set_draw_color(0 if bold else 200)
            self.rule(self.at, weight=0.2 if bold else 0.15)
            self.set_draw_color(0)

    def _height(self, text: str, width: float, size: float, bold: bool) -> float:
        self.pen(size, bold, 96)
        height = size * POINT_MM * 1.32
        lines = self.multi_cell(width, height, self.letters(text), align="L", dry_run=True, output="LINES")
        assert isinstance(lines, list)
        return height * max(1, len(lines))

    def boxes(self, labels: Sequence[str], x: float | None = None, size: float = 9) -> None:
        """Draw boxes to tick, each with its label."""
        self.keep(6)
        start = self.left if x is None else x
        end = self.tick_rows(start, self.at, labels, size, 5.5)
        self.at = end + 6

    def number(self, number: int, x: float, y: float) -> None:
        """Write the number of a mark in a ring."""
        self.set_line_width(0.35)
        self.rect(x, y + 0.2, 9, 5.4, style="D", round_corners=True, corner_radius=2.6)
        self.put(x, y + 0.8, str(number), 10, bold=True, width=9, align="C")

    def stills(self, jpegs: Sequence[bytes], aspect: float) -> None:
        """Place the stills of a clip side by side."""
        width = (self.wide - 3 * (len(jpegs) - 1)) / len(jpegs)
        self.keep(width / aspect + 8)
        for k, jpeg in enumerate(jpegs):
            self.image(BytesIO(jpeg), self.left + k * (width + 3), self.at, width)
        self.at += width / aspect + 1.5

    def tracks(self, jpeg: bytes) -> None:
        """Place the picture of what moves in a clip, two thirds as wide as the page."""
        with Image.open(BytesIO(jpeg)) as image:
            aspect = image.width / image.height
        width = self.wide * 2 / 3
        self.keep(width / aspect + 8)
        self.image(BytesIO(jpeg), self.left, self.at, width)
        self.at += width / aspect + 1.5

    def blanks(self, text: str) -> str:
        """Return a text in one line; blanks that hold a number to its unit are kept."""
        return " ".join(part for part in re.split(r"[ \t\r\n\f\v]+", text) if part)

    def footer(self) -> None:
        """Write at the foot of every page what it belongs to, and which of how many it is."""
        self.put(self.left, self.h - 10, f"{self.running} · {self.page_no()} of {{nb}}", 7.5, width=self.wide)
