"""A folder of numbered pictures as one file: a TIFF of many pages that holds every picture as it was decoded."""

from __future__ import annotations

import tempfile
from collections.abc import Generator
from dataclasses import dataclass
from pathlib import Path

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.imaging.motility.clips import open_clip, pictures_in_order
from fecallab.imaging.read import open_picture

_TIFF_HEADS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_CLASSIC_BYTES = 3_500_000_000  # what a plain TIFF can surely address; larger ones are written as BigTIFF


@dataclass(frozen=True)
class ReadyClip:
    """A clip as one file.

    Attributes
    ----------
    file : Path
        The file that was given, or the one made of a folder.
    name : str
        What to call it in the records.
    pictures : int
        How many pictures of a folder it was made of; 0 where it is a file as it came.
    """

    file: Path
    name: str
    pictures: int = 0
    _made_in: tempfile.TemporaryDirectory[str] | None = None

    def close(self) -> None:
        """Delete what was made of a folder; a file that was given stays."""
        if self._made_in is not None:
            self._made_in.cleanup()


def is_tiff(path: Path) -> bool:
    """Say whether a file is a TIFF by its first bytes, whatever its name."""
    try:
        with path.open("rb") as file:
            return file.read(4) in _TIFF_HEADS
    except OSError:
        return False


def is_timed_stack(path: Path) -> bool:
    """Say whether a file is a TIFF of many pages that says when they were taken; others may as well be depths of focus."""
    if not is_tiff(path):
        return False
    try:
        open_clip(path)
    except (BadInput, CouldNot):
        return False
    return True


def ready_clip(path: Path, fps: float | None = None) -> ReadyClip:
    """Return a clip as one file; see `ready_steps`."""
    steps = ready_steps(path, fps)
    while True:
        try:
            next(steps)
        except StopIteration as end:
            made: ReadyClip = end.value
            return made


def ready_steps(path: Path, fps: float | None = None) -> Generator[tuple[int, int], None, ReadyClip]:
    """Make a clip one file: a file stays as it is, a folder becomes a TIFF without loss.

    Every page is compressed by Deflate and holds one picture upright, sample by sample as it was decoded. The
    rate is no part of the file, so that the same pictures at another rate are known as the same.

    Parameters
    ----------
    path : Path
        A video, a TIFF stack or a folder of numbered pictures.
    fps : float, optional
        Frames per second; must be given where the clip does not hold its times, as a folder never does.

    Yields
    ------
    tuple of int
        Pictures done, pictures in all.

    Raises
    ------
    BadInput
        No clip, a single picture, a picture of another size or damaged, no times.
    CouldNot
        The disk stands in the way.
    """
    clip = open_clip(path, fps)
    if not path.is_dir():
        return ReadyClip(path, path.name)
    files = pictures_in_order(path)
    name = f"{path.resolve().name}.tif"
    made_in = tempfile.TemporaryDirectory(prefix="fecallab-clip-")
    try:
        target = Path(made_in.name) / "clip.tif"
        yield from _written(files, target, (clip.height_px, clip.width_px))
    except BaseException as error:
        made_in.cleanup()
        if isinstance(error, OSError):
            raise CouldNot(
                f"The pictures of {path.name} could not be put into one file: {error.strerror or error}.",
                next="Free some space on the disk and repeat.",
                code="clip-not-written",
            ) from error
        raise
    return ReadyClip(target, name, len(files), made_in)


def _written(files: list[Path], target: Path, size: tuple[int, int]) -> Generator[tuple[int, int]]:
    import tifffile

    large = len(files) * size[0] * size[1] * 6 > _CLASSIC_BYTES
    with tifffile.TiffWriter(target, bigtiff=large) as stack:
        for done, file in enumerate(files, 1):
            pixels = open_picture(file)
            if pixels.shape[:2] != size:
                raise BadInput(
                    f"{file.name} has {pixels.shape[1]} × {pixels.shape[0]} pixels, {files[0].name} has"
                    f" {size[1]} × {size[0]}; the pictures of a clip have one size.",
                    next="Put the pictures of one clip into a folder of their own.",
                    code="clip-sizes",
                )
            stack.write(
                pixels,
                photometric="rgb" if pixels.ndim == 3 else "minisblack",
                compression="zlib",
                compressionargs={"level": 1},
                predictor=True,
                metadata=None,
                software="",
            )
            yield done, len(files)
