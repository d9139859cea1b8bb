"""Stores in folders of their own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from boostproof.jobs.store import Store

CAR_TOML = 'format = 1\n\n[car]\nname = "The grey wagon"\ncomplaint = ["boost falls off", "whistles"]\n'


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """An empty store."""
    with Store.open(tmp_path / "shop") as opened:
        yield opened


@pytest.fixture
def car_toml() -> str:
    """The beginning of a car.toml."""
    return CAR_TOML
