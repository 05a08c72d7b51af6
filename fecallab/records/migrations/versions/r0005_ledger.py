"""The ledger, one line for every row that was recorded until now, and the table of what is redacted.

Frozen: it says what was made then. The rows that are there get their lines from what was found in the
database, in the order of their tables; from now on every command adds its own.
"""

from __future__ import annotations

from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables, and the lines of all rows that are there."""
    op.create_table(
        "ledger",
        sa.Column("line", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("table_name", sa.Text(), nullable=False),
        sa.Column("row_id", sa.Integer(), nullable=False),
        sa.Column("before_id", sa.Integer(), nullable=True),
        sa.Column("code", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("seal", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("line", name="pk_ledger"),
        sa.UniqueConstraint("table_name", "row_id", name="uq_ledger_table_name_row_id"),
    )
    op.create_table(
        "redactions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("table_name", sa.Text(), nullable=False),
        sa.Column("row_id", sa.Integer(), nullable=False),
        sa.Column("column_name", sa.Text(), nullable=False),
        sa.Column("digest", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_redactions"),
        sa.UniqueConstraint(
            "table_name",
            "row_id",
            "column_name",
            "id",
            name="uq_redactions_table_name_row_id_column_name_id",
        ),
    )
    from fecallab.records.ledger import add_lines

    found = sa.MetaData()
    found.reflect(op.get_bind())
    add_lines(op.get_bind(), "", datetime.now(UTC), found)
