"""A row of any reference table in plain words: labels, units, bounds joined."""

from __future__ import annotations

import re

UNITS = {
    "um": "µm",
    "g": "g",
    "mg": "mg",
    "ml": "ml",
    "days": "days",
    "hours": "hours",
    "minutes": "minutes",
    "c": "°C",
    "mg_per_kg": "mg per kg",
    "mg_per_ml": "mg per ml",
}
LABELS = {
    "sg": "specific gravity",
    "target_sg": "aim for a specific gravity of",
    "tolerance_sg": "within",
    "eye_group": "group that the eye can tell",
    "group": "group",
    "motility_words": "how it moves",
    "finds_groups": "finds, by group",
    "finds_words": "finds",
    "cannot_find_groups": "cannot find, by group",
    "cannot_find_words": "cannot find",
    "host_words": "in which animals",
    "range_kind": "kind of size range",
    "read_after_min": "read after (minutes)",
    "read_before_min": "read before (minutes)",
    "fields_min": "fields at least",
    "minutes_min": "minutes at least",
    "share_min": "share of the glass at least",
    "share_advised": "share of the glass advised",
    "min_sample_g": "least stool (g)",
    "usual_sample_g": "usual stool (g)",
    "ci95": "95 % interval",
    "n": "number examined",
    "warm_end_c": "warm end (°C)",
    "not_clearable_by_stool": "clean stools can never confirm that it is gone",
    "not_clearable_source_kind": "kind of that claim",
    "not_clearable_note": "because",
    "normal_inhabitant_source_kind": "kind of that claim",
    "normal_inhabitant_note": "about that",
    "keeper_can_name": "a keeper can name it",
    "keeper_can_name_note": "because",
    "source_kind": "kind of the figures",
    "source_kind_other": "kind of the rest",
    "source_parts": "which part is which",
    "source_detail": "which part is which",
    "fields_from_memory_or_practice": "not read, from memory or custom",
}
FOR_MACHINES = ("stages", "host_groups", "method_keys", "solution_keys", "exam_methods", "default")
"""Columns that repeat in closed words what another column says to people."""

SILENT = {"not_clearable_by_stool": "no", "keeper_can_name": "yes"}
"""Answers that go without saying."""

_BOUNDS = (("_min", "_max"), ("_low", "_high"))
_NO_RANGE = ("read_after_min", "read_before_min", "fields_min", "minutes_min", "share_min", "min_sample_g")


def label(column: str, *, with_unit: bool = False) -> str:
    """Return a column's name in plain words, with its unit in brackets when asked for.

    Examples
    --------
    >>> label("spacing_days", with_unit=True), label("length_um"), label("destroyed_or_missed_by")
    ('spacing (days)', 'length', 'destroyed or missed by')
    """
    if column in LABELS:
        return LABELS[column]
    ending = _unit_ending(column)
    stem = column.removesuffix(f"_{ending}") if ending else column
    unit = f" ({UNITS[ending]})" if ending and with_unit else ""
    return stem.replace("_", " ") + unit


def cell(row: dict[str, str], column: str) -> str:
    """Return one cell in plain words; a column named without its ``_min`` and ``_max`` gives both bounds.

    Examples
    --------
    >>> cell({"length_um_min": "65.4", "length_um_max": "79.2"}, "length_um")
    '65.4 to 79.2 µm'
    """
    if column in row:
        return _spaced(row[column])
    if column == "bounds" and "lower_rule" in row:
        return _bounds_of_a_step(row)
    for low, high in _bound_columns(row):
        if _stem(low) == column:
            return _range_words(row[low], row[high], _unit(column))
    return ""


def in_plain_words(row: dict[str, str]) -> tuple[tuple[str, str], ...]:
    """Return a row as label and text, in column order.

    Empty cells, source ids and columns for machines are left out; a pair of bounds becomes one line.

    Parameters
    ----------
    row : dict
        A row of a reference table.

    Returns
    -------
    tuple of (str, str)
        Label and text.

    Examples
    --------
    >>> in_plain_words({"range_low_c": "25", "range_high_c": "32", "source": "R111", "note": ""})
    (('range', '25 to 32 °C'),)
    """
    highs = {high: low for low, high in _bound_columns(row)}
    lows = {low: high for high, low in highs.items()}
    graded = "lower_rule" in row
    lines = []
    for column, text in row.items():
        if column in highs or column in FOR_MACHINES or column.endswith("source"):
            continue
        if graded and column in ("upper", "lower_rule", "upper_rule", "unit"):
            continue
        if not text and column not in lows:
            continue
        if SILENT.get(column) == text:
            continue
        if graded and column == "lower":
            lines.append(("bounds", _bounds_of_a_step(row)))
        elif column in lows:
            said = _range_words(text, row[lows[column]], _unit(_stem(column)))
            lines += [(label(_stem(column)), said)] if said else []
        else:
            unit = _unit(column) if column not in LABELS else ""
            lines.append((label(column), f"{_spaced(text)} {unit}".strip()))
    return tuple(lines)


def _spaced(text: str) -> str:
    return re.sub(r";(?=[^\W\d])", "; ", text)


def _unit_ending(column: str) -> str:
    found = [unit for unit in UNITS if column.endswith(f"_{unit}")]
    return max(found, key=len) if found else ""


def _unit(column: str) -> str:
    ending = _unit_ending(column)
    return UNITS[ending] if ending else ""


def _bound_columns(row: dict[str, str]) -> tuple[tuple[str, str], ...]:
    pairs = []
    for column in row:
        for low, high in _BOUNDS:
            other = column.replace(low, high)
            if low in column and other in row and column not in _NO_RANGE:
                pairs.append((column, other))
                break
    return tuple(pairs)


def _stem(column: str) -> str:
    for low, _ in _BOUNDS:
        column = column.replace(low, "")
    return column


def _range_words(low: str, high: str, unit: str) -> str:
    if low and high:
        text = low if low == high else f"{low} to {high}"
    elif low:
        text = f"from {low}"
    elif high:
        text = f"up to {high}"
    else:
        return ""
    return f"{text} {unit}".strip()


def _bounds_of_a_step(row: dict[str, str]) -> str:
    from fecallab.domain.grading import UNIT_WORDS

    unit = UNIT_WORDS[row["unit"]]
    if row["lower"] == row["upper"]:
        return f"{row['lower']} {unit}"
    upper = f", {row['upper_rule']} {row['upper']}" if row["upper"] else ""
    return f"{row['lower_rule']} {row['lower']}{upper} {unit}"
