"""Saving beside the work: lines go to the disk on a thread of their own, and only then count as saved."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import datetime
from typing import Any

from fecallab.domain.errors import CouldNot
from fecallab.records.journal import Journal
from napari_fecallab.draft_file import line_of
from napari_fecallab.views import SaveState

RETRY_S = 1.0
"""How long to wait before a disk that refused is asked again."""
Waiting = tuple[str, Any]


class Saver:
    """Writes a journal behind the back of the window.

    Parameters
    ----------
    journal : Journal
        Open and locked.
    clock : callable
        For the time that is shown as saved.
    told : callable
        Called after every change of the state, on the saver's thread.
    last : datetime, optional
        When what the journal holds already was saved.
    """

    def __init__(
        self,
        journal: Journal,
        clock: Callable[[], datetime],
        told: Callable[[], None],
        last: datetime | None = None,
    ) -> None:
        self.journal = journal
        self._clock = clock
        self._told = told
        self._waiting: list[Waiting] = []
        self._state = SaveState(last)
        self._ready = threading.Condition()
        self._ending = False
        self._thread = threading.Thread(target=self._run, name="fecallab saving", daemon=True)
        self._thread.start()

    @property
    def state(self) -> SaveState:
        """What is on the disk."""
        with self._ready:
            return self._state

    def put(self, kind: str, about: Any) -> None:
        """Have a line written; returns at once."""
        with self._ready:
            self._waiting.append((kind, about))
            self._state = SaveState(self._state.saved_at, len(self._waiting), self._state.trouble)
            self._ready.notify_all()

    def flush(self, timeout_s: float) -> SaveState:
        """Wait until all is on the disk, the disk refuses, or the time is over."""
        with self._ready:
            self._ready.notify_all()
            self._ready.wait_for(lambda: not self._waiting or self._state.trouble != "", timeout_s)
            return self._state

    def end(self, timeout_s: float = 10.0) -> SaveState:
        """Write what waits, then stop; what could not be written is told in the state."""
        with self._ready:
            self._ending = True
            self._ready.notify_all()
        self._thread.join(timeout_s)
        return self.state

    def _run(self) -> None:
        while True:
            with self._ready:
                self._ready.wait_for(lambda: bool(self._waiting) or self._ending)
                batch = list(self._waiting)
                if not batch:
                    return
            trouble = self._written(batch)
            with self._ready:
                if not trouble:
                    del self._waiting[: len(batch)]
                saved = self._state.saved_at if trouble else self._clock()
                self._state = SaveState(saved, len(self._waiting), trouble)
                self._ready.notify_all()
            self._told()
            if trouble:
                with self._ready:
                    if self._ending:
                        return
                    self._ready.wait(RETRY_S)

    def _written(self, batch: list[Waiting]) -> str:
        """Write lines and return what went wrong, empty when they are on the disk."""
        try:
            self.journal.append(*(line_of(kind, about) for kind, about in batch))
        except CouldNot as error:
            return str(error)
        except (
            Exception
        ) as error:  # never let the thread die unseen: what waits would look as if it were on its way
            return f"{type(error).__name__}: {error}"
        return ""
