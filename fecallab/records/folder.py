"""Layout of a record folder: ``fecallab.json``, ``records.sqlite``, ``pictures/ab/<sha256>.<ext>``.

The marker of a folder whose records are on a server names its address instead, without a password.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from fecallab.domain.errors import BadInput, CouldNot, FecallabError
from fecallab.whole_file import put_whole

MARKER = "fecallab.json"
DATABASE = "records.sqlite"
PICTURES = "pictures"
ENVIRONMENT = "FECALLAB_RECORDS"
RECORD_FOLDER = "fecallab record folder"
BACKUP = "fecallab backup"
LAYOUT_VERSION = 2
_PLAIN_VERSION = 1

_EXTENSIONS = {
    "JPEG": "jpg",
    "MPO": "jpg",
    "PNG": "png",
    "TIFF": "tif",
    "OME-TIFF": "ome.tif",
    "HEIC": "heic",
}
_MAKE = "Type: fecallab records make FOLDER"


@dataclass(frozen=True)
class Marker:
    """What ``fecallab.json`` says: the kind of folder, its layout, and which collection it holds.

    ``database`` is the address of a server that holds the records, ``pictures`` that of a place that holds
    the pictures; both are empty where they lie in the folder.
    """

    format: str
    version: int
    collection: str
    database: str = ""
    pictures: str = ""


def find_folder(explicit: str | None = None, environment: Mapping[str, str] | None = None) -> Path:
    """Return the record folder that a command works on.

    Parameters
    ----------
    explicit : str or None
        What ``--records`` gave.
    environment : mapping, optional
        Environment variables; those of the process when omitted.

    Returns
    -------
    Path
        ``--records`` first, then ``FECALLAB_RECORDS``, then the current folder if it is a record folder.

    Raises
    ------
    BadInput
        When none of them is a record folder; it says what to type.
    CouldNot
        When its marker is damaged or from a newer fecallab.
    """
    folder = named_folder(explicit, environment)
    read_marker(folder)
    return folder


def named_folder(explicit: str | None = None, environment: Mapping[str, str] | None = None) -> Path:
    """Return the folder that a command means, without a look at what it holds."""
    named = explicit or (os.environ if environment is None else environment).get(ENVIRONMENT)
    if named:
        try:
            return Path(named).expanduser()
        except RuntimeError:
            raise BadInput(
                f"{named[:60]!r} begins with the home of somebody who is not known here.",
                next="Type the whole path: --records FOLDER",
                code="no-record-folder",
            ) from None
    here = Path.cwd()
    if (here / MARKER).exists():
        return here
    near = _near(here)
    step = f"Type: cd {shown(near)}  or name it: --records {shown(near)}" if near else ""
    raise BadInput(
        "No record folder was named, and this folder is none.",
        next=step or f"{_MAKE}  or name one: --records FOLDER",
        code="no-record-folder",
    )


def _near(here: Path) -> Path | None:
    """Return the one record folder that lies in this folder or around it, as it is typed from here."""
    for up, folder in enumerate(here.parents, start=1):
        if _is_record_folder(folder):
            return Path(*[".."] * up)
    try:
        inside = [one.parent for one in here.glob(f"*/{MARKER}") if _is_record_folder(one.parent)]
    except OSError:
        return None
    return inside[0].relative_to(here) if len(inside) == 1 else None


def _is_record_folder(folder: Path) -> bool:
    try:
        read_marker(folder)
    except FecallabError:
        return False
    return True


def read_marker(folder: Path, format: str | None = RECORD_FOLDER) -> Marker:
    """Read and check the marker of a record folder, or of a backup; ``format=None`` takes either.

    Raises
    ------
    BadInput
        When the folder is missing or is no such folder.
    CouldNot
        When the marker is damaged or was written by a newer fecallab.
    """
    if not folder.exists():
        raise BadInput(f"There is no folder {folder}.", next=_MAKE, code="no-record-folder")
    try:
        content = (folder / MARKER).read_bytes()
    except (FileNotFoundError, NotADirectoryError):
        raise BadInput(
            f"{folder} is no {_noun(format)}: it has no {MARKER}.",
            next=f"{_MAKE}  or name another folder.",
            code="no-record-folder",
        ) from None
    except OSError as error:
        raise CouldNot(
            f"{folder / MARKER} cannot be read: {error.strerror}.",
            next="Check the permissions of the folder.",
            code="not-readable",
        ) from error
    try:
        found = json.loads(content.decode("utf-8"))
        marker = Marker(
            str(found["format"]),
            int(found["version"]),
            str(found["collection"]),
            str(found.get("database", "")),
            str(found.get("pictures", "")),
        )
    except (ValueError, KeyError, TypeError, AttributeError):
        raise CouldNot(
            f"The marker {folder / MARKER} is damaged; the records beside it may be whole.",
            next=f"Type: fecallab records make {shown(folder)}  (it writes only the marker anew)",
            code="marker-damaged",
        ) from None
    if marker.version > LAYOUT_VERSION:
        raise CouldNot(
            f"{folder} was written by a newer fecallab "
            f"(layout {marker.version}; this one knows {LAYOUT_VERSION}).",
            next="Install the newer fecallab and repeat.",
            code="newer-records",
        )
    if marker.format != format and (format or marker.format not in (RECORD_FOLDER, BACKUP)):
        what = f"a {_noun(marker.format)}"
        raise BadInput(
            f"{folder} is {what}, no {_noun(format)}.",
            next="Name another folder."
            if marker.format != BACKUP
            else f"Type: fecallab records restore {shown(folder)} NEW_FOLDER",
            code="no-record-folder",
        )
    return marker


def _noun(format: str | None) -> str:
    return (format or RECORD_FOLDER).removeprefix("fecallab ")


def shown(path: Path) -> str:
    """Return a path as it is typed: in quotes where it holds a space.

    Examples
    --------
    >>> shown(Path("my records"))
    '"my records"'
    """
    return f'"{path}"' if any(character.isspace() for character in str(path)) else str(path)


def write_marker(folder: Path, marker: Marker) -> None:
    """Write the marker so that it is there whole, or not at all."""
    elsewhere = {
        name: address
        for name, address in (("database", marker.database), ("pictures", marker.pictures))
        if address
    }
    version = marker.version if elsewhere else _PLAIN_VERSION  # older programs still read a plain folder
    said = {"format": marker.format, "version": version, "collection": marker.collection, **elsewhere}
    write_whole(folder / MARKER, (json.dumps(said, indent=2) + "\n").encode("utf-8"))


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all, and have its name on the disk too."""
    put_whole(path, content)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Have the names in a folder on the disk, where the system can do that."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def picture_name(sha256: str, format: str, file_name: str = "") -> str:
    """Return where a picture lies inside the record folder, by its hash and format.

    Examples
    --------
    >>> picture_name("ab12", "JPEG")
    'pictures/ab/ab12.jpg'
    >>> picture_name("ab12", "clip", "drop 1.MP4")
    'pictures/ab/ab12.mp4'
    """
    extension = _EXTENSIONS.get(format.upper(), "")
    if not extension:
        tail = file_name.rpartition(".")[2].lower()
        extension = tail if tail.isascii() and tail.isalnum() and len(tail) <= 5 else "bin"
    return f"{PICTURES}/{sha256[:2]}/{sha256}.{extension}"
