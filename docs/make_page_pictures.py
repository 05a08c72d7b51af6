"""Make the picture of a report for the README: ``python docs/make_page_pictures.py`` (Chromium must be there).

It tells the demo in a folder that is thrown away, so everything in the picture is invented and drawn; the dates are
those of the days before it is run.
"""

from __future__ import annotations

import io
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
PICTURES = HERE / "pictures"
CHROMIUM = "/usr/bin/chromium"
WIDTH_PX, HEIGHT_PX = 860, 1200
GREYS = 16


def main() -> None:
    """Tell the demo, and take a picture of the head and the course of its first case."""
    sys.path[:0] = [str(HERE.parent), str(HERE.parent / "plugins")]
    from fecallab.cli.main import run

    with tempfile.TemporaryDirectory(prefix="fecallab-pages-") as work:
        told = Path(work) / "demo"
        if run(["demo", "--no-open", str(told)]) != 0:
            raise SystemExit("the demo could not be told")
        take(told / "reports" / "case-C1.html", PICTURES / "report-case.png")


def take(page_file: Path, picture: Path) -> None:
    """Photograph a page from its top to the end of its second section, in greys, as it is printed."""
    from PIL import Image
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = chromium.new_page(viewport={"width": WIDTH_PX, "height": HEIGHT_PX}, color_scheme="light")
        page.goto(page_file.resolve().as_uri())
        page.evaluate("document.fonts.ready")
        third = page.locator("h2").nth(2).bounding_box()
        end = HEIGHT_PX if third is None else int(third["y"]) - 40
        shot = page.screenshot(clip={"x": 0, "y": 0, "width": WIDTH_PX, "height": end}, full_page=True)
        chromium.close()
    with Image.open(io.BytesIO(shot)) as whole:
        whole.convert("L").quantize(GREYS).save(picture, optimize=True)
    print(f"{picture.name} {picture.stat().st_size / 1000:.0f} kB", flush=True)


if __name__ == "__main__":
    main()
