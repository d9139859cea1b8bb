"""The application: pages, guard, errors and the documented interface, over one store."""

from __future__ import annotations

import importlib
from collections.abc import Collection
from typing import TYPE_CHECKING

from fastapi import FastAPI

from boostproof.version import __version__
from boostproof.web import errors, static
from boostproof.web.guard import LARGEST_FORM, LARGEST_UPLOAD, OWN_HOSTS, Guard
from boostproof.web.kept_pages import KeptPages, Turns
from boostproof.web.open_cases import beside
from boostproof.web.words import t

if TYPE_CHECKING:
    from boostproof.jobs.store import Store
    from boostproof.jobs.work import Work

# One module of boostproof.web.pages for each, with a `router`. A new page adds its line here.
PAGES: tuple[str, ...] = (
    "shop",
    "settings",
    "job",
    "car",
    "pulls",
    "tasks",
    "interface",
    "repair",
    "report",
    "ladder",
    "proof",
    "bench",
    "drawings",
    "verdict",
)


def create_app(
    store: Store,
    work: Work,
    *,
    hosts: Collection[str] = OWN_HOSTS,
    largest_form: int = LARGEST_FORM,
    largest_upload: int = LARGEST_UPLOAD,
) -> FastAPI:
    """The worksheet over a store.

    Parameters
    ----------
    store, work : what is kept, and the long work beside the requests
    hosts : names that the server answers to, without ports
    largest_form, largest_upload : bytes of a body, without and with files
    """
    app = describe()
    app.state.store = store
    app.state.work = work
    app.state.turns = Turns()
    app.add_middleware(
        KeptPages, state=lambda: store.memory.state, beside=lambda path: beside(app, path), turns=app.state.turns
    )
    errors.register(app)
    app.add_middleware(Guard, hosts=hosts, largest_form=largest_form, largest_upload=largest_upload)
    return app


def describe() -> FastAPI:
    """All pages without a store behind them: enough to say what there is (``.openapi()``)."""
    app = FastAPI(
        title="boostproof", version=__version__, summary=t("frame.about_interface"),
        docs_url=None, redoc_url=None, openapi_url=None,  # their pages would load from elsewhere
    )  # fmt: skip
    app.include_router(static.router)
    for name in PAGES:
        app.include_router(importlib.import_module(f"boostproof.web.pages.{name}").router, tags=[name])
    return app
