"""TIFF and OME-TIFF: the first page, upright; the pixel size that the file states."""

from __future__ import annotations

import io
import re
from io import BufferedReader
from typing import Any

import numpy as np
from PIL import TiffImagePlugin

from fecallab.imaging.picture_files import (
    TAG_DATETIME,
    TAG_EXIF_IFD,
    TAG_ORIENTATION,
    PictureInfo,
    check_size,
    damaged,
    decoding,
    exif_datetime,
)
from fecallab.imaging.samples import PictureArray, from_pillow, to_integer, upright, without_alpha

# Metadata coarser than this is the print size of a photo (72 dpi = 353 um), not a microscope's pixel.
_COARSEST_BELIEVABLE_UM_PER_PX = 10.0
_UM_PER_UNIT = {
    "m": 1e6,
    "cm": 1e4,
    "mm": 1e3,
    "µm": 1.0,
    "um": 1.0,
    "micron": 1.0,
    "microns": 1.0,
    "nm": 1e-3,
}
# What tifffile decodes without extra codecs: none, LZMA, Deflate (two numbers), PackBits.
_PLAIN_COMPRESSIONS = {1, 8, 32946, 32773, 34925}


def _tiff_page(file: BufferedReader, name: str, max_megapixels: float) -> tuple[Any, Any]:
    """Open a TIFF and check its first page: size, and that every page's data lies inside the file."""
    import tifffile

    file.seek(0, io.SEEK_END)
    end = file.tell()
    file.seek(0)
    with decoding(name):
        tif = tifffile.TiffFile(file)
        page = tif.pages.first
        check_size(name, int(page.imagewidth), int(page.imagelength), max_megapixels)
        for one in tif.pages:
            spans = zip(one.dataoffsets, one.databytecounts, strict=True)
            if any(offset + count > end for offset, count in spans):
                raise damaged(name)
    return tif, page


def read_tiff(file: BufferedReader, name: str, max_megapixels: float) -> PictureArray:
    """Decode the first page of a TIFF, upright (see :func:`fecallab.imaging.read.open_picture`)."""
    _, page = _tiff_page(file, name, max_megapixels)
    with decoding(name):
        orientation = _tiff_orientation(page)
        photometric = int(page.photometric)
        if needs_libtiff(page):
            return upright(through_libtiff(file, 0), orientation)
        values = page.asarray()
        if photometric == 3 and page.colormap is not None:
            table = (np.asarray(page.colormap).T >> 8).astype(np.uint8)
            return upright(np.ascontiguousarray(table[values]), orientation)
        if values.ndim == 3 and int(page.planarconfig) == 2:
            values = np.moveaxis(values, 0, -1)
        if values.ndim != 2 and not (values.ndim == 3 and values.shape[2] >= 2):
            raise ValueError(f"unexpected shape {values.shape}")
        pixels = without_alpha(to_integer(values))
        if photometric == 0:  # white is zero
            pixels = np.iinfo(pixels.dtype).max - pixels
        return upright(pixels, orientation)


def needs_libtiff(page: Any) -> bool:
    """Say whether tifffile alone cannot decode a page: LZW, JPEG, CMYK, YCbCr."""
    return int(page.compression) not in _PLAIN_COMPRESSIONS or int(page.photometric) in (5, 6)


def through_libtiff(file: BufferedReader, number: int) -> PictureArray:
    """Decode a page by its number, through Pillow."""
    file.seek(0)
    image = TiffImagePlugin.TiffImageFile(file)
    image.seek(number)
    return from_pillow(image)


def _tiff_orientation(page: Any) -> int:
    tag = page.tags.get(TAG_ORIENTATION)
    value = int(tag.value) if tag is not None else 1
    return value if 1 <= value <= 8 else 1


def probe_tiff(file: BufferedReader, name: str, max_megapixels: float, digest: str, size: int) -> PictureInfo:
    """Read the header of a TIFF (see :func:`fecallab.imaging.read.probe`)."""
    tif, page = _tiff_page(file, name, max_megapixels)
    with decoding(name):
        orientation = _tiff_orientation(page)
        width, height = int(page.imagewidth), int(page.imagelength)
        if orientation >= 5:
            width, height = height, width
        exif = page.tags.get(TAG_EXIF_IFD)
        original = (
            exif.value.get("DateTimeOriginal") if exif is not None and isinstance(exif.value, dict) else None
        )
        plain = page.tags.get(TAG_DATETIME)
        bits = page.bitspersample
        return PictureInfo(
            format="OME-TIFF" if tif.is_ome else "TIFF",
            width_px=width,
            height_px=height,
            frames=len(tif.pages),
            channels=int(page.samplesperpixel),
            bits_per_sample=int(bits[0] if isinstance(bits, tuple) else bits),
            orientation=orientation,
            taken=exif_datetime(original) or exif_datetime(plain.value if plain is not None else None),
            metadata_um_per_px=_tiff_um_per_px(tif, page),
            sha256=digest,
            bytes=size,
        )


def _tiff_um_per_px(tif: Any, page: Any) -> float | None:
    """Pixel size from OME-XML, from an ``unit=`` note or from the resolution tags, when believable."""
    text = str(page.description or "")
    if tif.is_ome:
        value = re.search(r'\bPhysicalSizeX="([0-9.eE+-]+)"', text)
        unit = re.search(r'\bPhysicalSizeXUnit="([^"]+)"', text)
        return _believable(value.group(1) if value else None, unit.group(1) if unit else "µm")
    resolution = page.tags.get(282)
    if resolution is None or not resolution.value[0]:
        return None
    per_px = resolution.value[1] / resolution.value[0]
    note = re.search(r"^unit=(\S+)", text, re.MULTILINE)
    if note:
        return _believable(per_px, note.group(1).replace("\\u00B5", "µ"))
    unit_tag = page.tags.get(296)
    unit_number = int(unit_tag.value) if unit_tag is not None else 2
    return _believable(per_px * 2.54 if unit_number == 2 else per_px, "cm" if unit_number in (2, 3) else "")


def _believable(value: object, unit: str) -> float | None:
    try:
        um = float(str(value)) * _UM_PER_UNIT[unit.replace("μ", "µ")]
    except (ValueError, KeyError):
        return None
    return um if 0 < um <= _COARSEST_BELIEVABLE_UM_PER_PX else None
