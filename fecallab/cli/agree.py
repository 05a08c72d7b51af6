"""Asking before a serious act is recorded: shown first, agreed to by a person or by ``--yes``."""

from __future__ import annotations

import typer

from fecallab.cli.output import say

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
