"""A folder that a camera's program writes into: what has arrived whole waits to be taken in."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from fecallab.domain.errors import BadInput, CouldNot

CALM_S = 0.6
"""How long a file must not grow before it counts as whole (own choice)."""
GIVE_UP_S = 20.0
"""After so long without growing a file that is no picture is told as such (own choice)."""
TICK_S = 0.2


@dataclass
class _Growing:
    size: int
    changed: float
    """When it was last seen to change, by the steady clock."""


class WatchedFolder:
    """Watches one folder on a thread of its own.

    Parameters
    ----------
    folder : Path
        Only new files in it count, not those that were there before, and none in folders inside it.
    records : Path
        The record folder, which may not be watched.
    came : callable
        Called on the watching thread when something has arrived whole.
    """

    def __init__(self, folder: Path, records: Path, came: Callable[[], None]) -> None:
        self.folder = folder
        if not folder.is_dir():
            raise BadInput(f"There is no folder {folder}.", next="Check the name.", code="no-folder")
        here, inside = folder.resolve(), records.resolve()
        if here == inside or inside in here.parents:
            raise BadInput(
                f"{folder} belongs to the records; watching it would take in what is there already.",
                next="Name the folder that the camera's program saves into.",
                code="folder-of-records",
            )
        self._came = came
        self._lock = threading.Lock()
        self._whole: list[Path] = []
        self._told: list[str] = []
        self._growing: dict[Path, _Growing] = {}
        self._handled: dict[Path, tuple[int, int]] = dict(self._there())
        self._stop = threading.Event()
        try:
            from watchfiles import watch
        except ImportError as error:
            raise CouldNot(
                "Watching a folder needs the package watchfiles.",
                next="Type: pip install watchfiles",
                code="watchfiles-missing",
            ) from error
        self._watch = watch
        self._thread = threading.Thread(target=self._run, name="fecallab watching", daemon=True)
        self._thread.start()

    def arrived(self) -> tuple[list[Path], list[str]]:
        """Return the files that have arrived whole since the last time, and what was wrong with others."""
        with self._lock:
            whole, told = self._whole, self._told
            self._whole, self._told = [], []
        return whole, told

    def stop(self) -> None:
        """Watch no longer."""
        self._stop.set()
        self._thread.join(5.0)

    def _there(self) -> list[tuple[Path, tuple[int, int]]]:
        found = []
        with suppress(OSError):
            for path in self.folder.iterdir():
                with suppress(OSError):
                    if path.is_file():
                        stat = path.stat()
                        found.append((path, (stat.st_size, stat.st_mtime_ns)))
        return found

    def _run(self) -> None:
        """Look whenever the system tells of a change, and while something is still growing."""
        changes = self._watch(
            self.folder,
            stop_event=self._stop,
            rust_timeout=int(1000 * TICK_S),
            yield_on_timeout=True,
            debounce=100,
            step=50,
            recursive=False,
            raise_interrupt=False,
        )
        try:
            for told in changes:
                if told or self._growing:
                    self._look()
        except Exception as error:  # the folder was taken away, or the system refuses
            with self._lock:
                self._told.append(f"{self.folder} is no longer watched: {error}")
            self._came()

    def _look(self) -> None:
        now = time.monotonic()
        found = dict(self._there())
        for path in [*self._growing]:
            if path not in found:
                del self._growing[path]
        whole: list[Path] = []
        told: list[str] = []
        for path, seen in found.items():
            if self._handled.get(path) == seen or path.name.startswith((".", "~")):
                continue
            one = self._growing.get(path)
            if one is None or one.size != seen[0]:
                self._growing[path] = _Growing(seen[0], now)
                continue
            calm = now - one.changed
            if calm < CALM_S:
                continue
            trouble = _trouble(path)
            if trouble and calm < GIVE_UP_S and not trouble.startswith("!"):
                continue
            self._handled[path] = seen
            del self._growing[path]
            if trouble:
                told.append(trouble.removeprefix("!"))
            else:
                whole.append(path)
        if whole or told:
            with self._lock:
                self._whole += sorted(whole, key=lambda path: (found[path][1], path.name))
                self._told += told
            self._came()


def _trouble(path: Path) -> str:
    """Say what is wrong with a file; empty for a whole picture or a clip, a first ``!`` when waiting is no use."""
    from fecallab.domain.errors import FecallabError
    from fecallab.imaging.read import verify_picture

    try:
        verify_picture(path)
    except BadInput as error:
        if error.reason.code == "picture-is-video":
            return ""
        never = error.reason.code in ("picture-unknown", "picture-too-large")
        return f"{'!' if never else ''}{error}"
    except FecallabError as error:
        return str(error)
    return ""
