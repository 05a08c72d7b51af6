"""Pictures for the canvas: small ones whole, large ones strip by strip into a file with smaller copies.

What the person may see is an upright picture, or one clear line; nothing that a decoder raises comes through.
"""

from __future__ import annotations

import tempfile
from collections.abc import Generator, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fecallab.domain.errors import BadInput, CouldNot

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL import Image

    from fecallab.imaging.read import PictureArray

LARGE_MEGAPIXELS = 40.0
"""Larger pictures are laid out in a file of the disk instead of in memory (own choice)."""
STRIP_ROWS = 512
SMALLEST_LEVEL_PX = 1024
Steps = Generator[tuple[int, int], None, "CanvasPicture"]
"""Work that says how far it is (done, whole) and can be stopped between two steps."""


@dataclass(frozen=True)
class CanvasPicture:
    """A picture as the canvas takes it.

    Attributes
    ----------
    levels : tuple of ndarray
        The picture itself first, then copies of half the size each.
    rgb : bool
    white : float
        Sample value that is shown as white.
    remarks : tuple of str
        What the person should know of it.
    on_disk : TemporaryDirectory or None
        Where the levels of a large picture lie; they go with it.
    """

    levels: tuple[NDArray[Any], ...]
    rgb: bool
    white: float
    remarks: tuple[str, ...] = ()
    on_disk: tempfile.TemporaryDirectory[str] | None = field(default=None, repr=False, compare=False)

    @property
    def width_px(self) -> int:
        """Columns of the picture."""
        return int(self.levels[0].shape[1])

    @property
    def height_px(self) -> int:
        """Rows of the picture."""
        return int(self.levels[0].shape[0])


def canvas_picture(path: Path) -> CanvasPicture:
    """Read a picture at once (see `read_steps`)."""
    steps = read_steps(path)
    while True:
        try:
            next(steps)
        except StopIteration as done:
            picture: CanvasPicture = done.value
            return picture


def read_steps(path: Path) -> Steps:
    """Read a picture for the canvas, step by step.

    Parameters
    ----------
    path : Path
        Any picture that :func:`fecallab.imaging.read.open_picture` reads.

    Yields
    ------
    tuple of int
        Steps done, steps in all; closing the generator stops the work and leaves nothing behind.

    Returns
    -------
    CanvasPicture

    Raises
    ------
    BadInput, CouldNot
        With one line that can be shown.
    """
    from fecallab.imaging.read import open_picture, probe

    info = probe(path)
    yield 0, 1
    remarks = (
        [f"{path.name} holds {info.frames} pictures; the first one is shown."] if info.frames > 1 else []
    )
    if info.width_px * info.height_px <= LARGE_MEGAPIXELS * 1e6:
        pixels = open_picture(path)
        yield 1, 1
        return _in_memory(pixels, remarks)
    picture = yield from _on_disk(path, info.orientation if info.format != "HEIC" else 1, remarks)
    return picture


def dark_remark(pixels: NDArray[Any], white: float) -> list[str]:
    """Return the line about a picture in which there is nothing to see."""
    some = pixels[:: max(1, pixels.shape[0] // 256), :: max(1, pixels.shape[1] // 256)]
    if float(some.max()) <= 0.02 * white:
        return ["The picture is black: is the lamp on and the camera over the eyepiece?"]
    if pixels.shape[0] < 16 or pixels.shape[1] < 16:
        return [
            f"The picture is only {pixels.shape[1]} × {pixels.shape[0]} pixels; nothing can be told in it."
        ]
    return []


def _in_memory(pixels: PictureArray, remarks: list[str]) -> CanvasPicture:
    from fecallab.imaging.grey import full_white
    from fecallab.imaging.read import to_8bit

    rgb = pixels.ndim == 3
    shown: NDArray[Any] = to_8bit(pixels) if rgb else pixels
    white = full_white(shown)
    return CanvasPicture((shown,), rgb, white, (*remarks, *dark_remark(shown, white)))


def _on_disk(path: Path, orientation: int, remarks: list[str]) -> Steps:
    folder = tempfile.TemporaryDirectory(prefix="fecallab-picture-", ignore_cleanup_errors=True)
    try:
        whole, found = 0, None
        for strip_of, done, whole in _strips(path, Path(folder.name)):
            found = strip_of
            yield done, whole + 2
        assert found is not None
        full: NDArray[Any] = found
        levels = [_turned(full, orientation)]
        while max(levels[-1].shape[:2]) > SMALLEST_LEVEL_PX:
            levels.append(_halved(levels[-1], Path(folder.name) / f"level{len(levels)}.raw"))
            yield whole + 1, whole + 2
    except BaseException as error:
        folder.cleanup()
        if isinstance(error, OSError):
            raise CouldNot(
                f"{path.name} could not be laid out on the disk: {error.strerror or error}.",
                next="Make room on the disk, then open the field again.",
                code="picture-no-room",
            ) from error
        raise
    white = 255.0
    if full.dtype != np.uint8:
        brightest = int(levels[-1].max())
        white = float(next(2**bits - 1 for bits in (8, 10, 12, 14, 16) if brightest < 2**bits))
    rgb = full.ndim == 3
    return CanvasPicture(tuple(levels), rgb, white, (*remarks, *dark_remark(levels[-1], white)), folder)


def _strips(path: Path, folder: Path) -> Iterator[tuple[NDArray[Any], int, int]]:
    """Decode into a file; yields it with the strips done and the strips in all."""
    from fecallab.imaging.picture_files import decoding, opened
    from fecallab.imaging.samples import from_pillow, to_8bit

    with opened(path) as (file, kind, name):
        if kind == "TIFF":
            yield from _tiff_strips(path, folder)
            return
        with decoding(name):
            image = _image(file, kind)
            if image.mode in ("I", "F"):
                raise BadInput(
                    f"{name} holds more than {LARGE_MEGAPIXELS:g} megapixels of a kind that is not read in parts.",
                    next="Save it as PNG, JPEG or TIFF with 8 or 16 bits.",
                    code="picture-too-large",
                )
            width, height = image.size
            first = from_pillow(image.crop((0, 0, width, 1)))
            deep = first.dtype == np.uint16 and first.ndim == 2
            full = _file_array(
                folder / "level0.raw", (height, *first.shape[1:]), np.uint16 if deep else np.uint8
            )
            whole = -(-height // STRIP_ROWS)
            for number in range(whole):
                top = number * STRIP_ROWS
                strip = from_pillow(image.crop((0, top, width, min(height, top + STRIP_ROWS))))
                full[top : top + STRIP_ROWS] = strip if deep else to_8bit(strip)
                yield full, number + 1, whole


def _image(file: Any, kind: str) -> Image.Image:
    from PIL import BmpImagePlugin, JpegImagePlugin, PngImagePlugin, WebPImagePlugin

    if kind == "HEIC":
        import pillow_heif

        heif: Any = pillow_heif
        made: Image.Image = heif.HeifImageFile(file)
        return made
    plugins: dict[str, Any] = {
        "JPEG": JpegImagePlugin.JpegImageFile,
        "PNG": PngImagePlugin.PngImageFile,
        "BMP": BmpImagePlugin.BmpImageFile,
        "WebP": WebPImagePlugin.WebPImageFile,
    }
    image: Image.Image = plugins[kind](file)
    image.load()
    return image


def _tiff_strips(path: Path, folder: Path) -> Iterator[tuple[NDArray[Any], int, int]]:
    import tifffile

    from fecallab.imaging.picture_files import decoding
    from fecallab.imaging.samples import to_integer, without_alpha

    with decoding(path.name), tifffile.TiffFile(path) as tif:
        page: Any = tif.pages.first
        if int(page.photometric) not in (0, 1, 2) or int(page.planarconfig) == 2:
            raise BadInput(
                f"{path.name} holds more than {LARGE_MEGAPIXELS:g} megapixels of a kind that is not read in parts.",
                next="Save it as a plain grey or RGB TIFF, or as JPEG.",
                code="picture-too-large",
            )
        stored = page.asarray(out=str(folder / "stored.raw"))
        height = stored.shape[0]
        lowest, highest = 0.0, 1.0
        if stored.dtype.kind == "f" or stored.dtype.itemsize > 2:
            lowest, highest = float(np.nanmin(stored)), float(np.nanmax(stored))
        whole = -(-height // STRIP_ROWS)
        full: NDArray[Any] | None = None
        for number in range(whole):
            strip = stored[number * STRIP_ROWS : (number + 1) * STRIP_ROWS]
            if (lowest, highest) != (0.0, 1.0):
                strip = (strip.astype(np.float32) - lowest) / max(highest - lowest, 1e-30)
            pixels = without_alpha(to_integer(strip))
            if int(page.photometric) == 0:
                pixels = np.iinfo(pixels.dtype).max - pixels
            if pixels.ndim == 3 and pixels.dtype == np.uint16:
                pixels = (pixels >> 8).astype(np.uint8)
            if full is None:
                full = _file_array(folder / "level0.raw", (height, *pixels.shape[1:]), pixels.dtype)
            full[number * STRIP_ROWS : (number + 1) * STRIP_ROWS] = pixels
            yield full, number + 1, whole


def _file_array(path: Path, shape: tuple[int, ...], dtype: Any) -> NDArray[Any]:
    made: NDArray[Any] = np.memmap(path, dtype=dtype, mode="w+", shape=shape)
    return made


def _turned(pixels: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Apply an EXIF orientation without copying."""
    turned = pixels
    if orientation in (5, 6, 7, 8):
        turned = turned.swapaxes(0, 1)
    if orientation in (2, 3, 6, 7):
        turned = turned[:, ::-1]
    if orientation in (3, 4, 7, 8):
        turned = turned[::-1]
    return turned


def _halved(pixels: NDArray[Any], path: Path) -> NDArray[Any]:
    """Return a copy of half the size, each pixel the mean of four."""
    rows, columns = (max(1, side // 2) for side in pixels.shape[:2])
    half = _file_array(path, (rows, columns, *pixels.shape[2:]), pixels.dtype)
    for top in range(0, rows, STRIP_ROWS):
        strip = pixels[2 * top : 2 * min(rows, top + STRIP_ROWS), : 2 * columns]
        four = strip.reshape(strip.shape[0] // 2, 2, columns, 2, *strip.shape[2:])
        half[top : top + STRIP_ROWS] = four.mean(axis=(1, 3), dtype=np.float32).astype(pixels.dtype)
    return half
