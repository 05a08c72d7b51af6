"""Marks from open formats: CSV, and W3C Web Annotation JSON.

CSV columns: ``picture, x_px, y_px, length_um, width_um, angle_deg, name, sure`` (others are left alone). In
Web Annotation the target's source is the picture's file name and its selector a ``FragmentSelector``
(``xywh=pixel:x,y,w,h``) or an ``SvgSelector`` holding one ``ellipse`` or ``circle``; the name is a ``tagging``
body, and a ``tagging`` body ``unsure`` (or ``"sure": false`` in a body) marks doubt; ``umPerPx`` on the page or
the target gives the scale. Marks are in pixels, x to the right, y down, 0 at the centre of the first pixel;
selectors measure from the edge of the picture, half a pixel further.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from pathlib import Path
from typing import Any

from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Mark

CSV_COLUMNS = ("picture", "x_px", "y_px", "length_um", "width_um", "angle_deg", "name", "sure")
LARGEST_BYTES = 50_000_000
_NUMBERS = ("x_px", "y_px", "length_um", "width_um", "angle_deg")
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


def _optional(text: Any, place: str, what: str, low: float, high: float) -> float | None:
    return None if text in (None, "") else _number(text, place, what, low, high)


def _half_turn(angle_deg: float | None) -> float | None:
    """Return the direction of an axis from 0 to under 180; half a turn is the same axis."""
    return None if angle_deg is None else angle_deg % 180 % 180


def _from_csv(text: str, file_name: str) -> list[tuple[str, Mark]]:
    separator = ";" if text.partition("\n")[0].count(";") > text.partition("\n")[0].count(",") else ","
    reader = csv.DictReader(io.StringIO(text), delimiter=separator)
    try:
        return _rows(reader, file_name)
    except csv.Error as error:
        text = f"{file_name} is no table that can be read: {error}."
        raise BadInput(text, next="Save it as CSV again.", code="no-table") from None


def _rows(reader: csv.DictReader[str], file_name: str) -> list[tuple[str, Mark]]:
    missing = {"x_px", "y_px", "name"} - {(name or "").strip() for name in reader.fieldnames or []}
    if missing:
        text = f"{file_name} lacks the columns {', '.join(sorted(missing))}."
        raise BadInput(text, next=f"Columns are: {', '.join(CSV_COLUMNS)}", code="columns-missing")
    marks: list[tuple[str, Mark]] = []
    for raw in reader:
        row = {
            (key or "").strip(): (value or "").strip() for key, value in raw.items() if isinstance(value, str)
        }
        if reader.reader.dialect.delimiter == ";":  # such a table writes 12,5
            row |= {key: row[key].replace(",", ".") for key in _NUMBERS if key in row}
        place = f"{file_name}, line {reader.line_num}"
        if not row.get("name"):
            text = f"{place} names no organism."
            raise BadInput(text, next="Fill the column name; nothing was recorded.", code="no-name")
        said = row.get("sure", "").lower()
        if said not in _YES | _NO:
            text = f"{place}: sure is {said[:20]!r}; it must be true or false."
            raise BadInput(text, next="Correct it; nothing was recorded.", code="mark-value")
        mark = Mark(
            x_px=_number(row.get("x_px"), place, "x_px", -0.5, 1e6),
            y_px=_number(row.get("y_px"), place, "y_px", -0.5, 1e6),
            name=row.get("name", ""),
            sure=said in _YES,
            length_um=_optional(row.get("length_um"), place, "length_um", 1e-3, 1e5),
            width_um=_optional(row.get("width_um"), place, "width_um", 1e-3, 1e5),
            angle_deg=_half_turn(_optional(row.get("angle_deg"), place, "angle_deg", -360, 360)),
        )
        marks.append((Path(row.get("picture", "")).name, mark))
    return marks


def _from_json(text: str, file_name: str) -> list[tuple[str, Mark]]:
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        raise BadInput(f"{file_name} is no whole JSON.", next="Export it again.", code="no-json") from None
    items: Any = data
    scale: Any = None
    if isinstance(data, dict):
        page = data.get("first", data)
        items = page.get("items", [data]) if isinstance(page, dict) else []
        scale = data.get("umPerPx")
    if not isinstance(items, list):
        raise BadInput(
            f"{file_name} holds no list of annotations.", next="Export it again.", code="no-annotations"
        )
    return [
        _from_annotation(item, f"{file_name}, annotation {n}", scale) for n, item in enumerate(items, start=1)
    ]


def _listed(value: Any) -> list[Any]:
    return value or [None] if isinstance(value, list) else [value]


def _from_annotation(item: Any, place: str, page_scale: Any) -> tuple[str, Mark]:
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
    stated = [body.get("sure") for body in _listed(item.get("body", [])) if isinstance(body, dict)]
    names = [tag for tag in tags if tag and tag.lower() not in ("sure", "unsure")]
    if not names:
        raise BadInput(
            f"{place} names no organism.", next="Add a tagging body with the name.", code="no-name"
        )
    scale = target.get("umPerPx", page_scale) if isinstance(target, dict) else page_scale
    factor = _number(scale, place, "umPerPx", 1e-4, 1e4) if scale not in (None, "") else None
    mark = Mark(
        x_px=x,
        y_px=y,
        name=names[0],
        sure="unsure" not in [tag.lower() for tag in tags]
        and not any(str(said).strip().lower() in _NO for said in stated),
        length_um=_number(long_px * factor, place, "the length in µm", 1e-3, 1e5)
        if factor and long_px
        else None,
        width_um=_number(short_px * factor, place, "the width in µm", 1e-3, 1e5)
        if factor and short_px
        else None,
        angle_deg=angle,
    )
    return Path(str(source).rsplit("/", 1)[-1]).name, mark


def _position(selector: dict[str, Any], place: str) -> tuple[float, float, float, float, float | None]:
    """Return centre, long and short axis in pixels, and the angle if the selector has one."""
    value = str(selector.get("value", ""))
    box = re.fullmatch(r"xywh=(?:pixel:)?(-?[\d.]+),(-?[\d.]+),([\d.]+),([\d.]+)", value.strip())
    if box:
        x, y, w, h = (_number(part, place, "xywh", -0.5, 1e6) for part in box.groups())
        return x + w / 2 - 0.5, y + h / 2 - 0.5, max(w, h), min(w, h), None
    shape = re.search(r"<(ellipse|circle)\b([^>]*)>", value)
    if shape:
        given = dict(re.findall(r"\b(cx|cy|rx|ry|r|transform)\s*=\s*[\"']([^\"']*)[\"']", shape.group(2)))
        x, y = (_number(given.get(key), place, key, -0.5, 1e6) for key in ("cx", "cy"))
        rx = _number(given.get("rx", given.get("r")), place, "rx", 0, 1e6)
        ry = _number(given.get("ry", given.get("r")), place, "ry", 0, 1e6)
        turned = re.match(r"rotate\(\s*([^\s,)]+)", given.get("transform", ""))
        angle = _number(turned.group(1), place, "rotate", -360, 360) if turned else 0.0
        return x - 0.5, y - 0.5, 2 * max(rx, ry), 2 * min(rx, ry), _half_turn(angle + (90 if ry > rx else 0))
    raise BadInput(
        f"{place} has a selector that is not read here.",
        next="Use xywh=pixel:x,y,w,h or an SVG ellipse.",
        code="no-selector",
    )
