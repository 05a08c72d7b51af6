"""The two ways between the program and the person: a line out, a line in. Plain text, no colour, any terminal."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Callable, Sequence

import typer

from fecallab.cli.output import one_line

BACK = "<"
STOP = "q"
EXPLAIN = "?"
UNKNOWN = ("-", "not known", "unknown", "don't know", "dont know")

HELP = "Enter takes what stands in [ ]. - means not known. < goes back one question, q stops, ? explains."


class GoBack(Exception):
    """The person wants to answer the question before this one again."""


def in_columns(items: Sequence[str], width: int) -> list[str]:
    """Return short texts in as many columns as fit, at most four, read downwards.

    Examples
    --------
    >>> in_columns(["1 formed", "2 soft", "3 liquid", "4 gas"], 24)
    ['1 formed  3 liquid', '2 soft    4 gas']
    """
    column = max(map(len, items)) + 2
    columns = max(1, min(4, (width + 2) // column))
    height = -(-len(items) // columns)
    lines = ("".join(cell.ljust(column) for cell in items[row::height]) for row in range(height))
    return [line.rstrip() for line in lines]


class Talk:
    """Lines out and lines in.

    Parameters
    ----------
    read_line : callable, optional
        Shows a prompt and returns the line that was typed; the terminal when omitted.
    write : callable, optional
        Writes one line; the terminal when omitted.
    """

    def __init__(
        self,
        read_line: Callable[[str], str] | None = None,
        write: Callable[[str], None] | None = None,
    ) -> None:
        if read_line is None:
            _prepare_stdin()
        self._read_line = read_line or input
        self._write = write or _print

    @property
    def width(self) -> int:
        """Columns that a line may fill: those of the terminal, 79 at the most."""
        return max(40, min(80, shutil.get_terminal_size((80, 24)).columns) - 1)

    def say(self, text: str = "", indent: str = "") -> None:
        """Write a text, broken at the width of the terminal."""
        for line in text.split("\n"):
            folded = textwrap.wrap(
                line,
                self.width,
                initial_indent=indent,
                subsequent_indent=indent + "  ",
                break_on_hyphens=False,
            )
            for part in folded or [""]:
                self._write(part)

    def line(self, text: str, hint: str = "") -> str:
        """Ask for one line; the end of the input or Ctrl-C stops everything.

        A question that is too wide with its hint has the hint on the next line, before the cursor.
        """
        prompt = text if text.endswith("?") and not hint else f"{text}{hint}:"
        if len(prompt) < self.width:
            last = prompt
        elif hint:
            self.say(text)
            last = f"{hint.strip()}:"
        else:
            *first, last = textwrap.wrap(
                prompt, self.width - 1, subsequent_indent="  ", break_on_hyphens=False
            )
            for part in first:
                self._write(part)
        try:
            typed = self._read_line(last + " ")
        except (EOFError, KeyboardInterrupt):
            self._write("")
            raise typer.Abort from None
        typed = typed.replace("\t", " ").strip()
        if "\ufffd" in typed or one_line(typed) != typed:
            self.say("Some of these keys cannot be read as text; nothing was taken. Type it again.")
            return self.line(text, hint)
        return typed

    def pick(self, question: str, choices: Sequence[str], default: int | None = None) -> int:
        """Let one of a few things be chosen by its number; return its place, counted from 0."""
        self.say(question)
        for number, choice in enumerate(choices, start=1):
            self.say(f"{number} {one_line(choice)}", indent="  ")
        hint = f" [Enter = {default + 1}]" if default is not None else ""
        while True:
            typed = self.line("Number", hint).lower()
            if typed == BACK:
                raise GoBack
            if typed == STOP:
                raise typer.Abort
            if not typed and default is not None:
                return default
            if typed.isdecimal() and 1 <= int(typed) <= len(choices):
                return int(typed) - 1
            self.say(f"Type a number from 1 to {len(choices)}.")


def _print(text: str) -> None:
    print(text, flush=True)


def _prepare_stdin() -> None:
    """Let an odd key never stop the program, and have the arrow keys work where the system can do that."""
    import contextlib
    import os

    reconfigure = getattr(sys.stdin, "reconfigure", None)
    if reconfigure is not None and sys.stdin.errors != "replace":
        with contextlib.suppress(OSError, ValueError):
            reconfigure(errors="replace")
    unicode_in = (getattr(sys.stdin, "encoding", None) or "").lower().replace("-", "") == "utf8"
    if unicode_in and os.environ.get("TERM", "dumb") != "dumb":
        with contextlib.suppress(ImportError):
            import readline  # noqa: F401
