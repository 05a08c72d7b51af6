"""Make the pictures of docs/vet.md: the story's page as a vet sees it on a phone, without scripts, and on paper.

Run from the clone: ``python -m tests.vet.make_pictures``. Animals, people and slides are invented and drawn.
"""

import io
import tempfile
from datetime import date
from pathlib import Path

import pypdfium2
from PIL import Image
from playwright.sync_api import sync_playwright

from fecallab.records.store import open_records
from fecallab.vet.mail import packed
from fecallab.vet.page import render_vet_page
from fecallab.vet.page_build import vet_page
from fecallab.vet.pdf import vet_pdf

from . import vet_story
from .browsing import PHONE

CHROMIUM = Path("/usr/bin/chromium")

PICTURES = Path(__file__).parents[2] / "docs" / "pictures"
GAP_PX = 24


def side_by_side(shots: list[bytes], path: Path) -> None:
    """Put screens beside each other on light grey."""
    images = [Image.open(io.BytesIO(shot)).convert("RGB") for shot in shots]
    width = sum(image.width for image in images) + GAP_PX * (len(images) + 1)
    strip = Image.new("RGB", (width, max(image.height for image in images) + 2 * GAP_PX), "#d9d9d9")
    left = GAP_PX
    for image in images:
        strip.paste(image, (left, GAP_PX))
        left += image.width + GAP_PX
    strip.save(path, "JPEG", quality=82, optimize=True)


def on_a_phone(browser, page: Path) -> list[bytes]:
    """Answer the page as a vet would, and photograph what is seen on the way."""
    context = browser.new_context(**PHONE, offline=True)
    tab = context.new_page()
    tab.goto(page.as_uri())
    shots = [tab.screenshot()]
    for number, words in ((4, "artefact"), (13, "other organism")):
        tab.locator(f"#number-{number} label", has_text=words).tap()
    tab.locator("#number-13 select").select_option("pollen_pine")
    tab.locator("#number-13").scroll_into_view_if_needed()
    tab.evaluate("document.getElementById('number-13').scrollIntoView({block: 'start'}); scrollBy(0, -12)")
    shots.append(tab.screenshot())
    tab.locator(".one[data-no='7']").tap()
    tab.wait_for_timeout(300)
    shots.append(tab.screenshot())
    tab.locator("#viewer-close").tap()
    tab.locator("#number-22 label", has_text="cannot tell").tap()
    tab.locator("#rest-agreed").check()
    tab.locator("#bar a").tap()
    tab.locator("fieldset.case .plan label").first.tap()
    tab.evaluate("document.getElementById('your-answer').scrollIntoView(); scrollBy(0, -12)")
    tab.wait_for_timeout(200)
    shots.append(tab.screenshot())
    context.close()
    return shots


def without_scripts(browser, page: Path) -> list[bytes]:
    """Photograph three screens of the page with scripts switched off."""
    context = browser.new_context(**PHONE, offline=True, java_script_enabled=False)
    tab = context.new_page()
    tab.goto(page.as_uri())
    shots = []
    for what in ("#how", "#field-1", "#C1-course"):
        tab.evaluate(f"document.querySelector('{what}').scrollIntoView()")
        tab.wait_for_timeout(200)
        shots.append(tab.screenshot())
    context.close()
    return shots


def main() -> None:
    """Write the pictures."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as place, sync_playwright() as driver:
        folder = Path(place)
        vet_story.tell(folder / "records")
        with open_records(folder / "records") as store:
            part = packed(vet_page(store, "C1", date(2026, 4, 20), from_whom=vet_story.KEEPER))[0]
        page = folder / "page.html"
        page.write_text(render_vet_page(part), encoding="utf-8")
        browser = driver.chromium.launch(
            executable_path=str(CHROMIUM), args=["--no-sandbox", "--disable-gpu"]
        )
        side_by_side(on_a_phone(browser, page), PICTURES / "vet-on-a-phone.jpg")
        side_by_side(without_scripts(browser, page), PICTURES / "vet-without-scripts.jpg")
        browser.close()
        document = pypdfium2.PdfDocument(vet_pdf(part))
        sheets = [io.BytesIO() for _ in range(2)]
        for place_, sheet in zip((0, 1), sheets, strict=True):
            document[place_].render(scale=1.2).to_pil().save(sheet, "PNG")
        side_by_side([sheet.getvalue() for sheet in sheets], PICTURES / "vet-on-paper.jpg")


if __name__ == "__main__":
    main()
