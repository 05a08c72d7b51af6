"""How a reading of a clip is kept and said: its clip named in the remark, how many swim, what is counted of them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from fecallab.domain.exam import Reading

_SAID = re.compile(
    r"(?:^|(?<=; ))clip (?P<name>\S[^;]*?)"
    r"(?: \((?P<sha>[0-9a-f]{12})\)(?:, (?P<fps>\d+(?:\.\d+)?) frames per second)?)?(?=;|$)"
)


@dataclass(frozen=True)
class NamedClip:
    """What a remark says of a clip.

    Attributes
    ----------
    name : str
        Name of the file as it came.
    sha : str
        First 12 digits of the hash of its bytes; empty where the file was not kept.
    fps : float or None
        Frames per second that somebody gave, since those in the file are missing or false (slow motion).
    """

    name: str
    sha: str = ""
    fps: float | None = None


def clip_remark(file_name: str, sha256: str, fps: float | None = None, remark: str = "") -> str:
    """Return how a reading names its clip, behind what was remarked otherwise.

    A remark that names the same clip already stays as it is.

    Examples
    --------
    >>> clip_remark("swim.mp4", "ab" * 32, 120, "cooled")
    'cooled; clip swim.mp4 (abababababab), 120 frames per second'
    >>> clip_remark("swim.mp4", "ab" * 32, None, "clip swim.mp4 (abababababab); cooled")
    'clip swim.mp4 (abababababab); cooled'
    """
    before = clip_named(remark)
    if before is not None and (before.sha, before.fps) == (sha256[:12], fps or None):
        return remark
    rate = f", {fps:g} frames per second" if fps else ""
    name = " ".join(re.sub(r"[\x00-\x1f\x7f;]", " ", file_name).split()) or "film"
    return "; ".join([*_rest(remark), f"clip {name} ({sha256[:12]}){rate}"])


def _rest(remark: str) -> list[str]:
    return [part.strip() for part in _SAID.sub("", remark).split(";") if part.strip()]


def clip_named(remark: str) -> NamedClip | None:
    """Return the clip that a remark names; None where it names none.

    Examples
    --------
    >>> clip_named("cooled; clip swim (2).mp4 (abababababab), 120 frames per second")
    NamedClip(name='swim (2).mp4', sha='abababababab', fps=120.0)
    >>> clip_named("clip frames"), clip_named("a paper clip fell in")
    (NamedClip(name='frames', sha='', fps=None), None)
    """
    said = _SAID.search(remark)
    if said is None:
        return None
    return NamedClip(said["name"], said["sha"] or "", float(said["fps"]) if said["fps"] else None)


def is_clip(reading: Reading) -> bool:
    """Say whether a reading was made on a clip; a remark that only begins with the word is none.

    Examples
    --------
    >>> is_clip(Reading(remark="clip of the slide holder is broken")), is_clip(Reading(mean_swimming=0.0))
    (False, True)
    """
    named = clip_named(reading.remark)
    return reading.mean_swimming is not None or (named is not None and named.sha != "")


def counted_swimmers(tracks: int, mean_at_once: float) -> int:
    """Return how many swimmers a field counts: those there at once, since one that comes back is no second one.

    Parameters
    ----------
    tracks : int
        Joined tracks of swimmers.
    mean_at_once : float
        How many swim at once on average.

    Examples
    --------
    >>> counted_swimmers(9, 3.4), counted_swimmers(1, 0.2), counted_swimmers(0, 0.0)
    (3, 1, 0)
    """
    return max(1, round(mean_at_once)) if tracks else 0


def at_once_words(mean: float, low: float | None, high: float | None) -> str:
    """Say how many swim at once.

    Examples
    --------
    >>> at_once_words(3.24, 2.1, 4.44)
    '3.2 swim at once on average (95 % interval 2.1 to 4.4)'
    >>> at_once_words(0.0, 0.0, 3.69)
    'nothing swims (95 % interval 0 to 3.7)'
    """
    within = (
        f" (95 % interval {short_number(low)} to {short_number(high)})"
        if low is not None and high is not None
        else ""
    )
    return f"{short_number(mean)} swim at once on average{within}" if mean else f"nothing swims{within}"


def short_number(value: float) -> str:
    """Return how many swim as it is read: one figure behind the point below ten.

    Examples
    --------
    >>> short_number(6.55), short_number(3.0), short_number(12.4)
    ('6.5', '3', '12')
    """
    return f"{value:.1f}".removesuffix(".0") if value < 10 else f"{value:.0f}"


def reading_remark(reading: Reading) -> str:
    """Return the remark of a reading as others may see it: what swims in words, no name of a file.

    Examples
    --------
    >>> seen = Reading(remark="cooled; clip swim.mp4 (abababababab)", mean_swimming=3.24, mean_swimming_low=2.1,
    ...     mean_swimming_high=4.44, clip_seconds=3.2)
    >>> reading_remark(seen)
    'a clip of 3.2 s: 3.2 swim at once on average (95 % interval 2.1 to 4.4); cooled'
    >>> reading_remark(Reading(remark="clip swim.mp4 (abababababab)")), reading_remark(Reading(remark="cooled"))
    ('a clip', 'cooled')
    """
    if not is_clip(reading):
        return reading.remark
    said = "a clip" + (f" of {reading.clip_seconds:.1f} s" if reading.clip_seconds else "")
    if reading.mean_swimming is not None:
        ends = reading.mean_swimming_low, reading.mean_swimming_high
        said += f": {at_once_words(reading.mean_swimming, *ends)}"
    return "; ".join([said, *_rest(reading.remark)])
