"""``exam propose``: proposals for every picture of an exam, kept beside the records and never counted."""

from __future__ import annotations

from concurrent.futures import Future
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import JSON, RECORDS, number_or_none, open_folder
from fecallab.cli.output import emit, say
from fecallab.domain.errors import BadInput, FecallabError
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from fecallab.domain.exam import Exam
    from fecallab.imaging.detect.propose import Detection
    from fecallab.imaging.detect.ranker import Ranker


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command()(propose)


def propose(
    exam: str = typer.Argument(help="Code of the exam."),
    um_per_px: str | None = typer.Option(None, help="Scale of pictures that were recorded without one."),
    again: bool = typer.Option(False, "--again", help="Make those anew that are there."),
    workers: int | None = typer.Option(
        None, min=1, max=64, help="Pictures at once (all cores when left out)."
    ),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Propose where to look in every picture of an exam. Stop with Ctrl-C; repeat to go on."""
    from fecallab.imaging.detect.kept import ranker_of, read_kept

    scale = number_or_none(um_per_px, "--um-per-px", low=1e-4, high=1e4)
    with open_folder(records) as store:
        found = store.exam(exam)
        folder = store.folder
        wanted = [
            (sha, size or scale, optics, store.picture_path(sha), store.picture(sha).file_name)
            for sha, size, optics in _pictures(found)
        ]
    if not wanted:
        raise BadInput(
            f"Exam {found.code} has no pictures.",
            next=f"Type: fecallab exam read {found.code}-1 --objective 10 --picture FIELD.jpg",
            code="no-pictures",
        )
    ranker = ranker_of(folder)
    todo = [
        one
        for one in wanted
        if one[1] and (again or read_kept(folder, one[0], one[1], ranker.edition) is None)
    ]
    if not any(one[1] for one in wanted):
        raise BadInput(
            f"None of the {len(wanted)} pictures of {found.code} was recorded with a scale.",
            next="Calibrate (fecallab image calibrate), then give --um-per-px.",
            code="no-scale",
        )
    troubles = _work(folder, todo, ranker, workers)
    listed, lines = [], [f"{found.code}: proposals for your eyes, unconfirmed and never counted."]
    for sha, size, _, _, name in wanted:
        kept = read_kept(folder, sha, size, ranker.edition) if size else None
        state = "no scale" if not size else troubles.get(sha, "") or ("proposed" if kept else "not done")
        count = len(kept.proposals) if kept else None
        listed.append({"picture": sha, "file": name, "um_per_px": size, "proposals": count, "state": state})
        remark = f" {kept.remark}" if kept and kept.remark else ""
        lines.append(f"  {name}: {state if count is None else number_of(count, 'proposal')}.{remark}")
    lines.append("  They show in the marking window. Read each field once yourself first.")
    emit({"exam": found.code, "pictures": listed, "confirmed": False}, "\n".join(lines), as_json)


def _pictures(exam: Exam) -> list[tuple[str, float | None, str]]:
    """Picture, scale and objective of every reading with a picture, each picture once."""
    found: dict[str, tuple[str, float | None, str]] = {}
    for preparation in exam.preparations:
        for reading in preparation.readings:
            if reading.picture:
                optics = f"{reading.objective:g}x" if reading.objective else ""
                before = found.get(reading.picture)
                if before is None or before[1] is None:
                    found[reading.picture] = (reading.picture, reading.um_per_px, optics)
    return list(found.values())


def _one(folder: str, sha: str, scale: float, optics: str, path: str) -> int:
    """Propose on one picture, in a process of its own."""
    from fecallab.imaging.detect.kept import keep, ranker_of
    from fecallab.imaging.detect.propose import propose as propose_in
    from fecallab.imaging.read import open_picture

    ranker = ranker_of(Path(folder))
    found: Detection = propose_in(
        open_picture(path), scale, ranker=ranker, threshold=ranker.threshold_for(optics)
    )
    keep(Path(folder), sha, found, scale, ranker.edition)
    return len(found.proposals)


def _work(folder: Path, todo: list[Any], ranker: Ranker, workers: int | None) -> dict[str, str]:
    """Do the pictures, several at once; what is done stays done when it is stopped."""
    import os
    from concurrent.futures import ProcessPoolExecutor, as_completed
    from multiprocessing import get_context

    troubles: dict[str, str] = {}
    jobs = [(str(folder), sha, scale, optics, str(path)) for sha, scale, optics, path, _ in todo]
    names = {one[0]: one[4] for one in todo}
    at_once = min(workers or os.cpu_count() or 1, len(jobs))
    if at_once <= 1:
        for number, job in enumerate(jobs, start=1):
            _settle(lambda job=job: _one(*job), job[1], names, number, len(jobs), troubles)
        return troubles
    with ProcessPoolExecutor(at_once, mp_context=get_context("spawn")) as pool:
        waiting: dict[Future[int], str] = {pool.submit(_one, *job): job[1] for job in jobs}
        try:
            for number, done in enumerate(as_completed(waiting), start=1):
                _settle(done.result, waiting[done], names, number, len(jobs), troubles)
        except KeyboardInterrupt:
            pool.shutdown(wait=False, cancel_futures=True)
            say("Stopped. What is done is kept; repeat the command to go on.")
            raise
    return troubles


def _settle(
    result: Any, sha: str, names: dict[str, str], number: int, total: int, troubles: dict[str, str]
) -> None:
    try:
        say(f"{number} of {total}: {names[sha]}, {number_of(result(), 'proposal')}")
    except FecallabError as error:
        troubles[sha] = str(error.reason.text)
        say(f"{number} of {total}: {names[sha]}: {error.reason.text}")
