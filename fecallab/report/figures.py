"""Numbers, units, dates and sizes as people read them on a page."""

from __future__ import annotations

import re
import unicodedata
from datetime import date, datetime

from fecallab.domain.spoken import say_date

THIN = "\u202f"
"""Narrow no-break space: between thousands."""
GAP = "\u00a0"
"""No-break space: before units and the percent sign."""
_TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff"


def tidy(text: str) -> str:
    r"""Return a text without control characters and without marks that turn the reading direction.

    Everything else stays: quotes, tags and emoji are escaped by the template, not removed.

    Examples
    --------
    >>> tidy("Pip\x00 \u202eevil")
    'Pip evil'
    """
    kept = [
        character
        for character in text
        if character in "\n\t" or unicodedata.category(character) not in ("Cc", "Cs")
    ]
    return "".join(character for character in kept if character not in _TURNING)


def day(value: date) -> str:
    """Spell a day: ``4 March 2026``; of a moment, its day."""
    return say_date(value).replace(" ", GAP)


def moment(value: datetime) -> str:
    """Spell a moment: ``4 March 2026, 14:05``."""
    return f"{day(value)}, {value:%H:%M}"


def number(value: float) -> str:
    """Write a number with three figures that mean something, thousands apart.

    Examples
    --------
    >>> number(0.03321), number(2.5), number(0)
    ('0.0332', '2.5', '0')
    >>> number(1963.7) == f"1{THIN}964"
    True
    """
    if abs(value) >= 99.95:
        return f"{value:,.0f}".replace(",", THIN)
    if value == 0:
        return "0"
    text = f"{value:.3g}"
    if "e" in text:
        text = f"{value:.12f}".rstrip("0") if abs(value) >= 1e-9 else text
    return text


def interval(limits: tuple[float, float]) -> str:
    """Write an interval, both limits with the decimals of the upper one.

    Examples
    --------
    >>> interval((0.6378, 1.9575)), interval((0, 3.689)), interval((0.001, 2.5))
    ('0.64 to 1.96', '0 to 3.69', '0.001 to 2.5')
    """
    low, high = limits
    decimals = 0 if high >= 99.95 else 1 if high >= 9.995 else 2 if high >= 1 else None
    if decimals is None or low == 0 or round(low, decimals) == 0:
        return f"{number(low)} to {number(high)}"
    texts = [f"{limit:,.{decimals}f}".replace(",", THIN) for limit in limits]
    return " to ".join(texts)


def percent(share: float) -> str:
    """Write a fraction 0-1 in per cent with two figures.

    Examples
    --------
    >>> percent(1 / 3) == f"33{GAP}%", percent(0.00331) == f"0.33{GAP}%", percent(1) == f"100{GAP}%"
    (True, True, True)
    """
    value = share * 100
    text = f"{value:.0f}" if value >= 9.95 else f"{value:.2g}"
    if "e" in text:
        text = f"{value:.6f}".rstrip("0").rstrip(".") or "0"
    return f"{text}{GAP}%"


def unbroken(span: str) -> str:
    """Keep the numbers of a span of time with their units on one line.

    Examples
    --------
    >>> unbroken("2 h 35 min") == f"2{GAP}h 35{GAP}min", unbroken("45 minutes")
    (True, '45 minutes')
    """
    return re.sub(r"(\d) (h|min)\b", rf"\1{GAP}\2", span)


def grams(mass_g: float) -> str:
    """Write a weight with the decimals that a scale of its size shows: ``431 g``, ``18.4 g``, ``3.25 g``."""
    decimals = 0 if mass_g >= 1000 else 1 if mass_g >= 10 else 2
    text = f"{mass_g:,.{decimals}f}".replace(",", THIN)
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text}{GAP}g"


def size(length_um: float | None, width_um: float | None) -> str:
    """Write a measured size: ``112 × 48 µm``, with one decimal below 20 µm."""

    def micrometres(value: float) -> str:
        return number(round(value)) if value >= 20 else f"{value:.1f}"

    if length_um is None:
        return "not measured"
    if width_um is None:
        return f"{micrometres(length_um)}{GAP}µm long"
    return f"{micrometres(length_um)}{THIN}×{THIN}{micrometres(width_um)}{GAP}µm"


def objective(power: float | None) -> str:
    """Write an objective: ``40×``."""
    return "not noted" if power is None else f"{power:g}×"
