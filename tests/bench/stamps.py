"""A drawing style that the ranker never saw: bodies as polygons on a large canvas, debris as stamped shapes.

Nothing of the training drawings is used: outlines are filled polygons drawn four times as large and averaged, walls
are the difference of two polygons, debris are thousands of stamped polygons and discs.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import ndimage

from fecallab.imaging.detect.examples import Field, Known

FINER = 3


def stamped_field(
    seed: int, crowding: float, um_per_px: float = 0.5, width: int = 760, height: int = 580, things: int = 6
) -> Field:
    """Draw one field: organisms are walled or filled ovals, look-alikes bubbles, tubes, stars and grains."""
    rng = np.random.default_rng([seed, 12])
    size = (width * FINER, height * FINER)
    layers = [Image.new("L", size, 0) for _ in range(3)]
    pens = [ImageDraw.Draw(layer) for layer in layers]
    patches = ndimage.gaussian_filter(rng.normal(size=(height // 8 + 1, width // 8 + 1)), rng.uniform(2, 5))
    covered = patches >= np.quantile(patches, 1 - crowding) if crowding else np.zeros_like(patches, bool)

    def paint(points: NDArray[np.float64], dye: NDArray[np.float64], strength: float) -> None:
        for pen, share in zip(pens, dye, strict=True):
            pen.polygon([tuple(p) for p in points * FINER], fill=int(np.clip(100 * share * strength, 0, 255)))

    def blob(x: float, y: float, r_um: float, corners: int, ragged: float) -> NDArray[np.float64]:
        t = np.sort(rng.uniform(0, 2 * np.pi, corners))
        r = r_um / um_per_px * (1 + ragged * rng.normal(size=corners)).clip(0.4, 1.8)
        return np.column_stack([x + r * np.cos(t), y + r * np.sin(t)])

    browns = np.array([[0.5, 0.8, 1.2], [0.8, 0.8, 0.9], [0.6, 0.7, 0.9], [0.4, 0.8, 1.4]])
    area = width * height * um_per_px**2
    for _ in range(int(area * crowding / 28)):
        row, column = rng.integers(0, covered.shape[0]), rng.integers(0, covered.shape[1])
        for _ in range(30):
            if covered[row, column]:
                break
            row, column = rng.integers(0, covered.shape[0]), rng.integers(0, covered.shape[1])
        x, y = column * 8 + rng.uniform(0, 8), row * 8 + rng.uniform(0, 8)
        grain = blob(x, y, float(rng.uniform(0.8, 4.5)), int(rng.integers(5, 10)), 0.3)
        paint(grain, browns[rng.integers(4)], rng.uniform(0.2, 0.9))
    for _ in range(int(rng.poisson(4 + 14 * crowding))):
        x, y = rng.uniform(0, width), rng.uniform(0, height)
        paint(blob(x, y, rng.uniform(3, 22), 14, 0.22), browns[rng.integers(4)], rng.uniform(0.3, 1.1))
    for _ in range(int(rng.poisson(2))):  # tubes
        x, y, a = rng.uniform(0, width), rng.uniform(0, height), rng.uniform(0, np.pi)
        along = np.array([np.cos(a), np.sin(a)]) * rng.uniform(40, 120) / um_per_px
        across = np.array([-np.sin(a), np.cos(a)]) * rng.uniform(3, 8) / um_per_px
        for share, strength in ((1.0, 0.5), (0.75, 0.15)):
            box = np.array(
                [
                    along + share * across,
                    along - share * across,
                    -along - share * across,
                    -along + share * across,
                ]
            )
            paint(box + np.array([x, y]), browns[1], strength)

    known: list[Known] = []
    for k in range(things + int(rng.integers(0, 3))):
        real = k < things
        long = float(np.exp(rng.uniform(np.log(max(11.0, 22 * um_per_px)), np.log(120))))
        wide = long / float(rng.uniform(1.0, 2.3)) if real else long
        for _ in range(80):
            reach = 0.55 * long / um_per_px
            x, y = (
                rng.uniform(reach, max(width - reach, reach + 1)),
                rng.uniform(reach, max(height - reach, reach + 1)),
            )
            if all(np.hypot(x - o.x_px, y - o.y_px) * um_per_px > 0.56 * (long + o.length_um) for o in known):
                break
        else:
            continue
        turn = rng.uniform(0, np.pi)
        t = np.linspace(0, 2 * np.pi, 120, endpoint=False)

        def oval(
            less_um: float,
            x: float = x,
            y: float = y,
            a: float = long,
            b: float = wide,
            turn: float = turn,
            t: NDArray[np.float64] = t,
        ) -> NDArray[np.float64]:
            u, v = (a / 2 - less_um) * np.cos(t) / um_per_px, (b / 2 - less_um) * np.sin(t) / um_per_px
            return np.column_stack(
                [x + np.cos(turn) * u - np.sin(turn) * v, y + np.sin(turn) * u + np.cos(turn) * v]
            )

        clear = np.array([1.0, 1.0, 1.0])
        if not real:  # bubbles and drops: thick black rims or one thin line, empty inside
            paint(oval(0), clear, 2.2)
            paint(oval(rng.uniform(0.14, 0.3) * long), clear, 0.05)
        elif rng.random() < 0.6:  # a wall, and something in it
            wall = float(np.clip(wide * rng.uniform(0.03, 0.08), 0.9, 2.5))
            paint(oval(0), clear, rng.uniform(0.35, 0.8))
            paint(oval(wall), clear, rng.uniform(0.0, 0.12))
            for _ in range(int(rng.integers(0, 4))):
                r, shift = 0.17 * wide, 0.18 * wide * rng.normal(size=2).clip(-1, 1) / um_per_px
                paint(
                    blob(x + shift[0], y + shift[1], r, 16, 0.05),
                    browns[rng.integers(4)],
                    rng.uniform(0.15, 0.5),
                )
        else:  # a filled body
            paint(oval(0), browns[rng.integers(4)], rng.uniform(0.5, 0.9))
            paint(oval(1.2), browns[rng.integers(4)], rng.uniform(0.3, 0.9))
            for _ in range(int(0.05 * long * wide)):
                a, r = rng.uniform(0, 2 * np.pi), 0.4 * rng.random() ** 0.5
                gx = x + r * (long * np.cos(a) * np.cos(turn) - wide * np.sin(a) * np.sin(turn)) / um_per_px
                gy = y + r * (long * np.cos(a) * np.sin(turn) + wide * np.sin(a) * np.cos(turn)) / um_per_px
                paint(blob(gx, gy, 0.7, 6, 0.2), browns[rng.integers(4)], rng.uniform(0.3, 0.9))
        known.append(Known(real, float(x), float(y), long, wide))
    dark = np.stack([np.asarray(layer.reduce(FINER), np.float32) for layer in layers], axis=2) / 100
    light = np.exp(-rng.uniform(0.5, 1.0) * ndimage.gaussian_filter(dark, (0.5, 0.5, 0)))
    light = light ** float(np.exp(rng.uniform(np.log(0.6), np.log(1.8))))
    soft = float(rng.choice([rng.uniform(0.4, 1.2), rng.uniform(0.4, 2.5)]))
    light = ndimage.gaussian_filter(light, (soft, soft, 0)) * rng.uniform(160, 230, 3)
    noisy = light + rng.uniform(0.5, 4) * rng.normal(size=(height, width, 1)) + rng.normal(size=light.shape)
    return Field(np.clip(noisy, 0, 255).astype(np.uint8), um_per_px, tuple(known), "stamp", crowding)
