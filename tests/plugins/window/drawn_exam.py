"""A record folder with one exam of small drawn fields, each with its truth, for the tests of the window."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
from PIL import Image

from fecallab.domain.animal import Animal
from fecallab.domain.exam import Exam, Mark, Picture, Preparation, Reading
from fecallab.domain.sample import Sample
from fecallab.records.store import create_records, open_records

UM_PER_PX = 0.65
WIDTH, HEIGHT = 320, 240
KEEPER = "Mara"


@dataclass(frozen=True)
class DrawnExam:
    """Where the exam lies, and where the organisms are: one list of (x, y) for each field."""

    folder: Path
    code: str
    truth: tuple[tuple[tuple[float, float], ...], ...]


def field_picture(places: Sequence[tuple[float, float]], seed: int) -> np.ndarray:
    """A bright field with dark ovals, 60 × 30 µm."""
    rng = np.random.default_rng(seed)
    rows, columns = np.mgrid[0:HEIGHT, 0:WIDTH]
    grey = np.full((HEIGHT, WIDTH), 205.0) + rng.normal(0, 2, (HEIGHT, WIDTH))
    for x, y in places:
        away = ((columns - x) / (30 / UM_PER_PX)) ** 2 + ((rows - y) / (15 / UM_PER_PX)) ** 2
        grey[away < 1] = 150
        grey[(away > 0.8) & (away < 1)] = 90
    return np.repeat(grey.clip(0, 255).astype(np.uint8)[..., None], 3, axis=2)


def places_by_lot(number: int, seed: int) -> tuple[tuple[float, float], ...]:
    """Places that do not touch each other or the edge."""
    rng = np.random.default_rng(seed)
    cells = [(c, r) for c in range(3) for r in range(4)]
    chosen = rng.permutation(len(cells))[:number]
    return tuple(
        (55.0 + 105 * cells[k][0] + rng.integers(-3, 4), 32.0 + 58 * cells[k][1] + rng.integers(-3, 4))
        for k in chosen
    )


def make_exam(
    home: Path,
    per_field: Sequence[int] = (2, 0, 1),
    *,
    marks: Sequence[Sequence[Mark]] = (),
    um_per_px: float | None = UM_PER_PX,
    pictures: Sequence[Path] = (),
) -> DrawnExam:
    """Record an animal, a sample and an exam whose fields have pictures and (unless given) no mark."""
    create_records(home)
    truth = tuple(places_by_lot(number, seed) for seed, number in enumerate(per_field))
    paths = list(pictures)
    if not paths:
        for number, places in enumerate(truth):
            paths.append(home.parent / f"{home.name}-field_{number + 1}.png")
            Image.fromarray(field_picture(places, number)).save(paths[-1])
    with open_records(home) as store, store.write(by=KEEPER, now=datetime(2026, 3, 4, 9)) as writer:
        animal = writer.add(
            Animal(
                name="Saffron",
                species="Pogona vitticeps",
                host_group="bearded dragon",
                plant_eater=True,
                adult=True,
            )
        )
        sample = writer.add(
            Sample(
                animal=animal.code,
                passed_from=datetime(2026, 3, 4, 7),
                passed_to=datetime(2026, 3, 4, 8),
                collected_at=datetime(2026, 3, 4, 8, 10),
                form="formed",
                kept="room",
                mass_g=1.4,
            )
        )
        readings = []
        for number, path in enumerate(paths):
            info = _info(path)
            writer.add_picture(path, info)
            held = tuple(marks[number]) if number < len(marks) else ()
            readings.append(
                Reading(
                    objective=10.0,
                    field_number=18.0,
                    um_per_px=um_per_px,
                    picture=info.sha256,
                    marks=held,
                )
            )
        exam = writer.add(
            Exam(
                sample=sample.code,
                examined_at=datetime(2026, 3, 4, 8, 40),
                by=KEEPER,
                preparations=(
                    Preparation(
                        method="simple_flotation",
                        read_at=datetime(2026, 3, 4, 8, 40),
                        solution="saturated salt",
                        specific_gravity=1.2,
                        gravity_checked=True,
                        standing_minutes=15.0,
                        readings=tuple(readings),
                    ),
                ),
            )
        )
    return DrawnExam(home, exam.code, truth)


def _info(path: Path) -> Picture:
    from fecallab.imaging.read import probe

    known = probe(path)
    return Picture(
        sha256=hashlib.sha256(path.read_bytes()).hexdigest(),
        file_name=path.name,
        format=known.format,
        width_px=known.width_px,
        height_px=known.height_px,
        bytes=known.bytes,
    )
