"""What the panel says, as small pages of text: one mark, the burden, all keys, a summary."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import TYPE_CHECKING

from napari_fecallab.window_keys import KEYS, spoken_key

if TYPE_CHECKING:
    from napari_fecallab.views import BurdenTable, ClassKey, FieldView, MarkView, SizeWords, Summary

NO_MARK = "No mark is chosen. Point at one, or press . for the next."
MOST_LINES = 12


def said(name: str) -> str:
    """Return a name as people write it."""
    return name.replace("_", " ")


def table_of(rows: Iterable[tuple[str, str]]) -> str:
    """Return a small table; a row without a right side is left out."""
    cells = "".join(
        f"<tr><td style='padding-right:10px'>{escape(left)}</td><td>{escape(right)}</td></tr>"
        for left, right in rows
        if right
    )
    return f"<table cellspacing='0' cellpadding='1'>{cells}</table>"


def lines_of(lines: Iterable[str]) -> str:
    """Return lines as paragraphs."""
    return "".join(f"<p style='margin:3px 0 3px 0'>{escape(line)}</p>" for line in lines)


def mark_page(mark: MarkView | None, size: SizeWords | None) -> str:
    """Return the page of one mark: name, size, and what it may be with the reasons.

    Examples
    --------
    >>> NO_MARK in mark_page(None, None)
    True
    """
    if mark is None or size is None:
        return lines_of([NO_MARK])
    doubt = "sure" if mark.sure else "not sure"
    head = f"<p><b>{escape(said(mark.name))}</b>, {doubt}<br>{escape(size.size)}</p>"
    own = lines_of([f"For {said(mark.name)}: {size.own_name}."]) if size.own_name else ""
    lines = size.lines[:MOST_LINES]
    rest = len(size.lines) - len(lines)
    more = lines_of([f"… and {rest} more"]) if rest > 0 else ""
    listed = lines_of(lines)
    title = "<p style='margin-top:8px'><b>By size it may be</b> (no diagnosis)</p>" if lines else ""
    return head + own + title + listed + more


def burden_page(table: BurdenTable) -> str:
    """Return the running burden, one block for each organism and objective, then adequacy in words."""
    blocks = []
    for row in table.rows:
        mean = f"{row.mean_per_field} ({row.interval})" if row.interval else row.mean_per_field
        grade = f"{row.grade} ({row.scale})" if row.grade and row.scale else row.grade
        facts = table_of(
            [
                ("in all", row.total + (f", not sure {row.unsure}" if row.unsure not in ("", "0") else "")),
                ("per field", mean),
                ("per gram", row.per_gram),
                ("grade", grade),
                ("glass read", row.covered_share),
            ]
        )
        where = ", ".join(part for part in (row.preparation, row.objective) if part)
        blocks.append(
            f"<p style='margin:8px 0 2px 0'><b>{escape(said(row.target))}</b> <span>{escape(where)}</span></p>{facts}"
            + lines_of(row.cautions)
        )
    if not blocks:
        blocks.append(lines_of(["Nothing is counted yet."]))
    if table.adequacy:
        blocks.append("<p style='margin:12px 0 2px 0'><b>Could this exam have shown it?</b></p>")
    for one in table.adequacy:
        stage = f", {one.stage}" if one.stage else ""
        missing = f" Still missing: {one.missing}" if one.missing else ""
        blocks.append(
            f"<p style='margin:3px 0'><b>{escape(said(one.target) + stage)}</b>: {escape(one.says)}.{escape(missing)}</p>"
        )
    return "".join(blocks) + lines_of(table.notes)


def field_lines(view: FieldView) -> tuple[str, str, str]:
    """Return what the head of the panel says of a field: place, preparation, state."""
    power = f"{view.objective:g}×" if view.objective else "objective not known"
    kind = view.kind if view.kind != "field" else "field"
    place = f"{kind} {view.number} of {view.of}"
    counts = sum(view.sure.values()), sum(view.unsure.values())
    state = view.state
    if any(counts):
        state += f": {counts[0]} sure" + (f", {counts[1]} not sure" if counts[1] else "")
    if view.recorded and view.changed:
        state += ", changed"
    return place, f"{view.method_words}, {power} · {view.scale_words}", state


def summary_page(summary: Summary) -> str:
    """Return what will be recorded."""
    behind = (
        [
            "1 field that nobody looked at stays as it is."
            if summary.not_looked_at == 1
            else f"{summary.not_looked_at} fields that nobody looked at stay as they are."
        ]
        if summary.not_looked_at
        else []
    )
    return lines_of([*summary.lines, *behind])


def keys_page(class_keys: Sequence[ClassKey]) -> str:
    """Return all keys, part by part."""
    rows = [(f"0 {one.key}" if one.second_row else one.key, one.label) for one in class_keys]
    parts = [
        "<p><b>organisms</b>: the number marks at the pointer; with Shift, or after U, as not sure. "
        "Shift and a click marks the name used last.</p>",
        table_of(rows),
    ]
    for part in dict.fromkeys(one.part for one in KEYS):
        parts.append(f"<p style='margin:10px 0 2px 0'><b>{escape(part)}</b></p>")
        parts.append(
            table_of(
                (" or ".join(dict.fromkeys(map(spoken_key, one.keys))), one.words)
                for one in KEYS
                if one.part == part
            )
        )
    return "".join(parts)
