"""Every recorded row has a line; whatever is altered afterwards is found and named."""

from __future__ import annotations

import random
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from fecallab.domain.animal import Animal, Weighing
from fecallab.domain.errors import BadInput, FecallabError
from fecallab.records import ledger, ledger_check, schema
from fecallab.records.check import check
from fecallab.records.columns import UtcDateTime
from fecallab.records.engine import reading, writing
from fecallab.records.folder import DATABASE
from fecallab.records.guard import unguarded
from fecallab.records.store import Records, open_records
from fecallab.records.writer import Writer

from ..effort import thorough

NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)
WriteEverything = Callable[[Writer], dict[str, Any]]


@pytest.fixture
def full(folder: Path, write_everything: WriteEverything) -> Path:
    """A record folder with one of every kind of fact and a correction."""
    with open_records(folder) as store:
        with store.write("keeper", NOW) as writer:
            made = write_everything(writer)
        with store.write("keeper", NOW + timedelta(hours=1)) as writer:
            writer.correct(made["weighing"], replace(made["weighing"], mass_g=421.5), "typing error")
    return folder


@contextmanager
def past_the_guard(folder: Path) -> Iterator[sqlite3.Connection]:
    """Somebody who opens the file with another program and takes the triggers away."""
    with closing(sqlite3.connect(folder / DATABASE)) as connection:
        made = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in made:
            connection.execute(f"DROP TRIGGER {name}")
        yield connection
        for _, sql in made:
            connection.execute(sql)
        connection.commit()


def test_every_row_of_a_fact_has_a_line_with_who_when_and_why(
    store: Records, write_everything: WriteEverything
) -> None:
    with store.write("keeper", NOW) as writer:
        made = write_everything(writer)
    with store.write("the other keeper", NOW + timedelta(hours=1)) as writer:
        writer.correct(made["weighing"], replace(made["weighing"], mass_g=421.5), "typing error")
    with reading(store.engine) as connection:
        lines = connection.execute(sa.select(schema.ledger).order_by(schema.ledger.c.line)).mappings().all()
        rows = sum(
            connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()
            for table, _ in ledger.tables_with_parts(schema.metadata)
        )
        assert list(ledger_check.verify(connection)) == []
    assert [line["line"] for line in lines] == list(range(1, rows + 1))
    last = lines[-1]
    assert (last["code"], last["by"], last["why"]) == (
        made["weighing"].code,
        "the other keeper",
        "typing error",
    )
    assert last["at"] == NOW + timedelta(hours=1)
    first = next(line for line in lines if line["code"] == made["weighing"].code)
    assert last["before_id"] == first["row_id"]


def test_a_command_that_is_not_kept_leaves_no_line(store: Records) -> None:
    before = store.seal()
    with pytest.raises(BadInput), store.write("keeper", NOW) as writer:
        writer.add(Animal(name="Tilda"))
        writer.add(Animal(name="TILDA"))
    assert store.seal() == before


def test_the_database_itself_refuses_to_change_or_delete(
    store: Records, write_everything: WriteEverything
) -> None:
    with store.write("keeper", NOW) as writer:
        write_everything(writer)
    tables = [table for table in schema.metadata.sorted_tables if table.name != "alembic_version"]
    with reading(store.engine) as connection:
        filled = [
            table
            for table in tables
            if connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()
        ]
    assert len(filled) >= 25
    for table in filled:
        column = next(iter(table.c))
        for statement in (sa.delete(table), sa.update(table).values({column.name: column})):
            with (
                pytest.raises(sa.exc.DBAPIError, match="never changed or deleted"),
                writing(store.engine) as connection,
            ):
                connection.execute(statement)


def test_a_trigger_that_was_taken_away_is_named_and_put_back(full: Path) -> None:
    with closing(sqlite3.connect(full / DATABASE)) as connection:
        connection.execute("DROP TRIGGER keep_weighings_update")
        connection.commit()
    found = check(full)
    assert [problem.code for problem in found.problems] == ["guard-missing"]
    assert "weighings" in found.problems[0].text
    with open_records(full) as store:
        assert store.set_guard() == ["weighings"]
        assert store.set_guard() == []
    assert check(full).ok


def _other(value: Any, kind: object = None) -> Any:
    if isinstance(kind, sa.Boolean):
        return 1 - (value or 0)
    if isinstance(value, str):
        return value[:-1] + chr(ord(value[-1]) ^ 1) if value else "x"
    return 1 if value is None else value + 1


def test_whatever_is_altered_in_any_column_of_a_row_is_found(full: Path) -> None:
    missed = []
    tried = 0
    with past_the_guard(full) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute("PRAGMA synchronous = OFF")
        store = open_records(full)
        for table, parts in ledger.tables_with_parts(schema.metadata):
            for one in (table, *(part for part, _ in parts)):
                names = [column.name for column in one.c if column.name != "id"]
                rows = connection.execute(f'SELECT id, * FROM "{one.name}"').fetchall()
                for row in rows if thorough() else rows[:1]:
                    values = dict(zip([column.name for column in one.c], row[1:], strict=True))
                    for name in names:
                        if one.c[name].foreign_keys or isinstance(
                            one.c[name].type, sa.Date | sa.DateTime | UtcDateTime
                        ):
                            continue
                        setting = f'UPDATE "{one.name}" SET "{name}" = ? WHERE id = ?'
                        try:
                            connection.execute(setting, (_other(values[name], one.c[name].type), row[0]))
                        except sqlite3.IntegrityError:
                            continue  # the database itself would not have it
                        connection.commit()
                        with reading(store.engine) as reader:
                            found = next(ledger_check.verify(reader), None)
                        tried += 1
                        if found is None:
                            missed.append((one.name, row[0], name))
                        connection.execute(setting, (values[name], row[0]))
                        connection.commit()
        store.close()
    assert tried > 150
    assert missed == []
    assert check(full).ok


def test_each_character_of_each_line_counts(full: Path) -> None:
    names = ("line", "table_name", "row_id", "before_id", "code", "at", "by", "why", "digest", "seal")
    missed = []
    with past_the_guard(full) as connection, open_records(full) as store:
        lines = connection.execute(f"SELECT {', '.join(map(_quoted, names))} FROM ledger").fetchall()
        for line in (lines[0], lines[-1]):
            for name, value in zip(names, line, strict=True):
                changed = (
                    [value[:i] + chr(ord(value[i]) ^ 1) + value[i + 1 :] for i in range(len(value))]
                    if isinstance(value, str) and name != "at"
                    else ["2026-03-04 09:30:01.000000"]
                    if name == "at"
                    else [_other(value) + 1000]
                )
                for other in changed:
                    setting = f"UPDATE ledger SET {_quoted(name)} = ? WHERE rowid = ?"
                    connection.execute(setting, (other, line[0]))
                    connection.commit()
                    with reading(store.engine) as reader:
                        if next(ledger_check.verify(reader), None) is None:
                            missed.append((line[0], name, other))
                    connection.execute(
                        f"UPDATE ledger SET {_quoted(name)} = ? WHERE rowid = ?",
                        (value, line[0] if name != "line" else other),
                    )
                    connection.commit()
    assert len(lines) > 20
    assert missed == []
    assert check(full).ok


def _quoted(name: str) -> str:
    return f'"{name}"'


@pytest.mark.parametrize("seed", range(12))
def test_a_changed_byte_of_the_file_is_found_or_changes_nothing(
    full: Path, tmp_path: Path, seed: int
) -> None:
    with closing(sqlite3.connect(full / DATABASE)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.execute("PRAGMA journal_mode = DELETE")
    before = _dump(full)
    content = bytearray((full / DATABASE).read_bytes())
    place = random.Random(seed).randrange(len(content))
    content[place] ^= 1 << (seed % 8)
    other = tmp_path / "changed"
    shutil.copytree(full, other)
    (other / DATABASE).write_bytes(bytes(content))
    if check(other).ok:
        assert _dump(other) == before, f"byte {place} changed something and nothing was said"


def _dump(folder: Path) -> list[str]:
    with open_records(folder) as store, reading(store.engine) as connection:
        return [
            ledger.content_of(row)
            for table in schema.metadata.sorted_tables
            for row in connection.execute(sa.select(table).order_by(*table.primary_key)).mappings()
        ]


def test_a_row_that_is_gone_and_one_that_came_in_otherwise_are_named(full: Path) -> None:
    with past_the_guard(full) as connection:
        connection.execute("DELETE FROM measurements WHERE id = 1")
        connection.execute(
            "INSERT INTO codes (code, kind, parent, number) SELECT 'W9', kind, parent, 9 FROM codes"
            " WHERE code = 'W1'"
        )
        connection.execute(
            "INSERT INTO weighings (code, animal, weighed_at, mass_g, state, remark, recorded_at, recorded_by,"
            " correction_reason, withdrawn) VALUES ('W9', 'A1', '2026-03-01 08:00:00', 300, '', '',"
            " '2026-03-01 08:00:00', 'nobody', '', 0)"
        )
        connection.commit()
    found = {problem.code: problem.text for problem in check(full).problems}
    assert set(found) == {"row-lost", "row-without-line"}
    assert "M1 in measurements was recorded by keeper and is gone" in found["row-lost"]
    assert "W9" in found["row-without-line"]


def test_a_seal_kept_elsewhere_shows_a_ledger_that_was_built_anew(full: Path) -> None:
    with open_records(full) as store:
        kept = store.seal()
    assert check(full, kept).ok
    assert check(full, ledger.seal_from(kept.short)).ok
    with past_the_guard(full) as connection:
        connection.execute("UPDATE weighings SET mass_g = 512.5 WHERE mass_g = 412.5")
        connection.execute("DELETE FROM ledger")
        connection.commit()
    with open_records(full) as store, writing(store.engine) as writer:
        ledger.add_lines(writer, "", NOW)
    assert check(full).ok, "a chain that was rebuilt whole is whole"
    assert [problem.code for problem in check(full, kept).problems] == ["seal-differs"]


@pytest.mark.parametrize("typed", ["", "12", "12-xyz", "-aaaaaaaaaaaaaaaa", "1-" + "a" * 65, "①-" + "a" * 16])
def test_what_is_no_seal_is_refused(typed: str) -> None:
    with pytest.raises(BadInput, match="no seal"):
        ledger.seal_from(typed)


def test_a_clock_that_was_set_back_is_told_and_is_no_damage(folder: Path) -> None:
    with open_records(folder) as store:
        with store.write("keeper", NOW) as writer:
            animal = writer.add(Animal(name="Tilda"))
        with store.write("keeper", NOW - timedelta(days=3)) as writer:
            writer.add(Animal(name="Bruno"))
            writer.add(Weighing(animal=animal.code, weighed_at=datetime(2026, 3, 1, 8), mass_g=40.0))
    found = check(folder)
    assert found.ok
    assert [notice.code for notice in found.notices] == ["clock-set-back"]
    assert "1 March 2026, 09:30 UTC" in found.notices[0].text


def test_both_databases_seal_the_same_rows_alike(store: Records, write_everything: WriteEverything) -> None:
    with store.write("keeper", NOW) as writer:
        made = write_everything(writer)
    with reading(store.engine) as connection:
        query = sa.select(schema.ledger.c.digest).where(schema.ledger.c.table_name == "plans")
        digest = connection.execute(query).scalar_one()
        row = connection.execute(sa.select(schema.plans)).mappings().one()
        words = connection.execute(sa.select(schema.plan_confirmations)).mappings().all()
    # what both must say, written down from the dataclass and not from the database
    parts = [
        ("plan_confirmations", {"rule": each.rule, "by": each.by, "at": each.at, "why": each.why})
        for each in made["plan"].confirmed
    ]
    assert len(words) == len(parts) == 2
    said = {name: value for name, value in row.items() if name not in ("id",)}
    frame = {name: said[name] for name in ("recorded_at", "recorded_by", "replaces", "correction_reason")}
    fact = {name: getattr(made["plan"], name) for name in said if hasattr(made["plan"], name)}
    assert ledger.digest_of(ledger.content_of({"id": row["id"], **fact, **frame}, parts)) == digest


def test_rows_from_before_the_ledger_get_their_lines_in_the_upgrade(tmp_path: Path) -> None:
    from fecallab.records.engine import sqlite_engine
    from fecallab.records.migrate import upgrade_file

    path = tmp_path / "old.sqlite"
    with closing(sqlite3.connect(path)) as old:
        old.executescript((Path(__file__).parent / "data" / "schema_0001.sql").read_text("utf-8"))
        assert not old.execute("SELECT name FROM sqlite_master WHERE name = 'ledger'").fetchall()
    upgrade_file(path)
    engine = sqlite_engine(path)
    try:
        with reading(engine) as connection:
            assert list(ledger_check.verify(connection)) == []
            assert unguarded(connection) == []
            assert ledger.newest_seal(connection).line > 5
    finally:
        engine.dispose()


def test_a_damaged_ledger_never_stops_the_reading_of_facts(full: Path) -> None:
    with past_the_guard(full) as connection:
        connection.execute("UPDATE ledger SET seal = 'broken' WHERE line = 2")
        connection.commit()
    assert not check(full).ok
    with open_records(full) as store:
        assert [animal.name for animal in store.animals()][-1] == "Tub 3"
        with store.write("keeper", NOW + timedelta(days=1)) as writer:
            writer.add(Animal(name="Bruno"))
    codes = [problem.code for problem in check(full).problems]
    assert "ledger-broken" in codes and "row-without-line" not in codes


def test_check_says_in_one_line_what_it_cannot_read(full: Path) -> None:
    (full / DATABASE).write_bytes(b"SQLite format 3\0" + bytes(4080))
    found = check(full)
    assert found.problems
    with pytest.raises(FecallabError):
        open_records(full)


def test_the_story_of_an_animal_tells_everything_that_rests_on_it(
    store: Records, write_everything: WriteEverything
) -> None:
    with store.write("keeper", NOW) as writer:
        made = write_everything(writer)
    with store.write("the other keeper", NOW + timedelta(hours=1)) as writer:
        writer.correct(made["weighing"], replace(made["weighing"], mass_g=421.5), "typing error")
    story = store.story("a1")
    told = {entry.code for entry in story}
    named = (
        "animal",
        "weighing",
        "sample",
        "exam",
        "case",
        "plan",
        "dose",
        "reaction",
        "closing",
        "measurement",
    )
    assert {made[name].code for name in named} <= told
    assert {"E1-1-2-1", "E1-R1"} <= told
    assert made["tub"].code not in told and made["control"].code not in told
    assert [entry.recorded_at for entry in story] == sorted(entry.recorded_at for entry in story)
    assert story[-1].reason == "typing error"
    dose = {entry.code for entry in store.story(made["dose"].code)}
    assert dose == {made["dose"].code, made["reaction"].code}
