"""The page answered in a real browser: every word of a vet on a phone or by keyboard alone, saved and copied."""

from pathlib import Path

import pytest

from fecallab.vet.answer import parse_answer

from . import vet_story
from .browsing import DESK, PHONE, open_tab
from .pages_to_open import box_of, tap_words

__all__ = ["open_tab"]


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
    assert exam.locator("[name=adequacy]").count() == 0, "what was found could be shown"
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
    assert (told["E2", "oxyurid"].grade, told["E2", "oxyurid"].adequacy) == ("few", "")
    assert saved.words == "Well seen 🦎" and saved.vet.practice == "Varnholt, reptiles"


def test_whether_it_could_have_been_shown_is_asked_where_nothing_sure_was_found(files, open_tab):
    tab = open_tab(files["plain"], DESK)
    exam = tab.page.locator("fieldset.exam")
    targets = exam.locator(".grade:has([name=adequacy])").evaluate_all(
        "all => all.map(x => x.dataset.target)"
    )
    assert targets == ["coccidian", "ascarid", "flagellate"]
    exam.locator(".grade[data-target=coccidian] [name=adequacy]").select_option("accept")
    exam.locator(".grade[data-target=oxyurid] [name=grade]").select_option("few")
    told = {one.target: one for one in parse_answer(tab.saved()).answer.exams}
    assert (told["coccidian"].adequacy, told["oxyurid"].adequacy) == ("accept", "")


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
    assert page.locator(f"label:has([name={field}]) + #problem").is_visible()
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
