"""One measured figure with its limit."""

from __future__ import annotations

from dataclasses import dataclass

CLOCK_UNITS = frozenset({"s", "1/s", "s of CPU", "GFLOP/s"})  # these hang on how fast and how busy the machine is
BROKEN = 2.0  # so many times its limit, a figure of clock time tells of something broken on any machine


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
        return self._within(1.0)

    def fails(self, *, smoke: bool) -> bool:
        """Whether a run ends as failed for it.

        Parameters
        ----------
        smoke : a quick look on a machine that others use; a figure of clock time fails only where it is beyond
            `BROKEN` times its limit. Ratios, errors and memory fail beyond their limit, as everything does without
        """
        return not self._within(BROKEN if smoke and self.unit in CLOCK_UNITS else 1.0)

    def _within(self, times: float) -> bool:
        if self.limit is None:
            return True
        return self.value >= self.limit / times if self.at_least else self.value <= self.limit * times
