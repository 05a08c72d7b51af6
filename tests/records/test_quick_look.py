"""The quick look of ``fecallab doctor``: on a file and on a server, without touching what it looks at."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from fecallab.domain.animal import Animal
from fecallab.records.folder import MARKER
from fecallab.records.migrate import HEAD
from fecallab.records.quick_look import quick_look
from fecallab.records.server import move_to_server
from fecallab.records.store import open_records

NOW = datetime(2026, 3, 4, 8, 30, tzinfo=UTC)


def one_animal(folder: Path, name: str = "Saffron") -> None:
    with open_records(folder) as store, store.write("Mara Quell", NOW) as writer:
        writer.add(Animal(name=name, species="Pogona vitticeps", host_group="lizard"))


def test_a_folder_is_told_by_its_last_line(folder: Path) -> None:
    one_animal(folder)
    one_animal(folder, "Barley")
    look = quick_look(folder)
    assert look.revision == look.newest == HEAD and look.trouble is None
    with open_records(folder) as store:
        assert look.line == store.seal().line > 1
    assert look.follows and look.writable and look.last_recorded == NOW
    assert not look.on_server


def test_a_name_that_was_taken_out_breaks_nothing(folder: Path) -> None:
    one_animal(folder)
    with open_records(folder) as store:
        store.redact("Mara Quell", "keeper 2", by="keeper 2", why="a wish", now=NOW)
    assert quick_look(folder).follows


def test_records_on_a_server_are_looked_at_there_and_named_without_their_address(
    folder: Path, new_postgresql: Callable[..., str]
) -> None:
    one_animal(folder)
    address = new_postgresql().replace("postgresql+psycopg", "postgresql").replace(":@", "@")
    move_to_server(folder, address, NOW)
    look = quick_look(folder)
    assert look.on_server and look.trouble is None
    assert look.follows and look.revision == HEAD and look.last_recorded == NOW


def test_a_server_that_does_not_answer_is_told_with_what_to_do(folder: Path) -> None:
    one_animal(folder)
    marker = folder / MARKER
    text = marker.read_text(encoding="utf-8").rstrip().removesuffix("}").rstrip()
    text = text.replace('"version": 1', '"version": 2')
    marker.write_text(
        f'{text},\n  "database": "postgresql://nobody@127.0.0.1:1/none"\n}}\n', encoding="utf-8"
    )
    look = quick_look(folder)
    assert look.trouble is not None and look.trouble.next and look.follows is None
