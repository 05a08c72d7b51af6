"""Backups: a copy of the database at one moment, every picture once, read back and compared, drafts, what was learnt."""

from __future__ import annotations

import json
import os
import re
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from fecallab.domain.errors import BadInput, CouldNot, Reason
from fecallab.domain.exam import Picture
from fecallab.records.check import check, known_pictures
from fecallab.records.drafts import DRAFTS, mirror_drafts
from fecallab.records.engine import access_to, reading, sqlite_engine
from fecallab.records.folder import (
    BACKUP,
    DATABASE,
    LAYOUT_VERSION,
    MARKER,
    PICTURES,
    RECORD_FOLDER,
    Marker,
    picture_name,
    read_marker,
    shown,
    sync_folder,
    write_marker,
    write_whole,
)
from fecallab.records.learnt import PROPOSALS, mirror_learnt
from fecallab.records.picture_place import FolderPictures, PicturePlace, picture_place
from fecallab.records.pictures import hash_of, place_picture
from fecallab.records.server import copy_from_server
from fecallab.records.trouble import in_one_line

NOTE = "last-backup.json"
REMIND_AFTER_DAYS = 14  # common practice, no source: two weeks of exams can be told again from memory

Progress = Callable[[int, int], None]
"""Told how many pictures are done, and of how many."""


@dataclass(frozen=True, kw_only=True)
class CopyResult:
    """What a backup or a restore has done.

    Attributes
    ----------
    pictures : int
        Pictures that are in the target now, each read back and compared with its hash.
    copied : int
        How many of them had to be copied this time.
    problems : tuple of Reason
        Pictures that could not be copied because they are missing or damaged; all else was copied.
    """

    source: Path
    target: Path
    facts: int
    pictures: int
    copied: int
    problems: tuple[Reason, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return the result as plain keys for ``--json``."""
        return {
            "source": str(self.source),
            "target": str(self.target),
            "facts": self.facts,
            "pictures": self.pictures,
            "pictures_copied": self.copied,
            "problems": [problem.as_dict() for problem in self.problems],
        }


def backup(folder: Path, target: Path, progress: Progress | None = None) -> CopyResult:
    """Back a record folder up while it may be in use.

    Parameters
    ----------
    folder : Path
        The record folder.
    target : Path
        A new or empty folder, or an earlier backup of the same records: then only new pictures are copied.
    progress : callable, optional
        Called after every picture.

    Raises
    ------
    BadInput
        When the target holds other things, other records, or lies inside the record folder.
    CouldNot
        When the disk is full or the copy of the database is not whole; an earlier backup stays as it was.
    """
    marker = read_marker(folder)
    with in_one_line():
        here, there = folder.resolve(), target.resolve()
        if there == here or here in there.parents:
            raise BadInput(
                f"The backup would lie inside the records that it is to save ({target}).",
                next="Name a folder elsewhere, best on another disk.",
                code="backup-inside",
            )
        _refuse_other_target(target, marker)
        new = not (target / MARKER).exists()
        target.mkdir(mode=0o700, parents=True, exist_ok=True)
        fresh = target / f".{DATABASE}.new"
        try:
            if marker.database:
                copy_from_server(marker.database, fresh)
            else:
                _copy_database(folder / DATABASE, fresh)
            known = _known_in(fresh)
            place = picture_place(folder, marker.pictures)
            copied, problems = _copy_pictures(place, target, known, progress)
            fresh.replace(target / DATABASE)
        except BaseException:
            _remove_database(fresh)
            with suppress(OSError):
                target.rmdir()  # only when nothing is in it; pictures that were copied serve the next try
            raise
        sync_folder(target)
        if new:
            write_marker(target, Marker(BACKUP, LAYOUT_VERSION, marker.collection))
        mirror_drafts(folder, target)
        mirror_learnt(folder, target)
    found = check(target)
    _refuse_damaged(found.problems, f"The backup in {target}")
    _note_backup(folder, target)
    return CopyResult(
        source=folder,
        target=target,
        facts=found.facts,
        pictures=found.pictures,
        copied=copied,
        problems=tuple(problems),
    )


@dataclass(frozen=True)
class LastBackup:
    """When a record folder was last backed up, as it was noted there; ``days_ago`` None for never."""

    on: date | None
    target: str
    days_ago: int | None

    @property
    def line(self) -> str:
        """A reminder, empty while the backup is young."""
        if self.days_ago is None:
            return "Never backed up. Type: fecallab records backup FOLDER_ON_ANOTHER_DISK"
        if self.days_ago <= REMIND_AFTER_DAYS:
            return ""
        return f"Last backup {self.days_ago} days ago. Type: fecallab records backup {self.target}"

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain keys for ``--json``."""
        return {"last_on": self.on, "days_ago": self.days_ago, "remind": bool(self.line)}


def last_backup(folder: Path, today: date) -> LastBackup:
    """Return when a record folder was last backed up; a note that cannot be read counts as none."""
    try:
        said = json.loads((folder / NOTE).read_text(encoding="utf-8"))
        on, target = date.fromisoformat(said["on"]), str(said["target"])
    except (OSError, ValueError, KeyError, TypeError):
        return LastBackup(None, "", None)
    return LastBackup(on, target, max(0, (today - on).days))


def _note_backup(folder: Path, target: Path) -> None:
    """Note the backup in the record folder; one that may only be read is not reminded."""
    said = {"on": date.today().isoformat(), "target": shown(target.resolve())}
    with suppress(OSError):
        write_whole(folder / NOTE, (json.dumps(said, indent=2) + "\n").encode("utf-8"))


def restore(source: Path, folder: Path, progress: Progress | None = None) -> CopyResult:
    """Make a record folder from a backup; nothing is ever written over.

    Parameters
    ----------
    source : Path
        The backup.
    folder : Path
        A folder that is new or empty.

    Raises
    ------
    BadInput
        When `source` is no backup, or `folder` holds anything.
    CouldNot
        When the database of the backup is damaged, or the disk is full; the folder is left empty then.
    """
    marker = read_marker(source, BACKUP)
    with in_one_line():
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BadInput(
                f"{folder} is not empty; a backup is never written over anything.",
                next=f"Type: fecallab records restore {shown(source)} NEW_FOLDER",
                code="folder-not-empty",
            )
        made = not folder.exists()
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        try:
            _copy_database(source / DATABASE, folder / DATABASE)
            place = FolderPictures(source)
            copied, problems = _copy_pictures(place, folder, _known_in(folder / DATABASE), progress)
            (folder / PICTURES).mkdir(exist_ok=True)
            mirror_drafts(source, folder)
            mirror_learnt(source, folder)
            write_marker(folder, Marker(RECORD_FOLDER, LAYOUT_VERSION, marker.collection))
            found = check(folder)
            _refuse_damaged(found.problems, f"The backup in {source}")
        except BaseException:
            with suppress(OSError):
                for name in (MARKER, DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm"):
                    (folder / name).unlink(missing_ok=True)
                for below in (PICTURES, DRAFTS, PROPOSALS):
                    shutil.rmtree(folder / below, ignore_errors=True)
                if made:
                    folder.rmdir()
            raise
    return CopyResult(
        source=source,
        target=folder,
        facts=found.facts,
        pictures=found.pictures,
        copied=copied,
        problems=tuple(problems),
    )


def _refuse_other_target(target: Path, marker: Marker) -> None:
    if not target.exists():
        return
    if not target.is_dir():
        raise BadInput(f"{target} is a file, no folder.", next="Name a folder.", code="not-a-folder")
    if not (target / MARKER).exists():
        strange = [path.name for path in target.iterdir() if path.name not in (PICTURES, f".{DATABASE}.new")]
        strange += [path.name for path in (target / PICTURES).glob("*") if not _is_of_a_backup(path)]
        if strange:
            raise BadInput(
                f"{target} holds other files already ({strange[0]}, …).",
                next="Name a folder that is new or empty, or an earlier backup.",
                code="folder-not-empty",
            )
        return
    if read_marker(target, BACKUP).collection != marker.collection:
        raise BadInput(
            f"{target} is a backup of other records.",
            next="Name another folder for this backup.",
            code="other-collection",
        )


def _is_of_a_backup(path: Path) -> bool:
    """Say whether something among the pictures is what an interrupted backup leaves there."""
    return bool(re.fullmatch(r"[0-9a-f]{2}|\.incoming-.*", path.name))


def _copy_database(source: Path, target: Path) -> None:
    """Copy a database as it is at one moment, into one file that is on the disk."""
    _remove_database(target)
    engine = sqlite_engine(source, access=access_to(source))
    try:
        with engine.connect() as connection, closing(sqlite3.connect(target)) as copy:
            connection.connection.driver_connection.backup(copy)  # type: ignore[union-attr]
            copy.execute("PRAGMA journal_mode = DELETE")
            said = copy.execute("PRAGMA integrity_check(1)").fetchone()[0]
    finally:
        engine.dispose()
    if said != "ok":
        raise CouldNot(
            f"The database {source} is damaged: {said.splitlines()[0]}",
            next="Type: fecallab records check  and restore the last backup into a new folder.",
            code="records-damaged",
        )
    handle = os.open(target, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _remove_database(path: Path) -> None:
    for ending in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + ending).unlink(missing_ok=True)


def _known_in(database: Path) -> list[Picture]:
    engine = sqlite_engine(database, access="read")
    try:
        with reading(engine) as connection:
            return known_pictures(connection)
    finally:
        engine.dispose()


def _copy_pictures(
    source: PicturePlace, target: Path, known: list[Picture], progress: Progress | None
) -> tuple[int, list[Reason]]:
    copied, problems = 0, []
    for done, picture in enumerate(known, start=1):
        name = picture_name(picture.sha256, picture.format, picture.file_name)
        if not _is_there(target / name, picture.sha256):
            damage = list(source.problems(picture))
            if damage:
                problems += damage
            else:
                place_picture(source.path(picture), target, picture)
                copied += 1
        if progress is not None:
            progress(done, len(known))
    return copied, problems


def _is_there(path: Path, sha256: str) -> bool:
    try:
        return hash_of(path) == sha256
    except OSError:
        return False


def _refuse_damaged(problems: tuple[Reason, ...], what: str) -> None:
    """Stop for damage of the database; a lost picture is named in the result instead."""
    for problem in problems:
        if not problem.code.startswith("picture-"):
            raise CouldNot(f"{what} is not whole: {problem.text}", next=problem.next, code=problem.code)
