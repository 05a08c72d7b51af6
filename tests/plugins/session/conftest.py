"""An exam to mark: an invented animal, one flotation, pictures of single colours beside the records."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from napari_fecallab.session import MarkingSession
from PIL import Image

from fecallab.domain.animal import Animal
from fecallab.domain.exam import Exam, Preparation, Reading
from fecallab.domain.sample import Sample
from fecallab.records.store import create_records, open_records

KEEPER = "Mara Quell"
MORNING = datetime(2026, 3, 4, 9, 0)
FLOAT = Preparation(
    method="simple_flotation",
    read_at=MORNING,
    cover_glass="22x22",
    specific_gravity=1.2,
    gravity_checked=True,
    standing_minutes=15,
    sample_g=1.0,
)


class Clock:
    """A clock that moves a second at every look."""

    def __init__(self) -> None:
        self.now = MORNING + timedelta(hours=5)

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


@pytest.fixture(scope="session")
def _exam_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("marking") / "records"
    create_records(folder, MORNING)
    with open_records(folder) as store, store.write(by=KEEPER, now=MORNING) as writer:
        saffron = writer.add(Animal(name="Saffron", species="Pogona vitticeps", host_group="lizard"))
        sample = writer.add(
            Sample(
                animal=saffron.code,
                origin="stool",
                passed_from=MORNING - timedelta(hours=3),
                passed_to=MORNING - timedelta(hours=2),
                collected_at=MORNING - timedelta(hours=1),
                kept="room",
                mass_g=2.0,
            )
        )
        at_the_eyepiece = Reading(objective=10, field_number=20, counts={"oxyurid": 2})
        nothing_seen = Reading(objective=10, field_number=20)
        writer.add(
            Exam(
                sample=sample.code,
                examined_at=MORNING,
                by=KEEPER,
                preparations=(
                    replace(FLOAT, readings=(at_the_eyepiece, nothing_seen)),
                    Preparation(method="direct_saline_smear", read_at=MORNING),
                ),
            )
        )
    return folder


@pytest.fixture
def folder(tmp_path: Path, _exam_folder: Path) -> Path:
    """A record folder with exam E1: E1-1 has two fields at the eyepiece, E1-2 none."""
    return Path(shutil.copytree(_exam_folder, tmp_path / "records"))


@pytest.fixture
def picture(tmp_path: Path) -> Callable[..., Path]:
    """Make a picture file unlike all others: ``picture("a.png")``."""
    made = iter(range(1, 10_000))

    def make(name: str, size: tuple[int, int] = (80, 60)) -> Path:
        number = next(made)
        pixels = np.full((size[1], size[0], 3), 200, np.uint8)
        pixels.reshape(-1)[: min(pixels.size, 2)] = divmod(number, 256)[: min(pixels.size, 2)]
        path = tmp_path / name
        Image.fromarray(pixels).save(path)
        return path

    return make


@pytest.fixture
def opened(folder: Path) -> Iterator[Callable[..., MarkingSession]]:
    """Open the exam: ``opened()``; every session is closed at the end."""
    sessions: list[MarkingSession] = []
    clock = Clock()

    def open_it(exam: str = "E1", by: str = KEEPER, **more: bool) -> MarkingSession:
        sessions.append(MarkingSession(folder, exam, by, clock, **more))
        return sessions[-1]

    yield open_it
    for session in sessions:
        session.close()


@pytest.fixture
def session(opened: Callable[..., MarkingSession]) -> MarkingSession:
    """The open exam."""
    return opened()


@pytest.fixture
def with_pictures(session: MarkingSession, picture: Callable[..., Path]) -> MarkingSession:
    """The open exam with three new pictures, f1 to f3; the first of them is the current field."""
    session.add_pictures([picture(f"field {k}.png") for k in (1, 2, 3)], "E1-1")
    session.go_to("f1")
    return session
