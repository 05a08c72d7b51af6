"""The table of the ledger: one line for every row that was ever recorded, each resting on the line before."""

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
