"""Read a clip: MP4, MOV, AVI and other videos, TIFF stacks, folders of pictures; true times, upright, frame by frame.

Nothing is held but the frame at hand. Times come from the file's own time stamps, since phones change their
rate while they film; a rate that is given goes before them (slow motion is stored with false times).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fecallab.domain.errors import BadInput, CouldNot, FecallabError
from fecallab.domain.spoken import number_of
from fecallab.imaging.picture_files import decoding, opened
from fecallab.imaging.samples import to_8bit

Pixels = NDArray[Any]
_PICTURES = {".png", ".jpg", ".jpeg", ".tif", ".tiff", ".bmp", ".webp", ".heic"}
_MOST_MEGAPIXELS = 40.0  # of one frame (own choice: above 8K video)
_ASK = "Give a video (MP4, MOV, AVI), a TIFF stack or a folder of numbered pictures."


@dataclass
class Clip:
    """A clip that can be gone through more than once.

    Attributes
    ----------
    name : str
        Of the file or folder.
    width_px, height_px : int
        Upright size.
    stated_frames : int or None
        How many frames the file says it holds.
    cut_short : bool
        Set when the last pass met damage before the end.
    """

    name: str
    width_px: int
    height_px: int
    stated_frames: int | None
    _passes: Callable[[bool], Iterator[tuple[float, Pixels]]]
    cut_short: bool = field(default=False)

    def frames(self, colour: bool = False) -> Iterator[tuple[float, Pixels]]:
        """Go through the frames: time in seconds from the first one, and pixels.

        Parameters
        ----------
        colour : bool, optional
            True yields RGB of ``uint8``; False one grey value, ``uint8`` or ``uint16``.
        """
        first: float | None = None
        last = -1.0
        for time, pixels in self._passes(colour):
            first = time if first is None else first
            if time - first > last:  # a time stamp that stands still or runs back is a repeated frame
                last = time - first
                yield last, pixels


def open_clip(source: str | Path | Clip | Pixels, fps: float | None = None) -> Clip:
    """Open a clip and look at its first frame.

    Parameters
    ----------
    source : path, Clip or ndarray
        A video, a TIFF stack, a folder of pictures in the order of their numbers, or frames as an array of shape
        (time, height, width) or (time, height, width, 3).
    fps : float, optional
        Frames per second; goes before the times in the file, and is needed where there are none.

    Raises
    ------
    BadInput
        No clip, a single picture, damaged, or without times.
    CouldNot
        The disk or its permissions stand in the way.
    """
    if fps is not None and not (np.isfinite(fps) and fps > 0):
        raise BadInput(f"--fps is {fps:g}; it is above 0.", next="Type: --fps 30", code="fps-range")
    if isinstance(source, Clip):
        return source
    if isinstance(source, np.ndarray):
        return _of_array(source, fps)
    path = Path(source)
    if path.is_dir():
        return _of_folder(path, fps)
    try:
        with opened(path) as (_, kind, name):
            if kind != "TIFF":
                raise BadInput(
                    f"{name} is a still picture; nothing can move in it.", next=_ASK, code="clip-is-picture"
                )
        return _of_tiff(path, fps)
    except BadInput as error:
        if error.reason.code == "picture-is-video":
            return _of_video(path, fps)
        if error.reason.code == "picture-unknown":
            raise BadInput(
                f"{path.name} is no clip that can be read.", next=_ASK, code="clip-unknown"
            ) from error
        if error.reason.code == "picture-empty":
            raise BadInput(
                f"{path.name} is empty (0 bytes).", next="Copy it from the camera again.", code="clip-empty"
            ) from error
        raise


def _need_fps(name: str, fps: float | None) -> float:
    if fps is None:
        raise BadInput(
            f"{name} holds no times, so no speed can be told.",
            next="Give the frames per second: --fps 30",
            code="clip-no-times",
        )
    return fps


def _checked(name: str, width: int, height: int) -> None:
    if width * height > _MOST_MEGAPIXELS * 1e6:
        raise BadInput(
            f"{name} has frames of {width} × {height} pixels; the limit is {_MOST_MEGAPIXELS:g} megapixels.",
            next="Save it smaller.",
            code="clip-too-large",
        )


def _grey(pixels: Pixels) -> Pixels:
    if pixels.ndim == 2:
        return pixels
    return np.asarray(pixels[..., :3] @ np.array([0.299, 0.587, 0.114], np.float32) + 0.5, pixels.dtype)


def _shown(pixels: Pixels, colour: bool) -> Pixels:
    if not colour:
        return _grey(pixels)
    eight = to_8bit(pixels)
    return eight if eight.ndim == 3 else np.repeat(eight[..., None], 3, axis=2)


def _of_array(frames: Pixels, fps: float | None) -> Clip:
    rate = _need_fps("The array of frames", fps)
    colour_axis = frames.ndim == 4 and frames.shape[3] == 3
    if not (frames.ndim == 3 or colour_axis) or frames.dtype not in (np.uint8, np.uint16) or not frames.size:
        raise BadInput(
            f"Frames have shape {frames.shape} and type {frames.dtype}.",
            next="Give (time, height, width) or (time, height, width, 3) of uint8 or uint16.",
            code="clip-array",
        )

    def passes(colour: bool) -> Iterator[tuple[float, Pixels]]:
        for k, one in enumerate(frames):
            yield k / rate, _shown(one, colour)

    return Clip("frames", frames.shape[2], frames.shape[1], len(frames), passes)


def pictures_in_order(folder: Path) -> list[Path]:
    """Return the pictures of a folder in the order of the numbers in their names: 2 before 10."""
    return sorted(
        (one for one in folder.iterdir() if one.suffix.lower() in _PICTURES and not one.name.startswith(".")),
        key=lambda one: [
            int(part) if part.isdigit() else part for part in re.split(r"(\d+)", one.name.lower())
        ],
    )


def _of_folder(folder: Path, fps: float | None) -> Clip:
    from fecallab.imaging.read import open_picture

    files = pictures_in_order(folder)
    if len(files) < 2:
        raise BadInput(
            f"{folder.name or folder} holds {number_of(len(files), 'picture') if files else 'no picture'}; a clip needs more.",
            next=_ASK,
            code="clip-is-picture",
        )
    rate = _need_fps(folder.name, fps)
    height, width = open_picture(files[0]).shape[:2]
    _checked(folder.name, width, height)

    def passes(colour: bool) -> Iterator[tuple[float, Pixels]]:
        for k, file in enumerate(files):
            pixels = open_picture(file)
            if pixels.shape[:2] != (height, width):
                raise BadInput(
                    f"{file.name} has another size than {files[0].name}.",
                    next="Put the pictures of one clip into a folder of their own.",
                    code="clip-sizes",
                )
            yield k / rate, _shown(pixels, colour)

    return Clip(folder.name, width, height, len(files), passes)


def _of_tiff(path: Path, fps: float | None) -> Clip:
    import tifffile

    from fecallab.imaging.tiff import needs_libtiff, through_libtiff

    with decoding(path.name), tifffile.TiffFile(path) as tiff:
        count = len(tiff.pages)
        page = tiff.pages[0]
        height, width = int(page.shape[0]), int(page.shape[1])
        about = tiff.imagej_metadata or {}
        interval = float(about.get("finterval") or 0) or (
            1 / float(about["fps"]) if about.get("fps") else 0.0
        )
        if not interval and tiff.ome_metadata:
            found = re.search(r'TimeIncrement="([0-9.eE+-]+)"', tiff.ome_metadata)
            interval = float(found.group(1)) if found else 0.0
    if count < 2:
        raise BadInput(
            f"{path.name} is a still picture; nothing can move in it.", next=_ASK, code="clip-is-picture"
        )
    rate = fps or (1 / interval if interval > 0 else _need_fps(path.name, None))
    _checked(path.name, width, height)
    clip = Clip(path.name, width, height, count, lambda colour: passes(colour))

    def passes(colour: bool) -> Iterator[tuple[float, Pixels]]:
        with path.open("rb") as file, tifffile.TiffFile(path) as stack:
            for k in range(count):
                try:
                    page = stack.pages[k]
                    pixels = through_libtiff(file, k) if needs_libtiff(page) else page.asarray()
                except Exception as error:
                    if k == 0:
                        raise _damaged(path.name) from error
                    clip.cut_short = True
                    return
                if pixels.shape[:2] != (height, width):
                    continue  # a small preview beside the frames
                yield k / rate, _shown(pixels, colour)

    return clip


def _damaged(name: str) -> BadInput:
    return BadInput(
        f"{name} is damaged or cut short; it cannot be played.",
        next="Copy it from the phone again, whole.",
        code="clip-damaged",
    )


def _of_video(path: Path, fps: float | None) -> Clip:
    import av

    try:
        with av.open(str(path)) as container:
            if not container.streams.video:
                raise BadInput(f"{path.name} holds sound but no picture.", next=_ASK, code="clip-no-video")
            stream = container.streams.video[0]
            _checked(path.name, stream.codec_context.width, stream.codec_context.height)
            first = next(container.decode(stream), None)
            if first is None:
                raise _damaged(path.name)
            turned = first.rotation % 180 != 0
            width, height = (first.height, first.width) if turned else (first.width, first.height)
            stated = stream.frames or None
            timed = first.time is not None
            usual = float(stream.average_rate) if stream.average_rate else None
    except FecallabError:
        raise
    except PermissionError as error:
        raise CouldNot(
            f"{path.name} may not be read: permission denied.",
            next="Change the file's permissions, or copy it to your own folder.",
            code="clip-permission",
        ) from error
    except Exception as error:
        raise _damaged(path.name) from error
    rate = fps if fps is not None else (None if timed else usual or _need_fps(path.name, None))
    clip = Clip(path.name, width, height, stated, lambda colour: passes(colour))

    def passes(colour: bool) -> Iterator[tuple[float, Pixels]]:
        with av.open(str(path)) as container:
            stream = container.streams.video[0]
            stream.thread_type = "AUTO"
            frames = container.decode(stream)
            k = 0
            while True:
                try:
                    frame = next(frames)
                except StopIteration:
                    break
                except Exception as error:
                    if k == 0:
                        raise _damaged(path.name) from error
                    clip.cut_short = True
                    break
                pixels = frame.to_ndarray(format="rgb24" if colour else "gray")
                if frame.rotation:
                    pixels = np.rot90(pixels, round(frame.rotation / 90) % 4)
                time = k / rate if rate is not None else frame.time
                k += 1
                if time is not None and pixels.shape[:2] == (height, width):
                    yield float(time), pixels
            if stated and k < 0.9 * stated:
                clip.cut_short = True

    return clip
