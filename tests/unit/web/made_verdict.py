"""A made-up verdict, and a case that stands open in place of one that was worked out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import update
from tests.unit.small_car import small_car

from boostproof.diagnosis.inference.first_look import FirstLook
from boostproof.diagnosis.reasons.provisional import Provisional
from boostproof.findings import Finding
from boostproof.jobs import schema
from boostproof.jobs.plain import packed
from boostproof.jobs.store import Store
from boostproof.jobs.work import Work
from boostproof.workflows.first_look import first_ranking
from boostproof.workflows.verdict import (
    Band,
    Curve,
    EvidenceShare,
    LookAlikes,
    NextTest,
    SeverityShare,
    SupposedOtherwise,
    Verdict,
    WouldChange,
)
from boostproof.workflows.verdict_kept import from_kept, to_kept

READINGS = """format = 1

# the big dial
[[reading]]
test = "actuator-sweep"
first_movement = "9 psi"
full_travel = "14 psi"
travel = "12 mm"
"""
SHARES = {"port-too-small": 0.62, "port-entry-poor": 0.3, "charge-leak": 0.05}
RPM = np.linspace(2500.0, 6500.0, 30)


def verdict(**changes: Any) -> Verdict:
    """Three causes, of which a bore of the port parts the first two."""
    bare = {
        "format": 1, "seed": 1, "versions": {}, "seconds": 1.0, "healthy": 0.02, "none_of_these": 0.01,
        "inputs": {"case": "x", "without_history": False}, "involved": SHARES,
        "causes": [
            {"id": i, "parts": [i], "probability": p, "confirmed": False, "severity": [], "evidence": []}
            for i, p in SHARES.items()
        ],
        "look_alikes": [], "next_tests": [], "would_change": [], "sensitivity": [], "pulls": [], "findings": [],
        "fit": {"trust": "ok", "ess": 300.0, "misfit": 0.5, "audited_cars": 0, "audit_difference": 0.0},
        "used": ["pulls", "history"], "missing": ["test: port-measure", "car: gate port"],
    }  # fmt: skip
    made = from_kept(bare)
    first = replace(
        made.causes[0],
        evidence=(
            EvidenceShare("log", 3.0, "strong", "the log speaks strongly for it"),
            EvidenceShare("how common it is", -3.0, "strong against", "how common it is speaks strongly against it"),
            EvidenceShare("seat-leak", -1.2, "clear against", "seat leak speaks clearly against it"),
            EvidenceShare("history", 0.6, "slight", "what was said about it speaks slightly for it"),
        ),
        severity=(SeverityShare("port_diameter", 0.023, 0.001, "m", 0.032),),
    )
    level = 1.0e5 + 6.0 * (RPM - 4000.0)
    whole = replace(
        made,
        car="the grey estate", target=1.0e5, causes=(first, *made.causes[1:]),
        look_alikes=(LookAlikes(("port-too-small", "port-entry-poor"), 0.9, "port-measure"),),
        next_tests=(
            NextTest(
                "port-measure", "Port bore and entry measured", 45.0, 80.0, 0.8, 45.0,
                {"port-entry-poor": "port {27 to 32 mm}", "port-too-small": "port {20 to 25 mm}"}, ("Hot.",), (),
            ),
            NextTest("tip-in", "Throttle opened at once", 15.0, 20.0, 0.1, 15.0, {}, (), (), risk=0.07),
        ),
        findings=(Finding("gap-in-log", "log.csv", "The log has holes in time.", "Look for lost data."),),
        curves=(Curve("pull 1", RPM, level), Curve("pull 2", RPM[:-3], level[:-3] - 1e3)),
        bands=tuple(
            Band(c.id, c.title, c.probability, RPM, level - 4e3, level, level + 4e3) for c in made.causes[:2]
        ),
        would_change=(WouldChange("port-measure", "port above {26 mm}", "port-entry-poor", 0.3),),
        sensitivity=(SupposedOtherwise("all causes equally common", "port-entry-poor", 0.5),),
    )  # fmt: skip
    return replace(whole, **changes)


class OpenAlready:
    """In place of the open cases of an application: a bore under 26 mm speaks for the port, a wider one against it."""

    def __init__(self, state: str = "open") -> None:
        self.state = state

    @property
    def changes(self) -> str:
        return self.state

    def ask(self, folder: Path, content: str, choices: Mapping[str, Any]) -> str:
        return self.state

    def get(self, content: str, choices: Mapping[str, Any]) -> OpenAlready | None:
        return self if self.state == "open" else None

    def provisional(self, *readings: Any) -> Provisional:
        from boostproof.diagnosis.reasons.trust import trust_of

        weights = dict(SHARES)
        for one in readings:
            bore = getattr(one, "port", None)
            if bore is not None:
                weights["port-too-small" if bore.value > 0.026 else "port-entry-poor"] *= 0.02
        total = sum(weights.values()) + 0.03
        found = {i: w / total for i, w in weights.items()}
        return Provisional(found, found, 0.02 / total, 0.01 / total, {}, trust_of(500.0))


def judged(store: Store, made: Verdict | None = None, *, readings: str = READINGS) -> int:
    """A job with a log, a reading and a verdict; its number."""
    job = store.new_job(small_car(), {"recordings/log.csv": b"time,rpm\n0,1000\n", "readings.toml": readings.encode()})
    store.answers.keep(job.id, "diagnose", to_kept(made or verdict()), {}, store.content(job.id))
    return job.id


LOOK = FirstLook({"port-too-small": 0.55, "port-entry-poor": 0.31, "charge-leak": 0.04}, 0.06, 0.04)
UNSURE = FirstLook({"port-too-small + charge-leak": 0.5, "port-too-small": 0.42}, 0.05, 0.03)


def looked_at(store: Store, work: Work, job: int, look: FirstLook | None = LOOK) -> int:
    """The number of a diagnosis of a job that runs, and has come to a first look or not."""
    task = work.start(job, "diagnose")
    known = None if look is None else packed(first_ranking(look).as_json())
    with store.database.writing() as connection:
        running = update(schema.task).where(schema.task.c.id == task.id)
        connection.execute(running.values(state="running", says="a first look is there", share=0.3, so_far=known))
    return task.id
