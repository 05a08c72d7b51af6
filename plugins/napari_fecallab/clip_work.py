"""Works out what moves in a clip step by step: with progress, and so that it can be called off; no Qt in here."""

from __future__ import annotations

import threading
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fecallab.imaging.motility import Clip, assess_motility, open_clip

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fecallab.imaging.motility import MotilityResult

EVERY_S = 0.1
"""How often it is told how far the work is."""
Steps = Generator[tuple[int, int], None, "MotilityResult"]


class CalledOff(Exception):
    """Nobody waits for the answer any more."""


class _Counted(Clip):
    """A clip that counts the frames that are taken from it, and gives none when it was called off."""

    def __init__(self, clip: Clip) -> None:
        super().__init__(clip.name, clip.width_px, clip.height_px, clip.stated_frames, clip._passes)
        self._clip = clip
        self.taken = 0
        self.off = threading.Event()

    def frames(self, colour: bool = False) -> Iterator[tuple[float, Any]]:
        for frame in self._clip.frames(colour):
            if self.off.is_set():
                raise CalledOff
            self.taken += 1
            yield frame
        self.cut_short = self._clip.cut_short


def moving_steps(path: Path, um_per_px: float, fps: float | None = None) -> Steps:
    """Work out what moves in a clip; yields (frames done, frames in all) and returns the answer.

    Parameters
    ----------
    path : Path
        The clip.
    um_per_px : float
    fps : float, optional
        Frames per second, where the file has none or false ones.

    Raises
    ------
    BadInput, CouldNot
        No clip, damaged, or it cannot be read.
    """
    clip = _Counted(open_clip(path, fps))
    end: dict[str, Any] = {}

    def work() -> None:
        try:
            end["found"] = assess_motility(clip, um_per_px)
        except BaseException as error:
            end["error"] = error

    thread = threading.Thread(target=work, name="what moves", daemon=True)
    thread.start()
    try:
        while thread.is_alive():
            thread.join(EVERY_S)
            yield min(clip.taken, clip.stated_frames or 0), clip.stated_frames or 0
    finally:
        clip.off.set()
    if "error" in end:
        raise end["error"]
    found: MotilityResult = end["found"]
    return found


def places_in_stack(
    times_s: NDArray[np.float64], found: MotilityResult, fps: float | None = None
) -> NDArray[np.intp]:
    """Return for every frame that was worked on its place in the stack that is shown.

    They differ where a frame was left out because its time stamp stood still or ran back.

    Parameters
    ----------
    times_s : ndarray, shape (frames in the stack,)
        Their times from the first one.
    found : MotilityResult
    fps : float, optional
        The rate that was given: then every frame was worked on.
    """
    if fps is not None or len(times_s) == found.frames or not found.tracks:
        return np.arange(max(found.frames, 1))
    known: dict[int, float] = {}
    for one in found.tracks:
        known.update(zip(one.frames.tolist(), one.times_s.tolist(), strict=True))
    frames = np.array(sorted(known))
    times = np.interp(np.arange(found.frames), frames, [known[int(frame)] for frame in frames])
    after = np.clip(np.searchsorted(times_s, times), 1, len(times_s) - 1)
    return after - (times - times_s[after - 1] < times_s[after] - times)
