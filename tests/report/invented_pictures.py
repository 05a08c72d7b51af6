"""Pictures for the invented pages, drawn here: a lit circle with egg-like ellipses, and the marks on them."""

import io

import numpy as np
from PIL import Image

from fecallab.domain.exam import Mark
from fecallab.report.model import (
    MarkLine,
    PictureBlock,
)


def drawn_jpeg(width=1200, height=900, seed=0, objects=6, round_field=True, quality=80, grain=5.0):
    """Draw a micrograph of a hobby microscope: a lit circle with grain, debris, egg-like ellipses."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    bright = np.full((height, width), 205, np.float32) + rng.normal(0, grain, (height, width)).astype(
        np.float32
    )
    for _ in range(60):
        cx, cy, r = rng.uniform(0, width), rng.uniform(0, height), rng.uniform(2, 14)
        bright -= 45 * np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / (2 * r * r))
    for cx, cy, a, b, turn in ellipses(objects, width, height, seed):
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        u, v = ((x - cx) * c + (y - cy) * s) / a, (-(x - cx) * s + (y - cy) * c) / b
        rim = np.hypot(u, v)
        bright -= 85 * np.exp(-(((rim - 0.92) / 0.07) ** 2)) + 22 * (rim < 0.8)
    if round_field:
        lit = np.hypot(x - width / 2, y - height / 2) < 0.56 * min(width, height) * 1.15
        bright = np.where(lit, bright, 14)
    colour = np.stack([bright, bright * 0.97, bright * 0.86], axis=-1)
    out = io.BytesIO()
    Image.fromarray(np.clip(colour, 0, 255).astype(np.uint8)).save(out, "JPEG", quality=quality)
    return out.getvalue()


def ellipses(objects, width, height, seed):
    """Return centre, half axes and turn of the drawn objects, within the lit circle."""
    rng = np.random.default_rng(seed + 1000)
    found = []
    for _ in range(objects):
        angle, reach = rng.uniform(0, 2 * np.pi), rng.uniform(0, 0.48 * height)
        found.append(
            (
                width / 2 + reach * np.cos(angle),
                height / 2 + reach * np.sin(angle),
                rng.uniform(48, 60),
                rng.uniform(22, 28),
                rng.uniform(0, 180),
            )
        )
    return found


def marked_picture(title="P1, field 3, 10×", seed=0, objects=6, um_per_px=1.1, vet=False):
    """Return a drawn picture with a mark on every object; the last one unsure."""
    width, height = 1200, 900
    marks = []
    for number, (cx, cy, a, b, turn) in enumerate(ellipses(objects, width, height, seed), start=1):
        sure, artefact = number != objects, number == 2
        marks.append(
            MarkLine(
                number=number,
                mark=Mark(
                    x_px=float(cx),
                    y_px=float(cy),
                    name="artefact" if artefact else "oxyurid",
                    sure=sure,
                    length_um=None if artefact else float(2 * a * um_per_px),
                    width_um=None if artefact else float(2 * b * um_per_px),
                    angle_deg=float(turn),
                    named_by="Ines",
                ),
                words="air bubble" if artefact else "oxyurid egg",
                group="artefact" if artefact else "oxyurid",
                vets_word="agrees (Dr Imaginary, 6 March 2026)" if vet and number == 1 else "",
            )
        )
    return PictureBlock(
        title=title,
        picture=drawn_jpeg(width, height, seed, objects),
        width_px=width,
        height_px=height,
        um_per_px=um_per_px,
        marks=tuple(marks),
        caption="Phone held to the eyepiece.",
    )


def plain_picture(seed=7, title="P1, field 4, 10×"):
    """Return a drawn field in which nothing was marked."""
    return PictureBlock(
        title=title, picture=drawn_jpeg(seed=seed, objects=0), width_px=1200, height_px=900, um_per_px=1.1
    )
