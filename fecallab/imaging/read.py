"""Read a picture: told by its content, checked before it is decoded, upright, without its location.

A picture comes from a scope camera, from a phone held to the eyepiece or out of a message, so nothing about
it is believed: not its name, not the size in its header, not that it is whole. What cannot be meant raises
:class:`~fecallab.domain.errors.BadInput` with one line; what the disk refuses raises
:class:`~fecallab.domain.errors.CouldNot`.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable
from datetime import datetime
from io import BufferedReader
from pathlib import Path
from typing import Any

import numpy as np
from PIL import BmpImagePlugin, Image, JpegImagePlugin, PngImagePlugin, WebPImagePlugin

from fecallab.imaging.picture_files import (
    TAG_DATETIME,
    TAG_DATETIME_ORIGINAL,
    TAG_EXIF_IFD,
    TAG_ORIENTATION,
    PictureInfo,
    check_size,
    decoding,
    exif_datetime,
    opened,
)
from fecallab.imaging.samples import PictureArray, from_pillow, to_8bit, upright
from fecallab.imaging.tiff import probe_tiff, read_tiff

__all__ = [
    "MAX_MEGAPIXELS",
    "PictureArray",
    "PictureInfo",
    "open_picture",
    "probe",
    "scaled_jpeg",
    "to_8bit",
    "verify_picture",
]

MAX_MEGAPIXELS = 250.0
"""Largest picture that is decoded (own choice: above any phone or scope camera, under 1 GB in memory)."""


def probe(path: str | Path, max_megapixels: float = MAX_MEGAPIXELS) -> PictureInfo:
    """Read the header and the checksum of a picture; pixels are not decoded.

    Parameters
    ----------
    path : str or Path
        The picture.
    max_megapixels : float, optional
        Larger pictures are refused, by what their header says.

    Returns
    -------
    PictureInfo

    Raises
    ------
    BadInput
        Missing, a folder, empty, no picture, a video, damaged header, or too large.
    CouldNot
        The disk or its permissions stand in the way.
    """
    with opened(path) as (file, kind, name):
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        size = file.tell()
        if kind == "TIFF":
            return probe_tiff(file, name, max_megapixels, digest, size)
        image = _pillow_image(file, kind, name, max_megapixels)
        with decoding(name):
            stored = _stored_orientation(image)
            width, height = image.size
            if stored >= 5 and kind != "HEIC":  # a HEIC decoder has turned the picture already
                width, height = height, width
            channels, bits = _samples(image, file)
            return PictureInfo(
                format=kind,
                width_px=width,
                height_px=height,
                frames=int(getattr(image, "n_frames", 1)),
                channels=channels,
                bits_per_sample=bits,
                orientation=stored,
                taken=_taken(_exif(image)),
                metadata_um_per_px=None,
                sha256=digest,
                bytes=size,
            )


def open_picture(path: str | Path, max_megapixels: float = MAX_MEGAPIXELS) -> PictureArray:
    """Decode the first frame of a picture, upright.

    Parameters
    ----------
    path : str or Path
        The picture.
    max_megapixels : float, optional
        Larger pictures are refused before anything is decoded.

    Returns
    -------
    ndarray, shape (height, width) or (height, width, 3)
        ``uint8``, or ``uint16`` where the file holds more than 8 bits per sample.
        Transparent parts are laid over white, palette and CMYK pictures become RGB. Floating point and 32-bit
        pictures become ``uint16``: 0 to 1 as it is, any other range from its smallest to its largest value.
        A 16-bit colour PNG is read at 8 bits.

    Raises
    ------
    BadInput, CouldNot
        As :func:`probe`, and for a picture that is cut short or damaged.
    """
    with opened(path) as (file, kind, name):
        if kind == "TIFF":
            return read_tiff(file, name, max_megapixels)
        image = _pillow_image(file, kind, name, max_megapixels)
        with decoding(name):
            orientation = 1 if kind == "HEIC" else _stored_orientation(image)
            return upright(from_pillow(image), orientation)


def verify_picture(path: str | Path, max_megapixels: float = MAX_MEGAPIXELS) -> PictureInfo:
    """Decode a picture to the end to make sure that it is whole.

    Parameters
    ----------
    path : str or Path
        The picture.
    max_megapixels : float, optional
        As in :func:`probe`.

    Returns
    -------
    PictureInfo
        As :func:`probe`.

    Raises
    ------
    BadInput, CouldNot
        As :func:`open_picture`.
    """
    info = probe(path, max_megapixels)
    open_picture(path, max_megapixels)
    return info


def scaled_jpeg(picture: str | Path | PictureArray, longest_px: int, quality: int = 85) -> bytes:
    """Make a small JPEG for a report or for the vet's page.

    Nothing but pixels goes into it: no EXIF, no location, no camera. The same picture gives the same bytes.

    Parameters
    ----------
    picture : str, Path or ndarray
        A picture file, or an array as :func:`open_picture` returns it.
    longest_px : int
        Longest side of the result; a smaller picture is not enlarged.
    quality : int, optional
        JPEG quality, 1 to 95.

    Returns
    -------
    bytes

    Raises
    ------
    ValueError
        `longest_px` or `quality` out of range, or an array of another shape.
    BadInput, CouldNot
        As :func:`open_picture`.
    """
    if longest_px < 1:
        raise ValueError(f"longest_px must be 1 or more, got {longest_px}")
    if not 1 <= quality <= 95:
        raise ValueError(f"quality must be 1 to 95, got {quality}")
    if isinstance(picture, np.ndarray):
        image = Image.fromarray(to_8bit(picture))
    else:
        quick = _quick_jpeg(picture, longest_px)
        image = quick if quick is not None else Image.fromarray(to_8bit(open_picture(picture)))
    scale = longest_px / max(image.size)
    if scale < 1:
        width, height = (max(1, round(side * scale)) for side in image.size)
        image = image.resize((width, height), Image.Resampling.LANCZOS, reducing_gap=3.0)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality, optimize=False)
    return out.getvalue()


# Pillow's plugin classes are called directly, since the kind is known: no global opener is registered,
# and the size rule here is the only one.


def _pillow_image(file: BufferedReader, kind: str, name: str, max_megapixels: float) -> Image.Image:
    file.seek(0)
    with decoding(name):
        if kind == "HEIC":
            import pillow_heif

            heif: Any = pillow_heif
            image: Image.Image = heif.HeifImageFile(file)
        else:
            plugins: dict[str, Callable[[BufferedReader], Image.Image]] = {
                "JPEG": JpegImagePlugin.JpegImageFile,
                "PNG": PngImagePlugin.PngImageFile,
                "BMP": BmpImagePlugin.BmpImageFile,
                "WebP": WebPImagePlugin.WebPImageFile,
            }
            image = plugins[kind](file)
    check_size(name, *image.size, max_megapixels)
    return image


def _samples(image: Image.Image, file: BufferedReader) -> tuple[int, int]:
    """Channels and bits per sample as stored."""
    if image.format == "PNG":
        file.seek(24)
        return len(image.getbands()), file.read(1)[0]
    bits = 8 * (2 if ";16" in image.mode else 4 if image.mode in ("I", "F") else 1)
    bits = max(bits, int(image.info.get("bit_depth", 8)))  # HEIC may hold 10 or 12
    return len(image.getbands()), 1 if image.mode == "1" else bits


def _exif(image: Image.Image) -> Image.Exif:
    """EXIF of the header; the method of PNG pictures would decode every pixel to look behind them too."""
    return Image.Image.getexif(image)


def _stored_orientation(image: Image.Image) -> int:
    value = image.info.get("original_orientation") or _exif(image).get(TAG_ORIENTATION, 1)
    return int(value) if isinstance(value, int) and 1 <= value <= 8 else 1


def _taken(exif: Image.Exif) -> datetime | None:
    for value in (exif.get_ifd(TAG_EXIF_IFD).get(TAG_DATETIME_ORIGINAL), exif.get(TAG_DATETIME)):
        taken = exif_datetime(value)
        if taken is not None:
            return taken
    return None


def _quick_jpeg(path: str | Path, longest_px: int) -> Image.Image | None:
    """Decode a JPEG at a half, a quarter or an eighth of its size, upright; None when it is no plain JPEG."""
    with opened(path) as (file, kind, name):
        if kind != "JPEG":
            return None
        image = _pillow_image(file, kind, name, MAX_MEGAPIXELS)
        if image.mode not in ("RGB", "L"):
            return None
        share = longest_px / max(image.size)
        with decoding(name):
            image.draft(image.mode, (max(1, round(image.width * share)), max(1, round(image.height * share))))
            orientation = _stored_orientation(image)
            image.load()
        return Image.fromarray(upright(np.asarray(image), orientation))
