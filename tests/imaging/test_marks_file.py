"""Marks from CSV and from Web Annotation: what is read, and what is refused with its place named."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Mark
from fecallab.imaging.marks_file import read_marks


def from_text(folder: Path, text: str | bytes) -> list[tuple[str, Mark]]:
    path = folder / "marks.any"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return read_marks(path)


def annotation(value: str, *bodies: Any, **target: Any) -> dict[str, Any]:
    named = bodies or ({"type": "TextualBody", "purpose": "tagging", "value": "oxyurid"},)
    return {
        "type": "Annotation",
        "body": list(named),
        "target": {"source": "slides/a.jpg", "selector": {"value": value}, **target},
    }


# CSV


def test_a_full_row_is_read_whole(tmp_path: Path) -> None:
    text = (
        "picture,x_px,y_px,length_um,width_um,angle_deg,name,sure,score\n"
        "slides/a.jpg,10.5,20.25,130,38.5,45,oxyurid,true,0.93\n"
    )
    ((picture, mark),) = from_text(tmp_path, text)
    assert picture == "a.jpg", "only the name of the picture counts, not where it lay"
    assert mark == Mark(
        x_px=10.5, y_px=20.25, name="oxyurid", sure=True, length_um=130, width_um=38.5, angle_deg=45
    )


def test_only_place_and_name_must_be_there(tmp_path: Path) -> None:
    ((picture, mark),) = from_text(tmp_path, "name,y_px,x_px\noxyurid,2,1\n")
    assert picture == ""
    assert mark == Mark(x_px=1, y_px=2, name="oxyurid")


@pytest.mark.parametrize(
    ("said", "sure"),
    [
        ("true", True),
        ("1", True),
        ("yes", True),
        ("", True),
        ("FALSE", False),
        ("0", False),
        ("unsure", False),
    ],
)
def test_sure_and_unsure_in_usual_words(tmp_path: Path, said: str, sure: bool) -> None:
    ((_, mark),) = from_text(tmp_path, f"x_px,y_px,name,sure\n1,2,oxyurid,{said}\n")
    assert mark.sure is sure


def test_a_table_of_a_spreadsheet_with_semicolons_and_decimal_commas_is_read(tmp_path: Path) -> None:
    text = '\ufeffpicture;x_px;y_px;length_um;name\r\n"a, b.jpg";1,5;2;130,25;oxyurid\r\n'
    ((picture, mark),) = from_text(tmp_path, text)
    assert (picture, mark.x_px, mark.length_um) == ("a, b.jpg", 1.5, 130.25)


def test_names_with_quotes_commas_and_line_ends_are_one_cell(tmp_path: Path) -> None:
    text = 'picture,x_px,y_px,name\n"the ""best"", of\nall.jpg",1,2,oxyurid\nb.jpg,3,4,oxyurid\n'
    assert [picture for picture, _ in from_text(tmp_path, text)] == ['the "best", of\nall.jpg', "b.jpg"]


def test_a_table_without_rows_is_no_mark(tmp_path: Path) -> None:
    assert from_text(tmp_path, "picture,x_px,y_px,name\n") == []


@pytest.mark.parametrize(
    ("given_deg", "kept_deg"), [("0", 0), ("180", 0), ("179.5", 179.5), ("-90", 90), ("270", 90)]
)
def test_half_a_turn_is_the_same_axis(tmp_path: Path, given_deg: str, kept_deg: float) -> None:
    ((_, mark),) = from_text(tmp_path, f"x_px,y_px,name,angle_deg\n1,2,oxyurid,{given_deg}\n")
    assert mark.angle_deg == pytest.approx(kept_deg)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("nan,2,oxyurid,,", "x_px is 'nan'"),
        ("inf,2,oxyurid,,", "x_px is 'inf'"),
        ("-3,2,oxyurid,,", "x_px is '-3'"),
        ("1,2000001,oxyurid,,", "y_px"),
        ("1,two,oxyurid,,", "y_px is 'two'"),
        ("1,,oxyurid,,", "y_px is ''"),
        ("1,2,oxyurid,maybe,", "sure is 'maybe'"),
        ("1,2,oxyurid,true,-1", "length_um is '-1'"),
        ("1,2,oxyurid,true,0", "length_um is '0'"),
        ("1,2,,true,", "names no organism"),
        ("1", "names no organism"),
    ],
)
def test_a_cell_that_cannot_be_meant_names_its_line(tmp_path: Path, row: str, said: str) -> None:
    with pytest.raises(BadInput) as refused:
        from_text(tmp_path, f"x_px,y_px,name,sure,length_um\n5,5,oxyurid,,\n{row}\n")
    assert said in str(refused.value)
    assert "marks.any, line 3" in str(refused.value)


def test_missing_columns_are_named(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"lacks the columns name, y_px"):
        from_text(tmp_path, "picture,x_px\na.jpg,1\n")


def test_a_cell_as_long_as_a_book_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no table"):
        from_text(tmp_path, 'x_px,y_px,name\n1,2,"' + "x" * 200_000 + '"\n')


# Web Annotation


@pytest.mark.parametrize(
    "wrap", [lambda a: a, lambda a: [a], lambda a: {"items": [a]}, lambda a: {"first": {"items": [a]}}]
)
def test_one_annotation_a_list_a_page_and_a_collection_are_read(tmp_path: Path, wrap: Any) -> None:
    made = json.dumps(wrap(annotation("xywh=pixel:10,20,30,40")))
    ((picture, mark),) = from_text(tmp_path, made)
    assert picture == "a.jpg"
    assert (mark.x_px, mark.y_px) == (24.5, 39.5), "selectors measure from the edge of the first pixel"
    assert mark.length_um is None


@pytest.mark.parametrize("value", ["xywh=0,0,10,10", "xywh=pixel:0,0,10,10", "xywh=pixel:0.0,0.0,10.0,10.0"])
def test_a_fragment_with_and_without_its_unit(tmp_path: Path, value: str) -> None:
    ((_, mark),) = from_text(tmp_path, json.dumps(annotation(value)))
    assert (mark.x_px, mark.y_px) == (4.5, 4.5)


def test_an_ellipse_becomes_axes_and_angle(tmp_path: Path) -> None:
    svg = "<svg><ellipse cx='100.5' cy='50.5' rx='100' ry='30' transform='rotate(30 100.5 50.5)'/></svg>"
    ((_, mark),) = from_text(tmp_path, json.dumps(annotation(svg, umPerPx=0.5)))
    assert (mark.x_px, mark.y_px, mark.length_um, mark.width_um, mark.angle_deg) == (100, 50, 100, 30, 30)


def test_the_long_axis_is_the_longer_one(tmp_path: Path) -> None:
    svg = '<svg><ellipse cx="10.5" cy="10.5" rx="3" ry="9"/></svg>'
    ((_, mark),) = from_text(tmp_path, json.dumps({"umPerPx": 2, "items": [annotation(svg)]}))
    assert (mark.length_um, mark.width_um, mark.angle_deg) == (36, 12, 90)


def test_a_circle_is_as_long_as_wide(tmp_path: Path) -> None:
    svg = '<svg xmlns="http://www.w3.org/2000/svg"><circle cx="10.5" cy="10.5" r="4"/></svg>'
    ((_, mark),) = from_text(tmp_path, json.dumps(annotation(svg, umPerPx=0.5)))
    assert (mark.length_um, mark.width_um) == (4, 4)


@pytest.mark.parametrize(
    "doubt",
    [
        {"purpose": "tagging", "value": "unsure"},
        {"purpose": "tagging", "value": "Unsure"},
        {"sure": False},
        {"sure": "false"},
    ],
)
def test_doubt_is_never_lost(tmp_path: Path, doubt: dict[str, Any]) -> None:
    name = {"purpose": "tagging", "value": "oxyurid"}
    ((_, mark),) = from_text(tmp_path, json.dumps(annotation("xywh=1,1,2,2", name, doubt)))
    assert (mark.name, mark.sure) == ("oxyurid", False)


def test_a_comment_is_no_name(tmp_path: Path) -> None:
    comment = {"purpose": "commenting", "value": "what a beauty"}
    name = {"purpose": "identifying", "value": "coccidian"}
    ((_, mark),) = from_text(tmp_path, json.dumps(annotation("xywh=1,1,2,2", comment, name)))
    assert mark.name == "coccidian"
    with pytest.raises(BadInput, match="names no organism"):
        from_text(tmp_path, json.dumps(annotation("xywh=1,1,2,2", comment)))


def test_the_source_may_be_an_address_or_an_object(tmp_path: Path) -> None:
    for source in ("https://example.org/slides/a.jpg", {"id": "file:///slides/a.jpg"}, "a.jpg"):
        ((picture, _),) = from_text(tmp_path, json.dumps(annotation("xywh=1,1,2,2", source=source)))
        assert picture == "a.jpg"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("{", "no whole JSON"),
        ("[" * 200_000, "no whole JSON"),
        ('{"items": 3}', "no list of annotations"),
        ("[3]", "annotation 1 is no object"),
        ("[{}]", "annotation 1 has no selector"),
        ('[{"target": []}]', "annotation 1 has no selector"),
        ('[{"target": {"selector": []}}]', "annotation 1 has no selector"),
        ('[{"target": "a.jpg"}]', "annotation 1 has no selector"),
        (json.dumps([annotation("xywh=percent:1,1,2,2")]), "not read here"),
        (json.dumps([annotation("t=10,20")]), "not read here"),
        (json.dumps([annotation("<svg><path d='M0 0'/></svg>")]), "not read here"),
        (json.dumps([annotation("xywh=1.2.3,1,2,2")]), "xywh is '1.2.3'"),
        (json.dumps([annotation("xywh=-5,1,2,2")]), "xywh is '-5'"),
        (
            json.dumps([annotation("xywh=1,1,2,2"), annotation("<ellipse cx='1' cy='2' rx='3'/>")]),
            "annotation 2",
        ),
        (json.dumps([annotation("<circle cx='1' cy='2' r='3' transform='rotate(x)'/>")]), "rotate is 'x'"),
        (json.dumps([annotation("xywh=1,1,2,2", umPerPx="wide")]), "umPerPx is 'wide'"),
        (json.dumps([annotation("xywh=1,1,2,2", umPerPx=float("nan"))]), "umPerPx is 'nan'"),
        (json.dumps([annotation("xywh=1,1,900000,2", umPerPx=9000)]), "the length in µm"),
    ],
)
def test_an_annotation_that_cannot_be_meant_is_named(tmp_path: Path, content: str, said: str) -> None:
    with pytest.raises(BadInput, match=r"marks\.any") as refused:
        from_text(tmp_path, content)
    assert said in str(refused.value)
    assert refused.value.reason.next


def test_what_is_no_text_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no text file"):
        from_text(tmp_path, b"\xff\xd8\xff\xe0 a picture")
    with pytest.raises(BadInput, match="There is no file"):
        read_marks(tmp_path / "none.csv")
    with pytest.raises(BadInput, match="There is no file"):
        read_marks(tmp_path)


@given(st.one_of(st.text(max_size=200), st.binary(max_size=200)))
def test_any_content_is_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, content: str | bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "any-marks"
    path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8", "surrogatepass"))
    try:
        read_marks(path)
    except BadInput as refused:
        assert refused.reason.text and refused.reason.next


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=8) | st.just("xywh=1,1,2,2"),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(
                ["items", "first", "target", "selector", "value", "body", "source", "purpose", "umPerPx"]
            ),
            inner,
            max_size=4,
        )
    ),
    max_leaves=15,
)


@given(
    st.one_of(st.lists(JSON, max_size=3), st.dictionaries(st.sampled_from(["items", "target", "body"]), JSON))
)
def test_any_json_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, data: Any) -> None:
    path = tmp_path_factory.getbasetemp() / "any-marks.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    try:
        read_marks(path)
    except BadInput as refused:
        assert refused.reason.text and refused.reason.next


@given(
    st.lists(
        st.tuples(
            st.floats(-0.5, 5000),
            st.floats(-0.5, 5000),
            st.floats(1, 500),
            st.floats(1, 500),
            st.floats(0, 179.9),
        ),
        min_size=1,
        max_size=5,
    )
)
def test_both_formats_say_the_same(tmp_path_factory: pytest.TempPathFactory, places: list[Any]) -> None:
    """The same marks written as a table and as ellipses are the same marks."""
    table = tmp_path_factory.getbasetemp() / "same.csv"
    page = tmp_path_factory.getbasetemp() / "same.json"
    rows, items = ["picture,x_px,y_px,length_um,width_um,angle_deg,name"], []
    for x, y, one, other, angle in places:
        length, width = max(one, other), min(one, other)
        rows.append(f"a.jpg,{x!r},{y!r},{length!r},{width!r},{angle!r},oxyurid")
        ellipse = f'cx="{x + 0.5!r}" cy="{y + 0.5!r}" rx="{length / 2!r}" ry="{width / 2!r}"'
        svg = f'<svg><ellipse {ellipse} transform="rotate({angle!r})"/></svg>'
        items.append(annotation(svg, umPerPx=1))
    table.write_text("\n".join(rows), encoding="utf-8")
    page.write_text(json.dumps({"items": items}), encoding="utf-8")
    for (_, first), (_, second) in zip(read_marks(table), read_marks(page), strict=True):
        assert (second.x_px, second.y_px) == pytest.approx((first.x_px, first.y_px), abs=1e-6)
        assert (second.length_um, second.width_um) == pytest.approx((first.length_um, first.width_um))
        assert second.angle_deg == pytest.approx(first.angle_deg, abs=1e-6)
