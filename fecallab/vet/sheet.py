"""Numbered contact sheets of a page: every mark under the number that it has on the page, for a messenger."""

from __future__ import annotations

import io

from fecallab.imaging.contact_sheet import SheetField, sheet_image
from fecallab.imaging.read import open_picture
from fecallab.report.words import owner
from fecallab.vet.page_model import PageToVet, VetItem, VetPicture
from fecallab.vet.page_words import plain

SHEET_MARKS = 40
"""Marks on one sheet at most (own choice: a messenger makes long pictures small)."""
SHEET_FIELDS = 3
"""Whole fields on one sheet at most, for the same reason."""
SHEET_QUALITIES = (85, 70, 50)


def contact_sheets(page: PageToVet, most_bytes: int | None = None) -> list[bytes]:
    """Return the sheets of a page as JPEG, as many as are needed; coarser ones where `most_bytes` asks for it.

    The keeper's names do not stand on them, so that they do not lead the eye; numbers are those of the page.
    Only the pictures of one sheet are held at a time.
    """
    title = plain(f"{owner(page.animal)}, page {page.page_id}: which number is what?")
    return [_sheet(some, title, most_bytes) for some in _planned(page)]


def _planned(page: PageToVet) -> list[list[tuple[VetPicture, list[VetItem]]]]:
    """Return which marks of which pictures go on which sheet."""
    sheets: list[list[tuple[VetPicture, list[VetItem]]]] = []
    taken = 0
    for place, picture in enumerate(page.pictures):
        mine = [one for one in page.items if one.picture == place]
        for start in range(0, len(mine), SHEET_MARKS):
            some = mine[start : start + SHEET_MARKS]
            if not sheets or taken + len(some) > SHEET_MARKS or len(sheets[-1]) == SHEET_FIELDS:
                sheets.append([])
                taken = 0
            sheets[-1].append((picture, some))
            taken += len(some)
    return sheets


def _sheet(fields: list[tuple[VetPicture, list[VetItem]]], title: str, most_bytes: int | None) -> bytes:
    drawn = [
        SheetField(
            plain(picture.block.title),
            open_picture(picture.source),
            picture.block.um_per_px,
            tuple(one.mark for one in items if one.mark is not None),
            tuple(one.item.number for one in items),
        )
        for picture, items in fields
    ]
    image = sheet_image(drawn, title=title)
    for quality in SHEET_QUALITIES:
        out = io.BytesIO()
        image.save(out, "JPEG", quality=quality)
        if most_bytes is None or out.tell() <= most_bytes:
            break
    return out.getvalue()
