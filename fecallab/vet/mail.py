"""What one mail can carry: pictures scaled to fit, pages split where they do not, and the words that go with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fecallab.domain.errors import BadInput
from fecallab.report.words import owner
from fecallab.vet.page_model import PageToVet, VetItem, VetPicture
from fecallab.vet.page_pictures import JPEG_QUALITY, LONGEST_SIDES_PX, scaled, with_thumbnails
from fecallab.vet.page_words import example_answer

MEGABYTE = 1_000_000
DEFAULT_MOST_MB = 10.0
LEAST_MB = 1.0
_LINE_OF_A_MAIL = 57
_LINE_AS_SENT = 78
ROOM_FOR_WORDS_BYTES = 300_000
"""Set aside for words, charts, styles and script; a page of real size needs about half of it (measured: 145,000)."""
BYTES_PER_MARK = 460
"""Set aside for one mark on the page: outline, shape, number, list and data (measured: about 420)."""
BYTES_PER_DOUBT = 2_600
"""Set aside besides for the words and controls of one doubtful mark (measured: about 2,300)."""
_HARDER = (JPEG_QUALITY, 70, 55)


def sent_bytes(file_bytes: int) -> int:
    """Return how large a file becomes in a mail: base64 in lines of 76 letters.

    Examples
    --------
    >>> sent_bytes(57), sent_bytes(58), sent_bytes(7_300_000)
    (78, 156, 9989538)
    """
    return -(-file_bytes // _LINE_OF_A_MAIL) * _LINE_AS_SENT


def largest_file_bytes(most_mb: float) -> int:
    """Return the largest file that a mail of this size can carry."""
    return int(most_mb * MEGABYTE / _LINE_AS_SENT) * _LINE_OF_A_MAIL


@dataclass(frozen=True)
class _Weights:
    """What the pictures of a page weigh at one size."""

    pictures: list[VetPicture]
    longest_px: int

    def of(self, place: int, items: Sequence[VetItem]) -> int:
        jpegs = len(self.pictures[place].jpeg) + sum(len(one.crop.jpeg) for one in items if one.crop)
        doubts = sum(one.doubtful for one in items)
        return jpegs * 4 // 3 + 4_000 + BYTES_PER_MARK * len(items) + BYTES_PER_DOUBT * doubts


def packed(page: PageToVet, most_mb: float = DEFAULT_MOST_MB) -> list[PageToVet]:
    """Return the page ready to be drawn, in as many parts as mails are needed.

    Pictures are tried at smaller and smaller sizes until all fit one mail; when even the smallest do not, they
    are split over several pages at that size. Crops are never scaled.

    Parameters
    ----------
    page : PageToVet
        As `page_build.vet_page` made it: pictures as files.
    most_mb : float, optional
        Largest mail in megabytes (millions of bytes), as it is sent.

    Raises
    ------
    BadInput
        When `most_mb` is too small for a page.
    """
    room = largest_file_bytes(most_mb) - ROOM_FOR_WORDS_BYTES
    if most_mb < LEAST_MB:
        raise BadInput(
            f"A mail of {most_mb:g} MB is too small for a page; {LEAST_MB:g} MB is the least.",
            next="Type: --max-mb 10",
            code="mail-too-small",
        )
    counted = [one for one in page.items if one.picture is None]
    of_picture: list[list[VetItem]] = [[] for _ in page.pictures]
    for one in page.items:
        if one.picture is not None:
            of_picture[one.picture].append(one)
    room -= BYTES_PER_MARK * len(counted) + sum(len(j) * 4 // 3 for c in page.clips for _, j in c.stills)
    room -= sum(len(drawn) for clip in page.clips for drawn in clip.tracks)
    longest = max((max(p.block.width_px, p.block.height_px) for p in page.pictures), default=0)
    sides = [side for side in LONGEST_SIDES_PX if side < longest] or [LONGEST_SIDES_PX[-1]]
    first = LONGEST_SIDES_PX[0] if longest > LONGEST_SIDES_PX[0] else longest or sides[0]
    weights = _Weights(scaled(page.pictures, first), first)
    while (total := _total(weights, of_picture)) > room and weights.longest_px > sides[-1]:
        jpegs = sum(len(one.jpeg) for one in weights.pictures) * 4 // 3
        wanted = weights.longest_px * (max(1, room - (total - jpegs)) / jpegs) ** 0.5
        smaller = [side for side in sides if side < weights.longest_px]
        side = next((one for one in smaller if one <= wanted), sides[-1])
        weights = _Weights(scaled(page.pictures, side), side)
    for quality in _HARDER[1:]:
        if all(weights.of(k, items) <= room for k, items in enumerate(of_picture)):
            break
        weights = _Weights(scaled(page.pictures, weights.longest_px, quality), weights.longest_px)
    groups: list[list[int]] = [[]]
    taken = 0
    for place, items in enumerate(of_picture):
        weight = weights.of(place, items)
        if groups[-1] and taken + weight > room:
            groups.append([])
            taken = 0
        groups[-1].append(place)
        taken += weight
    return [
        _part(page, weights, group, counted if number == 1 else [], of_picture, number, len(groups), longest)
        for number, group in enumerate(groups, start=1)
    ]


def _total(weights: _Weights, of_picture: Sequence[Sequence[VetItem]]) -> int:
    return sum(weights.of(place, items) for place, items in enumerate(of_picture))


def _part(
    page: PageToVet,
    weights: _Weights,
    group: Sequence[int],
    counted: Sequence[VetItem],
    of_picture: Sequence[Sequence[VetItem]],
    number: int,
    parts: int,
    longest: int,
) -> PageToVet:
    new_place = {place: k for k, place in enumerate(group)}
    items = [replace(one, picture=new_place[place]) for place in group for one in of_picture[place]]
    items = sorted([*items, *counted], key=lambda one: one.item.number)
    shown = [weights.pictures[place] for place in group]
    wanted = {one.picture for one in items if one.crop and one.picture is not None}
    return replace(
        page,
        items=tuple(items),
        pictures=tuple(with_thumbnails(shown, wanted)),
        clips=page.clips if number == 1 else (),
        part=number,
        parts=parts,
        scaled=longest > weights.longest_px,
    )


def in_mails(files: Sequence[tuple[str, int]], most_mb: float) -> list[list[str]]:
    """Return which files go into which mail, in their order; a file too large for any stands alone.

    Parameters
    ----------
    files : sequence of (str, int)
        Name and bytes.
    most_mb : float
        Largest mail, in megabytes as it is sent.

    Examples
    --------
    >>> in_mails([("a", 4_000_000), ("b", 3_000_000), ("c", 2_000_000)], 10)
    [['a', 'b'], ['c']]
    """
    mails: list[list[str]] = []
    room = 0
    for name, size in files:
        if not mails or sent_bytes(size) > room:
            mails.append([])
            room = int(most_mb * MEGABYTE)
        mails[-1].append(name)
        room -= sent_bytes(size)
    return mails


def covering_words(pages: Sequence[PageToVet], files: Sequence[str]) -> str:
    """Return the message that goes with the page: what is attached, how to answer.

    Parameters
    ----------
    pages : sequence of PageToVet
        The parts.
    files : sequence of str
        Names of the files that are sent.
    """
    page = pages[0]
    greeting = f"Dear {page.to_whom}," if page.to_whom else "Dear vet,"
    lines = [greeting, ""]
    if page.asks:
        lines += [page.asks, ""]
    what = f"{owner(page.animal)}{f' ({page.animal.species})' if page.animal.species else ''}"
    lines += [f"Attached are the pictures and the history of {what}: {', '.join(files)}."]
    if len(pages) > 1:
        lines += [f"The page comes in {len(pages)} parts, one in each mail; each can be answered by itself."]
    lines += [
        "",
        "Open the page in a browser and tap, or write back in words by number, for example:",
        f'"{example_answer(page)}"',
        f"Page {page.page_id}. Nothing has to be installed, and nothing is fetched from anywhere.",
    ]
    if page.from_whom:
        lines += ["", page.from_whom]
    return "\n".join(lines) + "\n"
