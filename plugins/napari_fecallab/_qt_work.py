"""Long work in a thread of its own, with a bar that says how far it is and a button that stops it."""

from __future__ import annotations

from collections.abc import Callable, Generator
from typing import Any

from qtpy.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QPushButton, QVBoxLayout, QWidget


class WorkBar(QWidget):
    """Shows one long work; the `Background` of a window."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._worker: Any = None
        self.title = QLabel()
        self.title.setWordWrap(True)
        self.bar = QProgressBar()
        self.bar.setAccessibleName("How far the work is")
        self.stop_button = QPushButton("Stop")
        self.stop_button.setAccessibleName("Stop the work")
        self.stop_button.clicked.connect(self._stopped_by_hand)
        row = QHBoxLayout()
        row.addWidget(self.bar, 1)
        row.addWidget(self.stop_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.title)
        column.addLayout(row)
        self._failed: Callable[[Exception], None] | None = None
        self.hide()

    def run(
        self,
        title: str,
        steps: Generator[tuple[int, int], None, Any],
        done: Callable[[Any], None],
        failed: Callable[[Exception], None],
    ) -> None:
        """Run a generator in a thread; `done` and `failed` are called on the main thread."""
        from napari.qt.threading import create_worker

        self.stop()
        self.title.setText(title)
        self.bar.setRange(0, 0)
        self.show()

        def work() -> Generator[tuple[int, int], None, tuple[str, Any]]:
            try:
                result = yield from steps
            except Exception as error:
                return "failed", error
            return "done", result

        worker: Any = create_worker(work)
        worker.yielded.connect(lambda at: self._at(worker, *at))
        worker.returned.connect(lambda end: self._ended(worker, end, done, failed))
        worker.finished.connect(lambda: steps.close())  # what was stopped lets go of its files and threads
        self._worker, self._failed = worker, failed
        worker.start()

    def stop(self) -> None:
        """Stop what runs; nothing of it is called any more."""
        worker, self._worker, self._failed = self._worker, None, None
        if worker is not None:
            worker.quit()
        self.hide()

    def _stopped_by_hand(self) -> None:
        from fecallab.domain.errors import CouldNot

        failed = self._failed
        self.stop()
        if failed is not None:
            failed(CouldNot("Stopped.", next="Open the field again to read it.", code="stopped"))

    def _at(self, worker: Any, done: int, whole: int) -> None:
        if worker is self._worker:
            self.bar.setRange(0, whole)
            self.bar.setValue(done)

    def _ended(
        self,
        worker: Any,
        end: tuple[str, Any],
        done: Callable[[Any], None],
        failed: Callable[[Exception], None],
    ) -> None:
        if worker is not self._worker:
            return
        self._worker = self._failed = None
        self.hide()
        if end[0] == "done":
            done(end[1])
        else:
            failed(end[1])
