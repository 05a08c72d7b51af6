"""Thinning a drug when its volume is too small to measure: a recipe, and the error of the whole chain.

Nothing here chooses the liquid: the vet or the pharmacist names it. A recipe is mixed in a vial and
never in the syringe that the dose is given from.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, localcontext
from itertools import product
from math import prod
from typing import Any

from fecallab.domain.dose_facts import DoseFacts
from fecallab.domain.errors import BadInput
from fecallab.domain.figures import figure_text

NAMED_BY = ("vet", "pharmacist")
"""Who may name the liquid."""

_PARTS_IN_ALL = re.compile(r"(?:1|one)\s*(?:part\s*)?in\s*([0-9]{1,4})(?:\s*parts)?", re.IGNORECASE)
_PARTS_TO_PARTS = re.compile(r"(?:1|one)\s*(?:part\s*)?\+\s*([0-9]{1,4})(?:\s*parts)?", re.IGNORECASE)
_RATIO = re.compile(r"[0-9]\s*[:/]\s*[0-9]")


@dataclass(frozen=True, kw_only=True)
class DilutionOrder:
    """With what a drug may be thinned, and who said so.

    ``factor`` is the dilution that the vet wrote (10 for 1 in 10), None to take the smallest that can be
    measured; ``discard_on`` a day that the pharmacist gave; ``mixed_in`` is ``vial``.
    """

    diluent: str
    named_by: str
    role: str = "vet"
    factor: int | None = None
    stock_draw_ml: Decimal | None = None
    discard_on: date | None = None
    mixed_in: str = "vial"


@dataclass(frozen=True)
class Mixing:
    """One step: some of the stock and the liquid, each with its own syringe."""

    factor: int
    stock_mg_per_ml: Decimal
    stock_ml: Decimal
    stock_syringe_ml: Decimal
    diluent_ml: Decimal
    diluent_syringe_ml: Decimal
    error_shares: tuple[Decimal, Decimal]

    @property
    def total_ml(self) -> Decimal:
        """What is in the vial afterwards."""
        return self.stock_ml + self.diluent_ml

    @property
    def concentration_mg_per_ml(self) -> Decimal:
        """The strength in the vial afterwards, exactly."""
        with localcontext(prec=40):
            return self.stock_mg_per_ml / self.factor

    def as_dict(self) -> dict[str, Any]:
        """Return plain keys for ``--json``."""
        names = ("stock_mg_per_ml", "stock_ml", "stock_syringe_ml", "diluent_ml", "diluent_syringe_ml")
        plain: dict[str, Any] = {name: float(getattr(self, name)) for name in names}
        more = ("total_ml", "concentration_mg_per_ml")
        return {"factor": self.factor, **plain, **{name: float(getattr(self, name)) for name in more}}


@dataclass(frozen=True)
class Recipe:
    """How a drug is thinned: one or two steps, the new strength, and the volume of the mixture to give."""

    steps: tuple[Mixing, ...]
    volume_ml: Decimal
    diluent: str
    named_by: str
    discard: str

    @property
    def factor(self) -> int:
        """The dilution over all steps; 10 means one part in ten."""
        return whole([step.factor for step in self.steps])

    @property
    def concentration_mg_per_ml(self) -> Decimal:
        """The strength of the mixture that is given."""
        return self.steps[-1].concentration_mg_per_ml

    def error_share(self, dose_draw: Decimal = Decimal(0)) -> Decimal:
        """Return how far the dose may be off over every draw of mixing, and the dose's own draw."""
        return chain_error((*(share for step in self.steps for share in step.error_shares), dose_draw))

    def lines(self) -> tuple[str, ...]:
        """Say what to do, one line for each act."""
        said = []
        for number, step in enumerate(self.steps):
            what = "the bottle, shaken" if number == 0 else "the first vial, shaken"
            said += [
                f"Draw {figure_text(step.stock_ml)} ml from {what}, with a "
                f"{figure_text(step.stock_syringe_ml)} ml syringe into a clean vial.",
                f"Add {figure_text(step.diluent_ml)} ml of {self.diluent} (named by {self.named_by}) with "
                f"another syringe of {figure_text(step.diluent_syringe_ml)} ml: 1 in {step.factor}, now "
                f"{figure_text(step.concentration_mg_per_ml)} mg per ml. Write that on the vial.",
            ]
        return (*said, "Shake the vial and draw the dose at once, with the dosing syringe.", self.discard)

    def as_dict(self) -> dict[str, Any]:
        """Return plain keys for ``--json``."""
        return {
            "factor": self.factor,
            "concentration_mg_per_ml": float(self.concentration_mg_per_ml),
            "volume_ml": float(self.volume_ml),
            "diluent": self.diluent,
            "named_by": self.named_by,
            "steps": [step.as_dict() for step in self.steps],
            "discard": self.discard,
            "lines": list(self.lines()),
        }


def chain_error(shares: Iterable[Decimal]) -> Decimal:
    """Return the error of independent draws together: the root of the sum of squares.

    Examples
    --------
    >>> round(chain_error([Decimal("0.05")] * 3), 4)
    Decimal('0.0866')
    """
    with localcontext(prec=40):
        return sum((share * share for share in shares), Decimal(0)).sqrt()


def too_strong_by(drug_ml: Decimal, total_ml: Decimal, dead_space_ml: Decimal) -> Decimal:
    """Return how much too strong a mixture made inside one syringe is, as a share.

    The drug that fills tip and hub is behind the zero mark and comes on top.

    Examples
    --------
    >>> round(too_strong_by(Decimal("0.1"), Decimal(1), Decimal("0.07")), 3)
    Decimal('0.589')
    """
    with localcontext(prec=40):
        return (drug_ml + dead_space_ml) / (total_ml + dead_space_ml) * total_ml / drug_ml - 1


def factors(facts: DoseFacts) -> tuple[int, ...]:
    """Return the dilutions of one step, smallest first."""
    return tuple(sorted(int(rule.at_high()) for rule in facts.rules_with("dilution-factor").values()))


def ways(facts: DoseFacts) -> tuple[tuple[int, ...], ...]:
    """Return every way of one or two steps, the fewest steps and the smallest dilution first."""
    single = factors(facts)
    steps = int(facts.rule("dilution-too-many-steps").at_high())
    found = [way for count in range(1, steps + 1) for way in product(single, repeat=count)]
    one_step = max(single)
    longer = [
        way
        for way in found
        if len(way) > 1 and whole(way) > one_step and list(way) == sorted(way, reverse=True)
    ]
    return (*((factor,) for factor in single), *sorted(longer, key=lambda way: (len(way), whole(way))))


def whole(way: Sequence[int]) -> int:
    """Return the dilution over several steps.

    Examples
    --------
    >>> whole((10, 4))
    40
    """
    return prod(way)


def read_factor(text: str, facts: DoseFacts) -> int:
    """Read a dilution as people write it: ``1 in 10`` is one part and nine parts, as is ``1 + 9``.

    Raises
    ------
    BadInput
        For a ratio such as ``1:10``, which is read in two ways, and for a dilution that is not used.
    """
    typed = " ".join(text.split())
    if _RATIO.search(typed):
        raise BadInput(
            f'The dilution "{typed[:40]}" is a ratio, which some read as parts in all and some as parts to parts.',
            next=facts.rule("dilution-ratio").next,
            code="dilution-ratio",
        )
    in_all, to_parts = _PARTS_IN_ALL.fullmatch(typed), _PARTS_TO_PARTS.fullmatch(typed)
    factor = int(in_all[1]) if in_all else int(to_parts[1]) + 1 if to_parts else None
    if factor is None or factor not in {whole(way) for way in ways(facts)}:
        raise BadInput(
            f'The dilution "{typed[:40]}" is none of those that are used.',
            next=facts.rule("dilution-factor-unknown").next,
            code="dilution-factor-unknown",
        )
    return factor
