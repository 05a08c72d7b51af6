"""``fecallab reference``: the tables behind every rule, each row with its source."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any

import typer

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None)

BEFORE_ALL = "Your vet's word and your local law go before every figure here."
AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON object and nothing else.")]


@app.command("list")
def list_tables(as_json: AsJson = False) -> None:
    """List the reference tables, how many rows each has, and their edition."""
    from fecallab.cli.output import emit
    from fecallab.reference.catalogue import tables
    from fecallab.reference.tables import EDITION

    found = tables()
    payload: dict[str, Any] = {
        "edition": EDITION,
        "tables": [{"name": item.name, "about": item.about, "rows": item.rows} for item in found],
    }
    lines = [
        f"Reference tables, edition {EDITION}",
        "",
        *_aligned(["table", "rows", "what it holds"], [[t.name, str(t.rows), t.about] for t in found]),
        "",
        "One table: fecallab reference show organisms",
        BEFORE_ALL,
    ]
    emit(payload, "\n".join(lines), as_json)


@app.command("show")
def show(
    table: Annotated[str, typer.Argument(help="Name of the table, as `list` prints it.")],
    key: Annotated[
        str | None,
        typer.Option("--key", help="One row by its key; or all rows of a group, target, scale or host."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show a table as a short list, or one row in plain words with its sources spelled out."""
    from fecallab.cli.output import emit
    from fecallab.reference import catalogue
    from fecallab.reference.tables import EDITION, read_rows

    found = catalogue.table(table)
    rows = read_rows(found.name) if key is None else catalogue.rows_named(found.name, key)
    sources = catalogue.sources_of(rows)
    payload: dict[str, Any] = {
        "table": found.name,
        "edition": EDITION,
        "rows": catalogue.typed(rows),
        "sources": {
            item.id: {
                "kind": item.kind,
                "citation": item.citation,
                "address": item.address,
                "what_was_read": item.what_was_read,
            }
            for item in sources.values()
        },
    }
    text = _short_list(found.name, rows) if key is None else _records(found.key_column, rows)
    emit(payload, text, as_json)


def _short_list(name: str, rows: Sequence[dict[str, str]]) -> str:
    from fecallab.reference import catalogue

    columns = catalogue.summary_columns(name)
    kind = ["kind"] if "source_kind" in rows[0] else []
    head = [*map(catalogue.label, columns), *kind]
    body = [
        [*(catalogue.cell(row, column) for column in columns), *(row[f"source_{k}"] for k in kind)]
        for row in rows
    ]
    about = catalogue.table(name).about
    return "\n".join(
        [
            f"{name}: {about}" if about else name,
            "",
            *_aligned(head, body),
            "",
            f"All of a row, with its sources: fecallab reference show {name} --key {rows[0][columns[0]]}",
            BEFORE_ALL,
        ]
    )


def _records(key_column: str, rows: Sequence[dict[str, str]]) -> str:
    import textwrap

    from fecallab.reference import catalogue

    width = _page_width()
    lines: list[str] = []
    for row in rows:
        lines.append(row[key_column])
        for label, text in catalogue.in_plain_words(row):
            if text != row[key_column]:
                lines += textwrap.wrap(
                    f"{label}: {text}", width, initial_indent="  ", subsequent_indent="      "
                )
        ids = ", ".join(catalogue.sources_of([row]))
        lines += [f"  sources: {ids}"] if ids else []
        lines.append("")
    lines.append("Sources")
    for source in catalogue.sources_of(rows).values():
        read = "" if source.what_was_read in ("-", "memory") else f" Read: {source.what_was_read}."
        address = "" if source.address.startswith(("-", "(")) else f" {source.address}"
        said = f"{source.id} ({source.kind}): {source.citation}.{address}{read}".replace("..", ".")
        lines += textwrap.wrap(
            said, width, initial_indent="  ", subsequent_indent="      ", break_long_words=False
        )
    lines += [f"  {said}" for said in catalogue.free_sources_of(rows)]
    return "\n".join([*lines, "", BEFORE_ALL])


def _page_width() -> int:
    import shutil

    return max(60, min(shutil.get_terminal_size((110, 24)).columns, 120))


def _aligned(head: Sequence[str], body: Sequence[Sequence[str]]) -> list[str]:
    """Lay cells out in columns; long cells wrap, nothing is cut off."""
    import textwrap

    room = _page_width() - 2 * (len(head) - 1)
    widest = [max(len(cell) for cell in column) for column in zip(head, *body, strict=True)]
    widths = _fitted(widest, room)
    lines: list[str] = []
    for row in (head, *body):
        cells = [
            textwrap.wrap(cell, width, break_on_hyphens=False) or [""]
            for cell, width in zip(row, widths, strict=True)
        ]
        for index in range(max(map(len, cells))):
            pieces = [
                (cell[index] if index < len(cell) else "").ljust(width)
                for cell, width in zip(cells, widths, strict=True)
            ]
            lines.append("  ".join(pieces).rstrip())
    lines.insert(1, "  ".join("-" * width for width in widths))
    return lines


def _fitted(widest: Sequence[int], room: int) -> list[int]:
    """Share the room: narrow columns keep their width, the wide ones split what is left."""
    widths = list(widest)
    while sum(widths) > room:
        largest = max(widths)
        if largest <= 8:
            break
        second = max((width for width in widths if width < largest), default=8)
        at = [index for index, width in enumerate(widths) if width == largest]
        cut = min(largest - second, -(-(sum(widths) - room) // len(at)))
        for index in at:
            widths[index] = max(8, largest - max(1, cut))
    return widths
