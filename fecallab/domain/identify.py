"""A shortlist for one object: what fits by host, method, size, shape and motion, and what tells it apart.

A shortlist is no diagnosis. It has no percentages and no order of likelihood beyond "fits" before "nearly"; what
only passes through (pseudoparasites, prey's parasites) and lifeless look-alikes stand in it like all others.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from fecallab.domain.errors import Reason, Refused
from fecallab.domain.look_alikes import TellsApart, names_of, tells_apart
from fecallab.domain.measuring import Amount
from fecallab.domain.organism import NEVER_A_CASE, Organism

VERDICTS = ("fits", "too small", "too large", "moves", "does not move", "not in this host")
SINGLE_MEAN_SHARE = 0.15
"""How far sizes may lie from a single published mean (own choice, no source)."""
NEARLY_SHARE = 0.20
"""What lies within this much of a range is told as nearly fitting (own choice, no source)."""
MOST_NEARLY = 8

NO_SCALE = Reason(
    "no-scale",
    "The size is in pixels and the picture has no calibration, so nothing can be named by its size.",
    "Calibrate first: fecallab image calibrate RULER.jpg --division-um 10, then repeat with --um-per-px.",
)


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What was seen of one object; None or empty where it is not known.

    Attributes
    ----------
    length, width : Amount or None
        µm, each with its 95 % interval.
    shape_words : tuple of str
        Words about its look, such as ``oval`` or ``plug``.
    moves : bool or None
        Whether it moved by itself.
    method : str
        Method of the preparation.
    """

    length: Amount | None = None
    width: Amount | None = None
    shape_words: tuple[str, ...] = ()
    moves: bool | None = None
    method: str = ""


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One organism of the table beside what was seen.

    Attributes
    ----------
    key, name, eye_group : str
    verdict : str
        One of `VERDICTS`.
    reasons : tuple of str
        Why, in words.
    look : str
        What it looks like.
    tells_apart : tuple of TellsApart
        Look-alikes, with what is to be seen on them.
    next : tuple of str
        What to look at next.
    passes_through : bool
        True for what opens no case: prey's parasites, pseudoparasites, artefacts.
    """

    key: str
    name: str
    eye_group: str
    verdict: str
    reasons: tuple[str, ...]
    look: str
    tells_apart: tuple[TellsApart, ...]
    next: tuple[str, ...]
    passes_through: bool

    def as_dict(self) -> dict[str, object]:
        """Return plain keys for ``--json``."""
        return {
            "key": self.key,
            "name": self.name,
            "group": self.eye_group,
            "verdict": self.verdict,
            "reasons": list(self.reasons),
            "look": self.look,
            "tells_apart": [{"name": one.name, "look": one.look} for one in self.tells_apart],
            "next": list(self.next),
            "passes_through": self.passes_through,
        }


@dataclass(frozen=True)
class Shortlist:
    """What fits, what nearly fits, and how much was left out and why."""

    fits: tuple[Candidate, ...]
    nearly: tuple[Candidate, ...]
    left_out: Mapping[str, int] = field(default_factory=dict)
    named_by_size: bool = True


def refuse_without_scale(length_px: float | None, um_per_px: float | None) -> None:
    """Refuse a size in pixels that no calibration turns into µm.

    Raises
    ------
    Refused
    """
    if length_px is not None and um_per_px is None:
        raise Refused([NO_SCALE])


def shortlist(
    seen: Seen,
    organisms: Sequence[Organism],
    in_host: Collection[str],
    exam_methods: Mapping[str, Collection[str]],
) -> Shortlist:
    """Choose what to think of.

    Parameters
    ----------
    seen : Seen
        What was seen.
    organisms : sequence of Organism
        The organism table.
    in_host : collection of str
        Keys of those that may be met in the host.
    exam_methods : mapping of str to collection of str
        For every key of the method table the words that a preparation carries for it.

    Returns
    -------
    Shortlist
        ``fits``: everything agrees; those that the shape words speak for first, then the narrower ranges.
        ``nearly``: one thing disagrees by a little, or the size fits in another host.
    """
    names = names_of(organisms)
    judged = [
        _judged(item, seen, item.key in in_host, exam_methods, names)
        for item in organisms
        if item.length_um is not None or seen.length is None
    ]
    order = {item.key: k for k, item in enumerate(organisms)}
    table = {item.key: item for item in organisms}

    def rank(one: Candidate) -> tuple[float, ...]:
        item = table[one.key]
        spoken = -_words_met(item, seen.shape_words)
        length = item.length_um
        spread = length[1] / max(length[0], 0.1) if length else 1e3
        shown = not _shown_by(item, seen.method, exam_methods)
        return (spoken, shown, one.passes_through, spread, order[one.key])

    fits = sorted((one for one, _ in judged if one.verdict == "fits"), key=rank)
    nearly = sorted((one for one, near in judged if near), key=rank)[:MOST_NEARLY]
    told = {one.key for one in (*fits, *nearly)}
    left: dict[str, int] = {}
    for one, _ in judged:
        if one.key not in told:
            left[one.verdict] = left.get(one.verdict, 0) + 1
    without = len(organisms) - len(judged)
    if without:
        left["no size known"] = without
    return Shortlist(tuple(fits), tuple(nearly), left, seen.length is not None)


def _judged(
    item: Organism,
    seen: Seen,
    at_home: bool,
    exam_methods: Mapping[str, Collection[str]],
    names: Mapping[str, Organism],
) -> tuple[Candidate, bool]:
    verdict, reasons, near = "fits", [], False
    for what, amount, given in (
        ("length", seen.length, item.length_um),
        ("width", seen.width, item.width_um),
    ):
        if amount is None or given is None:
            continue
        low, high = _allowed(given)
        word, text = _size_words(what, amount, given, low, high, item)
        reasons.append(text)
        if word != "fits" and verdict == "fits":
            verdict = word
            least, most = amount.interval
            near = least <= high * (1 + NEARLY_SHARE) and most >= low * (1 - NEARLY_SHARE)
    if seen.moves is True and not item.motile and verdict == "fits":
        verdict, near = "moves", False
        reasons.append("it moved, and this never does" + _moved_by(item))
    if seen.moves is False and item.motile:
        reasons.append(f"it should move ({item.motility_words}) unless it is cold, old or dead")
        if verdict == "fits" and item.stages == ("trophozoite",):
            verdict, near = "does not move", True
    met = _met(item, seen.shape_words)
    if met:
        reasons.append(f"your words stand in its description: {', '.join(met)}")
    if not at_home:
        near = verdict == "fits"
        verdict = "not in this host" if verdict == "fits" else verdict
        reasons.append(f"not known from this host; known from: {', '.join(item.hosts.split(';'))}")
        near = near and item.eye_group not in NEVER_A_CASE
    if seen.method and not _shown_by(item, seen.method, exam_methods):
        missed = item.destroyed_or_missed_by
        reasons.append(
            "this method is not the one that shows it best" + (f" (missed by: {missed})" if missed else "")
        )
    candidate = Candidate(
        key=item.key,
        name=item.scientific_name,
        eye_group=item.eye_group,
        verdict=verdict,
        reasons=tuple(reasons),
        look=item.shape,
        tells_apart=tells_apart(item, names),
        next=_next(item),
        passes_through=item.eye_group in NEVER_A_CASE,
    )
    return candidate, near and verdict != "fits"


def _allowed(given: tuple[float, float]) -> tuple[float, float]:
    low, high = given
    if low == high:
        return low * (1 - SINGLE_MEAN_SHARE), high * (1 + SINGLE_MEAN_SHARE)
    return low, high


def _size_words(
    what: str, amount: Amount, given: tuple[float, float], low: float, high: float, item: Organism
) -> tuple[str, str]:
    least, most = amount.interval
    if given[0] == given[1]:
        book = f"one mean of {given[0]:g} µm is known, ± {100 * SINGLE_MEAN_SHARE:.0f} % is allowed"
    else:
        book = f"{given[0]:g} to {given[1]:g} µm"
    book += f" ({item.range_kind})"
    size = f"{what} {amount.value:.1f} ± {amount.half_width:.1f} µm"
    if most < low:
        return "too small", f"{size} is too small: {book}"
    if least > high:
        return "too large", f"{size} is too large: {book}"
    clear = low <= least and most <= high
    return "fits", f"{size} {'fits' if clear else 'may just fit'}: {book}"


def _moved_by(item: Organism) -> str:
    return f" ({item.motility_words})" if item.motility_words else ""


def _met(item: Organism, words: Sequence[str]) -> tuple[str, ...]:
    text = f"{item.shape} {item.motility_words}".lower()
    return tuple(
        word for word in words if re.search(rf"\b{re.escape(word.lower().rstrip('s'))}", text) is not None
    )


def _words_met(item: Organism, words: Sequence[str]) -> int:
    return len(_met(item, words))


def _shown_by(item: Organism, method: str, exam_methods: Mapping[str, Collection[str]]) -> bool:
    if not method or not item.method_keys:
        return True
    return any(method == key or method in exam_methods.get(key, ()) for key in item.method_keys)


def _next(item: Organism) -> tuple[str, ...]:
    steps = [f"look for: {item.shape}"]
    if item.motile and item.motility_words:
        steps.append(f"watch it for a minute while warm: {item.motility_words}")
    if item.stain and item.stain not in ("none", "none needed"):
        steps.append(f"stain: {item.stain}")
    if item.best_methods:
        steps.append(f"best seen by: {', '.join(item.best_methods)}")
    if not item.keeper_can_name:
        steps.append("mark it unsure: only a vet or a laboratory can name this one")
    return tuple(steps)
