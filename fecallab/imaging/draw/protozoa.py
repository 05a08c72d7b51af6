"""Oocysts and cysts: round walls with a few bodies inside."""

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

HYALINE: Colour = (0.62, 0.68, 0.80)
GREY: Colour = (0.82, 0.86, 0.95)
STRAW: Colour = (0.36, 0.52, 0.95)


def isospora_unsporulated(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Round oocyst with one granular ball in clear room."""
    body, inner = _oocyst(grid, rng, length_um, width_um, wall_um=1.1)
    ball = superellipse(0.66 * length_um, 0.64 * width_um, 2.0).roughened(0.02, 9, rng)
    _granular_ball(body, ball.depth(grid.moved(rng.normal(0, 0.6), rng.normal(0, 0.6))), 0.33 * width_um, rng)
    body.colour(step(inner, -0.2, 0.6) * 0.02, HYALINE)
    return body


def isospora_sporulated(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Round oocyst with two lemon-shaped sporocysts of four sporozoites each."""
    body, _ = _oocyst(grid, rng, length_um, width_um, wall_um=1.1)
    lean = rng.uniform(0, 180)
    for side in (-1, 1):
        turned = grid.moved(0, 0, lean).moved(rng.normal(0, 0.4), side * 0.215 * width_um, rng.normal(0, 12))
        _sporocyst(body, turned, rng, 0.60 * length_um, 0.385 * width_um, sporozoites=4, pointed=True)
    return body


def eimeria_oval(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Oval oocyst with four sporocysts of two sporozoites."""
    body, _ = _oocyst(grid, rng, length_um, width_um, wall_um=1.0)
    long, short = 0.36 * length_um, min(0.44 * width_um, 0.25 * length_um)
    places = [(-0.26, -0.12), (-0.06, 0.17), (0.08, -0.19), (0.27, 0.12)]
    for u, v in places:
        place = grid.moved(
            u * length_um + rng.normal(0, 0.3), v * width_um + rng.normal(0, 0.2), rng.normal(0, 25)
        )
        _sporocyst(body, place, rng, long, short, sporozoites=2, pointed=False)
    return body


def caryospora(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Round oocyst with one sporocyst of eight sporozoites."""
    body, _ = _oocyst(grid, rng, length_um, width_um, wall_um=1.0)
    place = grid.moved(0, 0, rng.uniform(0, 180))
    _sporocyst(body, place, rng, 0.74 * length_um, 0.58 * width_um, sporozoites=8, pointed=True)
    return body


def entamoeba_cyst(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Round smooth cyst, thin wall, one to four ring nuclei, sometimes a blunt rod."""
    body, inner = _oocyst(grid, rng, length_um, width_um, wall_um=0.7, index=0.018)
    fine = grain(grid.shape, 0.7 / grid.pitch_um, rng)
    inside = step(inner, -0.1, 0.5)
    body.colour(inside * (0.06 + 0.018 * fine), GREY)
    body.refract(inside * fine * 0.5, 0.01)
    for _ in range(int(rng.integers(1, 5))):
        reach, turn = rng.uniform(0.05, 0.26) * length_um, rng.uniform(0, 2 * np.pi)
        here = grid.moved(reach * np.cos(turn), reach * np.sin(turn))
        nucleus = superellipse(0.2 * length_um, 0.19 * length_um).depth(here)
        body.colour(bump(nucleus, 0.15, 0.3) * 0.20, GREY)
        dot = superellipse(0.6, 0.6).depth(here)
        body.colour(step(dot, -0.2, 0.2) * 0.25, GREY)
    if rng.random() < 0.5:
        rod = superellipse(0.42 * length_um, 0.11 * length_um, 3.0).depth(
            grid.moved(0.1 * length_um, -0.2 * length_um, rng.uniform(0, 180))
        )
        body.refract(chord(rod, 0.05 * length_um), 0.05)
    return body


def giardia_cyst(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Smooth oval, plasma pulled from the wall, nuclei to one end, fibres along the middle."""
    body, inner = _oocyst(grid, rng, length_um, width_um, wall_um=0.5, index=0.02)
    plasma = inner - np.float32(0.35) - 0.5 * step(grid.u, 0, length_um / 2)
    inside = step(plasma, -0.1, 0.4)
    fine = grain(grid.shape, 0.6 / grid.pitch_um, rng)
    body.colour(inside * (0.09 + 0.02 * fine), GREY)
    body.refract(chord(plasma, width_um / 2 - 0.8), 0.008)
    for side in (-1, 1):
        nucleus = superellipse(1.9, 1.7).depth(grid.moved(-0.27 * length_um, side * 0.17 * width_um))
        body.colour(bump(nucleus, 0.1, 0.3) * 0.18, GREY)
    t = np.linspace(-0.2, 0.34, 20) * length_um
    for side in (-1, 1):
        fibre, _ = tube_depth(grid, t, side * (0.4 + 0.03 * t), np.full(t.size, 0.22))
        body.colour(step(fibre, -0.2, 0.15) * inside * 0.24, GREY)
    return body


def balantidium_cyst(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Round, thick double wall, granular content with a large clear nucleus."""
    body, inner = _oocyst(grid, rng, length_um, width_um, wall_um=2.6, index=0.022)
    body.colour(bump(inner, -1.3, 0.5) * 0.18, GREY)
    _granular_ball(body, inner - np.float32(1.0), width_um / 2 - 3.6, rng, size_um=1.2)
    nucleus = superellipse(0.42 * length_um, 0.15 * length_um, 2.2, 0.0, 0.3).depth(grid.moved(1.0, 2.0, 35))
    body.colour(step(nucleus, -0.8, 1.0) * -0.13, STRAW)
    return body


def nyctotherus_cyst(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Ovoid, thick wall, a lid at one end."""
    outline = superellipse(1.0, 0.7, 2.15, 0.12).fitted(length_um, width_um)
    body = Body(grid)
    depth = outline.depth(grid)
    half, wall = width_um / 2, rng.uniform(1.6, 2.2)
    thick = shell(depth, half, wall)
    body.refract(thick, 0.022)
    body.colour(thick * 0.02, STRAW)
    body.colour(bump(depth, 0.2, 0.4) * 0.3, GREY)
    lid = bump(grid.u - np.float32(0.37 * length_um) + 0.006 * grid.v**2, 0, 0.5) * step(depth, -0.5, 0.3)
    body.colour(lid * 0.32, GREY)
    _granular_ball(body, depth - np.float32(wall + 1.0), half - wall - 1.0, rng, size_um=1.3)
    return body


def _oocyst(
    grid: Grid, rng: Rng, length_um: float, width_um: float, wall_um: float, index: float = 0.026
) -> tuple[Body, Map]:
    """A smooth two-layered wall; returns the body and the depth below the wall."""
    body = Body(grid)
    depth = superellipse(length_um, width_um, rng.uniform(1.97, 2.08)).depth(grid)
    half = width_um / 2
    body.refract(shell(depth, half, wall_um), index)
    body.refract(chord(depth - np.float32(wall_um), half - wall_um), 0.0022)
    body.colour(bump(depth, 0.22, 0.34) * 0.34, GREY)
    body.colour(bump(depth, wall_um, 0.26) * 0.22, GREY)
    body.colour(shell(depth, half, wall_um) * 0.012, STRAW)
    return body, (depth - np.float32(wall_um)).astype(np.float32)


def _granular_ball(body: Body, depth: Map, half_um: float, rng: Rng, size_um: float = 0.9) -> None:
    inside = step(depth, -0.2, 0.9)
    shape, pitch = body.grid.shape, body.grid.pitch_um
    fine, coarse = grain(shape, size_um / pitch, rng), grain(shape, 2.0 * size_um / pitch, rng)
    tone = inside * (0.10 + 0.10 * chord(depth, half_um) / (2 * half_um)) * (1 + 0.22 * fine + 0.22 * coarse)
    body.colour(tone * 1.1, STRAW)
    body.colour(tone * 0.6, GREY)
    body.colour(bump(depth, 0.1, 0.35) * 0.12, GREY)
    body.refract(chord(depth, half_um) + inside * (0.7 * fine + 0.8 * coarse), 0.012)


def _sporocyst(
    body: Body, grid: Grid, rng: Rng, length_um: float, width_um: float, sporozoites: int, pointed: bool
) -> None:
    depth = superellipse(length_um, width_um, 1.75 if pointed else 2.0, 0.1 if pointed else 0.0).depth(grid)
    half = width_um / 2
    body.refract(shell(depth, half, 0.45), 0.028)
    body.colour(bump(depth, 0.12, 0.3) * 0.30, GREY)
    inside = step(depth, 0.0, 0.5)
    body.colour(inside * 0.035, STRAW)
    if pointed:  # the plug at the tip
        tip = superellipse(1.5, 1.2).depth(grid.moved(0.49 * length_um, 0))
        body.colour(step(tip, -0.3, 0.3) * 0.22, GREY)
    rows = max(2, sporozoites // 2)
    for k in range(sporozoites):
        across = ((k % rows) + 0.5) / rows - 0.5
        place = grid.moved(
            (0.13 if k >= rows else -0.13) * length_um * (1 if sporozoites > 2 else 0),
            across * width_um * 0.80,
            rng.normal(0, 14),
        )
        long = 0.62 * length_um if sporozoites > 2 else 0.75 * length_um
        banana = superellipse(long, 0.24 * width_um if sporozoites > 2 else 0.36 * width_um, 2.2, 0.2, 0.15)
        zoite = np.minimum(banana.depth(place), depth - np.float32(0.5))
        body.refract(chord(zoite, 0.1 * width_um), 0.022)
        body.colour(step(zoite, -0.1, 0.3) * 0.085, STRAW)
        body.colour(bump(zoite, 0.05, 0.22) * 0.11, GREY)
    dots = grain(body.grid.shape, 0.55 / body.grid.pitch_um, rng)
    centre = step(np.hypot(grid.u * 0.7, grid.v), 0.26 * length_um, 0.05 * length_um)
    body.colour(centre * inside * step(dots, 0.4, 1.6) * 0.22, GREY)
