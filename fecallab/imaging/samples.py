"""Samples of a picture: any stored form to ``uint8`` or ``uint16``, upright, without transparency."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray
from PIL import Image

PictureArray: TypeAlias = NDArray[np.uint8] | NDArray[np.uint16]


def to_8bit(pixels: NDArray[Any]) -> NDArray[np.uint8]:
    """Bring a picture to 8 bits per sample for showing.

    Scope cameras store 10, 12 or 14 bits in 16; the smallest of these depths that holds the brightest sample
    is taken as full white, so that such pictures are not shown nearly black.

    Parameters
    ----------
    pixels : ndarray, shape (height, width) or (height, width, 3)
        ``uint8`` (returned as it is) or ``uint16``.

    Returns
    -------
    ndarray of uint8, same shape

    Raises
    ------
    ValueError
        Another type or shape.

    Examples
    --------
    >>> to_8bit(np.array([[0, 2048, 4095]], dtype=np.uint16)).tolist()
    [[0, 128, 255]]
    """
    if pixels.ndim not in (2, 3) or (pixels.ndim == 3 and pixels.shape[2] != 3) or pixels.size == 0:
        raise ValueError(f"a picture has shape (height, width) or (height, width, 3), got {pixels.shape}")
    if pixels.dtype == np.uint8:
        return pixels
    if pixels.dtype != np.uint16:
        raise ValueError(f"a picture is uint8 or uint16, got {pixels.dtype}")
    brightest = int(pixels.max())
    depth = next(bits for bits in (8, 10, 12, 14, 16) if brightest < 2**bits)
    return (pixels >> (depth - 8)).astype(np.uint8)


def from_pillow(image: Image.Image) -> PictureArray:
    """Decode a Pillow picture to grey or RGB (see :func:`fecallab.imaging.read.open_picture`)."""
    image.load()
    if image.mode == "I" or image.mode == "F":
        return to_integer(np.asarray(image))
    if image.mode.startswith("I;16"):
        return np.array(image).astype(np.uint16)
    if image.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in image.info:
        with_alpha = image.convert("RGBA")
        white = Image.new("RGBA", image.size, "white")
        flat = Image.alpha_composite(white, with_alpha).convert("RGB")
        return np.array(flat.convert("L") if image.mode in ("LA", "La") else flat)
    if image.mode in ("1", "L"):
        return np.array(image.convert("L"))
    return np.array(image.convert("RGB"))


def to_integer(values: NDArray[Any]) -> PictureArray:
    """Bring any sample type to uint8 or uint16 (see :func:`open_picture`)."""
    if values.dtype in (np.uint8, np.uint16):
        return values
    if values.dtype == np.bool_:
        return values.astype(np.uint8) * np.uint8(255)
    wide = values.astype(np.float64)
    finite = np.isfinite(wide)
    if not finite.any():
        raise ValueError("no finite sample")
    lowest, highest = float(wide[finite].min()), float(wide[finite].max())
    if values.dtype.kind in "iu" and lowest >= 0 and highest <= 65535:
        return values.astype(np.uint16)
    if values.dtype.kind != "f" or lowest < 0 or highest > 1:
        wide = (wide - lowest) / max(highest - lowest, np.finfo(np.float64).tiny)
    return np.round(np.where(finite, wide, 0.0).clip(0, 1) * 65535).astype(np.uint16)


def upright(pixels: PictureArray, orientation: int) -> PictureArray:
    """Apply an EXIF orientation (1 to 8) to an array."""
    turned: NDArray[Any] = pixels
    if orientation in (5, 6, 7, 8):
        turned = turned.swapaxes(0, 1)
    if orientation in (2, 3, 6, 7):
        turned = turned[:, ::-1]
    if orientation in (3, 4, 7, 8):
        turned = turned[::-1]
    return np.ascontiguousarray(turned)


def without_alpha(pixels: PictureArray) -> PictureArray:
    """Lay grey or colour with transparency over white."""
    if pixels.ndim == 2 or pixels.shape[2] == 3:
        return pixels
    channels = 1 if pixels.shape[2] == 2 else 3
    full = float(np.iinfo(pixels.dtype).max)
    alpha = pixels[..., channels : channels + 1] / full
    flat: NDArray[Any] = np.round(pixels[..., :channels] * alpha + full * (1 - alpha)).astype(pixels.dtype)
    return flat[..., 0] if channels == 1 else flat
