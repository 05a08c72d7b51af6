"""What a page must say, whatever its layout: standing, limits, what is missing, no diagnosis, edition."""

from dataclasses import replace
from datetime import date, datetime
from html.parser import HTMLParser

import invented_cases
import invented_pages
import pytest

from fecallab.domain.animal import Animal
from fecallab.domain.errors import Reason
from fecallab.domain.followup import STANDINGS, Standing
from fecallab.report.page import NO_DIAGNOSIS, render_case, render_exam


class Text(HTMLParser):
    """Collect visible text, headings, ids and references of a page."""

    def __init__(self):
        super().__init__()
        self.words, self.levels, self.ids, self.labelled, self.images = [], [], [], [], []
        self.hidden = 0

    def handle_starttag(self, tag, attrs):
        attributes = dict(attrs)
        if tag in ("style", "script"):
            self.hidden += 1
        if tag in ("h1", "h2", "h3", "h4"):
            self.levels.append(int(tag[1]))
        if tag == "img":
            self.images.append(attributes)
        if "id" in attributes:
            self.ids.append(attributes["id"])
        self.labelled += attributes.get("aria-labelledby", "").split()

    def handle_endtag(self, tag):
        if tag in ("style", "script"):
            self.hidden -= 1

    def handle_data(self, data):
        if not self.hidden:
            self.words.append(data)


def read(html):
    parser = Text()
    parser.feed(html)
    parser.text = " ".join(" ".join(parser.words).replace("\u00a0", " ").replace("\u202f", " ").split())
    return parser


@pytest.fixture(scope="module")
def exam():
    return read(render_exam(invented_pages.positive_exam()))


@pytest.fixture(scope="module")
def case():
    return read(render_case(invented_cases.followed_case(pictures=True)))


@pytest.fixture(params=["exam", "case"])
def page(request):
    return request.getfixturevalue(request.param)


def test_every_page_says_that_it_is_no_diagnosis_and_names_its_edition(page):
    assert NO_DIAGNOSIS in page.text
    assert "edition 2026-05" in page.text
    assert "Made on 20 May 2026" in page.text


def test_headings_start_at_one_and_never_skip_a_level(page):
    assert page.levels[0] == 1
    assert page.levels.count(1) == 1
    assert all(later <= earlier + 1 for earlier, later in zip(page.levels, page.levels[1:], strict=False))


def test_ids_are_unique_and_every_label_points_at_one(page):
    assert len(page.ids) == len(set(page.ids))
    assert set(page.labelled) <= set(page.ids)


def test_every_picture_has_its_size_and_a_description(page):
    assert page.images
    for image in page.images:
        assert image["alt"].startswith("Micrograph, ")
        assert int(image["width"]) > 0
        assert int(image["height"]) > 0
        assert image["src"].startswith("data:image/jpeg;base64,")


def test_an_exam_says_how_fresh_the_sample_was_and_what_is_still_missing(exam):
    assert "between 70 and 110 minutes old when read" in exam.text
    assert "What is still missing Read the next stool within 60 minutes of passage." in exam.text


def test_an_exam_gives_the_count_its_interval_the_grade_its_scale_and_the_share_seen(exam):
    assert "14 in 12 fields; 1 more unsure, not counted" in exam.text
    assert "1.17 (95 % interval 0.64 to 1.96)" in exam.text  # exact Poisson limits of 14: 7.65 and 23.49
    assert "few, for 1.17 per field at 10×" in exam.text
    assert "scale: eggs or larvae per 10× field, wet mount" in exam.text
    assert "7.8 % of the cover glass" in exam.text


def test_a_negative_exam_shows_its_limit_and_never_the_word_free():
    text = read(render_exam(invented_pages.negative_exam())).text
    assert "negative: none found" in text
    assert "under 6 per gram" in text
    assert "(one-sided 95 % limit)" in text
    assert "free" not in text.lower()


def test_conditions_are_answered_in_words_and_a_missing_answer_is_not_a_no(exam):
    assert "Could it have shown oxyurids, egg? Yes" in exam.text
    assert "Could it have shown flagellates, trophozoite? No" in exam.text
    only_unknown = invented_pages.positive_exam(pictures=False)
    block = only_unknown.preparations[1]
    adequacy = replace(block.adequacy[0], conditions=block.adequacy[0].conditions[1:])
    only_unknown = replace(only_unknown, preparations=(replace(block, adequacy=(adequacy,)),))
    text = read(render_exam(only_unknown)).text
    assert "Could it have shown flagellates, trophozoite? Not known" in text


def test_unsure_marks_are_told_apart_in_picture_and_table(exam):
    html = render_exam(invented_pages.positive_exam())
    assert html.count("stroke-dasharray") == 1  # one group holds all unsure outlines of its kind
    assert "6? oxyurid egg (unsure: not counted)" in exam.text


def test_the_first_section_of_a_case_holds_standing_date_reasons_weight_and_next_step(case):
    first = case.text[: case.text.index("Course")]
    for said in (
        "2 of 3 exams count so far; next stool on or after 25 May 2026",
        "“k of n”",
        "The exam of 14 April 2026 was inconclusive",
        "431 g on 18 May 2026",
        "What to do next",
    ):
        assert said in first


@pytest.mark.parametrize("word", STANDINGS)
def test_every_standing_stands_in_its_exact_words(word):
    standing = Standing(word, 1, 3, date(2026, 6, 1), False, (Reason("why", "Because."),))
    page = replace(invented_cases.followed_case(), standing=standing, exams=(), doses=(), weights=())
    assert word in read(render_case(page)).text


def test_clear_by_the_rule_says_what_it_means_only():
    standing = Standing("clear by the rule", 3, 3, None, True, (Reason("goal-reached", "Three negatives."),))
    text = read(render_case(replace(invented_cases.followed_case(), standing=standing))).text
    assert "It means only: nothing found in stools by these exams." in text
    assert "What stools cannot show" in text


def test_a_closing_that_lost_its_support_shows_it():
    page = invented_cases.closed_case()
    assert "closed, no longer supported" in read(render_case(page)).text
    supported = read(render_case(replace(page, closing_supported=True))).text
    assert "closed" in supported
    assert "no longer supported" not in supported


def test_both_chances_stand_side_by_side_with_prior_and_source(case):
    assert "50 % chosen by the vet" in case.text
    assert "after, exams independent 5.9 %" in case.text  # 0.5 x 0.0625 / (0.5 x 0.0625 + 0.5)
    assert "after, cautious 15 %" in case.text
    assert "What would lower it:" in case.text


def test_a_groups_sample_names_no_single_animal():
    tub = Animal(name="Tub two", kind="tub", number_of_animals=5)
    pen = Animal(name="North pen", kind="pen")
    page = invented_pages.negative_exam()
    assert "a tub with 5 animals" in read(render_exam(replace(page, animal=tub))).text
    assert "which animal passed it is not known" in read(render_exam(replace(page, animal=pen))).text


def test_an_unknown_time_of_passing_is_said(exam):
    page = invented_pages.negative_exam()
    sample = replace(page.sample, passed_from=None, passed_to=None, kept=None)
    text = read(render_exam(replace(page, sample=sample))).text
    assert "time of passing not known" in text
    assert "kept not known" in text


def test_the_same_page_gives_the_same_bytes():
    assert render_case(invented_cases.followed_case()) == render_case(invented_cases.followed_case())


def test_only_a_plain_file_name_becomes_a_link():
    def links(name):
        page = invented_cases.followed_case()
        return render_case(replace(page, exams=(replace(page.exams[0], page=name),))).count("<a ")

    assert links("exam-E7.html") == 1
    for name in (
        "javascript:alert(1)",
        "https://example.org/x.html",
        "../x.html",
        "//x.html",
        "a b.html",
        "",
    ):
        assert links(name) == 0


def test_a_later_reading_gets_its_own_freshness():
    page = invented_pages.positive_exam(pictures=False)
    assert page.preparations[1].preparation.read_at == datetime(2026, 3, 4, 10, 5)
    assert "between 115 minutes and 2 h 35 min old when read" in read(render_exam(page)).text
