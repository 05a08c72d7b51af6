"""The list of reference tables, their rows by key or group, and the sources that rows name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

from fecallab.domain.errors import BadInput
from fecallab.domain.near_spelling import near_spellings
from fecallab.reference.sources import Source
from fecallab.reference.tables import number, parts, read_rows

ABOUT: dict[str, tuple[str, tuple[str, ...]]] = {
    "organisms": (
        "organisms and look-alikes",
        ("scientific_name", "eye_group", "stage", "length_um", "hosts"),
    ),
    "methods": ("what each exam method can and cannot find", ("name", "finds_words", "cannot_find_words")),
    "flotation_solutions": ("flotation fluids and their gravity", ("solution", "sg", "target_sg", "note")),
    "egg_gravities": ("how heavy eggs are (mammal worms)", ("organism", "group", "sg")),
    "grading_scales": ("grading scales, one row per grade", ("scale_name", "grade", "bounds", "use")),
    "fields_to_read": ("how much of a slide to read", ("exam", "rule", "note")),
    "hosts": ("host groups and species, diet and warmth", ("name", "parent", "diet", "range_c")),
    "followup_defaults": (
        "wait, spacing and negatives where the plan is silent",
        (
            "stages_that_must_be_negative",
            "wait_after_last_dose_days",
            "spacing_days",
            "negatives_needed",
            "note",
        ),
    ),
    "retest_windows": ("when a look after treatment means something", ("organism", "first_day", "advice")),
    "recoveries": ("share of eggs that a method brings up", ("method", "host", "recovered_share", "note")),
    "sensitivities": (
        "share of the infected that exams find",
        ("host", "test", "samples", "value", "against"),
    ),
    "priors": (
        "share of surveyed animals that were positive",
        ("population", "target", "organism", "share", "n"),
    ),
    "risk_factors": ("odds of being infected", ("compared", "with", "odds_ratio", "ci95")),
    "quarantine": ("how long newcomers stay apart", ("role", "group", "days", "negatives_in_a_row", "rule")),
    "quarantine_protocols": (
        "templates for arrivals, each default with its source",
        ("template", "host_group", "item", "value", "source_kind"),
    ),
    "never_mixed": ("hosts kept apart whatever stools say", ("carriers", "towards", "words")),
    "not_shown": ("what stools cannot show", ("host_group", "what", "words")),
    "spread_ways": ("how each group gets from one animal to the next", ("group", "ways", "words")),
    "sources": ("the numbered sources of these tables", ("kind", "citation", "what_was_read")),
    "dose_sources": ("the sources of the dosing tables", ("kind", "citation")),
    "adequacy_routes": ("ways in which an exam can find a target", ()),
    "adequacy_conditions": ("what each way asks for", ()),
    "adequacy_blind": ("why a method cannot find a stage", ()),
    "group_names": ("everyday names of the groups", ()),
    "drugs": (
        "dose ranges read for drugs; the vet chooses",
        ("drug", "studied_in", "dose_mg_per_kg", "course"),
    ),
    "drug_names": ("other names of drugs", ()),
    "hard_stops": ("what is refused or warned of", ("drugs", "action", "text")),
    "dose_rules": ("rules for a dose", ()),
    "syringes": ("syringes and their graduation", ("kind", "nominal_ml", "graduation_ml")),
    "tubes": (
        "feeding tubes: French size and what they hold",
        ("french", "typical_inner_diameter_mm", "suits"),
    ),
    "tube_marks": ("how far a tube goes in", ("measure", "words")),
    "gavage_limits": ("how much a stomach takes at once", ("what", "per", "low_percent", "high_percent")),
    "warm_ranges": ("which range of warmth is meant for which animals", ("taxa", "host", "note")),
    "fluid_products": ("fluids that a vet may name", ("name", "osmolarity_mosm_per_l", "words")),
    "fluid_rates": ("fluids for a day", ("whom", "low_ml_per_kg", "high_ml_per_kg", "words")),
    "to_the_vet_now": (
        "signs that must not wait for a microscope",
        ("sign", "threshold", "host_words", "urgency", "until_the_vet"),
    ),
    "reaction_signs": ("what may be seen after a dose", ("words", "stops", "next")),
    "cleaning": (
        "what kills which stage, how long it lives outside",
        ("group", "role", "about", "heat_c", "not_effective", "cautions"),
    ),
    "control_plan": ("which controls show that a method finds anything", ("kind", "how", "accept")),
    "control_limits": ("what a control must reach", ("what", "value", "low", "high", "unit")),
    "taxa": ("species, genus, family and order", ("species", "family", "order", "host_group")),
}
"""What each table holds, and the columns of its short list."""


@dataclass(frozen=True)
class Table:
    """One reference table: its name, what it holds, how many rows and by which column a row is named."""

    name: str
    about: str
    rows: int
    key_column: str


@cache
def tables() -> tuple[Table, ...]:
    """Return every table that is packaged, in the order of their names."""
    folder = resources.files("fecallab.reference").joinpath("data")
    names = sorted(item.name.removesuffix(".csv") for item in folder.iterdir() if item.name.endswith(".csv"))
    return tuple(
        Table(name, ABOUT.get(name, ("", ()))[0], len(read_rows(name)), next(iter(read_rows(name)[0])))
        for name in names
    )


def table(name: str) -> Table:
    """Return one table.

    Raises
    ------
    BadInput
        When there is no such table; the nearest names are offered.

    Examples
    --------
    >>> table("organisms").key_column
    'key'
    """
    known = {item.name: item for item in tables()}
    found = known.get(name.strip().lower().replace("-", "_"))
    if found is None:
        near = near_spellings(name, known)
        hint = f"Did you mean {' or '.join(near)}?" if near else "Type: fecallab reference list"
        raise BadInput(f"There is no reference table '{name}'.", next=hint, code="table-unknown")
    return found


def rows_named(name: str, key: str) -> tuple[dict[str, str], ...]:
    """Return the rows of a table with this key, or else those of this group, target, scale or host.

    Raises
    ------
    BadInput
        When no row answers to it; the nearest keys are offered.

    Examples
    --------
    >>> len(rows_named("organisms", "thelandros_egg")), len(rows_named("organisms", "mite"))
    (1, 2)
    """
    found = table(name)
    rows = read_rows(found.name)
    exact = tuple(row for row in rows if row[found.key_column] == key)
    if exact:
        return exact
    grouping = ("eye_group", "group", "target", "scale", "host_group", "drug", "targets", "code", "aliases")
    for column in grouping:
        several = tuple(row for row in rows if key in parts(row.get(column, "")))
        if several:
            return several
    near = near_spellings(key, [row[found.key_column] for row in rows])
    hint = f"Did you mean {' or '.join(near)}?" if near else f"Type: fecallab reference show {found.name}"
    raise BadInput(f"The table '{found.name}' has no row '{key}'.", next=hint, code="row-unknown")


def summary_columns(name: str) -> tuple[str, ...]:
    """Return the columns of a table's short list, the key first; a pair of bounds counts as one column."""
    found = table(name)
    chosen = ABOUT.get(found.name, ("", ()))[1]
    if not chosen:
        columns = [column for column in read_rows(found.name)[0] if "source" not in column]
        chosen = tuple(columns[1:5])
    return (found.key_column, *chosen)


def sources_of(rows: Sequence[dict[str, str]]) -> dict[str, Source]:
    """Return the sources that some rows name, by id, in the order met."""
    found: dict[str, Source] = {}
    known = _all_sources()
    for row in rows:
        for column, text in row.items():
            if column.endswith("source"):
                found.update({word: known[word] for word in parts(text) if word in known})
    return found


def free_sources_of(rows: Sequence[dict[str, str]]) -> tuple[str, ...]:
    """Return the sources of some rows that are named in words and carry no id."""
    known = _all_sources()
    said = (
        word
        for row in rows
        for column, text in row.items()
        if column.endswith("source")
        for word in parts(text)
        if word not in known
    )
    return tuple(dict.fromkeys(said))


def typed(rows: Sequence[dict[str, str]]) -> list[dict[str, str | float | None]]:
    """Return rows for a machine: a column of numbers as numbers, an empty cell as None.

    Examples
    --------
    >>> typed([{"key": "a", "length_um_min": "5"}, {"key": "b", "length_um_min": ""}])
    [{'key': 'a', 'length_um_min': 5.0}, {'key': 'b', 'length_um_min': None}]
    """
    numeric = {column for column in rows[0] if _all_numbers([row[column] for row in rows])} if rows else set()
    return [
        {column: (number(text) if column in numeric else text or None) for column, text in row.items()}
        for row in rows
    ]


def _all_numbers(cells: Sequence[str]) -> bool:
    filled = [text for text in cells if text]
    try:
        return bool([float(text) for text in filled])
    except ValueError:
        return False


@cache
def _all_sources() -> dict[str, Source]:
    return {
        row["id"]: Source(row["id"], row["kind"], row["citation"], row["address"], row["what_was_read"])
        for name in (item.name for item in tables() if item.name.endswith("sources"))
        for row in read_rows(name)
    }
