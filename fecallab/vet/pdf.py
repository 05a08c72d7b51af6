"""The page to the vet as a PDF: the same letter on paper, with boxes to tick, drawn without any system library."""

from __future__ import annotations

from collections.abc import Sequence

from fecallab.report import words
from fecallab.report.figures import day
from fecallab.report.moving import NO_DIAGNOSIS as HINT
from fecallab.report.page import NO_DIAGNOSIS
from fecallab.vet.page_model import PageToVet, VetClip, VetItem
from fecallab.vet.page_words import (
    MARK_WORDS,
    answered_words,
    doubtful_heading,
    example_answer,
    plain,
    rest_words,
    results_of,
    standings_of,
    subject_words,
    treatment_words,
)
from fecallab.vet.pdf_paper import Letter
from fecallab.vet.pdf_pictures import crop_picture, field_height, field_picture, locator
from fecallab.vet.pdf_record import write_record

_CROP_MM = 36.0
_LOCATOR_MM = 20.0
_ASKED = (
    (("drug", 40.0, ""), ("dose", 18.0, "mg per kg"), ("strength", 18.0, "mg per ml")),
    (("route", 28.0, ""), ("every", 12.0, "days"), ("doses", 12.0, ""), ("weight at most", 10.0, "days old")),
    (("follow-up:", 12.0, "exams"), ("from stool to stool", 12.0, "days"), ("wait", 12.0, "days")),
    (("advice, and when to be called again", 110.0, ""),),
)
"""What a plan needs, as (label, mm to write on, unit), line by line."""


def vet_pdf(page: PageToVet, paper: str = "a4") -> bytes:
    """Return the page as a PDF.

    Parameters
    ----------
    page : PageToVet
        One part of what `mail.packed` made; its pictures are JPEG.
    paper : str, optional
        ``a4`` or ``letter``.

    Returns
    -------
    bytes
        The same page gives the same bytes.
    """
    title = f"{words.owner(page.animal)}: for the vet, {day(page.made_on)}"
    letter = Letter(paper, plain(title), page.made_on, f"{words.owner(page.animal)} · page {page.page_id}")
    _head(letter, page)
    _doubts(letter, page)
    _how(letter, page)
    _pictures(letter, page)
    if page.part == 1:
        write_record(letter, page)
    letter.gap(4)
    letter.keep(14)
    letter.line_across()
    letter.tell(NO_DIAGNOSIS, 7.5)
    stamp = page.stamp
    letter.tell(
        f"Made on {day(stamp.made_on)} with fecallab {stamp.program_version}; rules and reference tables of "
        f"edition {stamp.edition}. Intervals are 95 % intervals unless another is named.",
        7.5,
    )
    return letter.content()


def _head(letter: Letter, page: PageToVet) -> None:
    to = f"To {page.to_whom}" if page.to_whom else "To the vet"
    sender = f", from {page.from_whom}" if page.from_whom else ""
    part = f" · page {page.part} of {page.parts}" if page.parts > 1 else ""
    letter.tell(f"{to}{sender} · {day(page.made_on)}{part}", 9)
    letter.gap(2)
    if page.asks and page.part == 1:
        letter.tell(f"“{page.asks}”", 15, bold=True)
    else:
        letter.tell(
            f"{words.owner(page.animal)}: {'more pictures ' if page.part > 1 else ''}for your word",
            15,
            bold=True,
        )
    letter.gap(1)
    animal = page.animal
    age = {True: "adult", False: "young", None: ""}[animal.adult]
    who = [words.owner(animal), animal.species, age, animal.code, subject_words(page)]
    letter.tell(" · ".join(part for part in who if part), 10)
    if page.parts > 1:
        more = (
            "History, doses and the plan stand on this one."
            if page.part == 1
            else ("The question, the history and the plan stand on page 1.")
        )
        letter.tell(
            f"This is page {page.part} of {page.parts}: the pictures are too many for one mail. {more}", 9
        )
    letter.gap(2)
    if page.part > 1:
        return
    weight, trend = words.weight_trend(page.weights)
    rows = [("weight", f"{weight}; {trend}" if weight else "not weighed yet")]
    for entry in standings_of(page):
        said = f"{entry['word']} {entry['added']}".strip()
        rows.append((entry["about"], f"{said}. {entry['why']}" if entry["why"] else said))
    rows += [(line["what"], line["said"]) for line in results_of(page)]
    letter.pairs(rows)
    for note in page.notes:
        letter.tell(note, 9)


def _doubts(letter: Letter, page: PageToVet) -> None:
    letter.heading(doubtful_heading(page))
    for one in page.doubtful:
        _doubt(letter, one, page)
    rest = rest_words(page)
    if rest:
        letter.keep(14)
        letter.tell(rest, 9.5)
        letter.gap(1.5)
        letter.boxes([f"I agree with {'the rest' if page.doubtful else 'all of them'}"])
    if page.answered:
        letter.tell(answered_words(page), 9.5)


def _doubt(letter: Letter, one: VetItem, page: PageToVet) -> None:
    letter.keep(_CROP_MM + 4)
    top, left = letter.at, letter.left
    if one.crop is not None and one.picture is not None:
        crop_picture(letter, one.crop, left, top, _CROP_MM)
        locator(letter, one, page.pictures[one.picture], left + _CROP_MM + 2, top, _LOCATOR_MM)
        left += _CROP_MM + _LOCATOR_MM + 6
    name = one.words if one.item.count == 1 else f"{one.words}, {one.item.count} of them"
    wide = letter.right - left
    letter.number(one.item.number, left, top)
    letter.tell(f"{name}{'' if one.item.sure else '?'}", 11, bold=True, x=left + 11, width=wide - 11)
    letter.gap(1.6)
    fit = one.fit if one.fit in ("", "fits") else f"{one.fit} for the name"
    said = f"{one.why_doubtful[:1].upper()}{one.why_doubtful[1:]}. "
    said += f"{one.size}{', ' + fit if fit else ''}. " if one.size else ""
    letter.tell(f"{said}{one.where}.", 8.5, x=left, width=wide)
    if one.fits:
        letter.tell(f"By size it fits: {'; '.join(one.fits)}.", 8, x=left, width=wide)
    if one.nearly:
        letter.tell(f"Nearly: {'; '.join(one.nearly)}.", 8, x=left, width=wide)
    letter.gap(0.8)
    letter.boxes(
        [text if verdict != "other" else f"{text}: ______________" for verdict, text in MARK_WORDS], x=left
    )
    letter.at = max(letter.at, top + (_CROP_MM if one.crop else 0)) + 4


def _how(letter: Letter, page: PageToVet) -> None:
    letter.keep(26)
    letter.heading("How to answer")
    letter.tell(
        f"Tick and send this sheet back, or write in words of your own, by number: “{example_answer(page)}” "
        "The keeper types it in, number by number, and keeps your message beside it. "
        f"Please name this page: {page.page_id}.",
        9.5,
    )

    for case in page.cases if page.part == 1 else ():
        letter.gap(2)
        letter.keep(30)
        letter.tell(f"Case {case.page.case.code}, {case.page.about}", 9.5, bold=True)
        letter.gap(1)
        for plan in case.treatments:
            when = day(plan.written_on)
            letter.boxes([f"same plan as on {when}, today's weight"])
            letter.tell(treatment_words(plan), 8.5, x=letter.left + 4.8, width=letter.wide - 4.8)
            letter.gap(1)
        letter.boxes(["no drug now", "a new plan:"])
        for asked in _ASKED:
            letter.keep(8)
            x = letter.left
            for label, width, unit in asked:
                x = letter.asked(x, letter.at + 1.5, label, width, unit, 9)
            letter.at += 7.5
    letter.keep(9)
    x = letter.asked(letter.left, letter.at + 2, "name", 62, "", 9)
    letter.asked(x, letter.at + 2, "date", 34, "", 9)
    letter.at += 8


def _pictures(letter: Letter, page: PageToVet) -> None:
    if not page.pictures and not page.clips:
        return
    first = page.pictures[0].block if page.pictures else None
    letter.heading("Pictures", keep_mm=36 + (field_height(letter, first) if first else 60))
    if page.scaled:
        letter.tell("The pictures were made smaller for this page; the crops above were not.", 8.5)
    for place, picture in enumerate(page.pictures):
        mine = [one for one in page.items if one.picture == place]
        title = picture.block.title if len(page.exams) < 2 else f"{picture.exam}: {picture.block.title}"
        field_picture(letter, picture, title)
        if picture.block.caption:
            letter.tell(picture.block.caption, 8.5)
        for line in _found(mine):
            letter.tell(line, 8.5)
        if not mine:
            seen = words.seen_words(picture.block.counts)
            letter.tell(f"Counted: {seen}." if picture.block.counts else "Nothing marked.", 8.5)
        letter.gap(4)
    for clip in page.clips:
        _clip(letter, clip)


def _clip(letter: Letter, clip: VetClip) -> None:
    """Place a clip: its stills, the ways of what moves, and the words that the page has."""
    letter.stills([jpeg for _, jpeg in clip.stills], clip.width_px / clip.height_px)
    beside = f"; the film travels beside this page as {clip.film_name}" if clip.film_name else ""
    drawn = f", and with what moves drawn in as {clip.tracks_name}" if clip.tracks_name else ""
    read = f", read as {clip.reading}" if clip.reading else ""
    large = "; the film is too large for a mail" if clip.film_left_out else ""
    letter.tell(f"{clip.title}, a clip of {clip.seconds:.1f} seconds{read}{beside}{drawn}{large}.", 8.5)
    if clip.tracks_jpeg:
        letter.tracks(clip.tracks_jpeg)
    if clip.kept:
        letter.tell(f"{clip.kept}{f', counted as {clip.counted}' if clip.counted else ''}.", 10)
    elif clip.reading:
        letter.tell("How many swim was not kept by the keeper.", 8.5)
    if clip.facts is None:
        return
    if clip.reading and not clip.kept:
        letter.tell(f"Worked out for this page: {clip.facts.headline}.", 8.5)
    kinds = " · ".join(f"{row.number} {row.words}" for row in clip.facts.kinds)
    notes = [f"Note: {note}" for note in clip.facts.notes]
    swimmers = [one.line for one in clip.facts.swimmers]
    hint = [f"{clip.facts.moves_like} {HINT}"] if clip.facts.moves_like else []
    for line in [*clip.facts.lines, kinds, *swimmers, *hint, *notes]:
        if line:
            letter.tell(line, 8.5)


def _found(items: Sequence[VetItem]) -> list[str]:
    by_name: dict[tuple[str, bool], list[str]] = {}
    for one in items:
        fit = f" {one.fit}" if one.fit and one.fit != "fits" else ""
        vets = f" ({one.vets_note})" if one.vets_note else ""
        size = f" {one.size}" if one.size else ""
        by_name.setdefault((one.words, one.item.sure), []).append(
            f"{one.item.number}{':' if size or fit or vets else ''}{size}{fit}{vets}"
        )
    return [
        f"{name}{'' if sure else ' (unsure, not counted)'} · {' · '.join(entries)}"
        for (name, sure), entries in by_name.items()
    ]
