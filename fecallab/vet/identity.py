"""What ties an answer to one page: the id and the hash, and what they are made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fecallab.domain.exam import Exam
from fecallab.domain.items import Item, numbered_items
from fecallab.vet.canonical import content_hash

_DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Digits and letters without I, L, O and U, which are mistaken for others."""


@dataclass(frozen=True)
class PageIdentity:
    """What ties an answer to one page."""

    id: str
    hash: str
    items: tuple[Item, ...]


def page_identity(
    collection: str, subject: str, exams: Sequence[Exam], *, question: str = ""
) -> PageIdentity:
    """Return the identity of a page: of whose records, about what, and what stands on it to be judged.

    Two pages that ask the same are the same page, whenever they were made; a mark that was added, moved,
    renamed or withdrawn makes another page.

    Parameters
    ----------
    collection : str
        The identity of the collection: `Reader.identity`.
    subject : str
        The code of the case or exam.
    exams : sequence of Exam
        As the keeper recorded them (`Reader.exam`, `Reader.exams`), in the order of the page, without verdicts.
    question : str
        What the keeper asks.

    Returns
    -------
    PageIdentity
        ``id`` eight letters or digits for people, ``hash`` 64 hexadecimal digits for machines, ``items``
        everything that can be judged, with its number on the page.

    Examples
    --------
    >>> page_identity("0" * 32, "C1", []).id
    '3TTT-TSDA'
    """
    items = numbered_items(exams)
    says = {
        "format": "fecallab-page",
        "version": 1,
        "collection": collection,
        "subject": subject,
        "question": question,
        "exams": [{"exam": exam.code, "sample": exam.sample} for exam in exams],
        "readings": [
            {"reading": reading.code, "picture": reading.picture}
            for exam in exams
            for preparation in exam.preparations
            for reading in preparation.readings
        ],
        "items": [
            [item.number, item.key, item.name, item.sure, item.count, item.x_px, item.y_px] for item in items
        ],
    }
    found = content_hash(says)
    bits = int(found[:10], 16)
    letters = "".join(_DIGITS[bits >> shift & 31] for shift in range(35, -1, -5))
    return PageIdentity(id=f"{letters[:4]}-{letters[4:]}", hash=found, items=items)
