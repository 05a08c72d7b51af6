"""What a tally shows: 24 lines of 80 plain characters, no colour, nothing that scrolls."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from fecallab.cli.typed import say_number
from fecallab.domain.spoken import say_percent
from fecallab.domain.tally import Spot, Tally

WIDTH, HEIGHT = 80, 24
"""The smallest window that everything fits into."""
NAME_WIDTH = 24
MISSING_LINES = 4


@dataclass(frozen=True)
class Facts:
    """What stands beside the counts.

    Attributes
    ----------
    title : str
        Whose preparation it is.
    share : float or None
        Share of the cover glass read at this objective or a stronger one, earlier readings included.
    missing : tuple of str
        What is still missing for a negative, a line each.
    """

    title: str
    share: float | None = None
    missing: tuple[str, ...] = ()


def screen_lines(
    tally: Tally,
    facts: Facts,
    *,
    message: str = "",
    unsure: bool = False,
    second_row: bool = False,
    width: int = WIDTH,
    height: int = HEIGHT,
) -> list[str]:
    """Return the whole screen.

    Parameters
    ----------
    message : str
        What the last key did, or why it did nothing.
    unsure, second_row : bool
        Whether ``u`` or ``0`` was pressed and waits for its number.
    width, height : int
        Of the window; lines are cut to it, and the help goes first when the window is too low.
    """
    what = "sweep" if tally.sweeping else tally.unit
    place = what if tally.sweeping else f"{what} {tally.number}"
    lines = [
        _ends(facts.title, f"{_through(tally)}   {place.upper()}", width),
        f"  key {'':{NAME_WIDTH}}{'this ' + what:>10}{'in all':>7}{'unsure':>7}  {_mean_head(tally)}",
    ]
    lines += table_lines(tally, second=second_row)
    lines += ["-" * width, _covered(tally, facts)]
    lines += _missing(facts.missing, width)
    waiting = [word for word, waits in (("NOT SURE:", unsure), ("LOOK-ALIKE:", second_row)) if waits]
    lines += ["-" * width, " ".join([*waiting, "press its number"]) if waiting else message]
    room = max(1, height - len(lines))
    plain = (line.replace("×", "x") for line in [*lines, *help_lines(tally)[:room]][:height])
    return [line[: width - 1].rstrip() for line in plain]


def table_lines(tally: Tally, *, second: bool) -> list[str]:
    """Return a line for every key of a row, and one for the row behind ``0``."""
    names = tally.second if second else tally.first
    lines = [_line(tally, f"{'0 ' if second else ''}{i}", name) for i, name in enumerate(names, start=1)]
    if not names:
        lines.append("      no organism has a key yet: press n and type its name")
    if tally.second and not second:
        here = sum(tally.open.seen(n, sure=s) for n in tally.second for s in (True, False))
        whole = sum(tally.in_all(n) for n in tally.second)
        unsure = sum(tally.in_all(n, sure=False) for n in tally.second)
        lines.append(f"  {'0':>3} {'look-alikes: 0, then 1-9':{NAME_WIDTH}}{here:>10}{whole:>7}{unsure:>7}")
    return lines


def _line(tally: Tally, key: str, name: str) -> str:
    here = tally.open.seen(name) + tally.open.seen(name, sure=False)
    unsure = tally.in_all(name, sure=False)
    said = name.replace("_", " ")[: NAME_WIDTH - 1]
    start = f"  {key:>3} {said:{NAME_WIDTH}}{here:>10}{tally.in_all(name):>7}"
    return f"{start}{unsure or '':>7}  {mean_text(tally, name)}"


def mean_text(tally: Tally, name: str) -> str:
    """Return the mean per finished field with its 95 % interval, or the limit that none leaves."""
    density = tally.density(name)
    if density is None:
        return ""
    if density.upper95_if_zero is not None:
        return f"0 (under {say_number(density.upper95_if_zero)})"
    low, high = (say_number(limit) for limit in density.ci95)
    return f"{say_number(density.mean_per_field)} ({low}-{high})"


def _mean_head(tally: Tally) -> str:
    return "" if tally.unit == "chamber" else "per field (95 %)"


def _through(tally: Tally) -> str:
    power = "" if tally.objective is None else f"{tally.objective:g}x"
    eyepiece = "" if tally.field_number is None else f"/ field number {tally.field_number:g}"
    return f"{power} {eyepiece}".strip()


def _ends(left: str, right: str, width: int) -> str:
    """Return two texts at both ends of a line; the left one gives way."""
    return f"{left[: max(0, width - len(right) - 2)]:<{max(0, width - 1 - len(right))}}{right}"


def _covered(tally: Tally, facts: Facts) -> str:
    units = sum(spot.kind == tally.unit for spot in tally.done)
    sweeps = sum(spot.kind == "sweep" for spot in tally.done)
    said = f"Finished: {_many(units, tally.unit)}"
    if sweeps:
        said += f", {_many(sweeps, 'sweep')}"
    said += f"; counted in all {tally.total()}"
    if tally.unit == "chamber":
        return said
    if facts.share is None:
        return f"{said}; share of the glass not known (f: the eyepiece's number)"
    at = "" if tally.objective is None else f" at {tally.objective:g}x"
    return f"{said}; {say_percent(facts.share)} of the glass read{at}"


def _many(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _missing(missing: Sequence[str], width: int, *, most: int = MISSING_LINES) -> list[str]:
    """Return what is missing in few lines; what finds no room is shown before recording."""
    lines = [line for one in missing for line in textwrap.wrap(one, width - 1, subsequent_indent="    ")]
    return lines if len(lines) <= most else [*lines[: most - 1], "... q shows the rest"]


def help_lines(tally: Tally) -> list[str]:
    """Return what the keys do."""
    space = "s ends the sweep" if tally.sweeping else f"space next {tally.unit}"
    sweep = "" if tally.sweeping or tally.unit == "chamber" else "s sweep  "
    return [
        f"1-9 count  u 1-9 not sure  0 1-9 look-alike  {space}  backspace undo",
        f"{sweep}r redo  n new organism  o objective  f eyepiece  ? more  q finish",
    ]


def brief_lines(tally: Tally, facts: Facts, message: str) -> list[str]:
    """Return the same in few words, for a terminal in which lines follow each other."""
    lines = [message] if message else []
    if tally.done:
        last = tally.done[-1]
        number = f" {tally.number - 1}" if last.kind == tally.unit else ""
        lines.append(f"Last {last.kind}{number}: {spot_text(last)}")
    whole = "; ".join(
        f"{n} {name.replace('_', ' ')}" + (f" ({mean})" if (mean := mean_text(tally, name)) else "")
        for name in tally.names
        if (n := tally.in_all(name) + tally.in_all(name, sure=False))
    )
    lines.append(f"In all: {whole or 'nothing'}")
    lines.append(_covered(tally, facts))
    lines += facts.missing[:1]
    now = "sweep (s ends it)" if tally.sweeping else f"{tally.unit} {tally.number}"
    held = "" if tally.open.empty else f", so far {spot_text(tally.open)}"
    return [*lines, f"Now: {now}{held}"]


def spot_text(spot: Spot) -> str:
    """Return what was seen in a field, a sweep or a chamber.

    Examples
    --------
    >>> spot_text(Spot("field", 10, 20, (("oxyurid", 2),), (("pollen_pine", 1),)))
    '2 oxyurid, 1 pollen pine (not sure)'
    """
    seen = [f"{n} {name.replace('_', ' ')}" for name, n in spot.counts]
    seen += [f"{n} {name.replace('_', ' ')} (not sure)" for name, n in spot.unsure]
    text = ", ".join(seen) or "nothing"
    if spot.kind == "sweep":
        return f"{text}; share {'not known' if spot.share is None else say_percent(spot.share)}"
    return text


def read_back_lines(tally: Tally, facts: Facts) -> list[str]:
    """Return what is about to be recorded, field by field."""
    lines = [f"To be recorded: {facts.title}", f"  {_covered(tally, facts)}"]
    taken = tally.spots if not tally.open.empty else tally.done
    kinds = dict.fromkeys((spot.kind, spot.objective) for spot in taken)
    for kind, power in kinds:
        spots = [spot for spot in taken if (spot.kind, spot.objective) == (kind, power)]
        at = "" if power is None else f" at {power:g}x"
        if kind == "sweep":
            lines += [f"  sweep{at}: {spot_text(spot)}" for spot in spots]
            continue
        lines.append(f"  {_many(len(spots), kind)}{at}:")
        for name in tally.names:
            for sure in (True, False):
                row = [spot.seen(name, sure=sure) for spot in spots]
                if sum(row):
                    word = "" if sure else ", not sure"
                    said = f"{name.replace('_', ' ')}{word}"
                    lines.append(f"    {said[:28]:<28}{sum(row):>4} = {_shortened(row)}")
    if not any(n for spot in taken for _, n in (*spot.counts, *spot.unsure)):
        lines.append("    nothing was seen in any of them")
    return lines + [f"  {line}" for line in _missing(facts.missing, WIDTH - 2, most=99)]


def _shortened(row: Sequence[int]) -> str:
    text, room = ",".join(map(str, row)), WIDTH - 40
    return text if len(text) <= room else f"{text[: room - 3].rpartition(',')[0]},..."
