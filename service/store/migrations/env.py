"""Runs migrations on the connection that the caller opened; there is no other way to run them."""

from alembic import context

from service.store.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    transactional_ddl=False,  # the caller's transaction holds all steps
    render_as_batch=True,
)
context.run_migrations()
