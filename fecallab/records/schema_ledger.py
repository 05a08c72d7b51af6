"""The ledger, one line for every row that was ever recorded, and what was redacted since."""

from __future__ import annotations

import sqlalchemy as sa

from fecallab.records.columns import UtcDateTime, part_table, text, whole

ledger = part_table(
    "ledger",
    sa.Column("line", sa.Integer, primary_key=True, autoincrement=False),
    text("table_name"),
    whole("row_id", needed=True),
    whole("before_id"),
    text("code"),
    sa.Column("at", UtcDateTime, nullable=False),
    text("by"),
    text("why"),
    text("digest"),
    text("seal"),
    sa.UniqueConstraint("table_name", "row_id"),
)

redactions = part_table(
    "redactions",
    sa.Column("id", sa.Integer, primary_key=True),
    text("table_name"),
    whole("row_id", needed=True),
    text("column_name"),
    text("digest"),
    text("why"),
    sa.Column("recorded_at", UtcDateTime, nullable=False),
    text("recorded_by"),
    sa.UniqueConstraint("table_name", "row_id", "column_name", "id"),
)
"""A name that was taken out: the digest of the row since then, or for a line the digest of what stood there."""
