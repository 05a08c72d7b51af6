"""The rules of a dose, the hard stops, and the cautions that stand where the act is."""

from reference_pages.figures import KINDS, sources_in
from reference_pages.markdown import code, page, plain, table

ACTIONS = {
    "refuse": "no volume is given",
    "refuse-unless-specialist": "no volume is given without a specialist's written word",
    "warn-hard": "shown before the volume, and a word of the named person is asked for",
    "warn": "shown with the dose",
    "say": "told, nothing more",
    "not-checked": "named beside the answer: nobody was asked",
}
"""What each action means; an action that is not here makes the page fail."""

PLACES = {
    "word": "somebody's word on a rule",
    "naming": "naming drug and animal",
    "figures": "figures as they are typed",
    "range": "dose and range",
    "order": "the vet's order",
}
"""Headings that say more than the word of the table."""

Row = dict[str, str]


def dose_rules() -> str:
    """Return the page of the rule table for doses and of the hard stops."""
    from fecallab.reference.tables import EDITION, read_rows

    rules, stops = read_rows("dose_rules"), read_rows("hard_stops")
    used = dict.fromkeys(row["action"] for row in (*rules, *stops))
    places: dict[str, list[Row]] = {}
    for row in rules:
        places.setdefault(row["place"], []).append(row)
    sections = []
    for place, rows in places.items():
        sections += [
            f"### {PLACES.get(place, place).capitalize()}",
            table(_HEAD, [_rule(row) for row in rows]),
        ]
    return page(
        "Rules of a dose",
        "Weight × dose / concentration is simple; what stands in its way is this table. The tool never chooses a"
        " drug or a dose and never extends a course. Every refusal says what may be done now. Edition"
        f" {EDITION}, {len(rules)} rules and {len(stops)} hard stops.",
        table(["does", "what that means"], [[code(action), ACTIONS[action]] for action in used]),
        f"{KINDS} Sources by name: [sources](sources.md).",
        "## Rule table",
        *sections,
        "## Hard stops",
        "What is refused or warned of for a drug in an animal, whatever the dose sheet says.",
        table(
            ["code; what it does", "drug and animals", "words shown", "lifted by; source"],
            [_stop(row) for row in stops],
        ),
    )


_HEAD = ("code; what it does", "when", "words shown", "lifted by; source")


def _rule(row: Row) -> list[str]:
    scope = f" ({plain(row['scope'])})" if row["scope"] else ""
    when = plain(row["when"]) + (f" ({_numbers(row)})" if _numbers(row) else "")
    asked = [f"*{plain(row['ask'])}*"] if row["ask"] else []
    lifted = plain(row["overridden_by"])
    if row["recorded_as"] and row["overridden_by"] not in ("nobody", "not needed"):
        lifted += f"; kept as: {plain(row['recorded_as'])}"
    return [
        f"{code(row['code'])}{scope}<br>{code(row['action'])}",
        when,
        " ".join([*asked, plain(row["next"])]),
        _lifted(lifted, row),
    ]


def _lifted(by: str, row: Row) -> str:
    said = f"lifted by: {by}" if by not in ("", "not needed") else by and "no word is needed"
    return "<br>".join(part for part in (said, f"source: {sources_in(row)}") if part)


def _numbers(row: Row) -> str:
    row = {**row, "unit": "" if row["unit"] == "any" else row["unit"]}
    units = [unit.strip() for unit in row["unit"].split(",")]
    low, high = row["low"], row["high"]
    if low and high and len(units) == 2:
        return plain(f"{low} {units[0]}, {high} {units[1]}")
    if low and high:
        return plain(f"{low} to {high} {row['unit']}")
    unit = row["unit"].removesuffix("s") if (low or high) == "1" else row["unit"]
    return plain(f"{low or high} {unit}") if low or high else ""


def _stop(row: Row) -> list[str]:
    drugs = row["drugs"] or row["classes"]
    limits = f" above {row['above_mg_per_kg']} mg per kg" if row["above_mg_per_kg"] else ""
    beside = row["with_drugs"] or row["with_classes"]
    if beside:
        within = f" within {row['within_days']} days" if row["within_days"] else ""
        limits += f", beside {beside}{within}"
    if row["findings"]:
        limits += f", with {row['findings']}"
    return [
        f"{code(row['code'])}<br>{code(row['action'])}",
        f"{plain(drugs.replace(';', ', ') + limits)}; {plain(row['taxa'].replace(';', ', '))}",
        f"{plain(row['text'])} {plain(row['next'])}",
        _lifted(plain(row["overridden_by"]), row),
    ]


def cautions() -> str:
    """Return the page of the cautions, act by act."""
    from fecallab.domain.cautions import CAUTIONS

    acts: dict[str, list[list[str]]] = {}
    for caution in CAUTIONS:
        for act in caution.acts:
            acts.setdefault(act, []).append(
                [code(caution.code), plain(caution.text), f"{plain(caution.source)} ({caution.source_kind})"]
            )
    sections = []
    for act, rows in acts.items():
        sections += [f"## {act.capitalize()}", table(["code", "words shown", "source"], rows)]
    return page(
        "Cautions",
        "Short words where the act is: on sheets, dose cards, reports and beside a dose. They are no teaching; your"
        " vet shows you how.",
        KINDS,
        *sections,
    )
