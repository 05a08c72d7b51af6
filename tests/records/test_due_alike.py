"""What is due is worked out from the exams of the case alone, and stands where the whole file says."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest

from fecallab.cli import main
from fecallab.domain.exam import Exam, Preparation, Reading
from fecallab.domain.sample import Sample
from fecallab.gather import case_standing
from fecallab.records.store import open_records


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The records of the demo, with three cases, and a positive exam from before each that is open."""
    folder = tmp_path_factory.mktemp("told") / "here"
    assert main.run(["demo", str(folder), "--no-open"]) == 0
    with open_records(folder) as store, store.write("keeper", datetime.now(UTC)) as writer:
        for file in store.open_case_files():
            passed = datetime.combine(file.case.opened_on - timedelta(days=40), time(8))
            sample = writer.add(
                Sample(animal=file.animal.code, passed_from=passed, collected_at=passed, form="formed")
            )
            swept = Reading(kind="sweep", objective=10.0, cover_share=1.0, counts={"oxyurid": 3})
            preparation = Preparation(method="simple_flotation", specific_gravity=1.2, readings=(swept,))
            writer.add(Exam(sample=sample.code, examined_at=passed, by="keeper", preparations=(preparation,)))
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


def test_what_is_due_reads_only_what_a_standing_rests_on(told: Path) -> None:
    with open_records(told) as store:
        wholes = store.open_case_files()
        shorts = store.open_case_files(tallies_only=True, of_case_only=True)
        earlier = [
            (file, exam)
            for file in wholes
            for exam, sample in file.exams_with_samples
            if sample.taken_on < file.case.exams_since
        ]
    assert earlier, "exams from before a case are what this is about"
    for whole, short in zip(wholes, shorts, strict=True):
        assert not any(file is whole and exam.code in {e.code for e in short.exams} for file, exam in earlier)
        for days in (-60, 0, 30):
            day = date.today() + timedelta(days=days)
            assert case_standing(short, day, earlier=False)[1:] == case_standing(whole, day)[1:]
