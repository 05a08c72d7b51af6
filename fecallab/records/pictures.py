"""Picture files: the original bytes, copied in untouched, each once, named by their hash."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.domain.exam import Picture
from fecallab.records.folder import PICTURES, picture_name, sync_folder
from fecallab.records.trouble import in_one_line

_CHUNK = 1 << 20


def hash_of(path: Path) -> str:
    """Return the SHA-256 of a file as 64 hexadecimal digits."""
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def place_picture(source: Path, folder: Path, info: Picture) -> tuple[Path, bool]:
    """Copy a picture into the record folder, so that it is there whole or not at all.

    Parameters
    ----------
    source : Path
        The keeper's file; it is only read.
    folder : Path
        The record folder.
    info : Picture
        What was found in the file; its hash must be that of the bytes that are copied.

    Returns
    -------
    Path
        Where the bytes lie now.
    bool
        Whether the file is new; False when the same bytes were there already.

    Raises
    ------
    BadInput
        When `source` is missing or may not be read.
    CouldNot
        When the file changed meanwhile, or the disk is full or read-only; nothing is left behind then.
    """
    target = folder / picture_name(info.sha256, info.format, info.file_name)
    try:
        reader = source.open("rb")
    except OSError as error:
        raise BadInput(
            f"The picture {source} cannot be read: {error.strerror}.",
            next="Check the name of the file and repeat.",
            code="picture-not-readable",
        ) from error
    with reader, in_one_line():
        (folder / PICTURES).mkdir(exist_ok=True)
        temporary = folder / PICTURES / f".incoming-{os.getpid()}-{info.sha256[:16]}"
        try:
            digest = hashlib.sha256()
            with temporary.open("wb") as writer:
                while chunk := reader.read(_CHUNK):
                    digest.update(chunk)
                    writer.write(chunk)
                writer.flush()
                os.fsync(writer.fileno())
            if digest.hexdigest() != info.sha256:
                raise CouldNot(
                    f"The picture {source} changed while it was copied; nothing was recorded.",
                    next="Close the program that writes it and repeat.",
                    code="picture-changed",
                )
            if target.exists() and hash_of(target) == info.sha256:
                temporary.unlink()
                return target, False
            if not target.parent.exists():
                target.parent.mkdir()
                sync_folder(target.parent.parent)
            temporary.replace(target)
            sync_folder(target.parent)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise
    return target, True
