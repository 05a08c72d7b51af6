"""The pixels of a page: crops unscaled, pictures scaled to what a mail can carry, nothing but pixels in any of them."""

from __future__ import annotations

import io
import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

from fecallab.vet.page_items import place_words
from fecallab.vet.page_model import Crop, VetItem, VetPicture

LONGEST_SIDES_PX = (2400, 2000, 1600, 1300, 1000)
"""Sizes that a picture is tried at, the largest first (own choice: the last is sharp on a phone)."""
JPEG_QUALITY = 85
CROP_QUALITY = 90
LARGEST_CROP_PX = 1400
"""A crop above this is made smaller, and says so (own choice: more pixels than a phone shows)."""
THUMBNAIL_PX = 132


def with_crops(items: Sequence[VetItem], pictures: Sequence[VetPicture]) -> list[VetItem]:
    """Return the items with their place in the field in words, the doubtful ones with their crop.

    Every picture is decoded once, whatever the number of its marks.
    """
    wanted: dict[int, list[int]] = {}
    done = list(items)
    for k, one in enumerate(items):
        if one.picture is None or one.mark is None:
            continue
        block = pictures[one.picture].block
        place = place_words(one.mark.x_px, one.mark.y_px, block.width_px, block.height_px)
        done[k] = replace(one, where=f"{one.where}, {place}")
        if one.doubtful:
            wanted.setdefault(one.picture, []).append(k)
    for picture, places in wanted.items():
        for k, crop in zip(places, _crops(pictures[picture], [done[k] for k in places]), strict=True):
            done[k] = replace(done[k], crop=crop)
    return done


def _crops(picture: VetPicture, items: Sequence[VetItem]) -> list[Crop]:
    from PIL import Image

    from fecallab.imaging.contact_sheet import SheetField, cut_out
    from fecallab.imaging.read import open_picture

    scale = picture.block.um_per_px
    marks = tuple(one.mark for one in items if one.mark is not None)
    field = SheetField(picture.block.title, open_picture(picture.source), scale, marks)
    crops = []
    for mark in marks:
        image = cut_out(field, mark)
        side = image.width
        if side > LARGEST_CROP_PX:
            image = image.resize((LARGEST_CROP_PX, LARGEST_CROP_PX), Image.Resampling.LANCZOS)
        out = io.BytesIO()
        image.save(out, "JPEG", quality=CROP_QUALITY)
        own_scale = scale * side / image.width if scale else None
        crops.append(Crop(out.getvalue(), image.width, own_scale, side > LARGEST_CROP_PX))
    return crops


def scaled(pictures: Sequence[VetPicture], longest_px: int, quality: int = JPEG_QUALITY) -> list[VetPicture]:
    """Return the pictures as JPEG of at most this size, read side by side (decoders let other threads run)."""
    from fecallab.imaging.read import scaled_jpeg

    def one(picture: VetPicture) -> VetPicture:
        jpeg = scaled_jpeg(picture.source, longest_px, quality)
        return replace(picture, block=replace(picture.block, picture=jpeg))

    with ThreadPoolExecutor(max_workers=min(4, os.cpu_count() or 1)) as pool:
        return list(pool.map(one, pictures))


def with_thumbnails(pictures: Sequence[VetPicture], wanted: set[int]) -> list[VetPicture]:
    """Return the pictures, those that are wanted with a thumbnail that shows where in the field a mark lies."""
    from PIL import Image

    done = []
    for k, picture in enumerate(pictures):
        if k in wanted:
            with Image.open(io.BytesIO(picture.jpeg)) as image:
                image.thumbnail((THUMBNAIL_PX, THUMBNAIL_PX))
                out = io.BytesIO()
                image.save(out, "JPEG", quality=70)
            picture = replace(picture, thumbnail=out.getvalue())
        done.append(picture)
    return done
