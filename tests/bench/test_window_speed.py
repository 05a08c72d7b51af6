"""How long a labelling key takes to the painted frame, with 10,000 marks in the exam and 1,000 in the open field.

``pytest tests/bench/test_window_speed.py --benchmark-enable -s`` on a screen (or ``xvfb-run``). The frame is
painted and finished (``glFinish``) before the clock stops. Beside it stands, from the same run, what painting the
same frame alone takes: on a software renderer that is most of it; and, for a busy machine, the processor time.
"""

from __future__ import annotations

import importlib.util
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median, quantiles
from typing import Any

import numpy as np
import pytest

FIELDS, IN_EXAM, IN_FIELD, TURNS = 10, 10_000, 1_000, 60
MEDIAN_MS, P95_MS = 50, 100


def _drawn_exam() -> Any:
    path = Path(__file__).parents[1] / "plugins" / "window" / "drawn_exam.py"
    spec = importlib.util.spec_from_file_location("drawn_exam", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["drawn_exam"] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.skipif(
    sys.platform.startswith("linux") and not os.environ.get("DISPLAY"), reason="there is no screen"
)
def test_key_to_painted_frame(benchmark: Any, tmp_path: Path, qapp: Any) -> None:
    if benchmark.disabled:
        pytest.skip("measured with --benchmark-enable")
    os.environ["NAPARI_CONFIG"] = str(tmp_path / "napari.yaml")
    import napari
    from napari_fecallab.session import MarkingSession
    from napari_fecallab.window import add_dock
    from PIL import Image
    from qtpy.QtCore import Qt
    from qtpy.QtTest import QTest
    from vispy.gloo import gl

    drawn = _drawn_exam()
    rng = np.random.default_rng(0)
    paths = []
    for number in range(FIELDS):
        pixels = rng.normal(200, 5, (1200, 1600, 1)).clip(0, 255).astype(np.uint8)
        pixels[number, number] = 0
        paths.append(tmp_path / f"field{number}.png")
        Image.fromarray(np.repeat(pixels, 3, axis=2)).save(paths[-1], compress_level=1)
    made = drawn.make_exam(tmp_path / "records", pictures=paths)
    session = MarkingSession(made.folder, made.code, "Mara")
    on_keys = session.keys()
    names = [one.name for one in on_keys if not one.second_row]
    for view in session.fields():
        session.add_marks(
            [
                (names[k % len(names)], float(rng.uniform(5, 1590)), float(rng.uniform(5, 1190)))
                for k in range(IN_EXAM // FIELDS)
            ],
            field=view.uid,
        )
    viewer = napari.Viewer(show=False)
    dock = add_dock(viewer, session)
    dock.window().resize(1366, 768)
    viewer.show()
    for _ in range(40):
        qapp.processEvents()
        time.sleep(0.05)
    canvas, control = dock.canvas(), dock.control
    assert len(session.marks()) == IN_FIELD
    scene = canvas._vispy_canvas

    def painted() -> None:
        scene.update()
        qapp.processEvents()
        gl.glFinish()

    def timed(do: Callable[[], None]) -> tuple[float, float]:
        wall, worked = time.perf_counter(), time.process_time()
        do()
        return 1000 * (time.perf_counter() - wall), 1000 * (time.process_time() - worked)

    def frame() -> tuple[float, float]:
        return timed(painted)

    def key() -> tuple[float, float]:
        control.hold_pointer((float(rng.uniform(5, 1590)), float(rng.uniform(5, 1190))))

        def press() -> None:
            QTest.keyClick(canvas, Qt.Key.Key_2)
            painted()

        return timed(press)

    alone: list[tuple[float, float]] = []
    keys: list[tuple[float, float]] = []

    def by_turns() -> None:
        for _ in range(TURNS):
            alone.append(frame())
            keys.append(key())

    benchmark.pedantic(by_turns, rounds=1, iterations=1)
    assert len(session.marks()) == IN_FIELD + TURNS
    found = {}
    for name, pairs in (("key", keys), ("frame_alone", alone)):
        wall, worked = zip(*pairs, strict=True)
        found[f"{name}_median_ms"] = median(wall)
        found[f"{name}_p95_ms"] = quantiles(wall, n=20)[-1]
        found[f"{name}_processor_median_ms"] = median(worked)
    benchmark.extra_info.update(found)
    print("\n" + ", ".join(f"{name} {value:.1f}" for name, value in found.items()))
    dock.shut()
    viewer.close()
