"""Marks of one picture as a W3C Web Annotation page (open standard: https://www.w3.org/TR/annotation-model/)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fecallab.domain.exam import Picture, Reading

_OWN = ("umPerPx", "objective", "sure", "lengthUm", "widthUm", "angleDeg", "xPx", "yPx")


def annotation_page(reading: Reading, picture: Picture, file: str) -> dict[str, Any]:
    """Return the marks of a reading as an AnnotationPage.

    Parameters
    ----------
    reading : Reading
        With its picture and marks.
    picture : Picture
        The picture that was marked.
    file : str
        Where its bytes lie beside the page.

    Returns
    -------
    dict
        A measured mark is an ellipse in an ``SvgSelector`` (its outer long and short axis), one that was only
        pointed at is a ``FragmentSelector`` without extent. Words that the standard lacks are bound to names
        of our own in ``@context``.
    """
    items: list[dict[str, Any]] = []
    for mark in reading.marks:
        body = {
            "type": "TextualBody",
            "purpose": "identifying",
            "format": "text/plain",
            "value": mark.name,
            "sure": mark.sure,
            "xPx": mark.x_px,
            "yPx": mark.y_px,
        }
        if mark.length_um is not None:
            body |= {"lengthUm": mark.length_um, "widthUm": mark.width_um, "angleDeg": mark.angle_deg}
        item: dict[str, Any] = {
            "id": f"urn:fecallab:mark:{mark.code}",
            "type": "Annotation",
            "motivation": "identifying",
            "body": body,
            "target": {"source": file, "selector": _selector(mark, reading.um_per_px)},
        }
        if mark.named_by:
            item["creator"] = {"type": "Person", "name": mark.named_by}
        items.append(item)
    page: dict[str, Any] = {
        "@context": [
            "http://www.w3.org/ns/anno.jsonld",
            {word: f"urn:fecallab:terms:{word}" for word in _OWN},
        ],
        "id": f"urn:fecallab:reading:{reading.code}",
        "type": "AnnotationPage",
        "label": picture.file_name,
        "items": items,
    }
    if reading.um_per_px is not None:
        page["umPerPx"] = reading.um_per_px
    if reading.objective is not None:
        page["objective"] = reading.objective
    return page


def _selector(mark: Any, um_per_px: float | None) -> dict[str, str]:
    x, y = mark.x_px + 0.5, mark.y_px + 0.5  # an SVG shows pixel 0 between 0 and 1
    if mark.length_um is None or not um_per_px:
        return {
            "type": "FragmentSelector",
            "conformsTo": "http://www.w3.org/TR/media-frags/",
            "value": f"xywh=pixel:{x:.2f},{y:.2f},0,0",
        }
    rx, ry = mark.length_um / um_per_px / 2, (mark.width_um or mark.length_um) / um_per_px / 2
    turn = f' transform="rotate({mark.angle_deg or 0.0:.1f} {x:.2f} {y:.2f})"'
    ellipse = f'<ellipse cx="{x:.2f}" cy="{y:.2f}" rx="{rx:.2f}" ry="{ry:.2f}"{turn}/>'
    return {
        "type": "SvgSelector",
        "conformsTo": "http://www.w3.org/TR/SVG11/",
        "value": f'<svg xmlns="http://www.w3.org/2000/svg">{ellipse}</svg>',
    }


def pages_of(readings: Sequence[Reading], pictures: dict[str, Picture], files: dict[str, str]) -> Any:
    """Yield code and page of every reading that has marks on a picture."""
    for reading in readings:
        if reading.marks and reading.picture in pictures:
            known = pictures[reading.picture]
            yield reading.code, annotation_page(reading, known, files[reading.picture])
