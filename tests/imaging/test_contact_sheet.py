"""Contact sheets: every mark with its number and its place, nothing that leads the eye."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
from PIL import Image

from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Mark
from fecallab.imaging.contact_sheet import SheetField, numbered, sheet_crops, sheet_html, sheet_png


def field(name: str, *marks: Mark, um_per_px: float | None = 0.5, dtype: str = "uint8") -> SheetField:
    rng = np.random.default_rng(len(name))
    pixels = rng.integers(150, 220, (300, 400, 3)).astype(dtype)
    for mark in marks:
        x, y = round(mark.x_px), round(mark.y_px)
        pixels[max(y - 3, 0) : y + 4, max(x - 3, 0) : x + 4] = 0
    return SheetField(name, pixels, um_per_px, marks)


EGG = Mark(x_px=100, y_px=150, name="oxyurid", length_um=70, width_um=30, angle_deg=20)
CORNER = Mark(x_px=399, y_px=0, name="coccidian", sure=False)


def test_numbers_run_on_from_field_to_field() -> None:
    given = numbered([field("a.png", EGG, CORNER), field("b.png", EGG)])
    assert [numbers for _, numbers in given] == [[1, 2], [3]]


@pytest.mark.parametrize("mark", [EGG, CORNER, Mark(x_px=0, y_px=299, name="oxyurid")])
@pytest.mark.parametrize("um_per_px", [0.5, None])
def test_a_crop_has_its_mark_in_the_middle_even_at_the_border(mark: Mark, um_per_px: float | None) -> None:
    crop = sheet_crops(field("a.png", mark, um_per_px=um_per_px), [7])[0]
    pixels = np.asarray(crop.image.convert("L"))
    assert crop.number == 7
    assert pixels.shape == (240, 240)
    assert pixels[118:122, 118:122].min() < 20


def test_a_crop_tells_size_and_place_and_the_name_only_when_asked() -> None:
    plain, named = (sheet_crops(field("a.png", EGG), [1], with_names=word)[0].words for word in (False, True))
    assert "70 × 30 µm" in plain and "25 % right, 50 % down" in plain
    assert "oxyurid" not in plain and "oxyurid" in named


def test_page_stands_alone_and_holds_every_number_once() -> None:
    page = sheet_html([field("a.png", EGG, CORNER), field("b.png", EGG)], title="Pogona <1>")
    assert re.findall(r'id="mark-(\d+)"', page) == ["1", "2", "3"]
    assert "<h2>Field a.png</h2>" in page
    assert "<h2>E1-1, field 2, 10×</h2>" in sheet_html([field("E1-1, field 2, 10×", EGG)]), "not said twice"
    assert "Pogona &lt;1&gt;" in page and "<1>" not in page
    assert "http" not in page and "<script" not in page
    assert page.count('class="answer"') == 3
    assert "oxyurid" not in page and "score" not in page


def test_png_is_one_picture_that_grows_with_the_marks() -> None:
    few = Image.open(io.BytesIO(sheet_png([field("a.png", EGG)])))
    many = Image.open(io.BytesIO(sheet_png([field("a.png", *([EGG] * 9))])))
    assert few.width == many.width and few.height < many.height


def test_sixteen_bit_pictures_are_cut_out_too() -> None:
    crop = sheet_crops(field("a.png", EGG, dtype="uint16"), [1])[0]
    assert np.asarray(crop.image.convert("L")).mean() > 100


def test_no_marks_too_many_and_marks_outside_are_refused() -> None:
    with pytest.raises(BadInput, match="There are 0 marks"):
        sheet_png([field("a.png")])
    with pytest.raises(BadInput, match="401 marks"):
        sheet_html([field("a.png", *([EGG] * 401))])
    with pytest.raises(BadInput, match="outside"):
        sheet_png([field("a.png", Mark(x_px=900, y_px=3, name="oxyurid"))])
