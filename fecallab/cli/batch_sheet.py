"""One file of a batch: its rows with their places, and what is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from fecallab.cli.batch_columns import Column, Table
from fecallab.domain.errors import FecallabError, Reason


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong, with its place and the way to mend it.

    ``line`` is the line of the file, ``row`` the row that a spreadsheet shows; they differ where a cell holds
    several lines. 0 is the file as a whole.
    """

    file: str
    line: int
    row: int
    column: str
    given: str
    reason: Reason
    last_line: int = 0

    @property
    def place(self) -> str:
        """Where it is, for a person."""
        if not self.line:
            return self.file
        lines = (
            f"lines {self.line} to {self.last_line}" if self.last_line > self.line else f"line {self.line}"
        )
        row = f" (row {self.row} in a spreadsheet)" if self.row not in (0, self.line) else ""
        column = f", column '{self.column}'" if self.column else ""
        return f"{self.file}, {lines}{row}{column}"

    def __str__(self) -> str:
        given = f" {self.given[:60]!r}:" if self.given else ""
        return f"{self.place}:{given} {self.reason}"

    def as_dict(self) -> dict[str, Any]:
        """Return it for ``--json``."""
        where = {"file": self.file, "line": self.line or None, "row": self.row or None}
        last = {"last_line": self.last_line or self.line or None}
        return {**where, **last, "column": self.column, "given": self.given, **self.reason.as_dict()}


@dataclass(frozen=True)
class RawRow:
    """One row with its cells as they stand in the file."""

    line: int
    row: int
    cells: dict[str, str]
    grid: dict[int, str] = field(default_factory=dict)


@dataclass
class Sheet:
    """One file: what kind of table it is, and its rows.

    ``orders`` says in which order day and month were read, by the titles of columns where that was open.
    """

    file: str
    table: Table | None = None
    encoding: str = ""
    separator: str = ""
    rows: list[RawRow] = field(default_factory=list)
    columns: list[Column] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    orders: dict[str, str] = field(default_factory=dict)

    def blame(
        self, trouble: FecallabError | Reason, row: RawRow | None = None, column: str = "", given: str = ""
    ) -> None:
        """Note a fault of a row, or of the file."""
        reason = trouble.reason if isinstance(trouble, FecallabError) else trouble
        line, number = (row.line, row.row) if row is not None else (0, 0)
        self.faults.append(Fault(self.file, line, number, column, given, reason))
