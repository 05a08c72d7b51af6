"""The marks layer: one Points layer whose rows are keyed by the session's uids; a view, never the record."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from napari_fecallab.layers_look import FILLING, ON_TOP, SURE_RIM, UNSURE_RIM, look_of, rgba, short_word
from napari_fecallab.layers_pointer import quiet_points, set_places

if TYPE_CHECKING:
    from napari.layers import Points
    from numpy.typing import NDArray

    from napari_fecallab.views import MarkView

MARKS_NAME = "marks"
MOST_WORDS = 150
"""With more marks in a field the words beside them would hide the picture, and drawing them takes long."""
SMALLEST_SCREEN_PX, LARGEST_SCREEN_PX = 16, 120
"""Size of a symbol on the screen, whatever the zoom."""
AROUND = 1.35
"""How much larger than the organism its symbol is, so that it stands around it."""
UNMEASURED_SCREEN_PX, CROWDED_SCREEN_PX = 26, 16
"""Size on the screen of a mark that is not measured; smaller where there are many."""
BESIDE = "     "
"""Pushes the word out of the symbol, whatever the zoom."""
NEAR_SCREEN_PX = 22
"""How far from its centre a mark can be pointed at."""


def _text(words: bool, colour: str) -> dict[str, Any]:
    string: Any = "{word}" if words else {"constant": ""}
    return {"string": string, "size": 9, "color": colour, "anchor": "upper_left", "blending": ON_TOP}


@dataclass(frozen=True)
class _Symbol:
    symbol: str
    size_px: float
    rim: float
    rim_colour: tuple[float, float, float, float]
    filling: tuple[float, float, float, float]


class MarksLayer:
    """Rows of one Points layer, kept in step with the marks of the open field."""

    def __init__(self) -> None:
        self.uids: list[str] = []
        self._row: dict[str, int] = {}
        self._marks: dict[str, MarkView] = {}
        self._um_per_px: float | None = None
        self._screen_per_px = 1.0
        self.word_colour = "black"
        """Black on a bright field, white on a dark one."""
        self._has_words = (True, self.word_colour)
        self.layer: Points = quiet_points(
            np.empty((0, 2)),
            ndim=2,
            name=MARKS_NAME,
            features=self._features([]),
            face_color="transparent",
            border_width_is_relative=True,
            canvas_size_limits=(SMALLEST_SCREEN_PX, LARGEST_SCREEN_PX),
            text=_text(True, self.word_colour),
        )
        self.layer.editable = False

    # --- rows

    @property
    def xy(self) -> NDArray[np.float64]:
        """Places of the marks (x, y) in pixels, one row each."""
        return np.asarray(self.layer.data, float)[:, ::-1]

    def mark(self, uid: str) -> MarkView | None:
        """Return what is shown of a mark."""
        return self._marks.get(uid)

    def show(self, marks: Sequence[MarkView], um_per_px: float | None, screen_per_px: float) -> None:
        """Show the marks of a field, all anew."""
        self._um_per_px, self._screen_per_px = um_per_px, screen_per_px
        self._marks = {mark.uid: mark for mark in marks}
        self.uids = list(self._marks)
        self._row = {uid: row for row, uid in enumerate(self.uids)}
        self._assign([*self._marks.values()])

    def change(self, changed: Iterable[MarkView], gone: Iterable[str]) -> None:
        """Show marks that were added or changed, and no longer show others."""
        changed, gone = list(changed), list(gone)
        only_new = not gone and all(mark.uid not in self._marks for mark in changed)
        for uid in gone:
            self._marks.pop(uid, None)
        for mark in changed:
            self._marks[mark.uid] = mark
        self.uids = list(self._marks)
        self._row = {uid: row for row, uid in enumerate(self.uids)}
        if (
            only_new
            and len(changed) == 1
            and len(self.uids) > 1
            and (self._wordy, self.word_colour) == self._has_words
        ):
            self._append(changed[0])
        else:
            self._assign([*self._marks.values()])

    def near(self, x_px: float, y_px: float, screen_per_px: float) -> str:
        """Return the uid of the mark at a place, empty when none is near."""
        if not self.uids:
            return ""
        away = np.hypot(*(self.xy - (x_px, y_px)).T)
        row = int(np.argmin(away))
        mark = self._marks[self.uids[row]]
        reach = max(NEAR_SCREEN_PX / max(screen_per_px, 1e-9), 0.4 * self._length_px(mark))
        return self.uids[row] if away[row] <= reach else ""

    # --- inside

    def _length_px(self, mark: MarkView) -> float:
        return mark.length_um / self._um_per_px if mark.length_um and self._um_per_px else 0.0

    @property
    def _wordy(self) -> bool:
        return len(self._marks) <= MOST_WORDS

    def _word(self, mark: MarkView) -> str:
        return BESIDE + short_word(mark.name, mark.group, sure=mark.sure) if self._wordy else ""

    def _features(self, marks: Sequence[MarkView]) -> pd.DataFrame:
        return pd.DataFrame(
            {
                "uid": [mark.uid for mark in marks],
                "name": [mark.name for mark in marks],
                "group": [mark.group for mark in marks],
                "sure": np.array([mark.sure for mark in marks], bool),
                "word": [self._word(mark) for mark in marks],
            }
        )

    def _symbol(self, mark: MarkView) -> _Symbol:
        look = look_of(mark.group)
        outer = self.outer_px(mark)
        share = SURE_RIM if mark.sure else UNSURE_RIM
        return _Symbol(
            look.symbol,
            outer,
            share * min(1.0, UNMEASURED_SCREEN_PX / max(outer * self._screen_per_px, 1e-9)),
            rgba(look.colour),
            rgba(look.colour, FILLING if look.filled else 0.0),
        )

    def outer_px(self, mark: MarkView) -> float:
        """Return how large the symbol of a mark is, in pixels of the picture."""
        usual = UNMEASURED_SCREEN_PX if self._wordy else CROWDED_SCREEN_PX
        unmeasured = usual / max(self._screen_per_px, 1e-9)
        return AROUND * self._length_px(mark) or unmeasured

    def _append(self, mark: MarkView) -> None:
        """Add one row; the layer gives it what its `current` values say, and is refreshed once."""
        layer, look = self.layer, self._symbol(mark)
        self._nothing_selected()
        layer.feature_defaults = self._features([mark])
        layer.current_symbol = look.symbol
        layer.current_size = look.size_px
        layer.current_border_width = look.rim
        layer.current_border_color = np.array(look.rim_colour)
        layer.current_face_color = np.array(look.filling)
        set_places(layer, np.append(layer.data, [(mark.y_px, mark.x_px)], axis=0))

    def _nothing_selected(self) -> None:
        """Rows that another panel of napari selected would take on what is said of the next row."""
        if self.layer.selected_data:
            self.layer.selected_data = set()

    def _assign(self, marks: Sequence[MarkView]) -> None:
        layer = self.layer
        self._nothing_selected()
        if (self._wordy, self.word_colour) != self._has_words:
            self._has_words = (self._wordy, self.word_colour)
            layer.text = _text(*self._has_words)
        looks = [self._symbol(mark) for mark in marks]
        set_places(layer, np.array([(mark.y_px, mark.x_px) for mark in marks], float).reshape(-1, 2))
        layer.features = self._features(marks)
        layer.opacity = 1.0 if marks else 0.0  # napari draws a dot for a layer without points
        if not marks:
            return
        layer.symbol = [look.symbol for look in looks]
        layer.border_width = np.array([look.rim for look in looks])
        layer.border_color = np.array([look.rim_colour for look in looks])
        layer.face_color = np.array([look.filling for look in looks])
        layer.size = np.array([look.size_px for look in looks])

    def row_of(self, uid: str) -> int:
        """Return the row of a mark in the layer."""
        return self._row[uid]
