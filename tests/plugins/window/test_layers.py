"""The layers are a locked view: one scale, one unit, nothing that napari's own tools could change or delete."""

import numpy as np
from napari.utils.key_bindings import KeymapHandler
from napari_fecallab.layers_look import look_of
from napari_fecallab.views import ProposalView
from napari_fecallab.window_keys import KEYS, all_keys

from fecallab.imaging.mark_style import MARK_STYLE

OXYURID = "oxyurid"


def press(control, key):
    """Send a key the way napari does: active layer first, then the viewer."""
    handler = KeymapHandler()
    active = control.viewer.layers.selection.active
    handler.keymap_providers = [provider for provider in (active, control.viewer) if provider is not None]
    return handler.press_key(key)


def mark_two(control, truth):
    for place in truth:
        control.point_at(place)
        press(control, "1")


def test_every_group_has_a_look_of_its_own_in_the_colours_of_the_report():
    looks = [look_of(group) for group in MARK_STYLE]
    assert len({(look.symbol, look.filled) for look in looks}) == len(MARK_STYLE)
    assert [look.colour for look in looks] == [style.colour for style in MARK_STYLE.values()]


def test_all_layers_share_scale_and_unit(control, exam):
    mark_two(control, exam.truth[0])
    control.layers.show_edge(100, 100, 150)
    x, y = exam.truth[0][1]
    for place in ((x - 40, y), (x + 40, y)):
        control.point_at(place)
        control.press("M")
    names = [layer.name for layer in control.viewer.layers]
    assert {"picture", "marks", "measures", "edge of the field"} <= set(names)
    for layer in control.viewer.layers:
        assert np.allclose(layer.scale, 0.65), layer.name
        assert [str(unit) for unit in layer.units] == ["micrometer", "micrometer"], layer.name


def test_rows_are_keyed_by_uid_and_hold_name_and_sureness(control, exam):
    mark_two(control, exam.truth[0])
    control.press("S")
    table = control.layers.marks.layer.features
    marks = control.session.marks()
    assert list(table["uid"]) == [mark.uid for mark in marks]
    assert list(table["sure"]) == [True, False]
    assert np.allclose(control.layers.marks.layer.data[:, ::-1], exam.truth[0])


def test_one_row_more_looks_like_all_rows_anew(control, exam):
    for x in range(20, 300, 20):
        control.point_at((x, 100 + x % 40))
        press(control, "12"[x % 40 == 0])
    layer = control.layers.marks.layer
    grown = [np.array(v) for v in (layer.data, layer.size, layer.border_color, layer.face_color)]
    words, symbols = layer.features.copy(), list(layer.symbol)
    control.reload()
    for before, after in zip(
        grown, (layer.data, layer.size, layer.border_color, layer.face_color), strict=True
    ):
        assert np.allclose(before, after)
    assert words.equals(layer.features) and symbols == list(layer.symbol)


def test_no_key_of_napari_reaches_a_layer_of_ours(control, exam):
    for key in ("1", "2", "3", "4", "5", "A", "P", "Delete", "Backspace", "Control-Delete"):
        while control.session.undo_words:
            control.press("Control-Z")
        mark_two(control, exam.truth[0])
        layer = control.layers.marks.layer
        layer.selected_data = {0, 1}
        control.point_at((5, 5))
        control.choose("")
        press(control, key)
        assert len(control.session.marks()) == 2 + (key in "12345") - (key == "Backspace"), key
        assert len(layer.data) == len(control.session.marks())
        assert str(layer.mode) == "pan_zoom" and len(control.viewer.layers) >= 3


def test_keys_work_whichever_layer_of_ours_is_active_and_when_none_is(control, exam):
    for active in (*control.layers.ours, None):
        control.viewer.layers.selection.active = active
        control.point_at(exam.truth[0][0])
        before = len(control.session.marks())
        assert press(control, "1")
        assert len(control.session.marks()) == before + 1


def test_every_key_that_is_told_is_bound(control):
    bound = {str(key) for key in control.layers.marks.layer.keymap if key is not ...}
    assert len(bound) >= len(all_keys())
    assert all(hasattr(control, f"do_{one.action}") or one.action == "left" for one in KEYS)


def test_a_moved_or_stretched_layer_is_put_back_and_said(control, exam):
    mark_two(control, exam.truth[0])
    layer = control.layers.marks.layer
    for what, value in (
        ("scale", (2, 2)),
        ("translate", (5, 5)),
        ("rotate", 20),
        ("affine", [[1, 0.3, 0], [0, 1, 0], [0, 0, 1]]),
    ):
        control.say("")
        setattr(layer, what, value)
        assert np.allclose(layer.scale, 0.65) and np.allclose(layer.translate, 0), what
        assert np.allclose(np.asarray(layer.affine), np.eye(3)) and np.allclose(layer.rotate, np.eye(2)), what
        assert "put back" in control.message, what


def test_napari_tools_cannot_edit_the_marks(control, exam):
    mark_two(control, exam.truth[0])
    layer = control.layers.marks.layer
    for mode in ("add", "select", "transform"):
        layer.mode = mode
        assert str(layer.mode) == "pan_zoom"
    layer.editable = True
    assert not layer.editable


def test_a_layer_taken_out_of_the_list_comes_back_with_its_marks(control, exam):
    mark_two(control, exam.truth[0])
    for layer in list(control.layers.ours):
        if hasattr(layer, "locked"):
            layer.locked = False
        control.viewer.layers.remove(layer)
        assert layer in control.viewer.layers
    assert len(control.layers.marks.layer.data) == 2 and "put back" in control.message


def test_nothing_that_is_drawn_over_the_picture_can_fall_behind_it(control, exam):
    """With depths compared, a reopened exam showed its picture and none of its marks."""
    mark_two(control, exam.truth[0])
    where = {"uid": "p1", "field": control.session.current, "x_px": 20.0, "y_px": 30.0, "name": "oxyurid"}
    proposed = ProposalView(**where, length_um=60.0, width_um=30.0, angle_deg=10.0, words="fits oxyurid")
    control.layers.show_proposals([proposed])
    control.layers.show_edge(30.0, 30.0, 50.0)
    over = [layer for layer in control.layers.ours if layer.name != "picture"]
    assert {layer.name for layer in over} >= {"marks", "pointer", "proposals", "outlines of proposals"}
    assert len(over) > 4 and {str(layer.blending) for layer in over} == {"translucent_no_depth"}
    words = {layer.name: str(layer.text.blending) for layer in over if layer.name in ("marks", "proposals")}
    assert words == {"marks": "translucent_no_depth", "proposals": "translucent_no_depth"}


def test_a_hidden_or_foreign_active_layer_is_warned_of(control):
    assert control.layers.warnings() == ()
    control.press("H")
    assert "hidden" in control.layers.warnings()[0]
    control.press("H")
    other = control.viewer.add_points(np.zeros((1, 2)), name="somebody's")
    control.viewer.layers.selection.active = other
    assert "somebody's" in control.layers.warnings()[0]
    control.press("F8")
    assert control.layers.warnings() == ()


def test_the_view_stays_flat(control):
    control.viewer.dims.ndisplay = 3
    assert control.viewer.dims.ndisplay == 2


def test_words_stand_beside_few_marks_and_not_beside_many(control):
    from napari_fecallab.layers_marks import MOST_WORDS

    control.session.add_marks([(OXYURID, 5 + k % 300, 5 + k // 2) for k in range(MOST_WORDS)])
    assert "oxyurid" in control.layers.marks.layer.features["word"].iloc[0]
    control.point_at((20, 20))
    control.press("1")
    assert set(control.layers.marks.layer.features["word"]) == {""}
    control.press("Control-Z")
    assert "oxyurid" in control.layers.marks.layer.features["word"].iloc[0]


def test_without_a_scale_the_unit_is_the_pixel(open_control, make_exam):
    control = open_control(make_exam(um_per_px=None))
    assert "No scale" in control.remarks[-1]
    control.point_at((50, 60))
    control.press("1")
    mark = control.session.marks()[0]
    assert (mark.x_px, mark.y_px) == (50, 60)
    assert all(str(layer.units[-1]) == "pixel" for layer in control.viewer.layers)
    assert not control.layers.scale_bar.visible
