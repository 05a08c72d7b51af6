"""Is a dose left, is it time, what happened to the doses before, and is there enough in the bottle?"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import ROUND_CEILING, Decimal, localcontext

from fecallab.domain.dose_case import NOT_KEPT, BottleToday, DoseLogged, PlanFacts
from fecallab.domain.dose_facts import STOP_SIGNS, DoseFacts
from fecallab.domain.dose_found import Found
from fecallab.domain.dose_request import exact
from fecallab.domain.figures import figure_text
from fecallab.domain.spoken import say_date, say_time


def in_order(doses: Sequence[DoseLogged], now: datetime, found: Found) -> list[DoseLogged] | None:
    """Return the log by time, or None (refused) when times with and without a zone are mixed."""
    zones = {moment.utcoffset() is None for moment in (now, *(dose.given_at for dose in doses))}
    if len(zones) > 1:
        found.say("clock-zone-mixed", "Some times of the log have a time zone, and some have none.")
        return None
    return sorted(doses, key=lambda dose: dose.given_at)


def taken_of(logged: Sequence[DoseLogged]) -> list[DoseLogged]:
    """Return the doses that count as given: all but the missed ones."""
    return [dose for dose in logged if dose.outcome != "missed"]


def check_course(plan: PlanFacts, logged: Sequence[DoseLogged], now: datetime, found: Found) -> None:
    """Check that a dose is left, that it is time, and that the doses before were stood well."""
    taken = taken_of(logged)
    if plan.doses and len(taken) >= plan.doses:
        found.say("doses-used-up", f"All {plan.doses} doses of the plan are logged.")
    _check_reactions(logged, found)
    if not taken:
        return
    last = taken[-1]
    if last.outcome in NOT_KEPT:
        found.say("last-dose-not-kept", f"The dose of {_at(last.given_at)} was {last.outcome}.")
    hours = exact(plan.interval_hours)
    if hours and hours > 0:
        _check_time(taken, hours, now, found)


def _check_reactions(logged: Sequence[DoseLogged], found: Found) -> None:
    """Refuse while a stop sign stands in the log."""
    for dose in logged:
        signs = sorted(sign for sign in STOP_SIGNS if sign in {word.casefold() for word in dose.reactions})
        if signs:
            found.say("sign-after-dose", f"After the dose of {_at(dose.given_at)}: {', '.join(signs)}.")


def _check_time(taken: Sequence[DoseLogged], hours: Decimal, now: datetime, found: Found) -> None:
    """Refuse a dose that comes too early, a second one of the day, or one too many; warn of a late one."""
    rule, last = found.facts.rule, taken[-1]
    elapsed, when = _hours(now, last.given_at), _at(last.given_at)
    by = f" by {last.by}" if last.by.strip() else ""
    early, late = rule("too-early").at_low(), rule("late-dose").at_high()
    if elapsed < 0:
        found.say("clock-backwards", f"The last dose is logged on {when}, after now, {_at(now)}.")
        return
    if elapsed < hours * early:
        from_when = _later(last.given_at, hours * early)
        found.say("too-early", f"The last dose was given on {when}{by}; the next not before {from_when}.")
    elif hours >= rule("given-today-already").at_low() and last.given_at.date() == now.date():
        found.say("given-today-already", f"A dose was given today at {last.given_at:%H:%M}{by}.")
    elif elapsed > hours * late:
        found.say("late-dose", f"The last dose was given on {when}{by}: this one is late.")
    day = rule("too-many-in-a-day").at_low()
    in_a_day = int((day / hours).to_integral_value(ROUND_CEILING)) if hours < day else 1
    if in_a_day > 1 and len(taken) >= in_a_day:
        first = taken[-in_a_day]
        span = hours * in_a_day - hours * (1 - early)
        if 0 <= _hours(now, first.given_at) < span:
            names = sorted({dose.by for dose in taken[-in_a_day:] if dose.by.strip()})
            who = f" ({', '.join(names)})" if names else ""
            text = (
                f"{in_a_day} doses were given since {_at(first.given_at)}{who}; the next not before "
                f"{_later(first.given_at, span)}."
            )
            found.say("too-many-in-a-day", text)


def check_bottle(bottle: BottleToday | None, now: datetime, needed_ml: Decimal | None, found: Found) -> None:
    """Refuse a bottle or mixture past its day; warn when it does not hold what is still needed."""
    if bottle is None:
        for code in ("drug-expired", "discard-passed", "dilution-expired"):
            found.ask(code)
        return
    today = now.date()
    if bottle.expires_on is not None and bottle.expires_on < today:
        found.say("drug-expired", f"The bottle was good until {say_date(bottle.expires_on)}.")
    if bottle.discard_on is not None and bottle.discard_on < today:
        found.say(
            "discard-passed", f"The opened bottle was to be discarded on {say_date(bottle.discard_on)}."
        )
    if bottle.mixed_at is not None:
        until = bottle.mixture_discard_on or bottle.mixed_at.date()
        if until < today:
            found.say(
                "dilution-expired",
                f"It was mixed on {say_date(bottle.mixed_at)} and good until {say_date(until)}.",
            )
    left = exact(bottle.left_ml)
    if left is not None and needed_ml is not None and left < needed_ml:
        text = f"About {figure_text(left)} ml are left, and the doses left need about {figure_text(needed_ml)} ml."
        found.say("stock-short", text)


def stock_needed_ml(
    volume_ml: Decimal, doses: int, facts: DoseFacts, *, lost_per_dose_ml: Decimal = Decimal(0)
) -> Decimal:
    """Return how much liquid some doses need, in ml: with the usual loss, and what tube or hub keeps each time.

    Examples
    --------
    21 doses of 0.31 ml with a tenth for losses are 7.16 ml (computed example of the sources' table).
    """
    with localcontext(prec=40):
        waste = 1 + facts.rule("stock-waste").at_high()
        return volume_ml * doses * waste + lost_per_dose_ml * doses


def _hours(now: datetime, before: datetime) -> Decimal:
    return Decimal(str((now - before) / timedelta(hours=1)))


def _at(moment: datetime) -> str:
    return say_time(moment)


def _later(start: datetime, hours: Decimal) -> str:
    """Say when some hours have passed."""
    try:
        return _at(start + timedelta(hours=float(hours)))
    except OverflowError:
        return "the end of the calendar"
