"""The legend: which organism is on which key, with its symbol and live counts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from qtpy.QtCore import QSize, Qt
from qtpy.QtGui import QIcon
from qtpy.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QSizePolicy,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from napari_fecallab._qt_icons import group_pixmap

if TYPE_CHECKING:
    from napari_fecallab.views import ClassKey

HEAD = ("key", "", "organism", "here", "exam")
ROW_PX = 22
FIRST_ROWS, LOOK_ALIKES = "Keys and counts", "Keys and counts of look-alikes"
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


def count_words(sure: int, unsure: int) -> str:
    """Return counts for a cell: sure ones, and unsure ones with a question mark.

    Examples
    --------
    >>> count_words(3, 1), count_words(0, 2), count_words(0, 0)
    ('3 + 1?', '2?', '')
    """
    said = [str(sure)] if sure else []
    return " + ".join([*said, *([f"{unsure}?"] if unsure else [])])


class Legend(QTableWidget):
    """One line for every key of the row that is on, and for what is counted without a key.

    Choosing a line makes it the name for Shift and a click.
    """

    def __init__(self, choose: Callable[[str], None], parent: QWidget | None = None) -> None:
        super().__init__(0, len(HEAD), parent)
        self._choose = choose
        self._shown: tuple[ClassKey, ...] = ()
        self._row_keys: tuple[tuple[str, str], ...] = ()
        self._ratio = 1.0
        self.setHorizontalHeaderLabels(list(HEAD))
        self.setAccessibleName(FIRST_ROWS)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setIconSize(QSize(18, 18))
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        upright, across = self.verticalHeader(), self.horizontalHeader()
        assert upright is not None and across is not None
        upright.hide()
        upright.setDefaultSectionSize(ROW_PX)
        upright.setMinimumSectionSize(ROW_PX)
        across.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        across.setSectionResizeMode(2, QHeaderView.ResizeMode.Stretch)
        across.setHighlightSections(False)
        across.setSectionsClickable(False)
        across.setMinimumSectionSize(24)
        self.itemSelectionChanged.connect(self._on_chosen)

    def show_keys(self, keys: Sequence[ClassKey], keyless: Sequence[ClassKey] = (), *, second: bool) -> None:
        """Show the keys of one row, then what has none; those of the other row are one line at the foot."""
        rows = [*(one for one in keys if one.second_row == second), *keyless]
        others = [one for one in keys if one.second_row != second]
        here = sum(one.sure_here for one in others), sum(one.unsure_here for one in others)
        whole = sum(one.sure for one in others), sum(one.unsure for one in others)
        wanted = tuple((one.key, one.name) for one in rows)
        if wanted != self._row_keys or self.rowCount() != len(rows) + bool(others):
            self._build(rows, others=bool(others), second=second)
            self._row_keys = wanted
        for row, one in enumerate(rows):
            self._write(row, 3, count_words(one.sure_here, one.unsure_here))
            self._write(row, 4, count_words(one.sure, one.unsure))
        if others:
            self._write(len(rows), 3, count_words(*here))
            self._write(len(rows), 4, count_words(*whole))
        self._shown = tuple(rows)

    def text_of(self, name: str) -> tuple[str, str]:
        """Return what stands for a name: here, exam."""
        row = [one.name for one in self._shown].index(name)
        return self._text(row, 3), self._text(row, 4)

    def _text(self, row: int, column: int) -> str:
        item = self.item(row, column)
        return item.text() if item is not None else ""

    def _build(self, rows: Sequence[ClassKey], *, others: bool, second: bool) -> None:
        self._ratio = float(self.devicePixelRatioF())
        self.blockSignals(True)
        self.clearContents()
        self.setRowCount(len(rows) + others)
        self.setAccessibleName(LOOK_ALIKES if second else FIRST_ROWS)
        for row, one in enumerate(rows):
            self._write(row, 0, f"0 {one.key}" if second and one.key else one.key)
            self._icon(row, one.group)
            self._write(row, 2, one.label)
        if others:
            self._write(len(rows), 0, "0" if not second else "")
            self._write(
                len(rows),
                2,
                "organisms (Esc)" if second else "look-alikes (0, 1–9)",
            )
        head = self.horizontalHeader()
        assert head is not None
        self.setFixedHeight(head.sizeHint().height() + ROW_PX * self.rowCount() + 2 * self.frameWidth())
        self.blockSignals(False)

    def _write(self, row: int, column: int, text: str) -> None:
        item = self.item(row, column)
        if item is None:
            item = QTableWidgetItem(text)
            if column >= 3:
                item.setTextAlignment(_RIGHT)
            self.setItem(row, column, item)
        elif item.text() != text:
            item.setText(text)
        if column == 2 and item.toolTip() != text:
            item.setToolTip(text)

    def _icon(self, row: int, group: str) -> None:
        item = QTableWidgetItem(QIcon(group_pixmap(group, 18, self._ratio)), "")
        item.setToolTip(group)
        item.setData(Qt.ItemDataRole.AccessibleTextRole, f"symbol of {group}")
        self.setItem(row, 1, item)

    def _on_chosen(self) -> None:
        row = self.currentRow()
        if self.selectedItems() and 0 <= row < len(self._shown):
            self._choose(self._shown[row].name)
