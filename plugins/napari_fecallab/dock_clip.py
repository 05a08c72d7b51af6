"""What the panel says of a clip: how many swim, what else moves and how that is told, what is kept of it."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import TYPE_CHECKING

from qtpy.QtWidgets import QDialogButtonBox, QDoubleSpinBox, QFormLayout, QLabel, QWidget

from fecallab.report.moving import NO_DIAGNOSIS, moving_facts
from napari_fecallab.dock_dialogs import SmallDialog
from napari_fecallab.dock_words import lines_of, table_of

if TYPE_CHECKING:
    from fecallab.imaging.motility import MotilityResult
    from napari_fecallab.views import FieldView

SIGNS = {
    "swimming": "△",
    "cannot-tell": "✕",
    "drifting": "◆",
    "trembling": "●",
    "stuck": "■",
}
"""The shapes on the canvas, as letters."""
NO_CLIP = "This field is no clip."
HOW = "T works out what swims, what drifts and what only trembles. B plays the clip, Alt and an arrow go frame by frame."
NO_SCALE = "Without a scale no speed can be told: press Scale first."


def clip_page(view: FieldView | None, found: MotilityResult | None) -> str:
    """Return the page of a clip; a field that is none has one line.

    Examples
    --------
    >>> NO_CLIP in clip_page(None, None)
    True
    """
    if view is None:
        return lines_of([NO_CLIP])
    kept = [f"Kept with this field: {view.swimming}."] if view.swimming else []
    if found is None:
        return lines_of([*kept, HOW, *([NO_SCALE] if view.um_per_px is None else [])])
    facts = moving_facts(found)
    if facts.assessable and not view.swimming:
        named = "C and a number keep how many swim under a name."
        kept.append(named if facts.swimmers else "C keeps that nothing swims.")
    kinds = table_of((f"{SIGNS[row.kind]} {row.number} {row.words}", row.means) for row in facts.kinds)
    parts = [f"<p><b>{escape(facts.headline)}</b></p>", lines_of([*kept, *facts.lines]), kinds]
    if facts.swimmers:
        parts.append(lines_of(one.line for one in facts.swimmers))
        rest = len(found.of_kind("swimming")) - len(facts.swimmers)
        more = [f"… and {rest} more"] if rest else []
        like = [f"{facts.moves_like} {NO_DIAGNOSIS}"] if facts.moves_like else []
        parts.append(lines_of([*more, *like]))
    parts.append(lines_of(f"Note: {note}" for note in facts.notes))
    return "".join(parts)


class RateDialog(SmallDialog):
    """Frames per second of a clip whose file has none or false ones."""

    def __init__(self, says_fps: float, use: Callable[[float], None], parent: QWidget) -> None:
        super().__init__("Rate of the clip", parent, 380, 200)
        self._use = use
        about = QLabel(
            f"The file says {says_fps:.1f} frames per second. Slow motion is stored with a false rate:"
            " type the one at which it was filmed, such as 120 or 240."
        )
        about.setWordWrap(True)
        self.column.addWidget(about)
        self.rate = QDoubleSpinBox()
        self.rate.setRange(1.0, 10_000.0)
        self.rate.setValue(says_fps)
        self.rate.setAccessibleName("Frames per second")
        form = QFormLayout()
        form.addRow("frames per second", self.rate)
        self.column.addLayout(form)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        buttons.accepted.connect(self.use)
        buttons.rejected.connect(self.reject)
        self.column.addWidget(buttons)
        self.rate.selectAll()

    def use(self) -> None:
        """Work out what moves at this rate."""
        self.accept()
        self._use(float(self.rate.value()))
