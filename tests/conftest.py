"""What every test shares: the same examples on every run."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings

# Figures are drawn without a screen. Set before any test imports a module that reads it.
os.environ.setdefault("MPLBACKEND", "Agg")

# Answers remembered by whoever runs the tests must not decide them, nor be touched.
os.environ["BOOSTPROOF_DATA"] = str(Path(tempfile.gettempdir()) / f"boostproof-tests-{os.getpid()}")

# Examples are drawn from a fixed seed: a run that fails for one person fails for everyone.
settings.register_profile("house", derandomize=True, deadline=None, max_examples=100)
settings.load_profile("house")


@pytest.fixture(scope="session")
def repository() -> Path:
    """The root of the working tree."""
    return Path(__file__).resolve().parent.parent
