"""The scripts of the pages, as modules; they are in the clone only."""

import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parent.parent.parent
DOCS = ROOT / "docs"


@pytest.fixture(scope="session")
def reference() -> ModuleType:
    """Return the script that writes the reference."""
    if not (DOCS / "make_reference.py").is_file():
        pytest.skip("the pages are in the clone only")
    for place in (str(DOCS), str(ROOT)):
        if place not in sys.path:
            sys.path.insert(0, place)
    import make_reference

    return make_reference


@pytest.fixture(scope="session")
def pages(reference: ModuleType) -> dict[str, str]:
    """Return every page of the reference as the program would have it today."""
    return reference.made()
