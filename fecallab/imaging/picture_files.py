"""Open a picture file: refuse what is none, tell its kind by content, say decoders' troubles in one line."""

from __future__ import annotations

import stat
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from io import BufferedReader
from pathlib import Path

from fecallab.domain.errors import BadInput, CouldNot, FecallabError

KNOWN_FORMATS = "JPEG, PNG, TIFF, OME-TIFF, HEIC, BMP or WebP"

TAG_ORIENTATION, TAG_DATETIME, TAG_EXIF_IFD, TAG_DATETIME_ORIGINAL = 274, 306, 34665, 36867

_ASK_PICTURE = f"Give a picture: {KNOWN_FORMATS}."
_HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}


@dataclass(frozen=True)
class PictureInfo:
    """What a picture says about itself, without its place.

    Attributes
    ----------
    format : str
        ``JPEG``, ``PNG``, ``TIFF``, ``OME-TIFF``, ``HEIC``, ``BMP`` or ``WebP``, told by content.
    width_px, height_px : int
        Size of the upright picture.
    frames : int
        Pages or frames in the file; only the first one is read.
    channels, bits_per_sample : int
        As stored (1 grey or palette, 3 colour, 4 with transparency or CMYK).
    orientation : int
        EXIF orientation as stored, 1 to 8; :func:`open_picture` has applied it.
    taken : datetime or None
        Local date and time from EXIF, without a time zone.
    metadata_um_per_px : float or None
        Pixel size from the file's metadata, for information only: a calibration goes before it.
    sha256 : str
        Of the file's bytes.
    bytes : int
        Length of the file.
    """

    format: str
    width_px: int
    height_px: int
    frames: int
    channels: int
    bits_per_sample: int
    orientation: int
    taken: datetime | None
    metadata_um_per_px: float | None
    sha256: str
    bytes: int


@contextmanager
def opened(path: str | Path) -> Iterator[tuple[BufferedReader, str, str]]:
    """Open a regular file and tell its kind; every refusal before decoding happens here."""
    path = Path(path)
    name = path.name or str(path)
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise BadInput(
                f"{name} is a folder; one picture is read at a time.",
                next=f"Name the pictures in it, for example {name}/*.jpg.",
                code="picture-is-folder",
            )
        if not stat.S_ISREG(mode):
            raise BadInput(f"{name} is not an ordinary file.", next=_ASK_PICTURE, code="picture-not-a-file")
        with path.open("rb") as file:
            head = file.read(64)
            kind = _kind(head, name)
            file.seek(0)
            yield file, kind, name
    except FecallabError:
        raise
    except (FileNotFoundError, NotADirectoryError, ValueError) as error:
        raise BadInput(
            f"There is no file {path}.", next="Check the name and the folder.", code="picture-missing"
        ) from error
    except PermissionError as error:
        raise CouldNot(
            f"{name} may not be read: permission denied.",
            next="Change the file's permissions, or copy it to your own folder.",
            code="picture-permission",
        ) from error
    except OSError as error:
        raise CouldNot(
            f"{name} could not be read: {error.strerror or error}.",
            next="Check the disk or card, then try again.",
            code="picture-unreadable",
        ) from error


def _kind(head: bytes, name: str) -> str:
    if not head:
        raise BadInput(
            f"{name} is empty (0 bytes).", next="Copy it from the camera again.", code="picture-empty"
        )
    if head.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if head.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if head[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return "TIFF"
    if head[4:8] == b"ftyp":
        brands = {head[8:12], *(head[i : i + 4] for i in range(16, min(len(head), head[3]), 4))}
        if brands & _HEIF_BRANDS:
            return "HEIC"
    if head[:2] == b"BM" and head[6:10] == b"\0\0\0\0":
        return "BMP"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "WebP"
    if _is_video(head):
        raise BadInput(
            f"{name} is a video; a single picture is asked for here.",
            next=f"For moving organisms type: fecallab image motility {name}",
            code="picture-is-video",
        )
    raise BadInput(f"{name} is not a picture that can be read.", next=_ASK_PICTURE, code="picture-unknown")


def _is_video(head: bytes) -> bool:
    iso_media = head[4:8] in (b"ftyp", b"moov", b"mdat", b"wide") and head[8:12] not in (b"avif", b"avis")
    avi = head[:4] == b"RIFF" and head[8:12] == b"AVI "
    matroska = head.startswith(b"\x1a\x45\xdf\xa3")
    mpeg = head[:4] in (b"\0\0\x01\xba", b"\0\0\x01\xb3")
    return iso_media or avi or matroska or mpeg or head.startswith(b"0&\xb2u\x8ef\xcf\x11")


def check_size(name: str, width: int, height: int, max_megapixels: float) -> None:
    """Refuse a picture whose header states no pixels, or more than can be decoded safely."""
    if width < 1 or height < 1:
        raise BadInput(
            f"{name} has no pixels ({width} × {height}).", next=_ASK_PICTURE, code="picture-damaged"
        )
    megapixels = width * height / 1e6
    if megapixels > max_megapixels:
        raise BadInput(
            f"{name} says it has {width} × {height} pixels ({megapixels:.0f} megapixels); "
            f"the limit is {max_megapixels:g}.",
            next="Save it smaller or in parts.",
            code="picture-too-large",
        )


@contextmanager
def decoding(name: str) -> Iterator[None]:
    """Turn whatever a decoder raises into one line; decoders raise nearly anything on damaged bytes."""
    try:
        yield
    except FecallabError:
        raise
    except MemoryError as error:
        raise CouldNot(
            f"There is not enough memory for {name}.", next="Save it smaller.", code="picture-memory"
        ) from error
    except OSError as error:
        if error.errno is not None:
            raise
        raise damaged(name) from error
    except Exception as error:
        raise damaged(name) from error


def damaged(name: str) -> BadInput:
    """Return the one line for a picture that a decoder cannot read to its end."""
    return BadInput(
        f"{name} is damaged or cut short; it cannot be read to its end.",
        next="Copy it from the camera again, or export it anew.",
        code="picture-damaged",
    )


def exif_datetime(value: object) -> datetime | None:
    """Read an EXIF date and time (``2026:05:03 08:15:00``); None when there is none or it is nonsense."""
    try:
        return datetime.strptime(str(value).strip("\0 "), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
