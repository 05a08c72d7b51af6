"""Pages in a real browser: nothing leaves, no script is needed, no sideways scrolling, printable."""

import re
from dataclasses import replace
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread

import invented_cases
import invented_pages
import pytest

from fecallab.report.files import write_page
from fecallab.report.page import render_case, render_exam

LONG_WORD = "Donaudampfschifffahrtsgesellschaftskapitänskajütenschlüssel" * 3


def _with_long_words():
    page = invented_pages.positive_exam()
    row = replace(page.counts[0], organism=LONG_WORD, per_field_counts=tuple(range(90)))
    return replace(
        page,
        animal=replace(page.animal, name=LONG_WORD, species=LONG_WORD),
        exam=replace(page.exam, question=LONG_WORD, by=LONG_WORD),
        counts=(row,),
    )


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pages")
    made = {
        "exam": render_exam(invented_pages.positive_exam()),
        "negative": render_exam(invented_pages.negative_exam()),
        "case": render_case(invented_cases.followed_case(pictures=True)),
        "closed": render_case(invented_cases.closed_case()),
        "long": render_exam(_with_long_words()),
    }
    return {name: write_page(folder / f"{name}.html", html) for name, html in made.items()}


@pytest.fixture
def opened(browser, pages):
    """Open a page; gives the tab and the list of everything that it asked for."""
    contexts = []

    def open_page(name, width=1280, **settings):
        context = browser.new_context(viewport={"width": width, "height": 740}, **settings)
        contexts.append(context)
        tab = context.new_page()
        asked, complaints = [], []
        tab.on("request", lambda request: asked.append(request.url))
        tab.on("console", lambda message: complaints.append(message.text))
        tab.goto(pages[name].as_uri())
        return tab, asked, complaints

    yield open_page
    for context in contexts:
        context.close()


NAMES = ("exam", "negative", "case", "closed", "long")


@pytest.mark.parametrize("name", NAMES)
def test_nothing_but_the_page_itself_is_asked_for(opened, pages, name):
    tab, asked, complaints = opened(name)
    tab.wait_for_load_state("networkidle")
    outside = [url for url in asked if not url.startswith("data:")]
    assert outside == [pages[name].as_uri()]
    assert complaints == []


@pytest.fixture
def listener():
    """Listen on this machine; gives the address and the list of everything that was asked of it."""
    heard = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self):
            heard.append(self.path)
            self.send_response(204)
            self.end_headers()

        def log_message(self, *_):
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}", heard
    server.shutdown()
    server.server_close()


@pytest.mark.parametrize("forbids", [True, False])
def test_the_page_forbids_to_fetch_anything(browser, pages, listener, tmp_path, forbids):
    address, heard = listener
    html = pages["negative"].read_text(encoding="utf-8")
    if not forbids:  # without the page's own rule the same elements do fetch, so the rule is what holds
        html = re.sub(r"<meta http-equiv=[^>]*>", "", html)
    extra = f'<img src="{address}/a"><iframe src="{address}/b"></iframe><script src="{address}/c"></script>'
    path = write_page(tmp_path / "page.html", html.replace("</main>", extra + "</main>"))
    tab = browser.new_page()
    tab.goto(path.as_uri())
    tab.wait_for_timeout(300)
    tab.close()
    assert sorted(heard) == ([] if forbids else ["/a", "/b", "/c"])


@pytest.mark.parametrize("name", ("exam", "case"))
def test_everything_is_there_with_scripts_switched_off(opened, name):
    tab, _, _ = opened(name, java_script_enabled=False)
    assert tab.locator("h1").inner_text() == "Quill"
    assert tab.locator("script").count() == 0
    picture = tab.locator("figure.picture img").first
    assert picture.is_visible()
    assert picture.bounding_box()["width"] > 300
    assert tab.locator("footer").is_visible()


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_no_page_scrolls_sideways(opened, name, width):
    tab, _, _ = opened(name, width)
    assert tab.evaluate("document.documentElement.scrollWidth") <= width
    beyond = tab.evaluate(
        "[...document.querySelectorAll('main *, footer *')]"
        ".filter(e => !e.closest('svg') && e.getBoundingClientRect().right > innerWidth + 1)"
        ".map(e => e.outerHTML.slice(0, 80))"
    )
    assert beyond == []


def test_pictures_are_decoded_and_marks_lie_on_them(opened):
    tab, _, _ = opened("exam", 360)
    image, marks = (
        tab.locator(f"figure.picture {what}").first.bounding_box() for what in ("img", "svg.overlay")
    )
    assert tab.evaluate("[...document.images].every(image => image.complete && image.naturalWidth > 0)")
    for side in ("x", "y", "width", "height"):
        assert image[side] == pytest.approx(marks[side], abs=0.6)


def test_numbers_beside_marks_are_legible_on_a_phone(opened):
    tab, _, _ = opened("exam", 360)
    heights = tab.evaluate(
        "[...document.querySelectorAll('.number text')].map(t => t.getBoundingClientRect().height)"
    )
    assert len(heights) == 6
    assert min(heights) >= 10


@pytest.mark.parametrize(("width", "shown"), [(360, "narrow"), (1280, "wide")])
def test_one_of_the_two_drawings_is_shown(opened, width, shown):
    tab, _, _ = opened("case", width)
    visible = [name for name in ("wide", "narrow") if tab.locator(f"svg.chart.{name}").is_visible()]
    assert visible == [shown]
    letters_px = tab.evaluate(
        f"[...document.querySelectorAll('svg.chart.{shown} text')].map(t =>"
        " parseFloat(getComputedStyle(t).fontSize) * Math.hypot(t.getScreenCTM().a, t.getScreenCTM().b))"
    )
    assert len(letters_px) > 10
    assert min(letters_px) >= 11


def test_the_standing_its_date_and_the_weight_are_on_a_phones_first_screen(opened):
    tab, _, _ = opened("case", 360)
    for words in (".standing", ".reasons", "text=What to do next", "text=431"):
        box = tab.locator(words).first.bounding_box()
        assert box["y"] + box["height"] <= 740


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(("name", "most_sheets"), [("exam", 5), ("case", 5), ("negative", 2)])
def test_a_page_prints_on_few_sheets(opened, name, most_sheets, paper):
    tab, _, _ = opened(name, java_script_enabled=False)
    pdf = tab.pdf(format=paper)
    assert pdf.startswith(b"%PDF-")
    sheets = len(re.findall(rb"/Type\s*/Page\b", pdf))
    assert 1 <= sheets <= most_sheets


def test_on_paper_pictures_are_never_cut_and_marks_stay_on_them(opened):
    tab, _, _ = opened("exam")
    tab.emulate_media(media="print")
    assert tab.evaluate("getComputedStyle(document.querySelector('.plate')).breakInside") == "avoid"
    image, marks = (
        tab.locator(f"figure.picture {what}").first.bounding_box() for what in ("img", "svg.overlay")
    )
    assert image["height"] <= 105 / 25.4 * 96 + 1
    for side in ("x", "y", "width", "height"):
        assert image[side] == pytest.approx(marks[side], abs=0.6)


def test_text_stands_out_from_the_paper(opened):
    """Contrast of 7 to 1 or more for text on white (WCAG 2.2, success criterion 1.4.6; formula from memory)."""
    tab, _, _ = opened("case")
    colours = tab.evaluate(
        "[...new Set([...document.querySelectorAll('main *, footer *')]"
        ".filter(e => !e.closest('svg') && e.textContent.trim()).map(e => getComputedStyle(e).color))]"
    )
    assert colours
    for colour in colours:
        channels = [int(part) / 255 for part in re.findall(r"\d+", colour)[:3]]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
        assert 1.05 / (luminance + 0.05) >= 7
