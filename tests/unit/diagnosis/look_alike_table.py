"""Pairs of causes that the trade says no log can separate, with the test that does; and what the simulation says.

Pairs and tests are those of the project's physics notes, section 3.3. Car, severities and the part of the ramp
are chosen where the boost traces are most alike. Where the simulation disagrees its reason stands beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

from tests.unit.diagnosis.signature_table import BALL, EDGE, EXTERNAL

TOGETHER, APART = 0.85, 0.95  # probability of the true one against the other


@dataclass(frozen=True)
class Pair:
    """Two look-alikes.

    Attributes
    ----------
    first, second : ids
    kind : usual car
    severities : of the first and the second
    tests : that part them, each alone
    up_to : share of redline at which the logged ramp ends
    fails : a test that the trade names and that does not part them here
    finding : where the simulation disagrees, and why
    """

    first: str
    second: str
    kind: str
    severities: tuple[float, float]
    tests: tuple[str, ...]
    up_to: float = 0.97
    fails: str = ""
    finding: str = ""

    @property
    def name(self) -> str:
        """Both ids."""
        return f"{self.first} and {self.second}"


PAIRS = (
    Pair("port-too-small", "gate-travel-limited", EDGE, (0.9, 0.9), ("free-travel", "port-measure")),
    Pair("port-too-small", "port-entry-poor", EDGE, (0.3, 0.5), ("port-measure",)),
    Pair("gate-travel-limited", "port-entry-poor", EDGE, (0.8, 0.8), ("free-travel",)),
    Pair(
        "controller-set-high", "signal-line-leak", BALL, (0.8, 0.8), ("bleed-decay",), fails="controller-sweep",
        finding="The sweep through the controller is meant to show the leak as a slope below one. What is read of "
        "it is the pressure at first movement, and a leak raises that as a higher setting does; over the span "
        "of the spring the slope would add 3 kPa, less than the reading of full travel is worth. How fast the pressure "
        "goes parts them: a leak lets it go at once.",
    ),
    Pair(
        "signal-line-open", "gate-seized-shut", BALL, (0.9, 0.9), ("line-pressure-log", "actuator-sweep"), up_to=0.5,
        finding="They are alike only as far as a careful person would drive them. Further up the exhaust pushes "
        "open a gate that has only its spring, and boost settles where it balances; a seized one cannot be pushed.",
    ),
    Pair("spring-too-strong", "controller-set-high", BALL, (0.8, 0.8), ("spring-only-pull",)),
    Pair("gate-not-seating", "turbo-worn", EXTERNAL, (0.2, 0.2), ("seat-leak",)),
    Pair(
        "spring-droop", "port-too-small", BALL, (0.1, 0.15), ("actuator-sweep",), up_to=0.853,
        finding="The last 1000 rpm show the knee of a port that is clearly too small; where it is just too small, "
        "the whole ramp leaves them together as well, and the sweep decides.",
    ),
)  # fmt: skip
