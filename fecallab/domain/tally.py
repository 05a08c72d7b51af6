"""Counting at the eyepiece: acts in, fields and sweeps with their counts out; everything can be undone.

A tally is a value; an act makes the next one. Nothing here knows keys, screens or files, so that what a
journal holds is played again to the very same counts.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from fecallab.domain.counting import FieldDensity, field_density
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Preparation, Reading
from fecallab.domain.field import FIELD_NUMBER_RANGE_MM, OBJECTIVE_RANGE

COUNT, NEXT, SWEEP, SHARE, ORGANISM, OBJECTIVE, FIELD_NUMBER = (
    "count",
    "next",
    "sweep",
    "share",
    "organism",
    "objective",
    "field-number",
)
ACTS = (COUNT, NEXT, SWEEP, SHARE, ORGANISM, OBJECTIVE, FIELD_NUMBER)
"""What can be done; ``undo`` and ``redo`` move between what was done."""
KEYS_IN_A_ROW = 9
"""Number keys 1 to 9; a second row of nine is reached by another key first."""


@dataclass(frozen=True)
class Act:
    """One thing that the counting person did.

    Attributes
    ----------
    kind : str
        One of `ACTS`.
    name : str
        The organism key or group of ``count`` and ``organism``.
    sure : bool
        Of ``count``: False where the person was not sure.
    value : float or None
        The share of ``share`` (0-1), the power of ``objective``, the number of ``field-number`` (mm); None
        is a share or a field number that is not known.
    """

    kind: str
    name: str = ""
    sure: bool = True
    value: float | None = None


@dataclass(frozen=True)
class Spot:
    """What is looked at once: a field, a chamber, or a sweep whose share is known when it ends."""

    kind: str
    objective: float | None
    field_number: float | None
    counts: tuple[tuple[str, int], ...] = ()
    unsure: tuple[tuple[str, int], ...] = ()
    share: float | None = None

    @property
    def empty(self) -> bool:
        """Whether nothing was counted in it."""
        return not self.counts and not self.unsure

    def seen(self, name: str, *, sure: bool = True) -> int:
        """Return how many of a name were counted in it."""
        return dict(self.counts if sure else self.unsure).get(name, 0)

    def plus(self, name: str, sure: bool) -> Spot:
        """Return the same with one more."""
        held = dict(self.counts if sure else self.unsure)
        held[name] = held.get(name, 0) + 1
        new = tuple(held.items())
        return replace(self, counts=new) if sure else replace(self, unsure=new)

    def reading(self) -> Reading:
        """Return it as it is recorded; a field with nothing in it is a zero."""
        return Reading(
            kind=self.kind,
            objective=self.objective,
            field_number=None if self.kind == "chamber" else self.field_number,
            cover_share=self.share if self.kind == "sweep" else None,
            counts=dict(self.counts),
            unsure=dict(self.unsure),
        )


@dataclass(frozen=True)
class Tally:
    """Where the counting stands.

    Attributes
    ----------
    unit : str
        ``field``, or ``chamber`` for a counting chamber.
    objective, field_number : float or None
        What is looked through now; the field number in mm, None where it is not known.
    first, second : tuple of str
        The organisms on the number keys: nine in the first row, nine more in the second.
    done : tuple of Spot
        What is finished, in order.
    open : Spot
        What is looked at now.
    """

    unit: str
    objective: float | None
    field_number: float | None
    first: tuple[str, ...]
    second: tuple[str, ...]
    done: tuple[Spot, ...]
    open: Spot

    @property
    def sweeping(self) -> bool:
        """Whether a sweep is going on."""
        return self.open.kind == "sweep"

    @property
    def names(self) -> tuple[str, ...]:
        """Every organism that has a key, or was counted, first row first."""
        counted = (name for spot in self.spots for name, _ in (*spot.counts, *spot.unsure))
        return tuple(dict.fromkeys((*self.first, *self.second, *counted)))

    @property
    def spots(self) -> tuple[Spot, ...]:
        """What is finished, and what is looked at now."""
        return (*self.done, self.open)

    @property
    def number(self) -> int:
        """The running number of the field or chamber that is looked at now (or comes after the sweep)."""
        return 1 + sum(spot.kind == self.unit for spot in self.done)

    def in_all(self, name: str, *, sure: bool = True) -> int:
        """Return how many of a name were counted in all, what is looked at now included."""
        return sum(spot.seen(name, sure=sure) for spot in self.spots)

    def total(self) -> int:
        """Return how many of everything were counted, unsure ones included."""
        return sum(n for spot in self.spots for _, n in (*spot.counts, *spot.unsure))

    def density(self, name: str) -> FieldDensity | None:
        """Return the mean per field of a name at this objective; None before the first field is finished.

        Only finished fields count; one that is still looked at would pull the mean down.
        """
        fields = [s for s in self.done if s.kind == "field" and s.objective == self.objective]
        return field_density([spot.seen(name) for spot in fields]) if fields else None

    def readings(self, *, open_too: bool | None = None) -> tuple[Reading, ...]:
        """Return what would be recorded if the counting ended now.

        Parameters
        ----------
        open_too : bool, optional
            Whether what is looked at now was finished too. When omitted, only if something is counted in it.

        """
        take = not self.open.empty if open_too is None else open_too
        return tuple(spot.reading() for spot in (self.spots if take else self.done))

    def joined_to(self, preparation: Preparation) -> Preparation:
        """Return a preparation with these readings behind its own."""
        return replace(preparation, readings=(*preparation.readings, *self.readings()))


def new_tally(
    objective: float | None,
    field_number: float | None,
    first: Iterable[str],
    second: Iterable[str] = (),
    *,
    chamber: bool = False,
) -> Tally:
    """Return a tally in which nothing was counted yet.

    Parameters
    ----------
    objective, field_number : float or None
        What is looked through; the field number in mm.
    first, second : iterable of str
        Organism keys or groups for the two rows of number keys.
    chamber : bool
        Whether chambers are counted instead of fields.

    Examples
    --------
    >>> tally = new_tally(10, 20, ["oxyurid"])
    >>> for act in (Act(COUNT, "oxyurid"), Act(NEXT), Act(NEXT)):
    ...     tally = after(tally, act)
    >>> tally.number, tally.in_all("oxyurid"), len(tally.readings())
    (3, 1, 2)
    """
    rows = tuple(dict.fromkeys(first)), tuple(dict.fromkeys(second))
    if any(len(row) > KEYS_IN_A_ROW for row in rows):
        raise ValueError(f"a row has {KEYS_IN_A_ROW} keys")
    unit = "chamber" if chamber else "field"
    return Tally(unit, objective, field_number, *rows, (), Spot(unit, objective, field_number))


def after(tally: Tally, act: Act) -> Tally:
    """Return the tally after an act.

    Raises
    ------
    BadInput
        When the act makes no sense now: a next field inside a sweep, a share without a sweep, a share
        outside 0 to 1, an organism without a name.
    """
    if act.kind == COUNT:
        return replace(tally, open=tally.open.plus(_name(act), act.sure))
    if act.kind == NEXT:
        if tally.sweeping:
            raise BadInput(
                "A sweep is going on, so there is no next field.",
                next="End the sweep with s.",
                code="in-a-sweep",
            )
        return _begin(replace(tally, done=tally.spots))
    if act.kind == SWEEP:
        if tally.sweeping or tally.unit == "chamber":
            text = "A sweep is going on already." if tally.sweeping else "A chamber is counted, not swept."
            raise BadInput(text, next="End it with s." if tally.sweeping else "", code="no-sweep")
        return _begin(_put_away(tally), kind="sweep")
    if act.kind == SHARE:
        if not tally.sweeping:
            raise BadInput("No sweep is going on.", next="Begin one with s.", code="no-sweep")
        share = None if act.value is None else _number(act, "the share", 0.0, 1.0)
        ended = replace(tally.open, share=share)
        done = tally.done if ended.empty and not share else (*tally.done, ended)
        return _begin(replace(tally, done=done))
    if act.kind == ORGANISM:
        return _with_key(tally, _name(act))
    if act.kind == OBJECTIVE:
        power = _number(act, "the objective", *OBJECTIVE_RANGE)
        if tally.sweeping:
            raise BadInput(
                "A sweep is going on with the objective that it began with.",
                next="End the sweep with s first.",
                code="in-a-sweep",
            )
        return _begin(replace(_put_away(tally), objective=power))
    if act.kind == FIELD_NUMBER:
        number = None if act.value is None else _number(act, "the field number", *FIELD_NUMBER_RANGE_MM)
        if tally.sweeping:
            return replace(tally, field_number=number, open=replace(tally.open, field_number=number))
        return _begin(replace(_put_away(tally), field_number=number))
    raise BadInput(f"{act.kind!r} is nothing that a tally knows.", code="unknown-act")


def _name(act: Act) -> str:
    if not act.name:
        raise BadInput("An organism needs its name.", code="organism-missing")
    return act.name


def _number(act: Act, what: str, low: float, high: float) -> float:
    if act.value is None or not low <= act.value <= high:
        given = "not given" if act.value is None else f"{act.value:g}"
        raise BadInput(
            f"{what[0].upper()}{what[1:]} is {given}; it lies between {low:g} and {high:g}.",
            next="Type the number again.",
            code="out-of-range",
        )
    return float(act.value)


def _put_away(tally: Tally) -> Tally:
    """Finish what is looked at now if something was counted in it; an untouched field was not read yet."""
    return tally if tally.open.empty else replace(tally, done=tally.spots)


def _begin(tally: Tally, kind: str = "") -> Tally:
    return replace(tally, open=Spot(kind or tally.unit, tally.objective, tally.field_number))


def _with_key(tally: Tally, name: str) -> Tally:
    if name in tally.first or name in tally.second:
        row, place = (1, tally.first.index(name)) if name in tally.first else (2, tally.second.index(name))
        where = f"{place + 1}" if row == 1 else f"0 {place + 1}"
        raise BadInput(f"{name} has a key already: {where}.", code="has-a-key")
    if len(tally.first) < KEYS_IN_A_ROW:
        return replace(tally, first=(*tally.first, name))
    if len(tally.second) < KEYS_IN_A_ROW:
        return replace(tally, second=(*tally.second, name))
    raise BadInput("All keys are taken.", next="Count it as its group.", code="keys-taken")
