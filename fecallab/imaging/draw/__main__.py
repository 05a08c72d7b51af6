"""Draw the sample slides: ``python -m fecallab.imaging.draw FOLDER [PICTURE ...]``."""

from __future__ import annotations

import sys

from fecallab.domain.errors import FecallabError
from fecallab.imaging.draw.write import write_sample_slides


def main(arguments: list[str]) -> int:
    """Write the slides, tell how many, and return the exit code."""
    if not arguments or arguments[0].startswith("-"):
        sys.stderr.write("Name a folder: python -m fecallab.imaging.draw FOLDER [PICTURE ...]\n")
        return 2
    try:
        written = write_sample_slides(arguments[0], arguments[1:] or None)
    except FecallabError as error:
        sys.stderr.write(f"{error}\n")
        return error.exit_code
    sys.stdout.write(f"{len(written)} files written to {arguments[0]}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
