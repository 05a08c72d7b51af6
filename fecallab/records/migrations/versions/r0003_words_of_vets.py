"""Pages that went to a vet, answers and their words; proposals and swimming in readings.

Frozen: it says what was made then, and does not follow the tables of today. Columns are written as in the
schemas before: ``name:type``, with ``?`` where unknown is allowed and ``>table.column`` where the value must
exist. A new column of an old table that may not be unknown says nothing in the rows that were there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_TYPES: dict[str, sa.types.TypeEngine[Any]] = {
    "text": sa.Text(),
    "whole": sa.Integer(),
    "number": sa.Double(),
    "flag": sa.Boolean(),
    "clock": sa.DateTime(),
    "moment": sa.DateTime(timezone=True),
}
_ANSWER = {"answer_kind": "substr(answer, 1, 1) = 'Y'"}
_ANSWER_ON_EXAM = {**_ANSWER, "exam_kind": "substr(exam, 1, 1) = 'E'"}
_ANSWER_ON_READING = {**_ANSWER_ON_EXAM, "reading_kind": "substr(reading, 1, 1) = 'E'"}
_HASHES = {
    "says_sha256_length": "length(says_sha256) = 64 OR says_sha256 = ''",
    "raw_sha256_length": "length(raw_sha256) = 64 OR raw_sha256 = ''",
}


def upgrade() -> None:
    """Add columns to the readings, and make the new tables."""
    _more(
        "readings",
        "proposals:text mean_swimming:number? mean_swimming_low:number? mean_swimming_high:number? "
        "clip_seconds:number?",
        {
            "proposals_known": "proposals IN ('', 'off', 'after reading', 'before reading')",
            "mean_swimming_not_negative": "mean_swimming >= 0",
            "mean_swimming_low_not_negative": "mean_swimming_low >= 0",
            "mean_swimming_high_not_negative": "mean_swimming_high >= 0",
            "clip_seconds_positive": "clip_seconds > 0",
        },
    )
    _facts(
        "vet_pages",
        "subject:text exams:text page_id:text page_sha256:text made_at:clock question:text remark:text",
        {
            "subject_not_empty": "subject <> ''",
            "page_id_not_empty": "page_id <> ''",
            "page_sha256_length": "length(page_sha256) = 64",
        },
        indexes=["page_id"],
    )
    _table(
        "vet_page_items",
        "id:whole page:text>codes.code number:whole item:text name:text sure:flag count:whole",
        {
            "item_not_empty": "item <> ''",
            "name_not_empty": "name <> ''",
            "number_at_least_one": "number >= 1",
            "count_at_least_one": "count >= 1",
        },
        unique=("page", "number"),
    )
    _facts(
        "vet_answers",
        "page:text?>codes.code vet:text practice:text answered_at:clock source:text message:text "
        "says_sha256:text raw_sha256:text signed:text signing_key:text words:text remark:text",
        {
            "page_kind": "substr(page, 1, 1) = 'Z'",
            "vet_not_empty": "vet <> ''",
            "source_known": "source IN ('page', 'typed')",
            "signed_known": "signed IN ('unsigned', 'signed, key known here', 'signed, key not known here')",
            **_HASHES,
        },
    )
    _facts(
        "mark_verdicts",
        "answer:text>codes.code exam:text>codes.code reading:text>codes.code item:text word:text name:text "
        "sure:flag eye_group:text seen_name:text seen_sure:flag count:whole remark:text",
        {
            **_ANSWER_ON_READING,
            "item_not_empty": "item <> ''",
            "word_known": "word IN ('agree', 'agree with the rest', 'other', 'artefact', 'cannot tell')",
            "name_not_empty": "name <> ''",
            "count_at_least_one": "count >= 1",
        },
    )
    _facts(
        "missed_organisms",
        "answer:text>codes.code exam:text>codes.code reading:text>codes.code x_px:number? y_px:number? "
        "name:text sure:flag eye_group:text count:whole remark:text",
        {
            **_ANSWER_ON_READING,
            "name_not_empty": "name <> ''",
            "count_at_least_one": "count >= 1",
        },
    )
    _facts(
        "exam_verdicts",
        "answer:text>codes.code exam:text>codes.code target:text grade:text adequacy:text "
        "picture_quality:text remark:text",
        {
            **_ANSWER_ON_EXAM,
            "adequacy_known": "adequacy IN ('', 'agree', 'not adequate', 'accept')",
            "picture_quality_known": "picture_quality IN ('', 'good', 'usable', 'too poor')",
        },
    )
    _facts(
        "case_words",
        "answer:text>codes.code case:text>codes.code advice:text plan_kind:text same_as:text?>codes.code "
        "plan_says:text follow_up_says:text taken_as:text?>codes.code declined:text remark:text",
        {
            **_ANSWER,
            "case_kind": "substr(\"case\", 1, 1) = 'C'",
            "plan_kind_known": "plan_kind IN ('', 'same', 'new')",
            "same_as_kind": "substr(same_as, 1, 1) = 'P'",
            "taken_as_kind": "substr(taken_as, 1, 1) = 'P'",
        },
    )
    _facts(
        "trusted_keys",
        "public_key:text name:text remark:text",
        {
            "public_key_not_empty": "public_key <> ''",
            "name_not_empty": "name <> ''",
        },
    )


def _columns(columns: str) -> list[tuple[sa.Column[Any], str]]:
    """Return the columns with what each refers to (nothing, mostly)."""
    found = []
    for column in columns.split():
        name, _, kind = column.partition(":")
        kind, _, refers = kind.partition(">")
        found.append((sa.Column(name, _TYPES[kind.rstrip("?")], nullable=kind.endswith("?")), refers))
    return found


def _more(table: str, columns: str, checks: Mapping[str, str] | None = None) -> None:
    """Add columns behind those of an old table, with their rules."""
    with op.batch_alter_table(table) as batch:
        for column, _ in _columns(columns):
            if not column.nullable:
                column = sa.Column(column.name, column.type, nullable=False, server_default="")
            batch.add_column(column)
        for name, rule in (checks or {}).items():
            batch.create_check_constraint(op.f(f"ck_{table}_{name}"), sa.text(rule))


def _table(
    table: str,
    columns: str,
    checks: Mapping[str, str],
    unique: Sequence[str] = (),
    indexes: Sequence[str] = (),
    constraints: Sequence[sa.Constraint] = (),
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
    if unique:
        items.append(sa.UniqueConstraint(*unique, name=f"uq_{table}_{'_'.join(unique)}"))
    items += [sa.CheckConstraint(rule, name=op.f(f"ck_{table}_{name}")) for name, rule in checks.items()]
    op.create_table(table, *items, *constraints)
    for name in indexes:
        op.create_index(f"ix_{table}_{name}", table, [name])


def _facts(table: str, columns: str, checks: Mapping[str, str], indexes: Sequence[str] = ()) -> None:
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
        unique=("code", "id"),
        indexes=[*referring, *indexes],
        constraints=[
            sa.UniqueConstraint("replaces", name=f"uq_{table}_replaces"),
            sa.ForeignKeyConstraint(
                ["code", "replaces"], [f"{table}.code", f"{table}.id"], name=f"fk_{table}_code_replaces"
            ),
        ],
    )
    first = sa.text("replaces IS NULL")
    op.create_index(
        f"uq_{table}_first", table, ["code"], unique=True, sqlite_where=first, postgresql_where=first
    )
