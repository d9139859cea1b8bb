"""A job of the invented demo car, as its technician would have brought it in."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from boostproof.jobs import Job
    from boostproof.jobs.store import Store

_SOLUTION = "truth.toml"  # what is wrong with the invented car: nobody in a shop has such a file


def open_demo_job(store: Store) -> Job:
    """Start a job of the demo car: what is known of it, its log and its bench readings."""
    from boostproof.demo import write_demo_case

    with tempfile.TemporaryDirectory(prefix="boostproof-") as place:
        folder = Path(place) / "case"
        write_demo_case(folder)
        (folder / _SOLUTION).unlink()
        return store.import_case(folder)
