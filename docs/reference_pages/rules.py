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
        sections += [f"### {place}", table(_HEAD, [_rule(row) for row in rows])]
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
            ["code", "drugs", "animals", "does", "lifted by", "words shown", "source"],
            [_stop(row) for row in stops],
        ),
    )


_HEAD = ("code", "when", "numbers", "does", "lifted by", "words shown", "source")


def _rule(row: Row) -> list[str]:
    scope = f" ({plain(row['scope'])})" if row["scope"] else ""
    lifted = plain(row["overridden_by"])
    if row["recorded_as"] and row["overridden_by"] not in ("nobody", "not needed"):
        lifted += f"; kept as: {plain(row['recorded_as'])}"
    shown = " ".join(
        f"*{plain(row[part])}*" if part == "ask" else plain(row[part])
        for part in ("ask", "next")
        if row[part]
    )
    return [
        code(row["code"]) + scope,
        plain(row["when"]),
        _numbers(row),
        code(row["action"]),
        lifted,
        shown,
        sources_in(row),
    ]


def _numbers(row: Row) -> str:
    units = [unit.strip() for unit in row["unit"].split(",")]
    low, high = row["low"], row["high"]
    if low and high and len(units) == 2:
        return plain(f"{low} {units[0]}, {high} {units[1]}")
    if low and high:
        return plain(f"{low} to {high} {row['unit']}")
    return plain(f"{low or high} {row['unit']}") if low or high else ""


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
        code(row["code"]),
        plain(drugs.replace(";", ", ") + limits),
        plain(row["taxa"].replace(";", ", ")),
        code(row["action"]),
        plain(row["overridden_by"]),
        f"{plain(row['text'])} {plain(row['next'])}",
        sources_in(row),
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
