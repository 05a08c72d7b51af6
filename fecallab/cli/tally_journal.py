"""The journal of a tally: one line per key on the disk before anything else, so that nothing is lost."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from fecallab.cli.tally_draft import VERSION, WHAT, Draft, read_draft
from fecallab.domain.tally import Act
from fecallab.records import journal
from fecallab.records.drafts import DRAFTS
from fecallab.records.journal import JournalWords

WORDS = JournalWords(
    not_begun="No tally can be begun in",
    not_kept="That key could not be kept ({why}); it is not counted.",
    not_kept_next="Free some space on the disk, then press it again.",
    open_elsewhere="This tally is open in another window.",
    open_elsewhere_code="tally-open",
)


class Journal(journal.Journal):
    """An open journal; `act` returns only when the line is on the disk."""

    def act(self, act: Act) -> None:
        """Write one act of the tally."""
        said = {key: value for key, value in asdict(act).items() if value not in ("", None)}
        self.append({("act" if key == "kind" else key): value for key, value in said.items()})


def begin(folder: Path, head: Mapping[str, Any]) -> tuple[Journal, Draft]:
    """Begin a journal in the drafts of a record folder.

    Parameters
    ----------
    folder : Path
        The record folder.
    head : mapping
        ``of``, ``began`` (ISO time), ``first``, ``second``, ``objective``, ``field_number``, ``chamber``, and
        whatever else is needed to go on.
    """
    stem = f"tally-{head['of']}-{''.join(c for c in head['began'] if c.isdigit())}"
    made = _of_a_tally(journal.begin_journal(_Names(folder / DRAFTS, stem), WORDS))
    try:
        made.append({"what": WHAT, "version": VERSION, **head})
    except BaseException:
        made.remove()
        raise
    return made, read_draft(made.path)


def resume(path: Path) -> tuple[Journal, Draft]:
    """Open a journal to go on with it.

    Raises
    ------
    CouldNot
        When another window counts in it, or it is damaged.
    """
    made = _of_a_tally(journal.go_on_with_journal(path, WORDS))
    try:
        draft = read_draft(path)
        made.cut(draft.good_bytes)
    except BaseException:
        made.close()
        raise
    return made, draft


def _of_a_tally(made: journal.Journal) -> Journal:
    return Journal(made.path, made.handle, made.words, made.end)


class _Names:
    """Names for a new journal, in the order in which they are tried."""

    def __init__(self, drafts: Path, stem: str) -> None:
        self.drafts, self.stem = drafts, stem

    def __iter__(self) -> Iterator[Path]:
        yield self.drafts / f"{self.stem}.jsonl"
        for number in range(2, 1000):
            yield self.drafts / f"{self.stem}-{number}.jsonl"
