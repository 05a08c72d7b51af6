"""The panel before an exam is chosen: record folder, exam, who marks."""

from __future__ import annotations

import getpass
import os
from pathlib import Path
from typing import TYPE_CHECKING

from qtpy.QtWidgets import (
    QComboBox,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QStackedLayout,
    QWidget,
)

from fecallab.domain.errors import FecallabError
from fecallab.domain.spoken import say_date
from napari_fecallab._qt_steady import hold_singletons

if TYPE_CHECKING:
    from napari.viewer import Viewer

    from napari_fecallab.dock import MarkingDock

hold_singletons()


class StartPanel(QWidget):
    """Asks which exam; then the panel of that exam takes its place."""

    def __init__(self, napari_viewer: Viewer, folder: Path | None = None) -> None:
        super().__init__()
        self.viewer = napari_viewer
        self.dock: MarkingDock | None = None
        self.stack = QStackedLayout(self)
        form_page = QWidget()
        form = QFormLayout(form_page)
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self.folder = QLineEdit(str(folder or os.environ.get("FECALLAB_RECORDS", "")))
        self.folder.setAccessibleName("Record folder")
        browse = QPushButton("Choose …")
        browse.clicked.connect(self._browse)
        row = QHBoxLayout()
        row.addWidget(self.folder, 1)
        row.addWidget(browse)
        self.exams = QComboBox()
        self.exams.setAccessibleName("Exam")
        self.by = QLineEdit(os.environ.get("FECALLAB_BY", "") or _user())
        self.by.setAccessibleName("Who marks")
        self.open_button = QPushButton("Open the exam")
        self.open_button.clicked.connect(lambda: self.open_exam(str(self.exams.currentData() or "")))
        self.trouble = QLabel()
        self.trouble.setWordWrap(True)
        self.trouble.setAccessibleName("What is wrong")
        form.addRow("Record folder", row)
        form.addRow("Exam", self.exams)
        form.addRow("Who marks", self.by)
        form.addRow(self.open_button)
        form.addRow(self.trouble)
        self.stack.addWidget(form_page)
        self.folder.editingFinished.connect(self.list_exams)
        self.list_exams()

    def list_exams(self) -> None:
        """List the exams of the folder, the newest first."""
        from fecallab.records.store import open_records

        self.exams.clear()
        text = self.folder.text().strip()
        if not text:
            self.trouble.setText("Choose the record folder; fecallab records make FOLDER makes one.")
            return
        try:
            with open_records(Path(text)) as store:
                exams = sorted(store.exams(), key=lambda exam: exam.examined_at, reverse=True)
                for exam in exams:
                    animal = store.animal(store.sample(exam.sample).animal)
                    self.exams.addItem(
                        f"{exam.code} · {animal.name} · {say_date(exam.examined_at)}", exam.code
                    )
        except FecallabError as error:
            self.trouble.setText(f"{error} {getattr(error, 'next', '')}".strip())
            return
        self.trouble.setText("" if exams else "There is no exam in this folder yet: fecallab exam add")

    def open_exam(self, code: str) -> None:
        """Open an exam in place of this form."""
        from napari_fecallab.dock import MarkingDock
        from napari_fecallab.session import MarkingSession
        from napari_fecallab.window import settle

        if not code:
            self.trouble.setText("Choose an exam.")
            return
        try:
            session = MarkingSession(self.folder.text().strip(), code, self.by.text().strip() or _user())
        except FecallabError as error:
            self.trouble.setText(f"{error} {getattr(error, 'next', '')}".strip())
            return
        self.dock = MarkingDock(self.viewer, session)
        self.stack.addWidget(self.dock)
        self.stack.setCurrentWidget(self.dock)
        settle(self.dock)

    def _browse(self) -> None:
        folder = QFileDialog.getExistingDirectory(self, "Record folder")
        if folder:
            self.folder.setText(folder)
            self.list_exams()


def _user() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "keeper"
