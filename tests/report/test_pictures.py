"""Pictures are embedded within the budget, and marks lie where they were set."""

import io
import re
from dataclasses import replace

import invented_cases
import invented_pages
import invented_pictures
import pytest
from PIL import Image

from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Mark
from fecallab.imaging.mark_style import MARK_STYLE
from fecallab.imaging.overlay import PictureMark, mark_geometry
from fecallab.report.files import page_is_within_budget
from fecallab.report.model import MarkLine, PictureBlock
from fecallab.report.page import render_case, render_exam
from fecallab.report.pictures import LONGEST_PX, alt_text, jpeg_of, overlay, shape_defs


def block(*marks, um_per_px=0.5, group="oxyurid", size=(800, 600)):
    lines = tuple(
        MarkLine(number=number, mark=mark, words=group, group=group)
        for number, mark in enumerate(marks, start=1)
    )
    return PictureBlock(
        title="P1, field 1",
        picture=b"",
        width_px=size[0],
        height_px=size[1],
        um_per_px=um_per_px,
        marks=lines,
    )


def test_forty_pictures_with_twenty_marks_each_keep_to_the_budget():
    page = invented_pages.many_pictures()
    html = render_exam(page).encode("utf-8")
    pictures = sum(len(jpeg_of(one)) for one in page.pictures)
    assert len(page.pictures) == 40
    assert sum(len(one.marks) for one in page.pictures) == 800
    assert page_is_within_budget(len(html), pictures)


def test_a_case_without_pictures_is_a_small_page():
    assert len(render_case(invented_cases.followed_case()).encode()) < 150_000


def test_a_large_picture_file_is_scaled_and_a_ready_jpeg_is_embedded_as_it_is(tmp_path):
    path = tmp_path / "phone.png"
    Image.new("RGB", (3000, 2000), "white").save(path)
    scaled = jpeg_of(replace(block(), picture=path))
    assert Image.open(io.BytesIO(scaled)).size == (LONGEST_PX, round(LONGEST_PX * 2 / 3))
    ready = invented_pictures.drawn_jpeg(200, 100)
    assert jpeg_of(replace(block(), picture=ready)) == ready


def test_a_file_that_is_no_picture_is_one_clear_line(tmp_path):
    path = tmp_path / "note.jpg"
    path.write_text("no picture")
    page = replace(invented_pages.negative_exam(), pictures=(replace(block(), picture=path),))
    with pytest.raises(BadInput, match=r"note\.jpg"):
        render_exam(page)


def test_the_overlay_has_the_size_of_the_full_picture_whatever_the_copys_size():
    svg = overlay(block(Mark(x_px=10, y_px=20, name="oxyurid"), size=(4000, 3000)), "p1")
    assert 'viewBox="0 0 4000 3000"' in svg


def test_outlines_are_the_ellipses_of_the_marking_geometry():
    mark = Mark(x_px=400, y_px=300, name="oxyurid", length_um=100, width_um=40, angle_deg=30)
    svg = overlay(block(mark), "p1")
    x, y, turn, long_px, short_px = map(
        float,
        re.search(
            r'translate\(([\d.]+) ([\d.]+)\)rotate\(([\d.]+)\)" rx="([\d.]+)" ry="([\d.]+)"', svg
        ).groups(),
    )
    geometry = mark_geometry(PictureMark(400, 300, 100, 40, 30, "oxyurid", True, 1), 0.5, 7)
    reach = [((px - 400) ** 2 + (py - 300) ** 2) ** 0.5 for px, py in geometry.outline]
    assert (x, y, turn) == (400.5, 300.5, 30)  # SVG shows pixel 0 between 0 and 1
    assert long_px == pytest.approx(max(reach), abs=0.06)
    assert short_px == pytest.approx(min(reach), abs=0.06)


def test_sure_and_unsure_marks_differ_by_dash_filling_and_a_question_mark():
    sure = Mark(x_px=100, y_px=100, name="oxyurid")
    unsure = Mark(x_px=300, y_px=300, name="oxyurid", sure=False)
    assert "stroke-dasharray" not in overlay(block(sure), "p1")
    svg = overlay(block(sure, unsure), "p1")
    assert svg.count("stroke-dasharray") == 1
    assert ">1</text>" in svg
    assert ">2?</text>" in svg
    colour = MARK_STYLE["oxyurid"].colour
    assert f'fill="{colour}" stroke="#000"' in svg
    assert 'fill="#fff" stroke="#000"' in svg


@pytest.mark.parametrize("group", MARK_STYLE)
def test_every_group_has_its_shape_defined_once_on_the_page(group):
    picture = block(Mark(x_px=100, y_px=100, name=group), group=group)
    shape = f"shape-{MARK_STYLE[group].shape.replace(' ', '-')}"
    assert shape_defs([picture, picture]).count(f'id="{shape}"') == 1
    assert f'href="#{shape}"' in overlay(picture, "p1")


def test_without_a_scale_there_is_no_bar_and_the_page_says_so():
    assert "scale-bar" in overlay(block(Mark(x_px=1, y_px=1, name="oxyurid")), "p1")
    unscaled = block(Mark(x_px=1, y_px=1, name="oxyurid"), um_per_px=None)
    assert "scale-bar" not in overlay(unscaled, "p1")
    assert "no scale known" in alt_text(unscaled)
    page = replace(invented_pages.negative_exam(), pictures=(replace(unscaled, picture=b"x"),))
    assert "The scale of this picture is not known" in render_exam(page)


def test_a_field_with_nothing_in_it_still_stands_on_the_page():
    page = replace(invented_pages.negative_exam(), pictures=(invented_pictures.plain_picture(),))
    assert "Nothing marked." in render_exam(page)
