"""What is stored about a person can be shown and taken out, and the ledger still proves the rest."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from fecallab.domain.animal import Animal, CareEntry
from fecallab.domain.errors import BadInput
from fecallab.records import ledger, ledger_check, schema
from fecallab.records.check import check
from fecallab.records.engine import reading
from fecallab.records.exporting import export_records
from fecallab.records.folder import DATABASE
from fecallab.records.guard import unguarded
from fecallab.records.importing import import_records
from fecallab.records.store import Records, create_records, open_records
from fecallab.records.writer import Writer

NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
LATER = NOW + timedelta(days=9)


def fill(store: Records, write_everything: Callable[[Writer], dict[str, Any]]) -> None:
    with store.write("Odo Brandt", NOW) as writer:
        made = write_everything(writer)
        said = "Odo Brandt held her; odo brandt's scale; Brandtmann was not there"
        writer.add(CareEntry(animal="A1", at=datetime(2026, 3, 3), kind="other", remark=said))
    with store.write("Mara Quell", NOW + timedelta(hours=1)) as writer:
        writer.correct(made["weighing"], replace(made["weighing"], mass_g=421.5), "Odo Brandt read it wrong")


def every_text(store: Records) -> str:
    with reading(store.engine) as connection:
        return "\n".join(
            ledger.content_of(row)
            for table in schema.metadata.sorted_tables
            for row in connection.execute(sa.select(table)).mappings()
        )


def test_a_name_is_shown_wherever_it_stands(store: Records, write_everything: Any) -> None:
    fill(store, write_everything)
    found = store.places_of("odo BRANDT")
    tables = {place.table for place in found}
    assert {"weighings", "ledger", "care_entries", "animals", "pictures"} <= tables
    assert [place.column for place in found if place.table == "care_entries" and place.column == "remark"]
    assert store.places_of("Brandtman") == []
    with pytest.raises(BadInput, match="too short"):
        store.places_of("Od")


def test_a_name_that_is_taken_out_is_gone_and_the_ledger_holds(store: Records, write_everything: Any) -> None:
    fill(store, write_everything)
    before = store.seal()
    found = store.redact("Odo Brandt", "keeper 2", by="Mara Quell", why="he asked for it", now=LATER)
    assert len(found) > 40
    text = every_text(store)
    assert "odo brandt" not in text.lower() and "Brandtmann" in text
    assert "keeper 2 held her; keeper 2's scale" in text
    with reading(store.engine) as connection:
        assert list(ledger_check.verify(connection, before)) == []
        assert unguarded(connection) == []
        said = list(ledger_check.redacted(connection))
    assert len(said) == 1 and "by Mara Quell: he asked for it" in said[0].text
    # a second name, in rows that were redacted already
    store.redact("keeper 2", "somebody", by="Mara Quell", why="again", now=LATER + timedelta(days=1))
    with reading(store.engine) as connection:
        assert list(ledger_check.verify(connection, before)) == []
        assert len(list(ledger_check.redacted(connection))) == 2
    assert "keeper 2" not in every_text(store)


def test_a_redaction_hides_no_other_change(folder: Path, write_everything: Any) -> None:
    with open_records(folder) as store:
        fill(store, write_everything)
        store.redact("Odo Brandt", "keeper 2", by="Mara Quell", why="he asked for it", now=LATER)
    assert check(folder).ok
    for change in ("UPDATE weighings SET mass_g = 512.5", "UPDATE ledger SET by = 'Mara' WHERE line = 5"):
        with closing(sqlite3.connect(folder / DATABASE)) as connection:
            for (name,) in connection.execute(
                "SELECT name FROM sqlite_master WHERE type = 'trigger'"
            ).fetchall():
                connection.execute(f"DROP TRIGGER {name}")
            connection.execute(change)
            connection.commit()
        with open_records(folder) as store:
            store.set_guard()
        assert {problem.code for problem in check(folder).problems} & {"row-altered", "ledger-broken"}


def test_redacted_records_still_go_out_and_come_back(
    folder: Path, tmp_path: Path, write_everything: Any
) -> None:
    with open_records(folder) as store:
        fill(store, write_everything)
        store.redact("Odo Brandt", "keeper 2", by="Mara Quell", why="he asked for it", now=LATER)
        export_records(store, tmp_path / "out")
    import_records(tmp_path / "out", tmp_path / "back")
    assert check(tmp_path / "back").ok
    assert not any(b"Odo" in path.read_bytes() for path in (tmp_path / "out").rglob("*.*") if path.is_file())


@pytest.mark.parametrize(
    ("name", "instead", "why"),
    [
        ("Odo Brandt", "", "x"),
        ("Odo Brandt", "x", " "),
        ("Odo Brandt", "not Odo Brandt", "x"),
        ("Nobody", "x", "x"),
    ],
)
def test_a_redaction_that_makes_no_sense_changes_nothing(
    folder: Path, write_everything: Any, name: str, instead: str, why: str
) -> None:
    with open_records(folder) as store:
        fill(store, write_everything)
        before = every_text(store)
        with pytest.raises(BadInput):
            store.redact(name, instead, by="Mara Quell", why=why, now=LATER)
        assert every_text(store) == before
    assert check(folder).ok


def test_the_command_shows_first_and_does_it_with_yes(folder: Path, run: Any) -> None:
    with open_records(folder) as store, store.write("Odo Brandt", NOW) as writer:
        writer.add(Animal(name="Tilda"))
    there = ("--records", folder)
    code, out, _ = run("person", "Odo Brandt", "--json", *there)
    assert code == 0 and {place["table"] for place in json.loads(out)["places"]} == {"animals", "ledger"}
    asked = (
        "redact",
        "Odo Brandt",
        "--instead",
        "keeper 2",
        "--reason",
        "his wish",
        "--by",
        "Mara Quell",
        *there,
    )
    code, out, _ = run(*asked)
    assert code == 0 and "add --yes" in out
    assert run("person", "Odo Brandt", *there)[1].endswith("stands in 2 texts.\n")
    assert run(*asked, "--yes")[0] == 0
    assert "stands nowhere" in run("person", "Odo Brandt", *there)[1]
    code, out, _ = run("check", *there)
    assert code == 0 and "redacted" in out


@pytest.mark.skipif(os.name != "posix", reason="permissions of Unix")
def test_a_new_record_folder_is_closed_to_other_people_of_the_computer(tmp_path: Path) -> None:
    create_records(tmp_path / "new", NOW)
    assert (tmp_path / "new").stat().st_mode & 0o777 == 0o700
