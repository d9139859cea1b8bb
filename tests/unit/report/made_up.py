"""Verdicts made up by hand: the invented numbers only have to be easy to find again in the report."""

from __future__ import annotations

import numpy as np

from boostproof.findings import Finding
from boostproof.workflows.verdict import (
    Band,
    Curve,
    EvidenceShare,
    Fit,
    LookAlikes,
    NextTest,
    RankedCause,
    SeverityShare,
    SupposedOtherwise,
    Verdict,
    WouldChange,
)

# 1 lbf = 0.45359237 kg * 9.80665 m/s2 and 1 in = 0.0254 m, exact: NIST Special Publication 811, appendix B.8
PSI = 0.45359237 * 9.80665 / 0.0254**2


def cause(name: str, probability: float, *, confirmed: bool = False) -> RankedCause:
    """A cause "Torn NAME …", with a title about as long as the catalogue's longest (46 characters)."""
    return RankedCause(
        id=name,
        parts=(name,),
        title=f"Torn {name} that opens only when hot and loaded up",
        looks_like="boost falls",
        repair=f"A new {name}; then the same pull again.",
        probability=probability,
        confirmed=confirmed,
        direct_test=f"{name}-test",
        severity=(SeverityShare("opening_pressure", 10.0 * PSI, 0.5 * PSI, "Pa", 12.0 * PSI),),
        evidence=(
            EvidenceShare("log", 4.0, "strong", "the log speaks strongly for it"),
            EvidenceShare("leak test", -1.0, "slight", "the leak test speaks slightly against it"),
            EvidenceShare("how common it is", -3.5, "strong against", "how common it is speaks strongly against it"),
            EvidenceShare("shaft", 0.01, "none", "the shaft says nothing"),
        ),
    )


def band(name: str, probability: float) -> Band:
    """5, 50 and 95 % points one psi apart."""
    rpm = np.linspace(2500.0, 6500.0, 9)
    middle = np.linspace(10.0, 16.0, 9) * PSI
    return Band(name, f"Torn {name}", probability, rpm, middle - PSI, middle, middle + PSI)


def verdict(
    *causes: RankedCause,
    healthy: float = 0.0,
    none_of_these: float = 0.0,
    trust: str = "ok",
    misfit: float = 0.4,
    bands: tuple[Band, ...] = (),
    target: float | None = 15.0 * PSI,
    tests: bool = True,
    assumed: tuple[tuple[str, str], ...] = (),
) -> Verdict:
    """A whole verdict on the car "Testwagen" around the given causes."""
    rpm = np.linspace(2000.0, 6800.0, 40)
    ids = tuple(c.id for c in causes)
    test = NextTest(
        id=f"{ids[0]}-test",
        title="Pressed up with shop air, every joint listened to and wetted with soap water from below",
        minutes=20.0,
        minutes_saved=35.0,
        information_bits=0.8,
        cost=3.0,
        expected={ids[0]: "drops by more than half within ten seconds", "healthy": "holds for a minute"},
        cautions=("Shop air can throw a loose hose with great force: regulator shut first, eyes covered.",),
        steps=("Close the intake with a plug that has its own relief valve.", "Listen along every joint."),
    )
    return Verdict(
        car="Testwagen",
        target=target,
        causes=causes,
        healthy=healthy,
        none_of_these=none_of_these,
        involved={c.id: c.probability for c in causes},
        look_alikes=(LookAlikes(ids, sum(c.probability for c in causes), ""),) if len(ids) > 1 else (),
        next_tests=(test,) if tests else (),
        pulls=(),
        findings=(Finding("lost-cells", "log.csv, boost", "Five cells are empty.", "Log it once more."),),
        fit=Fit(trust, 200.0, misfit),
        sizes={},
        used=("log",),
        missing=("test: shaft-check", "car: gate port"),
        curves=(
            Curve("pull 1", rpm[:30], np.linspace(1.0, 14.0, 30) * PSI),
            Curve("pull 2", rpm, np.linspace(1.0, 17.0, 40) * PSI),
        ),
        bands=bands,
        seed=1,
        versions={},
        seconds=0.1,
        would_change=(WouldChange("leak-test", "pressure below {62 kPa}", ids[-1], 0.2),) if tests else (),
        sensitivity=tuple(SupposedOtherwise(what, leader, 0.6) for what, leader in assumed),
    )
