"""Published and derived check values as test parameters.

``@pytest.mark.check_rows("po0", "po1m")`` hands each of these rows of ``data/checks.json`` over as ``row``;
the test's id shows the row and what kind of source stands behind it (read, memory, derived).
"""

import json
from pathlib import Path

import pytest

ROWS = {
    row["id"]: row
    for row in json.loads((Path(__file__).parent / "data" / "checks.json").read_text(encoding="utf-8"))
}


def pytest_configure(config):
    config.addinivalue_line("markers", "check_rows(*ids): run once for each of these rows of checks.json")


def pytest_generate_tests(metafunc):
    marker = metafunc.definition.get_closest_marker("check_rows")
    if marker is not None:
        rows = [ROWS[name] for name in marker.args]
        metafunc.parametrize("row", rows, ids=[f"{row['id']}-{row['source_kind']}" for row in rows])


@pytest.fixture
def check_row():
    """Look up one row of checks.json by its id."""
    return ROWS.__getitem__
