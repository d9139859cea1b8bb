"""What is said about cells that hold no number."""

from __future__ import annotations

from collections.abc import Sequence

from boostproof.findings import Finding
from boostproof.recording.model import Column


def about_lost_cells(columns: Sequence[Column], rows: int, where: str) -> list[Finding]:
    """One finding for all columns with lost cells; none for columns that hold hardly any number.

    Parameters
    ----------
    columns : of one table
    rows : of that table
    where : the file
    """
    partly = [c for c in columns if 0 < c.lost_cells <= 0.5 * rows]
    if not partly:
        return []
    named = ", ".join(f"{c.header} {c.lost_cells}" for c in partly)
    total = sum(c.lost_cells for c in partly)
    cells = "1 cell holds no number and was" if total == 1 else f"{total} cells hold no number and were"
    return [
        Finding(
            "lost-cells",
            where,
            f"{cells} left out ({named}).",
            "Nothing to do if these are few; many point to a loose plug or an overloaded logger.",
        )
    ]
