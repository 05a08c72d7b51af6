"""Write a page: whole or not at all; and hold its size to the budget."""

from __future__ import annotations

from pathlib import Path

from fecallab.domain.errors import CouldNot
from fecallab.whole_file import put_whole

LARGEST_SHARE_OF_PICTURES = 1.4
"""A page may weigh this many times the pictures that it embeds (base64 alone takes 4/3) …"""
ROOM_FOR_THE_REST_BYTES = 1_000_000
"""… and this much for words, marks and charts."""


def write_page(path: str | Path, html: str) -> Path:
    """Write a page as UTF-8, whole or not at all.

    A temporary file beside it is written, flushed to the disk and renamed; a page that was there before stays
    until then.

    Parameters
    ----------
    path : str or Path
        Where the page goes; its folder exists.
    html : str
        The page.

    Returns
    -------
    Path
        The path written.

    Raises
    ------
    CouldNot
        When the disk, the folder or its permissions stand in the way; nothing was changed.
    """
    target = Path(path)
    content = html.encode("utf-8")
    try:
        put_whole(target, content)
    except OSError as problem:
        raise CouldNot(
            f"The page {target.name} could not be written: {problem.strerror or problem}.",
            next="Name a folder that exists, that you may write to and that has room.",
            code="page-not-written",
        ) from None
    return target


def page_is_within_budget(html_bytes: int, picture_bytes: int) -> bool:
    """Return whether a page keeps to its budget.

    Parameters
    ----------
    html_bytes : int
        Size of the page.
    picture_bytes : int
        Size of the pictures that it embeds, before they are written as text.

    Examples
    --------
    >>> page_is_within_budget(2_300_000, 1_000_000), page_is_within_budget(2_500_000, 1_000_000)
    (True, False)
    """
    return html_bytes <= LARGEST_SHARE_OF_PICTURES * picture_bytes + ROOM_FOR_THE_REST_BYTES
