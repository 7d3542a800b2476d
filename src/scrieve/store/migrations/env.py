"""Runs the migrations on the connection it is handed; there is no alembic.ini."""

from typing import Any

from alembic import context

from scrieve.store.schema import metadata


def run(config: Any) -> None:
    """Bring the database up to date, in the transaction that the caller has begun."""
    context.configure(
        connection=config.attributes["connection"],
        target_metadata=metadata,
        render_as_batch=True,
    )
    context.run_migrations()


if (config := getattr(context, "config", None)) is not None:  # None where the module is imported for its examples only
    run(config)
