"""What the marks say: the size of one with its shortlist, and the running burden with what is still missing."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from fecallab.domain.measuring import Amount
from napari_fecallab.burden import BurdenBook
from napari_fecallab.core import SessionCore
from napari_fecallab.names import label_of
from napari_fecallab.views import BurdenTable, SizeWords

if TYPE_CHECKING:
    from fecallab.domain.identify import Candidate, Shortlist

SHOWN = 6
"""How many candidates of each kind are told (own choice)."""


class SayPart(SessionCore):
    """What the session answers."""

    _book: BurdenBook

    def counts(self, field: str | None = None) -> tuple[dict[str, int], dict[str, int]]:
        """Return sure and unsure counts by name of a field; ``""`` is the whole exam."""
        whole: tuple[dict[str, int], dict[str, int]] = ({}, {})
        for uid in self._draft.fields if field == "" else [self._uid(field)]:
            place, content = self._place(uid), self._content(uid)
            for sure, into in zip((True, False), whole, strict=True):
                typed = dict(place.counts if sure else place.unsure)
                for name, n in (content.tallies[sure] if content.marks else typed).items():
                    into[name] = into.get(name, 0) + n
        return whole

    def size_words(self, uid: str) -> SizeWords:
        """Return the size of a mark with its uncertainty, and what it may be by size, host and method.

        No diagnosis and no percentages: ``fits`` before ``nearly``, each with its reason.
        """
        from fecallab.imaging.identify import DEFAULT_ERROR_UM

        mark, place = self._mark(uid), self._place(self._field_of(uid))
        if mark.length_um is None:
            if place.um_per_px is None:
                why = "no scale: set one, and the size is told" if mark.shape else "no scale, not measured"
                return SizeWords(why)
            return SizeWords("not measured: draw a line, an ellipse or an outline")
        default = max(DEFAULT_ERROR_UM, 0.0)
        length = Amount(mark.length_um, mark.length_half_um or default)
        width = Amount(mark.width_um, mark.width_half_um or default) if mark.width_um is not None else None
        size = f"{_amount(length)} long" + (f", {_amount(width)} wide" if width else "")
        if mark.length_half_um is None:
            size += " (how certain is not recorded)"
        method = self.facts.preparations[place.preparation].method
        found = _shortlist(self.facts.host, length, width, method)
        fits = tuple(_cell(one) for one in found.fits[:SHOWN])
        nearly = tuple(_cell(one) for one in found.nearly[:SHOWN])
        lines = [f"{one.name}: {one.verdict}; {'; '.join(one.reasons)}" for one in found.fits[:SHOWN]]
        lines += [
            f"{one.name}: nearly, {one.verdict}; {'; '.join(one.reasons)}" for one in found.nearly[:SHOWN]
        ]
        if not lines:
            lines = ["Nothing in the organism table has this size in this host."]
        return SizeWords(size, tuple(lines), _of_own_name(mark.name, found), fits, nearly)

    def burden_table(self) -> BurdenTable:
        """Return the running burden and what is still missing; pictures that nobody looked at do not count."""
        return self._book.table(self)


def _amount(amount: Amount) -> str:
    digits = 1 if amount.value < 20 else 0
    return f"{amount.value:.{digits}f} ± {amount.half_width:.1f} µm"


def _cell(one: Candidate) -> tuple[str, str, str]:
    return one.key, one.name, one.reasons[0] if one.reasons else one.verdict


def _of_own_name(name: str, found: Shortlist) -> str:
    """Say what the size says of the name that a mark carries; of a group, the best of its kinds."""
    for words, candidates in (("fits", found.fits), ("nearly", found.nearly)):
        for one in candidates:
            if name in (one.key, one.eye_group):
                return "fits" if words == "fits" else f"nearly: {one.verdict}"
    whole = _all_of(name)
    if not whole:
        return ""
    return f"no {label_of(name)} of this host has this size"


@lru_cache(maxsize=256)
def _all_of(name: str) -> bool:
    """Say whether the organism table gives any size for a name or group."""
    from fecallab.reference.organisms import organisms

    return any(name in (item.key, item.eye_group) and item.length_um is not None for item in organisms())


@lru_cache(maxsize=4096)
def _shortlist(host: str, length: Amount, width: Amount | None, method: str) -> Shortlist:
    from fecallab.imaging.identify import identify

    return identify(host, length=length, width=width, method=method)
