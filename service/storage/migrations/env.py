"""Run by Alembic: takes the connection, and the transaction, of `service.storage.migrate`."""

from alembic import context

from service.storage.schema import Table

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Table.metadata,
    transactional_ddl=True,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
