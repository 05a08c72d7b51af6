"""The same work on many pictures: on all cores of this computer, or on those that a scheduler commands."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fecallab.domain.errors import BadInput, CouldNot, FecallabError, Reason

Work = Callable[[str], dict[str, Any]]
"""What is done with one picture, by the path of its file; a function of a module, since it travels."""


@dataclass(frozen=True)
class Outcome:
    """What came of one picture: what the work found, or the reason why it could not."""

    file: Path
    found: dict[str, Any] | None = None
    failed: Reason | None = None


def on_each(
    work: Work, files: Sequence[Path], *, workers: int | None = None, scheduler: str = ""
) -> Iterator[Outcome]:
    """Do the same work on many pictures and yield what comes of each as soon as it is there.

    A picture that cannot be read is an outcome like any other; the rest goes on. Closing the generator stops
    what has not begun.

    Parameters
    ----------
    work : callable
        Takes the path of a file; it must be importable on every worker.
    files : sequence of Path
        With a scheduler they must lie where its workers find them under the same path.
    workers : int, optional
        Processes on this computer; as many as there are cores when omitted. 1 starts no process.
    scheduler : str
        Address of a scheduler of dask.distributed, ``tcp://HOST:8786``; nothing for this computer alone.

    Raises
    ------
    CouldNot
        When the scheduler does not answer, or dask.distributed is not installed.
    """
    if scheduler:
        yield from _on_a_cluster(work, files, scheduler)
        return
    many = min(workers or os.cpu_count() or 1, len(files))
    if many <= 1:
        for file in files:
            yield _one(work, str(file))
        return
    yield from _on_this_computer(work, files, many)


def _one(work: Work, file: str) -> Outcome:
    """Do the work on one picture; whatever goes wrong with it stays with it."""
    try:
        return Outcome(Path(file), work(file))
    except FecallabError as error:
        return Outcome(Path(file), failed=error.reason)
    except MemoryError:
        said = f"{Path(file).name} needs more memory than there is."
        return Outcome(
            Path(file), failed=Reason("no-memory", said, "Make the picture smaller, or use fewer workers.")
        )


def _on_this_computer(work: Work, files: Sequence[Path], workers: int) -> Iterator[Outcome]:
    from concurrent.futures import ProcessPoolExecutor, as_completed
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn"))
    try:
        waiting = {pool.submit(_one, work, str(file)): file for file in files}
        for done in as_completed(waiting):
            try:
                yield done.result()
            except BrokenProcessPool:
                said = f"A process that read {waiting[done].name} or another picture was ended from outside."
                yield Outcome(
                    waiting[done], failed=Reason("worker-lost", said, "Repeat: what was done is kept.")
                )
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _on_a_cluster(work: Work, files: Sequence[Path], scheduler: str) -> Iterator[Outcome]:
    with _client(scheduler) as client:
        from distributed import as_completed

        tasks = {client.submit(_one, work, str(file), pure=False): file for file in files}
        try:
            for done in as_completed(tasks, loop=client.loop):  # type: ignore[no-untyped-call]
                if done.status == "finished":
                    yield done.result()
                    continue
                said = f"A worker of {scheduler} was lost over {tasks[done].name}, or lacks what it needs."
                step = "Look at its messages; every worker needs this fecallab and the same paths."
                yield Outcome(tasks[done], failed=Reason("worker-lost", said, step))
        finally:
            client.cancel(list(tasks))


ANSWER_WITHIN_S = 5.0
"""A scheduler that has not answered after so long does not answer (own choice)."""


@contextmanager
def _client(scheduler: str) -> Iterator[Any]:
    try:
        from distributed import Client
    except ImportError:
        raise CouldNot(
            "A scheduler needs dask.distributed, which is not installed.",
            next='Type: pip install "fecallab[cluster]"  or leave --scheduler out.',
            code="not-installed",
        ) from None
    try:
        client = Client(scheduler, timeout=f"{ANSWER_WITHIN_S}s", set_as_default=False)  # type: ignore[no-untyped-call]
    except ValueError as error:
        raise BadInput(
            f"{scheduler[:80]!r} is no address of a scheduler: {error}.",
            next="Write it as tcp://HOST:8786",
            code="bad-address",
        ) from None
    except (OSError, TimeoutError):
        raise CouldNot(
            f"The scheduler {scheduler} does not answer.",
            next="Start it, or leave --scheduler out to use this computer alone.",
            code="unreachable",
        ) from None
    try:
        yield client
    finally:
        client.close()  # type: ignore[no-untyped-call]
