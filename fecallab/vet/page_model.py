"""What stands on the page that goes to the vet: plain dataclasses, filled by `page_build`, drawn by `page` and `pdf`."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from fecallab.domain.animal import Animal, Weighing
from fecallab.domain.exam import Mark
from fecallab.domain.items import Item
from fecallab.domain.plan import Plan
from fecallab.report.model import CasePage, ExamPage, PageStamp, PictureBlock

if TYPE_CHECKING:
    from fecallab.imaging.motility import MotilityResult
    from fecallab.report.moving import MovingFacts

OF_VETS = "A vet's word: "
"""How a note begins that repeats what a vet said; on this page it stands beside the mark or exam itself."""


@dataclass(frozen=True)
class Crop:
    """A mark cut out of its picture, unscaled.

    Attributes
    ----------
    jpeg : bytes
    side_px : int
        Width and height of the JPEG.
    um_per_px : float or None
        Scale of the JPEG; None where the picture has none.
    scaled : bool
        True when even the part was too large for a page and was made smaller.
    """

    jpeg: bytes
    side_px: int
    um_per_px: float | None
    scaled: bool = False


@dataclass(frozen=True, kw_only=True)
class VetItem:
    """One numbered thing that the vet can agree with or correct.

    Attributes
    ----------
    item : Item
        Number, key, the keeper's own name.
    words : str
        That name as people say it.
    group : str
        The group that the eye can tell.
    mark : Mark or None
        Where it stands in its picture; None for a count at the eyepiece.
    picture : int or None
        Place of its picture in `PageToVet.pictures`.
    where : str
        Field and place in words.
    in_clip : bool
        Counted in a clip.
    size : str
        Measured size in words; empty where nothing was measured.
    fit : str
        Whether the size fits the name: ``fits``, ``too small``, ``too large`` …; empty where nobody can tell.
    why_doubtful : str
        Why the vet is asked first of all; empty for an item that is not doubtful.
    fits, nearly : tuple of str
        Shortlist words of a doubtful item: what else the size would fit, and what it nearly fits.
    vets_word : str
        What vets said about it before, with the day; empty where none did.
    vets_note : str
        The same in short, without mere agreement, for the list under its picture.
    shortlist : tuple of str
        The same as keys of the organism table, for the choice of another name.
    crop : Crop or None
        Cut out unscaled, for doubtful items with a picture.
    """

    item: Item
    words: str
    group: str
    mark: Mark | None = None
    picture: int | None = None
    where: str = ""
    in_clip: bool = False
    size: str = ""
    fit: str = ""
    why_doubtful: str = ""
    vets_word: str = ""
    vets_note: str = ""
    fits: tuple[str, ...] = ()
    nearly: tuple[str, ...] = ()
    shortlist: tuple[str, ...] = ()
    crop: Crop | None = None

    @property
    def doubtful(self) -> bool:
        """Whether the vet is asked about it first of all."""
        return bool(self.why_doubtful)

    @property
    def seen_in(self) -> str:
        """Where something without a crop was seen, for the vet who looks for a picture of it."""
        return "Seen in a clip" if self.in_clip else "Seen at the eyepiece; there is no picture of it"

    @property
    def answered(self) -> bool:
        """Whether a vet's earlier word stands; it stays unless it is taken back by a new one."""
        return bool(self.vets_word) and not self.doubtful


@dataclass(frozen=True, kw_only=True)
class VetPicture:
    """One picture with its marks; ``block.picture`` is a file until the page is packed, then the JPEG.

    ``source`` is the untouched file.
    """

    block: PictureBlock
    reading: str
    exam: str
    source: Path
    thumbnail: bytes = b""

    @property
    def jpeg(self) -> bytes:
        """The JPEG that is embedded."""
        assert isinstance(self.block.picture, bytes)
        return self.block.picture


@dataclass(frozen=True, kw_only=True)
class VetClip:
    """A clip: stills on the page, each with its second, and the film itself in a file beside it.

    Attributes
    ----------
    stills : tuple of (float, bytes)
        Second and JPEG; ``still_frames`` says which frames they are.
    film_name, tracks_name : str
        Names of the films beside the page, plain and with what moves drawn in; empty where there is none.
    film_left_out : bool
        No mail could carry the film.
    fps : float or None
        The rate that was given for it.
    reading, kept, counted : str
        Of a clip that is a reading: its code, how many swim as the record keeps it, what was counted in it.
    found : MotilityResult or None
        What moves, worked out again for the page; ``facts`` says it in words.
    tracks : tuple of str
        One SVG fragment per still, in the pixels of the clip; empty where nothing was worked out.
    tracks_jpeg : bytes
        The same as a picture, for paper.
    """

    title: str
    stills: tuple[tuple[float, bytes], ...]
    width_px: int
    height_px: int
    seconds: float
    film: Path | None = None
    film_name: str = ""
    film_left_out: bool = False
    fps: float | None = None
    still_frames: tuple[int, ...] = ()
    reading: str = ""
    kept: str = ""
    counted: str = ""
    found: MotilityResult | None = field(default=None, compare=False, repr=False)
    facts: MovingFacts | None = None
    tracks: tuple[str, ...] = ()
    tracks_jpeg: bytes = b""
    tracks_name: str = ""


@dataclass(frozen=True, kw_only=True)
class GradeChoice:
    """What the vet can say about one exam and target: the words of the scale, and what the keeper's counts gave."""

    exam: str
    target: str
    result: str
    scale: str = ""
    words: tuple[str, ...] = ()
    keepers: str = ""


@dataclass(frozen=True, kw_only=True)
class VetExam:
    """One exam of the page: the report's page object and what can be said about it."""

    page: ExamPage
    grades: tuple[GradeChoice, ...] = ()

    @property
    def words_of_vets(self) -> tuple[str, ...]:
        """What vets said of the whole exam; what they said of marks stands beside the marks."""
        said = [note for note in self.page.notes if note.startswith(OF_VETS)]
        return tuple(note for note in said if not note.startswith(f"{OF_VETS}{self.page.exam.code}-"))


@dataclass(frozen=True, kw_only=True)
class VetCase:
    """One case of the page: the report's page object and what can be ordered.

    ``treatments`` are plans that can be ordered again, ``grades`` the words of the scale, lightest first.
    """

    page: CasePage
    treatments: tuple[Plan, ...] = ()
    grades: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class PageToVet:
    """Everything on one page to the vet.

    Attributes
    ----------
    page_id, page_hash : str
        Both travel back with the answer.
    subject : str
        The code of the case or exam that was asked for.
    asks : str
        The keeper's question; empty when none was put.
    from_whom, to_whom : str
        Keeper and vet, as far as they are known and wanted on the page.
    signs : tuple of str
        Danger signs of the day of the page, a line each; they stand on the first screen.
    organisms : tuple of (key, words, group)
        What another organism can be called.
    part, parts : int
        Which of how many pages; the second and later ones hold pictures and marks only.
    scaled : bool
        Whether pictures were made smaller for the page.
    """

    stamp: PageStamp
    page_id: str
    page_hash: str
    subject: str
    animal: Animal
    asks: str = ""
    from_whom: str = ""
    to_whom: str = ""
    weights: tuple[Weighing, ...] = ()
    signs: tuple[str, ...] = ()
    items: tuple[VetItem, ...] = ()
    pictures: tuple[VetPicture, ...] = ()
    clips: tuple[VetClip, ...] = ()
    exams: tuple[VetExam, ...] = ()
    cases: tuple[VetCase, ...] = ()
    organisms: tuple[tuple[str, str, str], ...] = ()
    part: int = 1
    parts: int = 1
    scaled: bool = False
    left_out: tuple[str, ...] = field(default=())

    @property
    def doubtful(self) -> tuple[VetItem, ...]:
        """The items that the vet is asked about first, in the order of their numbers."""
        return tuple(one for one in self.items if one.doubtful)

    @property
    def rest(self) -> tuple[VetItem, ...]:
        """The items that the keeper is sure of and no vet has spoken of."""
        return tuple(one for one in self.items if not one.doubtful and not one.answered)

    @property
    def answered(self) -> tuple[VetItem, ...]:
        """The items on which a vet's earlier word stands."""
        return tuple(one for one in self.items if one.answered)

    @property
    def notes(self) -> tuple[str, ...]:
        """What stands on the first screen besides: danger signs, and what bears on the exams."""
        said = [note for one in self.exams for note in one.page.notes if not note.startswith(OF_VETS)]
        return tuple(dict.fromkeys([*self.signs, *said]))

    @property
    def made_on(self) -> date:
        """The day that the page speaks of."""
        return self.stamp.made_on

    @property
    def counted_heading(self) -> str:
        """What stands above the counts that have no picture."""
        if any(one.in_clip for one in self.items if one.mark is None):
            return "Counted at the eyepiece or in a clip"
        return "Counted at the eyepiece, without a picture"

    @property
    def picture_bytes(self) -> int:
        """Size of all embedded pictures, before they are written as text."""
        stills = sum(len(jpeg) for clip in self.clips for _, jpeg in clip.stills)
        crops = sum(len(one.crop.jpeg) for one in self.items if one.crop)
        return stills + crops + sum(len(one.jpeg) + len(one.thumbnail) for one in self.pictures)
