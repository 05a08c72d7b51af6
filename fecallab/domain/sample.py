"""One stool (or other material): whose, when it was passed, how it was kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

ORIGINS = ("stool", "cloacal wash", "urine", "water dish", "urate only")
FORMS = ("formed", "soft", "liquid")
KEPT = ("room", "fridge", "frozen", "fixed")


@dataclass(frozen=True, kw_only=True)
class Sample:
    """One sample.

    Attributes
    ----------
    animal : str
        Code of its owner: an animal, a tub or a pen.
    passed_from, passed_to : datetime or None
        The stool was passed between these two times; None when unknown. The older end counts.
    collected_at : datetime
        When it was picked up.
    kept : str or None
        One of `KEPT`, None when unknown.
    mass_g : float or None
        Mass of the whole sample.
    whole_stool_used : bool
        The whole stool went into the preparation (small animals).
    same_stool_as : str
        Code of an earlier sample of the same defecation, empty otherwise.
    as_told : bool
        Somebody told of it; it was not seen here.
    stools_of : int or None
        For a tub or pen: of how many of its animals stool is in the sample; None when not noted.
    """

    code: str = ""
    animal: str
    origin: str = "stool"
    passed_from: datetime | None = None
    passed_to: datetime | None = None
    collected_at: datetime
    form: str | None = None
    kept: str | None = None
    mass_g: float | None = None
    whole_stool_used: bool = False
    same_stool_as: str = ""
    remark: str = ""
    as_told: bool = False
    stools_of: int | None = None

    @property
    def taken_on(self) -> date:
        """The day that counts for waits and spacing: the older end of the passing, else the collecting."""
        return (self.passed_from or self.collected_at).date()

    def passed_minutes_ago(self, read_at: datetime) -> tuple[float, float] | None:
        """Return (younger, older) age in minutes at the reading, or None when the passing is unknown.

        What was read had been passed, so a passing window that ends after the reading ends with it.

        Examples
        --------
        >>> s = Sample(animal="A1", passed_from=datetime(2026, 3, 4), passed_to=datetime(2026, 3, 4, 23, 59),
        ...            collected_at=datetime(2026, 3, 4, 23, 59))
        >>> s.passed_minutes_ago(datetime(2026, 3, 4, 9))
        (0.0, 540.0)
        """
        older = self.passed_from
        younger = self.passed_to or self.passed_from
        if older is None or younger is None:
            return None
        young, old = ((read_at - end).total_seconds() / 60 for end in (younger, older))
        return max(0.0, young), old
