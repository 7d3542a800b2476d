"""Runs the migrations on the connection it is handed; there is no alembic.ini."""

from alembic import context

from scrieve.store.schema import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    transactional_ddl=True,  # the transaction is the caller's, begun by hand
)
context.run_migrations()
