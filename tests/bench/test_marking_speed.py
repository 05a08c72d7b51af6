"""What one labelling key costs the marking session with 10,000 marks in the exam, 1,000 of them in the open field.

Run: ``python -m pytest tests/bench/test_marking_speed.py --benchmark-enable --benchmark-columns=min,median``.
What counts is the ratio to one pass over the marks of the exam in plain Python, which every interpreter and every
machine can do; the painted frame is the window's own. Nothing here is asserted as a time.
"""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

pytest.importorskip("pytest_benchmark")

_FILE = Path(__file__).parents[1] / "plugins" / "session" / "conftest.py"
_SPEC = importlib.util.spec_from_file_location("exam_to_mark_for_benchmarks", _FILE)
exam_to_mark = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(exam_to_mark)

NAMES = ("oxyurid", "coccidian", "heterakid_egg", "pollen_pine", "yeast")
OPEN, OTHERS, EACH = 1000, 100, 90
FEW = {"rounds": 60, "warmup_rounds": 3}
"""Few enough that the marks they add do not change what is measured."""


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    """Open an exam of 101 fields (of one picture) with 10,000 marks; the first field holds 1,000 and is the current field."""
    from napari_fecallab.session import MarkingSession
    from PIL import Image

    from fecallab.domain.animal import Animal
    from fecallab.domain.exam import Exam, Mark, Picture, Reading
    from fecallab.domain.sample import Sample
    from fecallab.imaging.read import probe
    from fecallab.records.store import create_records, open_records

    home = tmp_path_factory.mktemp("many marks")
    morning, keeper = exam_to_mark.MORNING, exam_to_mark.KEEPER
    create_records(home / "records", morning)
    with open_records(home / "records") as store, store.write(by=keeper, now=morning) as writer:
        animal = writer.add(Animal(name="Saffron", species="Pogona vitticeps", host_group="lizard"))
        sample = writer.add(Sample(animal=animal.code, origin="stool", collected_at=datetime(2026, 3, 4, 8)))
        path = home / "field.png"
        Image.new("RGB", (64, 48), "white").save(path)
        info = probe(path)
        kept = writer.add_picture(
            path,
            Picture(
                sha256=info.sha256,
                file_name=path.name,
                format=info.format,
                width_px=info.width_px,
                height_px=info.height_px,
                bytes=info.bytes,
            ),
        )
        readings = []
        for number in range(1 + OTHERS):
            marks = tuple(
                Mark(x_px=k % 64, y_px=k % 48, name=NAMES[k % len(NAMES)], sure=k % 9 != 0)
                for k in range(OPEN if number == 0 else EACH)
            )
            readings.append(
                Reading(
                    objective=10,
                    field_number=20,
                    um_per_px=0.65,
                    picture=kept.sha256,
                    marks=marks,
                    proposals="off",
                )
            )
        made = replace(exam_to_mark.FLOAT, readings=tuple(readings))
        writer.add(Exam(sample=sample.code, examined_at=morning, by=keeper, preparations=(made,)))
    with MarkingSession(home / "records", "E1", keeper) as opened:
        opened.go_to("E1-1-1")
        opened.burden_table()
        yield opened


@pytest.mark.benchmark(group="one labelling key, 10,000 marks")
def test_one_pass_over_the_marks_in_plain_python(benchmark, session):
    marks = [mark for view in session.fields() for mark in session.marks(view.uid)]

    def count() -> dict[str, int]:
        counts: dict[str, int] = {}
        for mark in marks:
            counts[mark.name] = counts.get(mark.name, 0) + 1
        return counts

    assert sum(benchmark(count).values()) >= OPEN + OTHERS * EACH


@pytest.mark.benchmark(group="one labelling key, 10,000 marks")
def test_marking_alone(benchmark, session):
    before = len(session.marks())
    benchmark.pedantic(lambda: session.add_mark("oxyurid", 5, 5), **FEW)
    assert len(session.marks()) > before


@pytest.mark.benchmark(group="one labelling key, 10,000 marks")
def test_marking_with_all_that_the_window_shows_of_it(benchmark, session):
    def label():
        uid = session.add_mark("oxyurid", 5, 5).uids[0]
        return (
            session.field(),
            session.marks(),
            session.keys(),
            session.size_words(uid),
            session.burden_table(),
        )

    field, marks, keys, size, table = benchmark.pedantic(label, **FEW)
    assert field.sure["oxyurid"] and len(marks) > OPEN and keys and size.size and table.rows


@pytest.mark.benchmark(group="one labelling key, 10,000 marks")
def test_the_running_burden_after_a_mark(benchmark, session):
    def answer():
        session.set_sure([session.marks()[0].uid])
        return session.burden_table()

    assert benchmark.pedantic(answer, **FEW).rows


@pytest.mark.benchmark(group="one labelling key, 10,000 marks")
def test_undo(benchmark, session):
    def there_and_back():
        session.add_mark("coccidian", 5, 5)
        return session.undo()

    assert benchmark.pedantic(there_and_back, **FEW) == "taken back: coccidian marked"
