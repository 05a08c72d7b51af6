"""What stands on printed sheets: dataclasses first, drawing second."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from fecallab.domain.errors import Reason

PAPERS: dict[str, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height in mm: ISO 216 A4, and Letter (8.5 × 11 inch)."""

FIELDS = 20
"""Boxes for fields in one row of the microscope sheet."""


@dataclass(frozen=True, kw_only=True)
class SheetStamp:
    """What every sheet says about itself, at its foot."""

    made_on: date
    program_version: str
    edition: str


@dataclass(frozen=True, kw_only=True)
class Question:
    """One yes/no question of the adequacy table; ``unit`` and ``number`` when a number is written beside it.

    ``number`` names what is written (``room``), ``unit`` stands behind the line (``°C``).
    """

    code: str
    text: str
    number: str = ""
    unit: str = ""


@dataclass(frozen=True, kw_only=True)
class BenchBlock:
    """Half a page of the microscope sheet: one preparation of one sample of one animal.

    Attributes
    ----------
    sample : str
        Code of a sample that is recorded already; empty when it is yet to be passed.
    passed : str
        When a recorded sample was passed, in words.
    counts_from : date or None
        The first day on which a stool counts for the case.
    organisms : tuple of str
        Names of the rows, those of the cases first; at most three.
    signs : tuple of str
        What goes to the vet at once, asked of this animal.
    part : str
        ``1 of 2`` where the sample needs more than one preparation.
    note : str
        What must be known before the work begins.
    """

    animal: str
    code: str
    about: str = ""
    place: str = ""
    sample: str = ""
    passed: str = ""
    counts_from: date | None = None
    targets: tuple[str, ...] = ()
    method: str
    method_words: str
    organisms: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()
    chamber: bool = False
    signs: tuple[str, ...] = ()
    part: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class BenchSheet:
    """The microscope sheet: blocks, two on a page, and the columns by which it is typed in."""

    stamp: SheetStamp
    blocks: tuple[BenchBlock, ...]
    columns: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class DoseBlock:
    """One dose of one case, or what stands in its way.

    ``draw_ml`` and all that follows from it are None whenever a rule refuses or the vet's word is still to be
    asked: then ``obstacles`` holds every reason with its way forward, and no volume is printed anywhere.
    """

    case: str
    animal: str
    code: str
    about: str = ""
    place: str = ""
    target: str = ""
    drug: str = ""
    dose_mg_per_kg: str = ""
    concentration_mg_per_ml: str = ""
    route: str = ""
    vet: str = ""
    plan: str = ""
    written_on: date | None = None
    number: int = 0
    doses_planned: int = 0
    interval: str = ""
    weight: str = ""
    draw_ml: Decimal | None = None
    draw_words: str = ""
    exact_ml: str = ""
    delivered: str = ""
    syringe_ml: Decimal | None = None
    graduation_ml: Decimal | None = None
    units_per_ml: Decimal | None = None
    mixing: tuple[str, ...] = ()
    tube: tuple[str, ...] = ()
    before: str = ""
    warnings: tuple[Reason, ...] = ()
    not_checked: tuple[Reason, ...] = ()
    obstacles: tuple[Reason, ...] = ()
    cautions: tuple[str, ...] = ()
    watch: tuple[str, ...] = ()
    brought_up: tuple[str, ...] = ()
    log: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if (self.draw_ml is None) != bool(self.obstacles):
            raise ValueError("a dose block holds either a volume or what stands in its way")


@dataclass(frozen=True, kw_only=True)
class CareBlock:
    """Today's care for one animal; an empty text means that nothing is ordered about it."""

    animal: str
    code: str
    about: str = ""
    place: str = ""
    weight: str = ""
    doses: tuple[DoseBlock, ...] = ()
    no_dose: tuple[str, ...] = ()
    fluids: str = ""
    feeding: str = ""
    warm_end: str = ""
    lowest: str = ""
    cleaning: str = ""
    watch: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class CareSheet:
    """Today's care for all animals; ``signs`` go to the vet at once."""

    stamp: SheetStamp
    blocks: tuple[CareBlock, ...]
    signs: tuple[str, ...]
    cautions: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, kw_only=True)
class Label:
    """One label: what stands on it and what its QR code says.

    ``code`` is empty on a label for a sample that is not recorded yet; a line to write it on is printed then.
    """

    animal: str
    animal_code: str
    code: str = ""
    passed: str = ""
    content: str


@dataclass(frozen=True, kw_only=True)
class LabelGrid:
    """A bought sheet of labels: how many, how large, where the first one starts; all in mm."""

    paper: str
    rows: int
    columns: int
    top_mm: float
    left_mm: float
    width_mm: float
    height_mm: float
    gap_across_mm: float = 0.0
    gap_down_mm: float = 0.0

    @property
    def on_a_sheet(self) -> int:
        """How many labels a sheet holds."""
        return self.rows * self.columns
