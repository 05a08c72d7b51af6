"""The shapes of the facts that dosing stands on: drug rows, hard stops, syringes and the rule table."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

from fecallab.domain.syringe import Syringe
from fecallab.domain.taxon import Taxon, narrowness

ROUTES = {
    "PO": ("po", "oral", "orally", "by mouth", "mouth", "per os"),
    "SC": ("sc", "sq", "under the skin", "subcutaneous"),
    "IM": ("im", "into muscle", "intramuscular"),
    "TOP": ("top", "topical", "on the skin", "spot-on"),
    "ICe": ("ice", "into the body cavity", "intracoelomic"),
    "IV": ("iv", "into a vein", "intravenous"),
    "IO": ("io", "into bone", "intraosseous"),
}
"""Routes by their usual letters, with the words that mean the same."""


FINDINGS = (
    "renal-failure",
    "dehydrated",
    "debilitated",
    "blood-in-stool",
    "low-white-cells",
    "fed-treated-prey",
    "food-animal",
)
"""What a stop can ask about the animal itself."""

SIGNS_TODAY = ("limp", "open-mouth breathing", "regurgitating")
"""Findings with which nothing is given by mouth."""

DELICATE = ("gravid", "hatchling", "before-shedding", "just-fed", "after-brumation")
"""Findings that the vet should know of before a dose."""

STOP_SIGNS = (
    "wobbling",
    "head tilt",
    "circling",
    "no righting",
    "tremor",
    "limp",
    "bleeding",
    "open-mouth breathing",
)
"""Reactions after a dose that stop the course until the vet has spoken."""

OVERRIDE_ROLES = ("nobody", "vet", "specialist", "vet-volume", "typed-twice", "new-plan", "not-needed")
"""Who or what may lift a rule: a person's recorded word, a volume on the vet's sheet, a second reading."""


def read_route(text: str) -> str | None:
    """Return the usual letters of a route, an empty text for none, or None when it is not known.

    Examples
    --------
    >>> read_route("by mouth"), read_route(""), read_route("sideways")
    ('PO', '', None)
    """
    said = " ".join(text.split()).casefold()
    if not said:
        return ""
    return next((route for route, words in ROUTES.items() if said in words), None)


NEARLY_SPELLED = 0.92
"""How much of two names of drugs must be the same, 0 to 1: own choice; different drugs of the table lie below."""


@dataclass(frozen=True)
class Strength:
    """A strength in which a drug is sold or made up."""

    value: Decimal
    unit: str
    source_kind: str


@dataclass(frozen=True)
class DrugRow:
    """One published dose of one drug: for whom, how much, how often, and by which source."""

    key: str
    drug: str
    taxa: tuple[str, ...]
    studied_in: str
    use: str
    sets_range: bool
    dose_min_mg_per_kg: Decimal | None
    dose_max_mg_per_kg: Decimal | None
    routes: tuple[str, ...]
    interval_min_hours: Decimal | None
    interval_max_hours: Decimal | None
    course: str
    ceiling_mg_per_kg: Decimal | None
    ceiling_basis: str
    narrow_margin: bool
    hydration_first: bool
    component: str
    known_concentrations: tuple[Strength, ...]
    caution: str
    source: str
    source_kind: str
    confidence: str
    targets: tuple[str, ...] = ()
    concentration_note: str = ""

    def speaks_of(self, taxon: Taxon) -> bool:
        """Say whether the row is about this animal."""
        return any(taxon.is_a(entry) for entry in self.taxa)

    def narrowness_for(self, taxon: Taxon) -> int:
        """Return how closely the row names this animal; 0 when it does not."""
        return max((narrowness(entry) for entry in self.taxa if taxon.is_a(entry)), default=0)


@dataclass(frozen=True)
class DrugName:
    """A drug by its generic name, other generic names, and the classes that stops are written for."""

    drug: str
    other_names: tuple[str, ...]
    classes: tuple[str, ...]
    components: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class HardStop:
    """A rule about a drug in an animal that no range can soften; every filled condition must hold."""

    key: str
    code: str
    taxa: tuple[str, ...]
    within: tuple[str, ...]
    drugs: tuple[str, ...]
    classes: tuple[str, ...]
    action: str
    overridden_by: str
    text: str
    next: str
    source: str
    source_kind: str
    above_mg_per_kg: Decimal | None = None
    concentration_from_mg_per_ml: Decimal | None = None
    concentration_to_mg_per_ml: Decimal | None = None
    routes: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()
    with_drugs: tuple[str, ...] = ()
    with_classes: tuple[str, ...] = ()
    within_days: Decimal | None = None
    doses_at_least: int | None = None
    interval_at_most_hours: Decimal | None = None
    same_drug_counts: bool = False

    @property
    def refuses(self) -> bool:
        """Whether it refuses, with or without a specialist's word."""
        return self.action.startswith("refuse")

    @property
    def asks_for_species(self) -> bool:
        """Whether it refuses one drug by what the animal is or has, and not by a figure alone."""
        figures = (self.above_mg_per_kg, self.concentration_from_mg_per_ml, self.concentration_to_mg_per_ml)
        by_figure = "any" in self.taxa and any(figure is not None for figure in figures)
        return self.refuses and "any" not in self.drugs and not by_figure

    def names(self, drug: DrugName) -> bool:
        """Say whether it is about this drug by name or class."""
        return drug.drug in self.drugs or bool(set(drug.classes) & set(self.classes))


@dataclass(frozen=True)
class DoseRule:
    """One row of the rule table: the thresholds live here and nowhere else.

    ``place`` says where it stands (order, weight, tube …), ``override_role`` who may lift it, one of
    :data:`OVERRIDE_ROLES`, and ``recorded_as`` what is kept when somebody does.
    """

    code: str
    scope: str
    action: str
    when: str
    low: Decimal | None
    high: Decimal | None
    unit: str
    needs: str
    overridden_by: str
    ask: str
    next: str
    source: str
    source_kind: str
    note: str = ""
    place: str = ""
    override_role: str = "nobody"
    recorded_as: str = ""

    def at_low(self) -> Decimal:
        """Return the lower threshold; a row without one is an error of the table."""
        if self.low is None:
            raise ValueError(f"the dosing rule {self.code} has no lower threshold")
        return self.low

    def at_high(self) -> Decimal:
        """Return the upper threshold; a row without one is an error of the table."""
        if self.high is None:
            raise ValueError(f"the dosing rule {self.code} has no upper threshold")
        return self.high


@dataclass(frozen=True)
class DoseFacts:
    """Everything that dosing needs to know, handed in as one argument."""

    drug_rows: tuple[DrugRow, ...]
    drug_names: tuple[DrugName, ...]
    hard_stops: tuple[HardStop, ...]
    syringes: tuple[Syringe, ...]
    rules: tuple[DoseRule, ...]
    edition: str = ""
    _by_code: dict[tuple[str, str], DoseRule] = field(
        init=False, repr=False, compare=False, default_factory=dict
    )

    def __post_init__(self) -> None:
        self._by_code.update({(rule.code, rule.scope): rule for rule in self.rules})

    def rule(self, code: str, scope: str = "") -> DoseRule:
        """Return one rule; a code that is in no row is an error of the table (KeyError)."""
        return self._by_code[code, scope]

    def rules_with(self, code: str) -> dict[str, DoseRule]:
        """Return all rows of one code by their scope."""
        return {rule.scope: rule for rule in self.rules if rule.code == code}

    def find_drug(self, text: str) -> DrugName | None:
        """Find a drug by any of its generic names, or None."""
        said = " ".join(text.split()).casefold()
        for name in self.drug_names:
            if said and said in (name.drug.casefold(), *(other.casefold() for other in name.other_names)):
                return name
        return None

    def spelled_nearly(self, text: str) -> str:
        """Return the one generic name that differs from what was typed by a slip; empty when none does.

        Names of drugs are alike, so only a slip of a letter or two is taken for one, and none is chosen.
        """
        import difflib

        names = [one for name in self.drug_names for one in (name.drug, *name.other_names)]
        known = {name.casefold(): name for name in names}
        said = " ".join(text.split()).casefold()
        near = difflib.get_close_matches(said, known, n=2, cutoff=NEARLY_SPELLED)
        return known[near[0]] if len(near) == 1 and near[0] != said else ""

    def rows_of(self, drug: str) -> tuple[DrugRow, ...]:
        """Return the rows of one drug by its first generic name."""
        return tuple(row for row in self.drug_rows if row.drug == drug)
