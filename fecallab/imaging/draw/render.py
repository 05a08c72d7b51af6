"""Light, camera and eyepiece: from the logarithm of the light to the picture that a camera would store."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from fecallab.imaging.draw.form import Map, cloud, grain, step


@dataclass(frozen=True, kw_only=True)
class Light:
    """The lamp.

    Attributes
    ----------
    white : (float, float, float)
        Red, green and blue of the empty field, 0 to 255.
    uneven : float
        How much darker the dark side is (0 to about 0.5).
    dust : int
        Out-of-focus specks on lamp and camera.
    """

    white: tuple[float, float, float] = (206.0, 212.0, 220.0)
    uneven: float = 0.10
    dust: int = 3


@dataclass(frozen=True, kw_only=True)
class Camera:
    """The camera.

    Attributes
    ----------
    contrast, gamma : float
        1 leaves the light as it is; a gamma over 1 darkens the middle tones.
    blur_px : float
        Softness of the whole picture.
    sharpen : float
        Edge sharpening as phones do it, 0 for none.
    noise : float
        Standard deviation of the grain on white, in grey values.
    jpeg_quality : int
        0 for none; otherwise the picture goes through a JPEG of that quality once.
    """

    contrast: float = 1.0
    gamma: float = 1.0
    blur_px: float = 0.4
    sharpen: float = 0.0
    noise: float = 2.0
    jpeg_quality: int = 0


@dataclass(frozen=True, kw_only=True)
class RoundView:
    """A phone at the eyepiece: a lit circle in a dark surround, in pixels of the picture."""

    x_px: float
    y_px: float
    radius_px: float
    edge_px: float = 5.0
    darkening: float = 0.35


def photograph(
    light_log: Map, light: Light, camera: Camera, view: RoundView | None, rng: np.random.Generator
) -> NDArray[np.uint8]:
    """Turn the logarithm of the passing light into a picture.

    Parameters
    ----------
    light_log : ndarray, shape (height, width, 3)
        0 for an empty field.
    light, camera, view
        Lamp, camera and, for a phone at the eyepiece, its circle.
    rng : numpy.random.Generator
        Source of dust and noise.

    Returns
    -------
    ndarray of uint8, shape (height, width, 3)
    """
    height, width = light_log.shape[:2]
    picture = np.exp(camera.contrast * light_log)
    picture *= _lamp((height, width), light, rng)[..., None]
    picture *= np.asarray(light.white, np.float32) / 255
    if view is not None:
        picture *= _circle((height, width), view)
        picture += np.float32(0.018)
    if camera.gamma != 1.0:
        picture = np.clip(picture, 0, None) ** np.float32(camera.gamma)
    if camera.blur_px > 0:
        picture = ndimage.gaussian_filter(picture, (camera.blur_px, camera.blur_px, 0))
    if camera.sharpen > 0:
        picture = picture + np.float32(camera.sharpen) * (
            picture - ndimage.gaussian_filter(picture, (1.6, 1.6, 0))
        )
    picture = picture * 255
    strength = camera.noise * np.sqrt(np.clip(picture, 4, 255) / 220)
    shared = grain((height, width), 0.9, rng)[..., None]
    single = np.dstack([grain((height, width), 1.3, rng) for _ in range(3)])
    picture = picture + strength * (0.8 * shared + 0.6 * single)
    stored = np.clip(np.round(picture), 0, 255).astype(np.uint8)
    return _through_jpeg(stored, camera.jpeg_quality) if camera.jpeg_quality else stored


def _lamp(shape: tuple[int, int], light: Light, rng: np.random.Generator) -> Map:
    """Uneven brightness and out-of-focus dust, about 1."""
    height, width = shape
    y = np.linspace(-1, 1, height, dtype=np.float32)[:, None]
    x = np.linspace(-1, 1, width, dtype=np.float32)[None, :]
    a = rng.uniform(0, 2 * np.pi)
    cx, cy = rng.normal(0, 0.2, 2)
    lamp = 1 - light.uneven * (
        0.35 * (np.cos(a) * x + np.sin(a) * y + 1) + 0.32 * ((x - cx) ** 2 + (y - cy) ** 2)
    )
    lamp = lamp + 0.10 * light.uneven * cloud(shape, min(shape) / 2.5, min(shape) / 6, rng)
    for _ in range(light.dust):
        r = rng.uniform(0.010, 0.030)
        px, py = rng.uniform(-1, 1, 2)
        distance = np.hypot((x - px) * width / height, y - py)
        speck = step(distance, 1.5 * r, 0.5 * r) - 0.6 * step(distance, 0.7 * r, 0.1 * r)
        lamp = lamp * (1 - rng.uniform(0.02, 0.07) * speck)
    return np.asarray(lamp, np.float32)


def _circle(shape: tuple[int, int], view: RoundView) -> Map:
    """Share of the light of each colour that the eyepiece passes; the rim is slightly coloured."""
    y = np.arange(shape[0], dtype=np.float32)[:, None] - view.y_px
    x = np.arange(shape[1], dtype=np.float32)[None, :] - view.x_px
    distance = np.hypot(x, y)
    inner = 1 - view.darkening * np.clip(distance / view.radius_px, 0, 1.1) ** 4
    passes = []
    for shift in (0.35, 0.0, -0.45):  # red a little wider than blue, as lenses do it
        edge = view.radius_px * (1 + 0.003 * shift)
        open_part = step(distance, edge + view.edge_px, edge - view.edge_px)
        glow = 0.020 * np.exp(-np.clip(distance - edge, 0, None) / (0.08 * view.radius_px))
        passes.append(open_part * inner + (1 - open_part) * glow)
    return np.stack(passes, axis=-1).astype(np.float32)


def _through_jpeg(pixels: NDArray[np.uint8], quality: int) -> NDArray[np.uint8]:
    from PIL import Image

    store = io.BytesIO()
    Image.fromarray(pixels).save(store, "JPEG", quality=quality)
    return np.array(Image.open(store))
