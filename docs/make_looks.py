"""Photograph every page and sheet for looking at: ``python docs/make_looks.py FOLDER`` (Chromium must be there).

It tells the demo, writes its reports, the vet's page and every sheet, and takes pictures of them wide, narrow, as on
a phone, in grey and printed. The pictures are for the eye and not kept in the tree; those of the marking window are
made by ``make_pictures.py``.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
CHROMIUM = "/usr/bin/chromium"
LONGEST_PX = 2400
PRINTED_PAGES = 2
WAYS: dict[str, dict[str, Any]] = {
    "wide": {"viewport": {"width": 1280, "height": 900}},
    "small": {"viewport": {"width": 640, "height": 900}},
    "phone": {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "device_scale_factor": 2},
}
SHEETS: tuple[tuple[str, ...], ...] = (
    ("sheet", "microscope", "Saffron"),
    ("sheet", "care"),
    ("sheet", "labels", "S1", "Saffron"),
    ("sheet", "dose-card", "C2"),
    ("arrivals", "round", "I1"),
)
"""What is printed; each with the option that names its file."""


def main(words: list[str]) -> None:
    """Tell the demo in a folder that is thrown away and photograph what it holds."""
    if len(words) != 1:
        raise SystemExit("Type: python docs/make_looks.py FOLDER")
    sys.path[:0] = [str(HERE.parent), str(HERE.parent / "plugins")]
    pictures = Path(words[0])
    pictures.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="fecallab-looks-") as work:
        told = Path(work) / "demo"
        _run("demo", "--no-open", str(told))
        sheets = list(_sheets(told))
        _run("vet", "page", "C1", "--pdf", "--out", str(told / "vet"), "--records", str(told))
        for path in sheets + sorted((told / "vet").rglob("*.pdf")):
            _pages_of(path, pictures, path.stem)
        _photograph(sorted([*told.glob("reports/*.html"), *(told / "vet").rglob("*.html")]), pictures)


def _sheets(told: Path) -> Iterator[Path]:
    for words in SHEETS:
        path = told / f"{'-'.join(words[:2])}.pdf"
        naming = "--sheet" if words[0] == "arrivals" else "--to"
        if _run(*words, naming, str(path), "--records", str(told)):
            yield path


def _run(*words: str) -> bool:
    from fecallab.cli.main import run

    code = run(list(words))
    if code != 0:
        print(f"fecallab {' '.join(words)} ended with {code}", file=sys.stderr, flush=True)
    return code == 0


def _photograph(pages: list[Path], pictures: Path) -> None:
    from PIL import Image
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        for way, how in WAYS.items():
            context = chromium.new_context(offline=True, color_scheme="light", **how)
            tab = context.new_page()
            for page in pages:
                tab.goto(page.resolve().as_uri())
                width, height = how["viewport"]["width"], tab.evaluate("document.body.scrollHeight")
                clip = {"x": 0, "y": 0, "width": width, "height": min(LONGEST_PX, height)}
                shot = pictures / f"{page.stem}-{way}.png"
                tab.screenshot(path=str(shot), clip=clip, full_page=True)
                if way == "wide":
                    with Image.open(shot) as whole:
                        whole.convert("L").save(pictures / f"{page.stem}-grey.png")
                    paper = pictures / f"{page.stem}-printed.pdf"
                    tab.pdf(path=str(paper), format="A4")
                    _pages_of(paper, pictures, paper.stem)
                    paper.unlink()
            context.close()
        chromium.close()


def _pages_of(path: Path, pictures: Path, name: str) -> None:
    """Picture the first pages of a PDF beside each other."""
    import pypdfium2
    from PIL import Image

    with pypdfium2.PdfDocument(path) as paper:
        shown = [paper[k].render(scale=1.3).to_pil() for k in range(min(PRINTED_PAGES, len(paper)))]
    strip = Image.new("RGB", (sum(one.width + 16 for one in shown), max(one.height for one in shown)), "#bbb")
    left = 0
    for one in shown:
        strip.paste(one, (left, 0))
        left += one.width + 16
    strip.save(pictures / f"{name}.png")


if __name__ == "__main__":
    main(sys.argv[1:])
