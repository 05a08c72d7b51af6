"""A person at the questions: lines typed one after the other, and then nothing more."""

from __future__ import annotations

import io
import os
import select
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest

from fecallab.cli.ask.talk import Talk

from .conftest import Said, begin_with, command, environment

NOW = datetime(2026, 3, 4, 9, 0)
"""Wednesday, nine in the morning."""


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch, fecallab: Callable[..., Said]) -> Callable[..., Said]:
    """Run a command and type these lines at its questions: ``typed(["animal", "weigh"], "1", "318", "")``."""
    monkeypatch.setenv("FECALLAB_ASK", "1")
    monkeypatch.setenv("COLUMNS", "80")

    def run_it(words: list[str], *lines: str) -> Said:
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        return fecallab(*words)

    return run_it


@pytest.fixture
def rescue(folder: Path, rescue_folder: Path) -> Path:
    """Records with a lizard, Saffron, and a tortoise, Barley; the tortoise was used last."""
    begin_with(folder, rescue_folder)
    return folder


class Script(Talk):
    """A talk with lines that were thought out before; it keeps what was said."""

    def __init__(self, *lines: str) -> None:
        self.left = list(lines)
        self.said: list[str] = []
        super().__init__(self._next, self.said.append)

    def _next(self, prompt: str) -> str:
        self.said.append(prompt)
        if not self.left:
            raise EOFError
        return self.left.pop(0)

    @property
    def text(self) -> str:
        return "\n".join(self.said)


def take_the_terminal() -> None:
    """Run in the child: make the pseudo-terminal its own, and hear Ctrl-C even where a runner ignores it."""
    import fcntl
    import signal
    import termios

    signal.signal(signal.SIGINT, signal.SIG_DFL)
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


class Terminal:
    """The program in a pseudo-terminal of 80 columns and 24 lines."""

    def __init__(self, *words: str, **more: str) -> None:
        import fcntl
        import pty
        import struct
        import termios

        self.ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        around = {key: value for key, value in environment().items() if key not in ("COLUMNS", "LINES")}
        self.code_page = more.get("PYTHONIOENCODING", "utf-8")
        self.program = subprocess.Popen(
            command(*words),
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env={**around, "TERM": "xterm", "FECALLAB_ASK": "", **more},
            start_new_session=True,
            preexec_fn=take_the_terminal,
        )
        os.close(theirs)
        self.seen = ""
        self.waited = 0

    def until(self, text: str, seconds: float = 60) -> str:
        """Read on until a text shows that was not waited for before; return what came up to then."""
        start = self.waited
        end = time.monotonic() + seconds
        while text not in self.seen[start:]:
            more = self._read(end - time.monotonic())
            assert more, f"{text!r} did not come after: {self.seen[start:][-2000:]}"
        self.waited = self.seen.index(text, start) + len(text)
        return self.seen[start : self.waited]

    def _read(self, seconds: float) -> bool:
        if not select.select([self.ours], [], [], max(0, seconds))[0]:
            return False
        try:
            piece = os.read(self.ours, 65536)
        except OSError:
            return False
        self.seen += piece.decode(self.code_page, errors="replace").replace("\r\n", "\n")
        return bool(piece)

    def type(self, text: str) -> None:
        """Type a line and Enter."""
        os.write(self.ours, f"{text}\r".encode(self.code_page))

    def press(self, key: str) -> None:
        """Press one key without Enter."""
        os.write(self.ours, key.encode())

    def stop(self, key: str = "\x03") -> None:
        """Press Ctrl-C, or another key that stops, once the program waits for input.

        A signal between the prompt and the waiting is only seen at the next key; a person presses again.
        """
        start = len(self.seen)
        for _ in range(5):
            time.sleep(0.2)
            self.press(key)
            end = time.monotonic() + 10
            while "Stopped." not in self.seen[start:] and self._read(end - time.monotonic()):
                pass
            if "Stopped." in self.seen[start:]:
                return
        raise AssertionError(f"It did not stop: {self.seen[start:]}")

    def ended(self) -> int:
        """Return the exit code once the program has ended."""
        while self._read(60):
            pass
        return self.program.wait(60)

    def close(self) -> None:
        if self.program.poll() is None:
            self.program.kill()
            self.program.wait(60)
        os.close(self.ours)


@pytest.fixture
def terminal() -> Iterator[Callable[..., Terminal]]:
    """Open the program in a pseudo-terminal; skipped where a system has none."""
    try:
        import pty  # noqa: F401
    except ImportError:
        if os.environ.get("FECALLAB_CI") == "1":
            pytest.fail("this system has no pseudo-terminal")
        pytest.skip("this system has no pseudo-terminal")
    opened: list[Terminal] = []

    def open_it(*words: str, **more: str) -> Terminal:
        opened.append(Terminal(*words, **more))
        return opened[-1]

    yield open_it
    for one in opened:
        one.close()
