"""Questions and answers: what is asked, how an answer is read, and which options of the command it fills."""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from fecallab.cli.ask import amounts, moments
from fecallab.cli.ask.talk import UNKNOWN, Talk
from fecallab.cli.typed import plain_number
from fecallab.domain.errors import BadInput
from fecallab.domain.spoken import say_date

Value = str | bool | tuple[str, ...] | None
NOT_KNOWN = "not known"


@dataclass(frozen=True)
class Answer:
    """One answer.

    Attributes
    ----------
    said : str
        In words, for the read-back.
    values : mapping of str to Value
        What it fills in, by the names of the command's parameters; None leaves one out.
    typed : str
        What was typed: the default when the question comes again.
    first : tuple of str
        The words of another command that is run before, once everything was read back.
    """

    said: str
    values: Mapping[str, Value] = field(default_factory=dict)
    typed: str = ""
    first: tuple[str, ...] = ()

    @property
    def only(self) -> str:
        """The text of its one value, empty when it is not known."""
        value = next(iter(self.values.values()), None)
        return value if isinstance(value, str) else ""


Reader = Callable[[str, Talk], Answer]


@dataclass(frozen=True)
class Question:
    """One question.

    Attributes
    ----------
    key : str
        Its name within the conversation.
    label : str
        What stands before the answer when everything is read back.
    text : str
        The question in plain words, with an example.
    read : callable
        Reads what was typed, or raises `BadInput`.
    fills : tuple of str
        The parameters that it fills; it is not asked when one of them was given.
    default : str or None
        What Enter stands for, as if it had been typed; None when an answer is needed.
    default_said : str
        How the default is shown between the brackets.
    choices : tuple of str
        What may be chosen by its number, in words.
    why : str
        What ``?`` says more.
    before : str
        Said before the question is asked.
    seen_before : bool
        The list of its choices was shown by an earlier question, and comes again for ``?`` only.
    of_records : bool
        It names something in the records: what came with the command is looked up and said in words.
    quiet : bool
        It is not asked, takes its default, and can be changed when everything is read back.
    """

    key: str
    label: str
    text: str
    read: Reader
    fills: tuple[str, ...] = ()
    default: str | None = None
    default_said: str = ""
    choices: tuple[str, ...] = ()
    why: str = ""
    before: str = ""
    seen_before: bool = False
    of_records: bool = False
    quiet: bool = False


Script = Generator[Question, Answer, Sequence[str]]
"""The questions of one act, in the order of the work; it returns lines that the read-back adds."""


def is_unknown(typed: str) -> bool:
    """Say whether "not known" was typed."""
    return typed.strip().lower() in UNKNOWN


def not_known(*names: str) -> Answer:
    """Return the answer that leaves these parameters out."""
    return Answer(NOT_KNOWN, dict.fromkeys(names), "-")


def amount(
    name: str,
    unit: str,
    *,
    low: float,
    high: float,
    units: Mapping[str, float] | None = None,
    optional: bool = True,
) -> Reader:
    """Return the reader of one number with its unit."""
    known = {unit: 1.0} if units is None else units

    def read(typed: str, talk: Talk) -> Answer:
        if optional and is_unknown(typed):
            return not_known(name)
        value = plain_number(amounts.read_amount(typed, talk, units=known, low=low, high=high))
        return Answer(with_unit(value, unit), {name: value}, typed)

    return read


def with_unit(value: str, unit: str) -> str:
    """Return a number with its unit; from 1000 g on in kg too, so that a slip between the two is seen.

    Examples
    --------
    >>> with_unit("45200", "g"), with_unit("0.5", "ml"), with_unit("7", "")
    ('45200 g (45.2 kg)', '0.5 ml', '7')
    """
    if unit == "g" and float(value) >= 1000:
        return f"{value} g ({plain_number(float(value) / 1000)} kg)"
    return f"{value} {unit}".strip()


def moment(name: str, now: datetime) -> Reader:
    """Return the reader of one moment; ``now`` leaves the parameter out."""

    def read(typed: str, talk: Talk) -> Answer:
        if typed.strip().lower() == "now":
            return Answer("now", {name: None}, "now")
        when = moments.read_moment(typed, talk, now)
        return Answer(moments.say_moment(when, now), {name: f"{when:%Y-%m-%d %H:%M}"}, typed)

    return read


def day(name: str, today: date, *, optional: bool = False) -> Reader:
    """Return the reader of one day."""

    def read(typed: str, talk: Talk) -> Answer:
        if optional and is_unknown(typed):
            return not_known(name)
        found = moments.read_day_typed(typed, talk, today)
        return Answer(say_date(found), {name: f"{found}"}, typed)

    return read


def words(name: str, *, optional: bool = True, empty: str = "nothing") -> Reader:
    """Return the reader of free words; ``-`` is none."""

    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            if not optional:
                raise BadInput("This one is needed.", next="Type it, or q to stop.")
            return Answer(empty, {name: None}, "-")
        return Answer(typed, {name: typed}, typed)

    return read


def path(name: str, *, optional: bool = False) -> Reader:
    """Return the reader of a file or folder; quotes around it, as a dragged file has them, are taken off."""

    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            if not optional:
                raise BadInput("This one is needed.", next="Type it, or q to stop.")
            return Answer("none", {name: None}, "-")
        bare = unquoted(typed)
        return Answer(bare, {name: bare}, typed)

    return read


def unquoted(typed: str) -> str:
    r"""Return a path without the quotes around it; backslashes stay.

    Examples
    --------
    >>> unquoted('"C:\\My Slides\\a 1.jpg"') == "C:\\My Slides\\a 1.jpg"
    True
    """
    bare = typed.strip()
    if bare.startswith("& "):
        bare = bare[2:].strip()
    if len(bare) > 1 and bare[0] == bare[-1] and bare[0] in "\"'":
        return bare[1:-1]
    return bare


def yes_no(name: str, *, yes: Value = True, no: Value = False) -> Reader:
    """Return the reader of yes, no or not known."""

    def read(typed: str, talk: Talk) -> Answer:
        word = typed.strip().lower()
        if is_unknown(word):
            return not_known(name)
        if word in ("y", "yes", "1"):
            return Answer("yes", {name: yes}, "y")
        if word in ("n", "no", "2"):
            return Answer("no", {name: no}, "n")
        raise BadInput(f"{typed[:40]!r} is neither y nor n.", next="Type y, n, or - for not known.")

    return read


def chosen(typed: str, names: Sequence[str]) -> int | None:
    """Return the place of what was chosen by number, by its name or by the beginning of it; None for none.

    Raises
    ------
    BadInput
        When the number is too high, or more than one name begins so.
    """
    word = typed.strip().casefold()
    plain = [name.casefold() for name in names]
    if word in plain:
        return plain.index(word)
    if word.isdecimal():
        if 1 <= int(word) <= len(names):
            return int(word) - 1
        raise BadInput(f"There is no {word} in the list.", next=f"Type a number from 1 to {len(names)}.")
    found = [place for place, name in enumerate(plain) if name.startswith(word)]
    found = found or [place for place, name in enumerate(plain) if word in name]
    if len(found) > 1:
        fitting = ", ".join(f"{place + 1} {names[place]}" for place in found[:6])
        raise BadInput(f"{typed[:40]!r} fits more than one.", next=f"Type the number: {fitting}")
    return found[0] if found else None


def choice(name: str, values: Sequence[str], *, optional: bool = False, free: bool = False) -> Reader:
    """Return the reader of one of a few words; with `free` any other text is taken too."""

    def read(typed: str, talk: Talk) -> Answer:
        if is_unknown(typed):
            if optional:
                return not_known(name)
            raise BadInput("This one is needed.", next="Choose one, or q to stop.")
        place = chosen(typed, values)
        if place is not None:
            return Answer(values[place], {name: values[place]}, values[place])
        if free:
            return Answer(typed, {name: typed}, typed)
        listed = ", ".join(f"{number} {value}" for number, value in enumerate(values, start=1))
        raise BadInput(f"{typed[:40]!r} is none of these.", next=f"Type one of: {listed}")

    return read
