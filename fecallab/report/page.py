"""Turn a page object into one self-contained HTML page: nothing is fetched, no script is needed."""

from __future__ import annotations

import re
from functools import cache
from importlib import resources
from typing import Any

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from fecallab.domain import followup
from fecallab.domain.adequacy import Bound
from fecallab.domain.errors import Reason
from fecallab.report import charts, figures, pictures, words
from fecallab.report.legend import legend_key
from fecallab.report.model import AdequacyBlock, AnswerBlock, CasePage, ExamPage, PictureBlock

NO_DIAGNOSIS = (
    "This page records what was seen under a microscope. It is no diagnosis. What is to be done is your "
    "vet's decision; where the vet or the law of your place says otherwise than this page, they hold."
)
"""Stands on every page."""

RESULT_WORDS = {
    "positive": "positive",
    "negative": "negative: none found",
    "inconclusive": "inconclusive",
    "unsure": "waiting for the vet's word",
}
_PAGE_FILE = re.compile(r"[\w.-]+\.html?", re.ASCII)
_REACHED = (followup.CLEAR, followup.LOW_BURDEN_MET)


def render_exam(page: ExamPage) -> str:
    """Return the page of one exam as HTML.

    Parameters
    ----------
    page : ExamPage
        Everything that stands on it. Picture files are read and scaled here.

    Returns
    -------
    str
        A whole document; the same page object gives the same text.

    Raises
    ------
    BadInput, CouldNot
        When a picture file is no picture or cannot be read.
    """
    title = f"Stool exam of {words.owner(page.animal)}, {figures.day(page.sample.taken_on)}"
    return _render(
        "exam.html",
        page,
        title,
        page.pictures,
        results=[answer_entry(block.answer.for_case, block) for block in page.answers],
        strips=[charts.field_strip(row.per_field_counts) for row in page.counts],
        missing=what_is_missing(page),
    )


def render_case(page: CasePage) -> str:
    """Return the page of one case as HTML.

    Parameters
    ----------
    page : CasePage
        Everything that stands on it. Picture files are read and scaled here.

    Returns
    -------
    str
        A whole document; the same page object gives the same text.

    Raises
    ------
    BadInput, CouldNot
        When a picture file is no picture or cannot be read.
    """
    weight, trend = words.weight_trend(page.weights)
    return _render(
        "case.html",
        page,
        f"{words.owner(page.animal)}: {page.about}",
        page.pictures,
        standing=words.standing_line(page.standing),
        weight=weight,
        trend=trend,
        steps=page.next_steps or _ways_forward(page.standing.reasons),
        chart=charts.time_axis_chart(page),
        reached=page.standing.standing in _REACHED,
        means_only=any("means only" in reason.text for reason in page.standing.reasons),
    )


def _render(template: str, page: Any, title: str, shown: tuple[PictureBlock, ...], **more: Any) -> str:
    jpegs = pictures.jpegs_of(shown)
    blocks = [
        picture_entry(block, jpeg, f"p{number}")
        for number, (block, jpeg) in enumerate(zip(shown, jpegs, strict=True), start=1)
    ]
    return (
        page_environment()
        .get_template(template)
        .render(
            page=page,
            title=title,
            style=Markup(page_style()),
            no_diagnosis=NO_DIAGNOSIS,
            shape_defs=Markup(pictures.shape_defs(shown)),
            picture_blocks=blocks,
            **more,
        )
    )


def picture_entry(block: PictureBlock, jpeg: bytes, name: str) -> dict[str, Any]:
    """Return what the template shows of one picture; ``name`` starts its ids on the page."""
    return {
        "block": block,
        "src": Markup(pictures.data_uri(jpeg)),
        "overlay": Markup(pictures.overlay(block, name)),
        "alt": pictures.alt_text(block),
        "rows": [{**row, "key": Markup(row["key"])} for row in pictures.mark_rows(block)],
        "any_unsure": any(not line.mark.sure for line in block.marks),
        "named_by": sorted({line.mark.named_by for line in block.marks if line.mark.named_by}),
    }


def answer_entry(result: str, block: AnswerBlock) -> dict[str, Any]:
    """Return what the template shows of one answer of an exam."""
    return {"result": RESULT_WORDS[result], "block": block}


def what_is_missing(page: ExamPage) -> list[tuple[str, str]]:
    """Return (what, way forward) of what still keeps this exam from an answer, each once."""
    found: dict[tuple[str, str], None] = {}
    for block in page.answers:
        if block.answer.result == "inconclusive":
            for reason in block.answer.reasons:
                found.setdefault((reason.text, reason.next))
    return list(found)


def _ways_forward(reasons: tuple[Reason, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(reason.next for reason in reasons if reason.next))


def adequacy_verdict(block: AdequacyBlock) -> str:
    """Say whether a preparation could have shown it: yes, no, or not known because answers are missing."""
    if block.adequate:
        return "Yes"
    answers = {condition.answer for condition in block.conditions}
    return "Not known" if "not known" in answers and "no" not in answers else "No"


def _page_link(name: str) -> str:
    """Return a link to a page beside this one, or nothing: no scheme, no path, no other site."""
    return name if _PAGE_FILE.fullmatch(name) else ""


def _bound_words(bound: Bound) -> str:
    return bound.says or f"under {figures.number(bound.value)} {bound.unit.replace('_', ' ')}"


def _tidied(value: Any) -> Any:
    """Let no control character and no turned reading direction reach a page."""
    if isinstance(value, Markup) or not isinstance(value, str):
        return "" if value is None else value
    return figures.tidy(value)


@cache
def page_style() -> str:
    """Return the style sheet of all pages."""
    return resources.files("fecallab.report").joinpath("templates", "page.css").read_text("utf-8")


@cache
def page_environment(*packages: str) -> Environment:
    """Return the template environment of all pages: everything is escaped, nothing undefined is printed.

    Parameters
    ----------
    *packages : str
        Packages whose templates come before those of the reports, which they may extend.
    """
    environment = Environment(
        loader=ChoiceLoader([PackageLoader(name) for name in (*packages, "fecallab.report")]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_tidied,
    )
    environment.filters.update(
        day=figures.day,
        moment=figures.moment,
        number=figures.number,
        percent=figures.percent,
        interval=figures.interval,
        objective=figures.objective,
        seen=words.seen_words,
        svg=Markup,
    )
    environment.globals.update(
        words=words,
        grams=figures.grams,
        burden_words=charts.burden_words,
        bound_words=_bound_words,
        page_link=_page_link,
        verdict=adequacy_verdict,
        legend_key=lambda kind: Markup(legend_key(kind)),
        result_words=RESULT_WORDS,
    )
    return environment
