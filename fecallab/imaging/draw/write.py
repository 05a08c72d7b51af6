"""Write the sample slides with their truth: pictures, ``truth.csv``, ``slides.csv``, one Web Annotation file."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fecallab.domain.errors import BadInput, CouldNot
from fecallab.imaging.draw.scene import Truth, draw_field
from fecallab.imaging.draw.slides import SLIDES, Slide

JPEG_QUALITY = 85
TRUTH_COLUMNS = (
    "picture", "um_per_px", "objective", "name", "group", "x_px", "y_px", "length_um", "width_um", "angle_deg", "sure",
)  # fmt: skip
SLIDE_COLUMNS = (
    "picture", "width_px", "height_px", "um_per_px", "objective", "animal", "sample", "preparation", "field", "shows",
)  # fmt: skip
ANNOTATED = "dragon_before_1.jpg"
"""The slide whose truth is also written as a Web Annotation page."""


def write_sample_slides(folder: str | Path, pictures: Sequence[str] | None = None) -> list[Path]:
    """Draw the sample slides into a folder; the same files everywhere.

    Parameters
    ----------
    folder : str or Path
        Made when missing; files of the same names are replaced.
    pictures : sequence of str, optional
        Only these of `SLIDES`; the two tables still list all that were written.

    Returns
    -------
    list of Path
        The files written, pictures first.

    Raises
    ------
    BadInput
        An unknown picture, or `folder` is a file.
    CouldNot
        The disk or its permissions stand in the way.
    """
    unknown = [name for name in pictures or () if name not in SLIDES]
    if unknown:
        raise BadInput(
            f"There is no sample slide {unknown[0]}.",
            next=f"There are: {', '.join(SLIDES)}.",
            code="slide-unknown",
        )
    folder = Path(folder)
    if folder.exists() and not folder.is_dir():
        raise BadInput(f"{folder} is a file.", next="Name a folder for the slides.", code="folder-is-file")
    chosen = [slide for name, slide in SLIDES.items() if pictures is None or name in pictures]
    written: list[Path] = []
    truth_rows: list[dict[str, Any]] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for slide in chosen:
            pixels, truth = draw_field(slide.spec, slide.seed)
            path = folder / slide.picture
            path.write_bytes(encode(slide, pixels))
            written.append(path)
            truth_rows += [truth_row(slide, one) for one in truth]
            if slide.picture == ANNOTATED:
                page = json.dumps(annotation_page(slide, truth), indent=2, ensure_ascii=False) + "\n"
                annotation_path = folder / f"{Path(slide.picture).stem}.annotations.json"
                annotation_path.write_text(page, encoding="utf-8", newline="\n")
        written.append(_write_table(folder / "truth.csv", TRUTH_COLUMNS, truth_rows))
        written.append(
            _write_table(folder / "slides.csv", SLIDE_COLUMNS, [_slide_row(slide) for slide in chosen])
        )
        if any(slide.picture == ANNOTATED for slide in chosen):
            written.append(annotation_path)
    except OSError as error:
        raise CouldNot(
            f"The sample slides could not be written to {folder}: {error.strerror or error}.",
            next="Choose a folder of your own with 5 MB of room.",
            code="slides-not-written",
        ) from error
    return written


def encode(slide: Slide, pixels: NDArray[np.uint8]) -> bytes:
    """Store a drawn field in the format of its file name; nothing in it depends on the day or the place."""
    from PIL import Image

    store = io.BytesIO()
    um_per_px = slide.spec.um_per_px
    if slide.picture.endswith(".ome.tif"):
        grey = np.round(pixels.astype(np.float64) @ [0.299, 0.587, 0.114] * (4095 / 255)).astype(np.uint16)
        _write_tiff(
            store, grey, photometric="minisblack", ome=True,
            metadata={
                "axes": "YX", "PhysicalSizeX": um_per_px, "PhysicalSizeXUnit": "µm", "PhysicalSizeY": um_per_px,
                "PhysicalSizeYUnit": "µm", "SignificantBits": 12, "UUID": "urn:uuid:00000000-0000-0000-0000-000000000000",
            },
        )  # fmt: skip
    elif slide.picture.endswith(".tif"):
        per_cm = 1e4 / um_per_px
        _write_tiff(
            store,
            pixels,
            photometric="rgb",
            metadata=None,
            resolution=(per_cm, per_cm),
            resolutionunit="CENTIMETER",
        )
    elif slide.picture.endswith(".png"):
        Image.fromarray(pixels).save(store, "PNG", optimize=True)
    elif slide.sideways:
        exif = Image.Exif()
        exif[274] = 6  # to be shown turned a quarter clockwise
        Image.fromarray(np.rot90(pixels)).save(store, "JPEG", quality=JPEG_QUALITY, exif=exif)
    else:
        Image.fromarray(pixels).save(store, "JPEG", quality=JPEG_QUALITY)
    return store.getvalue()


def _write_tiff(store: io.BytesIO, pixels: NDArray[Any], **options: Any) -> None:
    import tifffile

    tifffile.imwrite(store, pixels, compression="zlib", software="fecallab", datetime=None, **options)


def truth_row(slide: Slide, one: Truth) -> dict[str, Any]:
    """Return one row of ``truth.csv``."""
    return {
        "picture": slide.picture,
        "um_per_px": slide.spec.um_per_px,
        "objective": slide.spec.objective,
        "name": one.name,
        "group": one.group,
        "x_px": f"{one.x_px:.2f}",
        "y_px": f"{one.y_px:.2f}",
        "length_um": f"{one.length_um:.2f}",
        "width_um": f"{one.width_um:.2f}",
        "angle_deg": f"{one.angle_deg:.1f}",
        "sure": "yes" if one.sure else "no",
    }


def _slide_row(slide: Slide) -> dict[str, Any]:
    spec = slide.spec
    return {
        "picture": slide.picture, "width_px": spec.width_px, "height_px": spec.height_px,
        "um_per_px": spec.um_per_px, "objective": spec.objective, "animal": slide.animal, "sample": slide.sample,
        "preparation": slide.preparation, "field": slide.field, "shows": slide.shows,
    }  # fmt: skip


def _write_table(path: Path, columns: Sequence[str], rows: Iterable[dict[str, Any]]) -> Path:
    with path.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.DictWriter(handle, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return path


def annotation_page(slide: Slide, truth: Sequence[Truth]) -> dict[str, Any]:
    """Return the truth of one slide as a W3C Web Annotation page (an AnnotationPage of Annotations).

    Every mark is an ellipse in an ``SvgSelector``; the words of its body that the standard does not have are
    bound to names of our own in ``@context``.
    """
    um_per_px = slide.spec.um_per_px
    items = []
    for number, one in enumerate(truth, start=1):
        x, y = one.x_px + 0.5, one.y_px + 0.5  # an SVG shows pixel 0 between 0 and 1
        rx, ry = one.length_um / um_per_px / 2, one.width_um / um_per_px / 2
        ellipse = (
            f'<svg xmlns="http://www.w3.org/2000/svg"><ellipse cx="{x:.2f}" cy="{y:.2f}" rx="{rx:.2f}" '
            f'ry="{ry:.2f}" transform="rotate({one.angle_deg:.1f} {x:.2f} {y:.2f})"/></svg>'
        )
        items.append(
            {
                "id": f"urn:fecallab:sample:{Path(slide.picture).stem}:{number}",
                "type": "Annotation",
                "motivation": "identifying",
                "body": {
                    "type": "TextualBody",
                    "purpose": "identifying",
                    "format": "text/plain",
                    "value": one.name,
                    "organismGroup": one.group,
                    "xPx": round(one.x_px, 2),
                    "yPx": round(one.y_px, 2),
                    "lengthUm": round(one.length_um, 2),
                    "widthUm": round(one.width_um, 2),
                    "angleDeg": round(one.angle_deg, 1),
                    "sure": one.sure,
                },
                "target": {
                    "source": slide.picture,
                    "selector": {
                        "type": "SvgSelector",
                        "conformsTo": "http://www.w3.org/TR/SVG11/",
                        "value": ellipse,
                    },
                },
            }
        )
    own = ("organismGroup", "xPx", "yPx", "lengthUm", "widthUm", "angleDeg", "sure", "umPerPx", "objective")
    return {
        "@context": [
            "http://www.w3.org/ns/anno.jsonld",
            {word: f"urn:fecallab:terms:{word}" for word in own},
        ],
        "id": f"urn:fecallab:sample:{Path(slide.picture).stem}",
        "type": "AnnotationPage",
        "umPerPx": um_per_px,
        "objective": slide.spec.objective,
        "items": items,
    }
