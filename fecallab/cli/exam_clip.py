"""``exam read-clip``: what swims in a clip becomes a reading of a preparation."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from fecallab.cli.common import BY, JSON, RECORDS, now, number_or_none, open_folder, who
from fecallab.domain.errors import BadInput, Refused
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from fecallab.domain.exam import Exam, Picture, Reading
    from fecallab.imaging.motility import MotilityResult

HOW_TO_SCALE = "Calibrate first: fecallab image calibrate RULER.jpg --division-um 10, then type --um-per-px with its number."


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("read-clip")(read_clip)


def read_clip(
    preparation: str = typer.Argument(help="Code of the preparation, E1-1."),
    file: Path = typer.Argument(help="A video, a TIFF stack or a folder of numbered pictures of one field."),
    objective: str | None = typer.Option(None, help="Objective, 10 or 40."),
    um_per_px: str | None = typer.Option(None, help="Scale from a calibration, µm per pixel of the clip."),
    of: str = typer.Option("", help="Your name for what swims: flagellate, ciliate …"),
    unsure: bool = typer.Option(
        False, "--unsure", help="You are not sure of the name; the vet's word is asked for."
    ),
    fps: str | None = typer.Option(None, help="Frames per second, where the file has none or false ones."),
    by: str | None = BY,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Record a clip of one field as a reading: how many swim at once, with the interval, under your name for them."""
    from fecallab.cli.exam import _say_recorded, open_cases
    from fecallab.cli.exam_input import organism_name
    from fecallab.domain.clip_words import clip_remark
    from fecallab.imaging.clip_stack import ready_clip
    from fecallab.imaging.motility import assess_motility, open_clip
    from fecallab.records.clips import take_clip

    scale = number_or_none(um_per_px, "--um-per-px", low=1e-4, high=1e4)
    power = number_or_none(objective, "--objective", low=0.25, high=250)
    for value, option, step in (
        (scale, "--um-per-px", HOW_TO_SCALE),
        (power, "--objective", "Type: --objective 40"),
    ):
        if not value:
            raise BadInput(f"A clip is read with {option}.", next=step, code="clip-options")
    name = organism_name(of) if of else ""
    assert scale and power
    rate = number_or_none(fps, "--fps", low=1e-3, high=1e5)
    clip = open_clip(file, rate)
    found = assess_motility(clip, scale)
    if not found.assessable:
        raise Refused(found.reasons)
    reading = reading_of(found, f"clip {file.name}", name, unsure, power)
    ready = ready_clip(file, rate)
    with closing(ready), open_folder(records) as store, store.write(by=who(by), now=now()) as writer:
        code = preparation.strip().upper()
        exam = writer.exam(code.partition("-")[0])
        if code not in {one.code for one in exam.preparations}:
            codes = ", ".join(one.code for one in exam.preparations) or "none"
            text = f"There is no preparation {preparation!r}; exam {exam.code} has: {codes}."
            raise BadInput(text, next="Type one of these.", code="unknown-preparation")
        kept = take_clip(writer, ready.file, clip.width_px, clip.height_px, ready.name)
        _refuse_twice(exam, kept, writer.pictures())
        reading = replace(reading, remark=clip_remark(kept.file_name, kept.sha256, rate))
        writer.add_readings(code, (reading,))
        whole = writer.exam(exam.code)
        known = writer.sample(exam.sample)
        animal = writer.animal(known.animal)
        opened, notes = open_cases(writer, whole, known, animal, exam)
    if not found.motile_count:
        notes.append(
            "Nothing swims in this clip. Whether that says anything depends on how fresh the stool was: stale or cooled, it is"
            f" 'motility not assessable', never negative. See: fecallab exam show {exam.code}"
        )
    if ready.pictures:
        notes.append(f"The {ready.pictures} pictures are kept without loss as one file, {kept.file_name}.")
    notes += [f"{one.text} {one.next}".strip() for one in found.warnings]
    _say_recorded(whole, known, animal, opened, notes, as_json, exam)


def _refuse_twice(exam: Exam, clip: Picture, pictures: Sequence[Picture]) -> None:
    """Refuse a clip that is a reading of this exam already: its swimmers would count twice."""
    from fecallab.records.clips import clip_of

    for preparation in exam.preparations:
        for reading in preparation.readings:
            before = clip_of(reading, pictures)
            if before is not None and before.picture.sha256 == clip.sha256:
                raise BadInput(
                    f"{clip.file_name} is the clip of {reading.code} already.",
                    next=f'To read it anew: fecallab withdraw {reading.code} --reason "…", then repeat.',
                    code="clip-twice",
                )


def reading_of(found: MotilityResult, remark: str, name: str, unsure: bool, objective: float) -> Reading:
    """Return the reading that a clip gives; what swims needs the keeper's name, since a clip names nothing.

    `remark` names the clip.

    Raises
    ------
    BadInput
        Something swims and no name was given.
    """
    from fecallab.domain.clip_words import counted_swimmers
    from fecallab.domain.exam import Reading

    mean, ends = found.mean_swimming_at_once, found.mean_swimming_interval
    assert mean is not None and ends is not None
    if found.motile_count and not name:
        like = sorted({group for one in found.of_kind("swimming") for group in one.moves_like})
        hint = f" By size and manner it may be: {', '.join(like)}." if like else ""
        raise BadInput(
            f"{number_of(found.motile_count, 'swimmer')} {'was' if found.motile_count == 1 else 'were'} found; a clip cannot name them.{hint}",
            next="Give your name for them: --of flagellate (and --unsure when you are not sure)",
            code="organism-missing",
        )
    count = counted_swimmers(found.motile_count or 0, mean)
    seen = {name: count} if name else {}
    return Reading(
        kind="field",
        objective=objective,
        um_per_px=found.um_per_px,
        counts={} if unsure else seen,
        unsure=seen if unsure and count else {},
        remark=remark,
        mean_swimming=mean,
        mean_swimming_low=ends[0],
        mean_swimming_high=ends[1],
        clip_seconds=found.clip_seconds,
    )
