"""How well a ranked list of proposals finds what is there: precision, recall, average precision, overlap.

A flag tells of each proposal, the strongest first, whether it meets a thing that no stronger one met.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fecallab.domain.errors import BadInput

Box = tuple[float, float, float, float]
"""Left, top, right and bottom."""


@dataclass(frozen=True)
class Findings:
    """Proposals that were right and wrong, and things that were missed.

    Attributes
    ----------
    right, wrong, missed : int

    Examples
    --------
    >>> found = Findings(right=3, wrong=1, missed=2)
    >>> round(found.precision, 2), found.recall, round(found.f1, 2), found.count_error
    (0.75, 0.6, 0.67, -1)
    """

    right: int
    wrong: int
    missed: int

    @property
    def things(self) -> int:
        """How many there are to find."""
        return self.right + self.missed

    @property
    def proposals(self) -> int:
        """How many were proposed."""
        return self.right + self.wrong

    @property
    def precision(self) -> float:
        """Share of the proposals that are right; 0 without any."""
        return self.right / self.proposals if self.proposals else 0.0

    @property
    def recall(self) -> float:
        """Share of the things that were found; 0 when there is none."""
        return self.right / self.things if self.things else 0.0

    @property
    def f1(self) -> float:
        """Harmonic mean of precision and recall."""
        return 2 * self.right / (self.proposals + self.things) if self.right else 0.0

    @property
    def count_error(self) -> int:
        """Proposals less things; it can be 0 while every proposal is wrong."""
        return self.proposals - self.things

    @property
    def relative_count_error(self) -> float:
        """The same as a share of the things; infinite where there is none but something is proposed."""
        if self.things:
            return self.count_error / self.things
        return float("inf") if self.wrong else 0.0

    def wrong_per_picture(self, pictures: int) -> float:
        """False proposals a picture, all pictures counted, those without a thing too."""
        if pictures < 1:
            raise BadInput(
                f"{pictures} pictures were looked at.", next="Count one or more.", code="no-pictures"
            )
        return self.wrong / pictures


def findings_at(flags: Sequence[bool | int], things: int, rank: int | None = None) -> Findings:
    """Count what the strongest proposals found.

    Parameters
    ----------
    flags : sequence of bool
        Strongest proposal first.
    things : int
        How many there are to find.
    rank : int, optional
        How many proposals are looked at; all when left out.

    Raises
    ------
    BadInput
        When more is found than there is.
    """
    looked = [bool(flag) for flag in flags[:rank]]
    right = sum(looked)
    if right > things or things < 0:
        raise BadInput(
            f"{right} things were met, and there are {things}.",
            next="Count each thing once.",
            code="more-than-there-is",
        )
    return Findings(right, len(looked) - right, things - right)


def average_precision(flags: Sequence[bool | int], things: int, recalls: int | None = None) -> float:
    """Return the area under precision against recall, each precision raised to the best at that recall or beyond.

    Parameters
    ----------
    flags : sequence of bool
        Strongest proposal first.
    things : int
    recalls : int, optional
        Read the curve at so many even recalls from 0 to 1 and take the mean (11 is usual); every step of the
        curve when left out.

    Examples
    --------
    >>> average_precision([1, 0, 1], things=2)
    0.8333333333333333
    >>> round(average_precision([1, 0, 1], things=2, recalls=11), 4)
    0.8485
    """
    steps = [findings_at(flags, things, rank) for rank in range(1, len(flags) + 1)]
    curve = [(step.recall, step.precision) for step in steps]
    if recalls is not None:
        wanted = [k / (recalls - 1) for k in range(recalls)]
        return sum(max((p for r, p in curve if r >= at - 1e-12), default=0.0) for at in wanted) / recalls
    area, best = 0.0, 0.0
    for k in range(len(curve) - 1, -1, -1):
        best = max(best, curve[k][1])
        area += best * (curve[k][0] - (curve[k - 1][0] if k else 0.0))
    return area


def overlap_of(one: Box, other: Box) -> float:
    """Return the area that two boxes share, as a share of the area that they cover together.

    Examples
    --------
    >>> overlap_of((0, 0, 2, 2), (1, 0, 3, 2)), overlap_of((0, 0, 1, 1), (2, 2, 3, 3))
    (0.3333333333333333, 0.0)
    """
    for box in (one, other):
        if not (box[2] > box[0] and box[3] > box[1]):
            raise BadInput(f"The box {box} has no area.", next="Right and bottom are larger.", code="no-area")
    across = min(one[2], other[2]) - max(one[0], other[0])
    down = min(one[3], other[3]) - max(one[1], other[1])
    shared = max(across, 0.0) * max(down, 0.0)
    areas = sum((box[2] - box[0]) * (box[3] - box[1]) for box in (one, other))
    return shared / (areas - shared)
