"""Control runs: what shows that a keeper's method finds anything at all."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

CONTROL_KINDS = (
    "known positive",
    "blank",
    "gravity",
    "slide read blind",
    "microscope scale",
    "outside check",
)


@dataclass(frozen=True, kw_only=True)
class ControlRun:
    """One control run, as it was done and judged.

    Attributes
    ----------
    kind : str
        One of `CONTROL_KINDS`.
    method : str
        The exam method that was tried, as a preparation names it; empty for the scale and the gravity.
    solution, bottle : str
        The fluid, and which bottle or batch of it.
    objective : float or None
        The objective whose scale was checked.
    expected, found : str
        In words: what should have been found, and what was.
    expected_value, value : float or None
        The same as numbers: the long-run mean and the count, the gravity that was aimed at and the one that
        was weighed, the scale on record and the one just measured.
    passed : bool
        Whether the method stands.
    judged : str
        By which limits it was judged, in one line.
    """

    code: str = ""
    kind: str
    done_at: datetime
    method: str = ""
    solution: str = ""
    bottle: str = ""
    objective: float | None = None
    expected: str = ""
    found: str = ""
    expected_value: float | None = None
    value: float | None = None
    passed: bool
    judged: str = ""
    by: str = ""
    remark: str = ""
