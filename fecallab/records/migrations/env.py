"""Environment of the migrations: the caller opens the transaction, and everything happens inside it."""

from __future__ import annotations

from alembic import context

from fecallab.records.columns import metadata


def run() -> None:
    """Run the migrations on the connection that `fecallab.records.migrate` has opened."""
    connection = context.config.attributes["connection"]
    context.configure(
        connection=connection,
        target_metadata=metadata,
        render_as_batch=True,
        transactional_ddl=True,
        transaction_per_migration=False,
    )
    context.run_migrations()


try:
    _inside = context.config is not None
except (AttributeError, NameError):  # imported by a tool, outside of a migration
    _inside = False
if _inside:
    run()
