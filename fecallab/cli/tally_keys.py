"""Keys as they are pressed: Unix terminals, the Windows console, and whole lines where neither can be had.

Every way hands over the same words: ``1`` to ``9``, ``0``, letters, `NEXT_FIELD`, `BACK`, ``shift-3``, and
`NO_KEY` for everything that means nothing here.
"""

from __future__ import annotations

import importlib
import os
import shutil
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, Protocol, TextIO

NEXT_FIELD, BACK, CANCEL, NO_KEY, END_OF_LINE = "next-field", "back", "cancel", "no-key", "end-of-line"
LETTERS = "usrnofkq?"
"""Letters that mean something; capitals are taken for the same."""
ESCAPE = "\x1b"
NUMBER_PAD = {f"\x1bO{chr(ord('p') + digit)}": str(digit) for digit in range(10)} | {"\x1bOM": NEXT_FIELD}
"""What the number pad of some terminals sends (xterm's application keypad; common practice)."""
BELL_PAUSE_S = 0.12
"""Between two bells, so that the ear tells them apart (own choice)."""


class Terminal(Protocol):
    """Where keys come from and where the screen is."""

    by_key: bool
    """Whether single keys are seen; else whole lines are read and there is no screen to draw on."""

    def key(self) -> str:
        """Wait for the next key and return its word; raises `EOFError` when nothing can come any more."""

    def ask(self, question: str) -> str:
        """Ask for one line of text; raises `EOFError` when nothing can come any more."""

    def show(self, lines: list[str]) -> bool:
        """Show these lines; False when it was not worth it, because more keys wait already."""

    def bell(self, times: int) -> None:
        """Ring so many times."""


def meaning_of(character: str) -> str:
    r"""Return the word for one typed character.

    Examples
    --------
    >>> [meaning_of(c) for c in ("3", " ", "\x7f", "Q", "!")]
    ['3', 'next-field', 'back', 'q', '!']
    """
    if character in (" ", "\r", "\n"):
        return NEXT_FIELD
    if character in ("\x7f", "\x08"):
        return BACK
    if character == ESCAPE:
        return CANCEL
    if character.lower() in LETTERS or character in "0123456789":
        return character.lower()
    return character if character.isprintable() else NO_KEY


@contextmanager
def open_terminal(*, quiet: bool) -> Iterator[Terminal]:
    """Open the best way to read keys that this terminal has, and leave it as it was."""
    lively = sys.stdin.isatty() and sys.stderr.isatty() and os.environ.get("TERM") != "dumb"
    if lively and os.name == "nt":
        from fecallab.cli.tally_windows import WindowsKeys, can_draw, layout_here

        if can_draw():
            with _drawing(sys.stderr):
                yield WindowsKeys(sys.stderr, importlib.import_module("msvcrt"), layout_here(), quiet=quiet)
            return
    elif lively and os.name == "posix":
        keys = UnixKeys(sys.stdin.fileno(), sys.stderr, quiet=quiet)
        with _drawing(sys.stderr), keys.by_single_keys():
            yield keys
        return
    yield LineKeys(sys.stdin, sys.stderr)


@contextmanager
def _drawing(out: TextIO) -> Iterator[None]:
    """Draw on a screen of its own, so that what stood in the window is there again afterwards."""
    out.write("\x1b[?1049h")
    try:
        yield
    finally:
        with suppress(OSError, ValueError):
            out.write("\x1b[?1049l")
            out.flush()


class Screen:
    """What both kinds of single keys share: drawing lines and ringing."""

    by_key = True

    def __init__(self, out: TextIO, *, quiet: bool) -> None:
        self.out = out
        self.quiet = quiet

    def show(self, lines: list[str]) -> bool:
        """Draw from the top left corner; nothing scrolls."""
        room = max(2, shutil.get_terminal_size().lines)
        self.out.write("\x1b[H" + "\x1b[K\r\n".join(lines[:room]) + "\x1b[K\x1b[J")
        self.out.flush()
        return True

    def bell(self, times: int) -> None:
        """Ring, with a pause between two."""
        for place in range(0 if self.quiet else times):
            if place:
                time.sleep(BELL_PAUSE_S)
            self.out.write("\a")
            self.out.flush()


class UnixKeys(Screen):
    """Single keys of a Unix terminal."""

    def __init__(self, handle: int, out: TextIO, *, quiet: bool) -> None:
        super().__init__(out, quiet=quiet)
        self.handle = handle
        self._before: list[Any] | None = None

    @contextmanager
    def by_single_keys(self) -> Iterator[None]:
        """Let keys through one by one, also again after the program was stopped and went on (Ctrl-Z, fg)."""
        import signal
        import termios
        import tty

        before = termios.tcgetattr(self.handle)
        self._before = before
        tty.setcbreak(self.handle)
        earlier = signal.signal(signal.SIGCONT, lambda *_: tty.setcbreak(self.handle))
        try:
            yield
        finally:
            signal.signal(signal.SIGCONT, earlier)
            with suppress(termios.error, OSError):
                termios.tcsetattr(self.handle, termios.TCSADRAIN, before)

    def key(self) -> str:
        """Wait for the next key; a sequence that the number pad does not send means nothing."""
        typed = self._bytes()
        if typed == ESCAPE and self._more():
            typed += self._bytes()
            if typed[-1] in "O[":
                while self._more():
                    typed += self._bytes()
                    if typed[-1].isalpha() or typed[-1] == "~":
                        break
            return NUMBER_PAD.get(typed, NO_KEY)
        return meaning_of(typed)

    def ask(self, question: str) -> str:
        """Ask on the last line, with the terminal's own line editing."""
        import termios
        import tty

        if self._before is not None:
            termios.tcsetattr(self.handle, termios.TCSADRAIN, self._before)
        try:
            self.out.write(f"\x1b[999;1H\x1b[K{question} ")
            self.out.flush()
            line = b""
            while not line.endswith(b"\n"):
                piece = os.read(self.handle, 1)
                if not piece:
                    raise EOFError
                line += piece
            return line.decode("utf-8", errors="replace").strip()
        finally:
            tty.setcbreak(self.handle)

    def _bytes(self) -> str:
        """Read one character, of as many bytes as it has."""
        first = os.read(self.handle, 1)
        if not first:
            raise EOFError
        more = sum(first[0] >= least for least in (0xC0, 0xE0, 0xF0)) if first[0] < 0xF8 else 0
        for _ in range(more):
            first += os.read(self.handle, 1)
        return first.decode("utf-8", errors="replace")[:1]

    def _more(self) -> bool:
        import select

        return bool(select.select([self.handle], [], [], 0.02)[0])


class LineKeys:
    """Whole lines: ``1 1 3`` and Enter is one field, Enter alone a field with nothing in it."""

    by_key = False

    def __init__(self, source: TextIO, out: TextIO) -> None:
        self.source = source
        self.out = out
        self._waiting: list[str] = []

    def key(self) -> str:
        """Return the next key of the line, and `END_OF_LINE` where the line ends a field."""
        while not self._waiting:
            self._waiting = keys_of_line(read_line(self.source, self.out, ">"))
        return self._waiting.pop(0)

    def ask(self, question: str) -> str:
        """Ask for the next line."""
        return read_line(self.source, self.out, question)

    def show(self, lines: list[str]) -> bool:
        """Print them when the whole line was counted."""
        if not self._waiting:
            print(*lines, sep="\n", file=self.out, flush=True)
        return not self._waiting

    def bell(self, times: int) -> None:
        """Stay silent: whoever types lines looks at the screen."""


def keys_of_line(line: str) -> list[str]:
    """Return the keys that a typed line stands for.

    Numbers are keys, so ``113`` is ``1 1 3``. ``.`` is the next field inside a line, ``b`` is back. The end of
    a line that counts, or of an empty one, ends the field, unless ``+`` stands there.

    Examples
    --------
    >>> keys_of_line("1 1 u3"), keys_of_line(""), keys_of_line("2+"), keys_of_line("q")
    (['1', '1', 'u', '3', 'end-of-line'], ['end-of-line'], ['2'], ['q'])
    >>> keys_of_line("1 x 3")
    ['no-key']
    """
    text = line.strip().lower()
    stays = text.endswith("+")
    signs = [sign for sign in text.removesuffix("+") if not sign.isspace() and sign != ","]
    words = {".": NEXT_FIELD, "b": BACK}
    keys = [words.get(sign, sign) for sign in signs]
    if any(key not in (NEXT_FIELD, BACK) and key not in LETTERS + "0123456789" for key in keys):
        return [NO_KEY]
    counts = any(key.isdigit() for key in keys) and keys[-1] != NEXT_FIELD
    return [*keys, END_OF_LINE] if not stays and (counts or not keys) else keys


def read_line(source: TextIO, out: TextIO, question: str) -> str:
    """Ask for one line; raises `EOFError` at the end of what can come."""
    out.write(f"{question} ")
    out.flush()
    line = source.readline()
    if not line:
        raise EOFError
    return line.strip()
