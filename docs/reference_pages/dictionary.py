"""The data dictionary: every table of the records, every column with kind, unit and meaning."""

import re
from functools import cache
from typing import Any

from reference_pages.columns import meaning_of
from reference_pages.markdown import anchor, code, codes, page, plain, table

ABOUT = {
    "collection": "Which collection these records are: one row.",
    "codes": "Every code that was ever given, so that none is given twice.",
    "pictures": "Every picture that is stored, once, by the hash of its bytes.",
    "reading_counts": "What was counted in a reading at the eyepiece, name by name.",
    "case_stages": "The stages that must be negative before a case may end.",
    "plan_confirmations": "A vet's words on rules that a plan meets.",
    "dose_overrides": "Words of people on rules that a dose met: who, in which role, when, why.",
    "protocol_words": "The lists of an arrival's protocol.",
    "release_animals": "Who went with a release.",
    "vet_page_items": "What a page to the vet asked about, number by number.",
    "ledger": "One line for every row, each with the hash of the one before ([what that promises](../reliability.md)).",
    "redactions": "Names that were taken out, by whom and why.",
}
"""Tables that are no fact of their own; those that are take the first words of their class."""


@cache
def _kinds() -> dict[str, Any]:
    from fecallab.records.rows import KINDS

    return {kind.table.name: kind for kind in KINDS}


def about_of(name: str) -> str:
    """Return what a table holds; empty where nobody has said so."""
    if name in ABOUT:
        return ABOUT[name]
    kind = _kinds().get(name)
    return plain((kind.fact.__doc__ or "").strip().split("\n\n")[0]) if kind else ""


def meanings_of(fact: type[Any]) -> dict[str, str]:
    """Return what a class says about its fields, in the section Attributes of its text.

    Examples
    --------
    >>> from fecallab.domain.sample import Sample
    >>> meanings_of(Sample)["animal"]
    'Code of its owner: an animal, a tub or a pen.'
    """
    found: dict[str, str] = {}
    section = (fact.__doc__ or "").partition("Attributes\n")[2]
    names: list[str] = []
    for line in section.splitlines()[1:]:
        head = re.fullmatch(r"    ([a-z][\w, ]*?)(?: : .*)?", line)
        if head and (": " in line or "_" in line or re.fullmatch(r"    \w+(, \w+)*", line)):
            names = [name.strip() for name in head.group(1).split(",")]
        elif line.startswith("        "):
            for name in names:
                found[name] = f"{found.get(name, '')} {line.strip()}".strip()
        elif line.strip():
            names = []
    return {name: text.replace("``", "`") for name, text in found.items()}


def dictionary() -> str:
    """Return the page of all tables and columns of the records."""
    from fecallab.records.schema import SCHEMA_REVISIONS, metadata

    names = [found.name for found in metadata.sorted_tables]
    listed = [[f"[{code(name)}](#{anchor(name)})", _letters(name), about_of(name)] for name in sorted(names)]
    sections = [_section(metadata.tables[name]) for name in sorted(names)]
    return page(
        "Data dictionary",
        f"Every table of `records.sqlite`, the same on a server and in an export; schema {SCHEMA_REVISIONS[-1]}."
        " Rows are only ever added: a correction is a new row with the same `code` that names in `replaces` the one"
        " it takes the place of. Read the tables with `fecallab.open_records` ([how](../from-python.md)) or from the"
        " CSV files of `fecallab records export`, whose `datapackage.json` says the same as this page.",
        "Names of columns carry their unit. A moment is in UTC, a time on the keeper's clock has no zone, a day is"
        " `2026-03-04`. *Unknown allowed*: an empty cell means that nobody knows; elsewhere it is an empty text.",
        "## Columns that every fact has",
        table(
            ["column", "kind", "what it is"],
            [
                ["`id`", "integer", "number of the row; never given twice"],
                ["`code`", "string", "public code of the fact; a correction carries the same one"],
                [
                    "`recorded_at`, `recorded_by`",
                    "datetime, string",
                    "when it was recorded (UTC), and by whom",
                ],
                ["`replaces`", "integer", "id of the row that this one takes the place of"],
                ["`correction_reason`", "string", "why it was corrected or withdrawn"],
                ["`withdrawn`", "boolean", "whether this row takes the fact back"],
            ],
        ),
        "## Tables",
        table(["table", "codes begin with", "what it holds"], listed),
        *sections,
    )


_FRAME = ("id", "code", "recorded_at", "recorded_by", "replaces", "correction_reason", "withdrawn")


def _letters(name: str) -> str:
    kind = _kinds().get(name)
    if kind is None:
        return ""
    if kind.prefix and not kind.parent:
        return code(kind.prefix)
    return f"that of its {kind.parent}" if kind.parent else ""


def _section(found: Any) -> str:
    from fecallab.records.package import describe

    kind = _kinds().get(found.name)
    meanings = meanings_of(kind.fact) if kind else {}
    described = describe(found)
    leads = {
        key["fields"][0]: key["reference"]["resource"]
        for key in described.get("foreignKeys", [])
        if len(key["fields"]) == 1
    }
    rows = []
    for field in described["fields"]:
        name = field["name"]
        if kind and name in _FRAME:
            continue
        own = meanings.get(name) or ("" if name in _FRAME[:2] else meaning_of(found.name, name))
        said = [plain(own.rstrip(".")), plain(field.get("description", ""))]
        if name in leads:
            said.append(f"leads to {codes([leads[name]])}")
        unknown = "" if "constraints" in field else "unknown allowed"
        rows.append([code(name), field["type"], unknown, "; ".join(part for part in said if part)])
    head = "The columns of every fact, and:" if kind else ""
    return "\n\n".join(
        part
        for part in (
            f"### {found.name}",
            about_of(found.name),
            head,
            table(["column", "kind", "empty", "what it is"], rows),
        )
        if part
    )


def unexplained() -> list[str]:
    """Return every table and every column that nobody has explained."""
    from fecallab.records.schema import metadata

    missing = []
    for found in metadata.sorted_tables:
        kind = _kinds().get(found.name)
        meanings = meanings_of(kind.fact) if kind else {}
        missing += [] if about_of(found.name) else [found.name]
        missing += [
            f"{found.name}.{column.name}"
            for column in found.c
            if column.name not in (*_FRAME, *meanings) and not meaning_of(found.name, column.name)
        ]
    return missing
