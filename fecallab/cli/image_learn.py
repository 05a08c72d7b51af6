"""``image learn``: fit the ranker of proposals to this record folder's own confirmed marks, and go back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import JSON, RECORDS, now, open_folder
from fecallab.cli.output import emit, say
from fecallab.domain.errors import BadInput, FecallabError
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from fecallab.domain.exam import Reading
    from fecallab.imaging.detect.learn import OwnExamples
    from fecallab.records.reader import Reader


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(learn)


def learn(
    back: bool = typer.Option(False, "--back", help="Take back what was learnt last."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Let proposals learn from your confirmed marks, if that is better on exams left out; else all stays."""
    from fecallab.imaging.detect.kept import BEFORE, FOLDER, LEARNT, ranker_of, write_text
    from fecallab.imaging.detect.learn import learn as fit
    from fecallab.imaging.detect.train import TABLE, data_folder, ranker_text, read_table

    with open_folder(records) as store:
        folder = store.folder
        if back:
            _go_back(folder, as_json)
            return
        own, unsized = _own_examples(store)
    old = ranker_of(folder)
    lesson = fit(own, read_table(data_folder() / TABLE), old, f"own marks {now():%Y-%m-%d %H:%M:%S}")
    if lesson.ranker is not None:
        place = folder / FOLDER / LEARNT
        if place.is_file():
            write_text(folder / FOLDER / BEFORE, place.read_text(encoding="utf-8"))
        write_text(place, ranker_text(lesson.ranker))
    used = lesson.ranker or old
    payload: dict[str, Any] = {
        "learnt": lesson.ranker is not None,
        "average_precision_before": lesson.before,
        "average_precision_after": lesson.after,
        "exams": lesson.exams,
        "confirmed_outlines": lesson.right,
        "marks_without_size": unsized,
        "edition": used.edition,
        "threshold": used.threshold,
        "thresholds": used.thresholds,
        "why": lesson.why,
    }
    lines = [lesson.why]
    if unsized:
        lines.append(
            f"  {number_of(unsized, 'sure mark')} without a size taught nothing: measure (M or O in the marking"
            " window), or accept a proposal, which has its size."
        )
    if lesson.ranker is not None:
        lines.append(
            "  Proposals are made anew with: fecallab exam propose EXAM. Take it back: fecallab image learn --back"
        )
    emit(payload, "\n".join(lines), as_json)


def _go_back(folder: Path, as_json: bool) -> None:
    from fecallab.imaging.detect.kept import BEFORE, FOLDER, LEARNT, ranker_of

    place, before = folder / FOLDER / LEARNT, folder / FOLDER / BEFORE
    if not place.is_file():
        raise BadInput(
            "Nothing was learnt here; the ranker trained on drawings is used.",
            next="Type: fecallab image learn",
            code="nothing-learnt",
        )
    place.unlink()
    if before.is_file():
        before.replace(place)
    used = ranker_of(folder)
    emit({"learnt": False, "edition": used.edition}, f"Taken back. Used now: {used.edition}.", as_json)


def _own_examples(store: Reader) -> tuple[list[OwnExamples], int]:
    """Trace the pictures that a person has read, and tell outlines right or wrong by the marks.

    The vet's word on a mark goes before the keeper's; unsure marks and those without a size teach nothing either
    way. The number of the latter is returned too.
    """
    from fecallab.domain.organism import NEVER_A_CASE
    from fecallab.domain.verdict import ruled
    from fecallab.imaging.detect.learn import OwnExamples
    from fecallab.imaging.read import open_picture
    from fecallab.reference.organisms import group_of

    own, unsized = [], 0
    for exam in (ruled(one) for one in store.exams()):
        for preparation in exam.preparations:
            for reading in preparation.readings:
                if not _teaches(reading):
                    continue
                unsized += sum(
                    one.sure and not one.length_um and group_of(one.name) not in NEVER_A_CASE
                    for one in reading.marks
                )
                try:
                    pixels = open_picture(store.picture_path(reading.picture))
                except FecallabError as error:
                    say(f"{exam.code}: left out, {error.reason.text}")
                    continue
                optics = f"{reading.objective:g}x" if reading.objective else ""
                features, told = _told(pixels, reading, group_of)
                used = told >= 0
                own.append(OwnExamples(exam.code, optics, features[used], told[used] == 1))
                say(f"{exam.code}: {number_of(int((told == 1).sum()), 'outline')} confirmed by marks")
    return own, unsized


def _teaches(reading: Reading) -> bool:
    """Say whether a person read the picture; one that was only taken in is no empty field."""
    if not reading.picture or not reading.um_per_px:
        return False
    return bool(reading.marks) or (not reading.tally() and reading.proposals != "")


def _told(pixels: Any, reading: Any, group_of: Any) -> tuple[Any, Any]:
    """Features of a picture's outlines; 1 for those on a sure organism, 0 for wrong ones, -1 for open ones."""
    import numpy as np

    from fecallab.domain.organism import NEVER_A_CASE
    from fecallab.imaging.detect.absorption import ground_of
    from fecallab.imaging.detect.examples import Field, Known, label
    from fecallab.imaging.detect.propose import candidates

    scale = reading.um_per_px
    found = candidates(pixels, scale, ground_of(pixels))[0]
    ellipses = found.ellipses
    known, open_ones = [], []
    for mark in reading.marks:
        if mark.sure and mark.length_um and group_of(mark.name) not in NEVER_A_CASE:
            width_um = mark.width_um or mark.length_um
            known.append(Known(True, mark.x_px, mark.y_px, mark.length_um, width_um))
        elif not mark.sure or group_of(mark.name) not in NEVER_A_CASE:
            open_ones.append(mark)
    told = label(ellipses, Field(pixels, scale, tuple(known), "", 0.0))
    for mark in open_ones:
        near = np.hypot(ellipses.x - mark.x_px, ellipses.y - mark.y_px) * scale < (mark.length_um or 60.0)
        told[near & (told == 0)] = -1
    return found.features, told
