"""The draft of an exam: fields, marks and proposals by their ids, changed by steps that can be taken back."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, fields, replace
from typing import Any

Point = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Field:
    """One reading as it will be recorded, without its marks."""

    preparation: str
    kind: str = "field"
    objective: float | None = None
    field_number: float | None = None
    cover_share: float | None = None
    um_per_px: float | None = None
    scale_half_width: float = 0.0
    scale_from: str = ""
    picture: str = ""
    picture_name: str = ""
    width_px: int = 0
    height_px: int = 0
    clip: str = ""
    clip_name: str = ""
    counts: tuple[tuple[str, int], ...] = ()
    unsure: tuple[tuple[str, int], ...] = ()
    swimming: tuple[float, float | None, float | None] | None = None
    """How many swim at once in a clip, with its interval."""
    clip_seconds: float | None = None
    clip_fps: float | None = None
    """Frames per second that somebody gave for a clip whose own are missing or false."""
    nothing: bool = False
    read_here: str = ""
    """What is recorded of proposals: empty for a picture that nobody read in the marking window."""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class Mark:
    """One mark; sizes in µm, what was drawn to measure it in pixels."""

    x_px: float
    y_px: float
    name: str
    sure: bool = True
    length_um: float | None = None
    length_half_um: float | None = None
    width_um: float | None = None
    width_half_um: float | None = None
    angle_deg: float | None = None
    shape: str = ""
    points_px: tuple[Point, ...] = ()
    named_by: str = ""


@dataclass(frozen=True, kw_only=True)
class Proposal:
    """What a detector proposes; it counts for nothing until a person accepts it. Without a name the person names it."""

    x_px: float
    y_px: float
    name: str = ""
    length_um: float | None = None
    length_half_um: float | None = None
    width_um: float | None = None
    width_half_um: float | None = None
    angle_deg: float | None = None
    words: str = ""
    state: str = "open"


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What happened to a field and cannot be taken back: it was opened, read to its end, and when proposals came."""

    opened: bool = False
    read: bool = False
    proposals: str = ""


Thing = Field | Mark | Proposal | Seen
KINDS: dict[str, type[Any]] = {"field": Field, "mark": Mark, "proposal": Proposal, "seen": Seen}


@dataclass(frozen=True)
class Change:
    """One thing before and after; None where it is not there. Numbers of numpy become plain ones.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    field, uid : str
        The field that it belongs to, and its own id (the same for a field).
    """

    kind: str
    field: str
    uid: str
    before: Thing | None
    after: Thing | None

    def __post_init__(self) -> None:
        if self.after is not None:
            object.__setattr__(self, "after", plain(self.after))

    @property
    def back(self) -> Change:
        """The change that takes this one back."""
        return Change(self.kind, self.field, self.uid, self.after, self.before)


@dataclass(frozen=True)
class Step:
    """What one undo takes back: some changes, with words for them."""

    words: str
    changes: tuple[Change, ...]

    @property
    def back(self) -> Step:
        """The step that takes this one back."""
        return Step(self.words, tuple(change.back for change in reversed(self.changes)))


@dataclass
class FieldContent:
    """What lies in one field; `tallies` are kept up to date with every change."""

    marks: dict[str, Mark] = field(default_factory=dict)
    proposals: dict[str, Proposal] = field(default_factory=dict)
    seen: Seen = Seen()
    tallies: dict[bool, dict[str, int]] = field(default_factory=lambda: {True: {}, False: {}})
    version: int = 0

    def count(self, mark: Mark, by: int) -> None:
        """Count a mark in or out."""
        held = self.tallies[mark.sure]
        left = held.get(mark.name, 0) + by
        if left:
            held[mark.name] = left
        else:
            held.pop(mark.name, None)


class Draft:
    """The fields with what lies in them."""

    def __init__(self) -> None:
        self.fields: dict[str, Field] = {}
        self.content: dict[str, FieldContent] = {}
        self.field_of: dict[str, str] = {}
        self.last_number = 0
        self.fields_version = 0

    def apply(self, changes: Iterable[Change]) -> None:
        """Make changes; each must fit what is there."""
        for change in changes:
            self._apply(change)

    def new_uid(self, letter: str) -> str:
        """Return an id that was never given before: ``m12``, ``f3``, ``p40``."""
        self.last_number += 1
        return f"{letter}{self.last_number}"

    def _apply(self, change: Change) -> None:
        self._remember_number(change.uid)
        if change.kind == "field":
            self.fields_version += change.before is None or change.after is None
            if change.after is None:
                del self.fields[change.uid]
            else:
                assert isinstance(change.after, Field)
                self.fields[change.uid] = change.after
                self.content.setdefault(change.uid, FieldContent())
            if change.uid in self.content:
                self.content[change.uid].version += 1
            return
        content = self.content[change.field]
        content.version += 1
        if change.kind == "seen":
            assert isinstance(change.after, Seen)
            content.seen = change.after
        elif change.kind == "mark":
            if isinstance(change.before, Mark):
                content.count(content.marks.pop(change.uid), -1)
                self.field_of.pop(change.uid)
            if isinstance(change.after, Mark):
                content.marks[change.uid] = change.after
                content.count(change.after, 1)
                self.field_of[change.uid] = change.field
        elif isinstance(change.after, Proposal):
            content.proposals[change.uid] = change.after
            self.field_of[change.uid] = change.field
        else:
            content.proposals.pop(change.uid, None)
            self.field_of.pop(change.uid, None)

    def _remember_number(self, uid: str) -> None:
        given = re.fullmatch(r"[a-z](\d+)", uid)
        if given:
            self.last_number = max(self.last_number, int(given.group(1)))


def plain(thing: Thing) -> Thing:
    """Return a thing without numpy's kinds of numbers: they cannot be written down.

    Examples
    --------
    >>> import numpy as np
    >>> made = plain(Mark(x_px=np.float32(1.5), y_px=2.0, name="oxyurid", points_px=((np.int64(3), 4.0),)))
    >>> type(made.x_px).__name__, type(made.points_px[0][0]).__name__
    ('float', 'int')
    """
    odd = {
        each.name: _plain(value)
        for each in fields(thing)
        if type(value := getattr(thing, each.name)) not in _PLAIN
    }
    return replace(thing, **odd) if odd else thing


_PLAIN = (str, bool, int, float, type(None))


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return tuple(map(_plain, value))
    return value.item() if hasattr(value, "item") else value


def uid_order(uid: str) -> tuple[int, tuple[int, ...]]:
    """Return what puts ids in order: recorded ones by their codes, then new ones as they came.

    Examples
    --------
    >>> sorted(["m10", "E1-1-2-10", "m9", "E1-1-2-9"], key=uid_order)
    ['E1-1-2-9', 'E1-1-2-10', 'm9', 'm10']
    """
    return (0 if uid[0].isupper() else 1), tuple(map(int, re.findall(r"\d+", uid)))


def as_json(thing: Thing | None) -> dict[str, Any] | None:
    """Return a thing as plain keys, those that are as usual left out."""
    if thing is None:
        return None
    usual = {f.name: f.default for f in fields(thing)}
    return {key: value for key, value in asdict(thing).items() if value != usual[key]}


def from_json(kind: str, said: Mapping[str, Any] | None) -> Thing | None:
    """Return the thing that `as_json` wrote."""
    if said is None:
        return None
    values = {key: _tuples(value) for key, value in said.items()}
    thing: Thing = KINDS[kind](**values)
    return thing


def _tuples(value: Any) -> Any:
    return tuple(map(_tuples, value)) if isinstance(value, list) else value
