"""The page in a real browser: what it shows and keeps to itself, with and without scripts, on a phone and printed."""

import json
import re
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread

import pytest

from fecallab.vet.answer import parse_answer

from .browsing import DESK, PHONE, open_tab
from .pages_to_open import box_of, tap_words

__all__ = ["open_tab"]


def test_the_first_screen_of_a_phone_holds_question_animal_weight_standing_and_the_first_crop(
    files, open_tab
):
    page = open_tab(files["story"], PHONE, java_script_enabled=False).page
    for what in ("h1.ask", ".who", "text=318", "text=positive again: back to the vet"):
        box = page.locator(what).first.bounding_box()
        assert box["y"] + box["height"] <= 844, what
    assert page.locator("li.doubt .crop img").first.bounding_box()["y"] < 600


@pytest.mark.parametrize("scripts", [True, False])
def test_nothing_leaves_and_nothing_is_fetched(files, open_tab, scripts):
    for name in ("story", "hostile"):
        tab = open_tab(files[name], DESK, offline=False, java_script_enabled=scripts)
        tab.page.wait_for_load_state("networkidle")
        assert [url for url in tab.asked if not url.startswith("data:")] == [files[name].as_uri()]
        assert tab.complaints == []
        assert tab.page.title() != "owned"


@pytest.fixture
def listener():
    """Listen on this machine; gives the address and everything that was asked of it."""
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


@pytest.mark.parametrize("rule", [True, False])
def test_the_pages_own_rule_lets_no_other_script_run_and_nothing_be_fetched(
    files, open_tab, tmp_path, listener, rule
):
    address, heard = listener
    html = files["plain"].read_text(encoding="utf-8")
    if not rule:  # without it the same elements do run and fetch, so the rule is what holds
        html = re.sub(r"<meta http-equiv=[^>]*>", "", html)
    strange = (
        f"<script>document.title='owned'</script><img src='{address}/a'><iframe src='{address}/b'></iframe>"
    )
    path = tmp_path / "strange.html"
    path.write_text(html.replace("</main>", strange + "</main>"), encoding="utf-8")
    page = open_tab(path, DESK, offline=False).page
    page.wait_for_timeout(300)
    assert (page.title() == "owned") is not rule
    assert sorted(heard) == ([] if rule else ["/a", "/b"])


def test_with_scripts_switched_off_everything_is_there_and_no_dead_control_is_shown(files, open_tab):
    page = open_tab(files["story"], PHONE, java_script_enabled=False).page
    words = page.inner_text("body")
    for said in (
        "Three marks are doubtful",
        "How to answer",
        "by number",
        "84\u202f×\u202f84\u00a0µm",
        "95\u00a0% interval",
        "Doses as logged",
        "fenbendazole",
    ):
        assert said in words, said
    assert "Could it have shown oxyurid, egg?" not in words, "it was found"
    assert page.locator("figure.field img").count() == 9
    assert page.locator("svg.overlay ellipse").count() == 30
    assert page.locator("svg.chart.narrow").is_visible()
    for control in ("input", "button", "select", "textarea", "dialog", ".bar"):
        assert page.locator(f"{control}:visible").count() == 0, control
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_printed_it_is_a_letter_with_boxes_to_tick(files, open_tab):
    import pypdfium2

    page = open_tab(files["story"], DESK, java_script_enabled=False).page
    document = pypdfium2.PdfDocument(page.pdf(format="A4"))
    text = "".join(one.get_textpage().get_text_range() for one in document)
    assert 6 <= len(document) <= 12
    for said in (
        "Three marks are doubtful",
        "How to answer",
        "cannot tell",
        "positive again: back to the vet",
    ):
        assert said in text
    with_scripts = open_tab(files["story"], DESK).page
    with_scripts.emulate_media(media="print")
    assert with_scripts.locator(".bar").is_hidden() and with_scripts.locator("#save").is_hidden()
    assert with_scripts.locator(".paper-only").first.is_visible()


def test_no_page_scrolls_sideways(files, open_tab):
    for name in ("story", "hostile"):
        page = open_tab(files[name], DESK).page
        for width in (320, 390, 768, 1280):
            page.set_viewport_size({"width": width, "height": 800})
            assert page.evaluate("document.documentElement.scrollWidth") <= width, (name, width)


def test_hostile_names_are_shown_as_text_and_go_into_the_answer_as_codes(files, open_tab):
    tab = open_tab(files["hostile"], DESK)
    page = tab.page
    assert page.locator("main script").count() == 2, "the page's data and its one script"
    assert page.locator("h1.ask").inner_text().count("<script>") == 1
    page.locator("#number-1 label", has_text="agree").click()
    page.locator("#rest-agreed").check()
    answer = parse_answer(tab.saved()).answer
    assert [one.mark for one in answer.marks] == ["E1-1-1-1"]
    assert page.title() != "owned"


def test_the_picture_follows_wheel_mouse_and_two_fingers(files, open_tab):
    tab = open_tab(files["plain"], PHONE)
    page = tab.page
    page.locator("#field-0 button").tap()
    page.wait_for_function("document.getElementById('stage').getAttribute('viewBox')")
    stage = page.locator("#stage").bounding_box()
    middle = (stage["x"] + stage["width"] / 2, stage["y"] + stage["height"] / 2)
    whole = box_of(page)
    page.mouse.move(*middle)
    for _ in range(3):
        page.mouse.wheel(0, -240)
    page.wait_for_function(
        "w => Number(document.getElementById('stage').getAttribute('viewBox').split(' ')[2]) < 0.2 * w",
        arg=whole[2],
    )
    near = box_of(page)
    page.mouse.down()
    page.mouse.move(middle[0] - 60, middle[1] - 30, steps=4)
    page.mouse.up()
    page.wait_for_timeout(60)
    moved = box_of(page)
    per_pixel = near[2] / stage["width"]
    assert moved[0] - near[0] == pytest.approx(60 * per_pixel, abs=1)
    assert moved[1] - near[1] == pytest.approx(30 * per_pixel, abs=1)
    touch = tab.context.new_cdp_session(page)

    def fingers(kind, *points):
        touch.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": [{"x": x, "y": y, "id": k} for k, (x, y) in enumerate(points)]},
        )

    page.locator("[data-zoom=whole]").tap()
    page.wait_for_timeout(60)
    x, y = middle
    fingers("touchStart", (x - 20, y), (x + 20, y))
    fingers("touchMove", (x - 40, y), (x + 40, y))
    fingers("touchMove", (x - 60, y), (x + 60, y))
    fingers("touchEnd")
    page.wait_for_timeout(60)
    pinched = box_of(page)
    assert pinched[2] == pytest.approx(whole[2] / 3, rel=0.1), "fingers three times as far apart show a third"
    assert page.evaluate("window.visualViewport.scale") == 1, "the page itself was not zoomed"


def test_nothing_relies_on_what_the_browser_keeps(files, open_tab):
    script = files["plain"].read_text(encoding="utf-8")
    for name in (
        "localStorage",
        "sessionStorage",
        "indexedDB",
        "document.cookie",
        "caches.",
        "fetch(",
        "XMLHttpRequest",
        "sendBeacon",
        "WebSocket",
    ):
        assert name not in script, name
    tab = open_tab(files["plain"], PHONE)
    tap_words(tab.page, 1, "artefact")
    assert tab.context.storage_state() == {"cookies": [], "origins": []}


def test_marks_lie_on_the_picture_and_the_ring_on_the_thumbnail(files, open_tab):
    page = open_tab(files["plain"], PHONE).page
    for place in range(2):
        image, marks = (
            page.locator(f"#field-{place} {what}").bounding_box() for what in ("img", "svg.overlay")
        )
        for side in ("x", "y", "width", "height"):
            assert image[side] == pytest.approx(marks[side], abs=0.6)
    data = json.loads(page.locator("#page-data").text_content())
    row = data["fields"][0]["marks"][0]
    circle = page.locator("#number-1 svg.locator circle").first
    assert float(circle.get_attribute("cx")) == pytest.approx((row[2] + 0.5) / 800 * 100, abs=0.2)
    assert float(circle.get_attribute("cy")) == pytest.approx((row[3] + 0.5) / 800 * 100, abs=0.2)
