"""What the proposals find in real pictures, and what they propose where nothing is.

::

    FECALLAB_REAL_DATA=FOLDER python tests/bench/detect_real.py
    python tests/bench/detect_real.py --data FOLDER --overlays OUT --sheet drawn.png

FOLDER holds open picture sets, each with ``images/``: ``schisto_eggs`` (one boxed egg a picture, in ``boxes.csv``),
``living_dead_cells`` and ``paramecium`` (marked by eye in ``real_counts.csv`` beside this script). Without it only
drawn fields are measured. Nothing was tuned on any of them. A proposal meets an object when its centre lies within
the larger of 6 pixels and 0.35 of its length, each object once.
"""

from __future__ import annotations

import argparse
import csv
import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from stamps import stamped_field  # noqa: E402

from fecallab.domain.finding import Box, Findings, average_precision, overlap_of  # noqa: E402
from fecallab.imaging.detect import Detection, propose  # noqa: E402
from fecallab.imaging.detect.examples import CROWDING, Field, training_field  # noqa: E402
from fecallab.imaging.detect.ranker import drawn_ranker  # noqa: E402
from fecallab.imaging.read import open_picture  # noqa: E402

SCALES = {"schisto_eggs": 1.3, "living_dead_cells": 0.8, "paramecium": 4.0}
"""µm per pixel, guessed: no set states one. An egg of 110 pixels is about 140 µm long (memory, textbook); the cells
and ciliates are laid so that they fall into the sizes that are searched."""
FIRST, FIRST_SEED = 5, 910_000
LOOSEST = 0.02
Pixels = NDArray[np.uint8]


@dataclass(frozen=True)
class Thing:
    """An object that a person sees: centre and length in pixels; an open one is neither right nor wrong."""

    x_px: float
    y_px: float
    length_px: float
    sure: bool = True

    def is_met_by(self, x_px: float, y_px: float) -> bool:
        away = float(np.hypot(self.x_px - x_px, self.y_px - y_px))
        return away <= max(6.0, 0.35 * self.length_px)


@dataclass(frozen=True)
class Seen:
    """A picture with what a person sees in it and what was proposed."""

    name: str
    pixels: Pixels
    um_per_px: float
    things: tuple[Thing, ...]
    found: Detection

    @property
    def marked(self) -> list[str]:
        """For each proposal ``right``, ``open`` or ``wrong``; each thing is met once."""
        free = list(self.things)
        said = []
        for one in self.found.proposals:
            met = [thing for thing in free if thing.is_met_by(one.x_px, one.y_px)]
            best = min(
                met, key=lambda t: (not t.sure, np.hypot(t.x_px - one.x_px, t.y_px - one.y_px)), default=None
            )
            said.append("wrong" if best is None else "right" if best.sure else "open")
            if best is not None and best.sure:
                free.remove(best)
        return said

    @property
    def findings(self) -> Findings:
        right = self.marked.count("right")
        return Findings(right, self.marked.count("wrong"), sum(thing.sure for thing in self.things) - right)


def look(
    name: str,
    pixels: Pixels,
    um_per_px: float,
    things: tuple[Thing, ...] = (),
    threshold: float | None = None,
) -> Seen:
    return Seen(name, pixels, um_per_px, things, propose(pixels, um_per_px, threshold=threshold))


def boxes(data: Path) -> dict[str, Box]:
    """Left, top, width and height of the one egg of each picture."""
    with (data / "schisto_eggs" / "boxes.csv").open(encoding="utf-8") as table:
        return {
            row["image"]: (
                float(row["x_px"]),
                float(row["y_px"]),
                float(row["width_px"]),
                float(row["height_px"]),
            )
            for row in csv.DictReader(table)
        }


def eggs(data: Path, threshold: float | None) -> Iterator[Seen]:
    for name, (x, y, width, height) in sorted(boxes(data).items()):
        thing = Thing(x + width / 2, y + height / 2, max(width, height))
        pixels = open_picture(data / "schisto_eggs" / "images" / name)
        yield look(name, pixels, SCALES["schisto_eggs"], (thing,), threshold)


def counted_by_eye(data: Path, folder: str, threshold: float | None = None) -> Iterator[Seen]:
    with (HERE / "real_counts.csv").open(encoding="utf-8") as table:
        rows = [
            row for row in csv.DictReader(line for line in table if line[0] != "#") if row["folder"] == folder
        ]
    for name in dict.fromkeys(row["image"] for row in rows):
        things = tuple(
            Thing(float(r["x_px"]), float(r["y_px"]), float(r["length_px"]), r["state"] == "sure")
            for r in rows
            if r["image"] == name
        )
        yield look(name, open_picture(data / folder / "images" / name), SCALES[folder], things, threshold)


def without_organisms(data: Path) -> Iterator[Seen]:
    """Cuts of the egg pictures beside the egg, and pictures of the other sets that show no organism."""
    for name, (x, y, width, height) in sorted(boxes(data).items()):
        pixels = open_picture(data / "schisto_eggs" / "images" / name)
        left, top, right, bottom = (
            int(x) - 8,
            int(y) - 8,
            int(x + width) + 8,
            int(y + height) + 8,
        )
        cuts = {
            "left": pixels[:, : max(left, 0)],
            "right": pixels[:, right:],
            "above": pixels[: max(top, 0)],
            "below": pixels[bottom:],
        }
        where = max(cuts, key=lambda key: cuts[key].size)
        yield look(f"{name} {where} of the egg", cuts[where], SCALES["schisto_eggs"])
    for place, scale in (
        ("brownian_beads/brightfield/bf_0000.png", 0.15193),
        ("stage_micrometer_MIT/cal10.png", 1.293),
        ("hemocytometer_phone/images/20190918_113157.jpg", 0.6),
    ):
        if (data / place).is_file():
            yield look(place.rpartition("/")[2], open_picture(data / place), scale)


def drawn(style: str, crowding: float, k: int, things: int) -> Field:
    seed = FIRST_SEED + 1000 * int(100 * crowding) + k
    if style == "stamp":
        return stamped_field(seed, crowding, things=things)
    return training_field(seed, style, crowding, things)


def drawn_seen(style: str, crowding: float, k: int, things: int) -> Seen:
    field = drawn(style, crowding, k, things)
    known = tuple(
        Thing(one.x_px, one.y_px, one.length_um / field.um_per_px) for one in field.known if one.counts
    )
    return look(f"{style} {100 * crowding:.0f} %", field.pixels, field.um_per_px, known)


def tell_eggs(data: Path) -> None:
    for words, threshold in (("as it is set", None), ("everything from score 0.02 on", LOOSEST)):
        ranks = [
            (
                seen.name,
                seen.marked.index("right") + 1 if "right" in seen.marked else None,
                len(seen.found.proposals),
                overlap_in_words(seen, boxes(data)[seen.name]),
            )
            for seen in eggs(data, threshold)
        ]
        first = sum(rank is not None and rank <= FIRST for _, rank, _, _ in ranks)
        print(f"schisto_eggs, {words}: egg among the first {FIRST} proposals in {first} of {len(ranks)}")
        for name, rank, number, overlap in ranks:
            print(f"  {name}: rank {rank or 'none'} of {number}{overlap}")


def overlap_in_words(seen: Seen, box: Box) -> str:
    """Say how much of its box the proposal of the egg shares with the box that the set gives."""
    if "right" not in seen.marked:
        return ""
    outline = seen.found.proposals[seen.marked.index("right")].outline_px
    x, y = zip(*outline, strict=True)
    own = (min(x), min(y), max(x), max(y))
    share = overlap_of(own, (box[0], box[1], box[0] + box[2], box[1] + box[3]))
    return f", its box shares {100 * share:.0f} % with the box of the set"


def tell_counted(data: Path, folder: str) -> None:
    for words, threshold in (("as it is set", None), ("everything from score 0.02 on", LOOSEST)):
        seen = list(counted_by_eye(data, folder, threshold))
        each = [one.findings for one in seen]
        all_of_it = Findings(
            sum(one.right for one in each), sum(one.wrong for one in each), sum(one.missed for one in each)
        )
        ranked = sorted(
            (-proposal.score, said == "right")
            for one in seen
            for proposal, said in zip(one.found.proposals, one.marked, strict=True)
            if said != "open"
        )
        print(
            f"{folder}, {len(seen)} pictures, {words}: {all_of_it.right} right, {all_of_it.wrong} wrong,"
            f" {all_of_it.missed} missed; precision {all_of_it.precision:.2f}, recall {all_of_it.recall:.2f},"
            f" average precision {average_precision([right for _, right in ranked], all_of_it.things):.2f},"
            f" {all_of_it.wrong_per_picture(len(seen)):.1f} false a picture"
        )
    for one in seen:
        print(
            f"  {one.name}, from 0.02 on: {one.findings.right} right of {one.findings.things}, {one.findings.wrong} wrong"
        )


def tell_empty(data: Path | None, fields: int) -> None:
    for style in ("micrograph", "sketch", "stamp"):
        told = []
        for crowding in CROWDING:
            numbers = [len(drawn_seen(style, crowding, k, things=0).found.proposals) for k in range(fields)]
            told.append(f"{100 * crowding:.0f} %: {np.mean(numbers):.1f} (most {max(numbers)})")
        print(
            f"drawn without organisms, {style}, {fields} fields each, proposals a picture at {'; '.join(told)}"
        )
    if data is not None:
        seen = list(without_organisms(data))
        numbers = [len(one.found.proposals) for one in seen]
        print(f"real without organisms: {np.mean(numbers):.1f} proposals a picture, {len(seen)} pictures")
        for one, number in zip(seen, numbers, strict=True):
            area = one.pixels.shape[0] * one.pixels.shape[1] * one.um_per_px**2 / 1e6
            print(f"  {one.name}: {number} in {area:.2f} mm² {one.found.remark}".rstrip())


def overlay(seen: Seen) -> Pixels:
    """Draw the proposals over a picture: right ones green, wrong ones red, open ones yellow, missed things blue."""
    from PIL import Image, ImageDraw

    grey = seen.pixels if seen.pixels.ndim == 3 else np.dstack([seen.pixels] * 3)
    larger = max(1, round(700 / max(grey.shape[:2])))
    image = Image.fromarray(grey).resize((grey.shape[1] * larger, grey.shape[0] * larger))
    pen = ImageDraw.Draw(image)
    colours = {"right": (0, 170, 60), "wrong": (220, 30, 30), "open": (230, 180, 0)}
    met = []
    for rank, (one, said) in enumerate(zip(seen.found.proposals, seen.marked, strict=True), start=1):
        line = [((x + 0.5) * larger, (y + 0.5) * larger) for x, y in one.outline_px]
        pen.line([*line, line[0]], fill=colours[said], width=2)
        pen.text((max(x for x, _ in line) + 2, line[0][1]), f"{rank}", fill=colours[said], font_size=15)
        met.append((one.x_px, one.y_px))
    for thing in seen.things:
        if not any(thing.is_met_by(*place) for place in met):
            x, y, r = thing.x_px * larger, thing.y_px * larger, thing.length_px * larger / 2 + 3
            pen.ellipse(
                (x - r, y - r, x + r, y + r),
                outline=(40, 90, 255) if thing.sure else colours["open"],
                width=2,
            )
    pen.rectangle((0, 0, 9 * len(seen.name) + 8, 20), fill="white")
    pen.text((4, 1), seen.name, fill="black", font_size=15)
    return np.asarray(image)


def write_overlays(data: Path | None, folder: Path) -> None:
    from PIL import Image

    folder.mkdir(parents=True, exist_ok=True)
    shown = [
        drawn_seen(style, crowding, 0, 6)
        for style in ("micrograph", "sketch", "stamp")
        for crowding in CROWDING
    ]
    if data is not None:
        shown += [*eggs(data, None), *list(counted_by_eye(data, "living_dead_cells"))[7:11]]
        shown += [*counted_by_eye(data, "paramecium"), *list(without_organisms(data))[:1]]
    for number, seen in enumerate(shown, start=1):
        Image.fromarray(overlay(seen)).save(folder / f"{number:02d} {seen.name.replace('%', 'percent')}.png")
    print(f"{len(shown)} overlays in {folder}")


def write_sheet(path: Path) -> None:
    """Put drawn fields only on one sheet: three styles, free and crowded."""
    from PIL import Image

    tiles = [
        Image.fromarray(overlay(drawn_seen(style, crowding, 0, 6))).resize((500, 382))
        for crowding in (0.15, 0.6)
        for style in ("micrograph", "sketch", "stamp")
    ]
    sheet = Image.new("RGB", (3 * 506 - 6, 2 * 388 - 6), "white")
    for k, tile in enumerate(tiles):
        sheet.paste(tile, (506 * (k % 3), 388 * (k // 3)))
    sheet.save(path, quality=80)
    print(f"wrote {path}")


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--data", type=Path, help="Folder of open picture sets; else FECALLAB_REAL_DATA.")
    parser.add_argument("--fields", type=int, default=4, help="Drawn fields of each style and crowding.")
    parser.add_argument("--overlays", type=Path, help="Write twenty pictures with the proposals drawn in.")
    parser.add_argument("--sheet", type=Path, help="Write a sheet of drawn fields.")
    asked = parser.parse_args()
    named = asked.data or os.environ.get("FECALLAB_REAL_DATA")
    data = Path(named) if named else None
    ranker = drawn_ranker()
    print(f"ranker {ranker.edition}, score from {ranker.threshold:g} on")
    if asked.overlays or asked.sheet:
        if asked.overlays:
            write_overlays(data, asked.overlays)
        if asked.sheet:
            write_sheet(asked.sheet)
        return 0
    if data is not None:
        tell_eggs(data)
        tell_counted(data, "living_dead_cells")
        tell_counted(data, "paramecium")
    tell_empty(data, asked.fields)
    return 0


if __name__ == "__main__":
    sys.exit(main())
