"""Films beside the page: made of pixels and times alone, each small enough for a mail, or left out with a word."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from fecallab.vet.page_model import PageToVet, VetClip

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

TRIES = ((1280, 21), (960, 27), (640, 32))
"""Longest side in pixels and strength of compression, one after the other until a mail carries it (own choice)."""


def with_films(page: PageToVet, most_bytes: int) -> tuple[PageToVet, list[tuple[str, bytes]]]:
    """Return the page and the films of its clips; a film that no mail can carry is no longer named on the page.

    Parameters
    ----------
    page : PageToVet
        With its clips.
    most_bytes : int
        Largest film.
    """
    films: list[tuple[str, bytes]] = []
    clips = []
    for clip in page.clips:
        plain, drawn = film_bytes(clip, most_bytes), tracks_film(clip, most_bytes)
        films += [
            (name, content)
            for name, content in ((clip.film_name, plain), (clip.tracks_name, drawn))
            if content
        ]
        clips.append(
            replace(
                clip,
                film_name=clip.film_name if plain else "",
                tracks_name=clip.tracks_name if drawn else "",
                film_left_out=not plain,
            )
        )
    return (replace(page, clips=tuple(clips)) if clips else page), films


def film_bytes(clip: VetClip, most_bytes: int) -> bytes:
    """Return the film as MP4 without sound, place and device; empty when it cannot be made small enough."""
    from fecallab.imaging.motility import open_clip

    if clip.film is None:
        return b""
    for longest_px, crf in TRIES:
        frames = open_clip(clip.film, clip.fps).frames(colour=True)
        content = _written(_smaller(frames, clip, longest_px), _rate(clip), crf)
        if len(content) <= most_bytes:
            return content
    return b""


def tracks_film(clip: VetClip, most_bytes: int) -> bytes:
    """Return the film with what moves drawn in; empty where nothing was worked out, or when it is too large."""
    from fecallab.imaging.motility import open_clip
    from fecallab.imaging.motility.paint import write_film

    if clip.found is None or clip.film is None:
        return b""
    with tempfile.TemporaryDirectory(prefix="fecallab-film-") as folder:
        target = Path(folder) / "tracks.mp4"
        write_film(open_clip(clip.film, clip.fps), clip.found, target)
        content = target.read_bytes()
        for longest_px, crf in TRIES[1:]:
            if len(content) <= most_bytes:
                return content
            frames = open_clip(target).frames(colour=True)
            content = _written(_smaller(frames, clip, longest_px), _rate(clip), crf)
    return content if len(content) <= most_bytes else b""


def _rate(clip: VetClip) -> float:
    return clip.fps or (clip.found.fps if clip.found is not None and clip.found.fps else 30.0)


def _smaller(
    frames: Iterator[tuple[float, NDArray[np.generic]]], clip: VetClip, longest_px: int
) -> Iterator[tuple[float, NDArray[np.uint8]]]:
    import numpy as np
    from PIL import Image

    from fecallab.imaging.read import to_8bit

    share = min(1.0, longest_px / max(clip.width_px, clip.height_px))
    width, height = (max(2, 2 * round(side * share / 2)) for side in (clip.width_px, clip.height_px))
    size = (width, height)
    for time, pixels in frames:
        image = Image.fromarray(to_8bit(pixels)).convert("RGB")
        if image.size != size:
            image = image.resize(size, Image.Resampling.LANCZOS)
        yield time, np.asarray(image)


def _written(frames: Iterator[tuple[float, NDArray[np.uint8]]], fps: float, crf: int) -> bytes:
    from fecallab.imaging.motility.film import write_video

    with tempfile.TemporaryDirectory(prefix="fecallab-film-") as folder:
        target = Path(folder) / "film.mp4"
        write_video(target, frames, fps, crf=crf)
        return target.read_bytes()
