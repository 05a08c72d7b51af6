"""A private napari, a screen or a reason, drawn exams, and one window that the tests of a module share."""

from __future__ import annotations

import gc
import importlib.util
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

os.environ["NAPARI_CONFIG"] = str(Path(tempfile.gettempdir()) / f"fecallab-napari-{os.getpid()}" / "s.yaml")


def _helper(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


drawn = _helper("drawn_exam")


def without(reason: str) -> None:
    if os.environ.get("FECALLAB_CI") == "1":
        pytest.fail(f"the tests of the window must run in CI: {reason}")
    pytest.skip(reason)


MISSING = [
    " or ".join(names)
    for names in (("napari",), ("PySide6", "PyQt6"), ("pytestqt",))
    if all(importlib.util.find_spec(name) is None for name in names)
]
if MISSING and os.environ.get("FECALLAB_CI") != "1":
    collect_ignore_glob = ["test_*.py"]


def pytest_report_header() -> str:
    return f"the window is not tested, not installed: {', '.join(MISSING)}" if MISSING else ""


@pytest.fixture(scope="session")
def screen() -> None:
    """Give a screen; skipped with the reason where there is none, a failure in CI."""
    if sys.platform.startswith("linux") and not os.environ.get("DISPLAY"):
        without("there is no screen (DISPLAY is empty); on a machine without one use xvfb-run")


@pytest.fixture(scope="session")
def three_fields(tmp_path_factory: pytest.TempPathFactory) -> Any:
    return drawn.make_exam(tmp_path_factory.mktemp("three") / "records")


@pytest.fixture
def exam(three_fields: Any, tmp_path: Path) -> Any:
    """A copy of an exam of three fields with two organisms, none, and one."""
    folder = shutil.copytree(three_fields.folder, tmp_path / "records")
    return drawn.DrawnExam(Path(folder), three_fields.code, three_fields.truth)


@pytest.fixture
def make_exam(tmp_path: Path) -> Callable[..., Any]:
    numbers = iter(range(100))

    def make(*values: Any, **options: Any) -> Any:
        return drawn.make_exam(tmp_path / f"made{next(numbers)}", *values, **options)

    return make


@pytest.fixture
def open_control(exam: Any) -> Iterator[Callable[..., Any]]:
    """Open an exam on a ViewerModel: no window, no screen."""
    from napari.components import ViewerModel
    from napari_fecallab.session import MarkingSession
    from napari_fecallab.window_control import MarkingControl

    opened: list[Any] = []

    def open_it(which: Any = None) -> Any:
        which = which or exam
        control = MarkingControl(ViewerModel(), MarkingSession(which.folder, which.code, drawn.KEEPER))
        control.open()
        opened.append(control)
        return control

    yield open_it
    for control in opened:
        control.close()


@pytest.fixture
def control(open_control: Callable[..., Any]) -> Any:
    return open_control()


class Hands:
    """Mouse and keyboard on the canvas of a real window: events go through Qt."""

    def __init__(self, viewer: Any, dock: Any, qtbot: Any) -> None:
        self.viewer, self.dock, self.qtbot = viewer, dock, qtbot
        self.control, self.session = dock.control, dock.session
        self.canvas = dock.canvas()
        self.keys = self.clicks = 0

    def at(self, place: tuple[float, float]) -> Any:
        """Where a place of the picture (x, y) is on the canvas."""
        from qtpy.QtCore import QPoint

        layers = self.control.layers
        centre = layers.to_px(layers.camera.center)
        across = layers.screen_per_px
        x = self.canvas.width() / 2 + (place[0] - centre[0]) * across
        y = self.canvas.height() / 2 + (place[1] - centre[1]) * across
        return QPoint(round(x), round(y))

    def point(self, place: tuple[float, float]) -> None:
        from qtpy.QtCore import QEvent, QPointF, Qt
        from qtpy.QtGui import QMouseEvent
        from qtpy.QtWidgets import QApplication

        at = QPointF(self.at(place))
        none = Qt.MouseButton.NoButton
        event = QMouseEvent(
            QEvent.Type.MouseMove,
            at,
            QPointF(self.canvas.mapToGlobal(at.toPoint())),
            none,
            none,
            Qt.KeyboardModifier.NoModifier,
        )
        QApplication.sendEvent(self.canvas, event)
        self.process()

    def press(self, *keys: Any) -> None:
        """Press keys: names of Qt.Key without the prefix, Shift+ and Ctrl+ in front; ! is what Shift and 1 write."""
        from qtpy.QtCore import Qt

        for key in keys:
            self.keys += 1
            modifier = Qt.KeyboardModifier.NoModifier
            while "+" in key:
                name, _, key = key.partition("+")
                modifier |= getattr(Qt.KeyboardModifier, {"Ctrl": "Control"}.get(name, name) + "Modifier")
            self.qtbot.keyClick(self.focus(), getattr(Qt.Key, f"Key_{key}"), modifier)
            self.process()

    def focus(self) -> Any:
        from qtpy.QtWidgets import QApplication

        return QApplication.focusWidget() or self.canvas

    def click(self, place: tuple[float, float], *, shift: bool = False, twice: bool = False) -> None:
        from qtpy.QtCore import Qt

        self.clicks += 1
        modifier = Qt.KeyboardModifier.ShiftModifier if shift else Qt.KeyboardModifier.NoModifier
        do = self.qtbot.mouseDClick if twice else self.qtbot.mouseClick
        do(self.canvas, Qt.MouseButton.LeftButton, modifier, self.at(place))
        self.process()

    def drag(self, start: tuple[float, float], end: tuple[float, float], *, shift: bool = False) -> None:
        from qtpy.QtCore import QEvent, QPointF, Qt
        from qtpy.QtGui import QMouseEvent
        from qtpy.QtWidgets import QApplication

        modifier = Qt.KeyboardModifier.ShiftModifier if shift else Qt.KeyboardModifier.NoModifier
        steps = [
            start,
            *[tuple(a + (b - a) * k / 4 for a, b in zip(start, end, strict=True)) for k in range(1, 5)],
        ]
        kinds = [QEvent.Type.MouseButtonPress, *[QEvent.Type.MouseMove] * 4, QEvent.Type.MouseButtonRelease]
        at = QPointF()
        left, none = Qt.MouseButton.LeftButton, Qt.MouseButton.NoButton
        for kind, place in zip(kinds, [*steps, end], strict=True):
            if kind != QEvent.Type.MouseButtonRelease:  # which comes where the last move was
                at = QPointF(self.at(place))
            button = none if kind == QEvent.Type.MouseMove else left
            held = none if kind == QEvent.Type.MouseButtonRelease else left
            event = QMouseEvent(
                kind, at, QPointF(self.canvas.mapToGlobal(at.toPoint())), button, held, modifier
            )
            QApplication.sendEvent(self.canvas, event)
        self.process()

    def process(self) -> None:
        from qtpy.QtWidgets import QApplication

        QApplication.processEvents()


@pytest.fixture(scope="module")
def shared_viewer(screen: None, qapp: Any) -> Iterator[Any]:
    """One napari window for the tests of a module.

    With each layer that goes napari has the memory of the whole process looked through; what was there before
    the tests is left out of that.
    """
    import napari

    viewer = napari.Viewer(show=False)
    viewer.show()
    qapp.processEvents()
    gc.collect()
    gc.freeze()
    yield viewer
    viewer.close()
    qapp.processEvents()
    gc.unfreeze()


@pytest.fixture
def hands(shared_viewer: Any, qtbot: Any) -> Iterator[Callable[..., Hands]]:
    """Open an exam in the shared window."""
    from napari_fecallab.session import MarkingSession
    from napari_fecallab.window import add_dock

    opened: list[Any] = []

    def open_it(which: Any, width: int = 1366, height: int = 768) -> Hands:
        dock = add_dock(shared_viewer, MarkingSession(which.folder, which.code, drawn.KEEPER))
        opened.append(dock)
        dock.window().resize(width, height)
        dock.window().activateWindow()
        for _ in range(3):
            qtbot.wait(20)
        dock.control.layers.look_at_all()
        dock.focus_canvas()
        hand = Hands(shared_viewer, dock, qtbot)
        hand.process()
        return hand

    yield open_it
    for dock in opened:
        if dock.dialog is not None:
            dock.dialog.reject()
        dock.shut()
        for layer in list(shared_viewer.layers):
            if hasattr(layer, "locked"):
                layer.locked = False
        shared_viewer.layers.clear()
        shared_viewer.window.remove_dock_widget(dock)
        dock.deleteLater()
    qtbot.wait(20)
