"""The syringe on the dose card: marks to scale, the plunger at the volume; measured on the drawn picture."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sheet_pages import grey, lines_of, pages_of
from sheet_story import TODAY

from fecallab.domain.spoken import volume_in_digits, volume_in_words
from fecallab.reference.drugs import syringes
from fecallab.report.sheet_paper import Paper
from fecallab.report.sheet_syringe import LABEL_STEPS, draw_syringe, label_step

DPI = 300
X, Y, LENGTH, TIP, BARREL = 20.0, 60.0, 150.0, 9.0, 13.0
START, LONG = X + TIP, LENGTH - TIP
WITHIN_MM = 0.3


def drawn(nominal, graduation, draw):
    pdf = Paper("a4", "syringe", TODAY)
    pdf.add_page()
    draw_syringe(pdf, X, Y, LENGTH, nominal, graduation, draw)
    return pdf.content()


def columns_dark(picture, y_mm, below):
    """Return the mm of the columns that are darker than `below` in the row at a height."""
    row = picture[round(y_mm / 25.4 * DPI)]
    return np.flatnonzero(row < below) / DPI * 25.4


@pytest.mark.parametrize("syringe", syringes(), ids=lambda one: one.key)
@pytest.mark.parametrize("share", ["0.2", "0.5", "1"])
def test_the_edge_of_the_plunger_stands_at_the_volume(syringe, share):
    marks = int(syringe.nominal_ml / syringe.graduation_ml * Decimal(share))
    draw = marks * syringe.graduation_ml
    picture = grey(drawn(syringe.nominal_ml, syringe.graduation_ml, draw), dpi=DPI)
    dark = columns_dark(picture, Y + 1.5, 60)
    inside = dark[(dark > START + 0.6)]
    expected = START + LONG * float(draw / syringe.nominal_ml)
    assert inside.min() == pytest.approx(expected, abs=WITHIN_MM + 0.3)


@pytest.mark.parametrize(
    ("nominal", "graduation"), [("1", "0.01"), ("0.3", "0.01"), ("5", "0.2"), ("10", "0.2")]
)
def test_there_is_a_mark_for_every_graduation_at_its_place(nominal, graduation):
    size, step = Decimal(nominal), Decimal(graduation)
    picture = grey(drawn(size, step, step * 2), dpi=DPI)
    dark = columns_dark(picture, Y + BARREL - 1.2, 200)
    seen = [group.mean() for group in np.split(dark, np.flatnonzero(np.diff(dark) > 0.2) + 1)]
    plunger = START + LONG * float(step * 2 / size)
    for number in range(1, int(size / step)):
        place = START + LONG * float(number * step / size)
        if not plunger - 0.6 < place < plunger + 3.8:
            assert min(abs(place - mark) for mark in seen) < WITHIN_MM


def test_the_numbers_on_the_barrel_stand_under_their_marks():
    content = drawn(Decimal(1), Decimal("0.01"), Decimal("0.42"))
    numbers = {line.text: (line.left + line.right) / 2 for line in lines_of(pages_of(content)[0])}
    for text in ("0.1", "0.5", "0.9"):
        assert numbers[text] == pytest.approx(START + LONG * float(text), abs=0.5)


@settings(deadline=None)
@given(st.sampled_from(syringes()), st.floats(80, 170))
def test_numbers_never_stand_between_marks_or_too_close(syringe, barrel):
    step = label_step(syringe.nominal_ml, syringe.graduation_ml, barrel)
    assert step % syringe.graduation_ml == 0
    assert step in (*LABEL_STEPS, syringe.nominal_ml)
    assert barrel * float(step / syringe.nominal_ml) > 9


@given(st.decimals("0.001", "999", places=3))
def test_digits_and_words_say_the_same_volume(volume):
    digits, words = volume_in_digits(volume), volume_in_words(volume)
    names = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
    said = words.removesuffix(" millilitres").split()
    back = "".join("." if word == "point" else str(names.index(word)) for word in said)
    assert back == digits
    assert Decimal(back) == volume
    assert not ("." in digits and digits.endswith("0"))
    assert not digits.startswith(".")
