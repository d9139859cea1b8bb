"""A car so simple that a diagnosis takes a moment: closed formulas in the place of the transient model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from evaluation.families import families, level_rows, recording_of

from boostproof.bench.response import Array, Candidates, Response
from boostproof.car.prior import Nuisance, Prior
from boostproof.diagnosis.causes import BY_ID
from boostproof.diagnosis.evidence.blocks import Block, EvidenceSet, response_blocks
from boostproof.diagnosis.evidence.drive import Drive, Driven, drive_from, joined, sound_ramp
from boostproof.diagnosis.evidence.pulls import pulls_block
from boostproof.diagnosis.evidence.setup import complaint_blocks
from boostproof.diagnosis.evidence.simulator import Simulator
from boostproof.observation import reading
from boostproof.physics.layout import INDEX
from boostproof.physics.system import N_OUTPUT, OUTPUT_INDEX

FAMILY = families()[1]
CAUSES = tuple(BY_ID[i] for i in ("port-too-small", "sensor-scale-wrong", "spring-weak", "charge-leak"))
TARGET = 8.0e4


def _boost(par: Array, share: Array) -> tuple[Array, Array]:
    """Boost and what the sensor shows of it over the share of redline, (bins, n)."""
    x = share[:, None]
    port = par[INDEX["port_diameter"]]
    creep = np.maximum((0.030 / port) ** 2 - 1.0, 0.0) * 5.0e4 * np.maximum(x - 0.4, 0.0)
    lost = 1.5e8 * par[INDEX["charge_leak"]] * np.maximum(1.0 - x, 0.0)
    boost = par[INDEX["opening_pressure"]] + creep - lost
    return boost, par[INDEX["boost_gain"]] * boost + par[INDEX["boost_offset"]]


class Toy(Simulator):
    """The product's simulator with the pulls and the ramp in closed form."""

    def candidates(self, sound: Array, actual: Array, one_fault: object = None) -> Candidates:
        """As the product's, for cars without pairs."""
        redline = self.prior.fixed["redline"]
        ramp = np.linspace(0.5, 0.95, 7)  # the product judges the last five
        as_sound, as_shown = _boost(sound, ramp)
        boost, shown = _boost(actual, ramp)
        noticed = np.maximum(np.abs(boost - as_sound), np.abs(shown - as_shown)).max(axis=0)
        speeds = np.array([b.engine_speed for b in self.drive.bins])
        out = np.zeros((len(speeds), N_OUTPUT, actual.shape[1]))
        measured = _boost(actual, speeds / redline)
        out[:, OUTPUT_INDEX["boost"]], out[:, OUTPUT_INDEX["boost_measured"]] = measured
        return Candidates(
            actual, speeds, out, sound_boost=as_sound, noticed=noticed, all_outputs=out, sound=sound
        )


def prior() -> Prior:
    """Five numbers that are not known."""
    nuisances = (
        Nuisance("port_diameter", "lognormal", 0.033, 0.08),
        Nuisance("opening_pressure", "lognormal", TARGET, 0.2),
        Nuisance("boost_gain", "normal", 1.0, 0.006),
        Nuisance("boost_offset", "normal", 0.0, 800.0),
    )
    fixed = {"redline": FAMILY.car.engine.redline.value, "charge_leak": 0.0}
    return Prior(nuisances, fixed, lambda values: None, "none", TARGET)


def drive(pulls: int = 1) -> Drive:
    """One pull, or the same one several times."""
    recording, pull = recording_of(FAMILY)
    one = drive_from(Driven(recording, (pull,)), TARGET, 295.0, loop=False)
    return one if pulls == 1 else joined([one] * pulls)


def simulator(blocks: Sequence[Block], pulls: int = 1) -> Toy:
    """A case with this evidence."""
    ramp = sound_ramp(FAMILY.car.engine.redline.value, TARGET, 1.0e5, 295.0, loop=False)
    return Toy(prior(), drive(pulls), ramp, EvidenceSet(tuple(blocks)), 1.0e5)


def known() -> list[Block]:
    """What is known before the log: the sound car held its target, and somebody noticed something."""
    return complaint_blocks(TARGET)


def log_of(boost: Array, pulls: int = 1) -> Block:
    """The block of a log that shows these bin means, in each of several equal pulls."""
    recording, _ = recording_of(FAMILY, {"boost": level_rows(boost, drive().bins)})
    return pulls_block([recording] * pulls, drive(pulls))


def shown_by(par: Array) -> Array:
    """Bin means that a car's sensor shows, (bins,)."""
    speeds = np.array([b.engine_speed for b in drive().bins])
    return _boost(par, speeds / FAMILY.car.engine.redline.value)[1][:, 0]


def opening(value: float) -> list[Block]:
    """The opening pressure, read on the bench."""

    def features(candidates: Candidates) -> dict[str, Array]:
        return {"opening": candidates.par[INDEX["opening_pressure"]]}

    seen = (reading("opening", value, 3.0e3),)
    return response_blocks(Response("actuator-sweep", features, seen, {"opening": 2.0e5}))


def port(value: float) -> list[Block]:
    """The port, measured."""

    def features(candidates: Candidates) -> dict[str, Array]:
        return {"port": candidates.par[INDEX["port_diameter"]]}

    return response_blocks(Response("port-measure", features, (reading("port", value, 8e-4),), {"port": 2.5e-2}))


def irrelevant() -> list[Block]:
    """A reading of something that no car here has a different value of."""

    def features(candidates: Candidates) -> dict[str, Array]:
        return {"smoke": np.zeros(candidates.par.shape[1])}

    return response_blocks(Response("exhaust-smoke", features, (reading("smoke", 0.2, 0.4),)))


def dummy_cause() -> object:
    """A cause that nobody has heard of: friction, which does nothing here."""
    return replace(BY_ID["actuator-stiction"], id="dummy", number=99, mechanism="dummy")
