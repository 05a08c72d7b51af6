"""The record folder of the start screen: the one that is there, one nearby, a new one, or the demo."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from fecallab.cli.ask.question import unquoted
from fecallab.cli.ask.talk import GoBack, Talk
from fecallab.domain.errors import BadInput, FecallabError

NEW, DEMO, OTHER, QUIT = (
    "make a new record folder",
    "look at the demo (an invented rescue)",
    "open a record folder that is somewhere else",
    "quit",
)

NO_NAMES = ("y", "yes", "n", "no", "q", "quit", "?", "help")
"""What is typed as an answer, not as a name: no folder is made of it."""


def a_folder(run: Callable[[list[str]], int], talk: Talk) -> Path | None:
    """Return the record folder to work in, None when the person quits; the choice holds for this session."""
    from fecallab.records.folder import ENVIRONMENT, find_folder

    try:
        return find_folder()
    except FecallabError as error:
        talk.say("fecallab keeps everything in one record folder.")
        if os.environ.get(ENVIRONMENT):
            talk.say(f"{error}")
    while True:
        near = folders_nearby()
        choices = [f"open {folder}" for folder in near] + [NEW, DEMO, OTHER, QUIT]
        try:
            place = talk.pick("What now?", choices, 0)
            if choices[place] == QUIT:
                return None
            folder = near[place] if place < len(near) else _made(choices[place], run, talk)
        except GoBack:
            continue
        except FecallabError as error:
            talk.say(f"{error}")
            continue
        if folder is not None:
            os.environ[ENVIRONMENT] = str(folder.resolve())
            return folder


def folders_nearby() -> list[Path]:
    """Return record folders one level below here, in the home folder and in its documents."""
    from fecallab.records.folder import MARKER, read_marker

    found: list[Path] = []
    for place in (Path.cwd(), _home(), _home() / "Documents"):
        try:
            markers = sorted(place.glob(f"*/{MARKER}"))
        except OSError:
            continue
        for marker in markers:
            try:
                read_marker(marker.parent)
            except FecallabError:
                continue
            if marker.parent not in found:
                found.append(marker.parent)
    return found[:6]


def _home() -> Path:
    try:
        return Path.home()
    except RuntimeError:
        return Path.cwd()


def _made(choice: str, run: Callable[[list[str]], int], talk: Talk) -> Path | None:
    """Return the folder that was made or named, None when that failed."""
    from fecallab.records.folder import find_folder

    if choice == NEW:
        folder = _ask_folder("Name of the new folder?", talk, Path.cwd() / "fecallab-records")
        return folder if run(["records", "make", "--", str(folder)]) == 0 else None
    if choice == DEMO:
        folder = _ask_folder("Folder for the demo?", talk, Path.cwd() / "fecallab-demo")
        return folder if run(["demo", "--no-open", "--", str(folder)]) == 0 else None
    folder = _ask_folder("Which folder? Its path; it may be dragged into this window", talk, None)
    return find_folder(str(folder))


def _ask_folder(question: str, talk: Talk, default: Path | None) -> Path:
    hint = f" [Enter = {default}]" if default else ""
    typed = talk.line(question, hint)
    while typed.lower() in NO_NAMES:
        talk.say(f"{typed!r} is an answer, no name of a folder. Type a name; < goes back.")
        typed = talk.line(question, hint)
    if typed == "<":
        raise GoBack
    if typed:
        return Path(unquoted(typed)).expanduser()
    if default is None:
        raise BadInput("No folder was named.", next="Type its path.")
    return default
