"""A folder as a phone or a card hands it over: which files are pictures, when each was taken, which are double."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fecallab.cli.output import one_line
from fecallab.domain.errors import BadInput

if TYPE_CHECKING:
    from fecallab.domain.exam import Picture
    from fecallab.imaging.read import PictureInfo

NO_PICTURE = (
    "picture-unknown",
    "picture-is-video",
    "picture-is-folder",
    "picture-not-a-file",
    "picture-empty",
)
"""What is named and passed over; a picture that is damaged or too large stops everything instead."""


@dataclass(frozen=True)
class TakenPicture:
    """One picture of the folder.

    Attributes
    ----------
    taken : datetime
        When it was taken, local time.
    by_camera : bool
        Whether the camera wrote that into it; else it is the time of the file.
    """

    path: Path
    info: PictureInfo
    taken: datetime
    by_camera: bool

    def record(self) -> Picture:
        """Return it as it is recorded; only the camera's time is believed."""
        from fecallab.domain.exam import Picture

        return Picture(
            sha256=self.info.sha256,
            file_name=self.path.name,
            format=self.info.format,
            width_px=self.info.width_px,
            height_px=self.info.height_px,
            bytes=self.info.bytes,
            taken_at=self.info.taken,
        )


@dataclass(frozen=True)
class FolderOfPictures:
    """What is in a folder.

    Attributes
    ----------
    pictures : tuple of TakenPicture
        In the order of their fields.
    doubles : tuple of (str, str)
        File, and where the same picture is.
    skipped : tuple of (str, str)
        File, and why it is none.
    """

    pictures: tuple[TakenPicture, ...]
    doubles: tuple[tuple[str, str], ...] = ()
    skipped: tuple[tuple[str, str], ...] = ()

    def last_taken(self, present: datetime) -> datetime | None:
        """Return when the last picture was taken, if the camera says so for all and its clock can be right."""
        last = max(one.taken for one in self.pictures)
        return last if all(one.by_camera for one in self.pictures) and last <= present else None

    def lines(self) -> list[str]:
        """Return one line per file."""
        from fecallab.domain.spoken import say_time

        lines = []
        for number, one in enumerate(self.pictures, start=1):
            source = "" if one.by_camera else " (time of the file)"
            size = f"{one.info.width_px} × {one.info.height_px} px"
            turned = ", turned upright" if one.info.orientation != 1 else ""
            when = f"{say_time(one.taken)}:{one.taken:%S}{source}"
            lines.append(f"field {number}: {one_line(one.path.name)}, {when}, {size}{turned}")
        lines += [
            f"left out: {one_line(name)}, the same picture as {one_line(of)}" for name, of in self.doubles
        ]
        lines += [f"passed over: {one_line(name)}, {why}" for name, why in self.skipped]
        return lines

    def as_dict(self, scales: Sequence[float | None]) -> dict[str, Any]:
        """Return plain keys for ``--json``."""
        return {
            "fields": [
                {
                    "file": one.path.name,
                    "sha256": one.info.sha256,
                    "taken_at": one.taken,
                    "taken_at_from": "camera" if one.by_camera else "file",
                    "width_px": one.info.width_px,
                    "height_px": one.info.height_px,
                    "um_per_px": scale,
                }
                for one, scale in zip(self.pictures, scales, strict=True)
            ],
            "left_out": [{"file": name, "same_as": of} for name, of in self.doubles],
            "passed_over": [{"file": name, "why": why} for name, why in self.skipped],
        }


def look_through(folder: Path, known: Mapping[str, str]) -> FolderOfPictures:
    """Look at every file of a folder; pictures are decoded to the end, so that none is half there.

    Parameters
    ----------
    folder : Path
        Folders inside it are passed over.
    known : mapping of str to str
        Name by hash of every picture that is in the records.

    Raises
    ------
    BadInput
        When it is no folder, holds no new picture, or holds damaged pictures (all are named).
    """
    from fecallab.imaging.read import verify_picture

    taken: list[TakenPicture] = []
    skipped: list[tuple[str, str]] = []
    damaged: list[str] = []
    for path in _files(folder):
        try:
            info = verify_picture(path)
        except BadInput as error:
            if error.reason.code in NO_PICTURE:
                skipped.append((path.name, _why(error)))
            else:
                damaged.append(error.reason.text.rstrip("."))
            continue
        written = datetime.fromtimestamp(path.stat().st_mtime).replace(microsecond=0)
        taken.append(TakenPicture(path, info, info.taken or written, info.taken is not None))
    if damaged:
        text = f"{len(damaged)} of the pictures cannot be taken in: {'; '.join(damaged)}."
        step = "Copy them from the phone again, or move them out of the folder; nothing was taken in."
        raise BadInput(text, next=step, code="picture-damaged")
    taken.sort(key=lambda one: (one.taken, _in_counting_order(one.path.name)))
    fields: dict[str, TakenPicture] = {}
    doubles: list[tuple[str, str]] = []
    for one in taken:
        if one.info.sha256 in known:
            doubles.append((one.path.name, f"{known[one.info.sha256]} in the records"))
        elif one.info.sha256 in fields:
            doubles.append((one.path.name, fields[one.info.sha256].path.name))
        else:
            fields[one.info.sha256] = one
    if not fields:
        seen = f"{len(doubles)} are in the records already" if doubles else f"{len(skipped)} other files"
        raise BadInput(
            f"There is no new picture in {folder}: {seen}.",
            next="Name the folder that the phone's pictures are in.",
            code="no-pictures",
        )
    return FolderOfPictures(tuple(fields.values()), tuple(doubles), tuple(skipped))


def _files(folder: Path) -> list[Path]:
    if not folder.exists():
        raise BadInput(f"There is no folder {folder}.", next="Check the name.", code="no-folder")
    if not folder.is_dir():
        text = f"{folder} is no folder."
        raise BadInput(text, next="Name a folder; one picture is taken by exam read.", code="no-folder")
    return sorted(folder.iterdir(), key=lambda path: _in_counting_order(path.name))


def _in_counting_order(name: str) -> list[tuple[int, str]]:
    """Return a key that sorts ``IMG_9`` before ``IMG_10``.

    Examples
    --------
    >>> sorted(["IMG_10.jpg", "IMG_9.jpg"], key=_in_counting_order)
    ['IMG_9.jpg', 'IMG_10.jpg']
    """
    pieces = re.split(r"(\d+)", name.casefold())
    return [(int(piece), "") if piece.isascii() and piece.isdigit() else (-1, piece) for piece in pieces]


def _why(error: BadInput) -> str:
    """Say in few words why a file is no picture."""
    words = {
        "picture-is-video": "a clip: fecallab image motility reads it",
        "picture-is-folder": "a folder",
        "picture-empty": "empty (0 bytes)",
    }
    return words.get(error.reason.code, "no picture")
