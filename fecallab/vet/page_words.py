"""Sentences of the page to the vet: what is doubtful, what the rest is, how an answer in words may sound."""

from __future__ import annotations

from collections import Counter
from typing import Any

from fecallab.domain.plan import Plan
from fecallab.domain.spoken import say_date
from fecallab.report import words
from fecallab.report.figures import THIN, number
from fecallab.report.model import AdequacyBlock
from fecallab.report.page import RESULT_WORDS, adequacy_verdict
from fecallab.vet.page_model import PageToVet

MARK_WORDS = (
    ("agree", "agree"),
    ("other", "other organism"),
    ("artefact", "artefact"),
    ("cannot tell", "cannot tell"),
)
"""The four words on a mark: as the answer holds them, and as the vet reads them."""

_NUMBERS = (
    "No",
    "One",
    "Two",
    "Three",
    "Four",
    "Five",
    "Six",
    "Seven",
    "Eight",
    "Nine",
    "Ten",
    "Eleven",
    "Twelve",
)


def counted_word(count: int, thing: str, capital: bool = True) -> str:
    """Write a small number in letters with its thing.

    Examples
    --------
    >>> counted_word(3, "mark"), counted_word(1, "mark", capital=False), counted_word(30, "mark")
    ('Three marks', 'one mark', '30 marks')
    """
    word = _NUMBERS[count] if count < len(_NUMBERS) else f"{count:,}".replace(",", THIN)
    return f"{word if capital else word.lower()} {thing}{'' if count == 1 else 's'}"


def doubtful_heading(page: PageToVet) -> str:
    """Say how many marks are doubtful."""
    count = len(page.doubtful)
    if not page.items:
        return "Nothing was marked or counted"
    if not count:
        return "Nothing is doubtful"
    return f"{counted_word(count, 'mark')} {'is' if count == 1 else 'are'} doubtful"


def rest_words(page: PageToVet) -> str:
    """Say what the other marks are; empty where there are none."""
    rest = page.rest
    if not rest:
        return ""
    found: Counter[str] = Counter()
    for one in rest:
        found[one.words] += one.item.count
    named = ", ".join(f"{count} {name}" for name, count in found.items())
    first = f"The other {len(rest)}" if page.doubtful else f"All {len(rest)}"
    if len(rest) == 1:
        first = "The other one" if page.doubtful else "The one mark"
        return f"{first}, number {rest[0].item.number}, the keeper is sure of: {named}."
    return f"{first} the keeper is sure of: {named}; they stand below."


def answered_words(page: PageToVet) -> str:
    """Say what vets have answered before; empty where they have not."""
    answered = page.answered
    if not answered:
        return ""
    numbers = ", ".join(str(one.item.number) for one in answered[:12])
    more = f" and {len(answered) - 12} more" if len(answered) > 12 else ""
    is_are = "number" if len(answered) == 1 else "numbers"
    return f"Answered before, and left as it is unless you say otherwise: {is_are} {numbers}{more}."


def example_answer(page: PageToVet) -> str:
    """Return how an answer in words may sound, with the numbers of this very page."""
    numbers = [one.item.number for one in page.doubtful]
    said = [f"{no} {what}" for no, what in zip(numbers, ("pollen", "cannot tell"), strict=False)]
    if not page.items:
        said = ["agreed"]
    elif not said:
        said = [f"{page.items[0].item.number} is pollen", "the rest agreed"]
    elif len(page.items) > len(said):
        said.append("the rest agreed")
    plans = [plan for case in page.cases for plan in case.treatments]
    if page.part == 1 and page.cases:
        plan = (
            f"the same plan as on {say_date(plans[0].written_on)}"
            if plans
            else "the plan: drug, mg per kg, how often"
        )
        said += [plan, "see me if it stops eating"]
    return "; ".join(said) + "."


def subject_words(page: PageToVet) -> str:
    """Name what the page is about: ``case C1, exams E1 and E5``."""
    codes = [one.page.exam.code for one in page.exams]
    exams = (
        f"exam{'' if len(codes) == 1 else 's'} {' and '.join(codes) if len(codes) < 3 else ', '.join(codes)}"
    )
    return exams if page.subject in codes else f"case {page.subject}, {exams}"


def standings_of(page: PageToVet) -> list[dict[str, str]]:
    """Return where each case stands, in words, with the first reason."""
    found = []
    for case in page.cases:
        one = case.page
        word, added = words.standing_line(one.standing)
        if one.closing is not None:
            word = f"closed: {one.closing.ending}"
            added = "" if one.closing_supported else "no longer supported"
        why = one.standing.reasons[0].text if one.standing.reasons else ""
        found.append({"about": one.about, "word": word, "added": added, "why": why})
    return found


def results_of(page: PageToVet) -> list[dict[str, str]]:
    """Return what the exams say for targets without a case of their own on the page."""
    told = {case.page.case.target for case in page.cases}
    return [
        {
            "what": f"{block.target}{f', {block.stage}' if block.stage else ''}",
            "said": f"{RESULT_WORDS[block.answer.for_case]} (exam {one.page.exam.code})",
        }
        for one in page.exams
        for block in one.page.answers
        if block.target not in told
    ]


def adequacy_words(block: AdequacyBlock) -> dict[str, Any]:
    """Say in short whether a preparation could have shown something: the verdict, how much holds, and what does not."""
    lacking = [one for one in block.conditions if one.answer != "yes"]
    held = len(block.conditions) - len(lacking)
    whole = (
        f"all {held} conditions hold" if not lacking else f"{held} of {len(block.conditions)} conditions hold"
    )
    return {
        "verdict": adequacy_verdict(block).lower(),
        "held": f"({whole})" if block.conditions else block.note,
        "lacking": lacking,
    }


def treatment_words(plan: Plan) -> str:
    """Write a treatment in one line, in the vet's own numbers."""
    parts = [plan.drug]
    if plan.dose_mg_per_kg:
        parts.append(f"{plan.dose_mg_per_kg} mg per kg")
    if plan.concentration_mg_per_ml:
        parts.append(f"{plan.concentration_mg_per_ml} mg per ml")
    if plan.route:
        parts.append(plan.route)
    doses = f"{plan.doses_planned} dose{'' if plan.doses_planned == 1 else 's'}"
    if plan.interval_days and plan.doses_planned > 1:
        doses += f" {number(plan.interval_days)} days apart"
    return ", ".join([*parts, doses])


def plain(text: Any) -> str:
    """Return a text in one line, without the blanks that only a page needs."""
    return " ".join(str(text).replace("\u00a0", " ").replace(THIN, " ").split())
