"""Figures as people type, read and speak them: ``0,5`` is 0.5, ``7.5 %`` is no strength in mg per ml."""

from __future__ import annotations

import re
from decimal import Decimal

from fecallab.domain.errors import BadInput

_PLAIN = re.compile(
    r"(?P<sign>[+-]?)(?P<whole>[0-9]*)(?:(?P<mark>[.,])(?P<part>[0-9]*))?(?P<power>[eE][+-]?[0-9]{1,2})?"
)
_UNITED = re.compile(r"(?P<figure>[+-]?[0-9.,]+)\s*(?P<unit>[^\s0-9.,].*)")
_RATIO = re.compile(r"[0-9]\s*[:/]\s*[0-9]|[0-9]\s+in\s+[0-9]")
_UNIT_NAMES = {
    "g": ("g", "gram", "grams"),
    "mg_per_kg": ("mg/kg", "mg per kg"),
    "mg_per_ml": ("mg/ml", "mg per ml"),
    "ml": ("ml",),
    "hours": ("h", "hours", "hour"),
    "ml_per_kg": ("ml/kg", "ml per kg"),
    "percent": ("%", "percent", "per cent"),
    "days": ("d", "days", "day"),
    "mm": ("mm",),
    "french": ("fr", "ch", "french"),
}
_UNIT_WORDS = {
    "g": "grams",
    "mg_per_kg": "mg per kg",
    "mg_per_ml": "mg per ml",
    "ml": "ml",
    "hours": "hours",
    "ml_per_kg": "ml per kg",
    "percent": "percent",
    "days": "days",
    "mm": "mm",
    "french": "the French size (Fr or Ch)",
}
_MICRO = ("µg", "μg", "ug", "mcg", "microgram")
_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_TEENS = (
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
)
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")


def read_figure(text: str, unit: str, option: str) -> Decimal:
    """Read one figure that a person typed.

    Parameters
    ----------
    text : str
        What was typed. A comma is read as the decimal sign where it can mean nothing else.
    unit : {"g", "mg_per_kg", "mg_per_ml", "ml", "hours", "ml_per_kg", "percent", "days", "mm", "french"}
        Unit of the field; the same unit may be typed behind the figure.
    option : str
        Name of the field as typed, for the message.

    Returns
    -------
    Decimal
        The figure, exactly as typed.

    Raises
    ------
    BadInput
        When the text is no figure, has another unit, or can be read in two ways.

    Examples
    --------
    >>> read_figure("0,5", "mg_per_kg", "--dose-mg-per-kg")
    Decimal('0.5')
    >>> read_figure("420 g", "g", "--weight-g")
    Decimal('420')
    """
    typed = " ".join(text.split())
    shown = f'{option} "{typed[:40]}"'
    if _RATIO.search(typed):
        raise BadInput(
            f"{shown} is a ratio: it may mean parts in all or parts to parts.",
            next="Type the mg per ml on the label, or ask for ml of stock and ml of diluent.",
            code="strength-ratio" if unit == "mg_per_ml" else "number-unreadable",
        )
    united = _UNITED.fullmatch(typed)
    if united and not _PLAIN.fullmatch(typed):
        if united["unit"].casefold() in _UNIT_NAMES[unit]:
            typed = united["figure"]
        else:
            raise _wrong_unit(shown, united["figure"], united["unit"].casefold(), unit)
    found = _PLAIN.fullmatch(typed)
    if found is None or not (found["whole"] or found["part"]):
        raise BadInput(
            f"{shown} is not one plain number.",
            next=f"Type one number in {_UNIT_WORDS[unit]}, such as 0.5.",
            code="number-unreadable",
        )
    if found["mark"] == "," and _could_be_thousands(found["whole"], found["part"]):
        raise BadInput(
            f"{shown} can be read in two ways: the comma may stand for thousands or for the decimal sign.",
            next=f"Type {found['whole']}{found['part']} or {found['whole']}.{found['part']}.",
            code="number-ambiguous",
        )
    return Decimal(typed.replace(",", "."))


def _could_be_thousands(whole: str, part: str) -> bool:
    """Say whether a comma could separate thousands: three digits behind it, one to three before, no zero."""
    return len(part) == len("000") and 0 < len(whole) <= len("000") and not whole.startswith("0")


def _exact(figure: str) -> Decimal | None:
    """Return the figure before a unit, or None when it cannot be read."""
    try:
        return Decimal(figure.replace(",", "."))
    except ArithmeticError:
        return None


def _wrong_unit(shown: str, figure: str, typed_unit: str, unit: str) -> BadInput:
    """Say that another unit was typed, and the figure to type instead where arithmetic can tell."""
    value = _exact(figure)
    words = _UNIT_WORDS[unit]
    if typed_unit.startswith(("%", "percent", "per cent")):
        told = (
            "" if value is None else f" If the label says weight per volume, type {figure_text(value * 10)}."
        )
        return BadInput(
            f"{shown} is a percentage, and this field takes {words}.",
            next=f"Type the mg per ml on the label; 7.5 % weight per volume is 75 mg per ml.{told}"
            if unit == "mg_per_ml"
            else f"Type one number in {words}.",
            code="strength-percent" if unit == "mg_per_ml" else "unit-wrong",
        )
    if typed_unit.startswith("mg") and typed_unit.replace(" per ", "/") == "mg/g":
        return BadInput(
            f"{shown} is the strength of a paste or of granules, which no syringe measures.",
            next="Ask the vet or pharmacist for a suspension with mg per ml on its label.",
            code="strength-per-gram",
        )
    if typed_unit.replace(" per ", "/").startswith("ml/kg"):
        return BadInput(
            f"{shown} is a volume per kg, which says nothing without a strength.",
            next="Ask the vet for mg per kg, or multiply ml per kg by the mg per ml on the label."
            if unit.startswith("mg")
            else f"Type one number in {words}.",
            code="unit-wrong",
        )
    factors = {
        "g": {"kg": Decimal(1000), "lb": Decimal("453.59237"), "oz": Decimal("28.349523125")},
        "hours": {"d": Decimal(24), "day": Decimal(24), "days": Decimal(24)},
        "mm": {"cm": Decimal(10), "m": Decimal(1000)},
    }.get(unit, {})
    factor = factors.get(typed_unit)
    if typed_unit.startswith(_MICRO) and unit in ("mg_per_kg", "mg_per_ml"):
        factor = Decimal("0.001")
    told = (
        ""
        if factor is None or value is None
        else f" {figure_text(value)} {typed_unit} is {figure_text(value * factor)}."
    )
    return BadInput(
        f'{shown} has the unit "{typed_unit[:20]}", and this field takes {words}.',
        next=f"Type one number in {words}.{told}",
        code="unit-wrong",
    )


def figure_text(value: Decimal) -> str:
    r"""Write a figure for people: leading zero, no trailing zeros, thousands apart, at most six digits.

    Source of the form: the ISMP list of error-prone dose designations, as reprinted (read).

    Examples
    --------
    >>> figure_text(Decimal(".50")), figure_text(Decimal("1.0")), figure_text(Decimal("12500"))
    ('0.5', '1', '12\xa0500')
    """
    if value == 0:
        return "0"
    digits = max(0, 5 - value.adjusted())
    plain = f"{value:.{min(digits, 9)}f}"
    if "." in plain:
        plain = plain.rstrip("0").rstrip(".")
    whole, _, part = plain.partition(".")
    sign = "-" if whole.startswith("-") else ""
    grouped = f"{int(whole.lstrip('-') or '0'):,}".replace(",", "\N{NO-BREAK SPACE}")
    return f"{sign}{grouped}" + (f".{part}" if part else "")


def figure_in_words(value: Decimal) -> str:
    """Say a figure of zero or more in words, digit by digit behind the point.

    Examples
    --------
    >>> figure_in_words(Decimal("0.42")), figure_in_words(Decimal("17.5"))
    ('zero point four two', 'seventeen point five')
    """
    whole, _, part = f"{value:f}".partition(".")
    part = part.rstrip("0")
    said = _whole_in_words(int(whole))
    return f"{said} point {' '.join(_DIGITS[int(digit)] for digit in part)}" if part else said


def _whole_in_words(whole: int) -> str:
    """Say a whole number below one million in words; larger ones digit by digit."""
    if whole < 10:
        return _DIGITS[whole]
    if whole < 20:
        return _TEENS[whole - 10]
    if whole < 100:
        return _TENS[whole // 10] + (f"-{_DIGITS[whole % 10]}" if whole % 10 else "")
    for size, name in ((100, "hundred"), (1000, "thousand")):
        if whole < size * (10 if size == 100 else 1000):
            rest = whole % size
            return f"{_whole_in_words(whole // size)} {name}" + (f" {_whole_in_words(rest)}" if rest else "")
    return " ".join(_DIGITS[int(digit)] for digit in str(whole))


def times_in_words(times: int) -> str:
    """Say how many times.

    Examples
    --------
    >>> times_in_words(1), times_in_words(3)
    ('once', '3 times')
    """
    return "once" if times == 1 else f"{times} times"
