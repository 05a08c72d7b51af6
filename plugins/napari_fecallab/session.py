"""The marking session: everything of the marking window that needs no screen.

The window calls a method, gets plain values (`napari_fecallab.views`) back, and redraws what a `SessionEvent` says
has changed. Every operation is one step of undo, and is on the disk within a second.

The methods stand by theme in the parts: fields (`part_fields`), pictures and the watched folder (`part_pictures`),
clips (`part_clips`), marks, measures and undo (`part_marks`), scales (`part_scale`), keys (`part_keys`), sizes and
burden (`part_says`), proposals (`part_proposals`), summary and finish (`part_finish`).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from napari_fecallab.burden import BurdenBook
from napari_fecallab.part_fields import FieldPart
from napari_fecallab.part_finish import FinishPart
from napari_fecallab.part_keys import KeyPart
from napari_fecallab.part_marks import MarkPart
from napari_fecallab.part_pictures import PicturePart
from napari_fecallab.part_proposals import ProposalPart
from napari_fecallab.part_says import SayPart
from napari_fecallab.part_scale import ScalePart


class MarkingSession(FieldPart, MarkPart, ScalePart, PicturePart, KeyPart, SayPart, ProposalPart, FinishPart):
    """One exam that is being marked.

    Parameters
    ----------
    records_folder : Path or str
        The record folder.
    exam_code : str
        Code of the exam.
    by : str
        Who marks.
    clock : callable, optional
        Returns the present time, without a zone; this computer's when omitted.
    read_only : bool
        Look only: no journal, no lock; what an open window has on the disk is seen.

    Raises
    ------
    BadInput
        No such exam, or one without preparations.
    CouldNot
        The exam is open in another window, or the journal cannot be written or read.

    Notes
    -----
    Fields and marks are told apart by uids (text): keep nothing else. A uid never changes until `finish`; then
    everything recorded has the code of the records as its uid, and a ``finished`` event says so.
    Methods that take ``field`` mean the current field when it is omitted. All but `picture_facts`, `pixels` and
    the ``find_…`` methods belong to one thread.
    """

    def __init__(
        self,
        records_folder: Path | str,
        exam_code: str,
        by: str,
        clock: Callable[[], datetime] | None = None,
        *,
        read_only: bool = False,
    ) -> None:
        self._picture_facts = {}
        self._watched = None
        self._reserved = {}
        self._views = {}
        self._book = BurdenBook()
        super().__init__(records_folder, exam_code, by, clock, read_only=read_only)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Have everything on the disk and let another window open the exam. The draft is kept."""
        self.stop_watching()
        super().close()

    def state(self) -> dict[str, Any]:
        """Return the whole session as plain keys, for ``--json``."""
        from dataclasses import asdict

        return {
            "exam": self.exam_code,
            "animal": self.facts.animal.name,
            "by": self.by,
            "fields": [
                {**asdict(view), "marks": [asdict(mark) for mark in self.marks(view.uid)]}
                for view in self.fields()
            ],
            "burden": asdict(self.burden_table()),
            "summary": asdict(self.summary()),
            "notices": list(self.notices),
            "unfinished_steps": len(self._history.done),
        }
