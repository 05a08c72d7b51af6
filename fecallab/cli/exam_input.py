"""Turns what was typed for an exam into preparations and readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fecallab.cli.common import number_or_none, one_of, read_time
from fecallab.cli.method_names import method_named
from fecallab.cli.output import say
from fecallab.cli.typed import read_counts
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Mark, Picture, Preparation, Reading
from fecallab.domain.near_spelling import near_spellings
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from fecallab.records.writer import Writer

CHAMBER_METHODS = ("mcmaster", "stoll_dilution")


def organism_name(text: str) -> str:
    """Return the organism key or group for what was typed, or say what is near."""
    from fecallab.reference.adequacy import adequacy_facts

    groups = adequacy_facts().group_of
    word = text.strip().lower()
    if word in groups:
        keys = {name for name, group in groups.items() if name == group}
        return word if "_" in word or word in keys else groups[word]
    near = near_spellings(word, groups)
    raise BadInput(
        f"{text[:40]!r} is no organism or group that is known here.",
        next=f"Did you mean {' or '.join(near)}?" if near else "Type: fecallab reference list",
        code="unknown-organism",
    )


def preparation_from(options: Mapping[str, Any]) -> Preparation:
    """Return the preparation that the options describe, without readings."""
    from fecallab.domain.field import COVER_GLASS_SIDES_MM

    method = method_named(options["method"])
    sample_g = number_or_none(options["sample_g"], "--sample-g", low=0.001, high=1000)
    suspension = number_or_none(options["suspension_ml"], "--suspension-ml", low=0.01, high=10_000)
    counted = number_or_none(options["counted_ml"], "--counted-ml", low=0.001, high=10_000)
    if suspension and counted and counted > suspension:
        text = f"--counted-ml {counted:g} is more than --suspension-ml {suspension:g}."
        raise BadInput(text, next="Swap or correct them.", code="volumes")
    return Preparation(
        method=method,
        read_at=read_time(options["read_at"], "--read-at"),
        cover_glass=one_of(options["cover_glass"], tuple(COVER_GLASS_SIDES_MM), "--cover-glass"),
        room_c=number_or_none(options["room_c"], "--room-c", low=-20, high=60),
        slide_warmed=options["slide_warmed"],
        solution=options["solution"],
        specific_gravity=number_or_none(options["specific_gravity"], "--gravity", low=0.9, high=2),
        gravity_checked=options["gravity_checked"],
        standing_minutes=number_or_none(options["standing_minutes"], "--standing-minutes", high=100_000),
        sample_g=sample_g,
        suspension_ml=suspension,
        counted_ml=counted,
    )


def readings_from(options: Mapping[str, Any], method: str, writer: Writer) -> tuple[Reading, ...]:
    """Return the readings that the options describe; pictures are copied in by the writer."""
    common = empty_reading(options, method)
    share = number_or_none(options["share"], "--share", low=0, high=1)
    if options["counts"] or share is not None or options["picture"]:
        check_objective(common)
    fields = _fields(common, options["counts"], options["of"], options["unsure"])
    fields = _with_pictures(common, fields, options, writer)
    whole: list[Reading] = []
    if share is not None:
        seen, unsure = _named(options["seen"], "--seen"), _named(options["unsure_seen"], "--unsure-seen")
        whole.append(replace(common, kind="sweep", cover_share=share, counts=seen, unsure=unsure))
    elif options["seen"] or options["unsure_seen"]:
        if method not in CHAMBER_METHODS:
            text = "--seen says what a sweep or a chamber showed, but not how much of the glass was read."
            raise BadInput(
                text, next="Type: --share 0.4  (the share of the cover glass)", code="share-missing"
            )
        seen, unsure = _named(options["seen"], "--seen"), _named(options["unsure_seen"], "--unsure-seen")
        whole.append(replace(common, kind="chamber", counts=seen, unsure=unsure))
    return (*fields, *whole)


def empty_reading(options: Mapping[str, Any], method: str) -> Reading:
    """Return what all readings of these options share, without what was seen."""
    return Reading(
        kind="chamber" if method in CHAMBER_METHODS else "field",
        objective=number_or_none(options["objective"], "--objective", low=0.25, high=250),
        field_number=number_or_none(options["field_number"], "--field-number", low=4, high=40),
        um_per_px=number_or_none(options["um_per_px"], "--um-per-px", low=0.001, high=1000),
    )


def check_objective(reading: Reading) -> None:
    """Refuse a field or a sweep without its objective."""
    if reading.objective is None:
        text = "A reading needs its objective: what a 10× cannot show is no negative."
        raise BadInput(text, next="Type: --objective 40", code="objective-missing")


def _named(pieces: Sequence[str], option: str) -> dict[str, int]:
    """Read ``oxyurid=2`` (repeated, or with commas between)."""
    found: dict[str, int] = {}
    for piece in (part for text in pieces for part in text.split(",") if part.strip()):
        name, sign, number = piece.partition("=")
        if not sign:
            raise BadInput(
                f"{option} is {piece[:40]!r}.", next=f"Type: {option} oxyurid=2", code="not-a-count"
            )
        key = organism_name(name)
        found[key] = found.get(key, 0) + read_counts(number, option)[0]
    return found


def _columns(pieces: Sequence[str], of: str, option: str) -> dict[str, list[int]]:
    """Read ``0,2,1`` (with --of) or ``oxyurid:0,2,1`` into counts per name."""
    columns: dict[str, list[int]] = {}
    for piece in pieces:
        name, sign, numbers = piece.rpartition(":")
        if not sign and not of:
            text = f"{option} {piece[:40]} does not say what was counted."
            raise BadInput(text, next=f"Type: {option} {piece[:40]} --of oxyurid", code="organism-missing")
        key = organism_name(name or of)
        if key in columns:
            text = f"{option} gives {key} twice."
            raise BadInput(
                text, next="Give every organism once, all its fields in one list.", code="given-twice"
            )
        columns[key] = read_counts(numbers, option)
    return columns


def _fields(common: Reading, counts: Sequence[str], of: str, unsure: Sequence[str]) -> list[Reading]:
    sure, open_ones = _columns(counts, of, "--counts"), _columns(unsure, of, "--unsure")
    lengths = {len(column) for column in (*sure.values(), *open_ones.values())}
    if len(lengths) > 1:
        text = f"The counts have different numbers of fields: {', '.join(map(str, sorted(lengths)))}."
        raise BadInput(
            text, next="Give one number per field for every organism, zeros too.", code="field-numbers"
        )
    number = lengths.pop() if lengths else 0
    return [
        replace(
            common,
            counts={name: column[i] for name, column in sure.items()},
            unsure={name: column[i] for name, column in open_ones.items() if column[i]},
        )
        for i in range(number)
    ]


def _with_pictures(
    common: Reading, fields: list[Reading], options: Mapping[str, Any], writer: Writer
) -> list[Reading]:
    """Attach pictures to fields in order, and marks to pictures by file name."""
    paths: list[Path] = options["picture"]
    marks_path: Path | None = options["marks"]
    if not paths:
        if marks_path is not None:
            raise BadInput("--marks without a picture.", next="Add: --picture FILE", code="picture-missing")
        return fields
    if fields and len(fields) != len(paths):
        text = f"{number_of(len(paths), 'picture')} for {number_of(len(fields), 'counted field')}."
        raise BadInput(text, next="Give one picture per field, in the same order.", code="field-numbers")
    names = [path.name for path in paths]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        text = f"Two of the pictures are called {twice}."
        step = "Give every picture once; rename one of two that share a name."
        raise BadInput(text, next=step, code="picture-twice")
    marks = marks_by_picture(marks_path, set(names)) if marks_path else {}
    fields = fields or [common for _ in paths]
    joined: list[Reading] = []
    for reading, path in zip(fields, paths, strict=True):
        on_it = marks.get(path.name, ())
        if on_it and (reading.counts or reading.unsure):
            text = f"{path.name} has marks and typed counts; one of them counts."
            raise BadInput(text, next="Leave out --counts: the marks are counted.", code="counted-twice")
        picture = take_in(path, writer)
        if any(other.picture == picture.sha256 for other in joined):
            text = f"{path.name} is the same picture as one before it."
            raise BadInput(text, next="Give every field once.", code="picture-twice")
        for mark in on_it:
            _check_inside(mark, picture, path.name)
        joined.append(replace(reading, picture=picture.sha256, marks=tuple(on_it)))
    _say_empty(
        [
            path.name
            for path, one in zip(paths, joined, strict=True)
            if not (one.marks or one.counts or one.unsure)
        ]
    )
    return joined


def _say_empty(names: list[str]) -> None:
    """Say which pictures become fields with nothing in them: a renamed one must not pass for a clean one."""
    if names:
        listed = ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")
        field = "a field" if len(names) == 1 else "fields"
        say(f"Nothing is marked on {listed}: recorded as {field} in which nothing was seen.")


def _check_inside(mark: Mark, picture: Picture, name: str) -> None:
    inside = -0.5 <= mark.x_px <= picture.width_px - 0.5 and -0.5 <= mark.y_px <= picture.height_px - 0.5
    if not inside:
        text = (
            f"A mark ({mark.name}) is at {mark.x_px:g}, {mark.y_px:g} px, outside {name}"
            f" ({picture.width_px} × {picture.height_px} px)."
        )
        raise BadInput(
            text, next="Are they the marks of this picture, at its full size?", code="mark-outside"
        )


def take_in(path: Path, writer: Writer) -> Picture:
    """Verify a picture and copy it into the record folder untouched."""
    from fecallab.imaging.read import verify_picture

    info = verify_picture(path)
    return writer.add_picture(
        path,
        Picture(
            sha256=info.sha256,
            file_name=path.name,
            format=info.format,
            width_px=info.width_px,
            height_px=info.height_px,
            bytes=info.bytes,
            taken_at=info.taken,
        ),
    )


def marks_by_picture(path: Path, names: set[str]) -> dict[str, tuple[Mark, ...]]:
    """Return the marks of a file by picture name; every name and organism must be known."""
    from urllib.parse import unquote

    from fecallab.imaging.marks_file import read_marks

    found: dict[str, list[Mark]] = {}
    plain = {Path(name).stem.casefold(): name for name in names}
    for source, mark in read_marks(path):
        picture = source if source in names else unquote(source)
        if picture and picture not in names:
            near = plain.get(Path(picture).stem.casefold())
            if near is not None:
                text = f"{path.name} has marks on {picture!r}, but the picture is called {near!r}."
                raise BadInput(text, next="Let both names be the same.", code="picture-name-differs")
            continue
        key = picture or next(iter(names)) if len(names) == 1 else picture
        if not key:
            text = f"{path.name} does not say which picture a mark is on."
            raise BadInput(text, next="Add a column: picture", code="picture-missing")
        found.setdefault(key, []).append(replace(mark, name=organism_name(mark.name)))
    return {name: tuple(marks) for name, marks in found.items()}
