"""``image detect-all``: proposals for a whole folder of pictures; stopped at any time, it goes on where it was."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path
from typing import Any

import typer

from fecallab.cli.common import JSON, number_or_none
from fecallab.cli.output import emit, say
from fecallab.domain.errors import BadInput, CouldNot
from fecallab.domain.spoken import number_of

PICTURES = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".heif")


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("detect-all")(detect_all)


def detect_all(
    folder: Path = typer.Argument(..., help="Folder with pictures of one scale."),
    um_per_px: str = typer.Option(..., help="Scale from a calibration, µm per pixel, of all of them."),
    out: Path = typer.Option(
        ..., help="One line of JSON for each picture (.jsonl); what is in it is not done again."
    ),
    workers: int | None = typer.Option(
        None, min=1, max=256, help="Processes; as many as cores when left out."
    ),
    scheduler: str = typer.Option(
        "", help="Address of a dask scheduler, tcp://HOST:8786, for more computers."
    ),
    as_json: bool = JSON,
) -> None:
    """Propose where to look on every picture of a folder; one that cannot be read is told, the rest is done."""
    from fecallab.imaging.pool import on_each

    scale = number_or_none(um_per_px, "--um-per-px", low=1e-4, high=1e4)
    if scale is None:
        raise BadInput("--um-per-px is empty.", next="Type: --um-per-px 0.65", code="no-scale")
    files = _pictures(folder)
    done = _done_before(out, scale)
    left = [file for file in files if done.get(file.name) != _mark_of(file)]
    problems = []
    finished = 0
    try:
        with out.open("a", encoding="utf-8", newline="\n") as handle:
            for outcome in on_each(
                partial(proposals_of, um_per_px=scale), left, workers=workers, scheduler=scheduler
            ):
                finished += 1
                line: dict[str, Any] = {"file": outcome.file.name, "um_per_px": scale}
                if outcome.failed is not None:
                    problems.append(outcome.failed)
                    line["error"] = outcome.failed.as_dict()
                else:
                    line |= {"seen": _mark_of(outcome.file), **(outcome.found or {})}
                handle.write(json.dumps(line, ensure_ascii=False) + "\n")
                handle.flush()
                if finished % 20 == 0 or finished == len(left):
                    say(f"{finished} of {len(left)} pictures")
    except KeyboardInterrupt:
        say(f"Stopped after {finished} of {len(left)} pictures; the same command goes on from there.")
        raise
    except OSError as error:
        raise CouldNot(
            f"{out} could not be written: {error.strerror or error}.",
            next="Choose another folder or free some space; the same command goes on from there.",
            code="not-written",
        ) from error
    payload: dict[str, Any] = {
        "folder": str(folder),
        "pictures": len(files),
        "done_before": len(files) - len(left),
        "done": len(left) - len(problems),
        "failed": [problem.as_dict() for problem in problems],
    }
    lines = [
        f"{number_of(int(str(payload['done'])), 'picture')} done now, {payload['done_before']} before, {len(problems)} could not be read.",
        *(f"Not done: {problem}" for problem in problems[:20]),
        f"Wrote {out}: proposals for your eyes, unconfirmed and never counted.",
    ]
    if problems:
        payload["error"] = problems[0].as_dict()
    emit(payload, "\n".join(lines), as_json)
    if problems:
        raise typer.Exit(3)


def proposals_of(file: str, um_per_px: float) -> dict[str, Any]:
    """Return the proposals of one picture as plain keys; runs on a worker."""
    from fecallab.imaging.detect import propose
    from fecallab.imaging.read import open_picture

    found = propose(open_picture(Path(file)), um_per_px)
    return {
        "objects": [one.as_dict() for one in found.proposals],
        "lit_fraction": found.lit_fraction,
        "sharpness": found.sharpness,
        "remark": found.remark,
    }


def _pictures(folder: Path) -> list[Path]:
    try:
        found = sorted(
            path for path in folder.iterdir() if path.suffix.lower() in PICTURES and path.is_file()
        )
    except OSError as error:
        raise BadInput(
            f"The folder {folder} cannot be read: {error.strerror}.", next="Name a folder.", code="no-folder"
        ) from None
    if not found:
        raise BadInput(
            f"{folder} holds no picture.",
            next=f"Name a folder with {', '.join(PICTURES)}.",
            code="no-pictures",
        )
    return found


def _mark_of(file: Path) -> str:
    about = file.stat()
    return f"{about.st_size}-{about.st_mtime_ns}"


def _done_before(out: Path, scale: float) -> dict[str, str]:
    """Return what stands in the file of an earlier run; a line that was cut off counts as not done."""
    if out.suffix.lower() != ".jsonl":
        raise BadInput(
            f"--out is {str(out)[:60]!r}; it ends in .jsonl.",
            next="Type: --out proposals.jsonl",
            code="out-kind",
        )
    found: dict[str, str] = {}
    try:
        content = out.read_bytes()
    except FileNotFoundError:
        return found
    except OSError as error:
        raise BadInput(
            f"{out} cannot be read: {error.strerror}.", next="Name another file.", code="out-folder"
        ) from None
    for line in content.decode("utf-8", "replace").splitlines():
        try:
            said = json.loads(line)
            if said["um_per_px"] == scale and "seen" in said:
                found[str(said["file"])] = str(said["seen"])
        except (ValueError, KeyError, TypeError):
            continue
    if content and not content.endswith(b"\n"):
        with out.open("ab") as handle:
            handle.write(b"\n")
    return found
