"""Marks to and from open formats: CSV, and W3C Web Annotation JSON.

CSV columns: ``picture, x_px, y_px, length_um, width_um, angle_deg, name, sure`` (others are left alone). In
Web Annotation the target's source is the picture's file name and its selector a ``FragmentSelector``
(``xywh=pixel:x,y,w,h``) or an ``SvgSelector`` holding one ``ellipse`` or ``circle``; the name is a ``tagging``
body, and a ``tagging`` body ``unsure`` marks doubt. Positions are pixels, x to the right, y down, 0 at the
centre of the first pixel.
"""

from __future__ import annotations

import csv
import json
import math
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Mark

CSV_COLUMNS = ("picture", "x_px", "y_px", "length_um", "width_um", "angle_deg", "name", "sure")
LARGEST_BYTES = 50_000_000
CONTEXT = "http://www.w3.org/ns/anno.jsonld"
_YES = {"true", "1", "yes", "sure", ""}
_NO = {"false", "0", "no", "unsure"}


def read_marks(path: Path) -> list[tuple[str, Mark]]:
    """Read marks with the name of the picture that each is on (empty when the file does not say).

    Raises
    ------
    BadInput
        When the file is missing, too large, neither format, or a value is impossible; the line or the
        annotation is named.
    """
    if not path.is_file():
        raise BadInput(
            f"There is no file {path}.", next="Name a CSV or JSON file of marks.", code="no-such-file"
        )
    if path.stat().st_size > LARGEST_BYTES:
        raise BadInput(f"{path.name} is larger than 50 MB.", next="Name a file of marks.", code="too-large")
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput(
            f"{path.name} is no text file.", next="Name a CSV or JSON file.", code="no-text"
        ) from None
    if text.lstrip().startswith(("{", "[")):
        return _from_json(text, path.name)
    return _from_csv(text, path.name)


def _number(text: Any, place: str, what: str, low: float, high: float) -> float:
    try:
        value = float(text)
    except (TypeError, ValueError):
        value = math.nan
    if not low <= value <= high:
        rule = f"a number from {low:g} to {high:g}"
        text = f"{place}: {what} is {str(text)[:30]!r}; it must be {rule}."
        raise BadInput(text, next="Correct it; nothing was recorded.", code="mark-value")
    return value


def _optional(text: Any, place: str, what: str, high: float) -> float | None:
    return None if text in (None, "") else _number(text, place, what, 0, high)


def _from_csv(text: str, file_name: str) -> list[tuple[str, Mark]]:
    separator = ";" if text.partition("\n")[0].count(";") > text.partition("\n")[0].count(",") else ","
    reader = csv.DictReader(text.splitlines(), delimiter=separator)
    missing = {"x_px", "y_px", "name"} - {(name or "").strip() for name in reader.fieldnames or []}
    if missing:
        text = f"{file_name} lacks the columns {', '.join(sorted(missing))}."
        raise BadInput(text, next=f"Columns are: {', '.join(CSV_COLUMNS)}", code="columns-missing")
    marks: list[tuple[str, Mark]] = []
    for line, raw in enumerate(reader, start=2):
        row = {
            (key or "").strip(): (value or "").strip() for key, value in raw.items() if isinstance(value, str)
        }
        place = f"{file_name}, line {line}"
        said = row.get("sure", "").lower()
        if said not in _YES | _NO:
            text = f"{place}: sure is {said[:20]!r}; it must be true or false."
            raise BadInput(text, next="Correct it; nothing was recorded.", code="mark-value")
        mark = Mark(
            x_px=_number(row.get("x_px"), place, "x_px", -0.5, 1e6),
            y_px=_number(row.get("y_px"), place, "y_px", -0.5, 1e6),
            name=row.get("name", ""),
            sure=said in _YES,
            length_um=_optional(row.get("length_um"), place, "length_um", 1e5),
            width_um=_optional(row.get("width_um"), place, "width_um", 1e5),
            angle_deg=_optional(row.get("angle_deg"), place, "angle_deg", 180),
        )
        marks.append((Path(row.get("picture", "")).name, mark))
    return marks


def _from_json(text: str, file_name: str) -> list[tuple[str, Mark]]:
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        raise BadInput(f"{file_name} is no whole JSON.", next="Export it again.", code="no-json") from None
    items: Any = data
    if isinstance(data, dict):
        page = data.get("first", data)
        items = page.get("items", [data]) if isinstance(page, dict) else []
    if not isinstance(items, list):
        raise BadInput(
            f"{file_name} holds no list of annotations.", next="Export it again.", code="no-annotations"
        )
    return [_from_annotation(item, f"{file_name}, annotation {n}") for n, item in enumerate(items, start=1)]


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else [value]


def _from_annotation(item: Any, place: str) -> tuple[str, Mark]:
    if not isinstance(item, dict):
        raise BadInput(f"{place} is no object.", next="Export it again.", code="no-annotations")
    target = _listed(item.get("target"))[0]
    selector = _listed(target.get("selector"))[0] if isinstance(target, dict) else None
    if not isinstance(selector, dict):
        raise BadInput(f"{place} has no selector.", next="It needs a position in pixels.", code="no-selector")
    x, y, long_px, short_px, angle = _position(selector, place)
    source = target.get("source", "")
    source = source.get("id", "") if isinstance(source, dict) else source
    tags = [
        str(body.get("value", "")).strip()
        for body in _listed(item.get("body", []))
        if isinstance(body, dict)
        and body.get("purpose", "tagging") in ("tagging", "identifying", "classifying")
    ]
    names = [tag for tag in tags if tag and tag.lower() not in ("sure", "unsure")]
    if not names:
        raise BadInput(
            f"{place} names no organism.", next="Add a tagging body with the name.", code="no-name"
        )
    scale = target.get("um_per_px") if isinstance(target, dict) else None
    factor = _number(scale, place, "um_per_px", 1e-4, 1e4) if scale not in (None, "") else None
    mark = Mark(
        x_px=x,
        y_px=y,
        name=names[0],
        sure="unsure" not in [tag.lower() for tag in tags],
        length_um=long_px * factor if factor and long_px else None,
        width_um=short_px * factor if factor and short_px else None,
        angle_deg=angle,
    )
    return Path(str(source).rsplit("/", 1)[-1]).name, mark


def _position(selector: dict[str, Any], place: str) -> tuple[float, float, float, float, float | None]:
    """Return centre, long and short axis in pixels, and the angle if the selector has one."""
    value = str(selector.get("value", ""))
    box = re.fullmatch(r"xywh=(?:pixel:)?(-?[\d.]+),(-?[\d.]+),([\d.]+),([\d.]+)", value.strip())
    if box:
        x, y, w, h = (_number(part, place, "xywh", -0.5, 1e6) for part in box.groups())
        return x + w / 2, y + h / 2, max(w, h), min(w, h), None
    shape = re.search(r"<(ellipse|circle)\b([^>]*)>", value)
    if shape:
        given = dict(re.findall(r"\b(cx|cy|rx|ry|r|transform)\s*=\s*[\"']([^\"']*)[\"']", shape.group(2)))
        x, y = (_number(given.get(key), place, key, -0.5, 1e6) for key in ("cx", "cy"))
        rx = _number(given.get("rx", given.get("r")), place, "rx", 0, 1e6)
        ry = _number(given.get("ry", given.get("r")), place, "ry", 0, 1e6)
        turned = re.match(r"rotate\(\s*(-?[\d.]+)", given.get("transform", ""))
        angle = (float(turned.group(1)) if turned else 0.0) + (90 if ry > rx else 0)
        return x, y, 2 * max(rx, ry), 2 * min(rx, ry), angle % 180
    raise BadInput(
        f"{place} has a selector that is not read here.",
        next="Use xywh=pixel:x,y,w,h or an SVG ellipse.",
        code="no-selector",
    )


def marks_to_csv(rows: Iterable[tuple[str, Mark]]) -> str:
    """Return marks as CSV with `CSV_COLUMNS`."""
    lines = [",".join(CSV_COLUMNS)]
    for picture, mark in rows:
        cells = [
            picture,
            f"{mark.x_px:.2f}",
            f"{mark.y_px:.2f}",
            *(
                "" if value is None else f"{value:.2f}"
                for value in (mark.length_um, mark.width_um, mark.angle_deg)
            ),
            mark.name,
            "true" if mark.sure else "false",
        ]
        lines.append(
            ",".join(f'"{c.replace(chr(34), chr(34) * 2)}"' if set(c) & set(',"\n') else c for c in cells)
        )
    return "\n".join(lines) + "\n"


def marks_to_annotations(rows: Iterable[tuple[str, Mark]], um_per_px: float | None = None) -> dict[str, Any]:
    """Return marks as a W3C Web Annotation page (an ellipse each where the scale is known)."""
    items = []
    for number, (picture, mark) in enumerate(rows, start=1):
        bodies = [{"type": "TextualBody", "purpose": "tagging", "value": mark.name}]
        if not mark.sure:
            bodies.append({"type": "TextualBody", "purpose": "tagging", "value": "unsure"})
        target: dict[str, Any] = {"source": picture, "selector": _selector(mark, um_per_px)}
        if um_per_px is not None:
            target["um_per_px"] = um_per_px
        items.append({"id": f"#mark-{number}", "type": "Annotation", "body": bodies, "target": target})
    return {"@context": CONTEXT, "type": "AnnotationPage", "items": items}


def _selector(mark: Mark, um_per_px: float | None) -> dict[str, str]:
    if um_per_px and mark.length_um and mark.width_um:
        rx, ry = mark.length_um / um_per_px / 2, mark.width_um / um_per_px / 2
        turn = f' transform="rotate({mark.angle_deg or 0:.2f} {mark.x_px:.2f} {mark.y_px:.2f})"'
        ellipse = f'<ellipse cx="{mark.x_px:.2f}" cy="{mark.y_px:.2f}" rx="{rx:.2f}" ry="{ry:.2f}"{turn}/>'
        return {"type": "SvgSelector", "value": f'<svg xmlns="http://www.w3.org/2000/svg">{ellipse}</svg>'}
    return {
        "type": "FragmentSelector",
        "conformsTo": "http://www.w3.org/TR/media-frags/",
        "value": f"xywh=pixel:{mark.x_px:.2f},{mark.y_px:.2f},0,0",
    }
