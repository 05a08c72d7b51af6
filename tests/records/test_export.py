"""Everything out in open formats and back again, without loss."""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fecallab import open_records
from fecallab.domain.animal import Animal, CareEntry, Weighing
from fecallab.domain.errors import BadInput, CouldNot, FecallabError
from fecallab.imaging.marks_file import read_marks
from fecallab.records import schema
from fecallab.records.check import check
from fecallab.records.engine import reading
from fecallab.records.exporting import export_records
from fecallab.records.importing import import_records
from fecallab.records.ledger import content_of
from fecallab.records.writer import Writer

NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)


@pytest.fixture
def full(folder: Path, write_everything: Callable[[Writer], dict[str, Any]]) -> Path:
    """A record folder with one of every kind of fact."""
    with open_records(folder) as store, store.write("keeper", NOW) as writer:
        write_everything(writer)
    return folder


@pytest.fixture
def exported(full: Path, tmp_path: Path) -> Path:
    """What was exported of it."""
    with open_records(full) as store:
        export_records(store, tmp_path / "out")
    return tmp_path / "out"


def _everything(folder: Path) -> list[str]:
    with open_records(folder) as store, reading(store.engine) as connection:
        return [
            f"{table.name} {content_of(row)}"
            for table in schema.metadata.sorted_tables
            for row in connection.execute(sa.select(table).order_by(*table.primary_key)).mappings()
        ]


def test_what_goes_out_comes_back_row_by_row_picture_by_picture(full: Path, exported: Path) -> None:
    back = exported.parent / "back"
    total, missing = import_records(exported, back)
    assert missing == []
    assert total == len(_everything(full)) > 40
    assert _everything(back) == _everything(full)
    found = check(back)
    assert found.ok and found.pictures == 1
    with open_records(back) as store:
        assert check(full, store.seal()).ok, "the seal has come along"
        with store.write("keeper", NOW) as writer:
            assert writer.add(Animal(name="Bruno")).code == "A3", "the numbering goes on"


TEXTS = st.text(
    st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs"), include_characters='",;\n\t🐢'),
    max_size=40,
)


@settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    remarks=st.lists(TEXTS, min_size=1, max_size=6),
    amounts=st.lists(st.floats(1e-6, 1e9, allow_nan=False), min_size=1, max_size=6),
)
def test_any_text_and_any_number_survive_the_way_out_and_back(
    tmp_path_factory: pytest.TempPathFactory, empty_folder: Path, remarks: list[str], amounts: list[float]
) -> None:
    place = tmp_path_factory.mktemp("trip")
    here = shutil.copytree(empty_folder, place / "here")
    with open_records(here) as store, store.write("keeper", NOW) as writer:
        animal = writer.add(Animal(name="Tilda")).code
        for remark in remarks:
            entry = CareEntry(animal=animal, at=datetime(2026, 3, 1), kind="other", remark=remark)
            writer.add(entry)
        for amount in amounts:
            writer.add(Weighing(animal=animal, weighed_at=datetime(2026, 3, 1, 8), mass_g=amount))
    with open_records(here) as store:
        export_records(store, place / "out")
    import_records(place / "out", place / "there")
    assert _everything(place / "there") == _everything(here)
    assert check(place / "there").ok


def test_the_tables_are_plain_csv_and_every_column_is_described(exported: Path) -> None:
    package = json.loads((exported / "datapackage.json").read_text("utf-8"))
    assert package["profile"] == "tabular-data-package"
    names = {resource["name"] for resource in package["resources"]}
    assert names == {table.name for table in schema.metadata.sorted_tables}
    for resource in package["resources"]:
        with (exported / resource["path"]).open(encoding="utf-8", newline="") as handle:
            header, *rows = list(csv.reader(handle))
        assert header == [field["name"] for field in resource["schema"]["fields"]]
        assert len(rows) == resource["rowCount"]
    weighings = next(each for each in package["resources"] if each["name"] == "weighings")
    fields = {field["name"]: field for field in weighings["schema"]["fields"]}
    assert fields["mass_g"]["type"] == "number"
    assert "in g" in fields["mass_g"]["description"] and "above 0" in fields["mass_g"]["description"]


def test_what_stands_is_json_that_fits_its_schema(exported: Path) -> None:
    from pydantic import TypeAdapter

    from fecallab.domain.exam import Exam

    exams = TypeAdapter(list[Exam]).validate_json((exported / "facts" / "exams.json").read_bytes())
    assert exams[0].preparations[0].readings[1].marks[0].name == "oxyurid"
    described = json.loads((exported / "facts" / "exams.schema.json").read_text("utf-8"))
    assert "Mark" in described["$defs"]


def test_the_marks_are_annotations_that_are_read_again(full: Path, exported: Path) -> None:
    (file,) = (exported / "annotations").glob("*.json")
    found = read_marks(file)
    with open_records(full) as store:
        kept = store.exam("E1").preparations[0].readings[1].marks
    for (picture, mark), mine in zip(found, kept, strict=True):
        assert picture.endswith(".jpg")
        assert (mark.name, mark.sure) == (mine.name, mine.sure)
        assert mark.x_px == pytest.approx(mine.x_px, abs=0.01)
        assert mark.length_um == (None if mine.length_um is None else pytest.approx(mine.length_um, abs=0.02))


def test_a_table_is_a_frame_of_what_stands_or_of_every_row(full: Path) -> None:
    import pandas as pd

    with open_records(full) as store:
        weighing = store.weighings("A1")[0]
        with store.write("keeper", NOW) as writer:
            writer.correct(
                weighing, Weighing(animal="A1", weighed_at=weighing.weighed_at, mass_g=400.0), "slip"
            )
        standing = store.table("weighings")
        every = store.table("weighings", every_row=True)
        counts = store.table("reading_counts")
        readings = store.table("readings")
        assert list(standing["mass_g"]) == [400.0]
        assert list(every["mass_g"]) == [412.5, 400.0]
        assert standing["mass_g"].dtype == "float64" and readings["picture"].dtype == "string"
        assert isinstance(standing["recorded_at"].dtype, pd.DatetimeTZDtype)
        assert pd.api.types.is_datetime64_any_dtype(standing["weighed_at"])
        assert set(counts["name"]) == {"oxyurid", "flagellate"}
        assert pd.isna(readings["cover_share"].iloc[0])
        with pytest.raises(BadInput, match="There is no table 'reading'"):
            store.table("reading")
        assert len(store.table("closings")) == 1 and len(store.table("ledger")) > 25


def _change(path: Path, old: str, new: str) -> None:
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8", newline="")


@pytest.mark.parametrize(
    ("break_it", "code"),
    [
        (lambda out: (out / "datapackage.json").unlink(), "no-export"),
        (lambda out: (out / "datapackage.json").write_text("{"), "export-damaged"),
        (lambda out: (out / "datapackage.json").write_text("[" * 100_000), "export-damaged"),
        (lambda out: (out / "tables" / "weighings.csv").unlink(), "export-damaged"),
        (lambda out: _change(out / "tables" / "weighings.csv", "412.5", "512.5"), "export-damaged"),
        (
            lambda out: _change(out / "datapackage.json", f'"{schema.SCHEMA_REVISIONS[-1]}"', '"9999"'),
            "newer-records",
        ),
    ],
)
def test_an_export_that_was_changed_is_refused_and_leaves_nothing(
    exported: Path, break_it: Callable[[Path], None], code: str
) -> None:
    break_it(exported)
    with pytest.raises(FecallabError) as caught:
        import_records(exported, exported.parent / "back")
    assert caught.value.reason.code == code
    assert not (exported.parent / "back").exists()


def test_a_table_that_was_changed_with_its_hash_does_not_pass_the_ledger(exported: Path) -> None:
    import hashlib

    table = exported / "tables" / "weighings.csv"
    old = hashlib.sha256(table.read_bytes()).hexdigest()
    _change(table, "412.5", "512.5")
    new = hashlib.sha256(table.read_bytes()).hexdigest()
    _change(exported / "datapackage.json", old, new)
    with pytest.raises(CouldNot, match="W1 in weighings is not as keeper recorded it"):
        import_records(exported, exported.parent / "back")
    assert not (exported.parent / "back").exists()


def test_nothing_is_written_over_and_a_missing_picture_is_named(full: Path, exported: Path) -> None:
    with open_records(full) as store, pytest.raises(BadInput, match="not empty"):
        export_records(store, exported)
    with pytest.raises(BadInput, match="not empty"):
        import_records(exported, full)
    shutil.rmtree(exported / "pictures")
    _, missing = import_records(exported, exported.parent / "back")
    assert [each.code for each in missing] == ["picture-missing"]
    assert [each.code for each in check(exported.parent / "back").problems] == ["picture-missing"]
