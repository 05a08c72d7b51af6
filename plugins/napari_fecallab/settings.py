"""What a person has chosen for the marking window, kept in the record folder: keys, and when proposals show."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from fecallab.domain.errors import BadInput, CouldNot, FecallabError
from fecallab.domain.measuring import Scale
from fecallab.records.drafts import DRAFTS
from fecallab.records.folder import write_whole

FILE = "marking.json"
PROFILES = " scale profiles"
"""Begins with a space, so that it is nobody's name."""
AFTER, BEFORE, OFF = "after reading", "before reading", "off"
PROPOSALS_WHEN = (AFTER, BEFORE, OFF)


@dataclass(frozen=True)
class MarkingSettings:
    """One person's choices.

    Attributes
    ----------
    keys : dict of str to str
        Organism by key, where it differs from what the tables propose.
    shift_row : str
        What Shift and 1 to 9 type on this keyboard, if it was learned.
    proposals : str
        When proposals are shown, one of `PROPOSALS_WHEN`.
    """

    keys: dict[str, str] = field(default_factory=dict)
    shift_row: str = ""
    proposals: str = AFTER


@dataclass(frozen=True, kw_only=True)
class ScaleProfile:
    """A scale that holds for one microscope, objective, camera and size of picture."""

    name: str
    um_per_px: float
    half_width: float = 0.0
    objective: float | None = None
    width_px: int = 0
    height_px: int = 0
    how: str = ""

    def unlike(self, objective: float | None, width_px: int, height_px: int) -> str:
        """Say why it does not hold for a picture; empty when it does."""
        if self.objective and objective and self.objective != objective:
            return f"it was made at {self.objective:g}×, not {objective:g}×"
        if width_px and (width_px, height_px) != (self.width_px, self.height_px):
            made = f"{self.width_px} × {self.height_px}"
            return f"it was made on pictures of {made} pixels, not {width_px} × {height_px}"
        return ""


def read_settings(folder: Path, by: str) -> MarkingSettings:
    """Return what a person chose; what cannot be read or meant is as if nothing had been chosen."""
    said = _all(folder).get(by)
    if not isinstance(said, dict):
        return MarkingSettings()
    keys = said.get("keys")
    good = isinstance(keys, dict) and all(isinstance(k, str) and isinstance(v, str) for k, v in keys.items())
    row, when = said.get("shift_row"), said.get("proposals")
    return MarkingSettings(
        keys=dict(keys) if good and isinstance(keys, dict) else {},
        shift_row=row if isinstance(row, str) and len(row) in (0, 9) else "",
        proposals=when if when in PROPOSALS_WHEN else AFTER,
    )


def write_settings(folder: Path, by: str, settings: MarkingSettings) -> None:
    """Keep what a person chose, beside what others chose.

    Raises
    ------
    CouldNot
        When the disk refuses; what was there stays.
    """
    _keep(folder, by, asdict(settings))


def read_profiles(folder: Path) -> tuple[ScaleProfile, ...]:
    """Return the scale profiles of a record folder by name; what cannot be read is left out."""
    said = _all(folder).get(PROFILES)
    found = []
    for name, values in sorted(said.items()) if isinstance(said, dict) else ():
        with suppress(TypeError, ValueError, FecallabError):
            profile = ScaleProfile(name=name, **values)
            Scale(profile.um_per_px, profile.half_width)
            found.append(profile)
    return tuple(found)


def write_profile(folder: Path, profile: ScaleProfile) -> None:
    """Keep a scale profile; one of the same name is replaced."""
    if not profile.name or len(profile.name) > 60 or not profile.name.isprintable():
        raise BadInput(
            f"{profile.name[:60]!r} is no name for a scale.", next="Give a short name.", code="no-name"
        )
    values = {key: value for key, value in asdict(profile).items() if key != "name"}
    said = _all(folder).get(PROFILES)
    _keep(folder, PROFILES, {**(said if isinstance(said, dict) else {}), profile.name: values})


def _keep(folder: Path, key: str, value: Any) -> None:
    try:
        (folder / DRAFTS).mkdir(exist_ok=True)
        whole = {**_all(folder), key: value}
        write_whole(folder / DRAFTS / FILE, (json.dumps(whole, indent=2) + "\n").encode())
    except OSError as error:
        raise CouldNot(
            f"The choice could not be kept: {error.strerror or error}.",
            next="Check the disk; it holds until the window closes.",
            code="settings-not-written",
        ) from error


def _all(folder: Path) -> dict[str, Any]:
    try:
        said = json.loads((folder / DRAFTS / FILE).read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return said if isinstance(said, dict) else {}
