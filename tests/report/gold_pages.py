"""Gold pages: what is compared, how it is scrubbed, and how it is made anew.

Run ``python tests/report/gold_pages.py`` to write the gold files after a change that is meant; look at the
difference with ``git diff tests/report/gold`` before it is committed.
"""

import re
import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

import invented_cases  # noqa: E402
import invented_pages  # noqa: E402

from fecallab.report.page import render_case, render_exam  # noqa: E402

GOLD = HERE / "gold"
ACTUAL = HERE / "actual"

SCRUBS = (
    (r"<style>.*?</style>", "<style>[style]</style>"),
    (r"data:image/jpeg;base64,[A-Za-z0-9+/=]+", "[jpeg]"),
    (r'<svg class="chart (wide|narrow)".*?</svg>', r"[\1 chart]"),
    (r'<svg class="(overlay|defs|key|legend-key)".*?</svg>', r"[\1]"),
    (r"(fecallab )\d+\.\d+[.\w]*", r"\1[version]"),
)
"""Drawings have tests of their own; style and version change without changing what a page says."""


def pages():
    """Return every gold page by name, scrubbed."""
    made = {
        "exam_positive.html": render_exam(invented_pages.positive_exam()),
        "exam_negative.html": render_exam(invented_pages.negative_exam()),
        "case_followed.html": render_case(invented_cases.followed_case(pictures=True)),
        "case_closed.html": render_case(invented_cases.closed_case()),
    }
    return {name: scrubbed(html) for name, html in made.items()}


def scrubbed(html):
    """Return a page without what may change for other reasons than its content."""
    for pattern, instead in SCRUBS:
        html = re.sub(pattern, instead, html, flags=re.DOTALL)
    return html


if __name__ == "__main__":
    GOLD.mkdir(exist_ok=True)
    for page_name, text in pages().items():
        (GOLD / page_name).write_text(text, encoding="utf-8")
        print(f"wrote {(GOLD / page_name).relative_to(HERE.parents[1])}")
