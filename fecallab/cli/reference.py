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
    from fecallab.reference import catalogue, words

    columns = catalogue.summary_columns(name)
    with_kind = (*columns, "source_kind") if "source_kind" in rows[0] else columns
    head = [words.label(column, with_unit=column in rows[0]) for column in columns]
    body = [[words.cell(row, column) for column in with_kind] for row in rows]
    about = catalogue.table(name).about
    return "\n".join(
        [
            f"{name}: {about}" if about else name,
            "",
            *_aligned([*head, *["kind"] * (len(with_kind) - len(columns))], body),
            "",
            f"All of a row, with its sources: fecallab reference show {name} --key {rows[0][columns[0]]}",
            BEFORE_ALL,
        ]
    )


def _records(key_column: str, rows: Sequence[dict[str, str]]) -> str:
    from fecallab.reference import catalogue, words

    lines: list[str] = []
    for row in rows:
        lines.append(row[key_column])
        for label, text in words.in_plain_words(row):
            if text != row[key_column]:
                lines += _indented(f"{label}: {text}")
        ids = ", ".join(catalogue.sources_of([row]))
        lines += [f"  sources: {ids}"] if ids else []
        lines.append("")
    lines.append("Sources")
    for source in catalogue.sources_of(rows).values():
        read = "" if source.what_was_read in ("", "-", "memory") else f" Read: {source.what_was_read}."
        address = "" if source.address.startswith(("-", "(")) else f" {source.address}"
        lines += _indented(f"{source.id} ({source.kind}): {source.citation.rstrip('.')}.{address}{read}")
    for said in catalogue.free_sources_of(rows):
        lines += _indented(said)
    return "\n".join([*lines, "", BEFORE_ALL])


def _indented(text: str) -> list[str]:
    import textwrap

    return textwrap.wrap(
        text,
        _page_width(),
        initial_indent="  ",
        subsequent_indent="      ",
        break_long_words=False,
        break_on_hyphens=False,
    )


def _page_width() -> int:
    import shutil

    return max(60, min(shutil.get_terminal_size((110, 24)).columns, 120)) - 1


def _aligned(head: Sequence[str], body: Sequence[Sequence[str]]) -> list[str]:
    """Lay cells out in columns; long cells wrap between words, nothing is cut off.

    Where the page is too narrow for the columns, each row is told in lines of its own.
    """
    columns = list(zip(*body, strict=True))
    least = [
        max(_longest_word(name), *(map(_longest_word, cells)))
        for name, cells in zip(head, columns, strict=True)
    ]
    natural = [max(low, *(map(len, cells))) for low, cells in zip(least, columns, strict=True)]
    least[0] = natural[0]  # a key is never broken
    room = _page_width() - 2 * (len(head) - 1)
    if sum(least) > room:
        return [line for row in body for line in _told(head, row)]
    widths = _fitted(natural, least, room)
    rule = ["  ".join("-" * width for width in widths)]
    return [*_wrapped(head, widths), *rule, *(line for row in body for line in _wrapped(row, widths))]


def _told(head: Sequence[str], row: Sequence[str]) -> list[str]:
    """Return a row as its key and, below it, what each column says."""
    return [
        row[0],
        *_indented(
            "; ".join(f"{name}: {cell}" for name, cell in zip(head[1:], row[1:], strict=True) if cell)
        ),
    ]


def _longest_word(text: str) -> int:
    return max(map(len, text.split()), default=0)


def _wrapped(cells: Sequence[str], widths: Sequence[int]) -> list[str]:
    import textwrap
    from itertools import zip_longest

    pieces = [
        textwrap.wrap(cell, width, break_on_hyphens=False) for cell, width in zip(cells, widths, strict=True)
    ]
    return [
        "  ".join(piece.ljust(width) for piece, width in zip(line, widths, strict=True)).rstrip()
        for line in zip_longest(*pieces, fillvalue="")
    ]


def _fitted(natural: Sequence[int], least: Sequence[int], room: int) -> list[int]:
    """Narrow the widest columns until the row fits, none below its longest word."""
    widths = list(natural)
    while sum(widths) > room:
        wide = [index for index, width in enumerate(widths) if width > least[index]]
        if not wide:
            break
        widths[max(wide, key=lambda index: widths[index])] -= 1
    return widths
