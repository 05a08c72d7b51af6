"""The widgets of the panel and where they stand; what is in them is written elsewhere."""

from __future__ import annotations

from qtpy.QtCore import Qt
from qtpy.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QTabWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from napari_fecallab._qt_steady import hold_singletons
from napari_fecallab._qt_work import WorkBar
from napari_fecallab.dock_dialogs import page
from napari_fecallab.dock_legend import Legend

hold_singletons()
NARROWEST_PX = 300
FOCUS_STYLE = """
QTableWidget:focus, QListWidget:focus, QTextBrowser:focus, QPushButton:focus, QToolButton:focus,
QTabBar:focus, QLineEdit:focus, QComboBox:focus { border: 2px solid #E69F00; }
QLabel[notice="true"] { border-left: 3px solid #E69F00; padding: 3px 6px; }
"""


class Panel(QWidget):
    """The panel without life: a column that scrolls when the screen is low."""

    def _build(self, title: str) -> None:
        self.title = _label(title, "What is marked", bold=True)
        self.saved = _label("", "Whether everything is saved")
        self.saved.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
        self.before = _arrow("‹", "Field before (Shift+Space)", lambda: self.step("PageUp"))
        self.after = _arrow("›", "Next field (Space)", lambda: self.step("PageDown"))
        self.place = _label("", "Which field", bold=True)
        self.place.setMinimumWidth(0)
        self.place.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.preparation = _label("", "Preparation, objective and scale")
        self.state = _label("", "State of the field")
        self.warning = _notice_label("Warning")
        self.remark = _notice_label("About the picture")
        self.notice = _notice_label("Notice")
        self.focus_note = _notice_label("Where the keys go")
        self.legend = Legend(self._name_chosen)
        self.legend.itemClicked.connect(lambda _item: self.focus_canvas())
        self.mark_text = page("", "The chosen mark")
        self.fields = QListWidget()
        self.fields.setAccessibleName("Fields")
        self.fields.setWordWrap(True)
        self.fields.itemActivated.connect(self._field_chosen)
        self.fields.itemClicked.connect(self._field_chosen)
        self.burden_text = page("", "Burden, and what is missing")
        self.clip_text = page("", "What moves in a clip")
        self.tabs = QTabWidget()
        self.tabs.setAccessibleName("Parts of the panel")
        self.tabs.setDocumentMode(True)
        bar = self.tabs.tabBar()
        assert bar is not None
        bar.setAccessibleName("mark, fields, burden, clip")
        for widget, name in (
            (self.mark_text, "mark"),
            (self.fields, "fields"),
            (self.burden_text, "burden"),
            (self.clip_text, "clip"),
        ):
            self.tabs.addTab(widget, name)
        self.tabs.setMinimumHeight(120)
        self.tabs.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        self.message = _label("", "What the last key did")
        self.message.setMinimumHeight(2 * self.fontMetrics().height() + 2)
        self.work = WorkBar()
        self.proposing = WorkBar()
        self.taking_in = WorkBar()
        self.scale_button = QPushButton("Scale")
        self.scale_button.clicked.connect(self.ask_scale)
        self.proposals_button = QPushButton("Proposals")
        self.proposals_button.clicked.connect(self.ask_proposals)
        self.add_button = QPushButton("Add pictures")
        self.add_button.clicked.connect(self.ask_pictures)
        self.clip_button = QPushButton("Add a clip")
        self.clip_button.clicked.connect(self.ask_clip)
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
        above: tuple[QWidget, ...] = (
            self.preparation,
            self.state,
            self.warning,
            self.remark,
            self.notice,
            self.focus_note,
            self.legend,
        )
        for one in above:
            column.addWidget(one)
        column.addWidget(self.tabs, 1)
        column.addWidget(self.message)
        column.addWidget(self.work)
        column.addWidget(self.proposing)
        column.addWidget(self.taking_in)
        column.addLayout(_row(self.add_button, self.clip_button))
        column.addLayout(_row(self.scale_button, self.proposals_button, self.keys_button))
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

    def focus_canvas(self) -> None:
        """Give the keys back to the picture."""
        raise NotImplementedError

    def stop_playing(self) -> None:
        """Let a clip rest."""
        raise NotImplementedError

    def step(self, key: str) -> None:
        """Do what a key means."""
        raise NotImplementedError

    def _name_chosen(self, name: str) -> None:
        raise NotImplementedError

    def _field_chosen(self, item: QListWidgetItem) -> None:
        raise NotImplementedError

    def ask_pictures(self) -> None:
        """Ask for pictures."""
        raise NotImplementedError

    def ask_clip(self) -> None:
        """Ask for a clip to add as a field."""
        raise NotImplementedError

    def ask_scale(self) -> None:
        """Ask for a scale."""
        raise NotImplementedError

    def ask_proposals(self) -> None:
        """Say when proposals show, and have them made."""
        raise NotImplementedError

    def ask_finish(self) -> None:
        """Read over and record."""
        raise NotImplementedError

    def show_help(self) -> None:
        """Show all keys."""
        raise NotImplementedError


def _label(text: str, name: str, *, bold: bool = False) -> QLabel:
    made = QLabel(text)
    made.setWordWrap(True)
    made.setAccessibleName(name)
    made.setTextFormat(Qt.TextFormat.PlainText)
    if name not in ("What is marked", "Whether everything is saved"):
        made.setMinimumWidth(
            NARROWEST_PX - 60
        )  # else a column of wrapped lines asks for much too much height
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


def set_text(label: QLabel, text: str) -> None:
    """Write into a label; one for notices is only there while it says something."""
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
