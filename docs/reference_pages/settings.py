"""What can be set: environment variables, files of a record folder, numbers of a plan and of arrivals."""

import re

from reference_pages.figures import sources_in
from reference_pages.markdown import code, codes, page, plain, table
from reference_pages.word_codes import folders

VARIABLES = {
    "FECALLAB_RECORDS": "The record folder that commands work on, when `--records` is left out.",
    "FECALLAB_BY": "Your name, when `--by` is left out; else your user name is taken.",
    "FECALLAB_ASK": "`0`: never ask for words that were left out. `1`: ask even without a terminal.",
    "FECALLAB_VET_KEY": "File of the vet's signing key, when `--key` is left out.",
    "FECALLAB_TRACE": "`1`: show the trace of a fault of the program, for a problem report.",
}
"""Every environment variable; one that is missing here makes a test fail."""


def variables() -> set[str]:
    """Return the environment variables that the program reads."""
    return {
        name
        for folder in folders()
        for path in folder.rglob("*.py")
        for name in re.findall(r'"(FECALLAB_[A-Z_]+)"', path.read_text(encoding="utf-8"))
    }


def settings() -> str:
    """Return the page of the settings."""
    from fecallab.reference.tables import read_rows

    proposals = [
        row for row in read_rows("dose_rules") if "plan may" in row["note"] or "plan may" in row["when"]
    ]
    tighten = [
        [
            code(row["code"]),
            plain(row["when"]),
            plain(f"{row['low'] or row['high']} {row['unit']}"),
            plain(row["note"]),
        ]
        for row in proposals
    ]
    arrivals = [
        [
            plain(row["template"]),
            plain(row["item"].replace("_", " ")),
            codes(row["value"].split(";")) if row["value"] else "not asked",
            sources_in(row),
        ]
        for row in read_rows("quarantine_protocols")
    ]
    return page(
        "Settings",
        "There is little to set: what a person decides is recorded as a fact, with name and day, not as a setting.",
        "## Environment variables",
        table(["variable", "what it does"], [[code(name), VARIABLES[name]] for name in sorted(VARIABLES)]),
        "## Files of a record folder",
        table(
            ["file", "what it holds"],
            [
                [
                    "`fecallab.json`",
                    "What the folder is, its layout, and the server that holds its records, if any.",
                ],
                [
                    "`marking.json`",
                    "For each person the keys of the [marking window](../marking.md), when proposals"
                    " show (after reading, before reading, off), and scale profiles.",
                ],
                ["`drafts/`", "Tallies and marks that are not finished; they are taken up again."],
            ],
        ),
        "## Numbers that a plan sets",
        "Goal, negatives, spacing and wait are the vet's: the options of"
        " [plan add](commands/plan.md#fecallab-plan-add). What a plan leaves out comes from the table"
        " [followup_defaults](tables.md#followup_defaults). These rules of a dose may be set tighter by a plan:",
        table(["rule", "when", "stands at", "what a plan may do"], tighten) if tighten else "",
        "## Numbers that arrivals set",
        "The options of [arrivals protocol](commands/arrivals.md#fecallab-arrivals-protocol); what is left out"
        " comes from the template of the hosts:",
        table(["template", "what", "stands at", "source"], arrivals),
    )


def missing() -> set[str]:
    """Return the variables that the program reads and nobody has described."""
    return variables() - set(VARIABLES) - {"FECALLAB_CI"}
