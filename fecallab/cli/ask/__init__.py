"""Asking for what was not given: whether to ask at all (light); the questions are loaded when they are asked."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import Any

ASK = "FECALLAB_ASK"
"""Set to 0 this environment variable keeps the program from asking; 1 lets it ask without a terminal."""

NEVER_WITH = frozenset({"--json", "--help", "-h", "--version", "--install-completion", "--show-completion"})


def may_ask(words: Sequence[str]) -> bool:
    """Say whether a person sits at the other end: a terminal both ways, and no ``--json`` or ``--help``."""
    if NEVER_WITH.intersection(words):
        return False
    told = os.environ.get(ASK, "").strip()
    if told:
        return told != "0"
    return is_terminal(sys.stdin) and is_terminal(sys.stdout)


def is_terminal(stream: Any) -> bool:
    """Say whether a stream is a terminal; on Windows the nul device is none, though it says so."""
    try:
        if stream is None or not stream.isatty():
            return False
    except ValueError:
        return False
    if sys.platform != "win32":
        return True
    return _is_console(stream)


def _is_console(stream: Any) -> bool:
    """Ask Windows whether a stream is a console."""
    import ctypes
    import msvcrt

    mode = ctypes.c_uint32()
    kernel: Any = getattr(ctypes, "windll").kernel32  # noqa: B009 (only Windows has it)
    handle = getattr(msvcrt, "get_osfhandle")(stream.fileno())  # noqa: B009
    return bool(kernel.GetConsoleMode(ctypes.c_void_p(handle), ctypes.byref(mode)))
