"""Clips as a lazily read stack of frames: only the frames that are looked at are decoded."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.imaging.clip_stack import is_tiff
from fecallab.imaging.picture_files import decoding
from fecallab.imaging.samples import to_integer, without_alpha

if TYPE_CHECKING:
    from numpy.typing import NDArray

KEPT_FRAMES = 48
"""Decoded frames that are kept, so that playing back and forth does not decode again (own choice)."""
NOT_HERE = "Clips are read with PyAV, which is not installed."


class Frames:
    """The frames of a clip, shape (frames, rows, columns, 3), ``uint8``.

    Attributes
    ----------
    fps : float
        How fast it plays.
    times_s : ndarray, shape (frames,)
        Times from the first frame.
    """

    ndim = 4
    dtype = np.dtype(np.uint8)
    shape: tuple[int, ...]
    fps: float
    times_s: NDArray[np.float64]

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = threading.RLock()
        self._kept: dict[int, NDArray[np.uint8]] = {}
        if not path.is_file():
            raise BadInput(f"There is no file {path}.", next="Check the name.", code="clip-missing")

    def __len__(self) -> int:
        return self.shape[0]

    def __getitem__(self, index: Any) -> NDArray[np.uint8]:
        rest: tuple[Any, ...] = ()
        if isinstance(index, tuple):
            index, rest = index[0], index[1:]
        if isinstance(index, slice):
            frames = [self.frame(number) for number in range(*index.indices(len(self)))]
            stack = np.stack(frames) if frames else np.empty((0, *self.shape[1:]), np.uint8)
            return np.asarray(stack[(slice(None), *rest)])
        return np.asarray(self.frame(int(index))[rest])

    def frame(self, number: int) -> NDArray[np.uint8]:
        """Return one frame; a frame that cannot be decoded is grey, so that the rest can still be seen."""
        number = range(len(self))[number]
        with self._lock:
            if number in self._kept:
                return self._kept[number]
            made = self._decoded(number)
            if made is None:
                made = np.full(self.shape[1:], 128, np.uint8)
            self._kept[number] = made
            while len(self._kept) > KEPT_FRAMES:
                self._kept.pop(next(iter(self._kept)))
            return made

    def _decoded(self, number: int) -> NDArray[np.uint8] | None:
        raise NotImplementedError

    def lazily(self) -> Any:
        """Return a dask array that decodes what is looked at."""
        import dask.array

        lazy: Any = dask.array
        return lazy.from_array(
            self,
            chunks=(1, *self.shape[1:]),
            name=False,
            asarray=False,
            fancy=False,
            meta=np.empty((0,) * 4, np.uint8),
        )


class ClipFrames(Frames):
    """The frames of a video.

    Parameters
    ----------
    path : Path
        MP4, MOV, AVI, Matroska …

    Raises
    ------
    CouldNot
        PyAV is not installed.
    BadInput
        No such file, no clip, or nothing in it can be decoded.
    """

    def __init__(self, path: Path) -> None:
        try:
            import av
        except ImportError as error:
            raise CouldNot(NOT_HERE, next="Type: pip install av", code="clip-no-reader") from error
        super().__init__(path)
        self._next = 0
        try:
            self._container = av.open(str(path))
            stream = self._container.streams.video[0]
            stream.thread_type = "AUTO"
            self._times = sorted(
                packet.pts for packet in self._container.demux(stream) if packet.pts is not None
            )
            self._stream: Any = stream
            self.fps = float(stream.average_rate or stream.base_rate or 25)
            base = float(stream.time_base or 0)
            self.times_s = np.array([base * (pts - self._times[0]) for pts in self._times])
            self._rewind()
            first = self._read(0)
        except (av.error.FFmpegError, IndexError, StopIteration, ValueError, OSError) as error:
            raise BadInput(
                f"{path.name} is no clip that can be read.",
                next="Give an MP4, MOV, AVI or MKV file, or save a still picture.",
                code="clip-unknown",
            ) from error
        self.shape = (len(self._times), *first.shape)

    def _decoded(self, number: int) -> NDArray[np.uint8] | None:
        import av

        try:
            return self._read(number)
        except (av.error.FFmpegError, StopIteration):
            return None

    def _rewind(self, to: int = 0) -> None:
        self._container.seek(self._times[to], stream=self._stream)
        self._frames = self._container.decode(self._stream)

    def _read(self, number: int) -> NDArray[np.uint8]:
        wanted = self._times[number]
        if not self._next <= number < self._next + 30:
            self._rewind(number)
        for frame in self._frames:
            if frame.pts is not None and frame.pts >= wanted:
                self._next = number + 1
                turns = round(float(getattr(frame, "rotation", 0) or 0) / 90) % 4
                return np.ascontiguousarray(np.rot90(frame.to_ndarray(format="rgb24"), turns))
        self._next = len(self._times) + 1
        raise StopIteration


class StackFrames(Frames):
    """The pages of a TIFF stack.

    Parameters
    ----------
    path : Path
    fps : float, optional
        Frames per second; those that the file states without that.

    Raises
    ------
    BadInput, CouldNot
        No stack, damaged, no times in it and none given.
    """

    def __init__(self, path: Path, fps: float | None = None) -> None:
        import tifffile

        from fecallab.imaging.grey import full_white
        from fecallab.imaging.motility import open_clip

        super().__init__(path)
        clip = open_clip(path, fps)
        with decoding(path.name):
            self._tiff = tifffile.TiffFile(path)
            size = (clip.height_px, clip.width_px)
            # a small preview may stand beside the frames
            self._pages = [k for k, page in enumerate(self._tiff.pages) if tuple(page.shape[:2]) == size]
            self._white = full_white(without_alpha(to_integer(self._tiff.pages[self._pages[0]].asarray())))
        times = [time for _, (time, _) in zip(range(2), clip.frames(), strict=False)]
        self.fps = 1 / times[1] if len(times) == 2 else 25.0
        self.times_s = np.arange(len(self._pages)) / self.fps
        self.shape = (len(self._pages), *size, 3)

    def _decoded(self, number: int) -> NDArray[np.uint8] | None:
        try:
            values = without_alpha(to_integer(self._tiff.pages[self._pages[number]].asarray()))
        except Exception:  # a damaged page: the decoders raise whatever they like
            return None
        white = 255.0 if values.dtype == np.uint8 else max(self._white, 255.0)
        eight = np.clip(values * (255.0 / white), 0, 255).astype(np.uint8) if white != 255.0 else values
        return np.ascontiguousarray(eight if eight.ndim == 3 else np.repeat(eight[..., None], 3, axis=2))


def clip_frames(path: Path, fps: float | None = None) -> Frames:
    """Open a clip to look at: a video, or a TIFF stack at the rate that was given for it."""
    return StackFrames(path, fps) if is_tiff(path) else ClipFrames(path)
