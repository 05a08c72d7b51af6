"""Keeps a long session alive where Qt for Python drops references that it does not hold."""

from __future__ import annotations

import ctypes
import sys

MANY = 1 << (40 if sys.maxsize > 1 << 32 else 29)
_held = False


def hold_singletons() -> None:
    """Give None, True and False more references than can ever be dropped; once.

    PySide6 6.12.0 takes them for immortal, as they are from Python 3.12 on: on Python 3.11 every call that
    returns nothing drops a reference to None (measured: one a call, 2,400 for a layer that is added and
    removed), and when none is left the interpreter ends at once, with whatever it was doing.
    """
    global _held
    if _held or sys.implementation.name != "cpython" or sys.version_info >= (3, 12):
        return
    _held = True
    for one in (None, True, False, NotImplemented, Ellipsis):
        ctypes.c_ssize_t.from_address(id(one)).value += MANY
