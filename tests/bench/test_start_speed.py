"""How long ``fecallab --help``, a word completed in a shell and ``fecallab`` alone take, in one run.

Beside the bare import of the library that draws the help. Budget of the project: at most 3 times. ``pytest tests/bench --benchmark-enable`` measures it; the ratio of the
best of several runs, taken by turns, stands in ``extra_info`` and in the last line.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
TURNS = 12
BUDGET = 3.0
GENEROUS = 2 * BUDGET
"""What would be a mistake on any machine, such as a heavy import; a busy machine stays under it."""


def seconds(*words: str, **more: str) -> float:
    paths = [str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(paths), **more}
    started = time.perf_counter()
    subprocess.run([sys.executable, *words], env=environment, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - started


def test_help_beside_the_import_of_typer(benchmark: Any) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    bare: list[float] = []
    ours: list[float] = []

    def by_turns() -> None:
        bare.append(seconds("-c", "import typer"))
        ours.append(seconds("-m", "fecallab.cli.main", "--help"))

    by_turns()  # writes the byte code
    bare.clear(), ours.clear()
    benchmark.pedantic(by_turns, rounds=TURNS, iterations=1)
    ratio = min(ours) / min(bare)
    benchmark.extra_info["help_to_import_typer"] = round(ratio, 2)
    print(
        f"\nfecallab --help takes {ratio:.2f} times `import typer` ({min(ours):.3f} s to {min(bare):.3f} s);"
        f" budget {BUDGET:g}"
    )
    assert ratio < GENEROUS


def test_a_completed_word_and_the_bare_program(benchmark: Any) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    times: dict[str, list[float]] = {"import typer": [], "a completed verb": [], "fecallab alone": []}
    asked = {"_FECALLAB_COMPLETE": "complete_bash", "COMP_WORDS": "fecallab animal we", "COMP_CWORD": "2"}
    alone = {"FECALLAB_ASK": "0"}

    def by_turns() -> None:
        times["import typer"].append(seconds("-c", "import typer"))
        times["a completed verb"].append(seconds("-m", "fecallab", **asked))
        times["fecallab alone"].append(seconds("-m", "fecallab", **alone))

    by_turns()
    for each in times.values():
        each.clear()
    benchmark.pedantic(by_turns, rounds=TURNS, iterations=1)
    best = {name: min(each) for name, each in times.items()}
    for name in list(best)[1:]:
        ratio = best[name] / best["import typer"]
        benchmark.extra_info[name] = round(ratio, 2)
        print(f"\n{name}: {ratio:.2f} times `import typer` ({best[name]:.3f} s); budget {BUDGET:g}")
        assert ratio < GENEROUS
