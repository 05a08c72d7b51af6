"""Debris as smears have it: a brown grainy ground, clumps, dark grains, fibres, plant tissue, crystals, germs."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from fecallab.imaging.draw.form import (
    Body,
    Colour,
    Grid,
    Map,
    bump,
    chord,
    cloud,
    grain,
    shell,
    step,
    superellipse,
    tube_depth,
)

Rng = np.random.Generator

GREY: Colour = (0.82, 0.86, 0.95)
BROWN: Colour = (0.42, 0.66, 1.05)
RUST: Colour = (0.28, 0.85, 1.55)
GOLD: Colour = (0.16, 0.42, 1.30)
OLIVE: Colour = (0.44, 0.46, 0.92)
GREEN: Colour = (0.72, 0.28, 0.86)
CLEAR: Colour = (0.30, 0.32, 0.36)
CLUMP_COLOURS = (BROWN, BROWN, BROWN, OLIVE, OLIVE, GREY, RUST, GOLD)


def ground(grid: Grid, rng: Rng, share: float) -> Body:
    """Translucent grainy matter that covers about a share of the field, with ragged holes."""
    body = Body(grid)
    shape, pitch = grid.shape, grid.pitch_um
    if share <= 0:
        return body
    lumps = cloud(shape, 90 / pitch, 3.0 / pitch, rng)
    edge = float(np.quantile(lumps[::4, ::4], 1 - min(share, 0.98)))
    cover = step(lumps, edge - 0.12, edge + 0.35)
    heap = step(lumps, edge, edge + 1.8)
    middle, fine = cloud(shape, 9 / pitch, 1.8 / pitch, rng), grain(shape, 1.4 / pitch, rng)
    hue = cloud(shape, 50 / pitch, 6 / pitch, rng)
    brown, olive = step(hue, -0.6, 0.9), step(hue, 0.3, -1.0)
    tone = cover * (0.10 + 0.26 * heap) * np.clip(1 + 0.42 * middle + 0.10 * fine, 0.05, None)
    body.colour(tone * brown, BROWN)
    body.colour(tone * olive, OLIVE)
    body.colour(tone * 0.35, GREY)
    sparks = step(cloud(shape, 12 / pitch, 4 / pitch, rng), 1.5, 2.1) * cover
    body.colour(sparks * 0.35, RUST if rng.random() < 0.6 else GOLD)
    body.refract(cover * (0.7 * fine + 1.7 * middle + 1.3 * grain(shape, 3.6 / pitch, rng)), 0.017)
    return body


def speckle(grid: Grid, rng: Rng, count: int, size_um: float, dark: float) -> Body:
    """Scatter many small dots and short rods: bacteria and the finest dust."""
    body = Body(grid)
    shape, pitch = grid.shape, grid.pitch_um
    total = np.zeros(shape, np.float32)
    kinds = 11
    for k in range(kinds):
        dots = np.zeros(shape, np.float32)
        n = count // kinds
        dots[rng.integers(0, shape[0], n), rng.integers(0, shape[1], n)] = rng.uniform(0.4, 1.0, n)
        if k:  # rods at four slants
            reach = max(1, round(size_um * rng.uniform(0.6, 1.3) / pitch))
            kernel = np.zeros((2 * reach + 1, 2 * reach + 1), np.float32)
            for s in np.linspace(-1, 1, 4 * reach + 1):
                a = np.pi * (k + rng.uniform(-0.3, 0.3)) / (kinds - 1)
                kernel[round(reach + s * reach * np.sin(a)), round(reach + s * reach * np.cos(a))] = 1.0
            dots = ndimage.convolve(dots, kernel, mode="constant")
        total += np.minimum(dots, 1.0)
    soft = max(size_um / 2.6 / pitch, 0.5)
    total = ndimage.gaussian_filter(total, soft) * (2 * np.pi * soft**2) ** 0.5
    body.colour(np.clip(total, 0, 1.5) * dark, GREY)
    body.refract(np.clip(total, 0, 1.5) * size_um, 0.012)
    return body


def clump(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """An irregular translucent lump of brown, olive, grey or rust."""
    body = Body(grid)
    pitch = grid.pitch_um
    colour = CLUMP_COLOURS[int(rng.integers(len(CLUMP_COLOURS)))]
    outline = superellipse(1.0, 0.8, rng.uniform(1.6, 2.6)).roughened(rng.uniform(0.05, 0.16), 14, rng)
    depth = outline.fitted(length_um, width_um).depth(grid)
    ragged = depth + rng.uniform(0.03, 0.08) * length_um * cloud(
        grid.shape, 0.25 * length_um / pitch, 1.2 / pitch, rng
    )
    texture = cloud(grid.shape, 0.3 * length_um / pitch, 1.2 / pitch, rng)
    inside = step(ragged, -0.3, 0.08 * length_um + 0.8)
    dense = rng.uniform(0.22, 0.75)
    lumpy = rng.uniform(0.4, 1.0)
    fine = lumpy * (grain(grid.shape, 1.0 / pitch, rng) + 1.2 * grain(grid.shape, 2.6 / pitch, rng))
    body.colour(inside * dense * np.clip(0.75 + 0.28 * texture + 0.10 * fine, 0.1, None), colour)
    body.colour(inside * 0.08, GREY)
    body.refract(chord(ragged, 0.4 * width_um) * 0.15 + inside * (texture * 1.4 + 0.5 * fine), 0.02)
    return body


def dark_grain(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """One black round grain, or a heap of them."""
    body = Body(grid)
    count = 1 if rng.random() < 0.5 else int(rng.integers(2, 9))
    size = length_um if count == 1 else length_um / 2.4
    u = v = 0.0
    for _ in range(count):
        blob = (
            superellipse(size, size * rng.uniform(0.75, 1.0)).roughened(0.05, 6, rng).depth(grid.moved(u, v))
        )
        dark = step(blob, -0.15 * size, 0.22 * size)
        body.colour(dark * rng.uniform(0.7, 1.3), (0.92, 0.98, 1.04))
        body.refract(chord(blob, size / 2), 0.03)
        a = rng.uniform(0, 2 * np.pi)
        u, v = u + 0.8 * size * np.cos(a), v + 0.8 * size * np.sin(a)
    return body


def fibre(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A plant fibre: two bright walls, a lumen, blunt torn ends, sometimes cross walls."""
    body = Body(grid)
    u, v = _bent(rng, length_um, rng.uniform(0.0, 0.5))
    depth, along = tube_depth(grid, u, v, np.full(u.size, width_um / 2))
    torn = np.minimum(along, 1 - along) * length_um + 0.16 * width_um * grain(
        grid.shape, 2.5 / grid.pitch_um, rng
    )
    depth = np.minimum(depth, torn - 0.1 * width_um)
    half, wall = width_um / 2, max(0.16 * width_um, 0.8)
    inside = step(depth, -0.1, 0.7)
    colour = (CLEAR, CLEAR, OLIVE, GOLD, BROWN)[int(rng.integers(5))]
    dye = rng.uniform(0.10, 0.40)
    streaks = grain(grid.shape, 1.6 / grid.pitch_um, rng)
    body.colour(inside * dye * (0.75 + 0.12 * streaks), colour)
    body.colour(step(depth, 0, 0.5) * step(depth, wall + 0.4, wall) * 0.10, GREY)
    body.colour(bump(depth, 0.2, 0.45) * 0.30, GREY)
    body.refract(shell(depth, half, wall) + inside * 0.4 * streaks, 0.03)
    if rng.random() < 0.45:
        for place in np.arange(0.12, 0.95, max(2.4 * width_um / length_um, 0.06)):
            body.colour(bump((along - place) * length_um, 0, 0.5) * inside * 0.24, GREY)
    return body


def plant_hair(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A stiff tapering hair with a narrow canal, broken off at its thick end."""
    body = Body(grid)
    u, v = _bent(rng, length_um, rng.uniform(0.0, 0.35))
    t = np.linspace(0, 1, u.size)
    depth, along = tube_depth(grid, u, v, width_um / 2 * (1 - 0.92 * t**1.4))
    inside = step(depth, -0.1, 0.6)
    body.refract(chord(depth, width_um / 2), 0.03)
    body.colour(bump(depth, 0.2, 0.45) * 0.38 + inside * 0.03, GREY)
    canal = width_um / 2 * (1 - 0.92 * along**1.4) - depth
    body.colour(step(canal, 0.20 * width_um, 0.08 * width_um) * inside * step(along, 0.8, 0.6) * 0.20, GREY)
    return body


def spiral_vessel(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """The spring of a plant vessel."""
    body = Body(grid)
    u, v = _bent(rng, length_um, rng.uniform(0.0, 0.6))
    depth, along = tube_depth(grid, u, v, np.full(u.size, width_um / 2))
    across = width_um / 2 - depth
    coil = along * length_um * 2 * np.pi / max(0.32 * width_um, 2.2)
    spring = bump(np.sin(coil + across / width_um * 2.2), 1.0, 0.55) * step(depth, -0.1, 0.5)
    body.colour(spring * 0.34 + bump(depth, 0.4, 0.6) * 0.16, OLIVE)
    body.colour(spring * 0.14, GREY)
    body.refract(spring * 1.5, 0.03)
    return body


def plant_tissue(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A torn piece of leaf: a net of cell walls with green bodies."""
    body = Body(grid)
    pitch = grid.pitch_um
    outline = superellipse(1.0, 0.8, 2.6).roughened(0.16, 12, rng).fitted(length_um, width_um)
    depth = outline.depth(grid)
    size = rng.uniform(16, 30)
    nu, nv = int(length_um / size) + 3, int(width_um / size * 1.5) + 3
    cu, cv = np.meshgrid((np.arange(nu) - nu / 2) * size * 1.3, (np.arange(nv) - nv / 2) * size * 0.8)
    cu = cu + 0.5 * size * (np.arange(nv)[:, None] % 2) + rng.normal(0, 0.16 * size, cu.shape)
    cv = cv + rng.normal(0, 0.13 * size, cv.shape)
    first = np.full(grid.shape, 1e6, np.float32)
    second = np.full(grid.shape, 1e6, np.float32)
    for a, b in zip(cu.ravel(), cv.ravel(), strict=True):
        d = np.hypot(grid.u - np.float32(a), grid.v - np.float32(b))
        second = np.minimum(second, np.maximum(first, d))
        first = np.minimum(first, d)
    wall = (second - first).astype(np.float32)
    inside = step(depth, -0.2, 1.0)
    walls = (bump(wall, 0, 1.3) * step(depth, -0.5, 0.5)).astype(np.float32)
    colour = GREEN if rng.random() < 0.6 else OLIVE
    green = step(grain(grid.shape, 3.4 / pitch, rng), 0.7, 1.2) * inside * step(wall, 1.5, 3.5)
    body.colour(inside * 0.07 + walls * 0.22 + green * rng.uniform(0.15, 0.5), colour)
    body.colour(walls * 0.16 + bump(depth, 0.3, 0.6) * 0.15, GREY)
    body.refract(walls * 2.0 + green * 1.2 + inside * 0.5 * grain(grid.shape, 2.0 / pitch, rng), 0.03)
    return body


def needle(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A thin bright crystal needle, often in a bundle."""
    body = Body(grid)
    for _ in range(1 if rng.random() < 0.6 else int(rng.integers(2, 6))):
        lean = grid.moved(rng.normal(0, width_um), rng.normal(0, 1.2 * width_um), rng.normal(0, 7))
        depth = superellipse(length_um * rng.uniform(0.7, 1.0), width_um, 1.5).depth(lean)
        body.refract(chord(depth, width_um / 2), 0.11)
        body.colour(bump(depth, 0, 0.35) * 0.16 + step(depth, 0, 0.4) * -0.10, GREY)
    return body


def plate_crystal(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A clear flat crystal with straight edges."""
    body = Body(grid)
    slant = rng.uniform(-0.4, 0.4)
    a = length_um / 2 - np.abs(grid.u + slant * grid.v)
    b = width_um / 2 - np.abs(grid.v)
    c = 0.62 * (length_um + width_um) / 2 - (np.abs(grid.u + slant * grid.v) + np.abs(grid.v))
    depth = np.minimum(np.minimum(a, b), c).astype(np.float32)
    body.refract(np.clip(depth, 0, 2.2).astype(np.float32), 0.08)
    body.colour(bump(depth, 0.1, 0.5) * 0.36 + step(depth, 0, 0.5) * 0.02, GREY)
    return body


def cuticle(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A scrap of insect skin: amber, scaled, with a few bristles."""
    body = Body(grid)
    outline = superellipse(1.0, 0.8, 3.2).roughened(0.16, 9, rng).fitted(length_um, width_um)
    depth = outline.depth(grid)
    inside = step(depth, -0.2, 0.8)
    scales = np.abs(np.sin(grid.u / 4.2 + 0.8 * np.sin(grid.v / 5.0))).astype(np.float32)
    body.colour(inside * (0.22 + 0.14 * step(scales, 0.25, 0.0)) + bump(depth, 0.3, 0.7) * 0.25, RUST)
    body.refract(inside * (1.0 - step(scales, 0.3, 0.0)), 0.03)
    for _ in range(int(rng.integers(2, 6))):
        a = rng.uniform(0, 2 * np.pi)
        start = np.array([np.cos(a) * length_um * 0.42, np.sin(a) * width_um * 0.42])
        t = np.linspace(0, 1, 12)
        long = rng.uniform(0.15, 0.3) * length_um
        bristle, _ = tube_depth(
            grid, start[0] + np.cos(a) * long * t, start[1] + np.sin(a) * long * t, 1.2 * (1 - t) + 0.1
        )
        body.colour(step(bristle, -0.2, 0.4) * 0.6, RUST)
    return body


def _bent(rng: Rng, length_um: float, bend: float) -> tuple[np.ndarray, np.ndarray]:
    """A middle line with a slow random bend, its chord about along u."""
    t = np.linspace(0, 1, 60)
    heading = bend * (np.sin(2 * np.pi * rng.uniform(0.2, 0.8) * t + rng.uniform(0, 6.28)))
    heading = heading - heading.mean()
    u = np.cumsum(np.cos(heading)) * length_um / t.size
    v = np.cumsum(np.sin(heading)) * length_um / t.size
    return u - (u[0] + u[-1]) / 2, v - (v[0] + v[-1]) / 2


def footprint(body: Body) -> Map:
    """Return where a body stands, 0 to 1, so that the ground can make room for it."""
    amount = body.absorbance.max(axis=2) + 3 * np.abs(body.phase_um)
    return ndimage.gaussian_filter(step(amount.astype(np.float32), 0.01, 0.06), 0.8)
