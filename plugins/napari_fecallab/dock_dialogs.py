"""Small dialogs: read over and record, any name, the keys, help, what could not be saved."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from qtpy.QtCore import Qt
from qtpy.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QScrollArea,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from fecallab.domain.errors import FecallabError
from napari_fecallab.dock_words import keys_page, summary_page

if TYPE_CHECKING:
    from napari_fecallab.session import MarkingSession
    from napari_fecallab.views import Finished

Names = Sequence[tuple[str, str, str]]


class SmallDialog(QDialog):
    """A dialog of the panel, never larger than the screen."""

    def __init__(self, title: str, parent: QWidget, width: int = 460, height: int = 420) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.column = QVBoxLayout(self)
        screen = self.screen()
        room = screen.availableGeometry() if screen is not None else None
        self.resize(
            min(width, room.width() - 40 if room else width),
            min(height, room.height() - 80 if room else height),
        )


def page(text: str, name: str) -> QTextBrowser:
    """Make a read-only page that the keyboard can scroll."""
    made = QTextBrowser()
    made.setHtml(text)
    made.setAccessibleName(name)
    made.setOpenLinks(False)
    return made


class FinishDialog(SmallDialog):
    """What will be recorded, to read over; recorded things that change need a reason."""

    def __init__(
        self, session: MarkingSession, finished: Callable[[Finished], None], parent: QWidget
    ) -> None:
        super().__init__("Read over and record", parent)
        self.session, self._finished = session, finished
        self.summary = session.summary()
        self.column.addWidget(
            QLabel("This will be recorded. Look it over." if not self.summary.nothing_to_do else "")
        )
        self.page = page(summary_page(self.summary), "What will be recorded")
        self.column.addWidget(self.page, 1)
        self.reason = QLineEdit()
        self.reason.setAccessibleName("Reason for the correction")
        self.reason.setPlaceholderText("such as: counted twice")
        if self.summary.needs_reason:
            form = QFormLayout()
            form.addRow("Why is it corrected?", self.reason)
            self.column.addLayout(form)
        self.trouble = QLabel()
        self.trouble.setWordWrap(True)
        self.trouble.hide()
        self.column.addWidget(self.trouble)
        self.buttons = QDialogButtonBox()
        self.record = self.buttons.addButton("Record", QDialogButtonBox.ButtonRole.AcceptRole)
        back = self.buttons.addButton("Go on marking", QDialogButtonBox.ButtonRole.RejectRole)
        assert self.record is not None and back is not None
        self.record.setEnabled(not self.summary.nothing_to_do)
        (back if self.summary.nothing_to_do else self.record).setDefault(True)
        self.buttons.accepted.connect(self._record)
        self.buttons.rejected.connect(self.reject)
        self.column.addWidget(self.buttons)
        if self.summary.needs_reason:
            self.reason.setFocus()

    def _record(self) -> None:
        reason = self.reason.text().strip()
        if self.summary.needs_reason and not reason:
            self._say("Recorded things change: type in a few words why.")
            self.reason.setFocus()
            return
        try:
            done = self.session.finish(reason)
        except FecallabError as error:
            self._say(f"{error} {getattr(error, 'next', '')}".strip())
            return
        self.accept()
        self._finished(done)

    def _say(self, text: str) -> None:
        self.trouble.setText(text)
        self.trouble.show()


class NamesDialog(SmallDialog):
    """Any name of the tables, found by typing a part of it."""

    def __init__(self, names: Names, chosen: Callable[[str], None], parent: QWidget) -> None:
        super().__init__("Any name", parent, 380, 400)
        self._chosen = chosen
        self.typed = QLineEdit()
        self.typed.setPlaceholderText("a part of the name, then Enter")
        self.typed.setAccessibleName("A part of the name")
        self.list = QListWidget()
        self.list.setAccessibleName("Names that fit")
        for name, label, group in names:
            text = label if group in label else f"{label} ({group})"
            item = QListWidgetItem(text)
            item.setData(Qt.ItemDataRole.UserRole, name)
            self.list.addItem(item)
        self.list.setCurrentRow(0)
        self.typed.textChanged.connect(self._filter)
        self.typed.returnPressed.connect(self._take)
        self.list.itemActivated.connect(self._take)
        self.column.addWidget(self.typed)
        self.column.addWidget(self.list, 1)
        self.typed.setFocus()

    def _filter(self, text: str) -> None:
        words = text.lower().replace("_", " ").split()
        first = -1
        for row in range(self.list.count()):
            item = self.list.item(row)
            assert item is not None
            shown = f"{item.text()} {item.data(Qt.ItemDataRole.UserRole)}".lower().replace("_", " ")
            fits = all(word in shown for word in words)
            item.setHidden(not fits)
            first = row if fits and first < 0 else first
        self.list.setCurrentRow(first)

    def _take(self, *_: object) -> None:
        item = self.list.currentItem()
        if item is not None and not item.isHidden():
            name = str(item.data(Qt.ItemDataRole.UserRole))
            self.accept()
            self._chosen(name)


class KeysDialog(SmallDialog):
    """Which organism is on which key; kept for the next exam too."""

    def __init__(self, session: MarkingSession, parent: QWidget) -> None:
        super().__init__("Change the keys", parent, 440, 460)
        self.session = session
        self.choices: dict[str, QComboBox] = {}
        note = QLabel(
            "Each number marks one organism. What you choose is kept for you. Numbers only ever mark; "
            "taking a mark away is the Delete key."
        )
        note.setWordWrap(True)
        self.column.addWidget(note)
        inside = QWidget()
        form = QFormLayout(inside)
        names = session.names()
        shown = session.keys()
        held = {one.key: one for one in shown if not one.second_row}
        for digit in "123456789":
            choice = QComboBox()
            choice.setAccessibleName(f"Organism on key {digit}")
            choice.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            choice.setMinimumContentsLength(18)
            choice.addItem("nothing", "")
            for name, label, _group in names:
                choice.addItem(label, name)
            at = choice.findData(held[digit].name) if digit in held else 0
            choice.setCurrentIndex(max(0, at))
            form.addRow(digit, choice)
            self.choices[digit] = choice
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(inside)
        self.column.addWidget(scroll, 1)
        self.trouble = QLabel()
        self.trouble.setWordWrap(True)
        self.column.addWidget(self.trouble)
        buttons = QDialogButtonBox()
        keep = buttons.addButton("Keep", QDialogButtonBox.ButtonRole.AcceptRole)
        proposed = buttons.addButton("As proposed", QDialogButtonBox.ButtonRole.ResetRole)
        buttons.addButton("Cancel", QDialogButtonBox.ButtonRole.RejectRole)
        assert keep is not None and proposed is not None
        keep.setDefault(True)
        buttons.accepted.connect(self.keep)
        buttons.rejected.connect(self.reject)
        proposed.clicked.connect(self._as_proposed)
        self.column.addWidget(buttons)
        self._before = {digit: str(choice.currentData()) for digit, choice in self.choices.items()}

    def keep(self) -> None:
        """Keep what was chosen."""
        try:
            for digit, choice in self.choices.items():
                name = str(choice.currentData())
                if name != self._before[digit]:
                    self.session.set_key(digit, name)
        except FecallabError as error:
            self.trouble.setText(str(error))
            return
        self.accept()

    def _as_proposed(self) -> None:
        self.session.reset_keys()
        self.accept()


class HelpDialog(SmallDialog):
    """All keys."""

    def __init__(self, session: MarkingSession, parent: QWidget) -> None:
        super().__init__("Keys", parent, 520, 620)
        self.page = page(keys_page(session.keys()), "All keys")
        self.column.addWidget(self.page, 1)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.reject)
        self.column.addWidget(buttons)


class NotSavedDialog(SmallDialog):
    """Only when something could not be written: try again, or close all the same."""

    def __init__(self, trouble: str, parent: QWidget) -> None:
        super().__init__("Not saved", parent, 420, 180)
        text = QLabel(f"The last changes are not on the disk: {trouble}")
        text.setWordWrap(True)
        self.column.addWidget(text, 1)
        buttons = QDialogButtonBox()
        again = buttons.addButton("Stay and try again", QDialogButtonBox.ButtonRole.RejectRole)
        buttons.addButton("Close all the same", QDialogButtonBox.ButtonRole.AcceptRole)
        assert again is not None
        again.setDefault(True)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        self.column.addWidget(buttons)
