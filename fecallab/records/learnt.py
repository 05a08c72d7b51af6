"""What proposals have learnt from a keeper's marks; backups hold it, the proposals themselves are made again."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from fecallab.records.folder import sync_folder, write_whole

PROPOSALS = "proposals"
"""Folder inside a record folder."""
LEARNT = ("ranker.json", "ranker-before.json")
"""What is used now, and what can be gone back to."""


def mirror_learnt(source: Path, target: Path) -> int:
    """Make what one folder has learnt that of another, and return how many files it is.

    What was taken back in the source since is removed from the target, and so is its empty folder.
    """
    here, there = source / PROPOSALS, target / PROPOSALS
    kept = 0
    for name in LEARNT:
        content = b""
        with suppress(FileNotFoundError):
            content = (here / name).read_bytes()
        if content:
            there.mkdir(exist_ok=True)
            write_whole(there / name, content)
            kept += 1
        else:
            (there / name).unlink(missing_ok=True)
    if there.is_dir():
        if not kept:
            with suppress(OSError):
                there.rmdir()
        sync_folder(target)
    return kept
