"""A style of log (lines of text, see `styles_held_out`) made into a table, with what each column is."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from boostproof.recording.model import Column, Table

Array = NDArray[np.float64]
Truth = dict[str, tuple[str, str, str | None] | None]


def drive(rate: float = 20.0, seed: int = 77) -> dict[str, Array]:
    """The invented drive of the fixtures."""
    path = Path(__file__).resolve().parents[2] / "fixtures" / "recordings" / "drive.py"
    spec = importlib.util.spec_from_file_location("drive_of_styles", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    drawn: dict[str, Array] = module.drive(rate, seed)
    return drawn


def style_table(lines: str, drawn: dict[str, Array]) -> tuple[Table, Truth]:
    """Columns and truth of one style."""
    columns: list[Column] = []
    truth: Truth = {}
    for line in lines.strip().splitlines():
        head, numbers, told = (part.strip() for part in line.rsplit(";", 2))
        header, _, unit = (part.strip() for part in head.partition("||"))
        found = re.fullmatch(r"(\w+?)(?:\*([\d.]+))?(?:\+([\d.]+))?", numbers)
        assert found is not None, line
        values = drawn[found[1]] * float(found[2] or 1.0) + float(found[3] or 0.0)
        columns.append(Column(header, unit, values))
        channel, *rest = told.split()
        if channel == "-":
            truth[header] = None
            continue
        shown = "" if rest[0] == "1" else rest[0]
        truth[header] = (channel, shown, rest[1] if len(rest) > 1 else None)
    return Table("log.csv", "csv", len(columns[0].values), tuple(columns)), truth
