"""How migrations run: on the connection that the store hands over."""

from __future__ import annotations

from alembic import context

from planner.store.schema import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata, render_as_batch=True)
context.run_migrations()
