"""The panel beside the picture: where you are, keys and counts, one mark, all fields, the burden."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from qtpy.QtCore import Qt, QTimer
from qtpy.QtWidgets import QApplication, QDialog, QFileDialog, QListWidgetItem, QWidget
from superqt.utils import qdebounced

from fecallab.domain.errors import FecallabError
from fecallab.domain.spoken import number_of
from fecallab.imaging.clip_stack import ready_steps
from napari_fecallab.dock_add_clip import ClipDialog, not_taken_in
from napari_fecallab.dock_clip import RateDialog
from napari_fecallab.dock_dialogs import FinishDialog, HelpDialog, KeysDialog, NamesDialog
from napari_fecallab.dock_panel import set_text
from napari_fecallab.dock_proposals import ProposalsDialog
from napari_fecallab.dock_scale import ScaleDialog
from napari_fecallab.dock_show import ShowingPanel
from napari_fecallab.kept_proposals import propose_steps
from napari_fecallab.window_control import MarkingControl
from napari_fecallab.window_mouse import Mouse

if TYPE_CHECKING:
    from napari.components import ViewerModel

    from napari_fecallab.session import MarkingSession
    from napari_fecallab.views import Finished, Outcome

SAVED_EVERY_MS = 200
WATCHED_EVERY_MS = 1000
BURDEN_AFTER_MS = 400
PANEL_HAS_KEYS = "Keys act on the panel now. F6 goes back to the picture."


class MarkingDock(ShowingPanel):
    """The panel of one exam; owns control, mouse and session."""

    def __init__(self, viewer: ViewerModel, session: MarkingSession, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("marking_dock")
        self.viewer, self.session = viewer, session
        self._closed = False
        self._due: set[str] = set()
        self._looked_at = ""
        self.dialog: QDialog | None = None
        self._build(session.title)
        self._play_timer = QTimer(self)
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
            "ask_rate": self.ask_rate,
        }
        self.control.listeners.append(self._on_control)
        self.mouse = Mouse(viewer, self.control)
        self._saved_timer = QTimer(self)
        self._saved_timer.timeout.connect(self._show_saved)
        self._saved_timer.start(SAVED_EVERY_MS)
        self._watch_timer = QTimer(self)
        self._watch_timer.timeout.connect(self._look_into_watched)
        self._play_timer.timeout.connect(lambda: self.control.press("Alt-Right"))
        self.burden_soon = qdebounced(timeout=BURDEN_AFTER_MS)(self.show_burden)
        application = QApplication.instance()
        if isinstance(application, QApplication):
            application.focusChanged.connect(self._focus_moved)
        self._list_fields()
        self.control.open()
        self._notice(session.notices)
        self.show_mark()
        self.show_burden()

    def step(self, key: str) -> None:
        """Do what a key means."""
        self.control.press(key)

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
        if QApplication.focusWidget() is self.canvas():
            self.legend.setFocus(Qt.FocusReason.ShortcutFocusReason)
        else:
            self.focus_canvas()

    def _focus_moved(self, _before: QWidget | None, now: QWidget | None) -> None:
        lists = (self.legend, self.fields, self.mark_text, self.burden_text)
        set_text(self.focus_note, PANEL_HAS_KEYS if any(now is one for one in lists) else "")

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

    def ask_proposals(self) -> None:
        """Let it be said when proposals show, and have them made."""
        self._open(ProposalsDialog(self.session, self.make_proposals, self))

    def make_proposals(self) -> None:
        """Make proposals for all pictures that have none, in a thread of its own."""
        wanted = self.session.pictures_to_propose()
        title = f"Looking for proposals in {number_of(len(wanted), 'picture')}"
        self.proposing.run(
            title, propose_steps(wanted), self._proposals_made, lambda e: self._proposals_made(str(e))
        )

    def _proposals_made(self, says: str) -> None:
        if not self._closed:
            if self.session.current:
                self.session.take_kept_proposals()
            self.control.say(says)

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
        self._add(lambda: self.session.add_pictures(paths))

    def ask_clip(self) -> None:
        """Ask for a clip to add as a field."""
        self._open(ClipDialog(self.add_clip, self))

    def add_clip(self, path: Path, fps: float | None = None) -> None:
        """Add a clip as a field of the open preparation; a folder of pictures is made one file in a thread."""
        self.taking_in.run(
            f"Taking in {path.name}",
            ready_steps(path, fps),
            lambda ready: self._add(lambda: self.session.add_clip(ready, fps)),
            lambda error: self.control.say(not_taken_in(error)),
        )

    def _add(self, take_in: Callable[[], Outcome]) -> None:
        if self._closed:
            return
        try:
            outcome = take_in()
        except FecallabError as error:
            self.control.say(str(error))
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

    def ask_rate(self) -> None:
        """Let the rate of a clip be typed, and work out what moves at that rate."""
        if self.control.clip is None:
            self.control.do_ask_rate()
        else:
            self._open(RateDialog(self.control.clip.fps, self.control.try_rate, self))

    def stop_playing(self) -> None:
        """Let a clip rest."""
        self._play_timer.stop()

    # --- closing

    def shut(self) -> None:
        """Have everything on the disk and let the viewer go; nothing is asked."""
        if self._closed:
            return
        self._closed = True
        application = QApplication.instance()
        if isinstance(application, QApplication):
            application.focusChanged.disconnect(self._focus_moved)
        for timer in (self._saved_timer, self._watch_timer, self._play_timer):
            timer.stop()
        self.proposing.stop()
        self.taking_in.stop()
        self.mouse.close()
        self.control.close()
