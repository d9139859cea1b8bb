"""The verdict on one case: ranked causes with reasons, the next test, and what it rests on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from boostproof.bench.procedures import fill
from boostproof.findings import Finding

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Array = NDArray[np.float64]


@dataclass(frozen=True)
class EvidenceShare:
    """What one source of evidence says about one cause: its share of the log odds, in nats and words."""

    source: str
    nats: float
    strength: str
    says: str


@dataclass(frozen=True)
class SeverityShare:
    """How far a parameter has moved, with its standard deviation; SI, and what it is on the sound car."""

    parameter: str
    value: float
    sd: float
    unit: str
    sound: float


@dataclass(frozen=True)
class RankedCause:
    """One cause with its probability and its reasons, strongest first."""

    id: str
    parts: tuple[str, ...]
    title: str
    looks_like: str
    repair: str
    probability: float
    confirmed: bool
    direct_test: str
    severity: tuple[SeverityShare, ...]
    evidence: tuple[EvidenceShare, ...]


@dataclass(frozen=True)
class LookAlikes:
    """Causes that the evidence leaves together, and the test that would part them (empty: none at hand)."""

    ids: tuple[str, ...]
    probability: float
    split_by: str


@dataclass(frozen=True)
class NextTest:
    """A test that is still open, with what it is worth and what each leading cause would answer.

    Quantities in cautions, steps and what is expected are placeholders, see
    :func:`boostproof.bench.procedures.fill`. ``cost`` is minutes as the car stands, with the expected damage of a
    pull; ``risk`` the chance that the pull passes the stop; ``confirms`` the leading cause whose own part it
    measures, where it is offered for that.
    """

    id: str
    title: str
    minutes: float
    minutes_saved: float
    information_bits: float
    cost: float
    expected: dict[str, str]
    cautions: tuple[str, ...]
    steps: tuple[str, ...]
    risk: float = 0.0
    confirms: str = ""


@dataclass(frozen=True)
class WouldChange:
    """A reading of an open test with which something else would lead, and the chance of it.

    ``when`` holds placeholders, see :func:`boostproof.bench.procedures.fill`; ``leader`` is the id of a cause or
    pair, "healthy" or "none_of_these".
    """

    test: str
    when: str
    leader: str
    probability: float


@dataclass(frozen=True)
class SupposedOtherwise:
    """What leads, and with which probability, where something else is assumed."""

    what: str
    leader: str
    probability: float


@dataclass(frozen=True)
class UnknownWorth:
    """A figure of car.toml that was not told, and the minutes of repair that knowing it would save."""

    name: str
    minutes_saved: float


@dataclass(frozen=True)
class Band:
    """Boost that one hypothesis predicts over engine speed: 5, 50 and 95 % points. rpm, Pa gauge"""

    id: str
    title: str
    probability: float
    rpm: Array = field(repr=False)
    low: Array = field(repr=False)
    middle: Array = field(repr=False)
    high: Array = field(repr=False)


@dataclass(frozen=True)
class Curve:
    """Measured boost of one full-load pull. rpm, Pa gauge"""

    name: str
    rpm: Array = field(repr=False)
    boost: Array = field(repr=False)


@dataclass(frozen=True)
class Fit:
    """How far the numbers can be trusted.

    Attributes
    ----------
    trust : "ok", "about" or "order only"
    ess : least effective sample size among the causes above 5 %
    misfit : chance of a misfit as large as the leader's, were it the whole truth
    audited_cars : candidates of this result that were computed again, in double precision with half steps
    audit_difference : largest difference of their boost from what the result rests on [Pa]
    """

    trust: str
    ess: float
    misfit: float
    audited_cars: int = 0
    audit_difference: float = 0.0


@dataclass(frozen=True)
class Verdict:
    """The answer of a diagnosis.

    Attributes
    ----------
    car : its name
    target : boost wanted [Pa gauge], None where unknown
    causes : every cause in play, most probable first
    healthy, none_of_these : probabilities
    involved : by part, alone or paired
    look_alikes, next_tests : best first
    pulls : pull objects as in formats.md
    findings : doubtful data, to be read beside the ranking
    fit : how far to trust it
    sizes : effective sample size of every cause above 1 %, by id
    used, missing : evidence used, and what was not there
    curves, bands : for the picture
    seed, versions, seconds : how it was made
    would_change : readings of the best open tests with which something else would lead
    sensitivity : what leads under other assumptions
    inputs : hash of all that was read, and the choices made, so that the verdict can be made again
    unknowns : figures of car.toml worth finding out, most first
    """

    car: str
    target: float | None
    causes: tuple[RankedCause, ...]
    healthy: float
    none_of_these: float
    involved: dict[str, float]
    look_alikes: tuple[LookAlikes, ...]
    next_tests: tuple[NextTest, ...]
    pulls: tuple[dict[str, Any], ...]
    findings: tuple[Finding, ...]
    fit: Fit
    sizes: dict[str, float]
    used: tuple[str, ...]
    missing: tuple[str, ...]
    curves: tuple[Curve, ...]
    bands: tuple[Band, ...]
    seed: int
    versions: dict[str, str]
    seconds: float
    would_change: tuple[WouldChange, ...] = ()
    sensitivity: tuple[SupposedOtherwise, ...] = ()
    inputs: dict[str, Any] = field(default_factory=dict)
    unknowns: tuple[UnknownWorth, ...] = ()

    @property
    def leader(self) -> RankedCause:
        """The most probable cause."""
        return self.causes[0]

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draw measured boost over the bands of the leading causes; returns the axes."""
        from boostproof.report.verdict_figure import draw_verdict

        return draw_verdict(self, ax)

    def as_json(self) -> dict[str, Any]:
        """The answer of ``boostproof diagnose --json`` (design: contract of diagnose)."""
        return {
            "format": 1,
            "seed": self.seed,
            "versions": self.versions,
            "inputs": self.inputs,
            "causes": [_cause_json(c) for c in self.causes],
            "healthy": self.healthy,
            "none_of_these": self.none_of_these,
            "involved": self.involved,
            "look_alikes": [
                {"ids": list(g.ids), "probability": g.probability, "split_by": g.split_by or None}
                for g in self.look_alikes
            ],
            "next_tests": [
                {
                    "id": t.id,
                    "minutes": t.minutes,
                    "minutes_saved": t.minutes_saved,
                    "information_bits": t.information_bits,
                    "cost": t.cost,
                    "expected": {cause: fill(said) for cause, said in t.expected.items()},
                    "cautions": [fill(text) for text in t.cautions],
                }
                for t in self.next_tests
            ],
            "would_change": [
                {"test": w.test, "when": fill(w.when), "leader": w.leader, "probability": w.probability}
                for w in self.would_change
            ],
            "sensitivity": [
                {"what": s.what, "leader": s.leader, "probability": s.probability} for s in self.sensitivity
            ],
            "pulls": list(self.pulls),
            "findings": [f.as_dict() for f in self.findings],
            "fit": {
                "trust": self.fit.trust,
                "ess": self.fit.ess,
                "misfit": self.fit.misfit,
                "audited_cars": self.fit.audited_cars,
                "audit_difference": round(self.fit.audit_difference / 1e3, 3),
            },
            "used": list(self.used),
            "missing": list(self.missing),
            "unknowns": [{"name": u.name, "minutes_saved": u.minutes_saved} for u in self.unknowns],
            "seconds": self.seconds,
        }


def _cause_json(c: RankedCause) -> dict[str, Any]:
    return {
        "id": c.id,
        "parts": list(c.parts),
        "probability": c.probability,
        "confirmed": c.confirmed,
        "severity": [
            {"parameter": s.parameter, "value": s.value, "sd": s.sd, "unit": s.unit, "sound": s.sound}
            for s in c.severity
        ],
        "evidence": [
            {"source": e.source, "nats": e.nats, "strength": e.strength, "says": e.says} for e in c.evidence
        ],
    }
