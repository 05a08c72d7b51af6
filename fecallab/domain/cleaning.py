"""Cleaning: what the table says for a target, and when an enclosure was last cleaned."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from fecallab.domain.animal import CareEntry
from fecallab.domain.plan import DoseGiven
from fecallab.domain.spoken import say_date


@dataclass(frozen=True, kw_only=True)
class CleaningRow:
    """One row of the table of cleaning; texts are empty and numbers None where nothing is known.

    Attributes
    ----------
    group : str
        The target group; ``all`` for the general rule.
    about : str
        Which organisms, or what it was measured on.
    survival_days_min, survival_days_max : float or None
        How long the infective stage lives outside.
    maturation_days_min, maturation_days_max : float or None
        From passing to infective.
    heat_c, heat_minutes : float or None
        Heat that kills, and for how long the surface itself must have it.
    ammonia_percent, ammonia_minutes, peroxide_percent, peroxide_minutes : float or None
        What kills, how strong, and for how long it must stay wet.
    removal_hours : float or None
        How often stool is taken out.
    people : str
        What the keeper does for the people around.
    cautions : str
        Always shown with the rest.
    """

    key: str
    group: str
    about: str
    infective_stage: str
    direct_cycle: bool | None
    survival_days_min: float | None
    survival_days_max: float | None
    survival_note: str
    maturation_days_min: float | None
    maturation_days_max: float | None
    maturation_note: str
    heat_c: float | None
    heat_minutes: float | None
    drying: str
    ammonia_percent: float | None
    ammonia_means: str
    ammonia_minutes: float | None
    peroxide_percent: float | None
    peroxide_minutes: float | None
    steam: str
    not_effective: str
    removal_hours: float | None
    removal_note: str
    substrate: str
    people: str
    cautions: str
    source: str
    source_kind: str

    @property
    def lines(self) -> tuple[str, ...]:
        """Everything in words, a line each; the cautions and the source are always among them."""
        chemical = [
            f"ammonia {self.ammonia_percent:g} % ({self.ammonia_means}){_wet(self.ammonia_minutes)}"
            if self.ammonia_percent
            else "",
            f"peroxide {self.peroxide_percent:g} %{_wet(self.peroxide_minutes)}"
            if self.peroxide_percent
            else "",
        ]
        heat = f"{self.heat_c:g} °C for {say_minutes(self.heat_minutes)}" if self.heat_c else ""
        stage = "" if self.infective_stage == "any" else self.infective_stage
        if self.direct_cycle is not None:
            way = "straight from stool to host" if self.direct_cycle else "by another host in between"
            stage = f"{stage}; {way}"
        said = {
            "Infective": stage,
            "Lives outside": _joined(
                _span(self.survival_days_min, self.survival_days_max), self.survival_note
            ),
            "Infective after": _joined(
                _span(self.maturation_days_min, self.maturation_days_max), self.maturation_note
            ),
            "Heat": heat,
            "Steam": self.steam,
            "Drying": self.drying,
            "Chemicals": ", or ".join(filter(None, chemical)),
            "Does not kill it": self.not_effective,
            "Take stool out": _joined(
                f"every {self.removal_hours:g} hours" if self.removal_hours else "", self.removal_note
            ),
            "Floor": self.substrate,
            "People": self.people,
            "Caution": self.cautions,
            "Source": f"{self.source} ({self.source_kind})",
        }
        return tuple(f"{name}: {text}" for name, text in said.items() if text)


_OWN_ONLY = ("Take stool out", "Lives outside", "Infective")
"""What the general row says only where the target has no row of its own."""


@dataclass(frozen=True)
class CleaningAdvice:
    """What is advised for a target: its own row (None where the table has none) and the general one."""

    target: str
    own: CleaningRow | None
    general: CleaningRow

    @property
    def lines(self) -> tuple[str, ...]:
        """The advice in words: the target's own row first, then how cleaning is done at all."""
        if self.own is None:
            head = (f"Nothing of its own is known here for {self.target}; the general rule:",)
            return (*head, *self.general.lines)
        return (
            f"{self.own.group} ({self.own.about}):",
            *(f"  {line}" for line in self.own.lines),
            "Whatever it is:",
            *(f"  {line}" for line in self.general.lines if not line.startswith(_OWN_ONLY)),
        )

    @property
    def short(self) -> tuple[str, ...]:
        """The same in a few lines: how often, what kills, and all cautions, which it never goes without."""
        row = self.own or self.general
        kept = {line.partition(":")[0]: line for line in row.lines}
        kills = [kept[name] for name in ("Heat", "Steam", "Drying", "Chemicals") if name in kept]
        first = [kept[name] for name in ("Take stool out", "Does not kill it") if name in kept]
        cautions = [kept[name] for name in ("People", "Caution") if name in kept]
        always = [f"Caution: {self.general.cautions}"] if self.own else []
        return tuple(". ".join(piece) for piece in (first, kills, cautions, always) if piece)


def last_dose_day(doses: Iterable[DoseGiven]) -> date | None:
    """Return the day of the last dose that was given."""
    return max((dose.given_at.date() for dose in doses if dose.outcome == "given"), default=None)


def cleanings(care: Iterable[CareEntry], since: date | None = None) -> list[date]:
    """Return the days on which it was cleaned, oldest first; only those from `since` on when it is given."""
    days = {entry.at.date() for entry in care if entry.kind == "cleaning"}
    return sorted(day for day in days if since is None or day >= since)


def cleaned_since_last_dose(care: Iterable[CareEntry], doses: Iterable[DoseGiven], today: date) -> str:
    """Return the line that stands beside "positive again": when it was cleaned since the last dose.

    Examples
    --------
    >>> cleaned_since_last_dose([], [], date(2026, 3, 4))
    'Reinfection is possible. No cleaning is recorded.'
    """
    start = last_dose_day(doses)
    days = [day for day in cleanings(care, start) if day <= today]
    since = f" since the last dose of {say_date(start)}" if start else ""
    if not days:
        return f"Reinfection is possible. No cleaning is recorded{since}."
    return f"Reinfection is possible. Cleaned{since}: {', '.join(map(say_date, days))}."


def say_minutes(minutes: float | None) -> str:
    """Return minutes as a person says them.

    Examples
    --------
    >>> say_minutes(5), say_minutes(1080), say_minutes(1440)
    ('5 minutes', '18 hours', '1 day')
    """
    if minutes is None:
        return "a time that is not known"
    for unit, length in (("day", 1440), ("hour", 60), ("minute", 1)):
        if minutes >= length:
            number = minutes / length
            return f"{number:g} {unit}" + ("" if number == 1 else "s")
    return f"{minutes * 60:.0f} seconds"


def _wet(minutes: float | None) -> str:
    return f", wet for {say_minutes(minutes)}" if minutes is not None else ""


def _span(least: float | None, most: float | None) -> str:
    if least is None and most is None:
        return ""
    if least is None or most is None:
        return f"up to {_days(most)}" if least is None else f"from {_days(least)}"
    return _days(most) if least == most else f"{_days(least)} to {_days(most)}"


def _days(days: float | None) -> str:
    assert days is not None
    return "at once" if days == 0 else say_minutes(round(days * 1440))


def _joined(*pieces: str) -> str:
    return "; ".join(piece for piece in pieces if piece)
