"""What the session hands to the window: plain values, ready to show; nothing here can be changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

NOT_LOOKED_AT, LOOKED_AT, MARKED, NOTHING_HERE, COUNTED, RECORDED_EMPTY, COUNTED_IN_CLIP = (
    "not looked at",
    "looked at, nothing said yet",
    "marked",
    "nothing here",
    "counted at the eyepiece",
    "recorded as empty, not looked at here",
    "counted in the clip",
)
FIELD_STATES = (
    NOT_LOOKED_AT,
    LOOKED_AT,
    MARKED,
    NOTHING_HERE,
    COUNTED,
    RECORDED_EMPTY,
    COUNTED_IN_CLIP,
)
"""States of a field, by these words; the window may show them as they are."""


@dataclass(frozen=True, kw_only=True)
class FieldView:
    """One field, sweep or chamber.

    Attributes
    ----------
    uid : str
        The session's own id; the code of the reading once it is recorded.
    number, of : int
        Its place in the exam, from 1, and how many there are.
    preparation, method, method_words : str
        Code of the preparation and how it was made.
    kind : str
        ``field``, ``sweep`` or ``chamber``.
    objective, field_number : float or None
    um_per_px : float or None
        None: nothing can be measured in it; ``scale_words`` says so.
    scale_words : str
        Such as ``0.652 ± 0.004 µm per pixel, from the lit circle``, or ``no scale: sizes cannot be told``.
    picture : str
        Hash of the picture, empty where there is none.
    picture_name, clip_name : str
        Names of the files as they came, empty where there is none.
    width_px, height_px : int
        Of the upright picture, 0 where there is none.
    sure, unsure : mapping of str to int
        Counts by name.
    state : str
        One of `FIELD_STATES`.
    done : bool
        Whether it says something: marked, nothing here, or counted.
    recorded : bool
        Whether it stands in the records; changes are corrections then.
    changed : bool
        Whether it differs from what is recorded.
    proposals_open : int
        Proposals that wait in it, shown or not.
    proposals_shown : str
        ``''`` (not said), ``off``, ``after reading`` or ``before reading``.
    """

    uid: str
    number: int
    of: int
    preparation: str
    method: str
    method_words: str
    kind: str
    objective: float | None
    field_number: float | None
    um_per_px: float | None
    scale_words: str
    picture: str
    picture_name: str
    clip_name: str
    width_px: int
    height_px: int
    sure: Mapping[str, int]
    unsure: Mapping[str, int]
    state: str
    done: bool
    recorded: bool
    changed: bool
    proposals_open: int = 0
    proposals_shown: str = ""
    swimming: str = ""
    """How many swim at once in a clip, in words; empty while nobody has measured it."""

    @property
    def line(self) -> str:
        """One line for a list of fields."""
        power = f"{self.objective:g}×" if self.objective else "objective not known"
        seen = sum(self.sure.values())
        doubt = sum(self.unsure.values())
        counts = f", {seen} sure" + (f", {doubt} unsure" if doubt else "") if seen or doubt else ""
        return f"{self.number}/{self.of} {self.method_words}, {power}: {self.state}{counts}"


@dataclass(frozen=True, kw_only=True)
class MarkView:
    """One mark. Sizes in µm with the half width of their 95 % interval; None where not measured."""

    uid: str
    field: str
    x_px: float
    y_px: float
    name: str
    group: str
    sure: bool
    length_um: float | None = None
    length_half_width_um: float | None = None
    width_um: float | None = None
    width_half_width_um: float | None = None
    angle_deg: float | None = None
    shape: str = ""
    """``''``, ``line``, ``ellipse`` or ``outline``."""
    points_px: tuple[tuple[float, float], ...] = ()
    """What was drawn to measure it: two ends, or the outline (x, y); an ellipse as its outline."""
    named_by: str = ""
    recorded: bool = False
    vets_say: str = ""
    """What vets say of it (``Dr Ilse Varnholt: ascarid``); their word goes before the name for every rule."""


@dataclass(frozen=True)
class Outcome:
    """What an operation did.

    Attributes
    ----------
    uids : tuple of str
        The marks (or fields) that it made or changed.
    words : str
        What was done, in a few words: ``oxyurid marked``.
    told : tuple of str
        What the person should know: a mark outside the lit circle, no scale …
    """

    uids: tuple[str, ...] = ()
    words: str = ""
    told: tuple[str, ...] = ()


@dataclass(frozen=True)
class SaveState:
    """What is on the disk.

    Attributes
    ----------
    saved_at : datetime or None
        When the last change was on the disk; None while nothing was changed.
    pending : int
        Changes that are not on the disk yet.
    trouble : str
        Why they cannot be written (disk full …); empty when all is well.
    """

    saved_at: datetime | None = None
    pending: int = 0
    trouble: str = ""

    @property
    def words(self) -> str:
        """What the window shows: ``saved 14:03`` only after the bytes are on the disk.

        Examples
        --------
        >>> SaveState(datetime(2026, 3, 4, 14, 3)).words, SaveState(None, 2).words
        ('saved 14:03', 'saving …')
        """
        if self.trouble:
            return f"NOT saved: {self.trouble}"
        if self.pending:
            return "saving …"
        return f"saved {self.saved_at:%H:%M}" if self.saved_at else "nothing to save"


@dataclass(frozen=True)
class ClassKey:
    """One key and the organism on it.

    Attributes
    ----------
    key : str
        ``1`` to ``9`` or another character, as `MarkingSession.key_name` takes it; empty where it has none.
    name : str
        Organism key or group, as it is recorded.
    label : str
        As shown.
    group : str
    sure, unsure : int
        Live counts in the exam.
    sure_here, unsure_here : int
        Live counts in the current field.
    second_row : bool
        Whether the row key (``0``) comes first: look-alikes.
    """

    key: str
    name: str
    label: str
    group: str
    sure: int = 0
    unsure: int = 0
    sure_here: int = 0
    unsure_here: int = 0
    second_row: bool = False


@dataclass(frozen=True)
class SizeWords:
    """The size of one mark and what it may be.

    Attributes
    ----------
    size : str
        ``112 ± 3 µm long, 56 ± 2 µm wide``, or why there is none.
    lines : tuple of str
        The shortlist with its reasons, one candidate each; ``fits`` first.
    own_name : str
        What the size says of the name that the mark carries: ``fits``, ``too small …``; empty when unknown.
    fits, nearly : tuple of (str, str, str)
        Key, name and first reason of each candidate.
    """

    size: str
    lines: tuple[str, ...] = ()
    own_name: str = ""
    fits: tuple[tuple[str, str, str], ...] = ()
    nearly: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True)
class BurdenRow:
    """One target at one objective of one preparation, every cell ready to show."""

    target: str
    preparation: str
    objective: str
    total: str
    unsure: str
    mean_per_field: str
    interval: str
    grade: str
    scale: str
    covered_share: str
    per_gram: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class AdequacyRow:
    """What the exam says of one stage of one target, and what is still missing for a negative."""

    target: str
    stage: str
    says: str
    missing: str


@dataclass(frozen=True)
class BurdenTable:
    """The running burden."""

    rows: tuple[BurdenRow, ...] = ()
    adequacy: tuple[AdequacyRow, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Summary:
    """What will be recorded, to read over.

    Attributes
    ----------
    lines : tuple of str
    needs_reason : bool
        Whether recorded things change, so that `finish` asks for a reason.
    nothing_to_do : bool
        Whether everything stands in the records already.
    not_looked_at : int
        Fields that stay behind because nobody looked at them.
    """

    lines: tuple[str, ...]
    needs_reason: bool = False
    nothing_to_do: bool = False
    not_looked_at: int = 0


@dataclass(frozen=True)
class Finished:
    """What was recorded."""

    lines: tuple[str, ...]
    readings: tuple[str, ...] = ()
    cases_opened: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ProposalView:
    """One proposal on a field: where, what, how large; never a score."""

    uid: str
    field: str
    x_px: float
    y_px: float
    name: str
    length_um: float | None = None
    width_um: float | None = None
    angle_deg: float | None = None
    words: str = ""
    state: str = "open"
    """``open``, ``accepted`` or ``dismissed``."""


@dataclass(frozen=True)
class SessionEvent:
    """What changed, for the window to redraw only that.

    Attributes
    ----------
    kind : str
        ``marks``, ``field``, ``fields`` (list changed), ``proposals``, ``keys``, ``finished``; ``saved`` and
        ``watched`` (something waits for `take_watched`) come on threads of their own.
    field : str
        Uid of the field concerned, empty for all.
    uids : tuple of str
        Uids of the marks concerned.
    """

    kind: str
    field: str = ""
    uids: tuple[str, ...] = ()
