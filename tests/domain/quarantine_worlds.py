"""Worlds to ask about, and what is read off an answer."""

from __future__ import annotations

from fecallab.domain.quarantine import (
    MixAnswer,
    may_mix,
)

from .quarantine_cases import World, clean


def the_answer(world: World, on: int, animal: str = "A1") -> MixAnswer:
    situation = world.on(on)
    return may_mix(situation.group_of(animal), situation)


def codes(answer: MixAnswer) -> set[str]:
    return {reason.code for reason in answer.reasons}


def pair() -> World:
    """Two that live together, clean on days 0, 28 and 56 (90 days, 3 exams, 14 apart, one after day 22)."""
    return World().arrival().animal("A1", "B1").animal("A2", "B1").seen(clean(["A1", "A2"], 0, 28, 56))
