"""The few forms of Markdown that the pages need."""

import re
from collections.abc import Iterable, Sequence

MADE = "<!-- Written by docs/make_reference.py from the program; change that, not this page. -->"


def plain(text: object) -> str:
    r"""Return a text of the program as Markdown that shows it as it is, in one line.

    Examples
    --------
    >>> plain("a < b | c* d\ne")
    'a \\< b \\| c\\* d e'
    """
    parts = re.split(r"(`[^`\n]+`)", " ".join(str(text).replace("``", "`").split()))
    return "".join(
        part.replace("|", r"\|") if part.startswith("`") else re.sub(r"([\\*<|\[\]`])", r"\\\1", part)
        for part in parts
    )


def code(text: object) -> str:
    """Return a word of the program between backticks; nothing for an empty one."""
    return f"`{str(text).replace('|', chr(92) + '|')}`" if str(text) else ""


def codes(words: Iterable[object]) -> str:
    """Return words of the program between backticks, joined by commas."""
    return ", ".join(code(word) for word in words)


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table; cells are Markdown already, columns without any text are left out."""
    body = [list(row) for row in rows]
    kept = [column for column in range(len(head)) if column == 0 or any(row[column] for row in body)]
    lines = [[head[column] for column in kept], ["---"] * len(kept)]
    lines += [[row[column] for column in kept] for row in body]
    return "\n".join("| " + " | ".join(cells) + " |" for cells in lines) + "\n"


def page(title: str, *blocks: str) -> str:
    """Return a whole page; blocks that are empty are left out."""
    return "\n\n".join([MADE, f"# {title}", *(block.strip() for block in blocks if block.strip())]) + "\n"


def anchor(heading: str) -> str:
    """Return the anchor that a heading gets, here and on a code host.

    Examples
    --------
    >>> anchor("fecallab vet take-in")
    'fecallab-vet-take-in'
    """
    return re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")


def console(*lines: str) -> str:
    """Return words that are typed in a terminal."""
    return "```console\n" + "\n".join(lines) + "\n```"
