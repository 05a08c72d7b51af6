"""Clips on the page: stills with what moves drawn in, words and speeds, and films beside it without sound and place."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from fecallab.domain.clip_words import at_once_words
from fecallab.domain.errors import BadInput, FecallabError
from fecallab.vet.page_model import PageToVet, VetClip
from fecallab.vet.page_pictures import JPEG_QUALITY

if TYPE_CHECKING:
    from fecallab.domain.exam import Exam, Reading
    from fecallab.records.reader import Reader

STILLS_AT = (1 / 6, 1 / 2, 5 / 6)
"""Shares of the playing time from which the stills are taken (own choice)."""
STILL_LONGEST_PX = 900
MOST_SECONDS = 120.0
"""A longer clip is cut by the keeper first (own choice: a mail would not carry it)."""
MOST_RECORDED = 6
"""More clips of readings than these do not go along by themselves (own choice)."""


@dataclass(frozen=True, kw_only=True)
class RecordedClip:
    """The clip of a reading, as the records keep it.

    Attributes
    ----------
    file : Path
    reading : Reading
    fps : float or None
        The rate that was given for it.
    counted : str
        What was counted in it, in words; empty where nothing was.
    """

    file: Path
    reading: Reading
    fps: float | None = None
    counted: str = ""


def recorded_clips(
    records: Reader, exams: Sequence[Exam], words: Mapping[str, str]
) -> tuple[list[RecordedClip], list[str]]:
    """Return the clips of readings of these exams, and a line for each that cannot go along.

    Parameters
    ----------
    records : Reader
    exams : sequence of Exam
    words : mapping of str to str
        Organism key or group to the words to print.
    """
    from fecallab.records.clips import clip_of

    known = records.pictures()
    found: list[RecordedClip] = []
    told: list[str] = []
    readings = [r for exam in exams for made in exam.preparations for r in made.readings]
    for reading in readings:
        kept = clip_of(reading, known)
        if kept is None:
            continue
        if len(found) == MOST_RECORDED:
            told.append(f"The clip of {reading.code} stayed behind: {MOST_RECORDED} go along at most.")
            continue
        sure = [f"{n} {words.get(name, name)}" for name, n in reading.tally().items()]
        unsure = [f"{n} {words.get(name, name)} (unsure)" for name, n in reading.tally(sure=False).items()]
        try:
            file = records.picture_path(kept.picture.sha256)
        except FecallabError as error:
            told.append(f"The clip of {reading.code} stayed behind: {error}")
            continue
        counted = ", ".join([*sure, *unsure])
        found.append(RecordedClip(file=file, reading=reading, fps=kept.fps, counted=counted))
    return found, told


def clips_of(
    page: PageToVet,
    files: Sequence[Path],
    stem: str,
    recorded: Sequence[RecordedClip] = (),
    progress: Callable[[str], None] = lambda _line: None,
) -> tuple[PageToVet, list[str]]:
    """Return the page with clips as stills, and a line for each recorded one that stays behind.

    Parameters
    ----------
    page : PageToVet
    files : sequence of Path
        Videos, TIFF stacks or folders of pictures that the keeper named.
    stem : str
        How the name of a film begins; the keeper's own file name stays here.
    recorded : sequence of RecordedClip, optional
        Clips of readings; what moves in them is worked out again and drawn in.
    progress : callable, optional
        Told of every clip that is worked on.

    Raises
    ------
    BadInput, CouldNot
        When a named file is no clip, or too long.
    """
    clips: list[VetClip] = []
    told: list[str] = []
    for one in recorded:
        progress(f"  working out what moves in the clip of {one.reading.code}")
        try:
            clip = _stills_of(one.file, len(clips) + 1, stem, one.fps)
            clips.append(_with_tracks(clip, one))
        except FecallabError as error:
            said = str(error).replace(one.file.name, "it")
            told.append(f"The clip of {one.reading.code} stayed behind: {said}")
    for file in files:
        clips.append(_stills_of(file, len(clips) + 1, stem, None))
    return (replace(page, clips=tuple(clips)) if clips else page), told


def _stills_of(file: Path, number: int, stem: str, fps: float | None) -> VetClip:
    """Return a clip with its stills; two passes, one frame at a time."""
    from fecallab.imaging.motility.clips import open_clip
    from fecallab.imaging.read import scaled_jpeg

    clip = open_clip(file, fps)
    times = []
    for time, _ in clip.frames():
        times.append(time)
        if time > MOST_SECONDS:
            raise BadInput(
                f"{file.name} is longer than {MOST_SECONDS:g} seconds.",
                next="Cut it to the part in which something moves.",
                code="clip-too-long",
            )
    places = sorted({min(len(times) - 1, int(share * len(times))) for share in STILLS_AT})
    stills = []
    for place, (_, pixels) in enumerate(open_clip(file, fps).frames(colour=True)):
        if place in places:
            stills.append((times[place], scaled_jpeg(pixels, STILL_LONGEST_PX, JPEG_QUALITY)))
        if place >= places[-1]:
            break
    return VetClip(
        title=f"clip {number}",
        stills=tuple(stills),
        still_frames=tuple(places),
        width_px=clip.width_px,
        height_px=clip.height_px,
        seconds=times[-1],
        film=file,
        film_name=f"{stem}-clip-{number}.mp4",
        fps=fps,
    )


def _with_tracks(clip: VetClip, one: RecordedClip) -> VetClip:
    """Work out again what moves, and put it beside what the record keeps."""
    from fecallab.imaging.motility import assess_motility
    from fecallab.report.moving import moving_facts
    from fecallab.vet.page_tracks import tracks_jpeg, tracks_svg

    reading = one.reading
    kept = ""
    if reading.mean_swimming is not None:
        ends = reading.mean_swimming_low, reading.mean_swimming_high
        kept = at_once_words(reading.mean_swimming, *ends)
        kept = kept[0].upper() + kept[1:]
    known = replace(clip, reading=reading.code, kept=kept, counted=one.counted)
    if reading.um_per_px is None or clip.film is None:
        return known
    found = assess_motility(clip.film, reading.um_per_px, one.fps)
    facts = moving_facts(found)
    notes = list(facts.notes)
    if reading.mean_swimming is not None and facts.headline != kept:
        notes.append(f"Worked out again for this page: {facts.headline[0].lower()}{facts.headline[1:]}.")
    return replace(
        known,
        facts=replace(facts, notes=tuple(notes)),
        found=found,
        tracks=tuple(tracks_svg(found, frame) for frame in clip.still_frames),
        tracks_jpeg=tracks_jpeg(clip.film, one.fps, found),
        tracks_name=clip.film_name.replace(".mp4", "-tracks.mp4"),
    )
