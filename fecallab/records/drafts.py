"""Drafts: what somebody counts or marks right now and has not recorded yet; backups hold them too."""

from __future__ import annotations

import shutil
from contextlib import suppress
from pathlib import Path

from fecallab.records.folder import sync_folder, write_whole

DRAFTS = "drafts"
"""Folder inside a record folder."""


def mirror_drafts(source: Path, target: Path) -> int:
    """Make the drafts of one folder those of another, and return how many files they are.

    A journal that is being written is copied as it is at that moment: what is cut short at its end is left out
    when it is read. Drafts that were finished since are removed from the target.
    """
    here, there = source / DRAFTS, target / DRAFTS
    names = {path.relative_to(here) for path in here.rglob("*") if path.is_file() and not _passing(path)}
    for name in sorted(names):
        (there / name).parent.mkdir(parents=True, exist_ok=True)
        with suppress(FileNotFoundError):  # it was finished this very moment
            content = (here / name).read_bytes()
            if not (there / name).is_file() or (there / name).read_bytes() != content:
                write_whole(there / name, content)
    if there.is_dir():
        for path in there.rglob("*"):
            if path.is_file() and path.relative_to(there) not in names:
                path.unlink(missing_ok=True)
        if not names:
            shutil.rmtree(there, ignore_errors=True)
        sync_folder(target)
    return len(names)


def _passing(path: Path) -> bool:
    """Say whether a file is one that is just being written."""
    return path.name.startswith(".")
