"""What the keys do, on a viewer without a screen and a real session."""

import numpy as np
import pytest


def say(control):
    return [(mark.name, mark.sure) for mark in control.session.marks()]


def key_of(control, name):
    return next(one.key for one in control.class_keys if one.name == name and not one.second_row)


def test_one_key_marks_as_sure_and_with_shift_or_after_u_as_not_sure(control, exam):
    key = key_of(control, "oxyurid")
    for place, keys in zip([*exam.truth[0], (200, 60)], ([key], [f"Shift-{key}"], ["U", key]), strict=True):
        control.point_at(place)
        for one in keys:
            control.press(one)
    assert say(control) == [("oxyurid", True), ("oxyurid", False), ("oxyurid", False)]
    assert np.allclose([(m.x_px, m.y_px) for m in control.session.marks()][:2], exam.truth[0])
    assert control.waiting == set() and "oxyurid" in control.message


def test_look_alikes_stand_behind_0(control):
    control.point_at((100, 100))
    control.press("0")
    assert control.waiting == {"row"}
    control.press("1")
    assert say(control)[0][0] in ("artefact", "pseudoparasite")


def test_the_mark_at_the_pointer_is_renamed_made_unsure_and_taken_away(control, exam):
    first, second = exam.truth[0]
    for place in (first, second):
        control.point_at(place)
        control.press("1")
    control.point_at(first)
    control.press("R")
    control.press(key_of(control, "oxyurid"))
    control.press("S")
    named = {round(mark.x_px): (mark.name, mark.sure) for mark in control.session.marks()}
    assert named[round(first[0])] == ("oxyurid", False)
    assert named[round(second[0])] == (control.class_keys[0].name, True)
    control.press("Delete")
    assert [round(mark.x_px) for mark in control.session.marks()] == [round(second[0])]
    assert list(control.layers.marks.layer.features["uid"]) == [mark.uid for mark in control.session.marks()]


def test_everything_is_undone_and_done_again_over_many_steps_and_fields(control, exam):
    rows = []

    def note():
        rows.append([(f.state, dict(f.sure), dict(f.unsure)) for f in control.session.fields()])

    note()
    for keys in (["1"], ["S"], ["R", "2"], ["Space", "E"], ["1"], ["Shift-2"], ["Delete"]):
        control.point_at((60 + 20 * len(rows), 80))
        for key in keys:
            control.press(key)
        note()
    assert len({str(row) for row in rows}) > 5
    steps = 0
    while control.session.undo_words:
        control.press("Control-Z")
        steps += 1
    assert steps == 7
    assert not any(f.sure or f.unsure or f.state == "nothing here" for f in control.session.fields())
    while control.session.redo_words:
        control.press("Control-Shift-Z")
    assert [(f.state, dict(f.sure), dict(f.unsure)) for f in control.session.fields()] == rows[-1]
    control.press("Control-Z")
    shown = control.layers.marks.layer.features
    assert list(shown["uid"]) == [mark.uid for mark in control.session.marks()]


def test_nothing_here_is_one_key_and_goes_on(control):
    control.press("Space")
    control.press("E")
    assert control.session.fields()[1].state == "nothing here"
    assert control.session.field().number == 3
    control.press("PageUp")
    control.press("PageUp")
    control.point_at((100, 100))
    control.press("1")
    control.press("E")
    assert say(control) and control.session.field().state == "marked"
    assert control.message


def test_next_undone_finds_what_nothing_was_said_of(control):
    control.point_at((50, 50))
    control.press("1")
    control.press("W")
    assert control.session.field().number == 2
    control.press("E")
    control.press("E")
    control.press("W")
    assert "every field" in control.message


def test_a_line_and_an_outline_give_sizes_at_once(control, exam):
    x, y = exam.truth[0][0]
    control.point_at((x, y))
    control.press(key_of(control, "oxyurid"))
    control.point_at((x - 46, y))
    control.press("M")
    control.point_at((x + 46, y))
    control.press("M")
    mark = control.session.marks()[0]
    assert mark.length_um == pytest.approx(92 * 0.65, abs=0.2)
    words = control.session.size_words(mark.uid)
    assert "µm" in words.size and words.lines
    assert len(control.viewer.layers["measures"].data) == 1
    control.press("Shift-M")
    assert control.session.marks()[0].length_um is None
    assert "measures" not in control.viewer.layers
    for angle in np.linspace(0, 2 * np.pi, 8, endpoint=False):
        control.point_at((x + 46 * np.cos(angle), y + 23 * np.sin(angle)))
        control.press("O")
    control.press("Enter")
    mark = control.session.marks()[0]
    assert mark.length_um == pytest.approx(59.8, rel=0.03) and mark.width_um == pytest.approx(29.9, rel=0.05)
    control.press("O")
    control.press("Escape")
    assert control.drawing == []


def test_an_outline_sizes_the_mark_that_lies_in_it_and_not_the_one_chosen_last(control, exam):
    inner, other = exam.truth[0]
    for place in (inner, other):
        control.point_at(place)
        control.press("1")
    for angle in np.linspace(0, 2 * np.pi, 8, endpoint=False):
        control.point_at((inner[0] + 40 * np.cos(angle), inner[1] + 20 * np.sin(angle)))
        control.press("O")
    control.press("Enter")
    sized = [(mark.x_px, mark.y_px) for mark in control.session.marks() if mark.length_um]
    assert sized == [inner]


def test_an_exam_by_keyboard_alone(control):
    start = control.pointer
    for key in ("Right", "Right", "Shift-Down", "Control-Left"):
        control.press(key)
    assert control.pointer != start
    x, y = control.pointer
    control.press("1")
    assert (control.session.marks()[0].x_px, control.session.marks()[0].y_px) == (x, y)
    for _ in range(30):
        control.press("Shift-Right")
    assert control.pointer[0] == control.session.field().width_px - 1
    control.press("2")
    control.press(",")
    assert control.pointer == (x, y)
    control.press(".")
    assert control.pointer[0] == control.session.field().width_px - 1
    zoom = control.layers.camera.zoom
    control.press("=")
    assert control.layers.camera.zoom > zoom
    control.press("Home")
    assert control.layers.camera.zoom == pytest.approx(control.layers.fitted_zoom)
    control.mouse_moved()
    assert control.layers.pointer.cross is None


def test_what_cannot_be_is_one_line_and_changes_nothing(control):
    outside = (5000.0, 10.0)
    control.hold_pointer(outside)
    for keys, said in (
        (["1"], "outside the picture"),
        (["S"], "no mark"),
        (["Delete"], "no mark"),
        (["M", "M"], "No mark lies in what was drawn"),
        (["R"], "no mark"),
        (["Enter"], "No outline"),
        (["A"], "no proposal"),
        (["P"], "No proposal"),
        (["Control-Z"], "nothing to take back"),
        (["B"], "no clip"),
        (["9", "Shift-9"], ""),
    ):
        for key in keys:
            assert control.press(key)
        assert said in control.message, keys
    assert control.session.marks() == () and not control.session.undo_words
    assert not control.press("Alt-F4")


def test_an_exam_without_fields_says_so_and_takes_pictures(open_control, make_exam, tmp_path):
    from PIL import Image

    control = open_control(make_exam(()))
    assert "no field yet" in control.message
    for key in ("1", "E", "Space", "M", "Right", ".", "Delete"):
        control.press(key)
        assert "no field yet" in control.message
    Image.new("RGB", (320, 240), (200, 200, 190)).save(tmp_path / "new.png")
    control.go_to(control.session.add_pictures([tmp_path / "new.png"]).uids[0])
    control.hold_pointer((50.0, 50.0))
    control.press("1")
    assert len(control.session.marks()) == 1


def test_proposals_come_after_reading_and_are_accepted_named_or_put_away_by_key(control):
    uid = control.session.current
    control.session.offer_proposals(
        uid,
        [
            ("oxyurid", 60, 60, 70.0, 30.0, 0.0),
            ("coccidian", 160, 60, 20.0, 20.0, 0.0),
            ("oxyurid", 260, 60, None, None, None),
        ],
    )
    assert "proposals" not in control.viewer.layers
    control.point_at((100, 200))
    control.press("1")
    assert "proposals" not in control.viewer.layers  # the rest of the field is still to be read
    control.press("Space")
    assert control.session.field().number == 1 and "3 proposals" in control.message
    layer = control.viewer.layers["proposals"]
    assert len(layer.data) == 3 and {str(s.value) for s in layer.symbol} == {"ring"}
    dashes = control.viewer.layers["outlines of proposals"]
    control.press("H")
    assert not layer.visible and not dashes.visible
    control.press("H")
    assert layer.visible and dashes.visible
    assert not dashes.editable and np.allclose(dashes.scale, 0.65)
    around = np.ptp(dashes.data[:24, 0], axis=0)[::-1]
    assert around == pytest.approx((1.35 * 70 / 0.65, 1.35 * 30 / 0.65), rel=0.05)
    assert all("oxyurid" in word or "coccidian" in word for word in layer.features["words"])
    assert not any(character == "%" for word in layer.features["words"] for character in word)
    control.press("P")
    control.press("A")
    control.point_at((160, 60))
    control.press(f"Shift-{key_of(control, 'oxyurid')}")
    control.point_at((260, 60))
    control.press("D")
    assert say(control)[1:] == [("oxyurid", True), ("oxyurid", False)]
    assert control.session.marks()[1].length_um == 70.0
    assert "proposals" not in control.viewer.layers
    control.press("Control-Z")
    assert len(control.viewer.layers["proposals"].data) == 1


def test_a_field_with_nothing_waits_for_its_proposals(control):
    control.session.offer_proposals(control.session.current, [("oxyurid", 60, 60, 70.0, 30.0, 0.0)])
    control.press("E")
    assert control.session.field().number == 1 and "P goes to them" in control.message
    control.press("Space")
    assert control.session.field().number == 2


def test_marks_moved_by_hand_stay_where_they_were_put(control):
    control.point_at((50, 50))
    control.press("1")
    uid = control.session.marks()[0].uid
    control.move_mark(uid, (70.0, 80.0))
    assert np.allclose(control.layers.marks.layer.data, [[80, 70]])
    control.press("Control-Z")
    assert np.allclose(control.layers.marks.layer.data, [[50, 50]])


def test_changed_keys_hold_at_once_and_next_time(open_control, exam):
    control = open_control()
    control.session.set_key("5", "strongylid")
    assert key_of(control, "strongylid") == "5"
    control.point_at((50, 50))
    control.press("5")
    assert say(control) == [("strongylid", True)]
    control.close()
    again = open_control(exam)
    assert key_of(again, "strongylid") == "5"
    assert say(again) == [("strongylid", True)]


def test_a_letter_that_the_window_needs_takes_no_organism(control):
    from fecallab.domain.errors import BadInput

    for key in ("s", "Delete", "q"):
        with pytest.raises(BadInput):
            control.session.set_key(key, "oxyurid")
    control.session.set_key("x", "mite")
    control.point_at((50, 50))
    control.press("X")
    control.press("Shift-X")
    assert say(control) == [("mite", True), ("mite", False)]


def test_the_edge_of_a_round_field_is_drawn_and_cannot_be_edited(control):
    from napari_fecallab.picture_facts import PictureFacts

    from fecallab.imaging.field import LitCircle

    circle = LitCircle(160, 120, 200, 0.5, 1.0, 0.4, 31000)
    control.take_facts(
        control.session.current, PictureFacts(circle, 0.0, "usable", ("It is dim. Turn the lamp up.",))
    )
    edge = control.viewer.layers["edge of the field"]
    assert not edge.editable
    assert np.allclose(np.ptp(edge.data[0], axis=0), 200, atol=1)
    assert "It is dim. Turn the lamp up." in control.remarks
    assert control.viewer.layers.selection.active is control.layers.marks.layer
