"""Living cells that swim, and larvae: flagellates, ciliates, small worms."""

from __future__ import annotations

import numpy as np

from fecallab.imaging.draw.form import (
    Body,
    Colour,
    Grid,
    Map,
    Outline,
    bump,
    chord,
    cloud,
    grain,
    step,
    superellipse,
    tube_depth,
)

Rng = np.random.Generator

HYALINE: Colour = (0.70, 0.74, 0.84)
GREY: Colour = (0.82, 0.86, 0.95)
OLIVE: Colour = (0.46, 0.50, 0.88)


def tritrichomonas(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Pear with a tail point, a rippled edge along one side, faint whips in front."""
    outline = _pear(rng, length_um, width_um, point=rng.uniform(0.7, 1.0))
    body, depth = _plasma(grid, rng, outline, width_um, index=0.016)
    front = -0.44 * length_um
    t = np.linspace(0, 1, 40)
    # the undulating membrane: a ripple just outside one side
    side_u = (-0.42 + 0.78 * t) * length_um
    edge = np.interp(side_u, *_upper_edge(outline))
    wave = (0.32 + 0.42 * (1 + np.sin(2 * np.pi * (3.2 * t + rng.uniform())))) * 0.11 * width_um
    _thread(body, grid, side_u, edge + wave, 0.24, 0.16)
    between = (step(grid.v, 0, 0.2) * step(depth, -0.24 * width_um, -0.02 * width_um)).astype(np.float32)
    body.colour(between * (np.abs(grid.u) < 0.34 * length_um) * 0.025, HYALINE)
    for _ in range(3):
        _whip(body, grid, rng, front, 0.0, 180 + rng.normal(0, 26), length_um * rng.uniform(0.7, 1.1))
    _whip(body, grid, rng, 0.38 * length_um, edge[-1], rng.normal(8, 12), length_um * 0.5)
    axis = tube_depth(
        grid, (-0.3 + 0.86 * t) * length_um, 0.03 * width_um * np.sin(5 * t), np.full(40, 0.28)
    )[0]
    body.colour(step(axis, -0.25, 0.2) * 0.10, GREY)
    _nucleus(body, grid.moved(-0.24 * length_um, -0.06 * width_um), 0.24 * length_um, 0.30 * width_um)
    return body


def hexamita(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Slim teardrop, six whips in front and two trailing."""
    outline = _pear(rng, length_um, width_um, point=0.35)
    body, _ = _plasma(grid, rng, outline, width_um, index=0.018)
    for k in range(6):
        _whip(body, grid, rng, -0.42 * length_um, 0, 180 + (k - 2.5) * 26 + rng.normal(0, 8), length_um * 0.9)
    for side in (-1, 1):
        _whip(body, grid, rng, 0.47 * length_um, side * 0.06 * width_um, side * 9.0, length_um * 1.1)
        _nucleus(
            body, grid.moved(-0.28 * length_um, side * 0.19 * width_um), 0.16 * length_um, 0.18 * width_um
        )
    return body


def monocercomonas(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Small pear with a round front and an axostyle point behind, no membrane."""
    outline = _pear(rng, length_um, width_um, point=0.6)
    body, _ = _plasma(grid, rng, outline, width_um, index=0.016)
    for _ in range(3):
        _whip(
            body, grid, rng, -0.44 * length_um, 0, 180 + rng.normal(0, 30), length_um * rng.uniform(0.8, 1.2)
        )
    _whip(body, grid, rng, -0.4 * length_um, 0.2 * width_um, 40.0, length_um * 1.0)
    _nucleus(body, grid.moved(-0.2 * length_um, 0), 0.22 * length_um, 0.3 * width_um)
    return body


def nyctotherus(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Kidney bean: side groove to the mouth, large front nucleus, food grains, a rim of cilia."""
    outline = superellipse(1.0, 0.66, 2.2, rng.uniform(-0.16, -0.02), rng.uniform(0.22, 0.34))
    outline = outline.fitted(length_um, width_um)
    body, depth = _ciliate(grid, rng, outline, length_um, width_um)
    t = np.linspace(0, 1, 50)
    groove_u = ((1 - t) ** 2 * -0.40 + 2 * t * (1 - t) * 0.10 + t**2 * 0.02) * length_um
    groove_v = ((1 - t) ** 2 * -0.34 + 2 * t * (1 - t) * -0.40 + t**2 * 0.10) * width_um
    line = tube_depth(grid, groove_u, groove_v, np.interp(t, [0, 0.7, 1], [0.9, 2.2, 0.8]) * length_um / 130)[
        0
    ]
    line = np.minimum(line, depth)
    body.colour(bump(line, 0, 0.6) * 0.30, GREY)
    body.colour(step(line, -0.4, 0.9) * -0.16, OLIVE)
    nucleus = superellipse(0.27 * length_um, 0.40 * width_um, 2.3, 0, 0.2)
    clear = nucleus.depth(grid.moved(-0.24 * length_um, 0.08 * width_um, 12))
    body.colour(step(clear, -1.0, 1.5) * -0.16, OLIVE)
    body.colour(bump(clear, 0, 0.7) * 0.20, GREY)
    return body


def balantidium(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Egg-shaped with a tapered front and a mouth funnel at the tip, a kidney-shaped nucleus."""
    outline = superellipse(1.0, 0.72, 2.05, -rng.uniform(0.16, 0.26)).fitted(length_um, width_um)
    body, depth = _ciliate(grid, rng, outline, length_um, width_um)
    funnel = superellipse(0.22 * length_um, 0.10 * width_um, 1.6, 0.3).depth(
        grid.moved(-0.39 * length_um, -0.05 * width_um, 20)
    )
    body.colour(bump(np.minimum(funnel, depth), 0, 0.6) * 0.30, GREY)
    body.colour(step(np.minimum(funnel, depth), -0.3, 0.8) * -0.15, OLIVE)
    nucleus = superellipse(0.34 * length_um, 0.20 * width_um, 2.4, 0.0, 0.4)
    clear = nucleus.depth(grid.moved(0.08 * length_um, 0.08 * width_um, rng.uniform(20, 60)))
    body.colour(step(clear, -1.0, 1.5) * -0.15, OLIVE)
    body.colour(bump(clear, 0, 0.7) * 0.18, GREY)
    vacuole = superellipse(0.12 * length_um, 0.115 * length_um).depth(grid.moved(0.33 * length_um, 0.0))
    body.colour(bump(vacuole, 0, 0.6) * 0.18, GREY)
    body.colour(step(vacuole, -0.5, 1) * -0.2, OLIVE)
    return body


def larva(grid: Grid, rng: Rng, length_um: float, width_um: float) -> Body:
    """Long thin larva: round head, throat with a bulb, grainy gut, fine tail."""
    u, v = larva_path(rng, length_um)
    t = np.linspace(0, 1, u.size)
    radius = (
        width_um
        / 2
        * np.interp(t, [0, 0.02, 0.12, 0.6, 0.85, 0.97, 1], [0.45, 0.72, 0.97, 1, 0.68, 0.16, 0.03])
    )
    body = Body(grid)
    depth, along = tube_depth(grid, u, v, radius)
    inside = step(depth, -0.1, 0.7)
    fine = grain(grid.shape, 1.1 / grid.pitch_um, rng)
    coarse = grain(grid.shape, 2.2 / grid.pitch_um, rng)
    body.refract(chord(depth, width_um / 2), 0.016)
    body.colour(bump(depth, 0.25, 0.5) * 0.34 + inside * 0.05, GREY)
    gut = step(depth, 0.16 * width_um, 0.26 * width_um) * step(along, 0.24, 0.28) * step(along, 0.9, 0.82)
    body.colour(gut * (0.20 + 0.07 * coarse + 0.05 * fine), OLIVE)
    body.colour(gut * (0.10 + 0.05 * coarse), GREY)
    body.refract(gut * (coarse + 0.6 * fine), 0.014)
    throat = np.interp(along, [0, 0.13, 0.17, 0.2, 0.235, 0.26], [0.12, 0.15, 0.09, 0.09, 0.24, 0.1]).astype(
        np.float32
    )
    line = width_um / 2 - depth - throat * width_um
    body.colour(bump(line, 0, 0.4) * step(along, 0.265, 0.255) * inside * 0.20, GREY)
    return body


def larva_path(rng: Rng, length_um: float) -> tuple[np.ndarray, np.ndarray]:
    """Middle line of a resting larva: gently bent, its chord along +u, its middle at 0."""
    t = np.linspace(0, 1, 140)
    bend, turn = rng.uniform(0.4, 1.0), rng.uniform(0, 2 * np.pi)
    heading = bend * np.sin(2 * np.pi * rng.uniform(0.55, 1.05) * t + turn)
    u = np.concatenate([[0], np.cumsum(np.cos(heading[1:]))]) * length_um / (t.size - 1)
    v = np.concatenate([[0], np.cumsum(np.sin(heading[1:]))]) * length_um / (t.size - 1)
    tilt = np.arctan2(v[-1] - v[0], u[-1] - u[0])
    c, s = np.cos(tilt), np.sin(tilt)
    u, v = c * u + s * v, c * v - s * u
    return u - (u.max() + u.min()) / 2, v - (v.max() + v.min()) / 2


def _pear(rng: Rng, length_um: float, width_um: float, point: float) -> Outline:
    """Round in front (-u), drawn out behind; `point` is how far the tail is drawn out."""
    t = np.linspace(0, 2 * np.pi, 1440, endpoint=False)
    u = np.cos(t)
    behind = np.clip(u, 0, 1)
    v = np.sin(t) * (1 - (0.35 + 0.4 * point) * behind**1.3) * np.where(u > 0, 1.0, 1.0)
    u = u + 0.25 * point * behind**4
    v = v + rng.uniform(-0.08, 0.08) * u**2
    return Outline.of(u, v * 0.6).fitted(length_um, width_um)


def _upper_edge(outline: Outline) -> tuple[np.ndarray, np.ndarray]:
    u, v = outline.points
    upper = v >= 0
    order = np.argsort(u[upper])
    return u[upper][order], v[upper][order]


def _plasma(grid: Grid, rng: Rng, outline: Outline, width_um: float, index: float) -> tuple[Body, Map]:
    body = Body(grid)
    depth = outline.depth(grid)
    inside = step(depth, -0.1, 0.5)
    fine, coarse = grain(grid.shape, 0.6 / grid.pitch_um, rng), grain(grid.shape, 1.3 / grid.pitch_um, rng)
    body.refract(chord(depth, width_um / 2) + inside * (0.4 * fine + 0.5 * coarse), index)
    body.colour(inside * (0.075 + 0.02 * fine + 0.02 * coarse), HYALINE)
    body.colour(bump(depth, 0.1, 0.3) * 0.22, GREY)
    grains = step(grain(grid.shape, 0.8 / grid.pitch_um, rng), 1.4, 2.2) * inside
    body.colour(grains * 0.28, GREY)
    return body, depth


def _nucleus(body: Body, grid: Grid, length_um: float, width_um: float) -> None:
    depth = superellipse(length_um, width_um, 2.0).depth(grid)
    body.colour(step(depth, -0.2, 0.4) * 0.06, GREY)
    body.colour(bump(depth, 0.05, 0.25) * 0.12, GREY)


def _thread(body: Body, grid: Grid, u: np.ndarray, v: np.ndarray, radius_um: float, dark: float) -> None:
    depth = tube_depth(grid, u, v, np.full(u.size, radius_um))[0]
    body.colour(step(depth, -0.25, 0.15) * dark, GREY)
    body.refract(chord(depth, radius_um), 0.03)


def _whip(body: Body, grid: Grid, rng: Rng, u: float, v: float, heading_deg: float, length_um: float) -> None:
    """A flagellum: a faint wavy thread."""
    t = np.linspace(0, 1, 36)
    heading = (
        np.radians(heading_deg)
        + 0.9 * np.sin(2 * np.pi * (rng.uniform(0.7, 1.2) * t + rng.uniform())) * t**0.5
    )
    path_u = u + np.cumsum(np.cos(heading)) * length_um / t.size
    path_v = v + np.cumsum(np.sin(heading)) * length_um / t.size
    _thread(body, grid, path_u, path_v, 0.13, rng.uniform(0.06, 0.13))


def _ciliate(grid: Grid, rng: Rng, outline: Outline, length_um: float, width_um: float) -> tuple[Body, Map]:
    """Pellicle, dense grainy plasma with food vacuoles, and cilia all around."""
    body = Body(grid)
    depth = outline.depth(grid)
    half = width_um / 2
    inside = step(depth, -0.2, 0.8)
    fine, coarse = grain(grid.shape, 1.1 / grid.pitch_um, rng), grain(grid.shape, 3.0 / grid.pitch_um, rng)
    thick = chord(depth, half) / (2 * half)
    broad = cloud(grid.shape, 0.22 * length_um / grid.pitch_um, 2.0 / grid.pitch_um, rng)
    body.colour(inside * (0.10 + 0.26 * thick) * (1 + 0.11 * fine + 0.13 * coarse + 0.20 * broad), OLIVE)
    body.colour(inside * 0.08 * (1 + 0.3 * coarse + 0.4 * broad), GREY)
    body.colour(bump(depth, 0.5, 0.8) * 0.30, GREY)
    body.refract(chord(depth, half) * 0.35 + inside * (0.6 * fine + 0.9 * coarse), 0.010)
    stripes = np.sin(grid.v * (2 * np.pi / 2.6) + 0.02 * grid.u * grid.v / max(length_um, 1.0)).astype(
        np.float32
    )
    body.colour(inside * stripes * 0.03, GREY)  # rows of cilia
    for _ in range(int(rng.integers(10, 22))):
        reach, turn = np.sqrt(rng.uniform(0, 0.62)), rng.uniform(0, 2 * np.pi)
        here = grid.moved(reach * np.cos(turn) * length_um / 2, reach * np.sin(turn) * width_um / 2)
        size = rng.uniform(0.035, 0.09) * length_um
        food = superellipse(size, size * rng.uniform(0.8, 1)).depth(here)
        body.colour(step(np.minimum(food, depth - 1), -0.3, 0.8) * rng.uniform(0.08, 0.42), OLIVE)
        body.colour(bump(food, 0, 0.5) * inside * 0.10, GREY)
    theta = np.arctan2(grid.v, grid.u)
    around = theta * (outline.radius.mean() / 0.75)  # arc length, nearly
    sweep = 0.35 * depth + 0.8 * grain(grid.shape, 6.0 / grid.pitch_um, rng)
    hairs = (0.5 + 0.5 * np.sin((around + sweep) * 2 * np.pi / 1.15)).astype(np.float32) ** 2
    long_um = 0.045 * length_um + 1.5
    fringe = step(depth, -long_um, -0.3 * long_um) * step(depth, 0.6, -0.2)
    body.colour(fringe * (0.06 + 0.24 * hairs), GREY)
    return body, depth
