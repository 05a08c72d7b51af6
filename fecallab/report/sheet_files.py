"""Write a sheet: whole or not at all."""

from __future__ import annotations

from pathlib import Path

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.report.sheet_paper import Paper
from fecallab.whole_file import put_whole


def write_sheet(sheet: Paper, path: Path) -> Path:
    """Write a sheet as PDF; one that was there before stays until the new one is whole.

    Raises
    ------
    CouldNot
        When the disk, the folder or its permissions stand in the way, or a program holds the file open.
    """
    return write_bytes(path, sheet.content(), "sheet")


def write_bytes(path: Path, content: bytes, what: str) -> Path:
    """Write a file under a temporary name, have it on the disk, then give it its name.

    Raises
    ------
    BadInput
        When the path names a folder, or nothing.
    CouldNot
        When the disk, the folder or its permissions stand in the way, or a program holds the file open.
    """
    if not path.name or path.is_dir():
        raise BadInput(
            f"The {what} needs the name of a file; '{path}' is a folder.",
            next="Add a file name to it.",
            code=f"{what}-without-name",
        )
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        put_whole(path, content)
    except OSError as problem:
        raise CouldNot(
            f"The {what} {path.name} could not be written: {problem.strerror or problem}.",
            next="Close it where it is open, or name a folder that you may write to: --to FOLDER",
            code=f"{what}-not-written",
        ) from None
    return path
