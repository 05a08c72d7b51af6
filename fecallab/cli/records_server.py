"""``fecallab records`` for records on a PostgreSQL server: move, join, renew, people."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import typer

from fecallab.cli.common import JSON, RECORDS
from fecallab.cli.output import emit, say
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import number_of

PICTURES = typer.Option(
    "", "--pictures", help="Address of a shared place for pictures: file:///FOLDER, s3://…"
)


def register(app: typer.Typer) -> None:
    """Give the noun ``records`` its commands for a server."""
    app.command("move")(move)
    app.command("join")(join)
    app.command("renew")(renew)
    app.command("people")(people)


def move(
    address: str | None = typer.Argument(
        None, help="postgresql://USER@HOST/DATABASE; the password elsewhere."
    ),
    here: bool = typer.Option(False, "--here", help="From the server back into this folder."),
    pictures: str = PICTURES,
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Move the records to a PostgreSQL server or back, each row compared; what is left behind is kept."""
    from fecallab.records.folder import find_folder
    from fecallab.records.server import move_here, move_to_server

    if (address is None) != here:
        raise BadInput(
            "Both an address and --here were given." if here else "No address of a server was given.",
            next="Type: fecallab records move postgresql://USER@HOST/DATABASE  or: fecallab records move --here",
            code="bad-address",
        )
    folder, now = find_folder(records), datetime.now(UTC)
    if address is None:
        found = move_here(folder, now, _progress)
    else:
        found = move_to_server(folder, address, now, pictures=pictures, progress=_progress)
    text = (
        f"Moved {number_of(found.rows, 'row')} from {found.source} to {found.target}, each compared; {number_of(found.pictures, 'picture')}.\n"
        f"Left behind and kept, it takes no more rows: {found.kept}"
    )
    emit(found.as_dict(), text, as_json)


def join(
    address: str = typer.Argument(..., help="postgresql://USER@HOST/DATABASE; the password elsewhere."),
    folder: Path = typer.Argument(..., help="A folder that is new or empty."),
    pictures: str = PICTURES,
    as_json: bool = JSON,
) -> None:
    """Make a record folder on this computer that leads to records on a server."""
    from fecallab.records.folder import shown
    from fecallab.records.server import join_server

    identity = join_server(folder, address, pictures=pictures)
    text = f"{folder} leads to the records on the server.\nNext: fecallab due --records {shown(folder)}"
    emit({"folder": str(folder), "collection": identity}, text, as_json)


def renew(records: str | None = RECORDS, as_json: bool = JSON) -> None:
    """Bring records on a server to the schema of this program; a backup first, and nobody at work."""
    from fecallab.records import migrate
    from fecallab.records.folder import find_folder, read_marker
    from fecallab.records.server import address_of, open_server

    marker = read_marker(find_folder(records))
    if not marker.database:
        raise BadInput(
            "These records lie in their folder: they are renewed when they are opened.",
            next="Nothing is to be done.",
            code="not-on-a-server",
        )
    with open_server(address_of(marker.database)) as engine:
        old = migrate.needs_upgrade(engine)
        if old:
            migrate.upgrade(engine)
    text = (
        f"The records are at schema {migrate.HEAD} now." if old else "The records are of this schema already."
    )
    emit({"renewed": old, "schema": migrate.HEAD}, text, as_json)


def people(
    keeper: list[str] = typer.Option(
        [], "--keeper", help="A login of the server that records; repeat for more."
    ),
    vet: list[str] = typer.Option([], "--vet", help="A login that reads and answers."),
    admin: list[str] = typer.Option([], "--admin", help="A login that renews the schema and gives rights."),
    records: str | None = RECORDS,
    as_json: bool = JSON,
) -> None:
    """Give people their rights on the server, by the database itself: keeper, vet or admin."""
    from fecallab.records.engine import writing
    from fecallab.records.folder import find_folder, read_marker
    from fecallab.records.server import address_of, open_server, set_roles

    marker = read_marker(find_folder(records))
    if not marker.database:
        raise BadInput(
            "These records lie in a folder: who may open the folder may record.",
            next="Move them to a server first: fecallab records move ADDRESS",
            code="not-on-a-server",
        )
    named = [
        (login, role)
        for role, logins in (("keeper", keeper), ("vet", vet), ("admin", admin))
        for login in logins
    ]
    with open_server(address_of(marker.database)) as engine, writing(engine) as connection:
        roles = set_roles(connection, named)
    lines = [f"Roles: {', '.join(roles)}."]
    lines += [f"{login} is {role} now." for login, role in named]
    payload = {"roles": roles, "people": [{"login": login, "role": role} for login, role in named]}
    emit(payload, "\n".join(lines), as_json)


def _progress(what: str, done: int) -> None:
    if done and done % 10_000 == 0:
        say(f"{what}: {done}")
