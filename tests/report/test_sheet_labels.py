"""Labels: every code on the print is read back, stands on its label, and names its collection."""

import io
from datetime import date

import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from sheet_pages import grey, lines_of, outside, pages_of, text_of
from sheet_story import NOW, TODAY, make_records

from fecallab.domain.errors import BadInput
from fecallab.records.folder import read_marker
from fecallab.records.store import open_records
from fecallab.report.labels import (
    GRIDS,
    QUIET_MODULES,
    SMALLEST_MODULE_MM,
    code_from_label,
    draw_labels,
    draw_qr,
    grid_from,
    label_content,
    labels_for,
)
from fecallab.report.sheet_model import PAPERS, Label
from fecallab.report.sheet_paper import Paper

HERE = "3f2a91bc-77aa-4b1e-9f00-000000000000"
ELSEWHERE = "99990000-77aa-4b1e-9f00-000000000000"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return make_records(tmp_path_factory.mktemp("labels") / "records")


def label(code="S1", animal="Saffron"):
    return Label(code=code, animal=animal, animal_code="A1", content=label_content(HERE, code))


def read_codes(picture):
    return [found.text for found in zxingcpp.read_barcodes(picture)]


@pytest.mark.parametrize("paper", PAPERS)
def test_a_full_sheet_is_read_back_code_by_code_from_the_print(paper):
    grid = GRIDS[paper]
    labels = [label(f"S{number}") for number in range(1, grid.on_a_sheet + 1)]
    content = draw_labels(labels, grid, TODAY).content()
    assert len(pages_of(content)) == 1
    assert sorted(read_codes(grey(content, dpi=200))) == sorted(one.content for one in labels)


def test_a_poor_grey_copy_is_still_read():
    content = draw_labels([label("S12345")], GRIDS["letter"], TODAY).content()
    picture = Image.fromarray(grey(content, dpi=150)).crop((0, 0, 500, 260)).rotate(7, fillcolor=255)
    worse = io.BytesIO()
    picture.save(worse, "JPEG", quality=25)
    assert read_codes(Image.open(worse)) == ["fecallab:3f2a91bc:S12345"]


def test_a_code_is_a_full_qr_of_level_m_with_its_white_edge():
    pdf = Paper("a4", "one", TODAY)
    pdf.add_page()
    draw_qr(pdf, label_content(HERE, "S1"), 20, 20, 25)
    (found,) = zxingcpp.read_barcodes(grey(pdf.content(), dpi=200))
    assert found.format == zxingcpp.BarcodeFormat.QRCode
    assert found.ec_level == "M"
    module = 25 / (25 + 2 * QUIET_MODULES)
    left = found.position.top_left.x / 200 * 25.4
    assert left == pytest.approx(20 + QUIET_MODULES * module, abs=0.2)


@pytest.mark.parametrize("paper", PAPERS)
def test_squares_are_large_enough_for_a_phone_on_the_usual_sheets(paper):
    grid = GRIDS[paper]
    content = draw_labels([label("S123456")], grid, TODAY).content()
    (found,) = zxingcpp.read_barcodes(grey(content, dpi=300))
    wide_mm = (found.position.top_right.x - found.position.top_left.x) / 300 * 25.4
    assert wide_mm / 25 >= SMALLEST_MODULE_MM


def test_every_line_stands_on_its_own_label():
    grid = grid_from("a4", rows=9, columns=4, top_mm=10, left_mm=8)
    labels = [
        label(f"S{n}", animal="A very long name that finds no room at all") for n in range(grid.on_a_sheet)
    ]
    content = draw_labels(labels, grid, TODAY).content()
    assert outside(content) == []
    for line in lines_of(pages_of(content)[0]):
        column = (line.left - grid.left_mm) // (grid.width_mm + grid.gap_across_mm)
        row = (line.top - grid.top_mm) // (grid.height_mm + grid.gap_down_mm)
        x = grid.left_mm + column * (grid.width_mm + grid.gap_across_mm)
        y = grid.top_mm + row * (grid.height_mm + grid.gap_down_mm)
        assert x <= line.left and line.right <= x + grid.width_mm + 0.1
        assert y <= line.top and line.bottom <= y + grid.height_mm + 0.1


def test_used_up_labels_are_skipped_and_more_than_a_sheet_goes_on_the_next():
    grid = GRIDS["a4"]
    content = draw_labels([label(f"S{n}") for n in range(3)], grid, TODAY, skip=grid.on_a_sheet - 2).content()
    assert [len(read_codes(grey(content, page, 200))) for page in range(len(pages_of(content)))] == [2, 1]


def test_labels_of_samples_and_of_animals(folder):
    with open_records(folder) as store:
        identity = read_marker(store.folder).collection
        known, coming = labels_for(store, ["s1", "Saffron"], identity)
        assert known.content == f"fecallab:{identity[:8]}:S1"
        assert known.passed == "26 February 2026, 07:30"
        assert (coming.code, coming.content) == ("", f"fecallab:{identity[:8]}:A1")
        with pytest.raises(BadInput, match="sheet labels"):
            labels_for(store, [], identity)
        text = text_of(draw_labels([known, coming], GRIDS["a4"], TODAY).content())
    assert "S1" in text and "passed 26 February 2026, 07:30" in text


def test_samples_without_an_exam_are_labelled_by_themselves(folder):
    from fecallab.domain.sample import Sample

    with open_records(folder) as store:
        with store.write(by="Mara Quell", now=NOW) as writer:
            fresh = writer.add(Sample(animal="A1", collected_at=NOW))
        assert [one.code for one in labels_for(store, [], HERE)] == [fresh.code]


def test_a_label_of_another_collection_is_told_apart():
    with pytest.raises(BadInput, match="another collection"):
        code_from_label(label_content(ELSEWHERE, "S12"), HERE)
    assert code_from_label(label_content(HERE, "S12"), HERE) == "S12"


@settings(deadline=None)
@given(st.text(max_size=40))
def test_what_is_no_label_of_ours_is_left_as_it_was_scanned(text):
    if not text.strip().casefold().startswith("fecallab:"):
        assert code_from_label(text, HERE) == text.strip()


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"rows": 7, "columns": 3, "top_mm": 15.0, "left_mm": 7.0, "width_mm": 70.0}, "labels-too-large"),
        ({"rows": 20, "columns": 3, "top_mm": 10.0, "left_mm": 10.0}, "labels-too-small"),
        ({"rows": 2, "columns": 2, "top_mm": 200.0, "left_mm": 10.0}, "labels-too-large"),
        (
            {"rows": 2, "columns": 2, "top_mm": 10.0, "left_mm": 10.0, "gap_across_mm": 250.0},
            "labels-too-large",
        ),
    ],
)
def test_a_grid_that_cannot_be_is_refused(given, code):
    with pytest.raises(BadInput) as refused:
        grid_from("a4", **given)
    assert refused.value.reason.code == code


@settings(deadline=None)
@given(
    paper=st.sampled_from(sorted(PAPERS)),
    rows=st.integers(1, 12),
    columns=st.integers(1, 5),
    top=st.floats(0, 40),
    left=st.floats(0, 40),
    across=st.floats(0, 10),
    down=st.floats(0, 10),
)
def test_every_grid_that_is_taken_lies_on_the_paper(paper, rows, columns, top, left, across, down):
    try:
        grid = grid_from(
            paper,
            rows=rows,
            columns=columns,
            top_mm=top,
            left_mm=left,
            gap_across_mm=across,
            gap_down_mm=down,
        )
    except BadInput:
        return
    wide, tall = PAPERS[paper]
    assert grid.left_mm + columns * grid.width_mm + (columns - 1) * across <= wide + 0.05
    assert grid.top_mm + rows * grid.height_mm + (rows - 1) * down <= tall + 0.05
    assert grid.width_mm >= 30 and grid.height_mm >= 15


def test_the_day_of_printing_does_not_change_a_label():
    one, other = (draw_labels([label()], GRIDS["a4"], day) for day in (TODAY, date(2027, 1, 1)))
    assert (grey(one.content()) == grey(other.content())).all()
