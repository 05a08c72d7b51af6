"""Clips in the records: the bytes lie among the pictures, and a reading names its clip in its remark."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fecallab.domain.clip_words import clip_named
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Picture, Reading
from fecallab.records.pictures import hash_of

if TYPE_CHECKING:
    from fecallab.records.writer import Writer

CLIP_FORMAT = "clip"
"""What stands as the format of a kept file that moves."""
MOST_CLIP_BYTES = 4 << 30
"""A larger file is cut by the keeper first (own choice: backups copy it)."""


@dataclass(frozen=True)
class KeptClip:
    """The clip of a reading.

    Attributes
    ----------
    picture : Picture
        The kept file.
    fps : float or None
        Frames per second that somebody gave, since those in the file are missing or false (slow motion).
    """

    picture: Picture
    fps: float | None = None


def clip_of(reading: Reading, pictures: Iterable[Picture]) -> KeptClip | None:
    """Return the clip that a reading names; None where it names none, or its file was never kept.

    Parameters
    ----------
    reading : Reading
    pictures : iterable of Picture
        Those of the records.

    Examples
    --------
    >>> swim = Picture(sha256="ab" * 32, file_name="swim.mp4", format="clip", width_px=4, height_px=3, bytes=9)
    >>> clip_of(Reading(remark="clip swim.mp4 (abababababab), 120 frames per second"), [swim]).fps
    120.0
    >>> clip_of(Reading(remark="clip lost.mp4"), [swim]) is None
    True
    """
    named = clip_named(reading.remark)
    if named is None or not named.sha:
        return None
    for one in pictures:
        if one.format == CLIP_FORMAT and one.sha256.startswith(named.sha):
            return KeptClip(one, named.fps)
    return None


def take_clip(writer: Writer, path: Path, width_px: int, height_px: int, name: str = "") -> Picture:
    """Copy a clip into the records, untouched; the same bytes are kept once.

    Parameters
    ----------
    writer : Writer
    path : Path
        A video or a TIFF stack.
    width_px, height_px : int
        Upright size, as whoever opened it found.
    name : str, optional
        What to call it; its own name without that.

    Raises
    ------
    BadInput, CouldNot
        When it is too large or cannot be read, or the disk refuses.
    """
    name = name or path.name
    try:
        size = path.stat().st_size
        if size > MOST_CLIP_BYTES:
            raise BadInput(
                f"{name} is a clip of {size >> 30} GB; {MOST_CLIP_BYTES >> 30} GB is the most.",
                next="Cut it to the part in which something moves.",
                code="clip-too-long",
            )
        sha256 = hash_of(path)
    except OSError as error:
        raise BadInput(
            f"The clip {name} cannot be read: {error.strerror}.",
            next="Check the name of the file and repeat.",
            code="clip-not-readable",
        ) from error
    return writer.add_picture(
        path,
        Picture(
            sha256=sha256,
            file_name=name,
            format=CLIP_FORMAT,
            width_px=width_px,
            height_px=height_px,
            bytes=size,
        ),
    )
