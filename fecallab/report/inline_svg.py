"""Turn a drawn SVG file into an element that can stand in a page."""

from __future__ import annotations

import hashlib
import re
from html import escape

from fecallab.report.figures import tidy


def inline_svg(svg: str, title: str, words: str, *, kind: str) -> str:
    """Return a drawing as an element of a page: no prolog, ids of its own, a title and the data in words.

    Parameters
    ----------
    svg : str
        A whole SVG file as matplotlib writes it.
    title, words : str
        For those who do not see it.
    kind : str
        A class of the element; drawings of different kinds get different ids.
    """
    title, words = tidy(title), tidy(words)
    name = "chart-" + hashlib.sha256(f"{kind}{title}{words}".encode()).hexdigest()[:8]
    body = svg[svg.index("<svg") :]
    inner = body[body.index(">") + 1 : body.rindex("</svg>")]
    box = re.search(r'viewBox="([^"]+)"', body)
    inner = re.sub(r"<metadata>.*?</metadata>", "", inner, flags=re.DOTALL)
    inner = re.sub(r"<style[^>]*>.*?</style>", "", inner, flags=re.DOTALL)
    needed = set(re.findall(r"(?:url\(#|href=\"#)([^\")]+)", inner))
    inner = re.sub(r' id="([^"]+)"', lambda found: found[0] if found[1] in needed else "", inner)
    inner = re.sub(r'( id="|url\(#|href="#)', lambda found: f"{found[1]}{name}-", inner)
    inner = re.sub(r"<!--.*?-->", "", inner, flags=re.DOTALL)
    inner = re.sub(r">\s+<", "><", inner).replace("xlink:href", "href")
    return (
        f'<svg class="chart {kind}" viewBox="{box[1] if box else ""}" role="img"'
        f' aria-labelledby="{name}-title {name}-words" stroke-linejoin="round" stroke-linecap="butt">'
        f'<title id="{name}-title">{escape(title)}</title>'
        f'<desc id="{name}-words">{escape(words)}</desc>'
        f"{inner.strip()}</svg>"
    )
