"""Write a video that any phone plays: H.264 in MP4, with the true time of every frame."""

from __future__ import annotations

import os
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fecallab.domain.errors import CouldNot

_TICKS = 90_000


def write_video(
    target: Path,
    frames: Iterable[tuple[float, NDArray[Any]]],
    fps: float,
    *,
    crf: int = 21,
    repeatable: bool = False,
) -> int:
    """Write frames with their times.

    Parameters
    ----------
    target : Path
        ``.mp4``, ``.mov`` or ``.avi``; an existing file is replaced when the new one is whole.
    frames : iterable of (time_s, pixels)
        Grey (height, width) or RGB (height, width, 3) of ``uint8``; times increase. An odd last row or column is left out.
    fps : float
        The usual rate, for players that ask.
    crf : int, optional
        Strength of compression: 18 is hardly seen, 35 is a poor phone.
    repeatable : bool, optional
        Whether the same frames must give the same file on one machine: by one thread, which does not look ahead,
        so more slowly and to larger files.

    Returns
    -------
    int
        Frames written.

    Raises
    ------
    CouldNot
        The disk or its permissions stand in the way.
    """
    import av

    part = target.with_name(f".{target.stem}.{os.getpid()}.part{target.suffix}")
    modern = target.suffix.lower() != ".avi" and "libx264" in av.codecs_available
    codec = "libx264" if modern else "mpeg4"
    count, last = 0, -1
    try:
        with av.open(str(part), "w") as out:
            stream: Any = out.add_stream(codec, rate=Fraction(max(fps, 0.01)).limit_denominator(1000))
            stream.pix_fmt = "yuv420p"
            if target.suffix.lower() != ".avi":
                stream.codec_context.time_base = Fraction(1, _TICKS)
            base = stream.codec_context.time_base or Fraction(1, _TICKS)
            for time, pixels in frames:
                even = np.ascontiguousarray(pixels[: pixels.shape[0] // 2 * 2, : pixels.shape[1] // 2 * 2])
                if count == 0:
                    stream.height, stream.width = even.shape[:2]
                    if codec == "libx264":
                        stream.options = {"crf": str(crf), "preset": "veryfast"} | (
                            # what looks ahead decides by more than the frames
                            {"threads": "1", "x264-params": "rc-lookahead=0:mbtree=0"} if repeatable else {}
                        )
                    else:
                        stream.bit_rate = 6_000_000
                picture = av.VideoFrame.from_ndarray(even, format="rgb24" if even.ndim == 3 else "gray")
                frame = picture.reformat(format="yuv420p")  # by the encoder it is not the same each time
                last = max(last + 1, round(time / base))
                frame.pts, frame.time_base = last, base
                out.mux(stream.encode(frame))
                count += 1
            out.mux(stream.encode())
        part.replace(target)
    except OSError as error:
        raise CouldNot(
            f"{target} could not be written: {error.strerror or error}.",
            next="Choose another folder or free some space.",
            code="not-written",
        ) from error
    finally:
        part.unlink(missing_ok=True)
    return count
