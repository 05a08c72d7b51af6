"""The page in a real browser: as a vet on a phone, by keyboard alone, without scripts, without a network."""

import json
import re
from dataclasses import replace
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread

import pytest

from fecallab.vet.answer import parse_answer
from fecallab.vet.mail import packed
from fecallab.vet.page import render_vet_page

from . import invented, vet_story
from .browsing import DESK, PHONE, open_tab

__all__ = ["open_tab"]


@pytest.fixture(scope="module")
def files(tmp_path_factory, story):
    """Give the pages: of the story with thirty marks, one part of a split one, a hostile one, one without a case."""
    from fecallab.records.store import open_records
    from fecallab.vet.page_build import vet_page

    folder = tmp_path_factory.mktemp("pages")
    with open_records(story) as store:
        told = vet_page(store, "C1", invented.STAMP.made_on, from_whom=vet_story.KEEPER)
    plain = packed(invented.page(folder))[0]
    hostile = packed(
        invented.page(
            folder, animal=replace(invented.ANIMAL, name=HOSTILE), remark=HOSTILE, asks=HOSTILE, name=HOSTILE
        )
    )[0]
    said = "Dr Ilse Varnholt on 21 April 2026: artefact"
    items = [
        replace(one, vets_word=said, vets_note=said) if one.item.number == 3 else one for one in plain.items
    ]
    items[1] = replace(items[1], why_doubtful="the keeper is sure, but its size is too small for the name")
    made = {
        "answered": replace(plain, items=tuple(items)),
        "story": packed(told)[0],
        "plain": plain,
        "part": replace(plain, part=2, parts=3),
        "hostile": hostile,
    }
    paths = {}
    for name, page in made.items():
        paths[name] = folder / f"{name}.html"
        paths[name].write_text(render_vet_page(page), encoding="utf-8")
    return paths


HOSTILE = (
    "</script><script>document.title='owned'</script><img src=x onerror=\"document.title='owned'\">'\"&\u202e"
)


def tap_words(page, number, words):
    page.locator(f"#number-{number} label", has_text=words).tap()


def test_thirty_marks_are_answered_on_a_phone_with_at_most_ten_taps(files, open_tab):
    tab = open_tab(files["story"], PHONE)
    page = tab.page
    taps = 0
    for number, words in ((4, "artefact"), (13, "cannot tell"), (22, "agree")):
        tap_words(page, number, words)
        taps += 1
    page.locator("#rest-agreed").tap()
    page.locator("#bar a").tap()
    page.locator("fieldset.case label", has_text="same plan as on 4 March 2026").tap()
    with page.expect_download() as download:
        page.locator("#save").tap()
    taps += 4
    assert taps <= 10
    answer = parse_answer(Path(download.value.path()).read_bytes()).answer
    assert [(one.mark, one.verdict) for one in answer.marks] == [
        ("E2-1-1-4", "artefact"),
        ("E2-1-4-2", "cannot tell"),
        ("E2-1-7-4", "agree"),
    ]
    assert answer.rest_agreed
    assert answer.vet.name == vet_story.VET
    assert answer.cases[0].plan.kind == "same" and answer.cases[0].plan.plan == "P1"
    assert answer.page.id in page.locator(".page-id").first.text_content()
    assert "3 of 3 doubtful · rest agreed" in page.locator("#bar-said").inner_text()
    assert tab.complaints == []


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
        "Could it have shown oxyurid, egg?",
        "fenbendazole",
    ):
        assert said in words, said
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


def test_every_word_of_a_vet_is_saved_and_copied_alike(files, open_tab):
    tab = open_tab(files["story"], DESK)
    page = tab.page
    page.locator("#number-4 label", has_text="other organism").click()
    page.locator("#number-4 select").select_option("pollen_pine")
    page.locator("#number-4 input[type=checkbox]").check()
    page.locator("#number-4 .which input[type=text]").fill("two air sacs, I think")
    page.locator("label", has_text="a new plan").click()
    case = page.locator("fieldset.case")
    for name, value in {
        "drug": "pyrantel",
        "dose_mg_per_kg": "2,5",
        "concentration_mg_per_ml": "50",
        "interval_days": "14",
        "doses_planned": "2",
        "weight_max_age_days": "7",
        "repeats_allowed": "0",
        "night_at_least_c": "21,5",
        "fluids_ml_per_kg_day": "15",
        "negatives_needed": "3",
        "spacing_days": "7",
        "wait_after_last_dose_days": "14",
    }.items():
        case.locator(f"[name={name}]").fill(value)
    case.locator("[name=goal]").select_option("low burden")
    case.locator("[name=grade_at_most]").select_option("few")
    case.locator("[name=advice]").fill("Call me\nif she stops eating \u202e“soon”.")
    exam = page.locator("fieldset.exam")
    exam.locator("label", has_text="usable").click()
    exam.locator(".grade[data-target=oxyurid] [name=grade]").select_option("few")
    exam.locator(".grade[data-target=oxyurid] [name=adequacy]").select_option("accept")
    page.locator("[name=practice]").fill("Varnholt, reptiles")
    page.locator("[name=words]").fill("Well seen 🦎")
    saved = parse_answer(tab.saved()).answer
    page.locator("#copy").click()
    pasted = "Dear Mara,\n> " + page.locator("#block").input_value().replace("\n", "\n> ") + "\nregards"
    copied = parse_answer(pasted.encode()).answer
    assert copied.model_copy(update={"answered_at": saved.answered_at}) == saved
    mark = saved.marks[0]
    assert (mark.verdict, mark.name, mark.sure, mark.remark) == (
        "other",
        "pollen_pine",
        False,
        "two air sacs, I think",
    )
    plan = saved.cases[0].plan
    assert (plan.drug, plan.dose_mg_per_kg, plan.doses_planned, plan.interval_days) == (
        "pyrantel",
        2.5,
        2,
        14,
    )
    assert (plan.repeats_allowed, plan.night_at_least_c, plan.fluids_ml_per_kg_day) == (0, 21.5, 15)
    follow = saved.cases[0].follow_up
    assert follow.grade_at_most == "few"
    assert (follow.goal, follow.negatives_needed, follow.spacing_days) == ("low burden", 3, 7)
    assert saved.cases[0].advice == "Call me\nif she stops eating “soon”."
    told = {(one.exam, one.target): one for one in saved.exams}
    assert told["E2", ""].picture_quality == "usable"
    assert (told["E2", "oxyurid"].grade, told["E2", "oxyurid"].adequacy) == ("few", "accept")
    assert saved.words == "Well seen 🦎" and saved.vet.practice == "Varnholt, reptiles"


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("dose_mg_per_kg", "25 mg", "a number is needed above 0"),
        ("dose_mg_per_kg", "0", "a number is needed above 0"),
        ("doses_planned", "2.5", "a whole number is needed"),
        ("doses_planned", "", "how many doses"),
        ("drug", "", "needs a drug"),
    ],
)
def test_a_plan_that_cannot_be_meant_is_not_saved(files, open_tab, field, typed, said):
    page = open_tab(files["story"], DESK).page
    page.locator("label", has_text="a new plan").click()
    case = page.locator("fieldset.case")
    for name, value in {
        "drug": "pyrantel",
        "dose_mg_per_kg": "25",
        "doses_planned": "1",
        field: typed,
    }.items():
        case.locator(f"[name={name}]").fill(value)
    page.locator("#save").click()
    assert said in page.locator("#problem").inner_text()
    assert page.evaluate("document.activeElement.name") == field
    assert page.locator("#done").inner_text() == ""


def test_an_answer_without_a_name_or_with_a_nameless_organism_is_not_saved(files, open_tab):
    page = open_tab(files["story"], DESK).page
    page.locator("[name=vet]").fill("  ")
    page.locator("#save").click()
    assert "Your name is needed" in page.locator("#problem").inner_text()
    page.locator("[name=vet]").fill("Dr Ilse Varnholt")
    page.locator("#number-4 label", has_text="other organism").click()
    page.locator("#save").click()
    assert "Number 4: which organism is it?" in page.locator("#problem").inner_text()


def test_a_vet_answers_by_keyboard_alone(files, open_tab):
    tab = open_tab(files["plain"], DESK)
    page, keys = tab.page, tab.page.keyboard

    def tab_to(selector, most=80):
        for _ in range(most):
            if page.evaluate("selector => document.activeElement.matches(selector)", selector):
                return
            keys.press("Tab")
        raise AssertionError(f"{selector} is not reached by Tab")

    tab_to("#number-1 input")
    keys.press("Space")
    keys.press("ArrowRight")
    keys.press("ArrowRight")
    assert page.locator("#number-1 input:checked").get_attribute("value") == "artefact"
    tab_to("#number-1 [data-look]")
    keys.press("Enter")
    assert page.evaluate("document.activeElement.id") == "stage"
    before = page.locator("#stage").get_attribute("viewBox")
    keys.press("+")
    keys.press("ArrowLeft")
    page.wait_for_function(
        "before => document.getElementById('stage').getAttribute('viewBox') !== before", arg=before
    )
    keys.press("n")
    assert page.locator("#viewer-said").inner_text().startswith("2: ")
    tab_to("#viewer-say input")
    keys.press("Space")
    assert page.locator("#viewer-say input:checked").get_attribute("value") == "agree"
    keys.press("Escape")
    assert page.locator("#viewer").is_hidden()
    tab_to("#rest-agreed")
    keys.press("Space")
    tab_to("[name=words]")
    keys.type("by keys")
    tab_to("#save")
    with page.expect_download() as download:
        keys.press("Enter")
    answer = parse_answer(Path(download.value.path()).read_bytes()).answer
    assert [(one.mark, one.verdict) for one in answer.marks] == [
        ("E1-1-1-1", "artefact"),
        ("E1-1-1-2", "agree"),
    ]
    assert answer.rest_agreed and answer.words == "by keys"


def box_of(page):
    return [float(part) for part in page.locator("#stage").get_attribute("viewBox").split()]


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


def test_what_was_missed_is_added_where_it_was_tapped(files, open_tab):
    tab = open_tab(files["plain"], PHONE)
    page = tab.page
    page.locator("#field-1 button").tap()
    page.wait_for_function("document.getElementById('stage').getAttribute('viewBox')")
    page.locator("#add-missed").tap()
    stage, view = page.locator("#stage").bounding_box(), box_of(page)
    page.touchscreen.tap(stage["x"] + stage["width"] * 0.25, stage["y"] + stage["height"] * 0.5)
    page.locator("#viewer-say select").select_option("coccidian")
    page.locator("#viewer-close").tap()
    answer = parse_answer(tab.saved()).answer
    one = answer.missed[0]
    assert (one.reading, one.name) == ("E1-1-2", "coccidian")
    assert one.x_px == pytest.approx(view[0] + view[2] * 0.25 - 0.5, abs=3)
    assert one.y_px == pytest.approx(view[1] + view[3] * 0.5 - 0.5, abs=3)
    page.locator("#field-1 button").tap()
    page.locator("#add-missed").tap()
    page.touchscreen.tap(stage["x"] + 40, stage["y"] + stage["height"] * 0.5)
    page.locator("#save").dispatch_event("click")
    assert "has no name yet" in page.locator("#problem").text_content()
    page.locator("#viewer-close").tap()
    page.locator("#field-1 button").tap()
    page.touchscreen.tap(stage["x"] + 40, stage["y"] + stage["height"] * 0.5)
    page.locator("text=take this back").tap()
    page.locator("#viewer-close").tap()
    assert len(parse_answer(tab.saved()).answer.missed) == 1


def test_a_mark_of_the_rest_is_corrected_in_its_picture(files, open_tab):
    tab = open_tab(files["plain"], PHONE)
    page = tab.page
    page.locator(".one[data-no='5']").tap()
    assert page.locator("#viewer-said").inner_text().startswith("5: oxyurid, ")
    page.locator("#viewer-say label", has_text="artefact").tap()
    page.locator("#viewer-close").tap()
    page.locator("#rest-agreed").tap()
    assert "5: artefact" in page.locator("#said").inner_text()
    answer = parse_answer(tab.saved()).answer
    assert [(one.mark, one.verdict) for one in answer.marks] == [("E1-1-1-5", "artefact")]


def test_on_one_of_several_pages_the_rest_is_only_what_stands_on_it(files, open_tab):
    tab = open_tab(files["part"], PHONE)
    page = tab.page
    assert "page 2 of 3" in page.inner_text("header")
    page.locator("#rest-agreed").tap()
    answer = parse_answer(tab.saved()).answer
    assert not answer.rest_agreed
    assert {one.verdict for one in answer.marks} == {"agree"}
    assert [one.mark for one in answer.marks] == [f"E1-1-{p}-{k}" for p in (1, 2) for k in range(2, 7)]
    assert page.locator("fieldset.exam").count() == 0


def test_the_rest_leaves_alone_what_is_doubtful_or_was_answered_before(files, open_tab):
    tab = open_tab(files["answered"], PHONE)
    page = tab.page
    assert "Answered before, and left as it is unless you say otherwise: number 3." in page.inner_text("main")
    assert "artefact" in page.locator("#field-0 figcaption").inner_text()
    page.locator("#rest-agreed").tap()
    answer = parse_answer(tab.saved()).answer
    named = {one.mark for one in answer.marks}
    assert not answer.rest_agreed
    assert named == {f"E1-1-1-{k}" for k in (4, 5, 6)} | {f"E1-1-2-{k}" for k in range(2, 7)}


def test_a_word_is_taken_back_by_tapping_it_again(files, open_tab):
    tab = open_tab(files["plain"], PHONE)
    tap_words(tab.page, 1, "artefact")
    assert "1 of 2 doubtful" in tab.page.locator("#bar-said").inner_text()
    tap_words(tab.page, 1, "artefact")
    assert "0 of 2 doubtful" in tab.page.locator("#bar-said").inner_text()
    assert tab.page.locator("#number-1 input:checked").count() == 0
    assert parse_answer(tab.saved()).answer.marks == []


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


CHECKS = """
() => {
  const problems = [], seen = (e) => e.getClientRects().length > 0 && getComputedStyle(e).visibility !== 'hidden';
  const named = (e) => (e.getAttribute('aria-label') || [...(e.labels || [])].map(l => l.textContent).join(' ') || e.textContent ||
    (e.getAttribute('aria-labelledby') || '').split(' ').map(id => (document.getElementById(id) || {}).textContent || '').join(' ')).trim();
  document.querySelectorAll('input, select, textarea, button, a, summary, [tabindex="0"], [role=application]').forEach(e => {
    if (!named(e)) problems.push('no name: ' + e.outerHTML.slice(0, 90));
  });
  document.querySelectorAll('img').forEach(e => { if (!e.alt) problems.push('no words: ' + e.outerHTML.slice(0, 60)); });
  document.querySelectorAll('fieldset').forEach(e => { if (!e.querySelector(':scope > legend')) problems.push('no legend: ' + e.outerHTML.slice(0, 60)); });
  const ids = [...document.querySelectorAll('[id]')].map(e => e.id);
  ids.filter((id, k) => ids.indexOf(id) !== k).forEach(id => problems.push('id twice: ' + id));
  document.querySelectorAll('[aria-labelledby], [aria-describedby]').forEach(e => ((e.getAttribute('aria-labelledby') || '') + ' ' + (e.getAttribute('aria-describedby') || ''))
    .trim().split(/\\s+/).forEach(id => { if (!document.getElementById(id)) problems.push('points nowhere: ' + id); }));
  let level = 1;
  document.querySelectorAll('h1, h2, h3, h4').forEach(e => { const now = Number(e.tagName[1]); if (now > level + 1) problems.push('heading jumps: ' + e.textContent); level = now; });
  const rgb = (text) => text.match(/[\\d.]+/g).map(Number);
  const light = ([r, g, b]) => { const f = (c) => { c /= 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; }; return 0.2126 * f(r) + 0.7152 * f(g) + 0.0722 * f(b); };
  const ground = (e) => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor); if (c.length < 4 || c[3] > 0) return c; } return [255, 255, 255]; };
  document.querySelectorAll('body *').forEach(e => {
    if (e.closest('svg') || !seen(e) || ![...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim())) return;
    const [a, b] = [light(rgb(getComputedStyle(e).color)), light(ground(e))].sort((x, y) => y - x);
    if ((a + 0.05) / (b + 0.05) < 4.5) problems.push('pale: ' + e.textContent.trim().slice(0, 40));
  });
  document.querySelectorAll('button, select, input:not([type=radio]):not([type=checkbox]), textarea, .words label, label.wide').forEach(e => {
    const box = e.getBoundingClientRect();
    if (seen(e) && box.height < 43.5) problems.push('small to tap (' + Math.round(box.height) + '): ' + e.outerHTML.slice(0, 80));
  });
  return problems;
}
"""
"""Names, labels, legends, ids, order of headings, contrast of 4.5 to 1 (WCAG 2.2, 1.4.3; formula from memory), and
44 px to tap (common practice)."""


@pytest.mark.parametrize("name", ["story", "hostile"])
def test_names_labels_headings_contrast_and_size_of_what_is_tapped(files, open_tab, name):
    page = open_tab(files[name], PHONE).page
    assert page.evaluate(CHECKS) == []
    page.locator("li.doubt label", has_text="other organism").first.tap()
    page.locator("li.doubt [data-look]").first.tap()
    page.locator("#viewer-say label", has_text="agree").tap()
    assert page.evaluate(CHECKS) == []
    page.locator("#viewer-close").tap()
    if name == "story":
        page.locator("label", has_text="a new plan").tap()
        assert page.evaluate(CHECKS) == []


def test_the_known_checker_finds_nothing_serious(files, open_tab):
    """With axe-core, as it comes with axe-playwright-python; minor advice is not counted."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()

    def serious(page):
        found = axe.run(page).response["violations"]
        return [
            (one["id"], one["nodes"][0]["html"][:80])
            for one in found
            if one["impact"] in ("serious", "critical")
        ]

    still = open_tab(files["plain"], PHONE).page
    still.evaluate("document.documentElement.classList.remove('on')")  # as it is shown without scripts
    assert serious(still) == []
    still.evaluate("document.querySelector('main').append(document.createElement('img'))")
    assert [rule for rule, _ in serious(still)] == ["image-alt"], "it does find what is wrong"
    page = open_tab(files["story"], PHONE).page
    page.locator("li.doubt label", has_text="other organism").first.tap()
    page.locator("label", has_text="a new plan").tap()
    assert serious(page) == []
    viewer = open_tab(files["plain"], PHONE).page
    viewer.locator("li.doubt [data-look]").first.tap()
    assert serious(viewer) == []


def test_the_checks_find_what_is_wrong(files, open_tab):
    page = open_tab(files["plain"], PHONE).page
    page.evaluate("""() => { document.querySelector('main').insertAdjacentHTML('beforeend',
      '<h2>y</h2><h4>x</h4><img src="data:,"><input type="text"><button style="min-height:0;height:20px"></button><p style="color:#999">pale</p><fieldset></fieldset><p id="doubtful"></p>'); }""")
    found = " ".join(page.evaluate(CHECKS))
    for what in ("no name", "no words", "no legend", "id twice", "heading jumps", "pale", "small to tap"):
        assert what in found, what


def test_what_has_the_focus_is_seen(files, open_tab):
    page = open_tab(files["plain"], DESK).page
    for selector in ("#number-1 input", "#rest-agreed", "#save", "#bar a", "[name=words]"):
        page.locator(selector).first.focus()
        page.keyboard.press("Shift")
        style = "e => { const s = getComputedStyle(e.matches('.words input') ? e.nextElementSibling : e); return s.outlineStyle + ' ' + s.outlineWidth; }"
        page.keyboard.press("Tab")
        page.keyboard.press("Shift+Tab")
        assert page.locator(selector).first.evaluate(style) == "solid 3px", selector


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
