"""What the keeper does not want on the page: names of people here, and where the animals live."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fecallab.domain.errors import BadInput
from fecallab.vet.page_model import PageToVet

if TYPE_CHECKING:
    from fecallab.domain.animal import Animal
    from fecallab.domain.exam import Exam

LEAVE_OUT = ("owner", "place", "clips")
OWNER_WORD, PLACE_WORD = "the keeper", "the enclosure"


def read_leave_out(text: str) -> tuple[str, ...]:
    """Return what is to be left out, as typed: ``owner,place``.

    Raises
    ------
    BadInput
        For a word that is none of them.

    Examples
    --------
    >>> read_leave_out("Place, owner")
    ('owner', 'place')
    """
    words = {word for word in re.split(r"[\s,;]+", text.lower()) if word}
    strange = sorted(words - set(LEAVE_OUT))
    if strange:
        raise BadInput(
            f"--leave-out is {text[:40]!r}; what can be left out is: {', '.join(LEAVE_OUT)}.",
            next="Type: --leave-out owner,place (what a camera wrote into a picture never travels).",
            code="not-a-choice",
        )
    return tuple(word for word in LEAVE_OUT if word in words)


def names_here(page: PageToVet, exams: Iterable[Exam]) -> set[str]:
    """Return every name of a person of the keeper's side that stands in what the page is made of."""
    found = {page.from_whom, page.stamp.made_for}
    for exam in exams:
        found.add(exam.by)
        found |= {
            mark.named_by for p in exam.preparations for reading in p.readings for mark in reading.marks
        }
    for case in page.cases:
        found |= {dose.by for dose in case.page.doses} | {dose.second_person for dose in case.page.doses}
        found.add(case.page.closing.by if case.page.closing else "")
    vets = {plan.vet for case in page.cases for plan in (case.page.plan, *case.page.earlier_plans) if plan}
    return {name for name in found if name and name not in vets and name != page.to_whom}


def places_here(animal: Animal) -> set[str]:
    """Return the names of where an animal lives."""
    return {animal.enclosure} if animal.enclosure else set()


def without(
    page: PageToVet, left_out: Iterable[str], people: Iterable[str], places: Iterable[str]
) -> PageToVet:
    """Return the page without these names, wherever they stand in it, remarks and questions included.

    What belongs to the answer (id, hash, codes) and what the tables say stays. A whole name is left out in any
    spelling of capitals; its parts, and a name in small letters, as they are spelled.
    """
    left = tuple(left_out)
    rules: list[tuple[re.Pattern[str], str]] = []
    if "owner" in left:
        rules += [(pattern, OWNER_WORD) for pattern in _patterns(people)]
    if "place" in left:
        rules += [(pattern, PLACE_WORD) for pattern in _patterns(places)]
    done = _cleaned(page, rules) if rules else page
    assert isinstance(done, PageToVet)
    vet = page.to_whom
    return replace(
        done,
        page_id=page.page_id,
        page_hash=page.page_hash,
        subject=page.subject,
        to_whom=vet,
        from_whom="" if "owner" in left else done.from_whom,
        organisms=page.organisms,
        left_out=left,
    )


def _patterns(names: Iterable[str]) -> list[re.Pattern[str]]:
    whole = {name.strip() for name in names if name.strip()}
    parts = {part for name in whole for part in name.split() if len(part) > 2 and part[0].isupper()}
    ordered = sorted(whole | parts, key=lambda name: (-len(name), name))
    return [_pattern(name, name in whole) for name in ordered]


def _pattern(name: str, whole: bool) -> re.Pattern[str]:
    any_capitals = whole and (" " in name or name[0].isupper())
    return re.compile(rf"(?<!\w){re.escape(name)}(?!\w)", re.IGNORECASE if any_capitals else 0)


_KEPT = frozenset(
    {"key", "exam", "reading", "code", "sha256", "picture", "shortlist", "fits", "nearly", "fit", "group"}
)


def _cleaned(value: Any, rules: list[tuple[re.Pattern[str], str]]) -> Any:
    if isinstance(value, str):
        for pattern, word in rules:
            value = pattern.sub(word, value)
        return value
    if isinstance(value, (bytes, Path)) or value is None:
        return value
    if isinstance(value, tuple):
        return tuple(_cleaned(each, rules) for each in value)
    if isinstance(value, dict):
        return {key: _cleaned(each, rules) for key, each in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        changed = {}
        for field in fields(value):
            old = getattr(value, field.name)
            if not field.init or (field.name in _KEPT and not is_dataclass(old)):
                continue
            new = _cleaned(old, rules)
            if new is not old and new != old:
                changed[field.name] = new
        return replace(value, **changed) if changed else value
    return value
