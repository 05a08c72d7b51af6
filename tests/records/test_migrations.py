"""Databases of every age are brought to the newest schema, whole or not at all."""

from __future__ import annotations

import dataclasses
import json
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import Engine

from fecallab.domain.animal import Weighing
from fecallab.domain.errors import CouldNot
from fecallab.records import migrate, rows, schema
from fecallab.records.check import check
from fecallab.records.engine import postgresql_engine, reading, sqlite_engine, writing
from fecallab.records.folder import DATABASE
from fecallab.records.store import create_records, open_records

DATA = Path(__file__).parent / "data"
NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_engine(request: pytest.FixtureRequest, tmp_path: Path) -> Any:
    """An empty database, with no table in it."""
    if request.param == "sqlite":
        engine = sqlite_engine(tmp_path / "empty.sqlite", access="create", foreign_keys=False)
    else:
        engine = postgresql_engine(request.getfixturevalue("new_postgresql")())
    yield engine
    engine.dispose()


def shape(engine: Engine) -> dict[str, Any]:
    """Return everything that a database knows about its tables."""
    inspector = sa.inspect(engine)
    found: dict[str, Any] = {}
    for table in sorted(set(inspector.get_table_names()) - {"alembic_version"}):
        found[table] = {
            "columns": [
                (column["name"], str(column["type"]), column["nullable"], column["default"])
                for column in inspector.get_columns(table)
                if engine.dialect.name == "sqlite" or column["name"] != "id"
            ],
            "key": inspector.get_pk_constraint(table),
            "references": sorted(
                (str(key["name"]), key["constrained_columns"], key["referred_table"], key["referred_columns"])
                for key in inspector.get_foreign_keys(table)
            ),
            "unique": sorted(
                (str(key["name"]), key["column_names"]) for key in inspector.get_unique_constraints(table)
            ),
            "checks": sorted(
                (str(rule["name"]), rule["sqltext"]) for rule in inspector.get_check_constraints(table)
            ),
            "indexes": sorted(
                (str(index["name"]), index["column_names"], bool(index["unique"]), _where(index))
                for index in inspector.get_indexes(table)
            ),
        }
    return found


def _where(index: Any) -> str:
    """Return the condition of an index that holds some rows only."""
    conditions = [each for name, each in index.get("dialect_options", {}).items() if name.endswith("_where")]
    return "".join(map(str, conditions)).strip("()")


def test_the_first_row_of_a_fact_stays_alone_after_a_table_was_renewed(empty_engine: Engine) -> None:
    migrate.upgrade(empty_engine)
    found = shape(empty_engine)
    for kind in rows.KINDS:
        name = f"uq_{kind.table.name}_first"
        assert (name, ["code"], True, "replaces IS NULL") in found[kind.table.name]["indexes"]


def test_the_migrations_make_the_tables_that_the_program_works_with(
    empty_engine: Engine, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    migrate.upgrade(empty_engine)
    if empty_engine.dialect.name == "sqlite":
        other = sqlite_engine(tmp_path / "other.sqlite", access="create")
    else:
        other = postgresql_engine(request.getfixturevalue("new_postgresql")())
    schema.metadata.create_all(other)
    assert shape(empty_engine) == shape(other)
    assert len(shape(other)) == len(schema.metadata.tables) > 15
    other.dispose()


def test_every_constraint_and_index_has_a_name(empty_engine: Engine) -> None:
    migrate.upgrade(empty_engine)
    unnamed = []
    for table, parts in shape(empty_engine).items():
        names = [entry[0] for part in ("references", "unique", "checks", "indexes") for entry in parts[part]]
        names.append(str(parts["key"]["name"]))
        unnamed += [table for name in names if not name.startswith(("pk_", "fk_", "uq_", "ck_", "ix_"))]
        assert len(set(names)) >= len(parts["checks"]) + 1
    assert unnamed == []


def test_upgrading_twice_changes_nothing(empty_engine: Engine) -> None:
    migrate.upgrade(empty_engine)
    before = shape(empty_engine)
    migrate.upgrade(empty_engine)
    assert shape(empty_engine) == before
    with reading(empty_engine) as connection:
        assert migrate.revision_of(connection) == migrate.HEAD
        assert connection.execute(sa.text("SELECT count(*) FROM alembic_version")).scalar() == 1
    assert not migrate.needs_upgrade(empty_engine)


def test_the_list_of_revisions_is_that_of_the_files() -> None:
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", migrate.SCRIPTS)
    scripts = ScriptDirectory.from_config(config)
    found = [script.revision for script in scripts.walk_revisions()]
    assert tuple(reversed(found)) == schema.SCHEMA_REVISIONS
    assert scripts.get_heads() == [migrate.HEAD]


def test_a_migration_that_fails_leaves_the_schema_as_it_was(
    empty_engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    migrate.upgrade(empty_engine)
    before = shape(empty_engine)
    scripts = shutil.copytree(Path(migrate.__file__).parent / "migrations", tmp_path / "migrations")
    (scripts / "versions" / "r9999_breaks.py").write_text(
        "import sqlalchemy as sa\nfrom alembic import op\n"
        f"revision, down_revision, branch_labels, depends_on = '9999', {migrate.HEAD!r}, None, None\n"
        "def upgrade():\n"
        "    op.create_table('half', sa.Column('id', sa.Integer, primary_key=True))\n"
        "    op.execute(\"UPDATE alembic_version SET version_num = '9999'\")\n"
        "    op.execute('SELECT * FROM no_such_table')\n"
    )
    first = migrate.HEAD
    monkeypatch.setattr(migrate, "SCRIPTS", str(scripts))
    monkeypatch.setattr(migrate, "HEAD", "9999")
    with pytest.raises(sa.exc.DBAPIError):
        migrate.upgrade(empty_engine)
    assert shape(empty_engine) == before
    with reading(empty_engine) as connection:
        assert migrate.revision_of(connection) == first


def test_a_database_of_a_newer_program_is_refused_in_one_line(empty_engine: Engine) -> None:
    migrate.upgrade(empty_engine)
    with empty_engine.begin() as connection:
        connection.execute(sa.text("UPDATE alembic_version SET version_num = '0999'"))
    for act in (migrate.needs_upgrade, migrate.upgrade):
        with pytest.raises(CouldNot, match=r"newer fecallab \(schema 0999; this one knows up to"):
            act(empty_engine)


def test_a_folder_of_a_newer_program_is_refused_and_named_by_check(folder: Path) -> None:
    with closing(sqlite3.connect(folder / DATABASE)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '0999'")
        connection.commit()
    with pytest.raises(CouldNot, match="newer fecallab"):
        open_records(folder)
    assert [problem.code for problem in check(folder).problems] == ["newer-records"]


def test_upgrade_from_first_schema(tmp_path: Path, now: datetime) -> None:
    """A dump of the first schema with rows, kept as it was made: it must open for ever after."""
    folder = tmp_path / "old records"
    create_records(folder, now)
    (folder / DATABASE).unlink()
    with closing(sqlite3.connect(folder / DATABASE)) as connection:
        connection.executescript((DATA / "schema_0001.sql").read_text(encoding="utf-8"))
        assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)
        identity = connection.execute("SELECT identity FROM collection").fetchone()[0]
    marker = folder / "fecallab.json"
    marker.write_text(json.dumps({**json.loads(marker.read_text()), "collection": identity}))
    expected = json.loads((DATA / "schema_0001.json").read_text(encoding="utf-8"))
    with open_records(folder) as records:
        assert not migrate.needs_upgrade(records.engine)
        found = {
            "animals": records.animals(),
            "weighings": records.weighings("A1"),
            "events": records.events("A1"),
            "care": records.care("A1"),
            "samples": records.samples(),
            "exams": records.exams(),
            "cases": records.cases(),
            "plans": records.plans("C1"),
            "doses": records.doses("C1"),
            "closing": [records.closing("C1")],
            "pictures": records.pictures(),
            "story": [
                {
                    "code": entry.code,
                    "reason": entry.reason,
                    "current": entry.current,
                    "by": entry.recorded_by,
                }
                for code in ("A1", "W1", "E1", "C1", "X1")
                for entry in records.history(code)
            ],
        }
        assert set(found) == set(expected)
        for name, facts in found.items():
            plain = [fact if isinstance(fact, dict) else dataclasses.asdict(fact) for fact in facts]
            assert len(plain) == len(expected[name]) > 0, name
            for fact, kept in zip(plain, expected[name], strict=True):
                assert_holds(json.loads(json.dumps(fact, default=str)), kept)
        with records.write("keeper", now) as writer:
            assert writer.add(Weighing(animal="A1", weighed_at=datetime(2026, 4, 1), mass_g=1.0)).code == "W2"
    problems = check(folder).problems
    assert {problem.code for problem in problems} == {"picture-missing"}, "the dump has no picture files"


def test_rows_of_the_first_schema_say_nothing_in_what_came_later(
    empty_engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as before:
        before.setattr(migrate, "HEAD", "0001")
        migrate.upgrade(empty_engine)
    frame = {"recorded_at": NOW, "recorded_by": "keeper", "correction_reason": "", "withdrawn": False}
    weighing = {"animal": "A1", "weighed_at": datetime(2026, 3, 1), "mass_g": 41.5, "state": "", "remark": ""}
    first, second = ({"id": n, "code": "W1", **weighing, **frame, "replaces": None} for n in (1, 2))
    second |= {"replaces": 1, "mass_g": 14.5, "correction_reason": "digits swapped"}
    named = sa.text(
        f"INSERT INTO weighings ({', '.join(first)}) VALUES ({', '.join(':' + name for name in first)})"
    )
    with writing(empty_engine) as connection:
        for code, kind in (("A1", "animal"), ("W1", "weighing")):
            connection.execute(
                sa.text("INSERT INTO codes (code, kind, number) VALUES (:code, :kind, 1)"),
                {"code": code, "kind": kind},
            )
        connection.execute(named, first)
        connection.execute(named, second)
    migrate.upgrade(empty_engine)
    with reading(empty_engine) as connection:
        found = connection.execute(sa.select(schema.weighings).order_by(schema.weighings.c.id)).mappings()
        assert [(row["mass_g"], row["as_told"], row["replaces"]) for row in found] == [
            (41.5, False, None),
            (14.5, False, 1),
        ]
    with pytest.raises(sa.exc.IntegrityError), writing(empty_engine) as connection:
        connection.execute(named, first | {"id": 3})


def test_readings_of_the_second_schema_say_nothing_of_proposals_and_swimming(
    empty_engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as before:
        before.setattr(migrate, "HEAD", "0002")
        migrate.upgrade(empty_engine)
    known = sa.inspect(empty_engine).get_table_names()
    assert "readings" in known and not {"vet_answers", "mark_verdicts", "vet_page_items"} & set(known)
    row = {
        "id": 1,
        "code": "E1-1-1",
        "preparation": "E1-1",
        "kind": "field",
        "objective": 10.0,
        "remark": "",
        "recorded_at": NOW,
        "recorded_by": "keeper",
        "correction_reason": "",
        "withdrawn": False,
    }
    named = sa.text(
        f"INSERT INTO readings ({', '.join(row)}) VALUES ({', '.join(':' + name for name in row)})"
    )
    count = "INSERT INTO reading_counts (id, reading_id, name, sure, count) VALUES (1, 1, 'oxyurid', :yes, 3)"
    with writing(empty_engine) as connection:
        for code in ("E1-1", "E1-1-1"):
            connection.execute(
                sa.text("INSERT INTO codes (code, kind, number) VALUES (:code, 'part', 1)"), {"code": code}
            )
        connection.execute(named, row)
        connection.execute(sa.text(count), {"yes": True})
    migrate.upgrade(empty_engine)
    with reading(empty_engine) as connection:
        found = connection.execute(sa.select(schema.readings)).mappings().one()
        later = ("mean_swimming", "mean_swimming_low", "mean_swimming_high", "clip_seconds")
        assert found["proposals"] == "" and found["objective"] == 10.0
        assert [found[name] for name in later] == [None] * 4
        assert connection.execute(sa.select(schema.reading_counts.c.count)).scalar() == 3
    for name, value in (("proposals", "perhaps"), ("mean_swimming", -1.0), ("clip_seconds", 0.0)):
        with pytest.raises(sa.exc.IntegrityError, match=f"ck_readings_{name}"), writing(empty_engine) as each:
            each.execute(sa.insert(schema.readings), {**row, "id": 2, "code": "E1-1", name: value})


def assert_holds(fact: Any, kept: Any) -> None:
    """Compare what was kept; a field that came later may stand beside it."""
    if isinstance(kept, dict):
        assert set(kept) <= set(fact)
        for name in kept:
            assert_holds(fact[name], kept[name])
    elif isinstance(kept, list):
        assert len(fact) == len(kept)
        for one, other in zip(fact, kept, strict=True):
            assert_holds(one, other)
    else:
        assert fact == kept


def test_two_programs_that_renew_the_same_records_at_once(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from fecallab.records import migrate;"
        "migrate.upgrade_file(Path(sys.argv[1]), create=True)"
    )
    command = [sys.executable, "-c", code, str(tmp_path / "new.sqlite")]
    programs = [subprocess.Popen(command, stderr=subprocess.PIPE, text=True) for _ in range(2)]
    assert [(program.communicate()[1], program.returncode) for program in programs] == [("", 0)] * 2
    engine = sqlite_engine(tmp_path / "new.sqlite")
    assert not migrate.needs_upgrade(engine)
    engine.dispose()


@pytest.mark.parametrize("day", [date(1, 1, 1), date(9999, 12, 31)])
def test_the_calendar_fits_on_every_database(
    open_store: Callable[..., Any], now: datetime, day: date
) -> None:
    from fecallab.domain.animal import Animal

    with open_store() as store:
        with store.write("keeper", now) as writer:
            writer.add(Animal(name="Tilda", arrived_on=day))
        assert store.animal("Tilda").arrived_on == day
