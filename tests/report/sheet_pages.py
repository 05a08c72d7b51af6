"""Looks at a printed sheet: its text, where each line of it stands (mm from the upper left), and its picture."""

import re
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pypdfium2

POINT_MM = 25.4 / 72


@dataclass(frozen=True)
class Line:
    """A piece of text in its box, mm."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


def pages_of(content):
    return pypdfium2.PdfDocument(content)


def text_of(content):
    """Return all text with single spaces; a word that is broken over two lines is not mended."""
    found = []
    for page in pages_of(content):
        found.append(page.get_textpage().get_text_bounded())
    return re.sub(r"\s+", " ", " ".join(found))


def lines_of(page):
    textpage = page.get_textpage()
    height = page.get_height()
    found = []
    for number in range(textpage.count_rects()):
        left, bottom, right, top = textpage.get_rect(number)
        text = textpage.get_text_bounded(left, bottom, right, top).strip()
        if text:
            box = left, height - top, right, height - bottom
            found.append(Line(text, *(side * POINT_MM for side in box)))
    return found


def outside(content, edge_mm=4.0):
    """Return every line that is nearer to the paper's edge than a printer reaches."""
    found = []
    for page in pages_of(content):
        wide, tall = page.get_width() * POINT_MM, page.get_height() * POINT_MM
        found += [
            one
            for one in lines_of(page)
            if one.left < edge_mm
            or one.top < edge_mm
            or one.right > wide - edge_mm
            or one.bottom > tall - edge_mm
        ]
    return found


def printed_over(content, slack_mm=0.35):
    """Return pairs of lines that are printed over each other."""
    found = []
    for page in pages_of(content):
        for one, other in combinations(lines_of(page), 2):
            across = min(one.right, other.right) - max(one.left, other.left)
            down = min(one.bottom, other.bottom) - max(one.top, other.top)
            if across > slack_mm and down > slack_mm:
                found.append((one, other))
    return found


def grey(content, page=0, dpi=150):
    """Return a page as a grey picture, rows × columns, 0 black to 255 white."""
    bitmap = pages_of(content)[page].render(scale=dpi / 72, grayscale=True)
    return np.asarray(bitmap.to_numpy()).reshape(bitmap.height, bitmap.width)
