"""The calculators: what goes in and in which unit, the formula with its source, an example with its answer."""

import contextlib
import io
import json
import os
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reference_pages.commands import commands
from reference_pages.examples import example_of, examples
from reference_pages.markdown import anchor, code, console, page, plain, table


@dataclass(frozen=True)
class Formula:
    """How a calculator works it out, and where that is from."""

    says: str
    source: str


FORMULAS = {
    "calc dose": Formula(
        "volume (ml) = weight (kg) × dose (mg per kg) / concentration (mg per ml), exact in decimals; then rounded"
        " to the marks of the syringe, down for a drug with a narrow margin. Every [rule of a dose](dose-rules.md)"
        " that needs no plan, history or day applies; those that do are named as not checked.",
        "derived: the units say it. Ranges, stops and marks: the tables named in the answer.",
    ),
    "calc fluids": Formula(
        "volume of a day (ml) = weight (kg) × ml per kg; divided by times and places. What an animal lacks (ml) ="
        " weight (kg) × percent dehydrated × 10, spread over the days named. Above the ceiling of the"
        " [rule table](dose-rules.md#fluids) nothing is given out.",
        "deficit: read, Vet Nursing Journal 41(1), 2026, page 55; ceilings: the rule table, each with its kind.",
    ),
    "calc tube": Formula(
        "outer diameter (mm) = French size / 3; what it holds (ml) = π/4 × inner diameter² (mm) × length (mm) /"
        " 1000, or better the mass of the water that fills it (1 g is 1 ml).",
        "French size: read, French catheter scale; the rest derived (a cylinder).",
    ),
    "calc epg": Formula(
        "factor = finished suspension (ml) / (stool (g) × volume read (ml)); eggs per gram = eggs × factor. 1 g of"
        " stool counts as 1 ml of the suspension. Interval: exact Poisson interval of the eggs, × factor. Found with"
        " 95 % chance: factor × ln 20.",
        "factor: read, RVC/FAO guide; 1 g as 1 ml: read, Newcastle counting procedure; interval: Garwood 1936, read"
        " in the documentation of R epitools; last line derived.",
    ),
    "calc density": Formula(
        "mean = organisms / fields. Interval: exact Poisson (half of χ²(0.025; 2n) and of χ²(0.975; 2n + 2), per"
        " field); from 10 fields on, where Fisher's dispersion test has p below 0.05, negative binomial by maximum"
        " likelihood: standard error √((m + m²/k) / fields), limits m·exp(± 1.96 se / m). Nothing in n fields: the"
        " one-sided 95 % limit −ln 0.05 / n.",
        "Garwood 1936, read in the documentation of R epitools; the bounds 10 fields and 0.05: common practice, no"
        " source.",
    ),
    "calc field": Formula(
        "diameter (mm) = field number (mm) / objective; area = π/4 × diameter²; share of the cover glass = area /"
        " (22 mm × 22 mm), one field.",
        "read (R77, a glossary of optics): formula, 20 / 40 = 0.50 mm, and 18 / 100 = 0.18 mm; the rest derived.",
    ),
    "calc residual": Formula(
        "Exams independent: p(1 − s)ⁿ / (p(1 − s)ⁿ + 1 − p), with p the chance before, s the sensitivity of one exam,"
        " n negatives. Cautious: the chance of n misses is that of a beta-binomial with mean s and the correlation"
        " given, so that light shedders stay light.",
        "Bayes' rule (derived); correlation 0.576: computed, a fit to repeat stools of people (Cartwright 1999,"
        " abstract read); none for reptiles was found.",
    ),
    "calc reduction": Formula(
        "reduction (%) = 100 × (1 − mean after / mean before), arithmetic means of raw counts × factor. One animal:"
        " exact interval of two Poisson counts. Groups: log-ratio t interval, paired or not. None left: beta on raw"
        " eggs, or the exact interval of both sums; only a lower limit.",
        "Denwood et al. 2019, arXiv 1910.06667 (read); Coles et al. 1992 for two groups (from memory).",
    ),
    "calc agreement": Formula(
        "κ = (seen − by chance) / (1 − by chance), chance from both margins; its standard error for the interval"
        " κ ± 1.96 se. AC1 the same with chance = Σ p(1 − p) / (names − 1), p the mean of both margins. For two names"
        " also 2·both / (2·both + apart).",
        "Cohen's kappa; standard error Fleiss, Cohen, Everitt 1969; AC1: Gwet, printed output read.",
    ),
    "calc group-size": Formula(
        "the least n with 1 − Σ Hyp(d; group, infected, n) × (1 − sensitivity)^d at or above the confidence.",
        "derived: exact hypergeometric sum, no approximation.",
    ),
    "calc detect": Formula(
        "1 − Σ Hyp(d; group, infected, tested) × (1 − sensitivity)^d over the infected d in the sample.",
        "derived: exact hypergeometric sum, no approximation.",
    ),
    "calc pool": Formula(
        "an infected animal in a pool of k is missed with (1 − sensitivity)^(1/k); the group as in `calc detect`."
        " A chamber's factor for one animal = factor × k.",
        "derived: eggs at random in a well mixed pool (Poisson).",
    ),
    "calc adequacy": Formula(
        "no sum: every question of the [adequacy table](adequacy.md) is asked. The bound of a negative: −ln 0.05 / n for"
        " fields; per gram, −ln 0.05 divided by grams and by the recovered share of the method.",
        "each row of the table names its own; recovery: mammal figures, and marked so.",
    ),
    "calc standing": Formula(
        "no sum: exams, doses and pauses are folded into one standing, as of the day given.",
        "own rules ([how](../architecture.md)); numbers that a plan leaves out: table followup_defaults.",
    ),
}
"""Every calculator; one that is missing here makes a test fail."""


def calculators() -> str:
    """Return the page of the calculators."""
    known = {name: command for name, command in commands() if name.startswith("calc ")}
    rows = [
        [f"[{code(name)}](#{anchor('fecallab ' + name)})", _first(command)] for name, command in known.items()
    ]
    sections = [_section(name, command) for name, command in known.items()]
    return page(
        "Calculators",
        "They need no records and keep nothing. Each prints what it read, so that a slip shows; `0,5` is read as 0.5."
        " Keys of the `--json` answer carry their unit; chances and shares are fractions from 0 to 1.",
        table(["calculator", "what it answers"], rows),
        *sections,
    )


def _first(command: Any) -> str:
    return plain((command.help or "").split("\n")[0])


def _section(name: str, command: Any) -> str:
    formula = FORMULAS[name]
    said, answer = _run(name)
    place = f"commands/calc.md#{anchor('fecallab ' + name)}"
    return "\n\n".join(
        [
            f"## fecallab {name}",
            f"{_first(command)} [Its options, with units]({place}).",
            f"**How**: {formula.says}",
            f"**From where**: {formula.source}",
            console(example_of(name)),
            f"```text\n{said.rstrip()}\n```",
            table(["key with `--json`", "in the example"], list(_keys(answer))),
        ]
    )


def _keys(answer: dict[str, Any]) -> Iterator[list[str]]:
    for key, value in answer.items():
        if isinstance(value, list | dict) and value and not _short(value):
            inner = value[0] if isinstance(value, list) else value
            within = f", each with {', '.join(code(k) for k in inner)}" if isinstance(inner, dict) else ""
            kind = "a list" if isinstance(value, list) else "an object"
            if isinstance(value, dict):
                within = f" with {', '.join(code(k) for k in inner)}"
            yield [code(key), kind + within]
        elif value in ([], {}):
            yield [code(key), "nothing here"]
        else:
            yield [code(key), code(json.dumps(_rounded(value), ensure_ascii=False))]


def _rounded(value: Any) -> Any:
    """Return numbers to four figures, so that the page is the same on every machine."""
    if isinstance(value, list):
        return [_rounded(item) for item in value]
    return float(f"{value:.4g}") if isinstance(value, float) else value


def _short(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(item, int | float | None) for item in value)


def _run(name: str) -> tuple[str, dict[str, Any]]:
    """Run an example as it stands; return what a person and what a machine reads."""
    from fecallab.cli.main import run
    from tests.cli.every_command import EXAM, HISTORY

    words = [*name.split(), *examples()[name]]
    before = Path.cwd()
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        try:
            Path("exam.json").write_text(EXAM, encoding="utf-8")
            Path("history.json").write_text(HISTORY, encoding="utf-8")
            said = []
            for more in ([], ["--json"]):
                out = io.StringIO()
                with contextlib.redirect_stdout(out):
                    code_ = run([*words, *more])
                if code_ != 0:
                    raise RuntimeError(f"{' '.join(words)} ends with {code_}")
                said.append(out.getvalue())
        finally:
            os.chdir(before)
    return said[0], json.loads(said[1])
