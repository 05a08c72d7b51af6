"""How long 10,000 weights of a table take, checked and recorded, beside recording as many facts one by one.

``pytest tests/bench --benchmark-enable`` measures it in one run, by turns; ratio and seconds stand in
``extra_info`` and in the last line.
"""

from __future__ import annotations

import time
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from fecallab.domain.animal import Animal, Weighing
from fecallab.records.store import create_records, open_records

ROWS, ANIMALS, TURNS = 10_000, 100, 3
BUDGET = 1.5
START = datetime(2025, 1, 1, 8)


def new_folder(folder: Path) -> Path:
    create_records(folder)
    with open_records(folder) as store, store.write(by="Mara", now=START) as writer:
        for number in range(ANIMALS):
            writer.add(Animal(name=f"Gecko no {number}"))
    return folder


def test_a_table_beside_facts_one_by_one(benchmark: Any, tmp_path: Path) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    from fecallab.cli.main import run

    moments = [START + timedelta(hours=row // ANIMALS) for row in range(ROWS)]
    lines = [
        f"Gecko no {row % ANIMALS},{moments[row]:%Y-%m-%d %H:%M},{30 + row % 7}.5" for row in range(ROWS)
    ]
    table = tmp_path / "weights.csv"
    table.write_text("\n".join(["animal,weighed at,weight (g)", *lines, ""]), encoding="utf-8")
    tables: list[float] = []
    alone: list[float] = []

    def by_turns() -> None:
        folder = new_folder(tmp_path / f"table-{len(tables)}")
        started = time.perf_counter()
        assert run(["batch", "take-in", str(table), "--records", str(folder), "--json"]) == 0
        tables.append(time.perf_counter() - started)
        folder = new_folder(tmp_path / f"alone-{len(alone)}")
        started = time.perf_counter()
        with open_records(folder) as store, store.write(by="Mara", now=START) as writer:
            for row in range(ROWS):
                mass = 30.5 + row % 7
                writer.add(Weighing(animal=f"A{row % ANIMALS + 1}", weighed_at=moments[row], mass_g=mass))
        alone.append(time.perf_counter() - started)

    benchmark.pedantic(by_turns, rounds=TURNS, iterations=1)
    ratio = min(tables) / min(alone)
    benchmark.extra_info["table_to_facts"] = round(ratio, 2)
    benchmark.extra_info["table_seconds"] = round(min(tables), 2)
    print(
        f"\n{ROWS:,} weights of a table take {ratio:.2f} times as long as facts one by one"
        f" ({min(tables):.2f} s to {min(alone):.2f} s); budget {BUDGET:g}"
    )
    assert ratio < 2 * BUDGET
