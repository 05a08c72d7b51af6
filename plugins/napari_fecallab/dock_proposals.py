"""The dialog of proposals: when they show, for how many pictures there are some, and having them made."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from qtpy.QtWidgets import QDialogButtonBox, QLabel, QPushButton, QRadioButton, QWidget

from fecallab.domain.errors import FecallabError
from fecallab.domain.spoken import number_of
from napari_fecallab.dock_dialogs import SmallDialog
from napari_fecallab.settings import AFTER, BEFORE, OFF

if TYPE_CHECKING:
    from napari_fecallab.session import MarkingSession

ABOUT = (
    "The program outlines what could be an egg, an oocyst, a cyst or a larva. It misses some and is wrong often;"
    " you decide, and nothing counts before you made a mark of it. What was shown when is recorded with the field."
)
WORDS = {
    AFTER: "after I have read the field myself (best: your own eye stays open)",
    BEFORE: "as soon as the field opens",
    OFF: "never",
}


class ProposalsDialog(SmallDialog):
    """When proposals show, kept for this person; and the button that has them made."""

    def __init__(self, session: MarkingSession, make: Callable[[], None], parent: QWidget) -> None:
        super().__init__("Proposals", parent, 440, 300)
        self.session, self._make = session, make
        self._add_label(ABOUT)
        self._add_label("They show:")
        self.choices: dict[str, QRadioButton] = {}
        for when, words in WORDS.items():
            choice = QRadioButton(words)
            choice.setChecked(session.proposals_when == when)
            choice.toggled.connect(lambda on, when=when: self._choose(when) if on else None)
            self.column.addWidget(choice)
            self.choices[when] = choice
        without = len(session.pictures_to_propose())
        self.make_button = QPushButton(f"Make them for {number_of(without, 'picture')}")
        self.make_button.setEnabled(without > 0)
        self.make_button.clicked.connect(self._begin)
        self.column.addWidget(self.make_button)
        self.says = self._add_label(
            "" if without else "Every picture with a scale has its proposals, or there is none with a scale."
        )
        self.column.addStretch(1)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.reject)
        self.column.addWidget(buttons)

    def _add_label(self, text: str) -> QLabel:
        label = QLabel(text)
        label.setWordWrap(True)
        self.column.addWidget(label)
        return label

    def _choose(self, when: str) -> None:
        try:
            self.session.set_proposals_when(when)
        except FecallabError as error:
            self.says.setText(str(error))

    def _begin(self) -> None:
        self.accept()
        self._make()
