"""fecallab: fecal exams of reptiles, from a sample to a case that is clear by the rule."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fecallab.records.store import create_records as create_records
    from fecallab.records.store import open_records as open_records

__version__ = "0.1.0"

_LAZY = {
    "create_records": "fecallab.records.store",
    "open_records": "fecallab.records.store",
}

__all__ = ["__version__", *_LAZY]


def __getattr__(name: str) -> Any:
    if name not in _LAZY:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_LAZY[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
