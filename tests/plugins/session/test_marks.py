"""Marks: every operation is one step, can be taken back, and says what it did."""

from __future__ import annotations

import math

import numpy as np
import pytest
from napari_fecallab.picture_facts import PictureFacts
from PIL import Image

from fecallab.domain.errors import BadInput
from fecallab.domain.measuring import Scale, measure_ellipse, measure_line, measure_outline


def _all(session):
    return [session.marks(view.uid) for view in session.fields()], [view.state for view in session.fields()]


OPERATIONS = {
    "add one": lambda s, uids: s.add_mark("oxyurid", 9, 9),
    "add many": lambda s, uids: s.add_marks(
        [("oxyurid", 9, 9), ("coccidian", 8, 8), ("yeast", 7, 7)], sure=False
    ),
    "move": lambda s, uids: s.move_marks({uids[0]: (30, 31), uids[1]: (32, 33)}),
    "rename": lambda s, uids: s.rename_marks(uids, "ascarid"),
    "make unsure": lambda s, uids: s.set_sure(uids, False),
    "swap": lambda s, uids: s.set_sure(uids[:1]),
    "delete": lambda s, uids: s.delete_marks(uids),
    "measure a line": lambda s, uids: s.measure_line(uids[0], (1, 1), (11, 1)),
    "measure an ellipse": lambda s, uids: s.measure_ellipse(uids[0], (5, 5), 10, 6, 20),
    "set a scale": lambda s, uids: s.set_scale(0.5),
    "nothing here": lambda s, uids: s.nothing_here("f2"),
    "objective": lambda s, uids: s.set_objective(40),
    "remove a field": lambda s, uids: s.remove_field("f3"),
}


@pytest.mark.parametrize("operation", OPERATIONS)
def test_every_operation_is_one_step_back_and_one_step_forth(with_pictures, operation):
    session = with_pictures
    uids = session.add_marks([("oxyurid", 10, 11), ("coccidian", 12, 13), ("yeast", 14, 15)]).uids
    session.measure_line(uids[1], (2, 2), (12, 2))
    before = _all(session)
    outcome = OPERATIONS[operation](session, uids)
    after = _all(session)
    assert outcome.words and (after != before or operation in ("set a scale", "objective"))
    fields_after = session.fields()
    assert outcome.words in session.undo()
    assert _all(session) == before
    assert outcome.words in session.redo()
    assert _all(session) == after and session.fields() == fields_after


def test_undo_goes_back_many_steps_across_fields_to_the_beginning(with_pictures):
    session = with_pictures
    start = _all(session)
    seen = []
    for step in range(60):
        seen.append(_all(session))
        session.go_to(f"f{step % 3 + 1}")
        session.add_mark("oxyurid", step, step)
    for step in reversed(range(60)):
        assert session.undo().startswith("taken back")
        assert [len(m) for m in _all(session)[0]] == [len(m) for m in seen[step][0]]
        assert session.current == f"f{step % 3 + 1}"
    assert [len(m) for m in _all(session)[0]] == [len(m) for m in start[0]]
    while session.undo():  # the pictures that came in are steps too
        pass
    assert [view.uid for view in session.fields()] == ["E1-1-1", "E1-1-2"]
    assert session.undo() == "" and session.undo_words == ""


def test_a_new_step_after_undo_forgets_what_was_taken_back(with_pictures):
    session = with_pictures
    session.add_mark("oxyurid", 1, 1)
    session.undo()
    assert session.redo_words == "oxyurid marked"
    session.add_mark("coccidian", 2, 2)
    assert session.redo() == "" and [mark.name for mark in session.marks()] == ["coccidian"]


def test_uids_are_never_given_twice(with_pictures):
    session = with_pictures
    first = session.add_mark("oxyurid", 1, 1).uids[0]
    session.undo()
    second = session.add_mark("oxyurid", 2, 2).uids[0]
    assert first != second


def test_a_mark_outside_the_picture_or_the_lit_circle_is_made_and_told(with_pictures, tmp_path):
    session = with_pictures
    assert session.add_mark("oxyurid", 79, 59).told == ()
    outside = session.add_mark("oxyurid", 80, 10)
    assert outside.told == ("1 mark lies outside the picture (80 × 60 pixels).",) and outside.uids
    yy, xx = np.mgrid[:300, :400]
    lit = np.where(np.hypot(xx - 200, yy - 150) < 120, 210, 6).astype(np.uint8)
    Image.fromarray(np.dstack([lit] * 3)).save(tmp_path / "phone.png")
    (field,) = session.add_pictures([tmp_path / "phone.png"]).uids
    session.go_to(field)
    assert session.add_mark("oxyurid", 5, 5).told == ()  # nobody has looked for the circle yet
    facts = session.picture_facts()
    assert isinstance(facts, PictureFacts) and facts.circle is not None
    assert abs(facts.circle.diameter_px - 240) < 2.4
    assert session.add_marks([("oxyurid", 5, 5), ("oxyurid", 200, 150)]).told == (
        "1 mark lies outside the lit circle.",
    )
    assert session.move_marks({session.marks()[-1].uid: (399, 299)}).told == (
        "1 mark lies outside the lit circle.",
    )


@pytest.mark.parametrize("name", ["", "   ", "unicorn", "x" * 500, "oxyurid\nascarid", "<b>"])
def test_a_name_that_is_not_known_marks_nothing_and_says_so_in_one_line(with_pictures, name):
    with pytest.raises(BadInput) as told:
        with_pictures.add_marks([("oxyurid", 1, 1), (name, 2, 2)])
    assert "\n" not in str(told.value) and with_pictures.marks() == ()
    assert with_pictures.undo_words == "3 pictures taken in"


@pytest.mark.parametrize("place", [math.nan, math.inf, -1e12])
def test_a_place_that_is_none_marks_nothing(with_pictures, place):
    with pytest.raises(BadInput):
        with_pictures.add_mark("oxyurid", place, 1)
    uid = with_pictures.add_mark("oxyurid", 1, 1).uids[0]
    with pytest.raises(BadInput):
        with_pictures.move_marks({uid: (1, place)})
    assert with_pictures.mark(uid).x_px == 1


def test_a_field_read_at_the_eyepiece_takes_no_mark(with_pictures):
    with pytest.raises(BadInput, match="read at the eyepiece"):
        with_pictures.add_mark("oxyurid", 1, 1, field="E1-1-1")


def test_an_operation_on_a_mark_that_is_gone_says_so(with_pictures):
    uid = with_pictures.add_mark("oxyurid", 1, 1).uids[0]
    with_pictures.delete_marks([uid])
    for operation in (
        lambda: with_pictures.delete_marks([uid]),
        lambda: with_pictures.move_marks({uid: (1, 1)}),
        lambda: with_pictures.rename_marks([uid], "ascarid"),
        lambda: with_pictures.measure_line(uid, (0, 0), (1, 1)),
        lambda: with_pictures.size_words(uid),
    ):
        with pytest.raises(BadInput, match="no mark"):
            operation()


def test_renaming_says_who_named_it(folder, opened, picture):
    session = opened()
    session.add_pictures([picture("a.png")])
    session.go_to("f1")
    uid = session.add_mark("oxyurid", 1, 1).uids[0]
    session.close()
    other = opened(by="Bram Osei")
    assert other.mark(uid).named_by == "Mara Quell"
    other.rename_marks([uid], "ascarid")
    assert other.mark(uid).named_by == "Bram Osei"


# Sizes


def test_sizes_are_those_of_imaging_with_their_uncertainty(with_pictures):
    session = with_pictures
    session.set_scale(0.65, 0.004)
    scale = Scale(0.65, 0.004)
    line, oval, ring = session.add_marks([("oxyurid", 10, 10)] * 3).uids
    session.measure_line(line, (3, 4), (33, 44))
    session.measure_ellipse(oval, (40, 30), 30, 20, 25)
    points = [(40 + 15 * math.cos(t), 30 + 9 * math.sin(t)) for t in np.linspace(0, 6, 20)]
    session.measure_outline(ring, points)
    for uid, expected in (
        (line, measure_line((3, 4), (33, 44), scale)),
        (oval, measure_ellipse((40, 30), 30, 20, 25, scale)),
        (ring, measure_outline(points, scale)),
    ):
        mark = session.mark(uid)
        assert mark.length_um == pytest.approx(expected.length.value)
        assert mark.length_half_width_um == pytest.approx(expected.length.half_width)
        assert mark.angle_deg == pytest.approx(expected.angle_deg)
        if expected.width:
            assert mark.width_um == pytest.approx(expected.width.value)
    assert session.mark(line).points_px == ((3, 4), (33, 44))


@pytest.mark.parametrize("shape", ["line", "ellipse", "outline"])
def test_sizes_follow_the_scale_and_come_when_the_first_scale_is_set(with_pictures, shape):
    session = with_pictures
    uid = session.add_mark("oxyurid", 10, 10).uids[0]
    draw = {
        "line": lambda: session.measure_line(uid, (0, 0), (40, 30)),
        "ellipse": lambda: session.measure_ellipse(uid, (30, 30), 50, 20, 170),
        "outline": lambda: session.measure_outline(
            uid, [(30 + 25 * math.cos(t), 30 + 10 * math.sin(t)) for t in np.linspace(0, 6, 12)]
        ),
    }
    told = draw[shape]().told
    assert "No scale yet" in told[0] and session.mark(uid).length_um is None
    session.set_scale(0.5)
    first = session.mark(uid)
    assert first.length_um == pytest.approx(25.0, rel=0.01)
    session.set_scale(1.0, 0.01)
    assert session.mark(uid).length_um == pytest.approx(2 * first.length_um)
    session.set_scale(None)
    assert session.mark(uid).length_um is None and session.mark(uid).points_px == first.points_px
    session.undo()
    session.undo()
    assert session.mark(uid) == first


def test_what_was_drawn_moves_with_its_mark(with_pictures):
    session = with_pictures
    session.set_scale(0.5)
    uid = session.add_mark("oxyurid", 10, 10).uids[0]
    session.measure_line(uid, (5, 10), (15, 10))
    before = session.mark(uid)
    session.move_marks({uid: (20, 12)})
    after = session.mark(uid)
    assert after.points_px == ((15, 12), (25, 12)) and after.length_um == before.length_um
    session.remove_measure([uid])
    assert session.mark(uid).length_um is None and session.mark(uid).shape == ""


@pytest.mark.parametrize(
    "draw",
    [
        lambda s, u: s.measure_line(u, (1, 1), (1, 1)),
        lambda s, u: s.measure_ellipse(u, (1, 1), 0, 0, 0),
        lambda s, u: s.measure_ellipse(u, (1, 1), math.nan, 3, 0),
        lambda s, u: s.measure_outline(u, [(1, 1), (2, 2), (3, 3)]),
        lambda s, u: s.measure_outline(u, [(k, k) for k in range(9)]),
        lambda s, u: s.set_scale(0),
        lambda s, u: s.set_scale(-1),
        lambda s, u: s.set_scale(0.5, 0.6),
    ],
)
def test_what_has_no_size_changes_nothing_and_says_so(with_pictures, draw):
    uid = with_pictures.add_mark("oxyurid", 1, 1).uids[0]
    before = with_pictures.mark(uid), with_pictures.field()
    with pytest.raises(BadInput) as told:
        draw(with_pictures, uid)
    assert "\n" not in str(told.value)
    assert (with_pictures.mark(uid), with_pictures.field()) == before


def test_a_scale_comes_from_the_lit_circle_with_its_uncertainty(session, tmp_path):
    yy, xx = np.mgrid[:600, :800]
    lit = np.where(np.hypot(xx - 400, yy - 300) < 250, 210, 6).astype(np.uint8)
    Image.fromarray(np.dstack([lit] * 3)).save(tmp_path / "phone.png")
    session.add_pictures([tmp_path / "phone.png"], "E1-1")
    session.go_to("f1")
    session.set_objective(10, 20)
    outcome = session.scale_from_lit_circle()
    view = session.field()
    assert view.um_per_px == pytest.approx(2000 / 500, rel=0.01)  # FN 20 / 10x is 2 mm, across 500 pixels
    assert (
        "from the lit circle (field number 20 / objective 10)" in view.scale_words and "±" in view.scale_words
    )
    assert "hand-held" in outcome.told[0]
    with pytest.raises(BadInput, match="holds for its picture alone"):
        session.keep_profile("phone")


def test_a_field_without_a_lit_circle_or_objective_says_what_is_missing(with_pictures):
    with_pictures.set_objective(None)
    with pytest.raises(BadInput, match="needs the objective"):
        with_pictures.scale_from_lit_circle()
    with_pictures.set_objective(10, 20)
    with pytest.raises(BadInput, match="No round field"):
        with_pictures.scale_from_lit_circle()
    with pytest.raises(BadInput, match="no picture"):
        with_pictures.scale_from_lit_circle("E1-1-1")


def test_a_profile_holds_for_one_objective_and_one_size_of_picture(with_pictures, picture, opened):
    session = with_pictures
    with pytest.raises(BadInput, match="no scale"):
        session.keep_profile("scope")
    session.set_scale(0.65, 0.002, "the ruler r.png")
    session.keep_profile("scope 10x")
    session.scale_from_profile("scope 10x", ["f2", "f3"])
    assert (
        session.field("f3").um_per_px == 0.65 and "the profile scope 10x" in session.field("f3").scale_words
    )
    session.set_objective(40)
    with pytest.raises(BadInput, match="made at 10×, not 40×"):
        session.scale_from_profile("scope 10x")
    (large,) = session.add_pictures([picture("large.png", (100, 60))]).uids
    session.set_objective(10, None, [large])
    with pytest.raises(BadInput, match="80 × 60 pixels, not 100 × 60"):
        session.scale_from_profile("scope 10x", [large])
    with pytest.raises(BadInput, match="No scale is kept"):
        session.scale_from_profile("another")
    session.close()
    assert [one.name for one in opened().profiles()] == ["scope 10x"]


def test_listeners_hear_which_marks_of_which_field_changed(with_pictures):
    heard = []
    with_pictures.subscribe(heard.append)
    uid = with_pictures.add_mark("oxyurid", 1, 1).uids[0]
    assert [(e.kind, e.field, e.uids) for e in heard if e.kind != "saved"] == [("marks", "f1", (uid,))]
    heard.clear()
    with_pictures.go_to("f2")
    with_pictures.undo()
    assert [(e.kind, e.field, e.uids) for e in heard if e.kind != "saved"] == [
        ("field", "f2", ()),
        ("marks", "f1", (uid,)),
    ]
