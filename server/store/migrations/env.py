"""Run the migrations on the connection that `server.store.migrate` hands over."""

from alembic import context

from server.store.schema import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,  # SQLite changes a table only by rebuilding it
)
with context.begin_transaction():
    context.run_migrations()
