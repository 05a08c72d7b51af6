"""Every table of the records as a pandas DataFrame, for people who calculate for themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from fecallab.domain.errors import BadInput
from fecallab.records import rows, schema
from fecallab.records.columns import UtcDateTime
from fecallab.records.trees import current

if TYPE_CHECKING:
    import pandas as pd


def table_names() -> list[str]:
    """Return the names of all tables that `table_as_frame` gives, in alphabetical order."""
    return sorted(table.name for table in schema.metadata.sorted_tables)


def table_as_frame(connection: Connection, name: str, *, every_row: bool = False) -> pd.DataFrame:
    """Return one table as a DataFrame with the types that its columns have.

    Parameters
    ----------
    name : str
        Name of a table, such as ``readings``; `table_names` lists them.
    every_row : bool
        Also the rows that were replaced or withdrawn; without it only what stands today.

    Returns
    -------
    DataFrame
        One column for each of the table, in their order. Texts are ``string``, whole numbers ``Int64``,
        measured numbers ``float64``, yes and no ``boolean``, days and times ``datetime64``; moments of
        recording carry UTC, all other times are on the keeper's clock.

    Raises
    ------
    BadInput
        When there is no such table; the nearest names are given.
    """
    import pandas as pd

    table = schema.metadata.tables.get(name)
    if table is None:
        from fecallab.domain.near_spelling import near_spellings

        near = near_spellings(name, table_names()) or table_names()
        raise BadInput(
            f"There is no table {name!r} in the records.",
            next=f"Ask for one of: {', '.join(near)}",
            code="unknown-table",
        )
    query = _standing(table) if not every_row else sa.select(table)
    found = connection.execute(query.order_by(*table.primary_key)).all()
    columns = list(table.c)
    data: dict[str, Any] = {}
    for index, column in enumerate(columns):
        values = [row[index] for row in found]
        if isinstance(column.type, sa.Date | sa.DateTime | UtcDateTime):
            data[column.name] = pd.to_datetime(pd.Series(values, dtype="object"), utc=_utc(column))
        else:
            data[column.name] = pd.Series(values, dtype=_dtype(column))
    return pd.DataFrame(data, columns=[column.name for column in columns])


def _standing(table: sa.Table) -> sa.Select[Any]:
    """Return the query for the rows that stand; a part stands when the row that it belongs to does."""
    kinds = {kind.table.name: kind for kind in rows.KINDS}
    if table.name in kinds:
        return current(kinds[table.name])
    for key in table.foreign_keys:
        owner = key.column.table
        if key.column.name == "id" and owner.name in kinds:
            ids = current(kinds[owner.name]).with_only_columns(owner.c.id)
            return sa.select(table).where(key.parent.in_(ids))
    return sa.select(table)


def _dtype(column: sa.Column[Any]) -> Any:
    if isinstance(column.type, sa.Boolean):
        return "boolean"
    if isinstance(column.type, sa.Integer):
        return "Int64"
    return "float64" if isinstance(column.type, sa.Float) else "string"


def _utc(column: sa.Column[Any]) -> bool:
    return isinstance(column.type, UtcDateTime)
