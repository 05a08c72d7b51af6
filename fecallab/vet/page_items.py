"""The numbered things on a page: what each is called, where it lies, whether its size fits, and which are doubtful."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache

from fecallab.domain.animal import Animal
from fecallab.domain.clip_words import is_clip
from fecallab.domain.errors import BadInput
from fecallab.domain.exam import Exam, Mark, Preparation, Reading
from fecallab.domain.identify import Seen, Shortlist, shortlist
from fecallab.domain.items import Item
from fecallab.domain.measuring import Amount
from fecallab.domain.organism import NEVER_A_CASE, TARGET_GROUPS, Organism, is_target_group
from fecallab.domain.spoken import say_date
from fecallab.report.figures import objective, size
from fecallab.vet.page_model import VetItem

NOT_SURE = "the keeper is not sure"
FITS = "fits"
_MOST_FITS, _MOST_NEARLY = 4, 2
_SIDE_WORDS = ("left", "middle", "right")
_HEIGHT_WORDS = ("upper", "middle", "lower")


class Names:
    """What organisms are called, and what an object of some size may be, in one animal.

    Parameters
    ----------
    animal : Animal
        Its species or group chooses what may be met in it.
    """

    def __init__(self, animal: Animal) -> None:
        from fecallab.imaging.identify import DEFAULT_ERROR_UM
        from fecallab.reference.adequacy import adequacy_facts
        from fecallab.reference.methods import methods
        from fecallab.reference.organisms import organisms
        from fecallab.report.picture_blocks import organism_words

        self.words = organism_words()
        self.group_of = adequacy_facts().group_of
        self.organisms: Sequence[Organism] = [replace(one, look_alikes=()) for one in organisms()]
        self.in_host = _in_host(animal)
        self.error_um = DEFAULT_ERROR_UM
        self.exam_methods: Mapping[str, Collection[str]] = {
            key: (*one.exam_methods, key) for key, one in methods().items()
        }
        self.fit = lru_cache(maxsize=4096)(self._fit)
        self.may_be = lru_cache(maxsize=1024)(self._may_be)

    def said(self, name: str) -> str:
        """Return a name as people say it."""
        return self.words.get(name, name)

    def _fit(self, name: str, length_um: float, width_um: float | None) -> str:
        """Say whether a size fits a name: by the nearest of the organisms that the name stands for."""
        rows = [one for one in self.organisms if one.key == name]
        if not rows:
            meant = [one for one in self.organisms if one.eye_group == name]
            rows = [one for one in meant if one.key in self.in_host] or meant
        rows = [one for one in rows if one.length_um is not None]
        if not rows:
            return ""
        found = self._asked(rows, length_um, width_um, "", {one.key for one in rows})
        if found.fits:
            return FITS
        if found.nearly:
            return found.nearly[0].verdict
        return next(iter(found.left_out), "")

    def _may_be(self, length_um: float, width_um: float | None, method: str) -> Shortlist:
        return self._asked(self.organisms, length_um, width_um, method, self.in_host)

    def _asked(
        self,
        rows: Sequence[Organism],
        length_um: float,
        width_um: float | None,
        method: str,
        in_host: Collection[str],
    ) -> Shortlist:
        width = None if width_um is None else Amount(width_um, self.error_um)
        known = any(method in words for words in self.exam_methods.values())
        seen = Seen(length=Amount(length_um, self.error_um), width=width, method=method if known else "")
        return shortlist(seen, rows, in_host, self.exam_methods)

    def choices(self) -> tuple[tuple[str, str, str], ...]:
        """Return what another organism can be called: groups first, then what may be met in this animal."""
        groups = [(group, group, "groups") for group in (*TARGET_GROUPS, *NEVER_A_CASE)]
        mine = [
            (one.key, self.said(one.key), one.eye_group) for one in self.organisms if one.key in self.in_host
        ]
        return (*groups, *sorted(mine, key=lambda each: (_place_of(each[2]), each[1].lower())))


def _place_of(group: str) -> int:
    order = (*TARGET_GROUPS, *NEVER_A_CASE)
    return order.index(group) if group in order else len(order)


def _in_host(animal: Animal) -> frozenset[str]:
    from fecallab.reference.organisms import organisms, organisms_in_host

    for word in (animal.species, animal.host_group):
        try:
            return frozenset(one.key for one in organisms_in_host(word))
        except BadInput:
            continue
    return frozenset(one.key for one in organisms())


def vet_items(items: Iterable[Item], exams: Sequence[Exam], names: Names) -> list[VetItem]:
    """Return the numbered items with everything that is said beside them, without crops.

    Parameters
    ----------
    items : iterable of Item
        As `page_identity` numbered them.
    exams : sequence of Exam
        Where they come from.
    names : Names
        Of the animal.
    """
    readings: dict[str, tuple[Preparation, Reading, str]] = {}
    marks: dict[str, Mark] = {}
    vets: dict[str, tuple[str, str, bool]] = {}
    for exam in exams:
        vets |= _words_of_vets(exam, names)
        for preparation in exam.preparations:
            for place, reading in enumerate(preparation.readings, start=1):
                readings[reading.code] = (preparation, reading, f"{reading.kind} {place}")
                marks.update({mark.code: mark for mark in reading.marks})
    places = {reading: k for k, reading in enumerate(readings_with_pictures(exams))}
    found = []
    for item in items:
        one = _vet_item(item, *readings[item.reading], marks.get(item.key), places.get(item.reading), names)
        if item.key in vets:
            said, note, still_open = vets[item.key]
            one = replace(one, vets_word=said, vets_note=note, why_doubtful=said if still_open else "")
        found.append(one)
    return found


def _words_of_vets(exam: Exam, names: Names) -> dict[str, tuple[str, str, bool]]:
    """Return of each item what vets said, that in short, and whether it is open (nobody can tell, or they differ)."""
    from fecallab.domain.verdict import differ, standing_words

    found = {}
    for key, said in standing_words(exam.verdicts).items():
        texts, notes = [], []
        for word in said:
            answer = exam.verdicts.answers[word.answer]
            what = f"{names.said(word.name)}{'' if word.sure else '?'}" if word.word == "other" else word.word
            texts.append(f"{answer.vet} on {say_date(answer.answered_at.date())}: {what}")
            if not word.word.startswith("agree"):
                notes.append(f"{answer.vet}: {what}")
        still_open = differ(said) or any(word.word == "cannot tell" for word in said)
        found[key] = ("; ".join(texts), "; ".join(notes), still_open)
    return found


def readings_with_pictures(exams: Sequence[Exam]) -> list[str]:
    """Return the codes of the readings that have a picture, in the order of the page."""
    return [
        reading.code
        for exam in exams
        for preparation in exam.preparations
        for reading in preparation.readings
        if reading.picture
    ]


def _vet_item(
    item: Item,
    preparation: Preparation,
    reading: Reading,
    field: str,
    mark: Mark | None,
    picture: int | None,
    names: Names,
) -> VetItem:
    power = f", {objective(reading.objective)}" if reading.objective else ""
    where = f"{preparation.code}, {field}{power}"
    fit = measured = ""
    fits: tuple[str, ...] = ()
    nearly: tuple[str, ...] = ()
    keys: tuple[str, ...] = ()
    group = names.group_of.get(item.name, item.name)
    if mark is not None and mark.length_um:
        measured = size(mark.length_um, mark.width_um)
        fit = names.fit(item.name, mark.length_um, mark.width_um)
    why = "" if item.sure else NOT_SURE
    if item.sure and is_target_group(group) and fit not in ("", FITS):
        why = f"the keeper is sure, but its size is {fit} for the name"
    if why and mark is not None and mark.length_um:
        found = names.may_be(mark.length_um, mark.width_um, preparation.method)
        fits = tuple(dict.fromkeys(names.said(one.key) for one in found.fits))[:_MOST_FITS]
        nearly = tuple(dict.fromkeys(f"{names.said(one.key)} ({one.verdict})" for one in found.nearly))[
            :_MOST_NEARLY
        ]
        keys = tuple(one.key for one in (*found.fits, *found.nearly))[: _MOST_FITS + _MOST_NEARLY]
    return VetItem(
        item=item,
        words=names.said(item.name),
        group=group,
        mark=mark,
        picture=picture if mark is not None else None,
        where=where,
        in_clip=is_clip(reading),
        size=measured,
        fit=fit,
        why_doubtful=why,
        fits=fits,
        nearly=nearly,
        shortlist=keys,
    )


def place_words(x_px: float, y_px: float, width_px: int, height_px: int) -> str:
    """Say where in its field something lies.

    Examples
    --------
    >>> place_words(10, 10, 900, 900), place_words(450, 450, 900, 900), place_words(450, 800, 900, 900)
    ('upper left', 'middle', 'lower middle')
    """
    side = _SIDE_WORDS[min(2, max(0, int(3 * (x_px + 0.5) / width_px)))]
    height = _HEIGHT_WORDS[min(2, max(0, int(3 * (y_px + 0.5) / height_px)))]
    return "middle" if side == height else f"{height} {side}"
