"""Single keys of the Windows console, and what its keyboard types."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any, TextIO

from fecallab.cli.tally_keys import NO_KEY, Screen, meaning_of, read_line


class WindowsKeys(Screen):
    """Single keys of the Windows console.

    Parameters
    ----------
    console : module
        ``msvcrt``.
    layout : callable or None
        Gives for a character the number key that types it and whether Shift is held, on this keyboard.
    """

    def __init__(
        self,
        out: TextIO,
        console: Any,
        layout: Callable[[str], tuple[str, bool] | None] | None = None,
        *,
        quiet: bool,
    ) -> None:
        super().__init__(out, quiet=quiet)
        self.console = console
        self.layout = layout

    def key(self) -> str:
        """Wait for the next key; arrows and function keys mean nothing."""
        typed: str = self.console.getwch()
        if typed in ("\x00", "\xe0"):
            self.console.getwch()
            return NO_KEY
        if typed == "\x03":
            raise KeyboardInterrupt
        if typed in ("\x1a", "\x04"):
            raise EOFError
        found = self.layout(typed) if self.layout and not typed.isalnum() and typed != " " else None
        if found is not None:
            digit, shifted = found
            return f"shift-{digit}" if shifted else digit
        return meaning_of(typed)

    def ask(self, question: str) -> str:
        """Ask on the last line."""
        self.out.write("\x1b[999;1H\x1b[K")
        self.out.flush()
        return read_line(sys.stdin, self.out, question)


def can_draw() -> bool:
    """Ask the Windows console to understand drawing; an old one cannot."""
    import ctypes

    kernel: Any = vars(ctypes)["windll"].kernel32
    handle = kernel.GetStdHandle(-12)
    mode = ctypes.c_uint32()
    if not kernel.GetConsoleMode(handle, ctypes.byref(mode)):
        return False
    return bool(kernel.SetConsoleMode(handle, mode.value | 0x0004))


def layout_here() -> Callable[[str], tuple[str, bool] | None] | None:
    """Return how this Windows keyboard types a character: the number key, and whether Shift is held."""
    import ctypes

    try:
        scan: Any = vars(ctypes)["windll"].user32.VkKeyScanW
    except (KeyError, AttributeError, OSError):
        return None
    return lambda character: number_key(int(scan(ord(character))))


def number_key(scanned: int) -> tuple[str, bool] | None:
    """Return the number key and whether Shift is held, from what Windows says about a character.

    The low byte is the key (0x31 to 0x39 for the row of numbers), the high byte what is held with it.

    Examples
    --------
    >>> number_key(0x0133), number_key(0x0031), number_key(0x0241), number_key(-1)
    (('3', True), ('1', False), None, None)
    """
    key, held = scanned & 0xFF, (scanned >> 8) & 0xFF
    if scanned < 0 or not 0x31 <= key <= 0x39 or held not in (0, 1):
        return None
    return chr(key), held == 1
