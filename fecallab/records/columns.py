"""Building blocks of the schema: column types, rules with a sentence, the frame of a fact table."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator, TypeEngine

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}
"""Every constraint and index gets a name, so that a later migration can address it on any database."""

metadata = sa.MetaData(naming_convention=NAMING)


class UtcDateTime(TypeDecorator[datetime]):
    """A moment in UTC; comes back with its zone on every database."""

    impl = sa.DateTime
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[datetime]:
        """Use a column with a zone where the database has one."""
        return dialect.type_descriptor(sa.DateTime(timezone=dialect.name == "postgresql"))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn a moment with a zone into UTC."""
        if value is None:
            return None
        moment = value.astimezone(UTC)
        return moment if dialect.name == "postgresql" else moment.replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give a moment back in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


@dataclass(frozen=True)
class Rule:
    """One check constraint, said three times: for the database, for the person, and for Python.

    ``holds`` gets the values of ``columns`` in order; it says so before the database has to.
    """

    name: str
    columns: tuple[str, ...]
    condition: str
    sentence: str
    holds: Callable[..., bool]


RULES: dict[str, Rule] = {}
"""Rules by the full name of their constraint, ``ck_weighings_mass_g_positive``."""

_RULES_OF_TABLE: dict[str, list[Rule]] = {}


def _comparison(name: str, column: str, condition: str, sentence: str, test: Callable[[Any], bool]) -> Rule:
    return Rule(name, (column,), condition, sentence, lambda value: value is None or test(value))


def positive(column: str) -> Rule:
    """Return the rule that a value is above 0."""
    return _comparison(
        f"{column}_positive", column, f"{column} > 0", "it must be above 0", lambda value: value > 0
    )


def not_negative(column: str) -> Rule:
    """Return the rule that a value is 0 or more."""
    name = f"{column}_not_negative"
    return _comparison(name, column, f"{column} >= 0", "it must be 0 or more", lambda value: value >= 0)


def at_least_one(column: str) -> Rule:
    """Return the rule that a number of things is 1 or more."""
    name = f"{column}_at_least_one"
    return _comparison(name, column, f"{column} >= 1", "it must be 1 or more", lambda value: value >= 1)


def share(column: str) -> Rule:
    """Return the rule that a value is a fraction from 0 to 1."""
    condition = f"{column} >= 0 AND {column} <= 1"
    said = "it is a share from 0 to 1"
    return _comparison(f"{column}_share", column, condition, said, lambda value: 0 <= value <= 1)


def half_turn(column: str) -> Rule:
    """Return the rule that an angle of a long axis is from 0 up to, not including, 180 degrees."""
    condition = f"{column} >= 0 AND {column} < 180"
    said = "it must be from 0 to under 180 degrees"
    return _comparison(f"{column}_half_turn", column, condition, said, lambda value: 0 <= value < 180)


def one_of(column: str, words: Sequence[str]) -> Rule:
    """Return the rule that a value is one of a closed list of words."""
    listed = ", ".join("'" + word.replace("'", "''") + "'" for word in words)
    said = f"it must be one of: {', '.join(words)}"
    return _comparison(
        f"{column}_known", column, f"{column} IN ({listed})", said, lambda value: value in words
    )


def not_empty(column: str) -> Rule:
    """Return the rule that something is said."""
    name = f"{column}_not_empty"
    return _comparison(name, column, f"{column} <> ''", "it must not be empty", lambda value: value != "")


def ordered(earlier: str, later: str) -> Rule:
    """Return the rule that one time is not before another; unknown times pass."""
    return Rule(
        f"{earlier}_{later}_ordered",
        (earlier, later),
        f"{quoted(later)} >= {quoted(earlier)}",
        f"{later.replace('_', ' ')} must not be before {earlier.replace('_', ' ')}",
        lambda first, second: first is None or second is None or second >= first,
    )


def code_of(column: str, prefix: str) -> Rule:
    """Return the rule that a code is one of its kind: it begins with the letters of the kind."""
    condition = f"substr({quoted(column)}, 1, {len(prefix)}) = '{prefix}'"
    said = f"its code must begin with {prefix}"
    return _comparison(
        f"{column}_kind", column, condition, said, lambda value: value[: len(prefix)] == prefix
    )


def quoted(column: str) -> str:
    """Return a column name as SQL, quoted where it is a word of SQL itself."""
    return f'"{column}"' if column in ("case", "end") else column


def _check(table: str, rule: Rule) -> sa.CheckConstraint:
    RULES[f"ck_{table}_{rule.name}"] = rule
    _RULES_OF_TABLE.setdefault(table, []).append(rule)
    return sa.CheckConstraint(rule.condition, name=rule.name)


def text(name: str) -> sa.Column[str]:
    """Return a text column; nothing said is an empty text, never NULL."""
    return sa.Column(name, sa.Text, nullable=False)


def text_later(name: str) -> sa.Column[str]:
    """Return a text column of a later schema: rows that were there before say nothing in it."""
    return sa.Column(name, sa.Text, nullable=False, server_default="")


def flag_later(name: str) -> sa.Column[bool]:
    """Return a yes/no column of a later schema: no for the rows that were there before."""
    return sa.Column(name, sa.Boolean, nullable=False, server_default=sa.false())


def word(name: str) -> sa.Column[str]:
    """Return a column for a word of a closed list, NULL when unknown."""
    return sa.Column(name, sa.Text, nullable=True)


def number(name: str, *, needed: bool = False) -> sa.Column[float]:
    """Return a column for a measured number, NULL when unknown unless `needed`."""
    return sa.Column(name, sa.Double, nullable=not needed)


def whole(name: str, *, needed: bool = False) -> sa.Column[int]:
    """Return a column for a whole number."""
    return sa.Column(name, sa.Integer, nullable=not needed)


def flag(name: str, *, needed: bool = True) -> sa.Column[bool]:
    """Return a yes/no column, NULL for unknown unless `needed`."""
    return sa.Column(name, sa.Boolean, nullable=not needed)


def day(name: str, *, needed: bool = True) -> sa.Column[Any]:
    """Return a column for a day."""
    return sa.Column(name, sa.Date, nullable=not needed)


def clock(name: str, *, needed: bool = True) -> sa.Column[datetime]:
    """Return a column for a time on the keeper's clock, without a zone."""
    return sa.Column(name, sa.DateTime, nullable=not needed)


def refers_to_code(name: str, *, needed: bool = True) -> sa.Column[str]:
    """Return a column that holds the code of another fact; an empty one is stored as NULL."""
    return sa.Column(name, sa.Text, sa.ForeignKey("codes.code"), nullable=not needed)


def refers_to_picture(name: str = "picture") -> sa.Column[str]:
    """Return a column that holds the hash of a stored picture; an empty one is stored as NULL."""
    return sa.Column(name, sa.Text, sa.ForeignKey("pictures.sha256"), nullable=True)


def fact_table(
    name: str,
    *columns: sa.Column[Any],
    rules: Sequence[Rule] = (),
    later: Sequence[sa.Column[Any]] = (),
) -> sa.Table:
    """Return a table of facts that are only ever added to.

    Every row has an id, the public code, who recorded it when, and for a correction the row that it replaces
    with the reason. A row that no other row replaces, and that does not withdraw the fact, is current.
    Columns that a migration added stand `later`, behind that frame, as the database has them.
    """
    written = Rule(
        "replaces_with_reason",
        ("replaces", "correction_reason", "withdrawn"),
        "(replaces IS NULL AND correction_reason = '' AND NOT withdrawn)"
        " OR (replaces IS NOT NULL AND correction_reason <> '')",
        "a correction needs a reason",
        lambda replaces, reason, withdrawn: (
            (replaces is not None) == (reason != "") and not (replaces is None and withdrawn)
        ),
    )
    first = sa.text("replaces IS NULL")
    table = sa.Table(
        name,
        metadata,
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("code", sa.Text, sa.ForeignKey("codes.code"), nullable=False),
        *columns,
        sa.Column("recorded_at", UtcDateTime, nullable=False),
        sa.Column("recorded_by", sa.Text, nullable=False),
        sa.Column("replaces", sa.Integer, nullable=True),
        sa.Column("correction_reason", sa.Text, nullable=False),
        sa.Column("withdrawn", sa.Boolean, nullable=False),
        *later,
        sa.UniqueConstraint("code", "id"),
        sa.UniqueConstraint("replaces"),
        sa.ForeignKeyConstraint(["code", "replaces"], [f"{name}.code", f"{name}.id"]),
        *(_check(name, rule) for rule in (*rules, written)),
    )
    sa.Index(f"uq_{name}_first", table.c.code, unique=True, sqlite_where=first, postgresql_where=first)
    for column in (*columns, *later):
        if column.foreign_keys:
            sa.Index(None, column)
    return table


def part_table(name: str, *items: sa.Column[Any] | sa.Constraint, rules: Sequence[Rule] = ()) -> sa.Table:
    """Return a table of the parts of one row, or a plain table, with named rules."""
    return sa.Table(name, metadata, *items, *(_check(name, rule) for rule in rules))


def rule_of(message: str) -> Rule | None:
    """Return the rule that a database named in its message, or None."""
    found = [name for name in RULES if name in message]
    return RULES[max(found, key=len)] if found else None


def broken_rule(table: str, row: Mapping[str, Any]) -> Rule | None:
    """Return the first rule of `table` that a row breaks, or None; the same rules stand in the database.

    A rule about columns that are not in the row is left to the database.
    """
    for rule in _RULES_OF_TABLE.get(table, ()):
        here = all(column in row for column in rule.columns)
        if here and not rule.holds(*(row[column] for column in rule.columns)):
            return rule
    return None
