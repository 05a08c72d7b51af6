"""What was done with a sample and what was seen: preparations, readings, marks, results from elsewhere."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from fecallab.domain.vet_words import NO_VERDICTS, Verdicts

METHODS = (
    "direct_saline_smear",
    "iodine_smear",
    "cloacal_wash",
    "urine_wet_mount",
    "simple_flotation",
    "centrifugal_flotation",
    "sedimentation",
    "mcmaster",
    "stoll_dilution",
    "baermann",
    "acid_fast_smear",
    "permanent_stain",
    "from_elsewhere",
)
METHOD_WORDS = {
    "mcmaster": "counting chamber (McMaster)",
    "stoll_dilution": "dilution count (Stoll)",
    "baermann": "Baermann funnel",
    "acid_fast_smear": "acid-fast smear",
    "from_elsewhere": "result from elsewhere",
}
"""Methods whose words are not those of their code."""
READING_KINDS = ("field", "sweep", "chamber")
PROPOSALS = ("", "off", "after reading", "before reading")
"""What the reader knew of the machine's proposals: nothing recorded, switched off, seen after or before."""


def method_words(method: str) -> str:
    """Return a method as people say it, the same on every page and in every window.

    Parameters
    ----------
    method : str
        One of `METHODS`; any other word comes back with spaces.

    Examples
    --------
    >>> method_words("direct_saline_smear"), method_words("mcmaster")
    ('direct saline smear', 'counting chamber (McMaster)')
    """
    return METHOD_WORDS.get(method, method.replace("_", " "))


@dataclass(frozen=True, kw_only=True)
class Mark:
    """One organism or artefact pointed at in a picture.

    ``x_px``, ``y_px`` are column and row of its centre, 0 at the centre of the first pixel; ``angle_deg`` is
    the long axis from +x towards +y (down). ``name`` is an organism key or a group; ``sure`` False blocks a
    negative and opens nothing.
    """

    code: str = ""
    x_px: float
    y_px: float
    name: str
    sure: bool = True
    length_um: float | None = None
    width_um: float | None = None
    angle_deg: float | None = None
    named_by: str = ""


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What was looked at once: a field, a sweep (a share of the cover glass), or a counted chamber.

    Counts come from marks where there are any, else from ``counts`` and ``unsure`` (at the eyepiece); a
    reading with neither is a field in which nothing was seen.

    Attributes
    ----------
    proposals : str
        One of `PROPOSALS`.
    mean_swimming, mean_swimming_low, mean_swimming_high : float or None
        How many swim at once in a clip on average, with its 95 % interval.
    clip_seconds : float or None
        How long the clip is.
    """

    code: str = ""
    kind: str = "field"
    objective: float | None = None
    field_number: float | None = None
    cover_share: float | None = None
    um_per_px: float | None = None
    picture: str = ""
    counts: Mapping[str, int] = field(default_factory=dict)
    unsure: Mapping[str, int] = field(default_factory=dict)
    marks: tuple[Mark, ...] = ()
    remark: str = ""
    proposals: str = ""
    mean_swimming: float | None = None
    mean_swimming_low: float | None = None
    mean_swimming_high: float | None = None
    clip_seconds: float | None = None

    def tally(self, *, sure: bool = True) -> dict[str, int]:
        """Return how many of each name were seen, sure or unsure ones."""
        if not self.marks:
            return dict(self.counts if sure else self.unsure)
        seen: dict[str, int] = {}
        for mark in self.marks:
            if mark.sure is sure:
                seen[mark.name] = seen.get(mark.name, 0) + 1
        return seen


@dataclass(frozen=True, kw_only=True)
class Preparation:
    """One slide, float, sediment or chamber made from the sample, with its readings; None is unknown."""

    code: str = ""
    method: str
    read_at: datetime | None = None
    cover_glass: str = "22x22"
    room_c: float | None = None
    slide_warmed: bool | None = None
    solution: str = ""
    specific_gravity: float | None = None
    gravity_checked: bool | None = None
    standing_minutes: float | None = None
    sample_g: float | None = None
    suspension_ml: float | None = None
    counted_ml: float | None = None
    readings: tuple[Reading, ...] = ()
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class ElsewhereResult:
    """A result from a laboratory or a vet, with adequacy as they state it."""

    code: str = ""
    target: str
    stage: str = ""
    who: str
    method: str
    reported_on: date
    result: str
    stated_adequate: bool | None = None
    grade: str = ""
    picture: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class Exam:
    """One sample read with one or more preparations, or a result from elsewhere.

    ``as_told`` marks an exam that somebody told of; it is then adequate only as they state it
    (``stated_adequate``), whatever its preparations are said to have been. ``verdicts`` are the words of vets
    on it; preparations and marks stay the keeper's own, and the rules ask `fecallab.domain.verdict.ruled`.
    """

    code: str = ""
    sample: str
    examined_at: datetime
    by: str = ""
    preparations: tuple[Preparation, ...] = ()
    elsewhere: tuple[ElsewhereResult, ...] = ()
    question: str = ""
    remark: str = ""
    as_told: bool = False
    stated_adequate: bool | None = None
    verdicts: Verdicts = NO_VERDICTS


@dataclass(frozen=True, kw_only=True)
class Picture:
    """One picture in the record folder, copied in untouched and addressed by its hash."""

    sha256: str
    file_name: str
    format: str
    width_px: int
    height_px: int
    bytes: int
    taken_at: datetime | None = None
