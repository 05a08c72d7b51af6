"""Which libraries fecallab needs, and which of them are there and new enough; none of them is loaded."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

EXTRAS = {
    "napari": "the marking window",
    "server": "records on a server",
    "cluster": "pictures on many computers",
}
"""What each extra is for; the others are for those who work on fecallab."""

BASE = "every command"
FINE, TOO_OLD, MISSING = "there", "too old", "not there"

_REQUIREMENT = re.compile(
    r"(?P<name>[A-Za-z0-9._-]+)\s*(?:\[[^]]*\])?\s*(?:\(?>=\s*(?P<version>[\w.]+)\)?)?"
    r"\s*(?:;\s*extra\s*==\s*['\"](?P<extra>[\w-]+)['\"])?\s*"
)


@dataclass(frozen=True)
class Library:
    """One library: what it is for, the oldest version that will do, the one that is there, and what that means."""

    name: str
    needed_for: str
    oldest: str
    version: str
    state: str

    def as_dict(self) -> dict[str, str]:
        """Return it as plain keys for ``--json``."""
        return {
            "name": self.name,
            "needed_for": self.needed_for,
            "oldest": self.oldest,
            "version": self.version,
            "state": self.state,
        }


def libraries(version_of: Callable[[str], str] | None = None) -> list[Library]:
    """Return every library that the installed program asks for, those of every command first.

    Parameters
    ----------
    version_of : callable, optional
        Gives the version of a library, empty when it is not there; what is installed when omitted.
    """
    look = version_of or installed_version
    found = []
    for requirement in _requirements():
        match = _REQUIREMENT.fullmatch(requirement.strip())
        if match is None:
            continue
        extra = match["extra"]
        if extra is not None and extra not in EXTRAS:
            continue
        name, oldest, version = match["name"], match["version"] or "", look(match["name"])
        state = MISSING if not version else FINE if new_enough(version, oldest) else TOO_OLD
        found.append(Library(name, EXTRAS[extra] if extra else BASE, oldest, version, state))
    return sorted(found, key=lambda one: one.needed_for != BASE)


def installed_version(name: str) -> str:
    """Return the version of an installed library, empty when it is not there."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version(name) or ""
    except PackageNotFoundError:
        return ""


def new_enough(version: str, oldest: str) -> bool:
    """Say whether a version is at least the oldest that will do, by its leading numbers.

    Examples
    --------
    >>> new_enough("2.10.0", "2.9"), new_enough("0.9rc1", "0.16"), new_enough("2024.2.0", "2024.2")
    (True, False, True)
    """

    def numbers(text: str) -> list[int]:
        leading = re.match(r"\d+(?:\.\d+)*", text)
        return [int(part) for part in leading[0].split(".")] if leading else []

    mine, least = numbers(version), numbers(oldest)
    wide = max(len(mine), len(least))
    return mine + [0] * (wide - len(mine)) >= least + [0] * (wide - len(least))


def _requirements() -> Iterable[str]:
    """Return what the program asks for: by the clone that it runs from, else by what was installed."""
    from importlib.metadata import PackageNotFoundError, requires

    try:
        return _of_the_clone() or requires("fecallab") or []
    except PackageNotFoundError:
        return []


def _of_the_clone() -> list[str]:
    """Return what the clone asks for, nothing where there is none: what was installed from it may be older."""
    import tomllib

    try:
        text = (Path(__file__).resolve().parents[2] / "pyproject.toml").read_text(encoding="utf-8")
        project = tomllib.loads(text)["project"]
    except (OSError, ValueError, KeyError):
        return []
    if project.get("name") != "fecallab":
        return []
    more = project["optional-dependencies"]
    return [
        *project["dependencies"],
        *(f'{one}; extra == "{extra}"' for extra, names in more.items() for one in names),
    ]
