"""Enclosures, stays, sharings, numbers of tubs, arrivals, protocols, releases; of how many a tub's stool is.

Frozen: it says what was made then, and does not follow the tables of today. Columns are written as in the
first schema: ``name:type``, with ``?`` where unknown is allowed and ``>table.column`` where the value must
exist. The enclosures that animals named as a word become enclosures, and each animal gets a stay there: from the
day of its arrival where that is known, to its death or leaving.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_TYPES: dict[str, sa.types.TypeEngine[Any]] = {
    "text": sa.Text(),
    "whole": sa.Integer(),
    "flag": sa.Boolean(),
    "day": sa.Date(),
    "moment": sa.DateTime(timezone=True),
}
_WHO = "('the animal', 'the contact group', 'the arrival', 'the room')"
_ORDERED = '"end" >= start'


def upgrade() -> None:
    """Make the new tables, and fill them with what the animals say of their enclosures."""
    with op.batch_alter_table("samples") as batch:
        batch.add_column(sa.Column("stools_of", sa.Integer(), nullable=True))
        batch.create_check_constraint(op.f("ck_samples_stools_of_at_least_one"), sa.text("stools_of >= 1"))
    _facts(
        "enclosures",
        "name:text name_key:text room:text remark:text",
        {"name_key_not_empty": "name_key <> ''"},
        index="name_key",
    )
    _facts(
        "sharings",
        "enclosure:text>codes.code thing:text label:text start:day? end:day? remark:text",
        {
            "enclosure_kind": "substr(enclosure, 1, 1) = 'B'",
            "thing_known": "thing IN ('water', 'tools', 'round')",
            "label_not_empty": "label <> ''",
            "start_end_ordered": _ORDERED,
        },
    )
    _facts(
        "stays",
        "animal:text>codes.code enclosure:text>codes.code start:day? end:day? number_of_animals:whole "
        "visit:flag remark:text",
        {
            "animal_kind": "substr(animal, 1, 1) = 'A'",
            "enclosure_kind": "substr(enclosure, 1, 1) = 'B'",
            "start_end_ordered": _ORDERED,
            "number_of_animals_at_least_one": "number_of_animals >= 1",
        },
    )
    _facts(
        "count_changes",
        "animal:text>codes.code on:day kind:text number:whole other:text?>codes.code by:text remark:text",
        {
            "animal_kind": "substr(animal, 1, 1) = 'A'",
            "kind_known": "kind IN ('died', 'sold', 'moved out', 'moved in', 'escaped', 'found again')",
            "number_at_least_one": "number >= 1",
            "other_kind": "substr(other, 1, 1) = 'A'",
        },
    )
    _facts(
        "arrivals",
        "name:text arrived_on:day origin:text source:text split_from:text?>codes.code remark:text",
        {
            "origin_known": "origin IN ('captive bred', 'farmed', 'wild caught', 'confiscated', 'unknown')",
            "split_from_kind": "substr(split_from, 1, 1) = 'I'",
        },
    )
    _facts(
        "arrival_members",
        "arrival:text>codes.code animal:text>codes.code joined_on:day left_on:day? remark:text",
        {
            "arrival_kind": "substr(arrival, 1, 1) = 'I'",
            "animal_kind": "substr(animal, 1, 1) = 'A'",
            "joined_on_left_on_ordered": "left_on >= joined_on",
        },
    )
    _facts(
        "arrival_protocols",
        "arrival:text>codes.code written_on:day template:text edition:text vet:text days_at_least:whole "
        "negatives_needed:whole spacing_days:whole last_exam_after_days:whole? laboratory_pcrs:whole "
        "positive_restarts:text newcomer_restarts:text source:text remark:text",
        {
            "arrival_kind": "substr(arrival, 1, 1) = 'I'",
            "days_at_least_not_negative": "days_at_least >= 0",
            "negatives_needed_not_negative": "negatives_needed >= 0",
            "spacing_days_not_negative": "spacing_days >= 0",
            "last_exam_after_days_not_negative": "last_exam_after_days >= 0",
            "laboratory_pcrs_not_negative": "laboratory_pcrs >= 0",
            "positive_restarts_known": f"positive_restarts IN {_WHO}",
            "newcomer_restarts_known": f"newcomer_restarts IN {_WHO}",
        },
    )
    _facts(
        "releases",
        "arrival:text>codes.code on:day to:text by:text vet:text reason:text protocol:text?>codes.code "
        "answer_then:text edition:text supported_then:flag remark:text",
        {
            "arrival_kind": "substr(arrival, 1, 1) = 'I'",
            "protocol_kind": "substr(protocol, 1, 2) = 'IP'",
            "by_not_empty": "by <> ''",
        },
    )
    _words("protocol_words", "arrival_protocols", "word:text")
    _words("release_animals", "releases", "word:text>codes.code")
    _enclosures_from_animals(op.get_bind())


def _enclosures_from_animals(connection: sa.Connection) -> None:
    """Make an enclosure of every word that an animal of today names, and a stay of each animal there."""
    animals = sa.table(
        "animals",
        *(sa.column(name) for name in ("id", "code", "enclosure", "number_of_animals", "recorded_by")),
        *(sa.column(name) for name in ("replaces", "withdrawn")),
        sa.column("arrived_on", sa.Date()),
        sa.column("recorded_at", sa.DateTime(timezone=True)),
    )
    events = sa.table(
        "animal_events",
        *(sa.column(name) for name in ("id", "animal", "kind", "replaces", "withdrawn")),
        sa.column("start", sa.Date()),
    )
    gone: dict[str, Any] = {}
    for row in _standing(connection, events):
        if row["kind"] in ("died", "left"):
            gone[row["animal"]] = min(row["start"], gone.get(row["animal"], row["start"]))
    codes: dict[str, str] = {}
    stays = 0
    for row in _standing(connection, animals):
        key = " ".join(unicodedata.normalize("NFKC", row["enclosure"]).casefold().split())
        if not key:
            continue
        signed = {"recorded_at": row["recorded_at"], "recorded_by": row["recorded_by"]}
        signed |= {"replaces": None, "correction_reason": "", "withdrawn": False}
        if key not in codes:
            codes[key] = f"B{len(codes) + 1}"
            fact = {"name": row["enclosure"], "name_key": key, "room": "", "remark": ""}
            _insert(connection, "enclosures", "enclosure", codes[key], {**fact, **signed})
        stays += 1
        start, end = row["arrived_on"], gone.get(row["code"])
        fact = {
            "animal": row["code"],
            "enclosure": codes[key],
            "start": start,
            "end": max(start, end) if start and end else end,
            "number_of_animals": row["number_of_animals"],
            "visit": False,
            "remark": "",
        }
        _insert(connection, "stays", "stay", f"BT{stays}", {**fact, **signed})


def _standing(connection: sa.Connection, table: sa.TableClause) -> list[Mapping[str, Any]]:
    """Return the rows of facts that nothing replaces or withdraws, oldest first."""
    rows = connection.execute(sa.select(table).order_by(table.c.id)).mappings().all()
    replaced = {row["replaces"] for row in rows}
    return [dict(row) for row in rows if row["id"] not in replaced and not row["withdrawn"]]


def _insert(connection: sa.Connection, table: str, kind: str, code: str, fact: Mapping[str, Any]) -> None:
    names = ("code", "kind", "parent", "number")
    codes = sa.table("codes", *(sa.column(name) for name in names))
    given = {"code": code, "kind": kind, "parent": None, "number": int(code.lstrip("BT"))}
    connection.execute(sa.insert(codes), given)
    kinds: dict[str, sa.types.TypeEngine[Any]] = {
        "start": sa.Date(),
        "end": sa.Date(),
        "recorded_at": sa.DateTime(timezone=True),
        "visit": sa.Boolean(),
        "withdrawn": sa.Boolean(),
    }
    columns = [sa.column(name, kinds.get(name)) for name in ("code", *fact)]
    connection.execute(sa.insert(sa.table(table, *columns)), {"code": code, **fact})


def _columns(columns: str) -> list[tuple[sa.Column[Any], str]]:
    """Return the columns with what each refers to (nothing, mostly)."""
    found = []
    for column in columns.split():
        name, _, kind = column.partition(":")
        kind, _, refers = kind.partition(">")
        found.append((sa.Column(name, _TYPES[kind.rstrip("?")], nullable=kind.endswith("?")), refers))
    return found


def _table(
    table: str,
    columns: str,
    checks: Mapping[str, str],
    unique: tuple[str, ...],
    constraints: tuple[sa.Constraint, ...] = (),
) -> None:
    """Make a table in which every constraint and index has a name."""
    items: list[Any] = []
    for column, refers in _columns(columns):
        items.append(column)
        if refers:
            items.append(
                sa.ForeignKeyConstraint([str(column.name)], [refers], name=f"fk_{table}_{column.name}")
            )
    items.append(sa.PrimaryKeyConstraint("id", name=f"pk_{table}"))
    items.append(sa.UniqueConstraint(*unique, name=f"uq_{table}_{'_'.join(unique)}"))
    items += [sa.CheckConstraint(rule, name=op.f(f"ck_{table}_{name}")) for name, rule in checks.items()]
    op.create_table(table, *items, *constraints)


def _words(table: str, owners: str, word: str) -> None:
    """Make a table of the words in the lists of a row."""
    _table(
        table,
        f"id:whole row_id:whole>{owners}.id field:text {word}",
        {"word_not_empty": "word <> ''"},
        ("row_id", "field", "word"),
    )


def _facts(table: str, columns: str, checks: Mapping[str, str], index: str = "") -> None:
    """Make a table of facts: its own columns in the frame that lets rows be added and never changed."""
    referring = [column.partition(":")[0] for column in columns.split() if ">" in column]
    after = " recorded_at:moment recorded_by:text replaces:whole? correction_reason:text withdrawn:flag"
    reasoned = (
        "(replaces IS NULL AND correction_reason = '' AND NOT withdrawn)"
        " OR (replaces IS NOT NULL AND correction_reason <> '')"
    )
    _table(
        table,
        "id:whole code:text>codes.code " + columns + after,
        {**checks, "replaces_with_reason": reasoned},
        ("code", "id"),
        (
            sa.UniqueConstraint("replaces", name=f"uq_{table}_replaces"),
            sa.ForeignKeyConstraint(
                ["code", "replaces"], [f"{table}.code", f"{table}.id"], name=f"fk_{table}_code_replaces"
            ),
        ),
    )
    for name in [*referring, *([index] if index else [])]:
        op.create_index(f"ix_{table}_{name}", table, [name])
    first = sa.text("replaces IS NULL")
    op.create_index(
        f"uq_{table}_first", table, ["code"], unique=True, sqlite_where=first, postgresql_where=first
    )
