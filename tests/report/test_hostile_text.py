"""Quotes, tags and emoji in any text change what a page says, never what it is made of."""

from dataclasses import fields, is_dataclass, replace
from html.parser import HTMLParser
from pathlib import Path

import invented_cases
import invented_pages
import invented_pictures
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fecallab.report.page import render_case, render_exam

from ..effort import examples

HOSTILE = "\"><script>alert(1)</script><img src=x onerror=alert(1)>'&amp;{{7*7}}{%raw%}🐢$x^2$]]>--></style>"
CLOSED_WORDS = {
    "answer", "goal", "kind", "method", "origin", "form", "kept", "outcome", "result", "standing", "model",
    "unit", "group", "page", "host_group", "ending",
}  # fmt: skip
"""Fields with a closed list of words; ``group`` and free units get tests of their own."""


class Skeleton(HTMLParser):
    """What a page is made of: its tags with their attribute names, without any text."""

    def __init__(self):
        super().__init__()
        self.tags, self.text = [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, tuple(sorted(name for name, _ in attrs))))
        self.text += [value or "" for _, value in attrs]

    def handle_endtag(self, tag):
        self.tags.append(("/" + tag, ()))

    def handle_data(self, data):
        self.text.append(data)


def skeleton(html):
    parser = Skeleton()
    parser.feed(html)
    return parser


def poisoned(thing, text, name=""):
    """Return a page object with every free text replaced."""
    if is_dataclass(thing):
        return replace(
            thing,
            **{field.name: poisoned(getattr(thing, field.name), text, field.name) for field in fields(thing)},
        )
    if isinstance(thing, tuple):
        return tuple(poisoned(item, text, name) for item in thing)
    if isinstance(thing, str) and thing and name not in CLOSED_WORDS:
        return text
    return thing


PAGES = {
    "exam": (invented_pages.positive_exam(), render_exam),
    "negative": (invented_pages.negative_exam(), render_exam),
    "case": (invented_cases.followed_case(pictures=True), render_case),
    "closed": (invented_cases.closed_case(), render_case),
}


@pytest.mark.parametrize("name", PAGES)
def test_hostile_text_in_every_field_never_changes_what_a_page_is_made_of(name):
    page, render = PAGES[name]
    hostile = skeleton(render(poisoned(page, HOSTILE)))
    harmless = skeleton(render(poisoned(page, "x" * len(HOSTILE))))
    assert hostile.tags == harmless.tags
    assert not [tag for tag, _ in hostile.tags if tag == "script"]
    assert not [names for _, names in hostile.tags if any(part.startswith("on") for part in names)]


@pytest.mark.parametrize("name", PAGES)
def test_hostile_text_is_shown_as_it_was_typed(name):
    page, render = PAGES[name]
    hostile, harmless = (skeleton(render(poisoned(page, text))) for text in (HOSTILE, "x" * len(HOSTILE)))

    def shown(parser, text):
        return sum(part.count(text) for part in parser.text)

    assert shown(hostile, HOSTILE) == shown(harmless, "x" * len(HOSTILE)) > 5


def test_a_hostile_unit_reaches_the_chart_as_text():
    page = invented_cases.followed_case()

    def with_unit(unit):
        exams = tuple(replace(point, unit=unit if point.unit else "") for point in page.exams)
        return skeleton(render_case(replace(page, exams=exams)))

    hostile, harmless = with_unit(HOSTILE), with_unit("x" * len(HOSTILE))
    assert hostile.tags == harmless.tags
    assert sum(part == HOSTILE for part in hostile.text) >= 2  # the axis titles of both drawings


def test_a_group_that_is_not_known_draws_a_plain_ring_and_no_tags():
    page = invented_pages.positive_exam()
    lines = tuple(replace(line, group=HOSTILE) for line in page.pictures[0].marks)
    html = render_exam(replace(page, pictures=(replace(page.pictures[0], marks=lines),)))
    assert "<script" not in html
    assert html.count("<ellipse") == len(lines)


def test_control_characters_and_turned_reading_directions_are_left_out():
    page = invented_pages.negative_exam()
    animal = replace(page.animal, name="Pip\x00\x1b[31m\u202e gnp.exe\ud800")
    html = render_exam(replace(page, animal=animal))
    assert "Pip[31m gnp.exe" in html
    html.encode("utf-8")
    assert not set("\x00\x1b\u202e") & set(html)


def test_half_a_character_in_a_weighing_does_not_stop_the_chart():
    page = invented_cases.followed_case()
    weights = (replace(page.weights[0], state="odd \ud83d"), *page.weights[1:])
    html = render_case(replace(page, weights=weights))
    html.encode("utf-8")
    assert html.count('<svg class="chart') == 2


def test_no_path_of_a_picture_file_reaches_the_page(tmp_path):
    folder = tmp_path / "secret-folder"
    folder.mkdir()
    file = folder / "picture.jpg"
    file.write_bytes(invented_pictures.drawn_jpeg(300, 200))
    page = invented_pages.positive_exam()
    block = replace(page.pictures[0], picture=Path(file), width_px=300, height_px=200, marks=())
    assert "secret-folder" not in render_exam(replace(page, pictures=(block,)))


@settings(max_examples=examples(60), deadline=None)
@given(st.text(max_size=60))
def test_any_name_and_remark_leave_the_page_whole(text):
    page = invented_pages.negative_exam()
    plain = skeleton(render_exam(replace(page, animal=replace(page.animal, name="x"))))
    named = render_exam(replace(page, animal=replace(page.animal, name=text or "x")))
    assert skeleton(named).tags == plain.tags
    named.encode("utf-8")
