"""Two people write at once, a writer is killed: both succeed or are told, and what was said to be kept is."""

from __future__ import annotations

import multiprocessing
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from fecallab.domain.animal import Animal
from fecallab.domain.errors import CouldNot
from fecallab.records.check import check
from fecallab.records.engine import WRITER_LOCK, writing
from fecallab.records.pictures import hash_of
from fecallab.records.store import Records, open_records

from .trouble import add_animals, one_line

FORK = multiprocessing.get_context("fork" if "fork" in multiprocessing.get_all_start_methods() else "spawn")


def test_two_writers_at_once_both_wait_and_succeed(open_store: Callable[..., Records]) -> None:
    writers = [FORK.Process(target=add_animals, args=(open_store, name, 15)) for name in ("north", "south")]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(60)
    assert [writer.exitcode for writer in writers] == [0, 0]
    with open_store() as records:
        animals = records.animals()
    assert sorted(animal.name for animal in animals) == sorted(
        f"{name} {number}" for name in ("north", "south") for number in range(15)
    )
    assert [animal.code for animal in animals] == [f"A{number}" for number in range(1, 31)]


def test_locked_records_are_said_after_the_short_wait(
    open_store: Callable[..., Records], now: datetime
) -> None:
    with open_store() as holder, open_store(0.3) as other:
        with writing(holder.engine) as connection:
            if holder.engine.dialect.name == "postgresql":
                locks = "SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND objid = :key"
                assert connection.execute(sa.text(locks), {"key": WRITER_LOCK}).scalar() == 1
            started = time.monotonic()
            with pytest.raises(CouldNot) as caught, other.write("keeper", now) as writer:
                writer.add(Animal(name="Tilda"))
            waited = time.monotonic() - started
            assert other.animals() == [], "reading goes on meanwhile"
        assert "Another fecallab is writing" in one_line(caught.value, "locked")
        assert 0.2 < waited < 4
        with other.write("keeper", now) as writer:
            assert writer.add(Animal(name="Tilda")).code == "A1"


def write_until_killed(folder: Path, pipe: Any, start: int) -> None:
    """Record facts and pictures, and say each code once it is acknowledged; never ends by itself."""
    from hashlib import sha256

    from fecallab.domain.exam import Picture

    source = folder.parent / f"source {start}.jpg"
    with open_records(folder) as records:
        number = start
        while True:
            number += 1
            content = f"picture {number}".encode() * 2000
            source.write_bytes(content)
            info = Picture(
                sha256=sha256(content).hexdigest(),
                file_name=source.name,
                format="JPEG",
                width_px=1,
                height_px=1,
                bytes=len(content),
            )
            with records.write("keeper", datetime.now(UTC)) as writer:
                picture = writer.add_picture(source, info)
                animal = writer.add(Animal(name=f"Arrival {number}", remark="x" * (number % 5000)))
            pipe.send((animal.code, animal.name, picture.sha256))


@pytest.mark.skipif(sys.platform == "win32", reason="this system knows no SIGKILL")
def test_what_was_acknowledged_survives_kill_9(folder: Path) -> None:
    import random

    chance = random.Random(20260304)
    acknowledged: list[tuple[str, str, str]] = []
    for turn in range(15):
        receiver, sender = FORK.Pipe(duplex=False)
        child = FORK.Process(target=write_until_killed, args=(folder, sender, turn * 100_000))
        child.start()
        sender.close()
        acknowledged.append(receiver.recv())
        time.sleep(chance.uniform(0, 0.05))
        child.kill()
        child.join()
        while True:
            try:
                acknowledged.append(receiver.recv())
            except EOFError:
                break
    found = check(folder)
    assert found.problems == ()
    with open_records(folder) as records:
        names = {animal.code: animal.name for animal in records.animals()}
        assert len(acknowledged) > 15, "each child got something through"
        for code, name, sha256 in acknowledged:
            assert names[code] == name
            assert hash_of(records.picture_path(sha256)) == sha256
        assert len(names) <= len(acknowledged) + 15, "at most one more a kill: done, not yet said"
        assert sorted(names, key=lambda code: int(code[1:])) == [f"A{n}" for n in range(1, len(names) + 1)]
    assert len(found.orphans) <= 15, "at most one file a kill that no record names"
