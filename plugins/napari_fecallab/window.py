"""Open an exam in a napari window of its own: ``open_window``."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from napari import Viewer
    from qtpy.QtCore import QEvent, QObject

    from napari_fecallab.dock import MarkingDock

NARROWEST_DOCK_PX, WIDEST_DOCK_PX, DOCK_SHARE = 300, 420, 0.27
LARGEST_PX = (1600, 1000)
_KEPT: list[Any] = []


def open_window(
    records_folder: Path | str, exam: str, by: str, watch: Path | str | None = None, *, wait: bool = True
) -> Viewer:
    """Open an exam to mark it, and come back when the window is closed.

    Parameters
    ----------
    records_folder : Path or str
    exam : str
        Code of the exam, ``E1``.
    by : str
        Who marks.
    watch : Path or str, optional
        A folder into which the camera's program puts its pictures.
    wait : bool
        False: come back at once; the window belongs to the running Qt application.

    Returns
    -------
    napari.Viewer

    Raises
    ------
    BadInput, CouldNot
        No such exam; it is open elsewhere; napari or a screen is missing. Nothing is left open then.
    """
    print(f"Opening {exam} …", file=sys.stderr, flush=True)
    splash = _first_sign(records_folder, exam, by)
    try:
        from napari_fecallab.session import MarkingSession

        session = MarkingSession(records_folder, exam, by)
        try:
            viewer = _viewer(session.title)
            dock = add_dock(viewer, session)
            if watch is not None:
                dock.watch(Path(watch))
        except BaseException:
            session.close()
            raise
    finally:
        splash.close()
    viewer.show()
    fill_screen(dock)
    dock.focus_canvas()
    if wait:
        import napari

        napari.run()
    return viewer


def add_dock(viewer: Any, session: Any) -> MarkingDock:
    """Put the panel of a session beside the canvas of a napari viewer."""
    from napari_fecallab.dock import MarkingDock

    dock = MarkingDock(viewer, session)
    viewer.window.add_dock_widget(dock, name="marking", area="right", add_vertical_stretch=False)
    tidy(dock)
    settle(dock)
    return dock


def settle(dock: MarkingDock) -> None:
    """Once the panel stands in a window: keys on the canvas, quiet closing, only what marking needs in view."""
    from qtpy.QtCore import QTimer

    from napari_fecallab._qt_keys import CanvasKeys

    window, canvas = dock.window(), dock.canvas()
    if window is None or canvas is None:
        QTimer.singleShot(0, dock, lambda: settle(dock))
        return
    keys = CanvasKeys(canvas, dock.control.press, dock.refit)
    napari_says, layers = dock.control.mouse_place, dock.control.layers

    def place() -> tuple[float, float]:
        if keys.mouse is None:
            return napari_says()
        return layers.px_at(*keys.mouse, canvas.width(), canvas.height())

    dock.control.mouse_place = place
    closing = _closing(dock)
    window.installEventFilter(closing)
    _KEPT[:] = [kept for kept in _KEPT if kept[0] is not dock][-4:]
    _KEPT.append((dock, keys, closing))
    dock.focus_canvas()


def tidy(dock: MarkingDock) -> None:
    """Leave in view what marking needs: napari's own panels stay in its menu."""
    from qtpy.QtCore import Qt
    from qtpy.QtWidgets import QDockWidget, QMainWindow

    window = dock.window()
    if window is None:
        return
    panels = {panel.objectName(): panel for panel in window.findChildren(QDockWidget)}
    for name in ("layer list", "layer controls"):
        if name in panels:
            panels[name].hide()
    if "marking" in panels and isinstance(window, QMainWindow):
        wide = min(WIDEST_DOCK_PX, max(NARROWEST_DOCK_PX, round(DOCK_SHARE * window.width())))
        window.resizeDocks([panels["marking"]], [wide], Qt.Orientation.Horizontal)


def fill_screen(dock: MarkingDock) -> None:
    """Give the window most of the screen, and the panel its share of it."""
    window = dock.window()
    screen = window.screen() if window is not None else None
    if window is not None and screen is not None:
        room = screen.availableGeometry()
        window.resize(min(room.width(), LARGEST_PX[0]), min(room.height(), LARGEST_PX[1]))
    tidy(dock)


def _closing(dock: MarkingDock) -> QObject:
    from qtpy.QtCore import QEvent, QObject, QTimer
    from qtpy.QtWidgets import QWidget

    class Closing(QObject):
        """Flush, then close without a question; ask only when something is not on the disk."""

        def eventFilter(self, watched: QObject | None, event: QEvent | None) -> bool:  # noqa: N802
            if event is None or event.type() != QEvent.Type.Close:
                return False
            if event.spontaneous():
                event.ignore()
                if isinstance(watched, QWidget) and _may_close(dock):
                    QTimer.singleShot(0, watched, watched.close)
                return True
            dock.shut()
            return False

    return Closing(dock)


def _may_close(dock: MarkingDock) -> bool:
    from napari_fecallab.dock_dialogs import NotSavedDialog

    state = dock.session.flush()
    if not state.trouble:
        return True
    return bool(NotSavedDialog(state.trouble, dock).exec())


def _viewer(title: str) -> Viewer:
    from fecallab.domain.errors import CouldNot

    ours = "napari" not in sys.modules and _own_settings()
    try:
        import napari
        from napari.settings import get_settings

        if ours:  # everything is saved all the time: nothing to ask on closing
            get_settings().application.confirm_close_window = False
        viewer = napari.Viewer(title=f"fecallab · {title}", show=False)
    except ImportError as error:
        raise CouldNot(
            "The marking window needs napari, which is not installed.",
            next='Type: pip install "fecallab[napari]"',
            code="napari-missing",
        ) from error
    return viewer


def _own_settings() -> bool:
    """Keep the settings of this window apart: a keymap or theme of another napari never changes it."""
    from qtpy.QtCore import QStandardPaths

    folder = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.GenericConfigLocation)
    if "NAPARI_CONFIG" in os.environ:
        return False
    os.environ["NAPARI_CONFIG"] = str(Path(folder) / "fecallab" / "window.yaml")
    return True


def _first_sign(records_folder: Path | str, exam: str, by: str) -> Any:
    """Show a small window before anything slow is loaded; where none can open, a wrong code is said first."""
    from fecallab.domain.errors import CouldNot

    try:
        return _splash(exam)
    except CouldNot:
        from napari_fecallab.session import MarkingSession

        MarkingSession(records_folder, exam, by, read_only=True).close()
        raise


def _splash(title: str) -> Any:
    """Show a small sign that something is happening."""
    from fecallab.domain.errors import CouldNot

    try:
        from qtpy.QtCore import Qt
        from qtpy.QtWidgets import QApplication, QLabel
    except ImportError as error:
        raise CouldNot(
            "The marking window needs Qt, which is not installed.",
            next='Type: pip install "fecallab[napari]"',
            code="napari-missing",
        ) from error
    if sys.platform.startswith("linux") and not (
        os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    ):
        raise CouldNot(
            "There is no screen here to open a window on.",
            next="Count at the eyepiece instead: fecallab exam tally",
            code="no-screen",
        )
    application = QApplication.instance() or QApplication([])
    label = QLabel(f"fecallab\n\n{title}\n\nThe marking window opens …")
    label.setWindowFlags(Qt.WindowType.SplashScreen)
    label.setAlignment(Qt.AlignmentFlag.AlignCenter)
    label.setMargin(28)
    label.setStyleSheet("background: #23282D; color: #F0EDE4; font-size: 15px;")
    label.show()
    application.processEvents()
    return label
