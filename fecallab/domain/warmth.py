"""Is the animal warm enough for a drug: warm end by day and lowest at night, its own range, the vet's floor.

A cold reptile neither takes a drug up nor clears it (read: Gibbons, Therapeutics, in Mader's). The range
comes from the table of animals, the floor from the vet's plan; the floor goes before the range. The table has
no figures for nights: there the low end of the range stands in, in favour of the animal, and that is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from fecallab.domain.dose_found import Found
from fecallab.domain.dose_request import Figure, exact
from fecallab.domain.figures import figure_text
from fecallab.domain.slips import celsius_if_fahrenheit

STANDINGS = ("ok", "cold", "too warm", "unknown")
NO_NIGHTS = "no figure for nights was found, so the low end of its range holds"
"""What is said of a floor at night that comes from the table and not from the vet."""


@dataclass(frozen=True, kw_only=True)
class WarmthToday:
    """What a thermometer showed in the last day, in °C; None for what nobody measured."""

    warm_end_c: Figure | None = None
    lowest_at_night_c: Figure | None = None


@dataclass(frozen=True, kw_only=True)
class WarmRange:
    """The range in which an animal is kept, in °C, and what the range is about.

    ``warm_end_low_c`` and ``warm_end_high_c`` are of the place where it warms itself, where the table
    knows one apart from the range.
    """

    name: str
    low_c: Decimal
    high_c: Decimal
    means: str
    source_kind: str
    warm_end_low_c: Decimal | None = None
    warm_end_high_c: Decimal | None = None

    @property
    def day_low_c(self) -> Decimal:
        """The least that the warm end should have."""
        return self.low_c if self.warm_end_low_c is None else self.warm_end_low_c

    @property
    def day_high_c(self) -> Decimal:
        """The most that the warm end should have."""
        return self.high_c if self.warm_end_high_c is None else max(self.high_c, self.warm_end_high_c)


@dataclass(frozen=True, kw_only=True)
class WarmthFloor:
    """What the vet wrote as the least, in °C; None where nothing was written."""

    warm_end_at_least_c: Figure | None = None
    night_at_least_c: Figure | None = None


def check_warmth(
    today: WarmthToday | None,
    own: WarmRange | None,
    floor: WarmthFloor,
    found: Found,
    *,
    first_dose: bool,
) -> str:
    """Refuse a dose for a cold animal, and say how it stands.

    Parameters
    ----------
    today : WarmthToday or None
        What was measured; None when nobody asked (then nothing is checked, and that is said).
    own : WarmRange or None
        The animal's own range; None where the table knows none.
    floor : WarmthFloor
        What the vet wrote.
    found : Found
        Collects refusals and warnings.
    first_dose : bool
        Whether this is the first dose of the course: then both figures must be known.

    Returns
    -------
    str
        One of :data:`STANDINGS`.
    """
    if today is None:
        found.ask("warmth")
        return "unknown"
    day = _read(today.warm_end_c, "warm end by day", found)
    night = _read(today.lowest_at_night_c, "lowest at night", found)
    missing = [
        words
        for words, given in (
            ("warm end by day", today.warm_end_c),
            ("lowest at night", today.lowest_at_night_c),
        )
        if given is None
    ]
    if missing:
        scope = "first-dose" if first_dose else "later-dose"
        found.say("warmth-not-recorded", f"Not written down: {' and '.join(missing)}.", scope)
    if day is not None and night is not None and night > day:
        text = f"The lowest at night ({_c(night)}) is above the warm end by day ({_c(day)})."
        found.say("temperatures-swapped", text)
        return "unknown"
    if own is None and None in (floor.warm_end_at_least_c, floor.night_at_least_c):
        found.say("warm-range-unknown", "The table of animals has no range of warmth for this kind.")
    standings = [
        _one(day, exact(floor.warm_end_at_least_c), own, "day", found),
        _one(night, exact(floor.night_at_least_c), own, "night", found),
    ]
    return next((word for word in ("cold", "too warm", "unknown") if word in standings), "ok")


def _read(figure: Figure | None, words: str, found: Found) -> Decimal | None:
    """Read a temperature, or refuse one in which no reptile is kept."""
    if figure is None:
        return None
    value, rule = exact(figure), found.facts.rule("temperature-implausible")
    if value is None:
        found.say(rule.code, f"The {words} is {str(figure)[:30]}: it must be a number.")
        return None
    if rule.at_low() <= value <= rule.at_high():
        return value
    celsius = celsius_if_fahrenheit(value)
    fits = rule.at_low() <= celsius <= rule.at_high()
    slip = f" {figure_text(value)} °F would be {figure_text(round(celsius, 1))} °C." if fits else ""
    found.say(rule.code, f"The {words} is {figure_text(value)} °C.{slip}")
    return None


def _one(value: Decimal | None, floor: Decimal | None, own: WarmRange | None, when: str, found: Found) -> str:
    """Compare one temperature with the vet's floor, else with the animal's own range."""
    least = None if own is None else own.day_low_c if when == "day" else own.low_c
    words = "The warm end" if when == "day" else "The lowest at night"
    if floor is not None and least is not None and floor < least and own is not None:
        by_table = own.name if when == "day" else f"{own.name}; {NO_NIGHTS}"
        text = f"{words} is to be at least {_c(floor)} by the vet, {_c(least)} by the table ({by_table})."
        found.say("floor-below-range", text)
    if value is None:
        return "unknown"
    if floor is not None and value < floor:
        found.say("below-vets-floor", f"{words} was {_c(value)}, the vet wrote at least {_c(floor)}.", when)
        return "cold"
    if own is None:
        return "ok" if floor is not None else "unknown"
    range_words = f"{own.name}: {own.means}, {own.source_kind}"
    if floor is None and least is not None and value < least:
        code = "too-cold-by-day" if when == "day" else "too-cold-at-night"
        why = range_words if when == "day" else f"{range_words}; {NO_NIGHTS}"
        found.say(code, f"{words} was {_c(value)}, at least {_c(least)} is asked for ({why}).")
        return "cold"
    most = own.day_high_c if when == "day" else own.high_c
    if value > most:
        found.say("too-warm", f"{words} was {_c(value)}, the most is {_c(most)} ({range_words}).", when)
        return "too warm"
    return "ok"


def _c(value: Decimal) -> str:
    return f"{figure_text(value)} °C"
