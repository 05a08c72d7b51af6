"""What is due is worked out from the exams of the case alone, and stands where the whole file says."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest

from fecallab.cli import main
from fecallab.gather import case_standing
from fecallab.records.store import open_records


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The records of the demo, with three cases."""
    folder = tmp_path_factory.mktemp("told") / "here"
    assert main.run(["demo", str(folder), "--no-open"]) == 0
    return folder


def test_earlier_exams_never_move_a_standing(told: Path) -> None:
    with open_records(told) as store:
        files = [store.case_file(case.code) for case in store.cases()]
    assert len(files) >= 3
    assert any(len(case_standing(file, date.today())[0]) > 0 for file in files)
    for file in files:
        for days in (-200, -60, 0, 30, 200):
            day = date.today() + timedelta(days=days)
            assert case_standing(file, day, earlier=False)[1:] == case_standing(file, day)[1:]
