"""Drawn slides of an invented rescue, a drawn clip and a drawn exam: made on the spot, without a network."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

LayerData = tuple[Any, ...]
SLIDES = ("dragon_before_1.jpg", "dragon_before_2.jpg", "dragon_before_3.jpg")
UM_PER_PX = 0.65
"""Scale of these slides, as they are drawn (kind: computed)."""
CLIP_FRAMES, CLIP_ROWS, CLIP_COLUMNS = 60, 240, 320


def drawn_slides() -> list[LayerData]:
    """Return three fields of a flotation as images, on the scale that they are drawn at."""
    from fecallab.imaging.draw.scene import draw_field
    from fecallab.imaging.draw.slides import SLIDES as KNOWN

    made: list[LayerData] = []
    for name in SLIDES:
        pixels, _ = draw_field(KNOWN[name].spec, KNOWN[name].seed)
        options = {"name": Path(name).stem, "scale": (UM_PER_PX, UM_PER_PX), "units": ("um", "um")}
        made.append((pixels, options, "image"))
    return made


def drawn_clip() -> list[LayerData]:
    """Return a clip in which six ovals swim and four drift."""
    import numpy as np

    rng = np.random.default_rng(7)
    frames = np.full((CLIP_FRAMES, CLIP_ROWS, CLIP_COLUMNS), 200, np.uint8)
    rows, columns = np.mgrid[0:CLIP_ROWS, 0:CLIP_COLUMNS]
    places = rng.uniform((20, 20), (CLIP_ROWS - 20, CLIP_COLUMNS - 20), (10, 2))
    ways = rng.uniform(0, 2 * np.pi, 10)
    for frame in frames:
        for number in range(10):
            if number < 6:
                ways[number] += rng.normal(0, 0.25)
                places[number] += 2.2 * np.array([np.sin(ways[number]), np.cos(ways[number])])
            places[number] = (places[number] + (0.15, 0.4)) % (CLIP_ROWS, CLIP_COLUMNS)
            away = np.hypot(rows - places[number, 0], columns - places[number, 1])
            frame[away < 5] = 90 if number < 6 else 130
    return [(frames, {"name": "drawn swimmers", "metadata": {"fps": 30.0}}, "image")]


def drawn_exam() -> list[LayerData]:
    """Make an exam of drawn slides in a folder of its own, and open the panel on it."""
    import napari

    from napari_fecallab.dock_start import StartPanel

    folder, exam = make_drawn_exam(Path(tempfile.mkdtemp(prefix="fecallab-drawn-")) / "records")
    viewer = napari.current_viewer()
    if viewer is not None:
        panel = StartPanel(viewer, folder)
        viewer.window.add_dock_widget(panel, name="marking", area="right")
        panel.open_exam(exam)
    return [(None,)]


def make_drawn_exam(folder: Path) -> tuple[Path, str]:
    """Record an invented animal, a sample and an exam with three drawn fields; returns folder and exam."""
    import hashlib
    from datetime import datetime, timedelta

    from fecallab.domain.animal import Animal
    from fecallab.domain.exam import Exam, Picture, Preparation, Reading
    from fecallab.domain.sample import Sample
    from fecallab.imaging.draw.write import write_sample_slides
    from fecallab.imaging.read import probe
    from fecallab.records.store import create_records, open_records

    now = datetime.now().replace(microsecond=0)
    create_records(folder)
    paths = [one for one in write_sample_slides(folder / "slides", SLIDES) if one.suffix == ".jpg"]
    with open_records(folder) as store, store.write(by="you", now=now) as writer:
        animal = writer.add(
            Animal(name="Saffron (invented)", species="Pogona vitticeps", host_group="bearded dragon")
        )
        passed = now - timedelta(hours=1)
        sample = writer.add(
            Sample(animal=animal.code, passed_from=passed, passed_to=passed, collected_at=passed, kept="room")
        )
        readings = []
        for path in paths:
            known = probe(path)
            picture = Picture(
                sha256=hashlib.sha256(path.read_bytes()).hexdigest(),
                file_name=path.name,
                format=known.format,
                width_px=known.width_px,
                height_px=known.height_px,
                bytes=known.bytes,
            )
            writer.add_picture(path, picture)
            readings.append(Reading(objective=10.0, um_per_px=UM_PER_PX, picture=picture.sha256))
        preparation = Preparation(method="simple_flotation", read_at=now, readings=tuple(readings))
        exam = writer.add(Exam(sample=sample.code, examined_at=now, by="you", preparations=(preparation,)))
    return folder, exam.code
