"""What a vet is asked about, one by one, with numbers: every mark, and every count without a picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fecallab.domain.exam import Exam


@dataclass(frozen=True, kw_only=True)
class Item:
    """One thing that can be agreed with or corrected.

    Attributes
    ----------
    number : int
        Its number on the vet's page, from 1.
    key : str
        What names it for good: the code of a mark (``E3-1-2-1``), or for a count without a picture the code
        of the reading with the name, and ``?`` when the keeper was not sure (``E3-1-2:oxyurid?``).
    exam, reading : str
        Codes of where it was seen.
    name : str
        The keeper's own name for it.
    sure : bool
        Whether the keeper was sure.
    count : int
        How many: 1 for a mark.
    picture : str
        Hash of the picture that it stands in; empty for a count at the eyepiece.
    x_px, y_px : float or None
        Where in the picture.
    """

    number: int
    key: str
    exam: str
    reading: str
    name: str
    sure: bool
    count: int = 1
    picture: str = ""
    x_px: float | None = None
    y_px: float | None = None


def count_key(reading: str, name: str, *, sure: bool) -> str:
    """Return the key of a count without a picture.

    Examples
    --------
    >>> count_key("E3-1-2", "oxyurid", sure=False)
    'E3-1-2:oxyurid?'
    """
    return f"{reading}:{name}{'' if sure else '?'}"


def numbered_items(exams: Sequence[Exam]) -> tuple[Item, ...]:
    """Return everything in these exams that a vet can be asked about, numbered from 1.

    The order is that of the exams as given, then of their parts; it does not depend on names.

    Parameters
    ----------
    exams : sequence of Exam
        As the keeper recorded them, without any verdict.

    Examples
    --------
    >>> numbered_items([])
    ()
    """
    found: list[Item] = []
    for exam in exams:
        for preparation in exam.preparations:
            for reading in preparation.readings:
                for mark in reading.marks:
                    found.append(
                        Item(
                            number=len(found) + 1,
                            key=mark.code,
                            exam=exam.code,
                            reading=reading.code,
                            name=mark.name,
                            sure=mark.sure,
                            picture=reading.picture,
                            x_px=mark.x_px,
                            y_px=mark.y_px,
                        )
                    )
                if reading.marks:
                    continue
                for sure, counts in ((True, reading.counts), (False, reading.unsure)):
                    for name in sorted(counts):
                        if counts[name] > 0:
                            found.append(
                                Item(
                                    number=len(found) + 1,
                                    key=count_key(reading.code, name, sure=sure),
                                    exam=exam.code,
                                    reading=reading.code,
                                    name=name,
                                    sure=sure,
                                    count=counts[name],
                                )
                            )
    return tuple(found)
