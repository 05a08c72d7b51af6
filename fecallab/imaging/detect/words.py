"""What may be said beside a proposal: whether its size fits something known, in words and without a name."""

from __future__ import annotations

from dataclasses import dataclass

from fecallab.domain.measuring import Amount
from fecallab.domain.organism import NEVER_A_CASE, Organism
from fecallab.imaging.detect.propose import Proposal
from fecallab.imaging.identify import identify
from fecallab.reference.organisms import organisms


@dataclass(frozen=True)
class Said:
    """Words beside a proposal.

    Attributes
    ----------
    words : str
        Such as ``fits coccidian oocyst`` or ``too small``.
    keys : tuple of str
        Keys of the organism table that its size fits.
    """

    words: str
    keys: tuple[str, ...]


def words_for(proposal: Proposal, host: str = "", method: str = "") -> Said:
    """Say what the size of a proposal fits.

    Parameters
    ----------
    proposal : Proposal
    host : str, optional
        Key or name of the host; without it every organism of the table is thought of.
    method : str, optional
        Method of the preparation.

    Returns
    -------
    Said
        At most two groups are named, those of organisms before those of look-alikes; size alone names nothing.
    """
    length = Amount(proposal.length_um, proposal.length_half_width_um)
    width = Amount(proposal.width_um, proposal.width_half_width_um)
    if host:
        fits = [one.key for one in identify(host, length=length, width=width, method=method).fits]
    else:
        fits = [one.key for one in organisms() if _fits(one, length, width)]
    table = {one.key: one for one in organisms()}
    real = [table[key] for key in fits if table[key].eye_group not in NEVER_A_CASE]
    if real:
        return Said("fits " + " or ".join(_groups(real)[:2]), tuple(fits))
    if fits:
        return Said("fits no organism of this host, only what passes through", tuple(fits))
    known = [one.length_um for one in table.values() if one.length_um and one.eye_group not in NEVER_A_CASE]
    if length.interval[1] < min(low for low, _ in known):
        return Said("too small", ())
    if length.interval[0] > max(high for _, high in known):
        return Said("too large", ())
    return Said("fits nothing in the table", ())


def _fits(one: Organism, length: Amount, width: Amount) -> bool:
    for amount, given in ((length, one.length_um), (width, one.width_um)):
        if given is None:
            if amount is length:
                return False
            continue
        low, high = (0.85 * given[0], 1.15 * given[1]) if given[0] == given[1] else given
        if amount.interval[1] < low or amount.interval[0] > high:
            return False
    return True


def _groups(fits: list[Organism]) -> list[str]:
    """Groups with their stage, those with most fitting kinds first."""
    count: dict[str, int] = {}
    for one in fits:
        stage = one.stages[0] if len(one.stages) == 1 else ""
        word = f"{one.eye_group} {stage}".strip()
        count[word] = count.get(word, 0) + 1
    return sorted(count, key=lambda word: (-count[word], word))
