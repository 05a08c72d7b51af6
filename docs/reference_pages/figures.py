"""The reference tables: organisms, methods, adequacy, sources, and every other table as a short list."""

from collections.abc import Iterable, Sequence

from reference_pages.markdown import anchor, code, codes, page, plain, table

OWN_PAGES = {
    "organisms": "organisms",
    "methods": "methods",
    "adequacy_routes": "adequacy",
    "adequacy_conditions": "adequacy",
    "adequacy_blind": "adequacy",
    "dose_rules": "dose-rules",
    "hard_stops": "dose-rules",
    "sources": "sources",
    "dose_sources": "sources",
}
"""Tables with a page of their own."""

BEFORE_ALL = "Your vet's word and your local law go before every figure here."
KINDS = (
    "`read`: it was read in the source that is named. `memory`: remembered, with the source that is believed to say"
    " it. `common practice`: custom, no source. `derived`: worked out from other figures. `proposal`: chosen here."
    " `mixed`: the row says which part is which."
)
SOURCE_LINE = f"A word such as R27 is a [source by number](sources.md). {KINDS}"

Row = dict[str, str]


def sources_in(row: Row) -> str:
    """Return the sources of a row with their kind."""
    from fecallab.reference.tables import parts

    said = []
    for column, text in row.items():
        if column == "source" or column.endswith("_source"):
            kind = row.get(f"{column}_kind", "")
            cited = ", ".join(plain(part) for part in parts(text))
            if cited or kind:
                said.append(f"{cited} ({plain(kind)})" if cited and kind else cited or plain(kind))
    return "; ".join(dict.fromkeys(said))


def _details(row: Row, without: Sequence[str] = ()) -> str:
    from fecallab.reference.words import in_plain_words

    lines = [
        f"- {plain(label)}: {plain(text)}" for label, text in in_plain_words(row) if label not in without
    ]
    return "\n".join([*lines, f"- sources: {sources_in(row)}"])


def organisms() -> str:
    """Return the page of the organisms, by the group that the eye can tell."""
    from fecallab.reference.tables import EDITION, read_rows
    from fecallab.reference.words import cell

    groups: dict[str, list[Row]] = {}
    for row in read_rows("organisms"):
        groups.setdefault(row["eye_group"], []).append(row)
    overview = []
    sections = []
    for group, rows in groups.items():
        sections.append(f"## {group}")
        for row in rows:
            overview.append(
                [
                    f"[{code(row['key'])}](#{anchor(row['key'])})",
                    plain(row["scientific_name"]),
                    plain(group),
                    plain(row["stage"]),
                    plain(
                        " × ".join(part for part in (cell(row, "length_um"), cell(row, "width_um")) if part)
                    ),
                ]
            )
            sections += [f"### {row['key']}", f"**{plain(row['scientific_name'])}**, {plain(row['stage'])}"]
            sections.append(_details(row, ("scientific name", "stage", "key")))
    return page(
        "Organisms and look-alikes",
        f"Edition {EDITION}, {len(overview)} rows. In a terminal: `fecallab reference show organisms --key"
        f" {overview[0][0].split('`')[1]}`. {BEFORE_ALL}",
        SOURCE_LINE,
        table(["key", "name", "group", "stage", "length × width"], overview),
        *sections,
    )


def methods() -> str:
    """Return the page of the exam methods."""
    from fecallab.reference.tables import EDITION, read_rows

    sections = []
    for row in read_rows("methods"):
        key = next(iter(row))
        sections += [f"## {row[key]}", _details(row)]
    return page(
        "Exam methods",
        f"What each method can and cannot find, and how it is done. Edition {EDITION}. {BEFORE_ALL}",
        SOURCE_LINE,
        *sections,
    )


def adequacy() -> str:
    """Return the page that says which method can show which organism, and what is asked of it."""
    from fecallab.reference.tables import EDITION, parts, read_rows

    routes, conditions = read_rows("adequacy_routes"), read_rows("adequacy_conditions")
    ways: dict[tuple[str, str], list[str]] = {}
    for row in routes:
        for target in parts(row["targets"]):
            for stage in parts(row["stages"]):
                link = f"[{code(row['route'])}](#{anchor(row['route'])})"
                ways.setdefault((target, stage), []).append(f"{link}: {codes(parts(row['methods']))}")
    matrix = [[plain(target), plain(stage), "<br>".join(said)] for (target, stage), said in ways.items()]
    blind = [
        [
            code(row["code"]),
            codes(parts(row["methods"])),
            plain(", ".join(parts(row["stages"]))),
            plain(", ".join(parts(row["targets"]))),
            plain(row["text"]),
            plain(row["next"]),
            sources_in(row),
        ]
        for row in read_rows("adequacy_blind")
    ]
    sections = []
    for row in routes:
        rows = [
            [
                code(condition["condition"]),
                plain(condition["question"]),
                _limits(condition),
                plain(condition["next"]),
                sources_in(condition),
            ]
            for condition in conditions
            if condition["route"] == row["route"]
        ]
        sections += [
            f"### {row['route']}",
            f"For {plain(', '.join(parts(row['targets'])))} ({plain(', '.join(parts(row['stages'])))}) by"
            f" {codes(parts(row['methods']))}: {plain(row['says'])}. Sources: {sources_in(row)}.",
            table(["code", "question; each must be answered yes", "rule", "if not", "source"], rows),
        ]
    return page(
        "Which method can see which organism",
        "An exam is *negative* for a group only when one of the ways below holds whole: every question is answered"
        " yes. When none does, it is *inconclusive* and the questions that failed are named by their code. What is"
        f" unknown never helps. Edition {EDITION}.",
        SOURCE_LINE,
        "## The table",
        table(["group", "stage", "ways to a negative, with their methods"], matrix),
        "## What a method can never show",
        table(["code", "methods", "stages", "groups", "why", "instead", "source"], blind),
        "## What each way asks for",
        *sections,
    )


QUANTITIES = {
    "older_minutes": "minutes from the older end of the passing",
    "room_c": "room in °C",
    "cover_share": "share of the cover glass",
    "mass_g": "stool in g",
    "sample_g": "stool in g",
}


def _limits(condition: Row) -> str:
    said = []
    quantity = QUANTITIES.get(condition["quantity"], condition["quantity"].replace("_", " "))
    if condition["at_least"]:
        said.append(f"at least {condition['at_least']}")
    if condition["at_most"]:
        said.append(f"at most {condition['at_most']}")
    if condition["one_of"]:
        said.append(condition["one_of"].replace(";", " or ").replace("|", " or ").replace("_", " "))
    rule = f"{quantity}: {' and '.join(said)}" if said else quantity
    if condition["unless"]:
        rule += f"; not needed with {condition['unless'].replace('_', ' ')}"
    if condition["when"]:
        rule += f"; where {condition['when'].replace('|', ' or ').replace('=', ' is ')}"
    return plain(rule)


def sources() -> str:
    """Return the page of all numbered sources."""
    from fecallab.reference.tables import read_rows

    def rows(name: str) -> Iterable[list[str]]:
        for row in read_rows(name):
            address = row.get("address", "")
            link = f" <{address}>" if address.startswith("http") else ""
            yield [
                code(row["id"]),
                plain(row["kind"]),
                plain(row["citation"]) + link,
                plain(row.get("what_was_read", "")),
            ]

    head = ["number", "kind", "source", "what was read of it"]
    return page(
        "Sources",
        KINDS,
        "## Of organisms, methods and rules",
        table(head, rows("sources")),
        "## Of doses",
        table(head, rows("dose_sources")),
    )


def other_tables() -> str:
    """Return the page with every table that has no page of its own, as a short list."""
    from fecallab.reference.catalogue import summary_columns, tables
    from fecallab.reference.tables import EDITION, read_rows
    from fecallab.reference.words import cell, label

    listed, sections = [], []
    for found in tables():
        where = f"{OWN_PAGES[found.name]}.md" if found.name in OWN_PAGES else f"#{anchor(found.name)}"
        listed.append([f"[{code(found.name)}]({where})", plain(found.about), str(found.rows)])
        if found.name in OWN_PAGES:
            continue
        rows = read_rows(found.name)
        columns = summary_columns(found.name)
        labels = [plain(label(column, with_unit=column in rows[0])) for column in columns]
        cells = [
            [code(row[columns[0]]), *(plain(cell(row, column)) for column in columns[1:])] for row in rows
        ]
        sections += [
            f"## {found.name}",
            f"{plain(found.about).capitalize()}. In a terminal: `fecallab reference show {found.name}`.",
            _narrow(labels, cells, [sources_in(row) for row in rows]),
        ]
    return page(
        "Reference tables",
        f"Every rule rests on tables; this is their edition {EDITION}. A plan, a closing and a release keep the"
        f" edition that they relied on. {BEFORE_ALL} Dose ranges are there to catch a slip: the vet chooses drug and"
        " dose.",
        SOURCE_LINE,
        table(["table", "what it holds", "rows"], listed),
        *sections,
    )


MOST_COLUMNS = 4


def _narrow(labels: Sequence[str], cells: Sequence[list[str]], cited: Sequence[str]) -> str:
    """Return a table that fits a page: one of many columns says them in one cell, one below the other."""
    if len(labels) <= MOST_COLUMNS:
        return table([*labels, "source"], [[*row, said] for row, said in zip(cells, cited, strict=True)])
    rows = []
    for row, said in zip(cells, cited, strict=True):
        lines = [f"{name}: {text}" for name, text in zip(labels[1:], row[1:], strict=True) if text]
        rows.append([row[0], "<br>".join(lines), said])
    return table([labels[0], "what it says", "source"], rows)
