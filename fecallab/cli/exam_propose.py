"""``exam propose``: proposals for every picture of an exam, kept beside the records and never counted."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from fecallab.cli.common import JSON, RECORDS, number_or_none, open_folder
from fecallab.cli.output import emit, say
from fecallab.domain.errors import BadInput, CouldNot, FecallabError
from fecallab.domain.spoken import number_of

if TYPE_CHECKING:
    from fecallab.domain.exam import Exam
    from fecallab.imaging.detect.propose import Detection

Job = tuple[str, str, float, str, str]
"""Record folder, picture, scale, objective and path of the picture."""


@dataclass(frozen=True)
class Wanted:
    """A picture of the exam: its scale (None when unknown), its objective, where it lies and its name."""

    sha: str
    scale: float | None
    optics: str
    path: Path
    name: str


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
    from fecallab.imaging.detect.kept import kept_path, outdated, ranker_of, read_kept
    from fecallab.imaging.detect.propose import check_scale

    scale = number_or_none(um_per_px, "--um-per-px", low=1e-4, high=1e4)
    if scale:
        check_scale(scale)
    with open_folder(records) as store:
        found = store.exam(exam)
        folder = store.folder
        wanted = [
            Wanted(sha, size or scale, optics, store.picture_path(sha), store.picture(sha).file_name)
            for sha, size, optics in _pictures(found)
        ]
    if not wanted:
        raise BadInput(
            f"Exam {found.code} has no pictures in the records.",
            next=f"Type: fecallab exam read {found.code}-1 --objective 10 --picture FIELD.jpg; pictures that the"
            " marking window has not recorded yet are proposed on there.",
            code="no-pictures",
        )
    if not any(one.scale for one in wanted):
        raise BadInput(
            f"None of the {len(wanted)} pictures of {found.code} was recorded with a scale.",
            next="Calibrate (fecallab image calibrate), then give --um-per-px.",
            code="no-scale",
        )
    edition = ranker_of(folder).edition
    if again:  # when it is stopped, the command without --again goes on
        for one in wanted:
            kept_path(folder, one.sha).unlink(missing_ok=True)
    todo = [one for one in wanted if one.scale and read_kept(folder, one.sha, one.scale, edition) is None]
    troubles = _work(folder, todo, workers)
    listed, lines = [], [f"{found.code}: proposals for your eyes, unconfirmed and never counted."]
    for one in wanted:
        kept = read_kept(folder, one.sha, one.scale, edition) if one.scale else None
        state = troubles.get(one.sha, "") or ("proposed" if kept else "not done") if one.scale else "no scale"
        count = len(kept.proposals) if kept else None
        listed.append(
            {
                "picture": one.sha,
                "file": one.name,
                "um_per_px": one.scale,
                "proposals": count,
                "state": state,
                "remark": kept.remark if kept else "",
            }
        )
        remark = f" {kept.remark}" if kept and kept.remark else ""
        lines.append(
            f"  {one.name}: {state if count is None else number_of(count, 'proposal') + '.'}{remark}"
        )
    if outdated(folder):
        lines.append(
            "  What was learnt here belongs to an older program and is not used. Learn anew: fecallab image learn"
        )
    if not todo:
        lines.append("  All were there already; --again makes them anew.")
    lines.append(
        f"  They show in the marking window (fecallab mark {found.code}). Read each field once yourself first."
    )
    emit({"exam": found.code, "pictures": listed, "confirmed": False}, "\n".join(lines), as_json)
    if troubles:
        raise typer.Exit(3)


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


class _GivenUp(Exception):
    """The person stopped the command while a picture was in work."""


_stopping: Any = None
"""In a process that does the work: set when the person stops the command."""


def _begin(stopping: Any) -> None:
    """Begin a process: Ctrl-C goes to the command alone, which tells by `stopping`."""
    import signal

    global _stopping
    _stopping = stopping
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _look_up(_done: int, _all: int) -> None:
    if _stopping is not None and _stopping.is_set():
        raise _GivenUp


def propose_and_keep(folder: str, sha: str, scale: float, optics: str, path: str) -> int:
    """Propose on one picture and keep what was found beside the records; return how many there are."""
    from fecallab.imaging.detect.kept import keep, ranker_of
    from fecallab.imaging.detect.propose import propose as propose_in
    from fecallab.imaging.read import open_picture

    _look_up(0, 1)
    ranker = ranker_of(Path(folder))
    found: Detection = propose_in(
        open_picture(path),
        scale,
        ranker=ranker,
        threshold=ranker.threshold_for(optics),
        progress=_look_up,
    )
    keep(Path(folder), sha, found, scale, ranker.edition)
    return len(found.proposals)


def _work(folder: Path, todo: list[Wanted], workers: int | None) -> dict[str, str]:
    """Do the pictures, several at once; what is done stays done when it is stopped."""
    import os

    told = _Told({one.sha: one.name for one in todo}, len(todo))
    jobs = [(str(folder), one.sha, one.scale or 0.0, one.optics, str(one.path)) for one in todo]
    at_once = min(workers or os.cpu_count() or 1, len(jobs))
    try:
        if at_once <= 1:
            for job in jobs:
                told.settle(job[1], partial(propose_and_keep, *job))
        else:
            _side_by_side(jobs, at_once, told)
    except KeyboardInterrupt:
        say(f"{told.done_and_kept()}; the same command goes on from there.")
        raise
    return told.troubles


def _side_by_side(jobs: list[Job], at_once: int, told: _Told) -> None:
    from concurrent.futures import ProcessPoolExecutor, as_completed
    from multiprocessing import get_context

    context = get_context("spawn")
    stopping = context.Event()
    say(f"{told.total} pictures, {at_once} at once. Ctrl-C stops; what is done is kept.")
    pool = ProcessPoolExecutor(at_once, context, initializer=_begin, initargs=(stopping,))
    try:
        with _deaf_to_ctrl_c():  # what a process is at its birth it stays until `_begin`
            waiting: dict[Future[int], str] = {pool.submit(propose_and_keep, *job): job[1] for job in jobs}
        for done in as_completed(waiting):
            told.settle(waiting[done], done.result)
    except BaseException:
        stopping.set()  # a picture in work ends with its present tile
        raise
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


@contextmanager
def _deaf_to_ctrl_c() -> Iterator[None]:
    import signal
    import threading

    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


class _Told:
    """Tells of each picture as it is done, and remembers what went wrong.

    A disk that takes no result takes the next one as little: that ends the command.
    """

    def __init__(self, names: dict[str, str], total: int) -> None:
        self.names, self.total, self.number = names, total, 0
        self.troubles: dict[str, str] = {}

    def settle(self, sha: str, result: Callable[[], int]) -> None:
        """Take the result of a picture, or the reason why there is none."""
        from concurrent.futures.process import BrokenProcessPool

        try:
            said = number_of(result(), "proposal")
        except FecallabError as error:
            if error.reason.code == "not-written":
                raise self._not_kept(sha, error) from error
            said = self.troubles[sha] = str(error.reason.text)
        except MemoryError:
            said = self.troubles[sha] = "It needs more memory than there is; try --workers 1."
        except BrokenProcessPool:
            said = self.troubles[sha] = "The process was ended from outside; repeat, or try --workers 1."
        self.number += 1
        say(f"{self.number} of {self.total}: {self.names[sha]}: {said}")

    def done_and_kept(self) -> str:
        """Return how far it came."""
        return f"{self.number - len(self.troubles)} of {number_of(self.total, 'picture')} are done and kept"

    def _not_kept(self, sha: str, error: FecallabError) -> CouldNot:
        """Say that a result could not be kept; the last words of the text are what the system said."""
        _, _, why = error.reason.text.rstrip(".").rpartition(": ")
        return CouldNot(
            f"The proposals for {self.names[sha]} could not be kept ({why}). {self.done_and_kept()}.",
            next="Free some space, or check the permissions of the record folder; then repeat the command without"
            " --again: it goes on from there.",
            code="proposals-not-kept",
        )
