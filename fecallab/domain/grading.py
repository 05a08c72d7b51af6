"""Grades of burden: a word on a named scale, never a number without its scale."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, isfinite

from fecallab.domain.errors import BadInput

UNITS = ("per_10x_field", "per_40x_field", "per_10_oil_fields", "per_22x22_cover_glass", "per_gram")
"""What a bound of a scale is counted per."""

UNIT_WORDS = {
    "per_10x_field": "per field at 10×",
    "per_40x_field": "per field at 40×",
    "per_10_oil_fields": "per 10 fields under oil (100×)",
    "per_22x22_cover_glass": "on the whole 22 × 22 mm cover glass",
    "per_gram": "per gram",
}

COVER_GLASS = "per_22x22_cover_glass"


@dataclass(frozen=True)
class GradeStep:
    """One word of a scale with its bounds.

    Attributes
    ----------
    word : str
        The grade as it is written.
    unit : str
        One of `UNITS`; a scale may use the cover glass for its lowest words.
    lower, upper : float
        Bounds in that unit; ``upper`` may be infinite.
    lower_open : bool
        True for "more than", False for "at least".
    upper_closed : bool
        True for "up to and including", False for "below".
    rank : int
        Order within the scale; 0 is nothing seen.
    published_as : str
        How the source words the bounds, where it differs.
    source, source_kind : str
        Where the bounds come from.
    """

    word: str
    unit: str
    lower: float
    upper: float
    lower_open: bool
    upper_closed: bool
    rank: int
    published_as: str
    source: str
    source_kind: str

    def holds(self, value: float) -> bool:
        """Return whether an unrounded value in this unit falls into the step."""
        above = value > self.lower if self.lower_open else value >= self.lower
        below = value <= self.upper if self.upper_closed else value < self.upper
        return above and below


@dataclass(frozen=True)
class GradingScale:
    """A named scale.

    Attributes
    ----------
    key, name : str
        Stable word and the name printed beside every grade.
    unit : str
        Unit of its highest step.
    stages, groups : tuple of str
        What it grades; ``any`` stands for all.
    use : str
        ``default``, ``by choice`` (never taken unless somebody chose it) or ``test data``.
    people_only : bool
        True for classes that were made for people and say nothing about reptiles.
    steps : tuple of GradeStep
        From the highest to the lowest.
    note : str
        What to know before using it.
    """

    key: str
    name: str
    unit: str
    stages: tuple[str, ...]
    groups: tuple[str, ...]
    use: str
    people_only: bool
    steps: tuple[GradeStep, ...]
    note: str

    @property
    def needs_cover_glass(self) -> bool:
        """Whether its lowest words are counted on the whole cover glass and the others per field."""
        return self.unit != COVER_GLASS and any(step.unit == COVER_GLASS for step in self.steps)


@dataclass(frozen=True)
class Grade:
    """A word on a scale.

    Attributes
    ----------
    scale : str
        Key of the scale.
    scale_name : str
        Name of the scale, to be printed beside the word.
    word : str
        The grade.
    rank : int
        Its order on this scale alone.
    value : float
        The number that was graded.
    unit : str
        Unit of that number.
    note : str
        What limits it; empty when nothing does.
    """

    scale: str
    scale_name: str
    word: str
    rank: int
    value: float
    unit: str
    note: str = ""

    def __str__(self) -> str:
        return f"{self.word} ({self.scale_name})"


def grade(
    scale: GradingScale,
    *,
    mean: float | None = None,
    seen: int | None = None,
    whole_cover_glass: bool = False,
) -> Grade:
    """Give the word of a scale for a mean or a count; the unrounded number is compared.

    Parameters
    ----------
    scale : GradingScale
        The scale; its name travels with the grade.
    mean : float, optional
        The mean in the scale's own unit (``scale.unit``): per field at 10×, per gram …
    seen : int, optional
        How many were seen altogether. Needed where the scale's lowest words are counted on the cover glass.
    whole_cover_glass : bool
        Whether ``seen`` is all that lies under a 22 × 22 mm cover glass.

    Returns
    -------
    Grade
        The word with its scale, the number graded and what limits it.

    Raises
    ------
    BadInput
        When a number is missing, negative or not finite.

    Notes
    -----
    On a scale of means whose lowest words are counted on the cover glass: a mean that reaches a step per
    field takes it. Below that, the count on the whole cover glass decides; with only a part read, one seen is
    written as such, and two or more take the lowest word that is sure to be no lower than the truth, with a
    note. Nothing seen in some fields is no negative exam.
    """
    if scale.unit == COVER_GLASS:
        return _by_cover_glass_alone(scale, mean, seen, whole_cover_glass)
    if not scale.needs_cover_glass:
        value = _checked(mean, f"a mean {UNIT_WORDS[scale.unit]}")
        return _as_grade(scale, _step(scale, scale.unit, value), value, scale.unit)
    if mean is not None:
        value = _checked(mean, f"a mean {UNIT_WORDS[scale.unit]}")
        found = _step_or_none(scale, scale.unit, value)
        if found is not None:
            return _as_grade(scale, found, value, scale.unit)
    if seen is None:
        raise BadInput(
            f"On the scale '{scale.name}' a burden this low is counted on the cover glass.",
            next="Give how many were seen, and whether the whole cover glass was read.",
            code="grade-needs-count",
        )
    count = int(_checked(seen, "a count of what was seen"))
    low = _step(scale, COVER_GLASS, count)
    if whole_cover_glass:
        highest = max(step.rank for step in scale.steps if step.unit == COVER_GLASS)
        if mean is None and low.rank == highest:
            raise BadInput(
                f"{count} on the cover glass may be '{low.word}' or more.",
                next="Give the mean per field too; the eyepiece's field number lets it be worked out.",
                code="grade-needs-mean",
            )
        return _as_grade(scale, low, count, COVER_GLASS)
    return _from_part_of_the_glass(scale, mean, count)


def compare_grades(first: Grade, second: Grade) -> int:
    """Return -1, 0 or 1 as the first grade is lower, equal or higher on the same scale.

    Raises
    ------
    BadInput
        When the two stand on different scales: their words do not mean the same.
    """
    if first.scale != second.scale:
        raise BadInput(
            f"'{first.word}' on the scale '{first.scale_name}' and '{second.word}' on the scale "
            f"'{second.scale_name}' cannot be compared: the words do not mean the same.",
            next="Grade both counts on one scale.",
            code="grade-other-scale",
        )
    return (first.rank > second.rank) - (first.rank < second.rank)


def _checked(value: float | None, what: str) -> float:
    if value is None:
        raise BadInput(f"The scale needs {what}.", next="Give that number.", code="grade-needs-number")
    if not isfinite(value) or value < 0:
        raise BadInput(f"{value} cannot be {what}: it is not zero or more.", code="grade-bad-number")
    return float(value)


def _step_or_none(scale: GradingScale, unit: str, value: float) -> GradeStep | None:
    return next((step for step in scale.steps if step.unit == unit and step.holds(value)), None)


def _step(scale: GradingScale, unit: str, value: float) -> GradeStep:
    found = _step_or_none(scale, unit, value)
    if found is None:
        raise BadInput(
            f"{value:g} {UNIT_WORDS[unit]} is on no step of the scale '{scale.name}'.", code="grade-off-scale"
        )
    return found


def _as_grade(scale: GradingScale, step: GradeStep, value: float, unit: str, note: str = "") -> Grade:
    return Grade(scale.key, scale.name, step.word, step.rank, value, unit, note)


def _by_cover_glass_alone(
    scale: GradingScale, mean: float | None, seen: int | None, whole_cover_glass: bool
) -> Grade:
    if mean is not None:
        raise BadInput(
            f"The scale '{scale.name}' counts on the cover glass, not per field.",
            next="Give how many were seen on the whole cover glass.",
            code="grade-needs-count",
        )
    count = _checked(seen, "a count on the whole cover glass")
    if not whole_cover_glass:
        raise BadInput(
            f"The scale '{scale.name}' needs the whole cover glass; only a part was read.",
            next="Read the whole cover glass, or choose a scale that counts per field.",
            code="grade-needs-whole-glass",
        )
    return _as_grade(scale, _step(scale, COVER_GLASS, count), count, COVER_GLASS)


def _from_part_of_the_glass(scale: GradingScale, mean: float | None, count: int) -> Grade:
    """Grade a low count when only a part of the cover glass was read."""
    low = _step(scale, COVER_GLASS, count)
    if count <= 1:
        note = (
            "only a part of the cover glass was read: no negative exam by itself"
            if count == 0
            else "only a part of the cover glass was read: there may be more"
        )
        return _as_grade(scale, low, count, COVER_GLASS, note)
    if mean is None:
        raise BadInput(
            f"{count} were seen on a part of the cover glass: the mean per field decides.",
            next="Give the mean per field, or read the whole cover glass.",
            code="grade-needs-mean",
        )
    highest = max((step for step in scale.steps if step.unit == COVER_GLASS), key=lambda step: step.rank)
    if low.rank == highest.rank:
        return _as_grade(scale, low, mean, scale.unit)
    note = f"only a part of the cover glass was read: '{highest.word}' or '{low.word}', the higher is written"
    return _as_grade(scale, highest, mean, scale.unit, note)


def bound(text: str) -> float:
    """Read a bound of a step; an empty cell is no bound.

    Examples
    --------
    >>> bound("3"), bound("")
    (3.0, inf)
    """
    return float(text) if text else inf
