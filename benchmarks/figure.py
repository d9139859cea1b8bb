"""One measured figure with its limit."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """One measured figure, its unit, and the limit beyond which it is a failure."""

    name: str
    value: float
    unit: str
    limit: float | None = None
    at_least: bool = False

    @property
    def good(self) -> bool:
        """Within its limit, or without one."""
        if self.limit is None:
            return True
        return self.value >= self.limit if self.at_least else self.value <= self.limit
