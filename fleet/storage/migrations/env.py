"""How does Alembic run here? On the connection it is handed, inside the transaction begun on it."""

from alembic import context

from fleet.storage.schema import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
