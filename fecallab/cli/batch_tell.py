"""What is wrong with tables, told to a person or a machine."""

from __future__ import annotations

from fecallab.cli.batch_record import BatchFaults
from fecallab.cli.output import emit, one_line, say

MOST_LINES = 200
"""How many errors are listed for a person; ``--json`` has all."""


def tell_faults(faults: BatchFaults, as_json: bool) -> None:
    """Print every fault in one line, and one line at the end; a fault that is alone needs no end."""
    listed = faults.faults
    if as_json:
        emit({"error": faults.reason.as_dict(), "errors": [fault.as_dict() for fault in listed]}, "", True)
        return
    if len(listed) == 1:
        say(one_line(f"Not understood: {listed[0]} Nothing was written."))
        return
    for fault in listed[:MOST_LINES]:
        say(one_line(str(fault)))
    if len(listed) > MOST_LINES:
        say(f"... and {len(listed) - MOST_LINES} more; --json lists all.")
    say(one_line(f"Not understood: {faults}"))
