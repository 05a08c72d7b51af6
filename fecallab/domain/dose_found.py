"""What the rules found for one dose, and whose recorded word lifts what."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from fecallab.domain.dose_facts import DoseFacts, DoseRule
from fecallab.domain.errors import Reason
from fecallab.domain.figures import figure_text
from fecallab.domain.spoken import say_date

ROLES = ("vet", "specialist")
"""Who can have said a word that is recorded; what the keeper says lifts nothing."""

_OF_THE_DAY = ("animal today", "weight", "course")


@dataclass(frozen=True, kw_only=True)
class WordGiven:
    """A person's recorded word on one rule: it lifts a refusal, or answers a warning.

    Attributes
    ----------
    code : str
        Word code of the rule.
    by, on : str, date
        Who said it, and when.
    role : str
        One of :data:`ROLES`. A specialist is a vet too.
    reason : str
        Why, in the person's own words.
    """

    code: str
    by: str
    on: date
    role: str = "vet"
    reason: str = ""

    def __str__(self) -> str:
        why = f": {self.reason}" if self.reason.strip() else ""
        return f"{self.by.strip()}, {say_date(self.on)}{why}"


def said_once(reasons: Sequence[Reason], facts: DoseFacts) -> tuple[Reason, ...]:
    """Leave what may be done until then to the last of several refusals, so that it is read once.

    Parameters
    ----------
    reasons : sequence of Reason
        Refusals, and whatever else stands among them.
    facts : DoseFacts
        The tables, with the words of ``until-then``.
    """
    until_then = facts.rule("until-then").next
    ending = [place for place, reason in enumerate(reasons) if reason.next.endswith(until_then)]
    return tuple(
        replace(reason, next=reason.next.removesuffix(until_then).strip()) if place in ending[:-1] else reason
        for place, reason in enumerate(reasons)
    )


@dataclass
class Found:
    """What the rules found so far: refusals, warnings, and what the vet has to confirm.

    ``words`` are the recorded words of people, ``today`` and ``ordered_on`` the days between which a
    word counts; ``lifted`` collects the refusals that a word has lifted.
    """

    facts: DoseFacts
    words: tuple[WordGiven, ...] = ()
    today: date | None = None
    ordered_on: date | None = None
    reasons: list[Reason] = field(default_factory=list)
    warnings: list[Reason] = field(default_factory=list)
    to_confirm: list[str] = field(default_factory=list)
    not_checked: list[Reason] = field(default_factory=list)
    lifted: list[str] = field(default_factory=list)
    words_used: list[WordGiven] = field(default_factory=list)

    @property
    def refused(self) -> bool:
        """Whether any rule refused."""
        return bool(self.reasons)

    def aside(self) -> Found:
        """Return an empty one with the same facts and words, to try something out."""
        return Found(self.facts, self.words, self.today, self.ordered_on)

    def take(self, other: Found) -> None:
        """Take over everything that another one found."""
        self.reasons += other.reasons
        self.warnings += other.warnings
        self.to_confirm += other.to_confirm
        self.not_checked += other.not_checked
        self.lifted += other.lifted
        self.words_used += other.words_used

    def say(self, code: str, text: str, scope: str = "", *, next: str = "") -> None:
        """Add what one rule found; refuse, warn and way forward come from its row."""
        rule = self.facts.rule(code, scope)
        self.add(rule.action, code, text, f"{rule.next} {next}".strip(), rule.override_role, rule.place)

    def add(self, action: str, code: str, text: str, next: str, role: str = "vet", place: str = "") -> None:
        """Add a refusal or a warning; a refusal also says what may be done now."""
        if action.startswith("refuse"):
            word = self._word_on(code, role, place)
            if word is not None:
                self.lifted.append(code)
                self.words_used.append(word)
                self.warnings.append(Reason(code, f"{text} Lifted by the word of {word}.", next))
                return
            until_then = self.facts.rule("until-then").next
            self.reasons.append(Reason(code, text, f"{next} {until_then}".strip()))
            return
        self.warnings.append(Reason(code, text, next))
        if action == "warn-hard":
            word = self._word_on(code, role, place)
            if word is None:
                self.to_confirm.append(code)
            else:
                self.words_used.append(word)

    def ask(self, code: str, scope: str = "") -> None:
        """Note that nobody was asked what a rule needs to know."""
        rule = self.facts.rule(code, scope)
        self.not_checked.append(Reason(code, f"Not checked here: {rule.when}.", rule.ask or rule.next))

    def _word_on(self, code: str, role: str, place: str) -> WordGiven | None:
        """Return the word that counts on a rule, or None."""
        wanted = {"vet": ROLES, "specialist": ("specialist",)}.get(role, ())
        for word in self.words:
            if word.code == code and word.role in wanted and word.by.strip() and self._in_time(word, place):
                return word
        return None

    def _in_time(self, word: WordGiven, place: str) -> bool:
        """Say whether a word is of a day on which it counts for a rule of this place."""
        if self.today is None or word.on > self.today:
            return False
        if place in _OF_THE_DAY:
            return (self.today - word.on).days <= self.facts.rule("word-of-the-day").at_high()
        return self.ordered_on is None or word.on >= self.ordered_on

    def close(self) -> None:
        """Name words that do not count, and refuse when more than one refusal was lifted."""
        refused = {reason.code for reason in self.reasons}
        for word in self.words:
            if word.code in refused:
                text = f"The word of {word} on {word.code} does not count: {self._why_not(word)}."
                self.say("word-not-counted", text)
        lifted = tuple(dict.fromkeys(self.lifted))
        if len(lifted) > self.facts.rule("one-word-only").at_high():
            self.say("one-word-only", f"Lifted for this one dose: {', '.join(lifted)}.")

    def _why_not(self, word: WordGiven) -> str:
        """Say why a word does not lift the refusal it is about."""
        rules = self.facts.rules_with(word.code).values()
        role, place = next(((rule.override_role, rule.place) for rule in rules), ("specialist", ""))
        if not word.by.strip():
            return "it carries no name"
        if role not in ROLES:
            return f"this is lifted by {_lifted_by(rules)}"
        if role == "specialist" and word.role != "specialist":
            return "only a specialist may lift this"
        if word.role not in ROLES:
            return f"{word.role or 'nobody'} may not lift this"
        if self.today is not None and word.on > self.today:
            return "its day has not come"
        days = figure_text(self.facts.rule("word-of-the-day").at_high())
        return f"it is older than {days} day" if place in _OF_THE_DAY else "it is older than the order"


def _lifted_by(rules: Iterable[DoseRule]) -> str:
    return next((rule.overridden_by for rule in rules), "nobody")
