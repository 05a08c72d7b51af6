"""Proposals that lie beside the records, as the session takes them up: with words, and named where size tells it."""

from __future__ import annotations

import re
from collections.abc import Generator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fecallab.domain.errors import FecallabError
from fecallab.domain.spoken import number_of
from napari_fecallab.state import Field, Proposal

if TYPE_CHECKING:
    from fecallab.imaging.detect.propose import Detection
    from fecallab.imaging.detect.propose import Proposal as Found


@dataclass(frozen=True)
class KeptOfPicture:
    """What is kept of the picture of a field.

    Attributes
    ----------
    made : bool
        Whether there are proposals for its scale, be they none.
    found : tuple of fecallab.imaging.detect.Proposal
    says : str
        What to tell a person who asks for the next proposal and there is none.
    """

    made: bool
    found: tuple[Found, ...] = ()
    says: str = ""


@dataclass(frozen=True)
class PictureToPropose:
    """A picture without proposals: record folder, its sum, µm per pixel, objective, where it lies, what it is called."""

    folder: str
    sha256: str
    um_per_px: float
    optics: str
    path: str
    name: str


def kept_of(folder: Path, place: Field) -> KeptOfPicture:
    """Look up what is kept of a field's picture."""
    if not place.picture:
        return KeptOfPicture(False, says="This field has no picture to propose on.")
    if place.um_per_px is None:
        return KeptOfPicture(False, says="Without a scale nothing is proposed: set it with the button Scale.")
    found = _read(folder, place)
    if found is None:
        return KeptOfPicture(
            False,
            says="No proposals were made for this picture at its scale: the button Proposals makes them.",
        )
    said = found.remark or "Nothing more is proposed in this field."
    return KeptOfPicture(True, found.proposals, said)


def is_made(folder: Path, place: Field) -> bool:
    """Say whether proposals are kept for the picture of a field at its scale."""
    return bool(place.picture) and place.um_per_px is not None and _read(folder, place) is not None


def _read(folder: Path, place: Field) -> Detection | None:
    from fecallab.imaging.detect.kept import read_kept

    return read_kept(folder, place.picture, place.um_per_px)


def as_offered(one: Found, host: str, method: str) -> Proposal:
    """Return a proposal with words of what its size fits in this host, and a name where that is one group alone."""
    from fecallab.domain.organism import NEVER_A_CASE
    from fecallab.imaging.detect.words import words_for
    from fecallab.reference.organisms import organisms_by_key

    try:
        said = words_for(one, host, method)
    except FecallabError:  # a host or a method that the tables do not know
        said = words_for(one)
    table = organisms_by_key()
    groups = {table[key].eye_group for key in said.keys} - set(NEVER_A_CASE)
    return Proposal(
        x_px=one.x_px,
        y_px=one.y_px,
        name=groups.pop() if len(groups) == 1 else "",
        length_um=one.length_um,
        length_half_um=one.length_half_width_um,
        width_um=one.width_um,
        width_half_um=one.width_half_width_um,
        angle_deg=one.angle_deg,
        words=said.words.split(", only")[0],
    )


def propose_steps(pictures: Sequence[PictureToPropose]) -> Generator[tuple[int, int], None, str]:
    """Make proposals for pictures, one after another; for a thread of its own. Returns what to say in the end."""
    from fecallab.cli.exam_propose import propose_and_keep

    found, done, told = 0, 0, []
    for number, one in enumerate(pictures):
        yield number, len(pictures)
        try:
            found += propose_and_keep(one.folder, one.sha256, one.um_per_px, one.optics, one.path)
            done += 1
        except FecallabError as error:
            if error.reason.code == "not-written":  # a disk that takes no result takes the next one as little
                told.append(_not_kept(one, error))
                break
            told.append(by_its_name(str(error), one.sha256, one.name))
        except MemoryError:
            told.append(f"{one.name} needs more memory than there is.")
    words = f"{number_of(found, 'proposal')} in {number_of(done, 'picture')}; each field shows its own once it was read."
    return " ".join([words, *told])


def by_its_name(said: str, sha256: str, name: str) -> str:
    """Return what is said of a stored file with the name that a person knows it by.

    Examples
    --------
    >>> by_its_name("3fa9.jpg is damaged.", "3fa9", "slide 1.jpg")
    'slide 1.jpg is damaged.'
    """
    return re.sub(rf"{re.escape(sha256)}(\.\w+)?", lambda _: name, said) if sha256 and name else said


def _not_kept(one: PictureToPropose, error: FecallabError) -> str:
    """Say once that nothing can be kept; the last words of the text are what the system said."""
    _, _, why = error.reason.text.rstrip(".").rpartition(": ")
    return (
        f"Stopped at {one.name}: its proposals could not be kept ({why}). Free some space, or check the permissions of"
        " the record folder; then press Proposals again, it goes on from there."
    )
