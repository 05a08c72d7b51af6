"""Clips on the page: three stills each, and the film written anew beside it, without sound and without its place."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from fecallab.domain.errors import BadInput
from fecallab.vet.page_model import PageToVet, VetClip
from fecallab.vet.page_pictures import JPEG_QUALITY

STILLS_AT = (1 / 6, 1 / 2, 5 / 6)
"""Shares of the playing time from which the stills are taken (own choice)."""
STILL_LONGEST_PX = 900
FILM_LONGEST_PX = 1280
MOST_SECONDS = 120.0
"""A longer clip is cut by the keeper first (own choice: a mail would not carry it)."""
_TICKS = 90_000


def clips_of(page: PageToVet, files: Sequence[Path], stem: str) -> PageToVet:
    """Return the page with these clips as stills; the films are written by `film_bytes` later.

    Parameters
    ----------
    page : PageToVet
    files : sequence of Path
        Videos, TIFF stacks or folders of pictures.
    stem : str
        How the name of a film begins; the keeper's own file name stays here.

    Raises
    ------
    BadInput, CouldNot
        When a file is no clip, or too long.
    """
    clips = []
    for number, file in enumerate(files, start=1):
        times, width, height = _times(file)
        wanted = {min(len(times) - 1, int(share * len(times))): share for share in STILLS_AT}
        stills = _stills(file, sorted(wanted), times)
        clips.append(
            VetClip(
                title=f"clip {number}",
                stills=tuple(stills),
                width_px=width,
                height_px=height,
                seconds=times[-1],
                film=file,
                film_name=f"{stem}-clip-{number}.mp4",
            )
        )
    return replace(page, clips=tuple(clips)) if clips else page


def _times(file: Path) -> tuple[list[float], int, int]:
    from fecallab.imaging.motility.clips import open_clip

    clip = open_clip(file)
    times = []
    for time, _ in clip.frames():
        times.append(time)
        if time > MOST_SECONDS:
            raise BadInput(
                f"{file.name} is longer than {MOST_SECONDS:g} seconds.",
                next="Cut it to the part in which something moves.",
                code="clip-too-long",
            )
    return times, clip.width_px, clip.height_px


def _stills(file: Path, places: Sequence[int], times: Sequence[float]) -> list[tuple[float, bytes]]:
    from fecallab.imaging.motility.clips import open_clip
    from fecallab.imaging.read import scaled_jpeg

    stills = []
    for place, (_, pixels) in enumerate(open_clip(file).frames(colour=True)):
        if place in places:
            stills.append((times[place], scaled_jpeg(pixels, STILL_LONGEST_PX, JPEG_QUALITY)))
        if place >= places[-1]:
            break
    return stills


def film_bytes(clip: VetClip) -> bytes:
    """Return the film as MP4, made of pixels and times alone: no sound, no place, no device.

    Parameters
    ----------
    clip : VetClip
        With its file.
    """
    import av
    import numpy as np
    from PIL import Image

    from fecallab.imaging.motility.clips import open_clip
    from fecallab.imaging.read import to_8bit

    assert clip.film is not None
    share = min(1.0, FILM_LONGEST_PX / max(clip.width_px, clip.height_px))
    width, height = (max(2, 2 * round(side * share / 2)) for side in (clip.width_px, clip.height_px))
    out = io.BytesIO()
    with av.open(out, "w", format="mp4") as container:
        stream = container.add_stream("libx264", rate=30, options={"crf": "21", "preset": "veryfast"})
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.time_base = Fraction(1, _TICKS)
        for time, pixels in open_clip(clip.film).frames(colour=True):
            image = Image.fromarray(to_8bit(pixels)).convert("RGB")
            small = np.asarray(image.resize((width, height), Image.Resampling.LANCZOS))
            frame = av.VideoFrame.from_ndarray(small, format="rgb24")
            frame.pts, frame.time_base = round(time * _TICKS), Fraction(1, _TICKS)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return out.getvalue()
