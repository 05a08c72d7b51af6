"""Number keys are told by their place, on every keyboard; what a keyboard writes there does not matter."""

import pytest
from napari_fecallab._qt_keys import combination_of, typing_in
from qtpy.QtCore import QEvent, Qt
from qtpy.QtGui import QKeyEvent
from qtpy.QtWidgets import QLineEdit, QTextBrowser

NONE, SHIFT = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ShiftModifier
CONTROL, KEYPAD = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.KeypadModifier


def combination(key, modifiers, text, code=0, virtual=0):
    return combination_of(QKeyEvent(QEvent.Type.KeyPress, int(key.value), modifiers, code, virtual, 0, text))


@pytest.mark.parametrize(
    ("system", "code", "virtual", "key", "modifiers", "text", "means"),
    [
        ("linux", 11, 0, Qt.Key.Key_2, NONE, "2", "2"),
        ("linux", 11, 0, Qt.Key.Key_At, SHIFT, "@", "Shift-2"),
        ("linux", 11, 0, Qt.Key.Key_QuoteDbl, SHIFT, '"', "Shift-2"),  # German, British
        ("linux", 11, 0, Qt.Key.Key_Eacute, NONE, "é", "2"),  # French
        ("linux", 11, 0, Qt.Key.Key_2, SHIFT, "2", "Shift-2"),  # French
        ("linux", 19, 0, Qt.Key.Key_0, NONE, "0", "0"),
        ("linux", 21, 0, Qt.Key.Key_Plus, SHIFT, "+", "+"),
        ("win32", 3, 0, Qt.Key.Key_Eacute, NONE, "é", "2"),
        ("darwin", 0, 19, Qt.Key.Key_At, SHIFT, "@", "Shift-2"),
        ("linux", 88, 0, Qt.Key.Key_2, KEYPAD, "2", "2"),
        ("linux", 0, 0, Qt.Key.Key_At, SHIFT, "@", "Shift-2"),  # no place is told
        ("linux", 0, 0, Qt.Key.Key_Question, SHIFT, "?", "?"),
        ("linux", 11, 0, Qt.Key.Key_2, CONTROL, "", ""),
        ("linux", 38, 0, Qt.Key.Key_A, NONE, "a", ""),  # letters come through napari
    ],
)
def test_a_number_is_a_place_on_the_keyboard(monkeypatch, system, code, virtual, key, modifiers, text, means):
    monkeypatch.setattr("napari_fecallab._qt_keys.sys.platform", system)
    assert combination(key, modifiers, text, code, virtual) == means


def test_what_is_typed_into_a_line_is_text(screen, qtbot):
    line, page = QLineEdit(), QTextBrowser()
    qtbot.addWidget(line)
    qtbot.addWidget(page)
    assert typing_in(line) and not typing_in(page) and not typing_in(None)
