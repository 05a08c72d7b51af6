"""Keys of the marking window, and how they are put on layers so that none of the canvas's own keys can fire."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

DIGITS = tuple("1234567890")
ROW_KEY = "0"
"""Comes before a number of the second row: look-alikes."""


@dataclass(frozen=True)
class KeyWords:
    """What one key does.

    Attributes
    ----------
    action : str
        Name of the method of `MarkingControl`.
    keys : tuple of str
        Combinations as napari writes them; the first one is shown.
    words : str
        What it does.
    part : str
        Under which heading it stands.
    """

    action: str
    keys: tuple[str, ...]
    words: str
    part: str

    @property
    def shown(self) -> str:
        """The first combination as people write it."""
        return spoken_key(self.keys[0])


MARKING, FIELDS, CLIPS, SIZES = "marks", "fields", "clips (Alt and an arrow: frame by frame)", "sizes"
POINTING, MORE = "pointing without a mouse", "more"
KEYS: tuple[KeyWords, ...] = (
    KeyWords("wait_unsure", ("U",), "then a number: mark it as not sure (or Shift and the number)", MARKING),
    KeyWords("toggle_sure", ("S",), "sure / not sure, of the mark at the pointer", MARKING),
    KeyWords("wait_rename", ("R",), "then a number: give the mark at the pointer another name", MARKING),
    KeyWords("other_name", ("N",), "mark or rename by any name, typed", MARKING),
    KeyWords("delete", ("Delete",), "take the mark at the pointer away", MARKING),
    KeyWords("undo", ("Control-Z", "Backspace"), "undo", MARKING),
    KeyWords("redo", ("Control-Shift-Z", "Control-Y"), "redo", MARKING),
    KeyWords("next_field", ("Space", "PageDown"), "next field", FIELDS),
    KeyWords("previous_field", ("Shift-Space", "PageUp"), "field before", FIELDS),
    KeyWords("nothing_here", ("E",), "nothing here: a zero that counts, then the next field", FIELDS),
    KeyWords("next_undone", ("W",), "next field that nothing was said of", FIELDS),
    KeyWords("play", ("B",), "play a clip, stop it", CLIPS),
    KeyWords("tell_moving", ("T",), "work out what moves in a clip; then hide the tracks, show them", CLIPS),
    KeyWords("ask_rate", ("Shift-T",), "the same at another rate than the file says (slow motion)", CLIPS),
    KeyWords(
        "keep_swimmers", ("C",), "then a number: put how many swim into the field under that name", CLIPS
    ),
    KeyWords("measure_line", ("M",), "length of a mark: once at one end, once at the other", SIZES),
    KeyWords(
        "measure_outline", ("O",), "outline of a mark: five points or more around it; Enter ends it", SIZES
    ),
    KeyWords("end_outline", ("Enter",), "end the outline", SIZES),
    KeyWords("no_measure", ("Shift-M",), "take the size off the mark", SIZES),
    KeyWords("left", ("Left",), "move the cross (Shift: far, Ctrl: a pixel)", POINTING),
    KeyWords("next_mark", (".",), "cross to the next mark", POINTING),
    KeyWords("previous_mark", (",",), "cross to the mark before", POINTING),
    KeyWords("zoom_in", ("=", "+"), "larger", POINTING),
    KeyWords("zoom_out", ("-",), "smaller", POINTING),
    KeyWords("whole_field", ("Home",), "the whole field", POINTING),
    KeyWords("next_proposal", ("P",), "cross to the next proposal", MORE),
    KeyWords(
        "accept", ("A",), "agree: the proposal at the pointer becomes a mark (a number: by that name)", MORE
    ),
    KeyWords("dismiss", ("D",), "put the proposal at the pointer away", MORE),
    KeyWords("hide_marks", ("H",), "hide the marks, show them", MORE),
    KeyWords("change_keys", ("K",), "change the keys", MORE),
    KeyWords("to_dock", ("F6",), "from the picture to the panel and back", MORE),
    KeyWords("back_to_marks", ("F8",), "make the marks the active layer", MORE),
    KeyWords("finish", ("Q",), "read over and record", MORE),
    KeyWords("help", ("F1", "?"), "all keys", MORE),
    KeyWords("cancel", ("Escape",), "call off what a key began", MORE),
)
_ARROWS = {"Left": (-1, 0), "Right": (1, 0), "Up": (0, -1), "Down": (0, 1)}
ARROWS: dict[str, tuple[int, int, str]] = {
    f"{modifier}{key}": (*step, modifier)
    for modifier in ("", "Shift-", "Control-")
    for key, step in _ARROWS.items()
}
FRAMES = {"Alt-Left": -1, "Alt-Right": 1}
ACTION_OF: dict[str, str] = {key: one.action for one in KEYS for key in one.keys if one.action != "left"}
UNBINDABLE = ("+", "?")
"""Keys that napari cannot bind; `_qt_keys` brings them."""


def spoken_key(key: str) -> str:
    """Return a combination as people write it.

    Examples
    --------
    >>> spoken_key("Control-Shift-Z"), spoken_key("-")
    ('Ctrl+Shift+Z', '-')
    """
    if key == "-":
        return key
    return key.replace("Control", "Ctrl").replace("-", "+").replace("Left", "arrows").replace("=", "+")


def all_keys(class_keys: Iterable[str] = ()) -> tuple[str, ...]:
    """Return every combination that is bound."""
    numbers = [*DIGITS, *(f"Shift-{digit}" for digit in DIGITS)]
    letters = [key for one in class_keys if one not in DIGITS for key in (one, f"Shift-{one}")]
    known = [*ACTION_OF, *ARROWS, *FRAMES]
    return tuple(dict.fromkeys(key for key in (*numbers, *letters, *known) if key not in UNBINDABLE))


def bind(provider: Any, keys: Iterable[str], press: Callable[[str], object], *, alone: bool) -> None:
    """Put keys on one layer or viewer.

    Parameters
    ----------
    provider : Layer or ViewerModel
        The instance; classes are left as they are.
    keys : iterable of str
    press : callable
        Gets the combination.
    alone : bool
        Let no other key through: on a Points layer the number 1 deletes what is selected, 2 adds, and on a
        Shapes layer 3 deletes. Nothing of that may happen on a layer of ours.
    """
    for key in keys:
        provider.bind_key(key, lambda _provider, key=key: press(key), overwrite=True)
    if alone:
        provider.bind_key(..., no_other_key, overwrite=True)


def no_other_key(_provider: Any) -> None:
    """Do nothing: what a key does that is not one of ours."""


def unbind(provider: Any, keys: Iterable[str]) -> None:
    """Take keys off again."""
    for key in keys:
        provider.bind_key(key, None, overwrite=True)
