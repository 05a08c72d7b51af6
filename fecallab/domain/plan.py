"""What the vet wrote: treatment and follow-up; never edited, only replaced."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

GOALS = ("clear", "low burden", "not clearable by stool exam", "watch, no treatment")
OUTCOMES = ("given", "partly given", "missed", "spat", "vomited")
TUBE_WAYS = ("flush", "overfill")
"""How what stays in a tube is dealt with: rinsed in afterwards, or drawn up in excess; never both."""


@dataclass(frozen=True, kw_only=True)
class RuleWord:
    """Somebody's word on one rule that warned or refused: which rule, who, when, and why it may go on."""

    rule: str
    by: str
    at: datetime
    why: str = ""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """One plan. ``doses_planned`` 0 means that nothing is given; numbers left None follow the defaults.

    ``follow_up_source`` says where the follow-up numbers come from (the vet, or the default with its source);
    they are copied in when the plan is recorded, so that a new edition never moves an old conclusion.

    Attributes
    ----------
    repeats_allowed : int or None
        How often the whole course may be repeated without a new plan; None when the vet did not say.
    fluids, fluids_ml_per_kg_day, fluid_product
        Fluids in the vet's words, as a figure for the day, and which product.
    warm_end_at_least_c, night_at_least_c : float or None
        The vet's floors for the warm end by day and for the lowest at night.
    diluent, diluent_by : str
        With what the drug may be thinned, and which vet or pharmacist named it.
    volume_written_ml : str
        The volume that the vet wrote on the sheet, if any.
    specialist_word : str
        Name and date of a reptile specialist's written word, where one is asked for.
    bottle_ml : float or None
        What was in the bottle when the plan began.
    tube_french, tube_inner_diameter_mm, tube_length_mm, tube_way
        The feeding tube, and which of `TUBE_WAYS` empties it.
    picture, label_picture : str
        Hashes of the pictures of the vet's sheet and of the label on the bottle.
    as_told : bool
        Somebody told of the plan; the sheet was not seen here.
    confirmed : tuple of RuleWord
        Warnings that the vet has answered for this plan.
    """

    code: str = ""
    case: str
    vet: str
    written_on: date
    goal: str = "clear"
    drug: str = ""
    component: str = ""
    dose_mg_per_kg: str = ""
    concentration_mg_per_ml: str = ""
    route: str = ""
    interval_days: float | None = None
    doses_planned: int = 0
    weight_max_age_days: float | None = None
    negatives_needed: int | None = None
    spacing_days: int | None = None
    wait_after_last_dose_days: int | None = None
    grade_at_most: str = ""
    grade_scale: str = ""
    follow_up_source: str = ""
    fluids: str = ""
    feeding: str = ""
    warm_end_at_least_c: float | None = None
    picture: str = ""
    edition: str = ""
    remark: str = ""
    repeats_allowed: int | None = None
    fluids_ml_per_kg_day: float | None = None
    fluid_product: str = ""
    night_at_least_c: float | None = None
    diluent: str = ""
    diluent_by: str = ""
    volume_written_ml: str = ""
    specialist_word: str = ""
    bottle_ml: float | None = None
    tube_french: float | None = None
    tube_inner_diameter_mm: float | None = None
    tube_length_mm: float | None = None
    tube_way: str | None = None
    label_picture: str = ""
    as_told: bool = False
    confirmed: tuple[RuleWord, ...] = ()


@dataclass(frozen=True, kw_only=True)
class DoseGiven:
    """One line of the treatment log: what really happened with one dose.

    Attributes
    ----------
    second_person : str
        Who read the volume a second time; optional.
    syringe_ml : float or None
        Size of the syringe that was used.
    dilution_factor : float or None
        How many times the drug was thinned; None when it was given as it is.
    diluted_mg_per_ml : str
        The strength of what was then in the syringe.
    delivered_mg_per_kg : str
        What the volume that was given makes per kg, by the weight of the day.
    flush_ml : float or None
        What rinsed the tube afterwards.
    as_told : bool
        Somebody told of the dose; it counts as given.
    overrides : tuple of RuleWord
        Rules that warned or refused and were overridden, by whom and why.
    """

    code: str = ""
    plan: str
    given_at: datetime
    outcome: str = "given"
    volume_ml: str = ""
    weight_g: float | None = None
    by: str = ""
    lot: str = ""
    remark: str = ""
    second_person: str = ""
    syringe_ml: float | None = None
    dilution_factor: float | None = None
    diluted_mg_per_ml: str = ""
    delivered_mg_per_kg: str = ""
    flush_ml: float | None = None
    as_told: bool = False
    overrides: tuple[RuleWord, ...] = ()


@dataclass(frozen=True, kw_only=True)
class DoseReaction:
    """What was seen of the animal after a dose; ``sign`` is a key of the table of reaction signs."""

    code: str = ""
    dose: str
    at: datetime
    sign: str
    text: str = ""
    by: str = ""


@dataclass(frozen=True, kw_only=True)
class OtherDrugGiven:
    """A drug that was given outside of any plan here: before the animal came, or by somebody else.

    ``doses`` is how many such doses the entry stands for, the last one on ``given_on``.
    """

    code: str = ""
    animal: str
    drug: str
    mg_per_kg: str = ""
    given_on: date
    doses: int = 1
    by: str = ""
    as_told: bool = False
    remark: str = ""
