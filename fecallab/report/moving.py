"""What moves in a clip, in plain words and small tables: for the marking window and for the vet's page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

from fecallab.domain.clip_words import at_once_words
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from fecallab.imaging.motility import MotilityResult, MovingBody

MOST_SWIMMERS = 12
"""More than these are not told one by one (own choice)."""
MEANS = {
    "swimming": "keeps a course of its own through the fluid",
    "cannot-tell": "moves, but it cannot be told whether by itself",
    "drifting": "is carried by the fluid",
    "trembling": "shakes on the spot, as small grains do",
    "stuck": "stays where it is",
}
"""What each kind of track means, in the order in which they are told."""
NO_DIAGNOSIS = "What it moves like is a hint by size and manner, no name and no diagnosis."
OF_SPEEDS = (
    "Speeds in the fluid: along its path (VCL), along the smoothed path (VAP), from first to last place (VSL),"
    " as the WHO laboratory manual defines them for moving cells."
)


@dataclass(frozen=True)
class KindRow:
    """One kind of track: its key, its words, what it means, how many there are."""

    kind: str
    words: str
    means: str
    number: int


@dataclass(frozen=True)
class SwimmerRow:
    """One swimmer, ready to print; speeds in µm per second."""

    number: int
    length_um: str
    vcl: str
    vap: str
    vsl: str
    straightness: str
    manner: str

    @property
    def line(self) -> str:
        """All of it in one line."""
        manner = f": {self.manner}" if self.manner else ""
        return f"{self.number}: {self.length_um} µm long, {self.vcl} µm/s along its path{manner}"


@dataclass(frozen=True)
class MovingFacts:
    """What a clip shows, in words.

    Attributes
    ----------
    assessable : bool
    headline : str
        How many swim at once, or that it cannot be told.
    lines : tuple of str
        What belongs to the headline: reasons where nothing can be told, else tracks, speed, stream.
    kinds : tuple of KindRow
    swimmers : tuple of SwimmerRow
        The first `MOST_SWIMMERS`.
    notes : tuple of str
        What to keep in mind.
    """

    assessable: bool
    headline: str
    lines: tuple[str, ...]
    kinds: tuple[KindRow, ...]
    swimmers: tuple[SwimmerRow, ...]
    notes: tuple[str, ...]
    moves_like: str = ""
    """Which groups move like that at that size, in one line; a hint."""


def moving_facts(found: MotilityResult) -> MovingFacts:
    """Put what a clip shows into words.

    Parameters
    ----------
    found : MotilityResult
    """
    kinds = tuple(
        KindRow(kind, kind_words(kind), means, len(found.of_kind(kind)))
        for kind, means in MEANS.items()
        if found.of_kind(kind)
    )
    notes = tuple(f"{one.text} {one.next}".strip() for one in found.warnings)
    if not found.assessable:
        reasons = tuple(f"{one.text} {one.next}".strip() for one in found.reasons)
        return MovingFacts(False, "How many swim cannot be told from this clip", reasons, kinds, (), notes)
    mean, ends = found.mean_swimming_at_once, found.mean_swimming_interval
    assert mean is not None and ends is not None
    swimmers = found.of_kind("swimming")
    lines = [*_track_lines(found, swimmers), _stream_words(found.drift_um_s)]
    if not swimmers:
        lines.append(
            "In old or cooled stool this says nothing: motility is then not assessable, and that is no negative."
        )
    headline = at_once_words(mean, *ends)
    headline = headline[0].upper() + headline[1:]
    rows = tuple(_swimmer(one) for one in swimmers[:MOST_SWIMMERS])
    return MovingFacts(True, headline, tuple(lines), kinds, rows, notes, _moves_like(swimmers))


def kind_words(kind: str) -> str:
    """Return a kind of track as people write it.

    Examples
    --------
    >>> kind_words("cannot-tell"), kind_words("stuck")
    ('cannot tell', 'stuck')
    """
    return kind.replace("-", " ")


def _track_lines(found: MotilityResult, swimmers: Sequence[MovingBody]) -> list[str]:
    if not swimmers or found.motile_interval is None:
        return []
    low, high = found.motile_interval
    lines = [
        f"{number_of(len(swimmers), 'joined track')} of swimmers in {found.clip_seconds:.1f} s"
        f" (95 % interval {low:.0f} to {high:.0f})."
    ]
    speeds = [one.motion.vcl_um_s for one in swimmers if one.motion]
    if len(speeds) == 1:
        lines.append(f"It swims {speeds[0]:.0f} µm/s along its path.")
    elif speeds:
        lines.append(
            f"They swim {median(speeds):.0f} µm/s along their paths (median; {min(speeds):.0f} to {max(speeds):.0f})."
        )
    return lines


def _moves_like(swimmers: Sequence[MovingBody]) -> str:
    """Say which groups move like the swimmers, those of most swimmers first."""
    alike: dict[str, int] = {}
    for one in swimmers:
        for group in one.moves_like:
            alike[group] = alike.get(group, 0) + 1
    if not alike:
        return ""
    ordered = sorted(alike.items(), key=lambda pair: (-pair[1], pair[0]))
    said = ", ".join(f"{group.replace('_', ' ')} ({number})" for group, number in ordered)
    return f"By size and manner they move like: {said}."


def _stream_words(drift_um_s: tuple[float, float]) -> str:
    right, down = drift_um_s
    speed = (right**2 + down**2) ** 0.5
    if speed < 0.5:
        return "The fluid stands nearly still."
    ways = [
        ("to the right" if right > 0 else "to the left") if abs(right) > 0.4 * speed else "",
        ("down" if down > 0 else "up") if abs(down) > 0.4 * speed else "",
    ]
    return f"The fluid streams {' and '.join(way for way in ways if way)} at {speed:.1f} µm/s; that is taken off."


def _swimmer(one: MovingBody) -> SwimmerRow:
    motion = one.motion
    assert motion is not None
    return SwimmerRow(
        number=one.number,
        length_um=f"{one.length_um:.0f}",
        vcl=f"{motion.vcl_um_s:.0f}",
        vap=f"{motion.vap_um_s:.0f}",
        vsl=f"{motion.vsl_um_s:.0f}",
        straightness=f"{motion.straightness:.2f}",
        manner=", ".join(one.manner),
    )
