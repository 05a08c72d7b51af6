"""The examples in the docstrings of the window are run."""

import doctest
import importlib

import pytest

MODULES = ("layers_look", "window_keys", "window_measures", "dock_legend", "dock_scale", "dock_words")


@pytest.mark.parametrize("name", MODULES)
def test_examples_of(name):
    done = doctest.testmod(importlib.import_module(f"napari_fecallab.{name}"))
    assert done.attempted and not done.failed
