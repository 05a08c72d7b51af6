"""Option groups that several exam commands share, written once."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

import typer

Command = TypeVar("Command", bound=Callable[..., Any])
Group = Mapping[str, tuple[Any, Any]]

PREPARATION: Group = {
    "method": (
        str,
        typer.Option(
            ..., help="direct_saline_smear, iodine_smear, simple_flotation, sedimentation, mcmaster …"
        ),
    ),
    "read_at": (
        str | None,
        typer.Option(None, help='When it was read, "2026-03-04 09:10" (now if left out).'),
    ),
    "cover_glass": (str, typer.Option("22x22", help="18x18, 20x20, 22x22 or 22x50 mm.")),
    "room_c": (str | None, typer.Option(None, help="Room temperature in °C.")),
    "slide_warmed": (
        bool | None,
        typer.Option(None, "--slide-warmed/--slide-cold", help="Was the slide warmed?"),
    ),
    "solution": (str, typer.Option("", help="Flotation solution: zinc sulfate, sugar, salt …")),
    "specific_gravity": (str | None, typer.Option(None, "--gravity", help="Its specific gravity.")),
    "gravity_checked": (
        bool | None,
        typer.Option(None, "--gravity-checked/--gravity-not-checked", help="Measured, or 100 ml weighed?"),
    ),
    "standing_minutes": (str | None, typer.Option(None, help="Minutes that it stood.")),
    "sample_g": (str | None, typer.Option(None, help="Stool in this preparation, g.")),
    "suspension_ml": (str | None, typer.Option(None, help="Finished suspension, ml.")),
    "counted_ml": (str | None, typer.Option(None, help="All the volume that was read, ml.")),
}
READING: Group = {
    "objective": (str | None, typer.Option(None, help="Objective: 10, 40 …")),
    "field_number": (str | None, typer.Option(None, help="Number on the eyepiece: 18, 20, 22 (mm).")),
    "counts": (
        list[str],
        typer.Option([], help='Field by field: 0,2,1 with --of, or "oxyurid:0,2,1" (may be repeated).'),
    ),
    "of": (str, typer.Option("", help="What --counts counted: an organism or a group.")),
    "unsure": (list[str], typer.Option([], help='Not sure, field by field: "oxyurid:0,0,1".')),
    "share": (
        str | None,
        typer.Option(None, help="A sweep: share of the cover glass that was read, 0 to 1."),
    ),
    "seen": (
        list[str],
        typer.Option([], help="What a sweep or chamber showed: oxyurid=2 (may be repeated)."),
    ),
    "unsure_seen": (list[str], typer.Option([], help="The same, where you are not sure: oxyurid=1.")),
    "picture": (
        list[Path],
        typer.Option([], help="Picture of a field (JPEG, PNG, TIFF, HEIC); may be repeated."),
    ),
    "marks": (Path | None, typer.Option(None, help="Marks on the pictures: CSV or W3C Web Annotation JSON.")),
    "um_per_px": (str | None, typer.Option(None, help="Scale of the pictures, µm per pixel.")),
}


def with_options(*groups: Group) -> Callable[[Command], Command]:
    """Give a command the options of these groups; it receives them as keyword arguments.

    The command takes ``**options`` and the program sees every option by its own name.
    """

    def join(command: Command) -> Command:
        own = inspect.signature(command, eval_str=True)
        kept = [p for p in own.parameters.values() if p.kind is not inspect.Parameter.VAR_KEYWORD]
        added = [
            inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=kind)
            for group in groups
            for name, (kind, default) in group.items()
        ]
        positional = [p.replace(kind=inspect.Parameter.POSITIONAL_OR_KEYWORD) for p in kept]
        command.__signature__ = own.replace(parameters=[*positional, *added])  # type: ignore[attr-defined]
        command.__annotations__ = {p.name: p.annotation for p in [*positional, *added]} | {"return": None}
        return command

    return join
