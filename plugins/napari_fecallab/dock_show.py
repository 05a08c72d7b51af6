"""What stands in the panel: written anew where the session says that it changed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from qtpy.QtCore import Qt, QTimer
from qtpy.QtWidgets import QListWidgetItem

from fecallab.domain.errors import FecallabError
from napari_fecallab.dock_clip import clip_page
from napari_fecallab.dock_panel import Panel, set_text
from napari_fecallab.dock_words import burden_page, field_lines, mark_page

if TYPE_CHECKING:
    from napari_fecallab.picture_facts import PictureFacts
    from napari_fecallab.session import MarkingSession
    from napari_fecallab.window_control import MarkingControl


WORDS_AFTER_MS = 40
"""How long the words of the panel wait for the picture to be painted."""


class ShowingPanel(Panel):
    """The panel of a session, as it is shown."""

    session: MarkingSession
    control: MarkingControl
    burden_soon: Callable[[], object]
    _closed: bool
    _due: set[str]
    _looked_at: str
    _was_clip = False

    def _on_control(self, what: str) -> None:
        if what == "message":
            self.message.setText(self.control.message)
        elif what == "waiting":
            self._show_waiting()
        elif what == "chosen":
            self._mark_soon()
        elif what == "moving":
            self.show_clip()
        elif what == "layers":
            self._show_warnings()
        elif what == "fields":
            self._list_fields()
            self._show_field()
        elif what == "field":
            if "counts" in self._due:  # of the field that was left before its row was written
                self._write_rows()
            self._show_field()
            self._show_keys()
            self._look_at_picture()
            self.stop_playing()
            self.show_clip()
        elif what == "counts":
            self._counts_soon()

    def _mark_soon(self) -> None:
        self._after_the_frame("mark")

    def _counts_soon(self) -> None:
        self._after_the_frame("counts")
        self.burden_soon()

    def _after_the_frame(self, what: str) -> None:
        """Write it a moment later: the mark on the picture comes first, the words about it after."""
        if not self._due:
            QTimer.singleShot(WORDS_AFTER_MS, self, self._write_what_is_due)
        self._due.add(what)

    def _write_what_is_due(self) -> None:
        due, self._due = self._due, set()
        if "counts" in due:
            self._show_counts()
        if "mark" in due:
            self.show_mark()

    def _show_counts(self) -> None:
        if not self._closed:
            self._show_field()
            self._show_keys()
            if self.control.clip is not None:
                self.show_clip()

    def _show_field(self) -> None:
        if not self.session.current:
            return
        view = self.session.field()
        for label, text in zip((self.place, self.preparation, self.state), field_lines(view), strict=True):
            set_text(label, text)
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
        set_text(self.remark, "\n".join(self.control.remarks))
        self._show_warnings()

    def _write_rows(self) -> None:
        """Write the row of every field anew."""
        for view in self.session.fields():
            item = self.fields.item(view.number - 1)
            if item is not None and item.text() != view.line:
                item.setText(view.line)

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
        second = "row" in self.control.waiting
        self.legend.show_keys(self.session.keys(), self.session.without_key(), second=second)

    def _show_waiting(self) -> None:
        waiting = self.control.waiting
        words = {
            "rename": "rename: press the number of the right name",
            "unsure": "not sure: press the number",
            "row": "look-alike: press its number",
            "swimmers": "what swims: press the number of its name",
        }
        told = (words[one] for one in ("rename", "swimmers", "unsure", "row") if one in waiting)
        set_text(self.message, "; ".join(told))
        self._show_keys()

    def _show_warnings(self) -> None:
        set_text(self.warning, "\n".join(self.control.layers.warnings()))

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

    def show_clip(self) -> None:
        """Show what moves in the clip; its page comes forward with a clip and goes back after it."""
        if self._closed:
            return
        here = self.tabs.currentWidget() is self.clip_text
        clip = self.control.clip is not None
        view = self.session.field() if self.session.current else None
        self.clip_text.setHtml(clip_page(view if clip else None, self.control.moving))
        if clip != here and clip != self._was_clip:
            self.tabs.setCurrentWidget(self.clip_text if clip else self.mark_text)
        self._was_clip = clip

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
        set_text(self.saved, self.session.saved.words)

    def _notice(self, lines: tuple[str, ...]) -> None:
        set_text(self.notice, "\n".join(lines))
