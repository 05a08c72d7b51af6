"""fecallab: fecal exams of reptiles, from a sample to a case that is clear by the rule.

The public names are those of ``fecallab.__all__``; each is loaded when it is first used, so that importing
``fecallab`` costs nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fecallab.domain.agreement import agreement as agreement
    from fecallab.domain.chamber import chamber_count as chamber_count
    from fecallab.domain.counting import field_density as field_density
    from fecallab.domain.errors import BadInput as BadInput
    from fecallab.domain.errors import CouldNot as CouldNot
    from fecallab.domain.errors import FecallabError as FecallabError
    from fecallab.domain.errors import Refused as Refused
    from fecallab.domain.reduction import reduction as reduction
    from fecallab.domain.residual import residual_chance as residual_chance
    from fecallab.imaging.detect import propose as propose
    from fecallab.imaging.read import open_picture as open_picture
    from fecallab.records.store import create_records as create_records
    from fecallab.records.store import open_records as open_records

__version__ = "0.1.0"

_LAZY = {
    "create_records": "fecallab.records.store",
    "open_records": "fecallab.records.store",
    "FecallabError": "fecallab.domain.errors",
    "BadInput": "fecallab.domain.errors",
    "CouldNot": "fecallab.domain.errors",
    "Refused": "fecallab.domain.errors",
    "field_density": "fecallab.domain.counting",
    "chamber_count": "fecallab.domain.chamber",
    "reduction": "fecallab.domain.reduction",
    "residual_chance": "fecallab.domain.residual",
    "agreement": "fecallab.domain.agreement",
    "open_picture": "fecallab.imaging.read",
    "propose": "fecallab.imaging.detect",
}

__all__ = ["__version__", *_LAZY]


def __getattr__(name: str) -> Any:
    if name not in _LAZY:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_LAZY[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
