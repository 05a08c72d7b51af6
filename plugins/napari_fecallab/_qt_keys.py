"""Keys that napari loses, and the keyboard's way between picture and panel.

napari's canvas gives a key by what it writes: Shift and 1 arrives as ``!``, the upper row of a French keyboard as
``&é"``, and ``+`` or ``?`` cannot be bound at all. Here numbers are told by the place of the key.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from qtpy.QtCore import QEvent, QObject, Qt, QTimer
from qtpy.QtGui import QKeyEvent, QMouseEvent
from qtpy.QtWidgets import (
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QLineEdit,
    QPlainTextEdit,
    QTextEdit,
    QWidget,
)

from napari_fecallab.window_keys import DIGITS

if TYPE_CHECKING:
    from collections.abc import Callable


_FIRST_CODE = {"linux": 10, "win32": 2}
_MAC_CODES = {18: "1", 19: "2", 20: "3", 21: "4", 23: "5", 22: "6", 26: "7", 28: "8", 25: "9", 29: "0"}
_SHIFTED = dict(zip("!@#$%^&*()", DIGITS, strict=True))
"""What Shift makes of the numbers on a US keyboard; only asked where the place of the key is not known."""
_PLACES = (QEvent.Type.MouseMove, QEvent.Type.MouseButtonPress)
_SIGNS = {"+": "+", "?": "?", ",": ",", ".": "."}


def digit_of(event: QKeyEvent) -> str:
    """Return the number key that was pressed, by its place where the system tells it; empty for others."""
    text_key = int(event.key())
    if event.modifiers() & Qt.KeyboardModifier.KeypadModifier and 48 <= text_key <= 57:
        return chr(text_key)
    code = int(event.nativeScanCode())
    if sys.platform == "darwin":
        known = _MAC_CODES.get(int(event.nativeVirtualKey())) if event.nativeVirtualKey() else None
        if known:
            return known
    elif code:
        place = code - _FIRST_CODE.get(sys.platform, 10)
        return DIGITS[place] if 0 <= place < len(DIGITS) else ""
    if 48 <= text_key <= 57:
        return chr(text_key)
    shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
    return _SHIFTED.get(chr(text_key), "") if shifted and text_key < 128 else ""


def combination_of(event: QKeyEvent) -> str:
    """Return the combination that this filter brings itself; empty for what napari brings."""
    modifiers = event.modifiers()
    for other in (
        Qt.KeyboardModifier.ControlModifier,
        Qt.KeyboardModifier.AltModifier,
        Qt.KeyboardModifier.MetaModifier,
    ):
        if modifiers & other:
            return ""
    digit = digit_of(event)
    if digit:
        return f"Shift-{digit}" if modifiers & Qt.KeyboardModifier.ShiftModifier else digit
    return _SIGNS.get(event.text(), "")


def typing_in(widget: QWidget | None) -> bool:
    """Return whether a widget takes what is typed as text."""
    return isinstance(widget, QLineEdit | QPlainTextEdit | QAbstractSpinBox | QComboBox) or (
        isinstance(widget, QTextEdit) and not widget.isReadOnly()
    )


class CanvasKeys(QObject):
    """Listens on the canvas: brings the keys that napari loses, and takes the focus when the mouse comes."""

    def __init__(
        self, canvas: QWidget, press: Callable[[str], bool], resized: Callable[[], None] | None = None
    ) -> None:
        super().__init__(canvas)
        self.canvas, self._press, self._resized = canvas, press, resized
        self.mouse: tuple[float, float] | None = None
        """Where the mouse was last on the canvas. napari drops moves that follow within 10 ms, and does not tell
        anew when the picture moves under a mouse that rests."""
        canvas.installEventFilter(self)

    def eventFilter(self, watched: QObject | None, event: QEvent | None) -> bool:  # noqa: N802
        """Take a key press that is ours."""
        if event is None:
            return False
        if event.type() == QEvent.Type.Enter and not typing_in(QApplication.focusWidget()):
            self.canvas.setFocus(Qt.FocusReason.MouseFocusReason)
        if isinstance(event, QMouseEvent) and event.type() in _PLACES:
            self.mouse = event.position().x(), event.position().y()
        if event.type() == QEvent.Type.Resize and self._resized is not None:
            QTimer.singleShot(0, self, self._resized)
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            combination = combination_of(event)
            if combination:
                return bool(event.isAutoRepeat()) or self._press(combination)
        return False

    def stop(self) -> None:
        """Listen no longer."""
        self.canvas.removeEventFilter(self)
