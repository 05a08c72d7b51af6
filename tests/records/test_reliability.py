"""Short runs of what tests/bench/reliability.py does at length."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

from fecallab.records.engine import reading
from fecallab.records.folder import DATABASE
from fecallab.records.ledger_check import verify
from fecallab.records.store import Records

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="this system cannot fork")


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    path = Path(__file__).parents[1] / "bench" / "reliability.py"
    spec = importlib.util.spec_from_file_location("reliability_bench", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_no_acknowledged_command_is_lost_when_processes_are_killed(bench: ModuleType, tmp_path: Path) -> None:
    found = bench.commands_under_kills(tmp_path / "records", 40, seed=7)
    assert found.commands == 40
    assert found.killed > 0 and found.acknowledged > 0, "some were killed at work, some were done"
    assert (found.lost, found.problems) == (0, 0)


def test_eight_writers_at_once_lose_nothing(
    bench: ModuleType, open_store: Callable[..., Records], tmp_path: Path
) -> None:
    folder = tmp_path / "records"
    here = folder if (folder / DATABASE).exists() else None
    found = bench.writers_at_once(lambda: open_store(busy_seconds=60), here, 8, 4)
    assert (found.written, found.lost, found.doubled, found.problems) == (32, 0, 0, 0)


def test_the_collection_that_is_measured_is_a_whole_one(bench: ModuleType, store: Records) -> None:
    bench.fill(store, 40, marks_each=2, open_cases=1)
    exams = store.exams()
    assert len(exams) == 40 and all(len(one.preparations[0].readings[0].marks) == 2 for one in exams)
    with reading(store.engine) as connection:
        assert list(verify(connection)) == []
    assert set(bench.times_of(store)) == {
        "due, all open cases",
        "one case with its standing",
        "one animal with its exams",
        "one exam",
        "record a weighing",
    }
