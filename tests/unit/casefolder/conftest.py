"""A case folder written from its texts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from boostproof.casefolder import Case, read_case

HEAD = "format = 1\n"
CAR = """\
format = 1
[car]
name = "the red coupe"
[engine]
displacement = "2.0 L"
cylinders = 4
redline = "7000 rpm"
[wastegate]
kind = "internal flapper"
[controller]
kind = "none"
"""

Make = Callable[..., Path]
ReadCase = Callable[..., Case]


@pytest.fixture
def make(tmp_path: Path) -> Make:
    """Writes a case: car (None for no file), readings, pulls, and empty recordings by name."""

    def write(
        car: str | bytes | None = CAR,
        readings: str | None = None,
        pulls: str | None = None,
        files: Sequence[str] = (),
    ) -> Path:
        folder = tmp_path / "case"
        folder.mkdir(exist_ok=True)
        texts = {"car.toml": car, "readings.toml": readings, "pulls.toml": pulls} | dict.fromkeys(files, "rpm\n")
        for name, text in texts.items():
            if text is not None:
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())
        return folder

    return write


@pytest.fixture
def read(make: Make) -> ReadCase:
    """Writes a case and reads it; text in ``more`` is put at the end of the car that is complete."""

    def write_and_read(more: str = "", **parts: object) -> Case:
        return read_case(make(CAR + more, **parts))

    return write_and_read
