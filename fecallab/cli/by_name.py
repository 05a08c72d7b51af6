"""Whether a terminal finds the program by its name alone, and what to type where it does not."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path


def how_to_be_found() -> str:
    """Return what lets a terminal find ``fecallab`` by its name; empty where it does already.

    In a virtual environment that is not switched on the program runs when the whole way to it is typed, and every
    line that begins with ``fecallab`` would fail.
    """
    if shutil.which("fecallab"):
        return ""
    if sys.prefix == sys.base_prefix:
        return "python -m fecallab"
    here = Path(sys.prefix)
    if here.is_relative_to(Path.cwd()):
        here = here.relative_to(Path.cwd())
    if os.name == "nt":
        return str(here / "Scripts" / "activate")
    typed = str(here / "bin" / "activate")
    return f'source "{typed}"' if " " in typed else f"source {typed}"


def hint() -> str:
    """Return the same as one line for a person; empty where nothing need be said."""
    typed = how_to_be_found()
    if not typed:
        return ""
    if typed.startswith("python"):
        return f"This terminal does not find fecallab by its name; type instead: {typed}"
    return f"So that this terminal finds fecallab by its name, type once: {typed}"
