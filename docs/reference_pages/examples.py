"""One example of every command: the words that the tests run, and here those that need pictures or a server."""

import re
from functools import cache

PICTURES = {
    "exam tally": ("S1", "--method", "direct_saline_smear", "--objective", "40", "--field-number", "20"),
    "exam propose": ("E1", "--um-per-px", "0.25"),
    "exam read-clip": ("E1-1", "field.mp4", "--objective", "40", "--um-per-px", "0.5", "--of", "flagellate"),
    "exam take-in": (
        *("photos", "--sample", "S1", "--method", "simple_flotation", "--objective", "10"),
        *("--um-per-px", "0.65", "--gravity", "1.20", "--gravity-checked", "--standing-minutes", "15"),
    ),
    "image calibrate": ("micrometer.png", "--division-um", "10"),
    "image check": ("field.png", "--um-per-px", "0.25"),
    "image detect": ("field.png", "--um-per-px", "0.25", "--out", "marks.csv"),
    "image detect-all": ("photos", "--um-per-px", "0.25", "--out", "found.jsonl"),
    "image learn": ("--records", "my-records"),
    "image measure": ("field.png", "--um-per-px", "0.25", "--ellipse", "420,310,120,80,35", "--on-edge"),
    "image identify": (
        *("--host", "bearded dragon", "--length-um", "28", "--width-um", "24"),
        *("--method", "simple_flotation", "--still"),
    ),
    "image overlay": ("field.png", "--marks", "marks.csv", "--um-per-px", "0.25"),
    "image contact-sheet": ("field.png", "--marks", "marks.csv", "--out", "for-the-vet.png"),
    "image motility": ("clip.mp4", "--um-per-px", "0.5", "--picture", "tracks.png"),
}
"""Commands on pictures, whose tests draw them."""

SERVER = {
    "records move": ("postgresql://mara@our-server/rescue", "--pictures", "file:///shared/pictures"),
    "records join": ("postgresql://mara@our-server/rescue", "my-records"),
    "records renew": ("--records", "my-records"),
    "records people": ("--keeper", "mara", "--vet", "ilse"),
}
"""Commands on records that lie on a server."""


@cache
def examples() -> dict[str, tuple[str, ...]]:
    """Return the words of every example by its command."""
    from tests.cli.every_command import DONE

    return {**DONE, **PICTURES, **SERVER}


def typed(word: str) -> str:
    """Return a word as it is typed in any shell.

    Examples
    --------
    >>> typed("bearded dragon"), typed("--json"), typed("1 agree; grade few")
    ('"bearded dragon"', '--json', '"1 agree; grade few"')
    """
    return word if re.fullmatch(r"[\w./:=,@%+-]+", word) else f'"{word}"'


def example_of(name: str) -> str:
    """Return the line that is typed; only the command where nobody has written an example."""
    return " ".join(["fecallab", name, *(typed(word) for word in examples().get(name, ()))])
