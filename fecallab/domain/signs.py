"""Signs that must not wait for a microscope: a yes goes to the vet now, and never blocks recording."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from fecallab.domain.animal import Weighing
from fecallab.domain.dose_weight import EXPLAINED
from fecallab.domain.spoken import say_date

SIGN_ANSWERS = ("yes", "no", "vet knows")
"""Seen; looked for and not seen (any more); seen and in the vet's hands."""

LOSS, LOSS_YOUNG, LOSS_ASLEEP = "weight-loss", "weight-loss-young", "weight-loss-in-brumation"
"""Keys of the signs that are worked out from the weighings."""

DAYS_PER_MONTH = 30.4
"""Mean length of a month in days."""


@dataclass(frozen=True, kw_only=True)
class SignAnswer:
    """One answer to one question about a danger sign; the last answer for an animal holds.

    Attributes
    ----------
    sign : str
        Key of the table of signs.
    answer : str
        One of `SIGN_ANSWERS`.
    sample : str
        Code of the sample with which it was asked; empty when it was noted by itself.
    """

    code: str = ""
    animal: str
    sign: str
    answer: str = "yes"
    seen_at: datetime
    sample: str = ""
    by: str = ""
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class Sign:
    """One row of the table of signs.

    Attributes
    ----------
    key : str
        Word code.
    sign, question, threshold : str
        The sign in words, as one yes/no question, and from when on it counts.
    hosts : tuple of str
        Keys of the host groups that it is asked of; ``any``, or ``people``.
    age : str
        ``young``, ``young or small``, ``adult`` or empty.
    plant_eater : bool
        Asked of animals that mainly eat plants only.
    asked_first : bool
        One of the few that are asked with every sample.
    asked_about : str
        ``sample``, ``animal``, ``weights`` (worked out from weighings) or ``keeper``.
    loss_percent_over, loss_percent_per_month_over, within_days, under_g : float or None
        Limits of the signs that are worked out.
    urgency : str
        ``today`` or ``within 2 days``.
    why, until_the_vet : str
        Why it does not wait, and what may be done meanwhile.
    """

    key: str
    sign: str
    question: str
    threshold: str
    hosts: tuple[str, ...]
    host_words: str
    age: str = ""
    plant_eater: bool = False
    asked_first: bool = False
    asked_about: str = "animal"
    loss_percent_over: float | None = None
    loss_percent_per_month_over: float | None = None
    within_days: float | None = None
    under_g: float | None = None
    urgency: str
    urgency_kind: str = ""
    why: str
    until_the_vet: str
    source: str
    source_kind: str
    note: str = ""

    @property
    def says(self) -> str:
        """What to do in one line, and how urgent it is."""
        to = "See a doctor" if self.hosts == ("people",) else "To the vet"
        why = self.why[:1].upper() + self.why[1:]
        return f"{to} {self.urgency}: {self.sign}. {why}. Until then: {self.until_the_vet}."

    def is_asked_of(
        self, groups: Collection[str], *, adult: bool | None, plant_eater: bool, mass_g: float | None
    ) -> bool:
        """Say whether it may concern an animal; what is not known does not rule it out.

        Parameters
        ----------
        groups : collection of str
            The host group of the animal and every wider one.
        adult : bool or None
            None when unknown.
        mass_g : float or None
            The last weight.
        """
        if "any" not in self.hosts and "people" not in self.hosts and not set(self.hosts) & set(groups):
            return False
        if self.plant_eater and not plant_eater:
            return False
        small = self.under_g is not None and mass_g is not None and mass_g < self.under_g
        if self.age.startswith("young") and adult is True:
            return "small" in self.age and small
        return not (self.age == "adult" and adult is False)


@dataclass(frozen=True)
class SignFound:
    """One sign that holds for an animal: noted by a person, or worked out from its weights.

    ``said`` is what was seen or computed, ``since`` the day, ``with_vet`` whether the vet knows already.
    """

    sign: Sign
    since: date
    said: str = ""
    with_vet: bool = False
    sample: str = ""

    @property
    def line(self) -> str:
        """The sign in one line, with its day and what to do."""
        told = " (the vet knows)" if self.with_vet else ""
        said = f" {self.said}." if self.said else ""
        return f"{self.sign.says} Since {say_date(self.since)}{told}.{said}"


def open_signs(answers: Iterable[SignAnswer], signs: Mapping[str, Sign], day: date) -> list[SignFound]:
    """Return the signs whose last answer up to a day is a yes, or that the vet knows; most urgent first.

    A sign keeps the day on which it was first seen since it was last not seen.
    """
    last: dict[str, SignAnswer] = {}
    first: dict[str, SignAnswer] = {}
    for answer in sorted(answers, key=lambda one: one.seen_at):
        if answer.seen_at.date() > day or answer.sign not in signs:
            continue
        last[answer.sign] = answer
        if answer.answer == "no":
            first.pop(answer.sign, None)
        else:
            first.setdefault(answer.sign, answer)
    found = [
        SignFound(
            signs[key],
            first[key].seen_at.date(),
            answer.remark,
            answer.answer == "vet knows",
            answer.sample,
        )
        for key, answer in last.items()
        if key in first
    ]
    return sorted(found, key=lambda one: (one.with_vet, one.sign.urgency != "today", one.since))


def weight_signs(
    weighings: Sequence[Weighing],
    signs: Mapping[str, Sign],
    day: date,
    *,
    adult: bool | None = None,
    asleep_since: date | None = None,
    tortoise: bool = False,
) -> list[SignFound]:
    """Return the weight-loss signs that the weighings of an animal show up to a day.

    Weighings whose state explains a jump (urine passed, eggs laid, gravid, just fed …) are left out, and a
    loss counts only as far as it is more than one step of the scale. The last stable weight is the heaviest
    one of the days that the table names.

    Parameters
    ----------
    weighings : sequence of Weighing
        In any order.
    asleep_since : datetime.date or None
        First day of a brumation that is not over.
    tortoise : bool
        Whether the sign of tortoises in brumation is asked.
    """
    plain = sorted(
        (w for w in weighings if w.weighed_at.date() <= day and not _explained(w.state)),
        key=lambda w: w.weighed_at,
    )
    if len(plain) < 2:
        return []
    now, before = plain[-1], plain[:-1]
    found: list[SignFound] = []

    def lost(sign: Sign, reference: Weighing, limit_percent: float, more: str = "") -> None:
        step = max(now.scale_step_g or 0, reference.scale_step_g or 0)
        share = 100 * (reference.mass_g - now.mass_g - step) / reference.mass_g
        if share > limit_percent + 1e-9:
            plainly = 100 * (1 - now.mass_g / reference.mass_g)
            said = (
                f"{now.mass_g:g} g on {say_date(now.weighed_at.date())}, {reference.mass_g:g} g on"
                f" {say_date(reference.weighed_at.date())}: {plainly:.1f} % less{more}"
            )
            found.append(SignFound(sign, now.weighed_at.date(), said))

    for key in (LOSS, LOSS_YOUNG):
        sign = signs[key]
        span = timedelta(days=sign.within_days or 0)
        within = [w for w in before if now.weighed_at - w.weighed_at <= span]
        little = sign.under_g is None or adult is False or now.mass_g < sign.under_g
        if within and little and sign.loss_percent_over is not None:
            lost(sign, max(within, key=lambda w: w.mass_g), sign.loss_percent_over)
    if tortoise and asleep_since is not None:
        sign = signs[LOSS_ASLEEP]
        start = [w for w in before if w.weighed_at.date() <= asleep_since][-1:] or before[:1]
        months = max(1.0, (now.weighed_at - start[0].weighed_at).days / DAYS_PER_MONTH)
        monthly = (sign.loss_percent_per_month_over or 0) * months
        limit = min(monthly, sign.loss_percent_over or monthly)
        lost(sign, start[0], limit, f", {limit:.3g} % are allowed")
    return found


def _explained(state: str) -> bool:
    said = state.casefold()
    return any(word in said for word in EXPLAINED)
