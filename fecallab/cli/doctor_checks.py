"""What ``fecallab doctor`` looks at: this computer, the window, the record folder. Nothing is changed."""

from __future__ import annotations

import importlib.util
import os
import platform
import shutil
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from fecallab.cli.doctor_found import NOTE, Check, note, problem
from fecallab.cli.doctor_libraries import BASE, FINE, TOO_OLD, Library
from fecallab.cli.doctor_records import look_at_records
from fecallab.domain.errors import Reason

OLDEST_PYTHON = (3, 11)
MADE_IN = 2026
"""Year of this program: a clock before it is wrong."""
DISK_NEARLY_FULL_MB, DISK_LOW_MB = 100, 1000
"""Free space that keeps a command from working, and that is soon used up by pictures: own choices."""
CLOCK_SLACK = timedelta(minutes=5)

LINUX_WINDOW_PARTS = (
    ("libGL.so.1", "libgl1"),
    ("libEGL.so.1", "libegl1"),
    ("libxkbcommon-x11.so.0", "libxkbcommon-x11-0"),
    ("libxcb-cursor.so.0", "libxcb-cursor0"),
)
"""What Qt's window needs of a Linux system, each with its Debian package."""


def checks(
    known: list[Library], records: str | None, now: Callable[[], datetime] = lambda: datetime.now(UTC)
) -> list[Check]:
    """Return everything that was looked at, in the order of the table.

    Parameters
    ----------
    known : list of Library
        The libraries that are needed.
    records : str or None
        What ``--records`` gave.
    now : callable
        The clock, UTC.
    """
    found = [*_program(), *_system(), *_libraries(known), *_window(known), _letters()]
    if any(one.needed_for == BASE and one.state != FINE for one in known):
        left = "not looked at: first the libraries"
        return [*found, Check("record folder", left, NOTE), _disk(Path.cwd()), _clock(now(), None)]
    folder, last, looked = look_at_records(records)
    return [*found, *looked, _disk(folder or Path.cwd()), _clock(now(), last)]


def _program() -> Iterator[Check]:
    from fecallab import __version__

    yield Check("fecallab", __version__)
    bits = 64 if sys.maxsize > 2**32 else 32
    python = f"{platform.python_version()}, {bits} bit, {platform.python_implementation()}"
    if sys.version_info[:2] < OLDEST_PYTHON:
        oldest = ".".join(map(str, OLDEST_PYTHON))
        text = f"Python is {platform.python_version()}; fecallab needs {oldest} or newer."
        yield problem("Python", python, Reason("python-too-old", text, f"Install Python {oldest} or newer."))
    else:
        yield Check("Python", python)
    if shutil.which("fecallab"):
        yield Check("the word fecallab", "found")
    else:
        yield note(
            "the word fecallab",
            "not found",
            Reason(
                "not-on-path",
                "This terminal does not find the program by its name alone.",
                "Switch the virtual environment on, or type the whole way to it; fecallab without a word says how.",
            ),
        )


def _system() -> Iterator[Check]:
    yield Check("system", f"{platform.system()} {platform.release()}, {platform.machine()}")
    import locale

    language = ".".join(part or "?" for part in locale.getlocale())
    encoding = getattr(sys.stdout, "encoding", None) or "unknown"
    said = f"{language}; output {encoding}; file names {sys.getfilesystemencoding()}"
    try:
        "µ × ≥ °".encode(encoding)
        yield Check("language and letters", said)
    except (UnicodeEncodeError, LookupError):
        yield note(
            "language and letters",
            said,
            Reason(
                "letters-missing",
                "This terminal cannot show every sign (µ, ×, ≥); plain ones stand in their place.",
                "Nothing is lost. To see them, set: PYTHONUTF8=1",
            ),
        )
    set_here = sorted(name for name in os.environ if name.startswith("FECALLAB_"))
    yield Check("settings in the environment", ", ".join(set_here) or "none")


def _libraries(known: list[Library]) -> Iterator[Check]:
    if not known:
        text = "It is not known which libraries fecallab needs: its description is not installed."
        yield problem(
            "libraries", "unknown", Reason("not-installed", text, "Install it anew: pip install fecallab")
        )
        return
    base = [one for one in known if one.needed_for == BASE]
    bad = [one for one in base if one.state != FINE]
    if bad:
        text = f"Of the libraries that every command needs: {_each(bad)}."
        names = " ".join(f'"{one.name}>={one.oldest}"' for one in bad)
        reason = Reason("libraries-missing", text, f"Type: {_pip()} install --upgrade {names}")
        yield problem("libraries", f"{len(base) - len(bad)} of {len(base)} there and new enough", reason)
    else:
        yield Check("libraries", f"{len(base)} of {len(base)} there and new enough")


def _window(known: list[Library]) -> Iterator[Check]:
    """Say whether the marking window can open; whoever does not have it is told how to get it."""
    mine = [one for one in known if one.needed_for == "the marking window" and one.name != "watchfiles"]
    old = [one for one in mine if one.state == TOO_OLD]
    if old:
        names = " ".join(f'"{one.name}>={one.oldest}"' for one in old)
        reason = Reason("window-too-old", f"{_each(old)}.", f"Type: {_pip()} install --upgrade {names}")
        yield problem("marking window", "too old", reason)
        return
    if any(importlib.util.find_spec(name) is None for name in ("napari", "qtpy", "napari_fecallab")):
        yield note(
            "marking window",
            "not installed",
            Reason(
                "window-missing",
                "The marking window is not installed; every other command works without it.",
                f'To have it: {_pip()} install "fecallab[napari]"',
            ),
        )
        return
    if not sys.platform.startswith("linux"):
        yield Check("marking window", "installed")
        return
    if not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        yield note(
            "marking window",
            "installed; no screen",
            Reason(
                "no-screen",
                "There is no screen here to open a window on.",
                "Count at the eyepiece instead: fecallab exam tally",
            ),
        )
        return
    lacking = [package for library, package in LINUX_WINDOW_PARTS if not _can_load(library)]
    if lacking:
        text = f"The system lacks what a window needs: {', '.join(lacking)} (as Debian and Ubuntu name them)."
        reason = Reason("window-parts-missing", text, f"Type: sudo apt install {' '.join(lacking)}")
        yield problem("marking window", "installed; parts of the system missing", reason)
        return
    yield Check("marking window", "installed; screen and OpenGL there")


def _can_load(library: str) -> bool:
    import ctypes

    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _letters() -> Check:
    """Say whether the letters of pages and sheets are there: DejaVu Sans, which matplotlib brings."""
    spec = importlib.util.find_spec("matplotlib")
    places = list(spec.submodule_search_locations or []) if spec else []
    for place in places:
        if (Path(place) / "mpl-data" / "fonts" / "ttf" / "DejaVuSans.ttf").is_file():
            return Check("letters for pages and sheets", "DejaVu Sans")
    text = "The letters DejaVu Sans, which come with matplotlib, are missing: sheets and charts need them."
    step = f"Type: {_pip()} install --force-reinstall --no-deps matplotlib"
    return problem("letters for pages and sheets", "not found", Reason("letters-not-found", text, step))


def _disk(folder: Path) -> Check:
    try:
        free_mb = shutil.disk_usage(folder).free / 1e6
    except OSError as error:
        text = f"How much room the disk has cannot be told: {error.strerror}."
        return Check(
            "free disk", "unknown", NOTE, Reason("disk-unknown", text, "Check that it is connected.")
        )
    said = f"{free_mb / 1000:.1f} GB" if free_mb >= 1000 else f"{free_mb:.0f} MB"
    if free_mb < DISK_NEARLY_FULL_MB:
        reason = Reason("disk-full", f"Only {said} are free.", "Free some space.")
        return problem("free disk", said, reason)
    if free_mb < DISK_LOW_MB:
        text = f"Only {said} are free; pictures need room."
        return note("free disk", said, Reason("disk-low", text, "Free some space soon."))
    return Check("free disk", said)


def _clock(now: datetime, last_recorded: datetime | None) -> Check:
    """Say whether this computer's clock can be right: not before this program, nor before what was recorded."""
    from fecallab.domain.spoken import say_time

    here = now.astimezone()
    said = f"{say_time(here)} ({here:UTC%z})"
    step = "Set the clock: waits and the age of a weight are counted by it."
    if now.year < MADE_IN:
        text = f"The clock says {said}, before this program was made."
        return problem("clock", said, Reason("clock-wrong", text, step))
    if last_recorded is not None and now + CLOCK_SLACK < last_recorded:
        text = f"The clock says {said}, before the last entry of the records ({say_time(last_recorded)} UTC)."
        return problem("clock", said, Reason("clock-behind", text, step))
    return Check("clock", said)


def _each(some: list[Library]) -> str:
    return ", ".join(
        f"{one.name} {one.version or 'is missing'}" + (f" (needed: {one.oldest})" if one.oldest else "")
        for one in some
    )


def _pip() -> str:
    return "py -m pip" if sys.platform == "win32" else "python -m pip"
