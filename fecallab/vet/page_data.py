"""What the page's script knows: the same facts as the page, as JSON that cannot end its own element."""

from __future__ import annotations

import json
from typing import Any

from fecallab.imaging.mark_style import style_of
from fecallab.report.figures import tidy
from fecallab.vet.page_model import PageToVet, VetItem

_OUTLINE_ROOM = 1.12
_RING_SHARE = 52


def safe_json(value: Any) -> str:
    r"""Return JSON that may stand inside a ``<script>`` element: no ``<``, ``>`` or ``&`` in any text.

    Examples
    --------
    >>> safe_json(["</script>"])
    '["\\u003c/script\\u003e"]'
    """
    text = json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def page_data(page: PageToVet) -> str:
    """Return the data of a page for its script.

    Notes
    -----
    Marks are short rows, so that thousands of them stay within the page's budget: number, key, x, y, half axes,
    angle, place of the name, sure, size, fit.
    """
    names: dict[tuple[str, str], int] = {}
    fields: list[dict[str, Any]] = [
        {
            "reading": one.reading,
            "title": tidy(f"{one.exam}: {one.block.title}" if len(page.exams) > 1 else one.block.title),
            "width": one.block.width_px,
            "height": one.block.height_px,
            "marks": [],
        }
        for one in page.pictures
    ]
    counts = []
    for one in page.items:
        name = names.setdefault((tidy(one.words), style_of(one.group).colour), len(names))
        if one.mark is None or one.picture is None:
            words = f"{one.item.count} counted{'' if one.in_clip else ' at the eyepiece'}, {one.where}"
            counts.append([one.item.number, tidy(one.item.key), name, int(one.item.sure), tidy(words)])
        else:
            fields[one.picture]["marks"].append(_row(one, name, page))
    return safe_json(
        {
            "id": page.page_id,
            "hash": page.page_hash,
            "part": page.part,
            "parts": page.parts,
            "names": [list(name) for name in names],
            "fields": fields,
            "counts": counts,
            "doubtful": [one.item.number for one in page.doubtful],
            "answered": [one.item.number for one in page.answered],
            "shortlists": {
                str(one.item.number): list(one.shortlist) for one in page.doubtful if one.shortlist
            },
            "organisms": [[key, tidy(words), group] for key, words, group in page.organisms],
        }
    )


def _row(one: VetItem, name: int, page: PageToVet) -> list[Any]:
    assert one.mark is not None and one.picture is not None
    mark, block = one.mark, page.pictures[one.picture].block
    long_px = short_px = max(block.width_px, block.height_px) / _RING_SHARE
    if block.um_per_px and mark.length_um and mark.width_um:
        half = [side / block.um_per_px / 2 for side in (mark.length_um, mark.width_um)]
        long_px, short_px = (max(side * _OUTLINE_ROOM, side + 2) for side in half)
    return [
        one.item.number,
        tidy(one.item.key),
        round(mark.x_px, 1),
        round(mark.y_px, 1),
        round(long_px, 1),
        round(short_px, 1),
        round(mark.angle_deg or 0),
        name,
        int(one.item.sure),
        one.size,
        one.fit,
    ]
