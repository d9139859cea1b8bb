"""Run by alembic with a connection that the caller opened."""

from __future__ import annotations

from alembic import context

from boostproof.jobs.schema import METADATA


def _run() -> None:
    context.configure(
        connection=context.config.attributes["connection"], target_metadata=METADATA, render_as_batch=True
    )
    context.run_migrations()


if __name__ == "env_py":  # the name that alembic gives it; any other import only looks
    _run()
