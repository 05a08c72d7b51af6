"""The time axis shows what the records say, in shapes that need no colour, with the same data in words."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from datetime import date, timedelta

import invented_cases
import pytest

from fecallab.domain.followup import Standing
from fecallab.report.charts import (
    burden_words,
    field_strip,
    legend_of,
    time_axis_chart,
    timeline_of,
    timeline_rows,
)
from fecallab.report.legend import KEYS, legend_key
from fecallab.report.model import ExamPoint
from fecallab.report.page import render_case
from fecallab.report.time_axis import MARKERS, day_ticks


@pytest.fixture(scope="module")
def page():
    return invented_cases.followed_case()


@pytest.fixture(scope="module")
def chart(page):
    return time_axis_chart(page)


@pytest.fixture(params=["wide", "narrow"])
def svg(request, chart):
    return getattr(chart, request.param)


def test_the_drawing_is_whole_svg_without_prolog_or_date(svg):
    root = ET.fromstring(svg.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1))
    assert root.attrib["role"] == "img"
    assert "<?xml" not in svg
    assert "metadata" not in svg
    assert "<style" not in svg


def test_titles_units_and_days_are_letters_not_outlines(svg):
    texts = re.findall(r"<text[^>]*>([^<]+)</text>", svg)
    assert "weight, g" in texts
    assert "doses" in texts
    assert any("eggs per gram" in text for text in texts)
    assert any("logarithmic steps" in text for text in texts)
    assert "25 May 2026" in texts
    assert "2026" in texts


def test_the_description_holds_every_row_of_the_table(svg, chart):
    words = re.search(r"<desc[^>]*>([^<]*)</desc>", svg)[1]
    assert len(chart.rows) == 16  # 5 exams, 3 doses, 5 weights, wait, brumation, next stool
    for when, what, value in chart.rows:
        assert f"{when}: {what}, {value}" in words


def test_both_drawings_have_ids_of_their_own(chart):
    wide, narrow = (set(re.findall(r' id="([^"]+)"', text)) for text in (chart.wide, chart.narrow))
    assert wide
    assert not wide & narrow
    for text, ids in ((chart.wide, wide), (chart.narrow, narrow)):
        assert set(re.findall(r'(?:url\(#|href="#)([^")]+)', text)) <= ids


def test_the_same_case_gives_the_same_bytes(page, chart):
    assert time_axis_chart(page) == chart


def test_every_result_has_a_shape_or_filling_of_its_own():
    looks = {(look["marker"], look["markerfacecolor"]) for look in MARKERS.values()}
    assert len(looks) == len(MARKERS) == 4


def test_only_grey_ink_is_used(svg):
    colours = set(re.findall(r"#([0-9a-f]{6})", svg))
    assert colours
    assert all(colour[:2] == colour[2:4] == colour[4:] for colour in colours)


def test_hatches_tell_wait_and_brumation_apart(svg):
    patterns = re.findall(r"<pattern.*?</pattern>", svg, flags=re.DOTALL)
    assert len(patterns) == 2
    assert len({re.search(r'd="([^"]+)"', pattern.split("<path")[-1])[1] for pattern in patterns}) == 2


def test_without_wait_and_brumation_nothing_is_hatched(page):
    plain = time_axis_chart(replace(page, wait=None, pauses=()))
    assert "<pattern" not in plain.wide
    assert {"wait", "pause"} & {key for key, _ in plain.legend} == set()


def test_a_case_without_anything_to_draw_has_no_chart(page):
    assert time_axis_chart(replace(page, exams=(), doses=(), weights=())) is None


def test_weights_alone_make_a_chart_without_a_burden_axis(page):
    chart = time_axis_chart(replace(page, exams=(), doses=(), wait=None, pauses=()))
    assert "eggs per gram" not in chart.wide
    assert chart.title == "Exams, doses and weight over time"


def test_one_exam_alone_can_be_drawn(page):
    exams = (
        ExamPoint(code="E1", taken_on=date(2026, 5, 20), result="positive", burden=0.0, unit="per field"),
    )
    standing = Standing("not treated", 0, None, None, False, ())
    chart = time_axis_chart(replace(page, exams=exams, doses=(), weights=(), wait=None, standing=standing))
    assert "per field" in chart.wide


def test_different_units_never_share_the_axis(page):
    other = ExamPoint(
        code="E20", taken_on=date(2026, 5, 1), result="positive", burden=4.0, unit="per field at 10×"
    )
    timeline = timeline_of(replace(page, exams=(*page.exams, other)))
    assert timeline.unit == "eggs per gram"
    assert other in timeline.unmeasured
    assert {point.unit for point in timeline.measured} == {"eggs per gram"}
    assert ("1 May 2026", "exam E20", "positive: 4 per field at 10×") in [
        tuple(text.replace("\u00a0", " ") for text in row) for row in timeline_rows(timeline)
    ]


def test_the_axis_reaches_every_day(page):
    timeline = timeline_of(page)
    assert min(timeline.days) == date(2026, 3, 3)
    assert max(timeline.days) == date(2026, 5, 25)


def test_the_legend_names_what_occurs_and_nothing_else(page):
    keys = [key for key, _ in legend_of(timeline_of(page))]
    assert "unsure" not in keys
    assert {"positive", "negative", "inconclusive", "given", "not-given", "limit", "interval"} <= set(keys)
    assert set(keys) <= set(KEYS)
    assert all("<svg" in legend_key(key) for key in KEYS)


def test_a_dose_that_was_spat_is_drawn_as_not_given(page):
    doses = timeline_of(page).doses
    assert [dose.given for dose in doses] == [True, False, True]


def test_none_found_is_said_with_its_limit_and_never_as_zero(page):
    assert burden_words(page.exams[3]) == "none found; under 150 eggs per gram"
    assert burden_words(page.exams[2]) == ""
    assert "95 % interval 890 to" in burden_words(page.exams[0])


def test_small_spreads_keep_even_steps_and_large_ones_get_logarithmic_steps(page):
    near = tuple(
        ExamPoint(code=f"E{n}", taken_on=date(2026, 3, n), result="positive", burden=b, unit="per field")
        for n, b in ((1, 4.0), (2, 9.0))
    )
    assert "logarithmic" not in time_axis_chart(replace(page, exams=near)).wide
    far = (near[0], replace(near[1], burden=4000.0))
    assert "logarithmic" in time_axis_chart(replace(page, exams=far)).wide


def test_a_strip_has_a_cell_for_every_field_zeros_included():
    strip = field_strip([0, 3, 0, 1])
    assert [count for _, count, _ in strip.cells] == [0, 3, 0, 1]
    assert [place for place, _, _ in strip.cells] == [1, 2, 3, 4]
    assert strip.cells[1][2] == 1.0
    assert field_strip([0, 0]).cells[0][2] == 0.0
    assert field_strip([5]) is None


@pytest.mark.parametrize("days", [0, 1, 5, 13, 30, 45, 90, 200, 400, 1500, 9000])
@pytest.mark.parametrize("most", [4, 8])
def test_the_axis_names_enough_days_and_never_too_many(days, most):
    first = date(2026, 1, 20)
    ticks = day_ticks(first, first + timedelta(days=days), most)
    assert min(days + 1, 2) <= len(ticks) <= most
    assert ticks == sorted(set(ticks))
    assert first <= ticks[0]
    assert ticks[-1] <= first + timedelta(days=days)


def test_every_method_has_words():
    from fecallab.domain.exam import METHOD_WORDS, METHODS, method_words

    assert set(METHOD_WORDS) <= set(METHODS)
    assert all(re.fullmatch(r"[A-Za-z() -]+", method_words(method)) for method in METHODS)


def test_weights_long_before_the_case_stay_in_the_table_and_off_the_axis(page):
    old = replace(page.weights[0], weighed_at=page.weights[0].weighed_at.replace(year=2024))
    timeline = timeline_of(replace(page, weights=(old, *page.weights)))
    assert timeline.weights == page.weights
    assert "2024" in render_case(replace(page, weights=(old, *page.weights)))
