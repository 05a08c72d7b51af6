"""The panel beside the picture: where you are, keys and counts, one mark, all fields, the burden."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from qtpy.QtCore import Qt, QTimer
from qtpy.QtWidgets import (
    QApplication,
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QScrollArea,
    QTabWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)
from superqt.utils import qdebounced

from fecallab.domain.errors import FecallabError
from napari_fecallab._qt_work import WorkBar
from napari_fecallab.dock_dialogs import FinishDialog, HelpDialog, KeysDialog, NamesDialog, page
from napari_fecallab.dock_legend import Legend
from napari_fecallab.dock_scale import ScaleDialog
from napari_fecallab.dock_words import burden_page, field_lines, mark_page
from napari_fecallab.window_control import MarkingControl
from napari_fecallab.window_mouse import Mouse

if TYPE_CHECKING:
    from napari.components import ViewerModel

    from napari_fecallab.picture_facts import PictureFacts
    from napari_fecallab.session import MarkingSession
    from napari_fecallab.views import Finished

SAVED_EVERY_MS = 200
WATCHED_EVERY_MS = 1000
BURDEN_AFTER_MS = 400
NARROWEST_PX = 300


class MarkingDock(QWidget):
    """The panel of one exam; owns control, mouse and session."""

    def __init__(self, viewer: ViewerModel, session: MarkingSession, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("marking_dock")
        self.viewer, self.session = viewer, session
        self._closed = False
        self._looked_at = ""
        self.dialog: QDialog | None = None
        self._build()
        self.control = MarkingControl(
            viewer, session, self.work, lambda work: QTimer.singleShot(0, self, work)
        )
        self.control.wishes = {
            "other_name": self.ask_name,
            "finish": self.ask_finish,
            "help": self.show_help,
            "change_keys": self.ask_keys,
            "to_dock": self.swap_focus,
            "play": self.play,
        }
        self.control.listeners.append(self._on_control)
        self.mouse = Mouse(viewer, self.control)
        self._saved_timer = QTimer(self)
        self._saved_timer.timeout.connect(self._show_saved)
        self._saved_timer.start(SAVED_EVERY_MS)
        self._watch_timer = QTimer(self)
        self._watch_timer.timeout.connect(self._look_into_watched)
        self._play_timer = QTimer(self)
        self._play_timer.timeout.connect(lambda: self.control.press("Alt-Right"))
        self.burden_soon = qdebounced(timeout=BURDEN_AFTER_MS)(self.show_burden)
        self._list_fields()
        self.control.open()
        self._notice(session.notices)
        self.show_burden()

    # --- building

    def _build(self) -> None:
        self.title = _label(self.session.title, "What is marked", bold=True)
        self.saved = _label("", "Whether everything is saved")
        self.saved.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
        self.before = _arrow("‹", "Field before (Shift+Space)", lambda: self.control.press("PageUp"))
        self.after = _arrow("›", "Next field (Space)", lambda: self.control.press("PageDown"))
        self.place = _label("", "Which field", bold=True)
        self.place.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.preparation = _label("", "Preparation, objective and scale")
        self.state = _label("", "State of the field")
        self.warning = _notice_label("Warning")
        self.remark = _notice_label("About the picture")
        self.notice = _notice_label("Notice")
        self.legend = Legend(self._name_chosen)
        self.mark_text = page("", "The chosen mark")
        self.fields = QListWidget()
        self.fields.setAccessibleName("Fields")
        self.fields.setWordWrap(True)
        self.fields.itemActivated.connect(self._field_chosen)
        self.fields.itemClicked.connect(self._field_chosen)
        self.burden_text = page("", "Burden, and what is missing")
        self.tabs = QTabWidget()
        self.tabs.setAccessibleName("Parts of the panel")
        self.tabs.setDocumentMode(True)
        for widget, name in ((self.mark_text, "mark"), (self.fields, "fields"), (self.burden_text, "burden")):
            self.tabs.addTab(widget, name)
        self.tabs.setMinimumHeight(120)
        self.message = _label("", "What the last key did")
        self.message.setMinimumHeight(2 * self.fontMetrics().height() + 2)
        self.work = WorkBar()
        self.scale_button = QPushButton("Scale")
        self.scale_button.clicked.connect(self.ask_scale)
        self.add_button = QPushButton("Add pictures")
        self.add_button.clicked.connect(self.ask_pictures)
        self.keys_button = QPushButton("Keys  F1")
        self.keys_button.clicked.connect(self.show_help)
        self.finish_button = QPushButton("Read over and record  Q")
        self.finish_button.clicked.connect(self.ask_finish)

        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(10, 8, 10, 8)
        column.setSpacing(6)
        column.addLayout(_row(self.title, self.saved, stretch=0))
        column.addLayout(_row(self.before, self.place, self.after, stretch=1))
        for widget in (self.preparation, self.state, self.warning, self.remark, self.notice, self.legend):
            column.addWidget(widget)
        column.addWidget(self.tabs, 1)
        column.addWidget(self.message)
        column.addWidget(self.work)
        column.addLayout(_row(self.add_button, self.scale_button, self.keys_button))
        column.addWidget(self.finish_button)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setWidget(inside)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scroll)
        self.setMinimumWidth(NARROWEST_PX)
        self.setStyleSheet(FOCUS_STYLE)

    # --- showing

    def _on_control(self, what: str) -> None:
        if what == "message":
            self.message.setText(self.control.message)
        elif what == "waiting":
            self._show_waiting()
        elif what == "chosen":
            self._mark_soon()
        elif what == "layers":
            self._show_warnings()
        elif what == "fields":
            self._list_fields()
            self._show_field()
        elif what == "field":
            self._show_field()
            self._show_keys()
            self._look_at_picture()
        elif what == "counts":
            self._counts_soon()

    def _mark_soon(self) -> None:
        """After the mark is painted: the words about it are slower than the eye."""
        QTimer.singleShot(0, self, self.show_mark)

    def _counts_soon(self) -> None:
        QTimer.singleShot(0, self, self._show_counts)
        self.burden_soon()

    def _show_counts(self) -> None:
        if not self._closed:
            self._show_field()
            self._show_keys()

    def _show_field(self) -> None:
        if not self.session.current:
            return
        view = self.session.field()
        for label, text in zip((self.place, self.preparation, self.state), field_lines(view), strict=True):
            _set(label, text)
        self.before.setEnabled(view.number > 1)
        self.after.setEnabled(view.number < view.of)
        item = self.fields.item(view.number - 1)
        if item is None or item.data(Qt.ItemDataRole.UserRole) != view.uid:
            self._list_fields()
            item = self.fields.item(view.number - 1)
        if item is not None:
            if item.text() != view.line:
                item.setText(view.line)
            self.fields.setCurrentItem(item)
        _set(self.remark, "\n".join(self.control.remarks))
        self._show_warnings()

    def _look_at_picture(self) -> None:
        """Look for the edge of the field and for what is wrong with the picture, in a thread of its own."""
        uid, picture = self.session.current, self.control.picture
        if picture is None or self._looked_at == uid:
            return
        self._looked_at = uid
        from napari.qt.threading import create_worker

        pixels = picture.levels[0]
        look = self.session.picture_facts

        def steps() -> Iterator[tuple[str, PictureFacts | None]]:
            yield uid, look(uid, pixels)

        worker = create_worker(steps)
        worker.yielded.connect(self._picture_looked_at)
        worker.errored.connect(lambda _error: None)
        worker.start()

    def _picture_looked_at(self, found: tuple[str, PictureFacts | None]) -> None:
        if not self._closed and found[1] is not None:
            self.control.take_facts(found[0], found[1])

    def _show_keys(self) -> None:
        self.legend.show_keys(self.session.keys(), second="row" in self.control.waiting)

    def _show_waiting(self) -> None:
        waiting = self.control.waiting
        words = {
            "rename": "rename: press the number of the right name",
            "unsure": "not sure: press the number",
            "row": "look-alike: press its number",
        }
        _set(self.message, "; ".join(words[one] for one in ("rename", "unsure", "row") if one in waiting))
        self._show_keys()

    def _show_warnings(self) -> None:
        _set(self.warning, "\n".join(self.control.layers.warnings()))

    def show_mark(self) -> None:
        """Show the chosen mark with its size and shortlist."""
        if self._closed:
            return
        uid = self.control.chosen
        mark = self.control.layers.marks.mark(uid)
        try:
            size = self.session.size_words(uid) if mark is not None else None
        except FecallabError as error:
            self.mark_text.setPlainText(str(error))
            return
        self.mark_text.setHtml(mark_page(mark, size))

    def show_burden(self) -> None:
        """Work the burden out anew."""
        if self._closed:
            return
        try:
            self.burden_text.setHtml(burden_page(self.session.burden_table()))
        except FecallabError as error:
            self.burden_text.setPlainText(str(error))

    def _list_fields(self) -> None:
        self.fields.blockSignals(True)
        self.fields.clear()
        for view in self.session.fields():
            item = QListWidgetItem(view.line)
            item.setData(Qt.ItemDataRole.UserRole, view.uid)
            item.setToolTip(view.scale_words)
            self.fields.addItem(item)
        self.fields.blockSignals(False)

    def _show_saved(self) -> None:
        _set(self.saved, self.session.saved.words)

    def _notice(self, lines: tuple[str, ...]) -> None:
        _set(self.notice, "\n".join(lines))

    # --- choosing

    def _field_chosen(self, item: QListWidgetItem) -> None:
        self.control.go_to(str(item.data(Qt.ItemDataRole.UserRole)))
        self.focus_canvas()

    def _name_chosen(self, name: str) -> None:
        self.control.last_name = name
        self.control.say(f"Shift and a click marks {name.replace('_', ' ')}.")

    def focus_canvas(self) -> None:
        """Give the keys back to the picture."""
        canvas = self.canvas()
        if canvas is not None:
            canvas.setFocus(Qt.FocusReason.OtherFocusReason)

    def canvas(self) -> QWidget | None:
        """Return the widget that the picture is drawn on, where there is a window."""
        window = self.window()
        if window is None:
            return None
        for widget in window.findChildren(QWidget):
            if type(widget).__name__ == "CanvasBackendDesktop":
                return widget
        return None

    def refit(self) -> None:
        """See the whole field after the window changed its size."""
        if not self._closed:
            self.control.refit()

    def swap_focus(self) -> None:
        """From the picture to the panel and back."""
        focus = QApplication.focusWidget()
        if focus is not None and self.isAncestorOf(focus):
            self.focus_canvas()
        else:
            self.legend.setFocus(Qt.FocusReason.ShortcutFocusReason)

    # --- dialogs

    def ask_name(self) -> None:
        """Ask for any name; it marks at the place that the pointer is on now."""
        if self.session.current:
            place = self.control.pointer
            renames = "rename" in self.control.waiting

            def use(name: str) -> None:
                self.control.hold_pointer(place)
                if renames:
                    self.control.waiting.add("rename")
                self.control.use_name(name)

            self._open(NamesDialog(self.session.names(), use, self))

    def ask_finish(self) -> None:
        """Show what will be recorded."""
        self._open(FinishDialog(self.session, self._recorded, self))

    def ask_scale(self) -> None:
        """Let the scale of fields be set."""
        if self.session.current:
            self._open(ScaleDialog(self.session, self))

    def ask_keys(self) -> None:
        """Let the keys be changed."""
        self._open(KeysDialog(self.session, self))

    def show_help(self) -> None:
        """Show all keys."""
        self._open(HelpDialog(self.session, self))

    def _open(self, dialog: QDialog) -> None:
        self.dialog = dialog
        dialog.finished.connect(self._dialog_done)
        dialog.open()

    def _dialog_done(self, *_: object) -> None:
        self.dialog = None
        if not self._closed:
            self._show_keys()
            self.focus_canvas()

    def _recorded(self, finished: Finished) -> None:
        opened = f" Opened: {', '.join(finished.cases_opened)}." if finished.cases_opened else ""
        self._notice((*finished.lines, *((opened.strip(),) if opened else ())))
        self._list_fields()
        self._show_field()
        self.show_burden()

    def ask_pictures(self) -> None:
        """Ask for pictures to add as fields."""
        names, _ = QFileDialog.getOpenFileNames(self, "Add pictures or clips as fields")
        if names:
            self.add_pictures([Path(name) for name in names])

    def add_pictures(self, paths: list[Path]) -> None:
        """Add pictures as fields of the open preparation."""
        try:
            outcome = self.session.add_pictures(paths)
        except FecallabError as error:
            self.control.say(f"{error} {getattr(error, 'next', '')}".strip())
            return
        self._list_fields()
        self.control.say(". ".join([outcome.words, *outcome.told]))
        if outcome.uids:
            self.control.go_to(outcome.uids[0])

    # --- watched folder and clips

    def watch(self, folder: Path) -> None:
        """Take in what the camera's program puts into a folder."""
        self.session.watch(folder)
        self._notice((f"Watched: {folder}",))
        self._watch_timer.start(WATCHED_EVERY_MS)

    def _look_into_watched(self) -> None:
        try:
            outcome = self.session.take_watched()
        except FecallabError as error:
            self._notice((str(error),))
            return
        if outcome is not None:
            first = not self.fields.count()
            self._list_fields()
            self._show_field()
            self._notice((outcome.words, *outcome.told))
            if first and outcome.uids:
                self.control.go_to(outcome.uids[0])

    def play(self) -> None:
        """Play a clip at its own speed, or stop it."""
        if not self.control.layers.frames:
            self.control.say("This field is no clip.")
        elif self._play_timer.isActive():
            self._play_timer.stop()
        else:
            self._play_timer.start(max(15, round(1000 / max(self.control.layers.fps, 1.0))))

    # --- closing

    def shut(self) -> None:
        """Have everything on the disk and let the viewer go; nothing is asked."""
        if self._closed:
            return
        self._closed = True
        for timer in (self._saved_timer, self._watch_timer, self._play_timer):
            timer.stop()
        self.mouse.close()
        self.control.close()


FOCUS_STYLE = """
QTableWidget:focus, QListWidget:focus, QTextBrowser:focus, QPushButton:focus, QToolButton:focus,
QTabBar:focus, QLineEdit:focus, QComboBox:focus { border: 2px solid #E69F00; }
QLabel[notice="true"] { border-left: 3px solid #E69F00; padding: 3px 6px; }
"""


def _label(text: str, name: str, *, bold: bool = False) -> QLabel:
    made = QLabel(text)
    made.setWordWrap(True)
    made.setAccessibleName(name)
    made.setTextFormat(Qt.TextFormat.PlainText)
    if bold:
        font = made.font()
        font.setBold(True)
        made.setFont(font)
    return made


def _notice_label(name: str) -> QLabel:
    made = _label("", name)
    made.setProperty("notice", True)
    made.hide()
    return made


def _set(label: QLabel, text: str) -> None:
    if label.text() != text:
        label.setText(text)
    if label.property("notice"):
        label.setVisible(bool(text))


def _arrow(sign: str, name: str, pressed: object) -> QToolButton:
    made = QToolButton()
    made.setText(sign)
    made.setAccessibleName(name)
    made.setToolTip(name)
    made.clicked.connect(pressed)
    made.setMinimumSize(32, 26)
    return made


def _row(*widgets: QWidget, stretch: int | None = None) -> QHBoxLayout:
    row = QHBoxLayout()
    row.setSpacing(6)
    for place, widget in enumerate(widgets):
        row.addWidget(widget, 1 if stretch is None or place == stretch else 0)
    return row
