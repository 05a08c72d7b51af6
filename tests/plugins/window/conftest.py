"""A private napari, a screen or a reason, drawn exams, and one window that the tests of a module share."""

from __future__ import annotations

import importlib.util
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

os.environ["NAPARI_CONFIG"] = str(Path(tempfile.gettempdir()) / f"fecallab-napari-{os.getpid()}" / "s.yaml")


def _helper(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


drawn = _helper("drawn_exam")


def without(reason: str) -> None:
    if os.environ.get("FECALLAB_CI") == "1":
        pytest.fail(f"the tests of the window must run in CI: {reason}")
    pytest.skip(reason)


@pytest.fixture(scope="session", autouse=True)
def napari_here() -> None:
    if importlib.util.find_spec("napari") is None:
        without("napari is not installed")


@pytest.fixture(scope="session")
def screen() -> None:
    """Give a screen; skipped with the reason where there is none, a failure in CI."""
    if sys.platform.startswith("linux") and not os.environ.get("DISPLAY"):
        without("there is no screen (DISPLAY is empty); on a machine without one use xvfb-run")


@pytest.fixture(scope="session")
def three_fields(tmp_path_factory: pytest.TempPathFactory) -> Any:
    return drawn.make_exam(tmp_path_factory.mktemp("three") / "records")


@pytest.fixture
def exam(three_fields: Any, tmp_path: Path) -> Any:
    """A copy of an exam of three fields with two organisms, none, and one."""
    folder = shutil.copytree(three_fields.folder, tmp_path / "records")
    return drawn.DrawnExam(Path(folder), three_fields.code, three_fields.truth)


@pytest.fixture
def make_exam(tmp_path: Path) -> Callable[..., Any]:
    numbers = iter(range(100))

    def make(*values: Any, **options: Any) -> Any:
        return drawn.make_exam(tmp_path / f"made{next(numbers)}", *values, **options)

    return make


@pytest.fixture
def open_control(exam: Any) -> Iterator[Callable[..., Any]]:
    """Open an exam on a ViewerModel: no window, no screen."""
    from napari.components import ViewerModel

    from napari_fecallab.session import MarkingSession
    from napari_fecallab.window_control import MarkingControl

    opened: list[Any] = []

    def open_it(which: Any = None) -> Any:
        which = which or exam
        control = MarkingControl(ViewerModel(), MarkingSession(which.folder, which.code, drawn.KEEPER))
        control.open()
        opened.append(control)
        return control

    yield open_it
    for control in opened:
        control.close()


@pytest.fixture
def control(open_control: Callable[..., Any]) -> Any:
    return open_control()
