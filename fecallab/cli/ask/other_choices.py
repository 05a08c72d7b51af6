"""Values that are chosen from a list in commands without questions of their own, and what is asked besides."""

from __future__ import annotations

from collections.abc import Callable

from fecallab.cli.ask import pick
from fecallab.cli.ask.desk import Desk
from fecallab.cli.ask.question import Question, Reader, choice, day, path, words

Path = tuple[str, ...]
Make = Callable[[Desk, str], Question]


def _case(desk: Desk, name: str) -> Question:
    return pick.case(desk, name)


def _target(desk: Desk, name: str) -> Question:
    from fecallab.domain.organism import TARGET_GROUPS

    return pick.organism(name, TARGET_GROUPS, "Which group?", key=name, label="target", optional=False)


def _words_of(
    label: str,
    text: str,
    options: Callable[[Desk], tuple[str, ...]],
    *,
    default: str | None = None,
    free: bool = False,
) -> Make:
    """Return the maker of a question with a few words to choose from; ``-`` as default leaves it out."""

    def make(desk: Desk, name: str) -> Question:
        values = options(desk)
        read: Reader = choice(name, values, optional=default == "-", free=free)
        said = "left out" if default == "-" else ""
        return Question(
            key=name,
            label=label,
            text=text,
            read=read,
            fills=(name,),
            choices=values[: pick.MANY * 2],
            default=default,
            default_said=said,
        )

    return make


def _event_kinds(desk: Desk) -> tuple[str, ...]:
    from fecallab.domain.animal import EVENT_KINDS

    return EVENT_KINDS


def _measurement_kinds(desk: Desk) -> tuple[str, ...]:
    from fecallab.domain.animal import MEASUREMENT_KINDS

    return MEASUREMENT_KINDS


def _control_kinds(desk: Desk) -> tuple[str, ...]:
    from fecallab.domain.control import CONTROL_KINDS

    return CONTROL_KINDS


def _reactions(desk: Desk) -> tuple[str, ...]:
    from fecallab.reference.signs import reaction_signs

    return tuple(reaction_signs())


def _endings(desk: Desk) -> tuple[str, ...]:
    from fecallab.domain.case import ENDINGS

    return ENDINGS


def _enclosures(desk: Desk) -> tuple[str, ...]:
    return tuple(dict.fromkeys(animal.enclosure for animal in desk.known.animals if animal.enclosure))


def _results(desk: Desk) -> tuple[str, ...]:
    return ("positive", "negative", "inconclusive")


def _stages(desk: Desk) -> tuple[str, ...]:
    from fecallab.domain.organism import STAGES

    return STAGES


def _day(label: str, text: str, default: str | None = None) -> Make:
    def make(desk: Desk, name: str) -> Question:
        return Question(
            key=name,
            label=label,
            text=f"{text} For example 2026-03-04, yesterday",
            read=day(name, desk.now.date(), optional=default == "-"),
            fills=(name,),
            default=default,
            default_said="left out" if default == "-" else "",
        )

    return make


def _folder(text: str, default: str | None = None) -> Make:
    def make(desk: Desk, name: str) -> Question:
        return Question(key=name, label="folder", text=text, read=path(name), fills=(name,), default=default)

    return make


def _optional_vet(desk: Desk, name: str) -> Question:
    return Question(
        key=name,
        label="vet",
        text="Which vet orders it, where a vet must?",
        read=words(name, empty="none"),
        fills=(name,),
        default="-",
        default_said="none",
    )


BY_NAME: dict[str, Make] = {
    "animal": pick.animal,
    "case": _case,
    "sample": pick.sample,
    "exam": pick.exam,
    "preparation": pick.preparation,
    "vet": pick.vet,
    "target": _target,
}
"""Values that mean the same in every command."""

BY_PLACE: dict[Path, Make] = {
    ("report", "case", "code"): _case,
    ("report", "exam", "code"): pick.exam,
    ("vet", "page", "code"): _case,
    ("animal", "event", "kind"): _words_of("what", "What happened?", _event_kinds),
    ("animal", "measure", "kind"): _words_of("length", "Which length?", _measurement_kinds),
    ("exam", "elsewhere", "result"): _words_of("result", "What is the result?", _results),
    ("exam", "elsewhere", "collected"): _day("collected", "On which day was the sample collected?"),
    ("exam", "elsewhere", "stage"): _words_of(
        "stage", "Which stage did they look for?", _stages, default="-"
    ),
    ("exam", "take-in", "folder"): _folder("Which folder with pictures? Drag it into this window"),
    ("case", "close", "ending"): _words_of("ending", "How does it end?", _endings, default="goal reached"),
    ("case", "close", "vet"): _optional_vet,
    ("dose", "reaction", "sign"): _words_of("seen", "What was seen?", _reactions),
    ("control", "add", "kind"): _words_of("kind", "Which control?", _control_kinds),
    ("clean", "log", "enclosure"): _words_of("where", "Which enclosure?", _enclosures, free=True),
    ("records", "make", "folder"): _folder("In which new folder?", "fecallab-records"),
    ("records", "backup", "target"): _folder("Into which folder? A new one, or an earlier backup"),
    ("records", "restore", "backup_folder"): _folder("Which backup? Its folder"),
    ("records", "restore", "folder"): _folder("Into which new folder?"),
    ("batch", "give-out", "folder"): _folder("Into which folder?", "tables"),
    ("batch", "template", "folder"): _folder("Into which folder?", "tables"),
}
"""Values of one command alone."""

ALSO: dict[Path, tuple[str, ...]] = {
    ("animal", "event"): ("start",),
    ("case", "close"): ("ending", "vet", "reason"),
    ("control", "add"): ("found", "expected", "method", "of"),
    ("dose", "other"): ("mg_per_kg", "given_on", "doses"),
    ("dose", "reaction"): ("text",),
    ("exam", "elsewhere"): ("stage", "adequate"),
    ("vet", "page"): ("question",),
}
"""Optional values that are asked too, because the answer is worth little without them."""
