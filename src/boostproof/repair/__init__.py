"""What mends a car, and what it will then do: repairs as changes of candidates, and their forecast."""

from __future__ import annotations

from boostproof.repair.catalogue import BY_ID, CATALOGUE, repairs_for, usual_repair
from boostproof.repair.forecast import Asked, Forecast, Problem, forecast
from boostproof.repair.words import parse_repairs

__all__ = [
    "BY_ID", "CATALOGUE", "Asked", "Forecast", "Problem", "forecast", "parse_repairs", "repairs_for", "usual_repair",
]  # fmt: skip
