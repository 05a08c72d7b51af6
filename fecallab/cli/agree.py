"""Asking before a serious act is recorded: shown first, agreed to by a person or by ``--yes``."""

from __future__ import annotations

from collections.abc import Sequence

import typer

from fecallab.cli.output import say
from fecallab.domain.errors import CouldNot

YES = typer.Option(False, "--yes", help="Record without asking.")


def agreed(text: str, yes: bool, as_json: bool, question: str = "Record this?") -> bool:
    """Show what would be recorded and ask; without a person at the keys nothing is agreed to."""
    from fecallab.cli.ask import may_ask

    if yes:
        return True
    if as_json or not may_ask([]):
        say(text)
        return False
    from fecallab.cli.ask.talk import Talk

    talk = Talk()
    print(text, flush=True)
    return talk.line(f"{question} y, n", " [Enter = n]").strip().lower() in ("y", "yes")


def check_nothing_new(shown: Sequence[str], found: Sequence[str], yes: bool) -> None:
    """Refuse to go on where more exams are in doubt than a person was asked about.

    Raises
    ------
    CouldNot
        With the exams that came into doubt meanwhile.
    """
    new = [code for code in found if code not in shown]
    if new and not yes:
        raise CouldNot(
            f"Nothing is recorded: {', '.join(new)} came into doubt meanwhile.",
            next="Type the same command again: it names what is in doubt, and asks.",
            code="doubt-meanwhile",
        )
