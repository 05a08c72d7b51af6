"""The examples in the session's own docstrings hold."""

from __future__ import annotations

import doctest
import importlib

import pytest

MODULES = ("views", "state", "keys", "names", "measures", "part_fields", "recording")


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_hold(name):
    found = doctest.testmod(importlib.import_module(f"napari_fecallab.{name}"))
    assert found.attempted > 0 and found.failed == 0


def test_the_session_needs_no_screen_and_no_napari():
    import subprocess
    import sys

    code = (
        "import sys; import napari_fecallab.session; "
        "bad = {'napari', 'qtpy', 'vispy', 'PySide6', 'PyQt6'} & set(sys.modules); sys.exit(f'{bad}' if bad else 0)"
    )
    path = [entry for entry in sys.path if entry]
    done = subprocess.run(
        [sys.executable, "-c", f"import sys; sys.path[:0] = {path!r}; {code}"], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
