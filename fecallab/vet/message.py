"""A vet's message in words, as a keeper types it in: ``3 pollen, 7 unsure, rest agree; see me if …``.

Nothing is guessed: a piece that cannot be read for sure is refused with what may stand there.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import NoReturn

from fecallab.domain.errors import BadInput
from fecallab.domain.vet_words import ARTEFACT
from fecallab.vet.item_words import Word

MOST_NUMBERS = 5_000
LONGEST = 8_000

AGREE = {"agree", "agreed", "agrees", "ok", "okay", "yes", "right", "correct", "as you say", "confirmed"}
CANNOT_TELL = {
    *("unsure", "not sure", "unclear", "cannot tell", "can't tell", "cant tell", "cannot say", "can't say"),
    *("?", "don't know", "dont know", "do not know", "cannot be told"),
}
NOTHING = {"artefact", "artifact", "artefacts", "artifacts", "nothing", "dirt", "rubbish"}
_GUESS = re.compile(r"^(probably|maybe|perhaps|likely|possibly|could be|might be|i guess)\s+")
_NUMBERS = re.compile(
    r"^(?:(?:nos?|nr|marks?|numbers?)\b\.?\s*|#\s*)*"
    r"(\d{1,6}(?:\s*(?:-|to\b|and\b|&|\+|/)\s*(?:no\.?\s*|#\s*)?\d{1,6})*)"
    r"(?=$|[\s:=?.)])"
)
_REST = re.compile(
    r"^(?:i\s+)?(?:agree with\s+)?(?:(?:all|everything)\s+(?:of\s+)?)?(?:the\s+)?(?:rest|others?|all|everything)"
    r"(?:\s+else)?\s*(?:is|are|i)?\s*(?P<word>[a-z ]*)$"
)
_ADVICE = re.compile(
    r"^(?:advice\b|see me\b|call\b|ring\b|please\b|write to me\b|tell me\b|keep\b|come in\b)"
)
_PLAN = re.compile(
    r"^(?:(?:the )?(?:new )?plan\b|treat\w*\b|follow[- ]?up\b|repeat (?:the )?(?:plan|course)\b)"
)
_SAME = re.compile(
    r"^(?:plan|treatment)?\W*(?:the )?(?:same|as before|unchanged)(?: plan)?(?: again)?"
    r"(?: as (?:on )?(?P<which>p\d{1,9}|\d.{4,20}))?$"
)
_SENTENCE = re.compile(r"(?<!\b[Nn]o)(?<!\b[Nn]r)(?<!\b[Nn]os)\.\s+(?=[A-Z0-9#])")
_SAYS_NOTHING = {"that is all", "that's all", "thats all", "thanks", "thank you"}
_MISSED = re.compile(r"^(?:you\s+)?(?:missed|overlooked|not marked)\s*:?\s*(.+)$")
_ONE_MISSED = re.compile(r"^(?:(\d{1,4})\s+|an?\s+|one\s+)?(.+?)(?:\s+in\s+(e\d+(?:-\d+){2}))?$")
_GRADE = re.compile(r"^grade\s*:?\s*(.+?)(?:\s+for\s+(.+))?$")
_QUALITY = re.compile(r"^(?:pictures?|photos?|images?)(?:\s+(?:is|are|was|were))?\s*:?\s*(.+)$")


@dataclass
class Told:
    """What a message says, number by number."""

    words: dict[int, Word] = field(default_factory=dict)
    rest_agreed: bool = False
    missed: list[tuple[str, int, bool, str]] = field(default_factory=list)
    grade: str = ""
    grade_target: str = ""
    adequacy: str = ""
    picture_quality: str = ""
    plan: str = ""
    same_as: str = ""
    """Code of the plan that is repeated, or the day on which it was written as it was typed; empty for the last."""
    advice: list[str] = field(default_factory=list)

    @property
    def says_nothing(self) -> bool:
        """Whether nothing was said."""
        return self == Told()


def read_message(text: str, name_of: Callable[[str], str]) -> Told:
    """Read a message that was typed in one line.

    Parameters
    ----------
    text : str
        Pieces with commas between them, sentences of another kind with semicolons or in lines of their own.
    name_of : callable
        Returns the key or group of an organism that was typed, or refuses it.

    Raises
    ------
    BadInput
        For a piece that is not understood, a number given twice, and words without a number.

    Examples
    --------
    >>> told = read_message("3 pollen, 7 unsure, rest agree; see me if it stops eating", str)
    >>> told.words[7].verdict, told.rest_agreed, told.advice
    ('cannot tell', True, ['see me if it stops eating'])
    """
    if len(text) > LONGEST:
        raise BadInput(
            f"The message has {len(text)} characters; {LONGEST} is the limit.",
            next="Type the words on marks here; keep the whole message with --message-file.",
            code="text-too-long",
        )
    told = Told()
    clean = text
    for odd, plain in (
        ("\u2019", "'"),
        ("\u2018", "'"),
        ("\u201c", '"'),
        ("\u201d", '"'),
        ("\u2013", "-"),
        ("\u2014", "-"),
    ):
        clean = clean.replace(odd, plain)
    for clause in re.split(r"[;\r\n]+", clean):
        _read_sentences(clause.strip(), told, name_of)
    return told


def _read_sentences(clause: str, told: Told, name_of: Callable[[str], str]) -> None:
    """Read sentence by sentence; a plan or advice goes on to the end."""
    while clause:
        low = clause.lower()
        found = _SENTENCE.search(clause)
        if found is None or _PLAN.match(low) or _ADVICE.match(low):
            _read_clause(clause.rstrip(".").strip(), told, name_of)
            return
        _read_clause(clause[: found.start()].strip(), told, name_of)
        clause = clause[found.end() :].strip()


def _read_clause(clause: str, told: Told, name_of: Callable[[str], str]) -> None:
    low = clause.lower()
    if not clause or low.strip(" !") in _SAYS_NOTHING:
        return
    if _PLAN.match(low) or _SAME.match(low):
        _read_plan(clause, told)
        return
    missed = _MISSED.match(low)
    if missed:
        for piece in missed[1].split(","):
            _read_missed(piece.strip(), told, name_of)
        return
    waiting: list[int] = []
    pieces = [piece.strip() for piece in clause.split(",")]
    for place, piece in enumerate(pieces):
        if not piece:
            continue
        if _ADVICE.match(piece.lower()):
            said = re.sub(r"^advice\b[\s:=-]*", "", ", ".join(pieces[place:]), flags=re.IGNORECASE)
            told.advice += [said] if said else []
            break
        waiting = _read_piece(piece, waiting, told, name_of)
    if waiting:
        raise BadInput(
            f"Nothing is said of number {waiting[-1]}.",
            next="Type a word after it: 3 pollen, 7 unsure, 9 agree",
            code="word-missing",
        )


def _read_piece(piece: str, waiting: list[int], told: Told, name_of: Callable[[str], str]) -> list[int]:
    """Read one piece; return the numbers that still wait for their word."""
    low = piece.lower().strip(" .")
    found = _NUMBERS.match(low)
    if found is None:
        if waiting:
            _not_understood(piece)
        _read_whole(low, piece, told, name_of)
        return []
    numbers = [*waiting, *_spread(found[1])]
    word = low[found.end() :].strip(" :=.)-")
    word = re.sub(r"^(?:is|are|was|were)\s+", "", word)
    if not word:
        return numbers
    said = word_from(word, name_of)
    for number in numbers:
        if number in told.words:
            raise BadInput(
                f"Number {number} has two words.", next="Say each number once.", code="given-twice"
            )
        told.words[number] = said
    return []


def _spread(text: str) -> list[int]:
    """Return the numbers in ``3``, ``3-5`` or ``3 and 5``."""
    found: list[int] = []
    parts = re.split(r"\s*(-|to\b|and\b|&|\+|/)\s*(?:no\.?\s*|#\s*)?", text)
    found.append(int(parts[0]))
    for joint, number in zip(parts[1::2], parts[2::2], strict=True):
        if joint in ("-", "to"):
            low, high = found[-1], int(number)
            if not low < high <= low + MOST_NUMBERS:
                raise BadInput(
                    f"{low} to {high} is no range.", next="Type the smaller number first.", code="no-range"
                )
            found += range(low + 1, high + 1)
        else:
            found.append(int(number))
    return found


def word_from(word: str, name_of: Callable[[str], str]) -> Word:
    """Return the word on an item for what was typed of it.

    Examples
    --------
    >>> word_from("agree", str).verdict, word_from("probably coccidian", str)
    ('agree', Word(verdict='other', name='coccidian', sure=False, remark=''))
    """
    said = re.sub(r"^i\s+", "", word.lower().strip(" .\"'"))
    if said in AGREE:
        return Word("agree")
    if said in CANNOT_TELL:
        return Word("cannot tell")
    if said in NOTHING:
        return Word("artefact")
    if said in ("no", "wrong", "not", "disagree"):
        raise BadInput(
            f"{word[:40]!r} says what it is not.",
            next="Ask what it is: a name, artefact, or cannot tell.",
            code="name-missing",
        )
    guess = _GUESS.match(said)
    sure = guess is None and not said.endswith("?")
    name = re.sub(r"^(?:an?|some)\s+", "", _GUESS.sub("", said).rstrip("?").strip())
    key = name_of(re.sub(r"\s+(?:eggs?|oocysts?|cysts?|larvae?|trophozoites?|worms?)$", "", name))
    if key == ARTEFACT and sure:
        return Word("artefact", remark="" if name == ARTEFACT else name)
    return Word("other", key, sure)


def _read_whole(low: str, piece: str, told: Told, name_of: Callable[[str], str]) -> None:
    """Read a piece that speaks of no number: the rest, the grade, adequacy, the pictures."""
    rest = _REST.match(low)
    agreed = low in AGREE or low in ("i agree", "agree with you")
    if rest or agreed:
        word = "agree" if agreed or rest is None else rest["word"].strip()
        if word in AGREE or (not word and "agree" in low):
            told.rest_agreed = True
            return
        raise BadInput(
            f"{piece[:60]!r}: only 'rest agree' may be said of the rest.",
            next="Say each of them by its number.",
            code="rest",
        )
    grade = _GRADE.match(low)
    quality = _QUALITY.match(low)
    if grade:
        told.grade, told.grade_target = grade[1].strip(), name_of(grade[2]) if grade[2] else ""
    elif quality and quality[1].strip() in ("good", "usable", "too poor", "poor"):
        told.picture_quality = {"poor": "too poor"}.get(quality[1].strip(), quality[1].strip())
    elif low in ("adequate", "adequacy agreed", "adequate as the table says"):
        told.adequacy = "agree"
    elif low in ("not adequate", "inadequate", "not enough"):
        told.adequacy = "not adequate"
    elif low in ("accept", "accepted", "i accept it", "accept the exam", "accept as adequate"):
        told.adequacy = "accept"
    else:
        _not_understood(piece)


def _read_plan(clause: str, told: Told) -> None:
    if told.plan:
        raise BadInput("The message speaks of a plan twice.", next="Say it once.", code="given-twice")
    same = _SAME.match(clause.lower())
    if same or re.match(r"^repeat (?:the )?(?:plan|course)$", clause.lower()):
        told.plan = "same"
        told.same_as = (same["which"] or "").strip() if same else ""
        if re.fullmatch(r"p\d+", told.same_as):
            told.same_as = told.same_as.upper()
        return
    told.plan = re.sub(r"^(?:the )?(?:new )?plan\b[\s:=-]*", "", clause, flags=re.IGNORECASE).strip()
    if not told.plan:
        _not_understood(clause)


def _read_missed(piece: str, told: Told, name_of: Callable[[str], str]) -> None:
    found = _ONE_MISSED.match(piece)
    if not piece or found is None:
        _not_understood(piece or "missed")
    said = word_from(found[2], name_of)
    if said.verdict != "other":
        _not_understood(piece)
    count = int(found[1] or 1)
    if count < 1:
        _not_understood(piece)
    told.missed.append((said.name, count, said.sure, (found[3] or "").upper()))


def _not_understood(piece: str) -> NoReturn:
    raise BadInput(
        f"{piece[:60]!r} is not understood.",
        next="Say a number with a word (3 pollen; 7 unsure; 9 agree), rest agree, missed 2 oxyurid, grade few,"
        " not adequate, pictures good, plan …, advice …; with ; between sentences.",
        code="not-understood",
    )
