"""The tables of one invented batch: how they are put into files, and what the records hold then."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fecallab.records.store import open_records

ANIMALS = [
    ["name", "kind", "number of animals", "species", "adult", "enclosure", "arrived"],
    ["Größe", "animal", "", "Pogona vitticeps", "yes", "pen; south", "2025-01-25"],
    ["Tub 7", "tub", "6", "Testudo hermanni", "no", "", ""],
]
WEIGHTS = [
    ["animal", "weighed at", "weight (g)", "remark"],
    ["größe", "2025-03-02 07:50", "640.5", "after a soak,\nquiet"],
    ["Tub 7", "2025-03-25", "1234", ""],
]
SAMPLES = [
    ["sample", "animal", "passed from", "passed to", "form", "kept", "mass (g)"],
    ["a", "Größe", "2025-03-02 06:00", "2025-03-02 08:00", "soft", "room", "1.4"],
    ["b", "Tub 7", "2025-03-25 06:00", "2025-03-25 08:00", "formed", "fridge", "2"],
]
READINGS = [
    [
        *("sample", "method", "read at", "gravity", "gravity checked", "stood (min)", "objective (x)"),
        *("share of cover glass (0 to 1)", "organism", "count"),
    ],
    ["a", "simple flotation", "2025-03-02 08:40", "1.20", "yes", "15", "10", "1", "oxyurid", "3"],
    ["b", "simple flotation", "2025-03-25 08:40", "1.20", "yes", "15", "10", "0.5", "oxyurid", "0"],
]
TABLES = {"animals": ANIMALS, "weights": WEIGHTS, "samples": SAMPLES, "readings": READINGS}


def csv_of(rows: list[list[str]], separator: str = ",") -> str:
    def cell(text: str) -> str:
        return f'"{text}"' if any(sign in text for sign in f'{separator}"\n') else text

    return "".join(separator.join(map(cell, row)) + "\r\n" for row in rows)


@pytest.fixture
def put(tmp_path: Path) -> Callable[..., Path]:
    """Write a file of a batch: text, or rows."""

    def write(name: str, content: str | list[list[str]], codec: str = "utf-8", separator: str = ",") -> Path:
        text = content if isinstance(content, str) else csv_of(content, separator)
        path = tmp_path / "tables" / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(text.encode(codec))
        return path

    return write


def facts(folder: Path) -> dict[str, Any]:
    with open_records(folder) as store:
        return {
            "animals": store.animals(),
            "weights": [w for a in store.animals() for w in store.weighings(a.code)],
            "samples": store.samples(),
            "exams": store.exams(),
            "cases": store.cases(),
        }


def one_float(sample: str, read_at: str, count: int) -> str:
    head = "sample,method,read at,gravity,gravity checked,stood (min),objective,share of cover glass,organism,count"
    return f"{head}\n{sample},simple_flotation,{read_at},1.2,yes,15,10,1,oxyurid,{count}\n"
