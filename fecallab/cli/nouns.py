"""The words that follow ``fecallab``: each with the module behind it, loaded only when it is wanted."""

from __future__ import annotations

from importlib import import_module

import typer

NOUNS: dict[str, str] = {
    "records": "Make, check, back up and restore a record folder.",
    "animal": "Animals and their weights.",
    "enclosure": "Tubs, drawers and pens: room, what they share, who lives there.",
    "arrivals": "Newcomers: kept apart until those that share contact may be mixed.",
    "sample": "Stools and other material: whose, when, how kept.",
    "exam": "Preparations, pictures, readings and what they say.",
    "case": "One animal and one target, from the first positive on.",
    "plan": "What the vet wrote: treatment and follow-up.",
    "dose": "Work out a dose by the plan; log what was given.",
    "care": "Fluids, feeding, warmth and cleaning that were given.",
    "sign": "Danger signs: what must not wait for a microscope.",
    "vet": "The page that goes to the vet, the answer that comes back, how well you agree.",
    "verdict": "A vet's words typed in from a message; what vets have said; plans to read over.",
    "control": "Is the method working? Control runs, and which are due.",
    "clean": "What kills what, and when which enclosure was cleaned.",
    "batch": "Whole tables in and out, as CSV of a spreadsheet.",
    "report": "One self-contained page for an exam, a case or a group of arrivals.",
    "sheet": "Paper: microscope sheet, care, labels, dose card; typing it in.",
    "calc": "Calculators that need no records.",
    "image": "Pictures: calibrate, check, measure, name, draw marks.",
    "reference": "Organisms, methods and rules, with sources.",
}
"""Nouns with commands of their own: ``fecallab/cli/NOUN.py`` offers ``app``."""

COMMANDS: dict[str, dict[str, str]] = {
    "mark": {
        "mark": "Mark an exam in a window: fields, marks, measures; everything is saved while you work."
    },
    "due": {"due": "What comes next: doses, weighings, the next stool that counts, words to ask of the vet."},
    "contacts": {"contacts": "Whom an animal has met, directly or through others, with the path in words."},
    "correct": {
        "correct": "Correct a fact; the old row stays in its history and every conclusion follows at once.",
        "withdraw": "Take back a fact; its rows stay in the history.",
        "history": "Show every row that was recorded under a code: when, by whom, why.",
    },
    "doctor": {
        "doctor": "Look whether everything is there that fecallab needs; a table to copy when something does not work."
    },
    "demo": {"demo": "Tell the story of an invented rescue on drawn slides, and write its report pages."},
}
"""Commands without a noun, by the module that offers ``register``; the same words stand in their docstrings."""


def join(app: typer.Typer, wanted: str | None) -> None:
    """Give the program its words.

    Parameters
    ----------
    app : Typer
        The program.
    wanted : str or None
        The one word whose module is loaded; the others are there by name and help only. None loads all.
    """
    for noun, about in NOUNS.items():
        whole = wanted in (None, noun)
        below = import_module(f"fecallab.cli.{noun}").app if whole else typer.Typer(rich_markup_mode=None)
        app.add_typer(below, name=noun, help=about)
    for module, commands in COMMANDS.items():
        if wanted is None or wanted in commands:
            import_module(f"fecallab.cli.{module}").register(app)
            continue
        for name, about in commands.items():
            app.command(name, help=about)(_not_loaded)


def first_word(words: list[str]) -> str:
    """Return the noun or command that was typed; empty where there is none (``--help``).

    Examples
    --------
    >>> first_word(["--help"]), first_word(["animal", "list"]), first_word(["--", "due"])
    ('', 'animal', 'due')
    """
    return next((word for word in words if not word.startswith("-")), "")


def _not_loaded() -> None:
    """Stand for a command whose module is not loaded; it is never called."""
    raise RuntimeError("a command was called that is not loaded")
