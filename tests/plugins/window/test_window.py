"""The window itself, by real key and mouse events through Qt."""

import numpy as np
import pytest
from qtpy.QtCore import Qt
from qtpy.QtWidgets import QApplication, QDockWidget, QLabel, QPushButton, QScrollArea, QWidget

from fecallab.domain.errors import BadInput


def marks(hand):
    return [(mark.name, mark.sure) for mark in hand.session.marks()]


def test_keys_mark_where_the_mouse_points(hands, exam):
    hand = hands(exam)
    for place in exam.truth[0]:
        hand.point(place)
        hand.press("2")
    hand.point((200, 60))
    hand.press("Shift+At")  # what Shift and 2 write on a US keyboard
    assert marks(hand) == [("oxyurid", True), ("oxyurid", True), ("oxyurid", False)]
    assert np.allclose([(m.x_px, m.y_px) for m in hand.session.marks()][:2], exam.truth[0], atol=1.5)
    hand.press("Ctrl+Z", "Ctrl+Z", "Ctrl+Shift+Z")
    assert len(marks(hand)) == 2
    hand.qtbot.waitUntil(lambda: hand.dock.legend.text_of("oxyurid") == ("2", "2"), timeout=3000)
    hand.point(exam.truth[0][1])
    hand.press("S")
    assert [mark.sure for mark in hand.session.marks()] == [True, False], hand.control.message
    hand.qtbot.waitUntil(lambda: hand.dock.legend.text_of("oxyurid") == ("1 + 1?", "1 + 1?"), timeout=3000)
    assert "oxyurid" in hand.dock.mark_text.toPlainText()
    hand.qtbot.waitUntil(lambda: hand.dock.saved.text().startswith("saved "), timeout=3000)


def test_fast_unsteady_clicks_with_shift_are_all_marks_and_nothing_moves(hands, exam):
    hand = hands(exam)
    hand.point((20, 20))
    hand.press("2", "Ctrl+Z")
    before = hand.control.layers.camera.center, hand.control.layers.camera.zoom
    for number in range(6):
        hand.click((30 + 40 * number, 40), shift=True)
        hand.drag((30 + 40 * number, 120), (36 + 40 * number, 124), shift=True)
    assert len(marks(hand)) == 12
    hand.click((50, 200), shift=True)
    hand.click((120, 200), shift=True, twice=True)
    assert len(marks(hand)) == 14
    assert (hand.control.layers.camera.center, hand.control.layers.camera.zoom) == before


def test_a_click_chooses_and_a_drag_moves_the_chosen_mark(hands, exam):
    hand = hands(exam)
    hand.point((60, 60))
    hand.press("2")
    hand.point((200, 200))
    hand.click((60, 60))
    assert hand.control.chosen == hand.session.marks()[0].uid
    hand.drag((60, 60), (120, 90))
    moved = hand.session.marks()[0]
    assert (moved.x_px, moved.y_px) == pytest.approx((120, 90), abs=2)
    centre = hand.control.layers.camera.center
    hand.drag((250, 200), (200, 150))
    assert hand.control.layers.camera.center != centre  # elsewhere a drag moves the picture
    hand.press("Home", "Ctrl+Z")
    back = hand.session.marks()[0]
    assert (back.x_px, back.y_px) == pytest.approx((60, 60), abs=2)


def test_panel_and_picture_are_both_in_reach_of_the_keyboard(hands, exam):
    hand = hands(exam)
    hand.press("F6")
    assert hand.dock.isAncestorOf(QApplication.focusWidget())
    assert "F6" in hand.dock.focus_note.text() and hand.dock.focus_note.isVisible()
    reached = []
    for _ in range(20):
        widget = QApplication.focusWidget()
        if widget is None or not hand.dock.isAncestorOf(widget) or widget in reached:
            break
        reached.append(widget)
        hand.qtbot.keyClick(widget, Qt.Key.Key_Tab)
    names = [widget.accessibleName() or getattr(widget, "text", str)() for widget in reached]
    assert all(names)
    assert {hand.dock.legend, hand.dock.finish_button, hand.dock.keys_button} <= set(reached)
    hand.press("F6")
    assert hand.focus() is hand.canvas and not hand.dock.focus_note.isVisible()
    hand.press("2")  # works at once, without a click into the picture
    assert len(marks(hand)) <= 1


def test_everything_in_the_panel_has_a_name_for_a_screen_reader(hands, exam):
    hand = hands(exam)
    for widget in hand.dock.findChildren(QWidget):
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and widget.isVisibleTo(hand.dock):
            name = widget.accessibleName() or (widget.text() if hasattr(widget, "text") else "")
            inner = type(widget).__name__ == "QTabBar" or widget.objectName().startswith("qt_")
            assert name or inner, widget
    assert hand.dock.fields.item(0).text().startswith("1/3")


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (683, 384)])
def test_nothing_is_cut_off_on_a_small_screen_nor_at_twice_the_size(hands, exam, width, height):
    hand = hands(exam, width, height)
    hand.qtbot.wait(50)
    dock = hand.dock
    scroll = dock.findChild(QScrollArea)
    inside = scroll.widget()
    for widget in inside.findChildren(QLabel) + inside.findChildren(QPushButton):
        if widget.isVisibleTo(dock) and widget.window() is dock.window():
            right = widget.mapTo(inside, widget.rect().topRight()).x()
            assert right <= inside.width(), widget.text()
    assert inside.width() <= scroll.viewport().width() + scroll.horizontalScrollBar().maximum()
    assert inside.height() <= scroll.viewport().height() + scroll.verticalScrollBar().maximum()
    dock.finish_button.setFocus()
    scroll.ensureWidgetVisible(dock.finish_button)
    assert dock.finish_button.visibleRegion().boundingRect().height() > 10
    assert hand.canvas.width() > 150


def test_read_over_then_record_and_a_correction_asks_why(hands, exam):
    hand = hands(exam)
    hand.point(exam.truth[0][0])
    hand.press("2", "Space", "E", "Q")
    dialog = hand.dock.dialog
    assert "oxyurid" in dialog.page.toPlainText()
    assert not dialog.reason.isVisible()
    hand.qtbot.keyClick(dialog, Qt.Key.Key_Return)
    hand.qtbot.waitUntil(lambda: hand.dock.dialog is None)
    assert hand.focus() is hand.canvas
    fields = hand.session.fields()
    assert fields[0].sure == {"oxyurid": 1} and not fields[0].changed
    hand.press("PageUp", "PageUp")
    hand.control.choose(hand.session.marks()[0].uid)
    hand.press("Delete", "E", "Q")
    dialog = hand.dock.dialog
    assert dialog.summary.needs_reason
    hand.qtbot.keyClick(dialog, Qt.Key.Key_Return)
    assert "why" in dialog.trouble.text() and hand.dock.dialog is dialog
    dialog.reason.setText("it was a bubble")
    hand.qtbot.keyClick(dialog.reason, Qt.Key.Key_Return)
    hand.qtbot.waitUntil(lambda: hand.dock.dialog is None)
    assert hand.session.fields()[0].sure == {}


def test_any_name_is_typed_and_goes_where_the_pointer_was(hands, exam):
    hand = hands(exam)
    hand.point((70, 50))
    hand.press("N")
    dialog = hand.dock.dialog
    dialog.typed.setText("mite")
    hand.qtbot.keyClick(dialog.typed, Qt.Key.Key_Return)
    hand.qtbot.waitUntil(lambda: hand.dock.dialog is None)
    mark = hand.session.marks()[0]
    assert "mite" in mark.name and (mark.x_px, mark.y_px) == pytest.approx((70, 50), abs=1.5)


def test_keys_are_changed_in_a_dialog_and_shown(hands, exam):
    hand = hands(exam)
    hand.press("K")
    dialog = hand.dock.dialog
    choice = dialog.choices["9"]
    choice.setCurrentIndex(choice.findData("mite"))
    dialog.keep()
    hand.qtbot.waitUntil(lambda: hand.dock.dialog is None)
    hand.point((80, 80))
    hand.press("9")
    assert marks(hand) == [("mite", True)]
    hand.qtbot.waitUntil(lambda: hand.dock.legend.text_of("mite")[0] == "1", timeout=3000)
    hand.press("F1")
    assert "Ctrl+Z" in hand.dock.dialog.page.toPlainText()


def test_a_mark_whose_name_has_no_key_has_a_line_among_the_keys(hands, exam):
    hand = hands(exam)
    before = hand.dock.legend.rowCount()
    hand.control.point_at((80, 80))
    hand.control.use_name("spirurid", sure=False)
    hand.qtbot.waitUntil(lambda: hand.dock.legend.rowCount() == before + 1, timeout=3000)
    legend = hand.dock.legend
    assert legend.text_of("spirurid") == ("1?", "1?")
    row = next(r for r in range(before + 1) if legend.item(r, 2).text() == "spirurid")
    assert legend.item(row, 0).text() == "" and legend.item(row + 1, 0).text() == "0", "above the other row"
    legend.selectRow(row)
    hand.click((140, 90), shift=True)
    hand.qtbot.waitUntil(lambda: legend.text_of("spirurid") == ("1 + 1?", "1 + 1?"), timeout=3000)
    hand.press("Ctrl+Z", "Ctrl+Z")
    hand.qtbot.waitUntil(lambda: legend.rowCount() == before, timeout=3000)


def test_closing_loses_nothing_and_asks_nothing_when_all_is_saved(hands, exam):
    from napari_fecallab.session import MarkingSession
    from napari_fecallab.window import _may_close

    hand = hands(exam)
    hand.point(exam.truth[0][0])
    hand.press("2")
    assert _may_close(hand.dock)
    hand.dock.shut()
    with MarkingSession(exam.folder, exam.code, "Mara") as again:
        assert [mark.name for mark in again.marks()] == ["oxyurid"]


def test_a_watched_folder_brings_new_fields_in(hands, exam, tmp_path):
    from PIL import Image

    hand = hands(exam)
    folder = tmp_path / "camera"
    folder.mkdir()
    hand.dock.watch(folder)
    Image.new("RGB", (320, 240), (200, 200, 190)).save(tmp_path / "new.png")
    (tmp_path / "new.png").rename(folder / "new.png")
    hand.qtbot.waitUntil(lambda: hand.dock.fields.count() == 4, timeout=15000)
    assert "new.png" in hand.dock.notice.text()


def test_an_exam_without_fields_opens_and_takes_a_picture(hands, make_exam, tmp_path):
    from PIL import Image

    hand = hands(make_exam(()))
    hand.press("2", "Space", "E")
    assert "no field yet" in hand.dock.message.text()
    Image.new("RGB", (320, 240), (200, 200, 190)).save(tmp_path / "new.png")
    hand.dock.add_pictures([tmp_path / "new.png"])
    assert hand.dock.place.text() == "field 1 of 1"
    hand.control.hold_pointer((50.0, 60.0))
    hand.press("2")
    assert len(marks(hand)) == 1


def test_a_large_picture_is_read_beside_with_progress_and_can_be_stopped(hands, exam, monkeypatch):
    monkeypatch.setattr("napari_fecallab.window_base.LARGE_PX", 1000)
    monkeypatch.setattr("napari_fecallab.reader_pictures.LARGE_MEGAPIXELS", 0.01)
    monkeypatch.setattr("napari_fecallab.reader_pictures.STRIP_ROWS", 16)
    hand = hands(exam)
    dock, control = hand.dock, hand.control
    hand.qtbot.waitUntil(lambda: control.ready, timeout=10000)
    assert "picture" in {layer.name for layer in hand.viewer.layers} and not dock.work.isVisible()
    control.do_next_field()
    assert dock.work.isVisible() and "Reading" in dock.work.title.text()
    control.hold_pointer((50.0, 60.0))
    control.press("2")
    assert "still being read" in dock.message.text() and marks(hand) == []
    dock.work.stop_button.click()
    assert "Stopped" in dock.remark.text() and not dock.work.isVisible()
    hand.qtbot.wait(100)
    assert not control.layers.has_picture
    control.reload()
    hand.qtbot.waitUntil(lambda: control.layers.has_picture, timeout=10000)
    control.press("2")
    assert len(marks(hand)) == 1


def test_a_typed_scale_turns_sizes_into_micrometres(hands, make_exam):
    hand = hands(make_exam(um_per_px=None))
    assert "No scale" in hand.dock.remark.text()
    hand.dock.ask_scale()
    dialog = hand.dock.dialog
    dialog.way.setCurrentIndex(2)
    dialog.typed.setText("no number")
    dialog.use_what_is_found()
    assert "must be a number" in dialog.says.text()
    dialog.typed.setText("0,5")
    dialog.fields.setCurrentIndex(1)
    dialog.use_what_is_found()
    hand.qtbot.waitUntil(lambda: hand.dock.dialog is None)
    assert [field.um_per_px for field in hand.session.fields()] == [0.5, 0.5, 0.5]
    assert np.allclose(hand.control.layers.marks.layer.scale, 0.5)
    assert hand.dock.remark.text() == ""


def test_a_clip_plays_and_stops_by_one_key(hands, exam, tmp_path):
    av = pytest.importorskip("av", reason="PyAV is not installed: clips are not read")
    path = tmp_path / "swim.mp4"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("mpeg4", rate=30)
        stream.width, stream.height, stream.pix_fmt = 96, 64, "yuv420p"
        for number in range(30):
            pixels = np.full((64, 96, 3), 6 * number, np.uint8)
            container.mux(stream.encode(av.VideoFrame.from_ndarray(pixels, format="rgb24")))
        container.mux(stream.encode())
    hand = hands(exam)
    hand.dock.add_pictures([path])
    hand.press("B")
    hand.qtbot.waitUntil(lambda: hand.viewer.dims.current_step[0] >= 3, timeout=10000)
    hand.press("B")
    at = hand.viewer.dims.current_step[0]
    hand.qtbot.wait(120)
    assert hand.viewer.dims.current_step[0] == at
    hand.press("B", "PageUp")
    assert not hand.dock._play_timer.isActive()


def test_the_row_of_a_field_that_is_left_at_once_is_written(hands, exam):
    hand = hands(exam)
    hand.dock.control.hold_pointer((50.0, 60.0))
    hand.dock.control.press("2")
    hand.dock.control.press("Space")
    hand.qtbot.wait(120)
    rows = [hand.dock.fields.item(number).text() for number in range(hand.dock.fields.count())]
    assert "1 sure" in rows[0]
    assert rows == [view.line for view in hand.dock.session.fields()]


def test_the_window_opens_with_a_sign_of_life_and_closes_without_a_question(screen, qtbot, exam, capsys):
    from napari_fecallab.session import MarkingSession
    from napari_fecallab.window import open_window

    viewer = open_window(exam.folder, exam.code, "Mara", wait=False)
    assert "Opening" in capsys.readouterr().err
    dock = viewer.window.dock_widgets["marking"]
    window = dock.window()
    hidden = [panel.objectName() for panel in window.findChildren(QDockWidget) if not panel.isVisible()]
    assert {"layer list", "layer controls"} <= set(hidden)
    dock.control.hold_pointer((50.0, 60.0))
    dock.control.press("2")
    viewer.close()
    qtbot.wait(50)
    with MarkingSession(exam.folder, exam.code, "Mara") as again:
        assert [mark.name for mark in again.marks()] == ["oxyurid"]
    with pytest.raises(BadInput, match="E99"):
        open_window(exam.folder, "E99", "Mara", wait=False)
