"""A printed case: its chart stands on the first sheet, and no sheet ends in the head of a table."""

import invented_cases
import pytest

from fecallab.report.files import write_page
from fecallab.report.page import render_case

MM = 96 / 25.4
PRINTED_WIDTH_PX, PRINTED_HEIGHT_PX = round(180 * MM), round(267 * MM)
"""A4 between margins of 15 mm, as CSS pixels."""


@pytest.mark.parametrize("case", ["followed_case", "closed_case"])
def test_the_chart_of_a_case_ends_on_the_first_sheet(browser, tmp_path, case):
    page = write_page(tmp_path / "case.html", render_case(getattr(invented_cases, case)()))
    tab = browser.new_page(viewport={"width": PRINTED_WIDTH_PX, "height": PRINTED_HEIGHT_PX})
    tab.emulate_media(media="print")
    tab.goto(page.as_uri())
    box = tab.locator(".chart-figure").bounding_box()
    assert box is not None and box["height"] > 20 * MM
    assert box["y"] + box["height"] <= PRINTED_HEIGHT_PX
    assert tab.evaluate("getComputedStyle(document.querySelector('thead')).breakAfter") == "avoid"
    tab.close()
