"""A store in a folder of its own, and the application over it without a server."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.web.app import create_app

ADDRESS = "http://localhost:8321"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """An empty store."""
    with Store.open(tmp_path / "store") as opened:
        yield opened


@pytest.fixture
def work(store: Store) -> Iterator[Work]:
    """Its long work."""
    with contextlib.closing(Work(store)) as opened:
        yield opened


@pytest.fixture
def app(store: Store, work: Work) -> FastAPI:
    """The application."""
    return create_app(store, work, largest_form=50_000, largest_upload=300_000)


@pytest.fixture
def client(app: FastAPI) -> Iterator[TestClient]:
    """A browser of a kind: it sends its origin, and does not follow."""
    with TestClient(app, base_url=ADDRESS, follow_redirects=False, raise_server_exceptions=False) as opened:
        opened.headers["origin"] = ADDRESS
        opened.headers["accept"] = "text/html"
        yield opened
