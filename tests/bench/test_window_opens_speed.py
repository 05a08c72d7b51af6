"""How soon the marking window shows a sign of life: its first line, and its first small window on the screen.

``pytest tests/bench/test_window_opens_speed.py --benchmark-enable -s`` on a screen (or ``xvfb-run``). Beside the
bare start of Python with Qt's own libraries, in one run, because a busy machine is slow in both.
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
TURNS = 5
BUDGET_S = 1.0
GENEROUS = 4.0
"""Times the bare start; a heavy import before the sign would exceed it on any machine."""

BARE = (
    "import sys\nfrom qtpy.QtWidgets import QApplication, QLabel\n"
    "app = QApplication([])\nlabel = QLabel('x')\nlabel.show()\napp.processEvents()\n"
    "print('shown', file=sys.stderr, flush=True)"
)
OURS = (
    "import sys\nfrom napari_fecallab import window\nbefore = window._splash\n"
    "def shown(title):\n    label = before(title)\n    print('shown', file=sys.stderr, flush=True)\n"
    "    raise SystemExit(0)\n"
    "window._splash = shown\nfrom fecallab.cli.main import run\nrun(sys.argv[1:])"
)


@pytest.mark.skipif(
    sys.platform.startswith("linux") and not os.environ.get("DISPLAY"), reason="there is no screen"
)
def test_first_line_and_first_window(benchmark: Any, tmp_path: Path) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    pytest.importorskip("napari")
    from fecallab.cli.main import run

    folder = tmp_path / "records"
    assert run(["records", "make", str(folder)]) == 0
    paths = [str(ROOT), str(ROOT / "plugins"), *filter(None, [os.environ.get("PYTHONPATH")])]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}

    def seconds_to(code: str, *words: str) -> dict[str, float]:
        started = time.perf_counter()
        told: dict[str, float] = {}
        with subprocess.Popen(
            [sys.executable, "-c", code, *words], env=environment, stderr=subprocess.PIPE, text=True
        ) as process:
            assert process.stderr is not None
            for line in process.stderr:
                told.setdefault(line.split()[0], time.perf_counter() - started)
        return told

    bare: list[float] = []
    line: list[float] = []
    window: list[float] = []

    def by_turns() -> None:
        bare.append(seconds_to(BARE)["shown"])
        ours = seconds_to(OURS, "mark", "E1", "--records", str(folder))
        line.append(ours["Opening"])
        window.append(ours["shown"])

    by_turns()  # writes the byte code
    bare.clear(), line.clear(), window.clear()
    benchmark.pedantic(by_turns, rounds=TURNS, iterations=1)
    ratio = min(window) / min(bare)
    benchmark.extra_info["window_to_bare_qt"] = round(ratio, 2)
    print(
        f"\nfirst line after {min(line):.2f} s, first window after {min(window):.2f} s (wanted: {BUDGET_S:g} s);"
        f" a bare window of Qt {min(bare):.2f} s, so {ratio:.2f} times that"
    )
    assert ratio < GENEROUS
