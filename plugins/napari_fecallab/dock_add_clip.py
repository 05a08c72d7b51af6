"""Add a clip as a field: a video, a TIFF stack or a folder of pictures, with the rate where the clip holds none."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from qtpy.QtWidgets import (
    QDialogButtonBox,
    QDoubleSpinBox,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QWidget,
)

from fecallab.domain.errors import BadInput, FecallabError
from napari_fecallab.dock_dialogs import SmallDialog

Use = Callable[[Path, float | None], None]
AS_IT_SAYS = "as the clip says"


def not_taken_in(error: Exception) -> str:
    """Return the line for a clip that did not come in."""
    if not isinstance(error, FecallabError):
        return f"The clip could not be taken in: {type(error).__name__}."
    if error.reason.code == "stopped":
        return "Stopped; no clip was added."
    return str(error)


class ClipDialog(SmallDialog):
    """Which clip, and how many frames were taken in a second."""

    def __init__(self, use: Use, parent: QWidget) -> None:
        super().__init__("Add a clip", parent, 460, 260)
        self._use = use
        about = QLabel(
            "A video, a TIFF stack, or a folder of numbered pictures of one field. A folder holds no times:"
            " type how many pictures were taken in a second."
        )
        about.setWordWrap(True)
        self.path = QLineEdit()
        self.path.setAccessibleName("File or folder of the clip")
        self.path.setPlaceholderText("file or folder")
        self.rate = QDoubleSpinBox()
        self.rate.setRange(0.0, 10_000.0)
        self.rate.setSpecialValueText(AS_IT_SAYS)
        self.rate.setAccessibleName("Frames per second")
        file_button, folder_button = QPushButton("File …"), QPushButton("Folder …")
        file_button.clicked.connect(self._ask_file)
        folder_button.clicked.connect(self._ask_folder)
        choose = QHBoxLayout()
        choose.addWidget(file_button)
        choose.addWidget(folder_button)
        choose.addStretch(1)
        form = QFormLayout()
        form.addRow("clip", self.path)
        form.addRow("", choose)
        form.addRow("frames per second", self.rate)
        self.trouble = QLabel()
        self.trouble.setWordWrap(True)
        self.trouble.setAccessibleName("What is wrong")
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        buttons.accepted.connect(self.use)
        buttons.rejected.connect(self.reject)
        self.column.addWidget(about)
        self.column.addLayout(form)
        self.column.addWidget(self.trouble)
        self.column.addWidget(buttons)

    def _ask_file(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, "A video or a TIFF stack")
        if name:
            self.path.setText(name)

    def _ask_folder(self) -> None:
        name = QFileDialog.getExistingDirectory(self, "A folder of numbered pictures")
        if name:
            self.path.setText(name)

    def use(self) -> None:
        """Take the clip, or say in the dialog what is missing."""
        try:
            path, fps = self._given()
        except FecallabError as error:
            self.trouble.setText(str(error))
            return
        self.accept()
        self._use(path, fps)

    def _given(self) -> tuple[Path, float | None]:
        from fecallab.imaging.motility import open_clip

        typed, fps = self.path.text().strip(), float(self.rate.value()) or None
        if not typed:
            raise BadInput("No file or folder is named.", next="Press File or Folder.", code="clip-missing")
        path = Path(typed).expanduser()
        try:
            open_clip(path, fps)
        except BadInput as error:
            if error.reason.code != "clip-no-times":
                raise
            raise BadInput(
                error.reason.text, next="Type the frames per second.", code="clip-no-times"
            ) from error
        return path, fps
