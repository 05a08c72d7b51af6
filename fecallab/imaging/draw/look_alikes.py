"""What is taken for an egg or a cyst: pollen, bubbles, fat, starch, spores, urate spheres, yeasts."""

from __future__ import annotations

import numpy as np

from fecallab.imaging.draw.form import (
    Body,
    Colour,
    Grid,
    Outline,
    bump,
    chord,
    cloud,
    grain,
    shell,
    step,
    superellipse,
)

Rng = np.random.Generator

GREY: Colour = (0.82, 0.86, 0.95)
YELLOW: Colour = (0.12, 0.30, 1.25)
ORANGE: Colour = (0.16, 0.62, 1.50)
TAN: Colour = (0.30, 0.50, 0.95)
BROWN: Colour = (0.55, 0.88, 1.35)


def pollen_pine(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A body with two netted air bladders, like mouse ears."""
    body = Body(grid)
    net = np.abs(grain(grid.shape, 3.0 / grid.pitch_um, rng))
    fine = grain(grid.shape, 1.2 / grid.pitch_um, rng)
    for side in (-1, 1):
        sac = superellipse(0.40 * length_um, 0.62 * width_um, 2.2, 0.0, 0.0)
        depth = sac.depth(grid.moved(side * 0.30 * length_um, 0.19 * width_um))
        inside = step(depth, -0.2, 0.8)
        mesh = step(net, 0.30, 0.02)
        body.colour(inside * (0.13 + 0.20 * mesh), TAN)
        body.colour(bump(depth, 0.5, 0.9) * 0.5, TAN)
        body.refract(shell(depth, 0.2 * length_um, 1.4) + inside * mesh * 0.8, 0.03)
    trunk = superellipse(0.64 * length_um, 0.86 * width_um, 2.2, 0.0, 0.1).depth(
        grid.moved(0, -0.07 * width_um)
    )
    inside = step(trunk, -0.2, 0.8)
    body.colour(inside * (0.16 + 0.03 * fine) + bump(trunk, 1.0, 1.1) * 0.32, TAN)
    body.refract(shell(trunk, 0.4 * width_um, 2.0) + inside * 0.5 * fine, 0.022)
    cap = bump(trunk, 2.0, 1.6) * step(grid.v, 0, -0.2 * width_um)
    body.colour(cap * 0.25, BROWN)
    return body


def pollen_spiny(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A round yellow grain with spines."""
    count = int(rng.integers(14, 22))
    turn = np.linspace(0, 2 * np.pi, 721)
    spike = np.abs(np.cos(turn * count / 2 + rng.uniform(0, 3))) ** 7
    outline = Outline(0.80 + 0.20 * spike).fitted(length_um, width_um)
    body = Body(grid)
    depth = outline.depth(grid)
    core = superellipse(0.82 * length_um, 0.82 * width_um).depth(grid)
    inside = step(depth, -0.2, 0.6)
    body.colour(inside * 0.30, YELLOW)
    body.colour(step(core, -0.3, 1.0) * (0.35 + 0.4 * chord(core, 0.41 * width_um) / width_um), YELLOW)
    body.colour(bump(core, 0.8, 1.3) * 0.45, ORANGE)
    spots = step(grain(grid.shape, 2.4 / grid.pitch_um, rng), 0.7, 1.5) * step(core, 0, 2)
    body.colour(spots * 0.4, ORANGE)  # spines seen from above
    body.refract(chord(depth, width_um / 2) + inside * spots, 0.02)
    return body


def pollen_smooth(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A grain with three pores and an evenly filled, finely grained content."""
    turn = np.linspace(0, 2 * np.pi, 721)
    outline = Outline(1 + 0.035 * np.cos(3 * turn)).fitted(length_um, width_um)
    body = Body(grid)
    depth = outline.depth(grid)
    inside = step(depth, -0.2, 0.6)
    fine = grain(grid.shape, 0.9 / grid.pitch_um, rng)
    body.colour(inside * (0.28 + 0.03 * fine), TAN)
    body.colour(step(depth, 0, 0.4) * step(depth, 2.2, 1.6) * 0.35, BROWN)
    body.refract(shell(depth, width_um / 2, 1.8), 0.03)
    for k in range(3):
        a = 2 * np.pi * k / 3
        pore = superellipse(0.17 * length_um, 0.13 * length_um).depth(
            grid.moved(0.43 * length_um * np.cos(a), 0.43 * width_um * np.sin(a), np.degrees(a))
        )
        body.colour(step(pore, -0.3, 0.8) * step(depth, -0.5, 0.3) * -0.3, BROWN)
        body.colour(bump(pore, 0, 0.5) * step(depth, -0.2, 0.4) * 0.22, GREY)
    return body


def pollen_any(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Spiny or smooth, by lot; small ones are smooth."""
    spiny = length_um > 26 and rng.random() < 0.55
    return (pollen_spiny if spiny else pollen_smooth)(grid, rng, length_um, width_um)


def air_bubble(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A perfect circle, thick black rim, bright and empty inside."""
    body = Body(grid)
    radius = length_um / 2
    depth = (radius - np.hypot(grid.u, grid.v)).astype(np.float32)
    rim = min(0.75 * radius, 8.0 + 0.10 * radius)
    body.refract(chord(depth - np.float32(0.8), rim), -0.09)
    body.colour(step(depth, 0, 0.8) * step(depth, 0.98 * rim, 0.50 * rim) * 1.7, (1.0, 0.98, 0.95))
    body.colour(bump(depth, 1.05 * rim, 0.14 * rim) * -0.12, GREY)  # the bright ring inside
    return body


def fat_globule(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A perfect circle that gathers light: bright inside, a thin dark edge, no content."""
    body = Body(grid)
    radius = length_um / 2
    depth = (radius - np.hypot(grid.u, grid.v)).astype(np.float32)
    body.refract(chord(depth, radius), 0.045)
    body.colour(bump(depth, 0.35, 0.55) * 0.55, GREY)
    body.colour(step(depth, 0.2 * radius, 0.9 * radius) * -0.14, GREY)
    body.colour(step(depth, 0, 1.0) * 0.05, YELLOW)
    return body


def starch_granule(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """An oval grain with rings around a point near one end and a cleft."""
    body = Body(grid)
    outline = superellipse(1.0, 0.75, 2.1, 0.18).roughened(0.02, 5, rng).fitted(length_um, width_um)
    depth = outline.depth(grid)
    point = grid.moved(0.22 * length_um, 0.0)
    away = np.hypot(point.u * (width_um / length_um) ** 0.5, point.v)
    inside = step(depth, -0.1, 0.6)
    rings = np.sin(away * 2 * np.pi / max(0.075 * length_um, 1.0)).astype(np.float32)
    body.refract(chord(depth, width_um / 2) + inside * rings * 0.12, 0.035)
    body.colour(inside * (0.02 + 0.014 * rings), GREY)
    body.colour(bump(depth, 0.2, 0.4) * 0.30, GREY)
    cleft = bump(point.v + 0.15 * point.u, 0, 0.5) * step(np.abs(point.u), 0.12 * length_um, 0.06 * length_um)
    body.colour(cleft * 0.4, GREY)
    return body


def fungal_spore(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A brown club with cross walls and a stalk scar."""
    body = Body(grid)
    depth = superellipse(1.0, 0.45, 2.1, 0.32).fitted(length_um, width_um).depth(grid)
    inside = step(depth, -0.1, 0.5)
    body.colour(inside * 0.42 + bump(depth, 0.5, 0.7) * 0.4, BROWN)
    for k in range(int(rng.integers(3, 6))):
        wall = bump(grid.u - np.float32((-0.32 + 0.18 * k) * length_um), 0, 0.45)
        body.colour(wall * step(depth, 0.1, 0.7) * 0.45, BROWN)
    body.refract(chord(depth, width_um / 2), 0.018)
    return body


def urate_sphere(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A round crystal ball with radial lines, dark through the middle."""
    body = Body(grid)
    outline = superellipse(1.0, 0.97).roughened(0.012, 26, rng).fitted(length_um, width_um)
    depth = outline.depth(grid)
    radius = width_um / 2
    theta = np.arctan2(grid.v, grid.u)
    rays = sum(
        np.sin(k * theta + rng.uniform(0, 6.28)) * rng.uniform(0.4, 1.0) for k in rng.integers(9, 34, 7)
    ) / np.sqrt(7)
    out = (np.hypot(grid.u, grid.v) / radius).astype(np.float32)
    inside = step(depth, -0.1, 0.6)
    lines = (rays * step(out, 0.08, 0.4)).astype(np.float32)
    body.colour(inside * (0.25 + 0.45 * chord(depth, radius) / (2 * radius) + 0.12 * lines), TAN)
    body.colour(inside * (0.10 + 0.08 * lines) + bump(depth, 0.3, 0.5) * 0.3, GREY)
    body.refract(chord(depth, radius) + inside * lines * 0.5, 0.04)
    ring = bump(out, rng.uniform(0.5, 0.7), 0.06) * inside
    body.colour(ring * 0.12, GREY)
    return body


def yeast(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A small bright oval, often with a bud."""
    body = Body(grid)
    cells = [(0.0, 0.0, length_um, width_um)]
    if rng.random() < 0.6:
        cells.append((0.62 * length_um, 0.12 * width_um, 0.62 * length_um, 0.62 * width_um))
    for u, v, long, short in cells:
        depth = superellipse(long, short).depth(grid.moved(u, v))
        body.refract(chord(depth, short / 2), 0.03)
        body.colour(bump(depth, 0.15, 0.3) * 0.30 + step(depth, 0, 0.5) * 0.03, GREY)
    dot = superellipse(0.2 * length_um, 0.2 * length_um).depth(grid.moved(-0.12 * length_um, 0))
    body.colour(step(dot, -0.2, 0.3) * 0.12, GREY)
    return body


def red_cell(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """A reptile's red cell: oval with an oval nucleus."""
    body = Body(grid)
    depth = superellipse(length_um, width_um, 2.1).depth(grid)
    fine = cloud(grid.shape, 3.0 / grid.pitch_um, 0.6 / grid.pitch_um, rng)
    inside = step(depth, -0.1, 0.6)
    body.colour(inside * (0.10 + 0.01 * fine), (0.10, 0.55, 0.75))
    body.colour(bump(depth, 0.2, 0.4) * 0.16, GREY)
    body.refract(chord(depth, width_um / 2), 0.01)
    nucleus = superellipse(0.42 * length_um, 0.45 * width_um, 2.1).depth(grid)
    body.colour(step(nucleus, -0.3, 0.5) * (0.15 + 0.03 * fine), GREY)
    return body
