"""General cautions in short words, grouped by the act beside which they are shown."""

from __future__ import annotations

from fecallab.domain.cautions import CAUTIONS, Caution

__all__ = ["ACTS", "BANNER", "CAUTIONS", "Caution", "act_of_route", "cautions_for"]

ACTS = (
    "microscope bench",
    "dose by mouth",
    "tube",
    "injection",
    "topical",
    "dilution",
    "fluids",
    "feeding",
    "disposal",
    "law",
    "closing a case",
)
"""The acts that cautions belong to."""

BANNER = (
    "Arithmetic only. Dose, strength, route, interval and number of doses are your vet's. If anything here "
    "differs from the label or from your vet's sheet, stop and call."
)
"""Stands above every worked-out dose."""


def cautions_for(act: str) -> tuple[Caution, ...]:
    """Return the cautions that belong to an act.

    Parameters
    ----------
    act : str
        One of :data:`ACTS`.

    Raises
    ------
    ValueError
        For an act that does not exist.

    Examples
    --------
    >>> [caution.code for caution in cautions_for("closing a case")]
    ['end-is-an-exam', 'no-diagnosis']
    """
    if act not in ACTS:
        raise ValueError(f"no such act: {act}; one of {', '.join(ACTS)}")
    return tuple(caution for caution in CAUTIONS if act in caution.acts)


def act_of_route(route: str) -> str:
    """Return the act of a route in letters; by mouth when the route is not said.

    Examples
    --------
    >>> act_of_route("SC"), act_of_route("")
    ('injection', 'dose by mouth')
    """
    if route == "TOP":
        return "topical"
    return "injection" if route in ("SC", "IM", "ICe", "IV", "IO") else "dose by mouth"
