"""Animals, tubs and pens, their weights, and what happens to them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

KINDS = ("animal", "tub", "pen")
"""One animal; a tub with a number of animals; a pen where the owner of a stool is unknown."""

EVENT_KINDS = ("brumation", "died", "left", "vet accepts course")

MEASUREMENT_KINDS = (
    "snout-vent length",
    "total length",
    "plastron length",
    "carapace length",
    "snout to stomach",
    "other length",
)
"""What can be measured along an animal; the plastron and the snout-vent length tell how far a tube goes."""

AS_TOLD = "as told, not seen here"
"""What stands beside everything that somebody told and nobody saw here (animals taken on in mid-course)."""


@dataclass(frozen=True, kw_only=True)
class Animal:
    """One animal, or a tub or pen that is sampled as one.

    Attributes
    ----------
    code : str
        Short code given by the records, ``A1``.
    kind : str
        One of `KINDS`.
    number_of_animals : int
        How many live in a tub or pen; 1 for an animal.
    host_group : str
        tortoise, turtle, snake, lizard, gecko, chameleon, crocodilian or other.
    plant_eater : bool
        Whether it mainly eats plants; some parasites are normal inhabitants then.
    adult : bool or None
        None when unknown.
    """

    code: str = ""
    name: str
    kind: str = "animal"
    number_of_animals: int = 1
    species: str = ""
    host_group: str = "other"
    plant_eater: bool = False
    adult: bool | None = None
    enclosure: str = ""
    arrived_on: date | None = None
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class Weighing:
    """One weighing; ``state`` says what makes the number odd (gravid, urine passed, just fed …).

    ``as_told`` marks a weight that was told by somebody else.
    """

    code: str = ""
    animal: str
    weighed_at: datetime
    mass_g: float
    scale_step_g: float | None = None
    state: str = ""
    remark: str = ""
    as_told: bool = False


@dataclass(frozen=True, kw_only=True)
class Measurement:
    """One length along an animal, in mm; ``kind`` is one of `MEASUREMENT_KINDS`."""

    code: str = ""
    animal: str
    kind: str
    value_mm: float
    measured_at: datetime
    by: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class AnimalEvent:
    """Brumation (with start and end), death, leaving, or the vet's word that a broken course counts."""

    code: str = ""
    animal: str
    kind: str
    start: date
    end: date | None = None
    case: str = ""
    by: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class CareEntry:
    """Supportive care that was given: what, when, how much.

    ``kind`` is one of fluids, feeding, warm end, lowest at night, soak, cleaning, other; ``amount`` is in
    ``unit`` (ml, g, °C), both empty where there is no number.
    """

    code: str = ""
    animal: str = ""
    enclosure: str = ""
    at: datetime
    kind: str
    amount: float | None = None
    unit: str = ""
    remark: str = ""
