"""Turn a page object into the one file that travels: complete without scripts, answerable with them, fetching nothing."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from functools import cache
from html import escape
from importlib import resources
from typing import Any

from markupsafe import Markup

from fecallab.domain.organism import NEVER_A_CASE
from fecallab.domain.plan import GOALS, Plan
from fecallab.imaging.overlay import scale_bar
from fecallab.report import charts, figures, pictures, words
from fecallab.report.moving import NO_DIAGNOSIS as HINT
from fecallab.report.moving import OF_SPEEDS
from fecallab.report.page import NO_DIAGNOSIS, answer_entry, page_environment, page_style
from fecallab.vet.answer import PICTURE_QUALITY_WORDS
from fecallab.vet.page_data import page_data
from fecallab.vet.page_model import Crop, PageToVet, VetCase, VetClip, VetExam, VetItem, VetPicture
from fecallab.vet.page_tracks import kind_sign
from fecallab.vet.page_words import (
    MARK_WORDS,
    adequacy_words,
    answered_words,
    doubtful_heading,
    example_answer,
    rest_words,
    results_of,
    standings_of,
    subject_words,
    treatment_words,
)


def render_vet_page(page: PageToVet) -> str:
    """Return one page as HTML; its pictures are JPEG already (`mail.packed`).

    Parameters
    ----------
    page : PageToVet
        One part of what `mail.packed` made of the page.

    Returns
    -------
    str
        A whole document; the same page object gives the same text.
    """
    blocks = [picture.block for picture in page.pictures]
    script = page_script()
    thumbnails = "".join(_thumbnail(place, one) for place, one in enumerate(page.pictures) if one.thumbnail)
    weight, trend = words.weight_trend(page.weights)
    environment = page_environment("fecallab.vet")
    return environment.get_template("vet.html").render(
        page=page,
        title=f"{words.owner(page.animal)}: for the vet, {figures.day(page.made_on)}",
        style=Markup(page_style() + vet_style()),
        no_diagnosis=NO_DIAGNOSIS,
        shape_defs=Markup(pictures.shape_defs(blocks) + _hidden(thumbnails)),
        script_hash=Markup(f"'sha256-{_digest(script)}'"),
        script=Markup(script),
        data=Markup(page_data(page)),
        subject_words=subject_words(page),
        weight=weight,
        trend=trend,
        standings=standings_of(page),
        results=results_of(page),
        notes=page.notes,
        doubtful_heading=doubtful_heading(page),
        doubtful=[_doubt(one, page) for one in page.doubtful],
        rest_words=rest_words(page),
        answered_words=answered_words(page),
        example=example_answer(page),
        mark_words=MARK_WORDS,
        pictures=[_picture(place, one, page) for place, one in enumerate(page.pictures)],
        clips=[_clip(one) for one in page.clips],
        counted=[one for one in page.items if one.mark is None],
        exams=[_exam(one) for one in page.exams],
        cases=[_case(one) for one in page.cases],
        quality_words=[word for word in PICTURE_QUALITY_WORDS if word],
        goals=GOALS,
        treatment_words=treatment_words,
        adequacy_words=adequacy_words,
    )


@cache
def vet_style() -> str:
    """Return what the page to the vet adds to the style sheet of all pages."""
    return _template("vet.css")


@cache
def page_script() -> str:
    """Return the one script of the page; its hash stands in the page's own rule on what may run.

    What the first screen needs runs at once; the answer and the viewer start when the whole page is there.
    """
    at_once = _template("vet_state.js") + _template("vet_cards.js")
    answer = f"function startAnswer() {{\n{_template('vet_block.js')}{_template('vet_form.js')}}}\n"
    viewer = f"function startViewer() {{\n{_template('vet_viewer.js')}}}\n"
    return f'(function () {{\n"use strict";\n{at_once}{answer}{viewer}{_template("vet_late.js")}}})();\n'


def _template(name: str) -> str:
    return resources.files("fecallab.vet").joinpath("templates", name).read_text("utf-8")


def _digest(script: str) -> str:
    return base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")


def _hidden(symbols: str) -> str:
    return (
        f'<svg class="defs" width="0" height="0" aria-hidden="true"><defs>{symbols}</defs></svg>'
        if symbols
        else ""
    )


def _locator_size(picture: VetPicture) -> tuple[float, float]:
    longest = max(picture.block.width_px, picture.block.height_px)
    return 100 * picture.block.width_px / longest, 100 * picture.block.height_px / longest


def _thumbnail(place: int, picture: VetPicture) -> str:
    width, height = _locator_size(picture)
    return (
        f'<image id="thumbnail-{place}" width="{width:.1f}" height="{height:.1f}" preserveAspectRatio="none"'
        f' href="{pictures.data_uri(picture.thumbnail)}"/>'
    )


def _doubt(one: VetItem, page: PageToVet) -> dict[str, Any]:
    fit = one.fit if one.fit in ("", "fits") else f"{one.fit} for the name"
    found: dict[str, Any] = {"no": one.item.number, "item": one, "fit": fit, "crop": None, "locator": None}
    if one.crop is not None and one.picture is not None and one.mark is not None:
        picture = page.pictures[one.picture]
        width, height = _locator_size(picture)
        share = width / picture.block.width_px
        found["crop"] = {
            "src": Markup(pictures.data_uri(one.crop.jpeg)),
            "side": one.crop.side_px,
            "overlay": Markup(_crop_overlay(one.crop)),
        }
        found["locator"] = {
            "name": f"thumbnail-{one.picture}",
            "width": f"{width:.1f}",
            "height": f"{height:.1f}",
            "x": f"{(one.mark.x_px + 0.5) * share:.1f}",
            "y": f"{(one.mark.y_px + 0.5) * share:.1f}",
            "r": "7",
        }
    return found


def _crop_overlay(crop: Crop) -> str:
    """Return the ticks that point to the middle of a crop, and its scale bar."""
    ticks = "M50 0v6M50 94v6M0 50h6M94 50h6"
    bar = ""
    if crop.um_per_px:
        drawn = scale_bar(crop.um_per_px, crop.side_px, 0.4)
        length = 100 * drawn.length_px / crop.side_px
        line = f"M{95 - length:.1f} 93h{length:.1f}"
        bar = (
            f'<path class="white" d="{line}"/><path class="ink" d="{line}"/>'
            f'<text x="{95 - length / 2:.1f}" y="90">{escape(drawn.label)}</text>'
        )
    return (
        '<svg class="overlay" viewBox="0 0 100 100" aria-hidden="true">'
        f'<path class="white" d="{ticks}"/><path class="ink" d="{ticks}"/>{bar}</svg>'
    )


def _picture(place: int, picture: VetPicture, page: PageToVet) -> dict[str, Any]:
    block = picture.block
    return {
        "place": place,
        "block": block,
        "title": f"{picture.exam}: {block.title}" if len(page.exams) > 1 else block.title,
        "src": Markup(pictures.data_uri(picture.jpeg)),
        "overlay": Markup(pictures.overlay(block, f"p{place}")),
        "alt": pictures.alt_text(block),
        "groups": _groups([one for one in page.items if one.picture == place]),
    }


def _groups(items: Sequence[VetItem]) -> list[dict[str, Any]]:
    """Return the marks of one picture by name, the keeper's sure ones apart from the unsure."""
    by_name: dict[tuple[bool, str, str], list[VetItem]] = {}
    for one in items:
        by_name.setdefault((not one.item.sure, one.words, one.group), []).append(one)
    groups = []
    for (unsure, name, group), members in by_name.items():
        tell = group not in NEVER_A_CASE
        all_fit = tell and len(members) > 1 and all(one.fit == "fits" for one in members)
        groups.append(
            {
                "key": Markup(pictures.shape_key(group, sure=not unsure)),
                "words": name,
                "unsure": unsure,
                "all_fit": all_fit,
                "entries": [
                    {
                        "no": f"{one.item.number}",
                        "size": one.size,
                        "fit": one.fit if tell and not all_fit else "",
                        "vets_note": one.vets_note,
                    }
                    for one in members
                ],
            }
        )
    return groups


def _clip(clip: VetClip) -> dict[str, Any]:
    tracks = clip.tracks or ("",) * len(clip.stills)
    return {
        "clip": clip,
        "stills": [
            {
                "at": f"{figures.number(second)} s",
                "src": Markup(pictures.data_uri(jpeg)),
                "tracks": Markup(drawn),
            }
            for (second, jpeg), drawn in zip(clip.stills, tracks, strict=True)
        ],
        "signs": {row.kind: Markup(kind_sign(row.kind)) for row in clip.facts.kinds} if clip.facts else {},
        "of_speeds": OF_SPEEDS,
        "hint": HINT,
    }


def _exam(exam: VetExam) -> dict[str, Any]:
    return {
        "page": exam.page,
        "grades": exam.grades,
        "words_of_vets": exam.words_of_vets,
        "results": [answer_entry(block.answer.for_case, block) for block in exam.page.answers],
        "strips": [charts.field_strip(row.per_field_counts) for row in exam.page.counts],
    }


def _case(case: VetCase) -> dict[str, Any]:
    treatments: tuple[Plan, ...] = case.treatments
    return {
        "page": case.page,
        "treatments": treatments,
        "grades": case.grades,
        "chart": charts.time_axis_chart(case.page),
    }
