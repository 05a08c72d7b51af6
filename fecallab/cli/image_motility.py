"""``image motility``: what swims in a clip, how fast and in what manner."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import JSON, number_or_none
from fecallab.cli.out_file import checked_out, write_whole
from fecallab.cli.output import emit
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from fecallab.imaging.motility import MotilityResult


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(motility)


def motility(
    file: Path = typer.Argument(
        help="A video (MP4, MOV, AVI), a TIFF stack or a folder of numbered pictures."
    ),
    um_per_px: str | None = typer.Option(None, help="Scale from a calibration, µm per pixel of the clip."),
    fps: str | None = typer.Option(
        None, help="Frames per second, where the file has none or false ones (slow motion)."
    ),
    out: Path | None = typer.Option(None, help="Write the whole answer as JSON."),
    tracks_csv: Path | None = typer.Option(None, help="Write every place of every track as CSV."),
    picture: Path | None = typer.Option(
        None, help="Write a picture of the tracks by kind, with a scale bar (PNG)."
    ),
    video: Path | None = typer.Option(None, help="Write the clip with what was found drawn in (MP4)."),
    as_json: bool = JSON,
) -> None:
    """What swims, what drifts, what only trembles? Counts, speeds and ways of moving in a clip."""
    from fecallab.imaging.motility import assess_motility, open_clip

    scale = number_or_none(um_per_px, "--um-per-px", low=1e-4, high=1e4)
    if not scale:
        raise BadInput(
            "Without a scale there is no speed in µm per second.",
            next="Calibrate first: fecallab image calibrate RULER.jpg --division-um 10, then give --um-per-px.",
            code="no-scale",
        )
    rate = number_or_none(fps, "--fps", low=1e-3, high=1e5)
    for option, target, kind in (
        ("--out", out, ".json"),
        ("--tracks-csv", tracks_csv, ".csv"),
        ("--picture", picture, ".png"),
        ("--video", video, ".mp4"),
    ):
        if target is not None:
            checked_out(target, (kind,), [file], option)
    clip = open_clip(file, rate)
    found = assess_motility(clip, scale)
    payload: dict[str, Any] = {"file": file.name, **found.as_dict()}
    written = []
    if out:
        from fecallab.cli.output import dump_json

        write_whole(out, dump_json(payload).encode("utf-8"))
        written.append(str(out))
    if tracks_csv:
        write_whole(tracks_csv, found.tracks_csv().encode("utf-8"))
        written.append(str(tracks_csv))
    if picture:
        from fecallab.imaging.motility.paint import tracks_png

        write_whole(picture, tracks_png(clip, found))
        written.append(str(picture))
    if video:
        from fecallab.imaging.motility.paint import write_film

        write_film(clip, found, video)
        written.append(str(video))
    payload["written"] = written
    lines = [*_words(file.name, found), *(f"  Wrote {one}." for one in written)]
    emit(payload, "\n".join(lines), as_json)


def _words(name: str, found: MotilityResult) -> list[str]:
    lines = [
        f"{name}: {found.clip_seconds:.1f} s, {number_of(found.frames, 'frame')}, {found.fps:.0f} per second,"
        f" {found.width_px} × {found.height_px} pixels."
    ]
    if not found.assessable:
        lines += [f"  {one.text} {one.next}".rstrip() for one in found.reasons]
    else:
        mean, ends = found.mean_swimming_at_once, found.mean_swimming_interval
        count, around = found.motile_count, found.motile_interval
        assert mean is not None and ends is not None and around is not None
        if count:
            lines.append(
                f"  Swimming at once {mean:.1f} on average (95 % {ends[0]:.1f} to {ends[1]:.1f});"
                f" {count} joined {'track' if count == 1 else 'tracks'} in all (95 % {around[0]:.0f} to"
                f" {around[1]:.0f})."
            )
        else:
            lines.append(
                f"  Nothing swims in this clip; with 95 % confidence a field holds under {_upper_zero():.1f}."
                " In old or cooled stool this says nothing: motility is then not assessable."
            )
    lines.append(
        f"  Not swimming: about {found.passive_count} at once. Stream {found.drift_um_s[0]:+.1f} µm/s to the right,"
        f" {found.drift_um_s[1]:+.1f} down."
    )
    swimmers = found.of_kind("swimming")
    for one in swimmers[:12]:
        m = one.motion
        assert m is not None
        like = f"; moves like: {', '.join(one.moves_like)}" if one.moves_like else ""
        lines.append(
            f"  {one.number}: {one.length_um:.0f} µm long, {m.vcl_um_s:.0f} µm/s along its path (VCL),"
            f" {m.vsl_um_s:.0f} straight (VSL), straightness {m.straightness:.2f}: {', '.join(one.manner)}{like}"
        )
    if len(swimmers) > 12:
        lines.append(f"  … and {len(swimmers) - 12} more (--tracks-csv writes all).")
    unsure = len(found.of_kind("cannot-tell"))
    if unsure:
        lines.append(
            f"  Cannot tell of {unsure} (seen too shortly, or too slow, or they move as their neighbours do)."
        )
    if swimmers:
        lines.append("  What moves alike is a hint by size and manner, no name and no diagnosis.")
    lines += [f"  Note: {one.text} {one.next}".rstrip() for one in found.warnings]
    return lines


def _upper_zero() -> float:
    from fecallab.domain.counting import upper_bound

    return upper_bound(0)
