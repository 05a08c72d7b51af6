"""What the files of an export are and mean: an open description that other programs read.

The description follows the Frictionless Data Package and Table Schema (open standards; their property names
from memory, believed source: the specifications at version 1). Cells: an empty cell of a column that may be
unknown is unknown, of any other an empty text; ``true`` and ``false``; ISO 8601 for days and times.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import sqlalchemy as sa

from fecallab.domain.errors import BadInput
from fecallab.records.columns import RULES, UtcDateTime

_UNITS = {
    "_mg_per_kg": "mg/kg",
    "_mg_per_ml": "mg/ml",
    "_ml_per_kg_day": "ml per kg and day",
    "_um_per_px": "µm per pixel",
    "um_per_px": "µm per pixel",
    "_um": "µm",
    "_mm": "mm",
    "_px": "pixels, 0 at the centre of the first",
    "_ml": "ml",
    "_g": "g",
    "_deg": "degrees from +x towards +y",
    "_minutes": "minutes",
    "_days": "days",
    "_seconds": "seconds",
    "_c": "°C",
    "_share": "fraction from 0 to 1",
    "bytes": "bytes",
}

_FRAME = {
    "id": "number of the row; never given twice",
    "code": "public code of the fact; a correction carries the same one",
    "recorded_at": "when it was recorded, UTC",
    "recorded_by": "who recorded it",
    "replaces": "id of the row that this one takes the place of",
    "correction_reason": "why it was corrected or withdrawn",
    "withdrawn": "whether this row takes the fact back",
}


def unit_of(column: str) -> str:
    """Return the unit that the name of a column carries; empty for none.

    Examples
    --------
    >>> unit_of("mass_g"), unit_of("dose_mg_per_kg"), unit_of("remark")
    ('g', 'mg/kg', '')
    """
    return next((unit for ending, unit in _UNITS.items() if column.endswith(ending)), "")


def kind_of(column: sa.Column[Any]) -> str:
    """Return the type of a column by its name in Table Schema."""
    if isinstance(column.type, UtcDateTime | sa.DateTime):
        return "datetime"
    if isinstance(column.type, sa.Date):
        return "date"
    if isinstance(column.type, sa.Boolean):
        return "boolean"
    if isinstance(column.type, sa.Integer):
        return "integer"
    return "number" if isinstance(column.type, sa.Float) else "string"


def describe(table: sa.Table) -> dict[str, Any]:
    """Return the Table Schema of a table."""
    fields = []
    for column in table.c:
        field: dict[str, Any] = {"name": column.name, "type": kind_of(column)}
        unit, meaning, rules = unit_of(column.name), _FRAME.get(column.name, ""), _sentences(table, column)
        said = "; ".join(each for each in (meaning, unit and f"in {unit}", *rules) if each)
        if said:
            field["description"] = said
        if not column.nullable:
            field["constraints"] = {"required": kind_of(column) != "string"}
        fields.append(field)
    keys = [
        {
            "fields": [element.parent.name for element in constraint.elements],
            "reference": {
                "resource": constraint.elements[0].column.table.name,
                "fields": [element.column.name for element in constraint.elements],
            },
        }
        for constraint in table.foreign_key_constraints
    ]
    found: dict[str, Any] = {"fields": fields, "primaryKey": [column.name for column in table.primary_key]}
    if keys:
        found["foreignKeys"] = sorted(keys, key=str)
    return found


def _sentences(table: sa.Table, column: sa.Column[Any]) -> list[str]:
    names = {f"ck_{table.name}_{rule.name}" for rule in RULES.values()}
    return sorted(
        rule.sentence
        for name, rule in RULES.items()
        if name in names and name.startswith(f"ck_{table.name}_") and rule.columns == (column.name,)
    )


def cell_of(value: Any) -> str:
    """Return a value as the text of a cell."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime):
        moment = value if value.tzinfo is None else value.astimezone(UTC)
        return moment.isoformat(timespec="microseconds").replace("+00:00", "Z")
    if isinstance(value, date):
        return value.isoformat()
    return repr(value) if isinstance(value, float) else str(value)


def value_of(cell: str, column: sa.Column[Any], place: str) -> Any:
    """Return the value of a cell; the other way round of `cell_of`.

    Raises
    ------
    BadInput
        When the cell holds no value of that kind.
    """
    kind = kind_of(column)
    if cell == "":
        if column.nullable or kind != "string":
            if not column.nullable:
                raise _strange(cell, column, place)
            return None
        return ""
    try:
        return _READ[kind](cell)
    except (ValueError, KeyError, OverflowError):
        raise _strange(cell, column, place) from None


def _moment(cell: str) -> datetime:
    return datetime.fromisoformat(cell.replace("Z", "+00:00"))


_READ: dict[str, Any] = {
    "string": str,
    "integer": int,
    "number": float,
    "boolean": {"true": True, "false": False}.__getitem__,
    "date": date.fromisoformat,
    "datetime": _moment,
}


def _strange(cell: str, column: sa.Column[Any], place: str) -> BadInput:
    return BadInput(
        f"{place}: {cell[:60]!r} is no {kind_of(column)} for {column.name}.",
        next="Take the file as it was exported.",
        code="export-damaged",
    )
