"""The scale of fields: from the lit circle, from a ruler, typed, or kept for a fixed camera."""

from __future__ import annotations

from collections.abc import Callable, Generator
from pathlib import Path
from typing import TYPE_CHECKING

from qtpy.QtWidgets import (
    QComboBox,
    QDialogButtonBox,
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QStackedWidget,
    QWidget,
)

from fecallab.domain.errors import BadInput, FecallabError
from napari_fecallab._qt_work import WorkBar
from napari_fecallab.dock_dialogs import SmallDialog

if TYPE_CHECKING:
    from napari_fecallab.part_scale import ScaleFound
    from napari_fecallab.session import MarkingSession

WAYS = (
    "from the round edge of the field",
    "from a picture of a stage micrometer",
    "typed",
    "kept for a fixed camera",
    "none: sizes are not told",
)
FOR_FIELDS = ("this field", "all fields without a scale", "all fields with this objective")


def number(text: str, what: str) -> float:
    """Read a number as typed, with a point or a comma.

    Examples
    --------
    >>> number("0,65", "µm per pixel")
    0.65
    """
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        raise BadInput(
            f"{what} is {text!r}; it must be a number.", next="Type it again.", code="no-number"
        ) from None


class ScaleDialog(SmallDialog):
    """Find a scale, read it, use it."""

    def __init__(self, session: MarkingSession, parent: QWidget) -> None:
        super().__init__("Scale", parent, 440, 320)
        self.session = session
        view = session.field()
        now = QLabel(f"Now: {view.scale_words}")
        now.setWordWrap(True)
        self.column.addWidget(now)
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self.way = QComboBox()
        self.way.setAccessibleName("How the scale is found")
        self.way.addItems(WAYS)
        form.addRow("How", self.way)
        self.pages = QStackedWidget()
        self.field_number = _line("Number on the eyepiece, mm", "such as 18; empty: as recorded")
        self.ruler = _line("Picture of the stage micrometer", "a picture at the same objective")
        self.division = _line("Division of the stage micrometer, µm", "such as 10")
        self.typed = _line("µm per pixel", "such as 0.65")
        self.profile = QComboBox()
        self.profile.setAccessibleName("Kept scales")
        self.profile.addItems([one.name for one in session.profiles()])
        browse = QPushButton("Choose …")
        browse.clicked.connect(self._choose_ruler)
        self.pages.addWidget(_page(("Number on the eyepiece (mm)", self.field_number)))
        self.pages.addWidget(
            _page(("Picture", _beside(self.ruler, browse)), ("Division (µm)", self.division))
        )
        self.pages.addWidget(_page(("µm per pixel", self.typed)))
        self.pages.addWidget(_page(("Kept as", self.profile)))
        self.pages.addWidget(_page())
        self.way.currentIndexChanged.connect(self.pages.setCurrentIndex)
        self.column.addLayout(form)
        self.column.addWidget(self.pages)
        self.fields = QComboBox()
        self.fields.setAccessibleName("For which fields")
        self.fields.addItems(FOR_FIELDS)
        for_form = QFormLayout()
        for_form.addRow("For", self.fields)
        self.column.addLayout(for_form)
        self.says = QLabel()
        self.says.setWordWrap(True)
        self.says.setAccessibleName("What was found")
        self.column.addWidget(self.says, 1)
        self.work = WorkBar()
        self.column.addWidget(self.work)
        buttons = QDialogButtonBox()
        self.use = buttons.addButton("Find and use", QDialogButtonBox.ButtonRole.AcceptRole)
        buttons.addButton("Close", QDialogButtonBox.ButtonRole.RejectRole)
        assert self.use is not None
        self.use.setDefault(True)
        buttons.accepted.connect(self.use_what_is_found)
        buttons.rejected.connect(self.reject)
        self.column.addWidget(buttons)

    def wanted(self) -> list[str]:
        """Return the uids of the fields that it is for."""
        here = self.session.field()
        choice = self.fields.currentIndex()
        if choice == 0:
            return [here.uid]
        fields = self.session.fields()
        if choice == 1:
            return [one.uid for one in fields if one.um_per_px is None or one.uid == here.uid]
        return [one.uid for one in fields if one.objective == here.objective]

    def use_what_is_found(self) -> None:
        """Find the scale and use it; what cannot be is said in the dialog."""
        try:
            self._find()
        except FecallabError as error:
            self._say(error)

    def _find(self) -> None:
        way, session = self.way.currentIndex(), self.session
        if way == 0:
            text = self.field_number.text().strip()
            field_number = number(text, "The number on the eyepiece") if text else None
            uid = session.current
            self._work(lambda: session.find_scale_from_lit_circle(uid, field_number))
        elif way == 1:
            ruler = Path(self.ruler.text().strip())
            division = number(self.division.text(), "The division")
            self._work(lambda: session.find_scale_from_ruler(ruler, division))
        elif way == 2:
            session.set_scale(number(self.typed.text(), "µm per pixel"), fields=self.wanted())
            self.accept()
        elif way == 3:
            session.scale_from_profile(self.profile.currentText(), self.wanted())
            self.accept()
        else:
            session.set_scale(None, fields=self.wanted())
            self.accept()

    def _work(self, find: Callable[[], ScaleFound]) -> None:
        def steps() -> Generator[tuple[int, int], None, ScaleFound]:
            yield 0, 0
            return find()

        self.work.run("Measuring …", steps(), self._found, self._say)

    def _found(self, found: ScaleFound) -> None:
        try:
            self.session.use_scale(found, self.wanted())
        except FecallabError as error:
            self._say(error)
            return
        said = f"{found.um_per_px:.4g} ± {found.half_width:.2g} µm per pixel, from {found.how}."
        self.says.setText("\n".join([said, *found.remarks]))

    def _say(self, error: Exception) -> None:
        self.says.setText(f"{error} {getattr(error, 'next', '')}".strip())

    def _choose_ruler(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, "Picture of a stage micrometer")
        if name:
            self.ruler.setText(name)


def _line(name: str, hint: str) -> QLineEdit:
    made = QLineEdit()
    made.setAccessibleName(name)
    made.setPlaceholderText(hint)
    return made


def _beside(*widgets: QWidget) -> QWidget:
    both = QWidget()
    row = QHBoxLayout(both)
    row.setContentsMargins(0, 0, 0, 0)
    for widget in widgets:
        row.addWidget(widget)
    return both


def _page(*rows: tuple[str, QWidget]) -> QWidget:
    made = QWidget()
    form = QFormLayout(made)
    form.setContentsMargins(0, 0, 0, 0)
    form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
    for label, widget in rows:
        form.addRow(label, widget)
    return made
