"""Read by Alembic: runs the steps on the connection, and within the transaction, that it was handed."""

from alembic import context

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    version_table=context.config.attributes["version_table"],
    transactional_ddl=True,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
