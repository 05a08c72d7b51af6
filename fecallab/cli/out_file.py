"""Where a command writes a file of its own: checked before the work, written whole after it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fecallab.domain.errors import BadInput, CouldNot


def checked_out(target: Path, kinds: Sequence[str], read: Sequence[Path], option: str = "--out") -> Path:
    """Return a place that can be written, never over a file that is read.

    Parameters
    ----------
    target : Path
        The file as typed.
    kinds : sequence of str
        Endings that it may have, such as ``.png``.
    read : sequence of Path
        Files that the command reads.
    option : str
        How the place was given, for what is said.

    Raises
    ------
    BadInput
        ``out-kind``, ``out-folder`` or ``out-is-input``.
    """
    if target.suffix.lower() not in kinds:
        raise BadInput(
            f"{option} is {str(target)[:60]!r}; it ends in {' or '.join(kinds)}.",
            next=f"Type: {option} {target.stem or 'out'}{kinds[0]}",
            code="out-kind",
        )
    if target.is_dir() or not target.parent.is_dir():
        raise BadInput(
            f"{target} cannot be a file: {'it is a folder' if target.is_dir() else 'its folder is missing'}.",
            next="Name a file in a folder that is there.",
            code="out-folder",
        )
    if any(target.resolve() == path.resolve() for path in read):
        raise BadInput(
            f"{target} is one of the files that are read; it is not written over.",
            next=f"Choose another {option}.",
            code="out-is-input",
        )
    return target


def write_whole(target: Path, content: bytes) -> None:
    """Write a whole file or none.

    Raises
    ------
    CouldNot
        ``not-written``; nothing was changed.
    """
    from fecallab.whole_file import put_whole

    try:
        put_whole(target, content)
    except OSError as error:
        raise CouldNot(
            f"{target} could not be written: {error.strerror or error}.",
            next="Choose another folder or free some space.",
            code="not-written",
        ) from error
