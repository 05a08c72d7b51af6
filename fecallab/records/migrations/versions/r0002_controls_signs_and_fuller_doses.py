"""Control runs, danger signs, measurements, reactions, other drugs; fuller plans and doses; "as told".

Frozen: it says what was made then, and does not follow the tables of today. Columns are written as in the
first schema: ``name:type``, with ``?`` where unknown is allowed and ``>table.column`` where the value must
exist. A new column of an old table that may not be unknown says nothing (or no) in the rows that were there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_TYPES: dict[str, sa.types.TypeEngine[Any]] = {
    "text": sa.Text(),
    "whole": sa.Integer(),
    "number": sa.Double(),
    "flag": sa.Boolean(),
    "day": sa.Date(),
    "clock": sa.DateTime(),
    "moment": sa.DateTime(timezone=True),
}
_SAYS_NOTHING: dict[str, Any] = {"text": "", "flag": sa.false()}


def upgrade() -> None:
    """Add columns to the old tables, and make the new ones."""
    _more("weighings", "as_told:flag")
    _more("samples", "as_told:flag")
    _more("exams", "as_told:flag stated_adequate:flag?")
    _more(
        "plans",
        "repeats_allowed:whole? fluids_ml_per_kg_day:number? fluid_product:text night_at_least_c:number? "
        "diluent:text diluent_by:text volume_written_ml:text specialist_word:text bottle_ml:number? "
        "tube_french:number? tube_inner_diameter_mm:number? tube_length_mm:number? tube_way:text? "
        "label_picture:text?>pictures.sha256 as_told:flag",
        {
            "repeats_allowed_not_negative": "repeats_allowed >= 0",
            "fluids_ml_per_kg_day_not_negative": "fluids_ml_per_kg_day >= 0",
            "bottle_ml_positive": "bottle_ml > 0",
            "tube_french_positive": "tube_french > 0",
            "tube_inner_diameter_mm_positive": "tube_inner_diameter_mm > 0",
            "tube_length_mm_positive": "tube_length_mm > 0",
            "tube_way_known": "tube_way IN ('flush', 'overfill')",
        },
    )
    _more(
        "doses_given",
        "second_person:text syringe_ml:number? dilution_factor:number? diluted_mg_per_ml:text "
        "delivered_mg_per_kg:text flush_ml:number? as_told:flag",
        {
            "syringe_ml_positive": "syringe_ml > 0",
            "dilution_factor_positive": "dilution_factor > 0",
            "flush_ml_not_negative": "flush_ml >= 0",
        },
    )
    _facts(
        "control_runs",
        "kind:text done_at:clock method:text solution:text bottle:text objective:number? expected:text "
        "found:text expected_value:number? value:number? passed:flag judged:text by:text remark:text",
        {
            "kind_known": "kind IN ('known positive', 'blank', 'gravity', 'slide read blind', "
            "'microscope scale', 'outside check')",
            "objective_positive": "objective > 0",
            "expected_value_not_negative": "expected_value >= 0",
            "value_not_negative": "value >= 0",
        },
    )
    _facts(
        "measurements",
        "animal:text>codes.code kind:text value_mm:number measured_at:clock by:text remark:text",
        {
            "animal_kind": "substr(animal, 1, 1) = 'A'",
            "kind_known": "kind IN ('snout-vent length', 'total length', 'plastron length', "
            "'carapace length', 'snout to stomach', 'other length')",
            "value_mm_positive": "value_mm > 0",
        },
    )
    _facts(
        "sign_answers",
        "animal:text>codes.code sign:text answer:text seen_at:clock sample:text?>codes.code by:text "
        "remark:text",
        {
            "animal_kind": "substr(animal, 1, 1) = 'A'",
            "sign_not_empty": "sign <> ''",
            "answer_known": "answer IN ('yes', 'no', 'vet knows')",
            "sample_kind": "substr(sample, 1, 1) = 'S'",
        },
    )
    _facts(
        "dose_reactions",
        "dose:text>codes.code at:clock sign:text text:text by:text",
        {
            "dose_kind": "substr(dose, 1, 1) = 'D'",
            "sign_not_empty": "sign <> ''",
        },
    )
    _facts(
        "other_drugs",
        "animal:text>codes.code drug:text mg_per_kg:text given_on:day doses:whole by:text as_told:flag "
        "remark:text",
        {
            "animal_kind": "substr(animal, 1, 1) = 'A'",
            "drug_not_empty": "drug <> ''",
            "doses_at_least_one": "doses >= 1",
        },
    )
    for table, owner, owners in (
        ("plan_confirmations", "plan_id", "plans"),
        ("dose_overrides", "dose_id", "doses_given"),
    ):
        _table(
            table,
            f"id:whole {owner}:whole>{owners}.id rule:text by:text at:clock why:text",
            {"rule_not_empty": "rule <> ''", "by_not_empty": "by <> ''"},
            unique=(owner, "rule"),
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
        for column, refers in _columns(columns):
            if not column.nullable:
                kind = next(name for name, each in _TYPES.items() if each is column.type)
                column = sa.Column(
                    column.name, column.type, nullable=False, server_default=_SAYS_NOTHING[kind]
                )
            batch.add_column(column)
            if refers:
                other, _, key = refers.partition(".")
                batch.create_foreign_key(f"fk_{table}_{column.name}", other, [str(column.name)], [key])
        for name, rule in (checks or {}).items():
            batch.create_check_constraint(op.f(f"ck_{table}_{name}"), sa.text(rule))
    for column, refers in _columns(columns):
        if refers:
            op.create_index(f"ix_{table}_{column.name}", table, [str(column.name)])


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


def _facts(table: str, columns: str, checks: Mapping[str, str]) -> None:
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
        indexes=referring,
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
