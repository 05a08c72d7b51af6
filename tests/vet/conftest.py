"""Records with a page that went to the vet, and answers as that page would save them."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from fecallab.cli.main import run
from fecallab.domain.animal import Animal
from fecallab.domain.case import Case
from fecallab.domain.exam import Exam, Mark, Preparation, Reading
from fecallab.domain.plan import DoseGiven, Plan
from fecallab.domain.sample import Sample
from fecallab.domain.vet_words import PageItem, VetPage
from fecallab.records.store import Records, create_records, open_records
from fecallab.records.vet_words import record_page
from fecallab.vet.answer import page_identity

from .pages_to_open import files

__all__ = ["files"]

NOW = datetime(2026, 5, 20, 9, 30)
VET = "Dr Ilse Varnholt"


def float_of(
    *marks: tuple[str, bool], counts: dict[str, int] | None = None, share: float = 1.0
) -> Preparation:
    """A float that could show eggs and oocysts, its whole cover glass read, with marks or counts."""
    return Preparation(
        method="simple_flotation",
        specific_gravity=1.2,
        gravity_checked=True,
        standing_minutes=15,
        readings=(
            Reading(
                kind="sweep",
                objective=10.0,
                cover_share=share,
                counts=counts or {},
                marks=tuple(
                    Mark(x_px=100.0 * n, y_px=50.0, name=name, sure=sure)
                    for n, (name, sure) in enumerate(marks, start=1)
                ),
            ),
        ),
    )


class Rescue:
    """A record folder in which an invented rescue sends exams to its vet."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def open(self) -> Records:
        return open_records(self.folder)

    def animal(self, name: str = "Saffron", **more: Any) -> str:
        with self.open() as store, store.write("keeper", NOW) as writer:
            return writer.add(
                Animal(name=name, species="Pogona vitticeps", host_group="agamid", adult=False, **more)
            ).code

    def exam(self, day: str, *preparations: Preparation, animal: str = "A1") -> str:
        passed = datetime.fromisoformat(f"{day} 07:00")
        with self.open() as store, store.write("keeper", NOW) as writer:
            sample = writer.add(
                Sample(
                    animal=animal,
                    passed_from=passed,
                    passed_to=passed,
                    collected_at=passed,
                    form="formed",
                    kept="room",
                    mass_g=2.0,
                )
            )
            when = passed.replace(hour=9)
            return writer.add(
                Exam(sample=sample.code, examined_at=when, by="Mara Quell", preparations=preparations)
            ).code

    def case(self, target: str, day: str, exam: str = "", animal: str = "A1") -> str:
        stages = ("egg",) if target == "oxyurid" else ("oocyst",)
        with self.open() as store, store.write("keeper", NOW) as writer:
            return writer.add(
                Case(
                    animal=animal,
                    target=target,
                    stages=stages,
                    opened_on=date.fromisoformat(day),
                    opened_by_exam=exam,
                )
            ).code

    def plan(self, case: str, written: str, *doses: str, negatives: int = 2, **more: Any) -> str:
        with self.open() as store, store.write("keeper", NOW) as writer:
            plan = writer.add(
                Plan(
                    case=case,
                    vet=VET,
                    written_on=date.fromisoformat(written),
                    drug="fenbendazole" if doses else "",
                    dose_mg_per_kg="50" if doses else "",
                    concentration_mg_per_ml="100" if doses else "",
                    route="by mouth" if doses else "",
                    interval_days=14.0 if doses else None,
                    doses_planned=len(doses),
                    negatives_needed=negatives,
                    spacing_days=7,
                    wait_after_last_dose_days=14,
                    **more,
                )
            )
            for day in doses:
                writer.add(
                    DoseGiven(plan=plan.code, given_at=datetime.fromisoformat(f"{day} 08:00"), weight_g=300.0)
                )
            return plan.code

    def page(self, subject: str, *exams: str) -> dict[str, str]:
        """Make a page, as ``vet page`` does; return what an answer must repeat."""
        with self.open() as store, store.write("keeper", NOW) as writer:
            shown = [writer.exam(code) for code in exams]
            found = page_identity(writer.identity, subject, shown)
            record_page(
                writer,
                VetPage(
                    subject=subject,
                    exams=" ".join(exams),
                    page_id=found.id,
                    page_sha256=found.hash,
                    made_at=datetime(2026, 5, 10, 9),
                ),
                [
                    PageItem(number=i.number, item=i.key, name=i.name, sure=i.sure, count=i.count)
                    for i in found.items
                ],
            )
        return {"id": found.id, "hash": found.hash}

    def answer(self, page: dict[str, str], **more: Any) -> dict[str, Any]:
        return {
            "format": "fecallab-answer",
            "version": 1,
            "page": page,
            "vet": {"name": VET},
            "answered_at": "2026-05-12T18:40",
            **more,
        }

    def file(self, answer: dict[str, Any] | bytes, name: str = "answer.json") -> Path:
        path = self.folder.parent / name
        path.write_bytes(answer if isinstance(answer, bytes) else json.dumps(answer).encode())
        return path


@pytest.fixture(scope="session")
def empty_records(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A record folder to copy from."""
    made = tmp_path_factory.mktemp("made once") / "records"
    create_records(made, NOW)
    return made


@pytest.fixture
def rescue(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, empty_records: Path) -> Rescue:
    monkeypatch.setenv("FECALLAB_BY", "Mara Quell")
    monkeypatch.setenv("FECALLAB_RECORDS", str(tmp_path / "records"))
    monkeypatch.setenv("FECALLAB_ASK", "0")
    monkeypatch.chdir(tmp_path)
    made = Rescue(shutil.copytree(empty_records, tmp_path / "records"))
    made.animal()
    return made


@pytest.fixture
def do(capsys: pytest.CaptureFixture[str]) -> Callable[..., dict[str, Any]]:
    """Run a command with ``--json`` that must be done; return its answer."""

    def run_it(*words: object) -> dict[str, Any]:
        capsys.readouterr()
        code = run([*map(str, words), "--json"])
        said = capsys.readouterr()
        assert code == 0, said.out + said.err
        found: dict[str, Any] = json.loads(said.out)
        return found

    return run_it


@pytest.fixture
def say(capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    """Run a command as a person does; return all that it says, whatever the exit code."""

    def run_it(*words: object, code: int = 0) -> str:
        capsys.readouterr()
        ended = run([*map(str, words)])
        said = capsys.readouterr()
        assert ended == code, said.out + said.err
        return said.out + said.err

    return run_it


@pytest.fixture(scope="session")
def story(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The record folder of the story with thirty marks, told once; tests that record work on a copy."""
    from .vet_story import tell

    folder = tmp_path_factory.mktemp("story") / "records"
    tell(folder)
    return folder
