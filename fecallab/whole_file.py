"""A file that is written whole or not at all."""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from pathlib import Path


def put_whole(target: Path, content: bytes) -> None:
    """Write a file under a temporary name, have it on the disk, then give it its name.

    A file that was there before stays until then.

    Raises
    ------
    OSError
        When the disk, the folder or its permissions stand in the way; nothing was changed.
    """
    temporary = target.with_name(f".{target.name[:60]}-{secrets.token_hex(6)}.part")
    try:
        with temporary.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        temporary.replace(target)
    except BaseException:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise
