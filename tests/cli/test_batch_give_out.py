"""Tables out: what was recorded comes out, opens in a spreadsheet, runs nothing, and comes in again."""

from __future__ import annotations

import csv
import itertools
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fecallab.cli.batch_record import BatchFaults, check_batch, write_batch
from fecallab.cli.batch_typed import Ways
from fecallab.cli.batch_write import all_tables
from fecallab.domain.animal import Animal
from fecallab.domain.exam import Exam, Mark, Preparation, Reading
from fecallab.domain.plan import Plan
from fecallab.domain.sample import Sample
from fecallab.gather import plan_with_defaults
from fecallab.records.store import Records, create_records, open_records

from ..effort import examples
from .any_stories import HOSTILE, NOW, stories
from .conftest import Said


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("empty") / "records"
    create_records(made)
    return made


def record(store: Records, story: list[Any]) -> None:
    with store.write(by="Mara", now=NOW) as writer:
        for fact in story:
            if isinstance(fact, Plan):
                fact = plan_with_defaults(fact, writer.case_file("C1"))
            writer.add(fact)


def held(store: Records) -> dict[str, list[Any]]:
    """Every fact that the tables hold; of a result from elsewhere they hold the days, not the hours."""
    animals = store.animals()
    return {
        "animals": animals,
        "weights": [w for a in animals for w in store.weighings(a.code)],
        "samples": store.samples(),
        "exams": [
            exam if exam.preparations else replace(exam, examined_at=NOW, by="")
            for exam in sorted(store.exams(), key=lambda one: int(one.code[1:]))
        ],
        "plans": [replace(plan, case="") for case in store.cases() for plan in store.plans(case.code)],
        "doses": [dose for case in store.cases() for dose in store.doses(case.code)],
    }


numbered = itertools.count()


def new_folder(empty: Path) -> Path:
    target = empty.parent / f"copy-{next(numbered)}"
    shutil.copytree(empty, target)
    return target


@settings(deadline=None, max_examples=examples(40), suppress_health_check=list(HealthCheck))
@given(story=stories(), semicolons=st.booleans())
def test_out_in_out_is_the_same_and_so_is_every_fact(empty, story, semicolons):
    first, second = new_folder(empty), new_folder(empty)
    with open_records(first) as one, open_records(second) as other:
        record(one, story)
        out = all_tables(one, semicolons=semicolons)
        paths = []
        for name, (text, _) in out.items():
            paths.append(second / name)
            paths[-1].write_bytes(text.encode())
        try:
            with other.write(by="Mara", now=NOW) as writer:
                write_batch(check_batch(paths, writer, Ways(), "Mara"), writer)
        except BatchFaults as faults:
            pytest.fail("\n".join(map(str, faults.faults)))
        assert all_tables(other, semicolons=semicolons) == out
        before, after = held(one), held(other)
        for table in before:
            assert after[table] == before[table], table
    shutil.rmtree(first)
    shutil.rmtree(second)


def tables_in(
    folder: Path, codec: str = "utf-8", separator: str = ","
) -> Iterator[tuple[str, list[list[str]]]]:
    for path in sorted(folder.glob("*.csv")):
        text = path.read_bytes().decode(codec)
        yield path.name, list(csv.reader(text.splitlines(keepends=True), delimiter=separator))


def test_the_demo_of_a_whole_rescue_comes_back_with_the_same_standings(
    folder, do, tmp_path, fecallab, treated, float_exam
):
    for day in ("2025-04-25", "2025-05-10", "2025-05-25"):
        float_exam("Saffron", day)
    do("animal", "add", "=Tub 7", "--kind", "tub", "--number", "6")
    float_exam("=Tub 7", "2025-04-25", "oxyurid=9,flagellate=0")
    said = do("batch", "give-out", tmp_path / "out")
    assert [one["file"] for one in said["files"]] == [
        *("animals.csv", "weights.csv", "samples.csv", "readings.csv", "plans.csv", "doses.csv"),
    ]
    other = tmp_path / "other"
    assert fecallab("records", "make", other).code == 0
    taken = fecallab("batch", "take-in", tmp_path / "out", "--records", other, "--json")
    assert taken.code == 0, taken.all

    def stand(words: Callable[..., Said]) -> list[tuple[str, str, str, int | None]]:
        said = words().json["cases"]
        return [(c["animal_name"], c["target"], c["standing"], c["k"]) for c in said]

    on = ("case", "list", "--on", "2025-06-01", "--json")
    here, there = stand(lambda: fecallab(*on)), stand(lambda: fecallab(*on, "--records", other))
    assert here == there and ("Saffron", "oxyurid", "clear by the rule", 3) in here


def test_no_cell_can_be_run_as_a_formula(folder, do, tmp_path, fecallab):
    for number, text in enumerate(HOSTILE):
        words = (f"--enclosure={text}", f"--remark={text}", "--species==cmd|x")
        assert fecallab("animal", "add", *words, "--", f"{text} {number}").code == 0
    do("batch", "give-out", tmp_path / "out")
    cells = [cell for _, rows in tables_in(tmp_path / "out") for row in rows for cell in row]
    assert cells and not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]


def test_a_spreadsheet_that_guesses_is_told_the_letters(folder, do, tmp_path):
    do("animal", "add", "Größe")
    do("batch", "give-out", tmp_path / "bom", "--bom")
    do("batch", "give-out", tmp_path / "plain")
    assert (tmp_path / "bom" / "animals.csv").read_bytes().startswith(b"\xef\xbb\xbfname,")
    assert (tmp_path / "plain" / "animals.csv").read_bytes().startswith(b"name,")


def test_a_german_spreadsheet_gets_semicolons_and_decimal_commas(folder, do, tmp_path):
    do("animal", "add", "Pixel")
    do("animal", "weigh", "Pixel", "1.234", "--at", "2025-03-04 08:30")
    do("batch", "give-out", tmp_path / "out", "--semicolons")
    (_, (header, row)) = list(tables_in(tmp_path / "out", separator=";"))[1]
    assert dict(zip(header, row, strict=True))["weight (g)"] == "1,2340"


def test_marks_come_out_as_counts_and_what_is_left_out_is_said(folder, tmp_path, do, say):
    with open_records(folder) as store, store.write(by="Mara", now=NOW) as writer:
        writer.add(Animal(name="Pixel"))
        writer.add(Sample(animal="A1", collected_at=datetime(2025, 3, 1, 8)))
        marks = (Mark(x_px=1, y_px=2, name="oxyurid"), Mark(x_px=5, y_px=2, name="oxyurid", sure=False))
        reading = Reading(objective=10, marks=marks)
        part = Preparation(method="simple_flotation", read_at=datetime(2025, 3, 1, 9), readings=(reading,))
        writer.add(Exam(sample="S1", examined_at=datetime(2025, 3, 1, 9), by="Mara", preparations=(part,)))
    do("care", "log", "Pixel", "fluids", "6", "--at", "2025-03-01 08:00")
    said = say("batch", "give-out", tmp_path / "out")
    assert "Not in these tables: 2 marks (their counts are), 1 entry of care" in said
    assert "records backup" in said
    (_, rows) = next(found for found in tables_in(tmp_path / "out") if found[0] == "readings.csv")
    seen = [(row[-3], row[-2], row[-1]) for row in rows[1:]]
    assert seen == [("oxyurid", "1", "yes"), ("oxyurid", "1", "no")]


def test_nothing_is_written_over(folder, do, fecallab, tmp_path):
    do("animal", "add", "Pixel")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "animals.csv").write_text("mine", encoding="utf-8")
    for words in (("give-out",), ("template",)):
        said = fecallab("batch", *words, tmp_path / "out", "--json")
        assert said.code == 2 and said.error["code"] == "file-exists"
        assert [path.name for path in (tmp_path / "out").iterdir()] == ["animals.csv"]
    said = fecallab("batch", "give-out", tmp_path / "out" / "animals.csv", "--json")
    assert said.code == 2 and said.error["code"] == "not-a-folder"


def test_an_empty_folder_gives_nothing_out(folder, do, tmp_path):
    assert do("batch", "give-out", tmp_path / "out")["files"] == []


def test_the_columns_that_come_out_are_those_of_the_template(folder, do, tmp_path, treated):
    do("batch", "give-out", tmp_path / "out")
    do("batch", "template", tmp_path / "t", "--no-bom")
    templates = {name: rows[0] for name, rows in tables_in(tmp_path / "t")}
    for name, rows in tables_in(tmp_path / "out"):
        assert set(templates[name]) <= set(rows[0]), name
