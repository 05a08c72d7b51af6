"""Proposals as they are kept in a record folder: one file per picture, beside the records and never counted.

``proposals/ab/<sha256>.json``; a file belongs to one scale and one edition of the ranker, and is made anew when
either is another. A ranker that was learnt lies beside as ``proposals/ranker.json``, the one before it as
``proposals/ranker-before.json``.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from fecallab.domain.errors import CouldNot
from fecallab.imaging.detect.propose import Detection, Proposal
from fecallab.imaging.detect.ranker import OUTDATED, Ranker, drawn_ranker, read_ranker
from fecallab.whole_file import put_whole

FOLDER, LEARNT, BEFORE = "proposals", "ranker.json", "ranker-before.json"


def kept_path(records: Path, sha256: str) -> Path:
    """Return where the proposals of a picture lie."""
    return records / FOLDER / sha256[:2] / f"{sha256}.json"


def ranker_of(records: Path) -> Ranker:
    """Return the ranker that a record folder uses: the learnt one, else the one trained on drawings.

    What was learnt with an older program does not fit the outlines of this one; the drawn one is used then
    (:func:`outdated` tells).

    Raises
    ------
    CouldNot
        When the learnt one is damaged.
    """
    path = records / FOLDER / LEARNT
    try:
        return read_ranker(path) if path.is_file() else drawn_ranker()
    except CouldNot as error:
        if error.reason.code != OUTDATED:
            raise
    return drawn_ranker()


def outdated(records: Path) -> bool:
    """Return whether what a record folder has learnt belongs to an older program."""
    return (records / FOLDER / LEARNT).is_file() and ranker_of(records) is drawn_ranker()


def keep(records: Path, sha256: str, found: Detection, um_per_px: float, edition: str) -> None:
    """Keep the proposals of a picture, whole or not at all."""
    told = {"edition": edition, "um_per_px": um_per_px, "confirmed": False, **asdict(found)}
    write_text(kept_path(records, sha256), json.dumps(told, separators=(",", ":")) + "\n")


def read_kept(
    records: Path, sha256: str, um_per_px: float | None = None, edition: str | None = None
) -> Detection | None:
    """Return the proposals that are kept of a picture, or None when there are none for that scale and edition."""
    try:
        told: dict[str, Any] = json.loads(kept_path(records, sha256).read_text(encoding="utf-8"))
        if um_per_px is not None and abs(told["um_per_px"] / um_per_px - 1) > 1e-9:
            return None
        if edition is not None and told["edition"] != edition:
            return None
        return Detection(
            proposals=tuple(
                Proposal(**{**one, "outline_px": tuple((x, y) for x, y in one["outline_px"])})
                for one in told["proposals"]
            ),
            lit_fraction=told["lit_fraction"],
            sharpness=told["sharpness"],
            remark=told["remark"],
            seconds=told["seconds"],
        )
    except (OSError, ValueError, KeyError, TypeError):
        return None  # missing or damaged: it is made anew


def write_text(path: Path, text: str) -> None:
    """Write a whole file or none, and its folder."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        put_whole(path, text.encode("utf-8"))
    except OSError as error:
        raise CouldNot(
            f"{path.name} could not be written: {error.strerror or error}.",
            next="Free some space, or check the permissions of the record folder.",
            code="not-written",
        ) from error
