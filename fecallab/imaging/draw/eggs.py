"""Eggs of worms: oxyurids, strongylids, ascarids, capillariids."""

from __future__ import annotations

import numpy as np

from fecallab.imaging.draw.form import (
    Body,
    Colour,
    Grid,
    Map,
    bump,
    chord,
    grain,
    shell,
    step,
    superellipse,
    tube_depth,
)

Rng = np.random.Generator

PALE: Colour = (0.55, 0.66, 0.90)
STRAW: Colour = (0.34, 0.52, 1.05)
BROWN: Colour = (0.50, 0.85, 1.45)
AMBER: Colour = (0.30, 0.72, 1.55)
GREYISH: Colour = (0.80, 0.86, 1.00)


def oxyurid_egg(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Long oval with one flat side, a thin double contour, and cells or a larva inside."""
    outline = superellipse(1.0, 0.4, rng.uniform(2.05, 2.4), rng.uniform(-0.1, 0.12), rng.uniform(0.12, 0.3))
    outline = outline.fitted(length_um, width_um)
    body = Body(grid)
    depth = outline.depth(grid)
    half = width_um / 2
    wall = rng.uniform(1.6, 2.3)
    _wall(body, depth, half, wall, PALE, 0.10, rng.uniform(0.016, 0.028))
    body.colour(bump(depth, wall, 0.45) * step(depth, 0, 0.4), (0.16, 0.18, 0.22))  # inner contour
    inner = depth - np.float32(wall)
    stage = rng.choice(["mass", "cells", "larva"], p=[0.6, 0.2, 0.2])
    if stage == "larva":
        _folded_larva(body, grid, inner, rng, length_um - 2 * wall, width_um - 2 * wall)
    else:
        _cell_mass(
            body,
            grid,
            inner,
            rng,
            half - wall,
            int(rng.integers(2, 5)) if stage == "cells" else 1,
            length_um,
            clear=0.13,
        )
    if rng.random() < 0.5:  # a plug below one end
        plug = superellipse(6.5, 3.2, 2.2).depth(grid.moved(0.46 * length_um, 0.08 * width_um, 70))
        body.refract(chord(plug, 1.6), 0.05)
        body.colour(bump(plug, 0, 0.5), (0.2, 0.22, 0.26))
    return body


def strongylid_egg(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Even oval, one thin wall, a morula with clear room around it."""
    outline = superellipse(1.0, 0.62, rng.uniform(1.95, 2.2), rng.uniform(-0.06, 0.06)).fitted(
        length_um, width_um
    )
    body = Body(grid)
    depth = outline.depth(grid)
    half = width_um / 2
    wall = rng.uniform(0.8, 1.2)
    _wall(body, depth, half, wall, PALE, 0.12, rng.uniform(0.02, 0.032))
    _morula(body, grid, depth - np.float32(wall), rng, length_um, width_um, int(rng.integers(8, 22)))
    return body


def larvated_egg(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Oval, thin shell, a folded larva inside."""
    outline = superellipse(1.0, 0.55, rng.uniform(2.0, 2.2)).fitted(length_um, width_um)
    body = Body(grid)
    depth = outline.depth(grid)
    wall = rng.uniform(0.8, 1.1)
    _wall(body, depth, width_um / 2, wall, PALE, 0.12, rng.uniform(0.018, 0.028))
    _folded_larva(body, grid, depth - np.float32(wall), rng, length_um - 2 * wall, width_um - 2 * wall)
    return body


def ascarid_egg(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Round to oval, a thick brown shell with a rough outer coat, one dark granular cell."""
    outline = superellipse(1.0, 0.85, 2.05).roughened(0.014, 34, rng).fitted(length_um, width_um)
    smooth = superellipse(1.0, 0.85, 2.05).fitted(length_um, width_um)
    body = Body(grid)
    depth = outline.depth(grid)
    half = width_um / 2
    coat, wall = rng.uniform(1.8, 2.6), rng.uniform(3.2, 4.6)
    pits = grain(grid.shape, 2.6 / grid.pitch_um, rng)
    coated = step(depth, 0, 0.5)
    body.colour(coated * (0.16 + 0.03 * pits) * (1 + 1.6 * bump(depth, coat * 0.5, coat)), BROWN)
    body.refract(shell(depth, half, coat) * (1 + 0.10 * pits), 0.012)
    inner = smooth.depth(grid) - np.float32(coat)
    _wall(body, inner, half - coat, wall, BROWN, 0.30, 0.018)
    _cell_mass(
        body, grid, inner - np.float32(wall), rng, half - coat - wall, 1, length_um, clear=0.07, dark=1.6
    )
    return body


def capillariid_egg(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Lemon or barrel with a clear plug at both ends and a lined wall."""
    body = Body(grid)
    barrel = superellipse(1.0, 0.5, 2.5).fitted(length_um * 0.93, width_um)
    depth = barrel.depth(grid)
    half, wall = width_um / 2, rng.uniform(2.2, 3.0)
    lines = (1 + 0.35 * np.sin(grid.v * (2 * np.pi / 2.1))).astype(np.float32)
    open_ends = step(np.abs(grid.u), length_um * 0.44, length_um * 0.40)
    body.colour(
        step(depth, 0, 0.5) * step(depth, wall + 0.6, wall) * open_ends * (0.14 + 0.05 * lines), BROWN
    )
    body.colour(step(depth, 0, 1.0) * 0.10, AMBER)
    body.refract(shell(depth, half, wall) * open_ends, 0.02)
    for side in (-1, 1):
        plug = superellipse(width_um * 0.30, length_um * 0.15, 2.4).depth(
            grid.moved(side * length_um * 0.425, 0.0, 90)
        )
        body.refract(chord(plug, length_um * 0.07), 0.03)
        body.colour(bump(plug, 0.2, 0.6), (0.22, 0.24, 0.26))
    _cell_mass(
        body, grid, depth - np.float32(wall + 0.5), rng, half - wall, 1, length_um, clear=0.05, dark=1.2
    )
    return body


def _wall(
    body: Body, depth: Map, half_um: float, wall_um: float, colour: Colour, dye: float, index: float
) -> None:
    """A smooth shell: refracting, slightly coloured, darker where the light runs along it."""
    thick = shell(depth, half_um, wall_um)
    body.refract(thick, index)
    body.colour(thick * (dye / max(wall_um * 4, 1e-6)), colour)
    body.colour(bump(depth, 0.25, 0.55) * 0.28, GREYISH)


def _cell_mass(
    body: Body,
    grid: Grid,
    inner: Map,
    rng: Rng,
    half_um: float,
    cells: int,
    length_um: float,
    clear: float,
    dark: float = 1.0,
) -> None:
    """Granular yolk, in one lump or a few cells, with clear room at the ends."""
    wobble = grain(grid.shape, 9.0 / grid.pitch_um, rng)
    shrink = rng.uniform(0.4, 1.0) * clear * length_um
    lump_outline = superellipse(
        length_um - 2 * shrink, 2 * half_um * rng.uniform(0.9, 1.0), rng.uniform(2.2, 2.9)
    )
    lump = lump_outline.depth(grid.moved(rng.normal(0, 0.25) * shrink, 0.0, rng.normal(0, 1.0)))
    lump = np.minimum(lump + 0.7 * wobble, inner - np.float32(0.04 * half_um) + 0.3 * wobble)
    if cells > 1:
        cuts = (np.arange(1, cells) / cells - 0.5 + rng.normal(0, 0.03, cells - 1)) * length_um
        for cut in cuts:
            bow = 0.012 * (grid.v / half_um) ** 2 * length_um * rng.choice([-1, 1])
            lump = np.minimum(lump, np.abs(grid.u - cut + bow + 0.5 * wobble) * 1.1 + 0.5)
            furrow = bump(grid.u - np.float32(cut) + bow + 0.5 * wobble, 0, 0.7) * step(inner, 1.0, 2.5)
            body.colour(furrow * 0.16, GREYISH)
    inside = step(lump, 0.0, 1.4)
    fine = grain(grid.shape, 1.3 / grid.pitch_um, rng)
    coarse = grain(grid.shape, 3.2 / grid.pitch_um, rng)
    thick = chord(lump, half_um) / max(2 * half_um, 1e-6)
    tone = (0.55 * thick + 0.25) * inside * (1 + 0.18 * coarse + 0.16 * fine)
    body.colour(tone * 0.46 * dark, STRAW if dark <= 1.0 else BROWN)
    body.colour(tone * 0.16 * dark, GREYISH)
    body.refract(chord(lump, half_um) + inside * (1.5 * fine + 1.6 * coarse), 0.011)
    if cells == 1 and rng.random() < 0.6:  # the clear spot of the nucleus
        spot = superellipse(5.5, 5.0).depth(
            grid.moved(rng.normal(0, 0.1) * length_um, rng.normal(0, 0.1) * half_um)
        )
        body.colour(step(spot, -1, 1.5) * inside * -0.20, GREYISH)


def _morula(
    body: Body, grid: Grid, inner: Map, rng: Rng, length_um: float, width_um: float, count: int
) -> None:
    """A mulberry of cells, each with its own edge and grain."""
    size = (0.40 * length_um * width_um**2 / count) ** (1 / 3)
    fine = grain(grid.shape, 1.2 / grid.pitch_um, rng)
    placed: list[tuple[float, float]] = []
    turn = rng.uniform(0, 2 * np.pi)
    for k in range(count):  # a sunflower spiral fills an oval evenly
        reach, turn = np.sqrt((k + 0.5) / count), turn + 2.399963
        u = reach * np.cos(turn) * (length_um / 2 - 0.74 * size) + rng.normal(0, 0.07) * size
        v = reach * np.sin(turn) * (width_um / 2 - 0.66 * size) + rng.normal(0, 0.07) * size
        placed.append((u, v))
    for u, v in placed:
        cell = superellipse(size * rng.uniform(0.95, 1.2), size, 2.2).depth(
            grid.moved(u, v, rng.uniform(0, 180))
        )
        cell = np.minimum(cell, inner)
        inside = step(cell, -0.3, 0.9)
        body.colour(inside * (0.13 + 0.03 * fine), STRAW)
        body.colour(bump(cell, 0.2, 0.7) * 0.13, GREYISH)
        body.refract(chord(cell, size / 2) + 0.8 * inside * fine, 0.012)
        nucleus = superellipse(size * 0.36, size * 0.32).depth(grid.moved(u, v))
        body.colour(step(nucleus, -0.6, 0.8) * -0.07, GREYISH)


def _folded_larva(body: Body, grid: Grid, inner: Map, rng: Rng, length_um: float, width_um: float) -> None:
    """A larva folded once or more inside an egg."""
    thick = width_um * rng.uniform(0.30, 0.36)
    room = length_um / 2 - thick * 0.8
    t = np.linspace(0, 1, 90)
    folds = rng.uniform(1.5, 2.3)
    u = room * np.cos(np.pi * folds * t) * (1 - 0.12 * t)
    v = (width_um / 2 - thick * 0.6) * np.interp(t, [0, 0.2, 0.6, 1], [0.55, 0.75, -0.8, 0.25])
    v = v + 0.06 * width_um * np.sin(2 * np.pi * 3 * t)
    radius = thick / 2 * np.interp(t, [0, 0.06, 0.7, 1], [0.6, 1, 0.9, 0.15])
    depth, _ = tube_depth(grid, u, v, radius)
    depth = np.minimum(depth, inner)
    inside = step(depth, -0.2, 0.8)
    fine = grain(grid.shape, 1.2 / grid.pitch_um, rng)
    body.colour(inside * (0.17 + 0.045 * fine), STRAW)
    body.colour(inside * (0.08 + 0.03 * fine), GREYISH)
    body.colour(bump(depth, 0.1, 0.6) * 0.22, GREYISH)
    body.refract(chord(depth, thick / 2) + 0.7 * inside * fine, 0.03)
    body.colour(step(inner, 0, 1.5) * 0.035, STRAW)
