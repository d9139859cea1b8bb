"""A case held open whose result is set by hand, and the log that it was driven with."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from tests.unit.small_car import small_car

from boostproof.casefolder import read_case
from boostproof.diagnosis.evidence.hypotheses import hypotheses_for
from boostproof.diagnosis.evidence.setup import build
from boostproof.diagnosis.history.evidence import history_evidence
from boostproof.diagnosis.inference.fit import Mode
from boostproof.diagnosis.inference.importance import Draws
from boostproof.diagnosis.inference.posterior import Posterior
from boostproof.diagnosis.inference.weighing import beliefs_for
from boostproof.workflows.driven import read_driven
from boostproof.workflows.open_case import OpenCase

KIND = "ball and spring"
LEADER = "port-too-small"
TO_TOP, TOP = 8.0, 6500.0  # s, rpm


def log() -> str:
    """A cruise, a full-load pull whose boost creeps up, and a roll-off."""
    rows = ["time [s],engine speed [rpm],throttle [%],boost gauge [kPa]"]
    for time in np.arange(0.0, 16.0, 0.05):
        pull = 3.0 <= time <= 3.0 + TO_TOP
        rpm = 2000.0 + (TOP - 2000.0) * min(max(time - 3.0, 0.0), TO_TOP) / TO_TOP
        if time > 3.0 + TO_TOP:
            rpm = max(TOP - 1500.0 * (time - 3.0 - TO_TOP), 1500.0)
        boost = 95.0 / (1.0 + np.exp(-(rpm - 2900.0) / 220.0)) + 0.008 * max(rpm - 4000.0, 0.0)
        rows.append(f"{time:.2f},{rpm:.0f},{100 if pull else 12},{boost if pull else -40.0:.1f}")
    return "\n".join(rows) + "\n"


def made_open_case(folder: Path) -> OpenCase:
    """Usual cars, one cause far in front; the case is written into a new folder."""
    (folder / "recordings").mkdir(parents=True)
    (folder / "car.toml").write_text(small_car('[limits]\ntarget = "95 kPa"\nstop = "140 kPa"\n'), encoding="utf-8")
    (folder / "recordings" / "log.csv").write_text(log(), encoding="utf-8")
    case = read_case(folder)
    driven, findings = read_driven(case)
    simulator, causes, context = build(case.car, driven, (), None)
    hypotheses = list(hypotheses_for(causes, KIND))
    everything = np.ones(len(simulator.evidence.blocks), bool)
    modes = {i: [Mode(i, np.zeros(simulator.dimensions), everything, objective=9.0)] for i in range(len(hypotheses))}
    evidence = np.array([6.0 if any(c.id == LEADER for c in h.causes) else 0.0 for h in hypotheses])
    leader = int(np.argmax(evidence))
    z = np.zeros((simulator.dimensions, 3))
    z[-1] = (-2.0, 1.0, 3.0)  # of the severity
    by_block = np.zeros((len(everything), 3))
    by_block[0] = (-20.0, -1.0, -20.0)
    draws = {leader: Draws(z, by_block, np.zeros(3))}
    posterior = Posterior(
        simulator, hypotheses, modes, draws, evidence, beliefs_for(causes, 0.05), -9.0, -9.0, np.zeros(len(hypotheses))
    )
    posterior.weigh()
    history = history_evidence(case.car.history, causes)
    return OpenCase(
        case, driven, tuple(findings), posterior, context, (), (), None,
        {"case": case.content_hash, "without_readings": False, "without_history": False, "healthy_prior": 0.05}, history,
    )  # fmt: skip
