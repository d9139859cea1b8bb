"""Faults that are seen and not measured: what each word stands for holds the faulty car and not the sound one."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.unit.bench.small_car import write_car
from tests.unit.diagnosis.signature_table import BALL, EXTERNAL
from tests.unit.diagnosis.usual_cars import FITTED, TARGET, usual_car

from boostproof.bench.response import Candidates
from boostproof.bench.tests import BY_ID, CarContext, Gauge
from boostproof.casefolder import read_case
from boostproof.diagnosis.causes import cause
from boostproof.observation import Observation
from boostproof.physics import layout, system
from boostproof.physics.change import apply_all

AROUND = 101325.0


def read(folder: Path, text: str):
    write_car(folder, gate="external poppet")
    (folder / "readings.toml").write_text("format = 1\n[[reading]]\n" + text, encoding="utf-8")
    case = read_case(folder)
    assert not [f for f in case.findings if f.where.startswith("readings.toml")]
    return case.readings.reading[0]


def context(kind: str) -> CarContext:
    car = FITTED[kind]
    return CarContext(car.controller, car.external, TARGET, 712.0)


def seen_on(cause_id: str, kind: str) -> tuple[Candidates, Candidates]:
    """A sound car and one with the fault of middle severity; the air on the spring side is 30 kPa in its pull."""
    sound = usual_car(kind)
    changes = cause(cause_id).variants_for(FITTED[kind].controller)[0][1]
    outputs = np.zeros((2, system.N_OUTPUT, 1))
    faulty = outputs.copy()
    faulty[1, system.OUTPUT_INDEX["upper_pressure"]] = 3.0e4
    speeds = np.array([300.0, 700.0])
    return (
        Candidates(sound, speeds, outputs, ambient=AROUND, sound=sound),
        Candidates(apply_all(changes, sound, np.array([0.5])), speeds, faulty, ambient=AROUND, sound=sound),
    )


def holds(o: Observation, value: float) -> bool:
    if o.kind == "equal":
        return abs(value - o.value) < 2.0 * float(np.hypot(o.sd, o.shared))
    return o.low <= value <= o.high


LOOKS = [
    ("gate-mounted-reversed", EXTERNAL, "cold-look", 'gate_body = "wrong way round"', 'gate_body = "as its arrow says"'),
    ("upper-chamber-trapped", EXTERNAL, "cold-look", 'spring_side_port = "blocked"', 'spring_side_port = "passes air"'),
    ("upper-chamber-trapped", EXTERNAL, "line-pressure-log", 'spring_side = "4 psi"', 'spring_side = "none"'),
    ("actuator-ports-swapped", EXTERNAL, "cold-look", 'routing = "top and side swapped"', 'routing = "as it should be"'),
    ("controller-reversed", BALL, "cold-look", 'routing = "in and out swapped"', 'routing = "as it should be"'),
    ("solenoid-reversed", EXTERNAL, "cold-look", 'routing = "in and out swapped"', 'routing = "as it should be"'),
    ("inlet-restricted", BALL, "cold-look", 'inlet = "duct soft or flattened"', 'inlet = "clear"'),
    ("rod-detached", BALL, "cold-look", 'rod = "off"', 'rod = "sound"'),
    ("signal-line-open", BALL, "cold-look", 'hoses = "off"', 'hoses = "no damage seen"'),
    ("reference-after-cooler", BALL, "cold-look", 'take_off_seen = "cold pipe"', 'take_off_seen = "compressor outlet"'),
]


@pytest.mark.parametrize(("fault", "kind", "test", "wrong", "right"), LOOKS)
def test_the_word_for_a_fault_holds_the_faulty_car_alone(
    tmp_path: Path, fault: str, kind: str, test: str, wrong: str, right: str
) -> None:
    sound, faulty = seen_on(fault, kind)
    found = BY_ID[test].respond(read(tmp_path, f'test = "{test}"\n{wrong}\n'), Gauge(), context(kind))
    clear = BY_ID[test].respond(read(tmp_path, f'test = "{test}"\n{right}\n'), Gauge(), context(kind))

    def agree(response, car: Candidates) -> bool:
        features = response.features(car)
        assert response.observations
        return all(holds(o, float(features[o.feature][0])) for o in response.observations)

    assert agree(found, faulty) and not agree(found, sound)
    assert agree(clear, sound) and not agree(clear, faulty)


@pytest.mark.parametrize("test", ["cold-look", "line-pressure-log"])
def test_what_was_not_looked_at_says_nothing(tmp_path: Path, test: str) -> None:
    response = BY_ID[test].respond(read(tmp_path, f'test = "{test}"\nnote = "in a hurry"\n'), Gauge(), context(EXTERNAL))
    assert response.observations == ()


def test_a_shut_spring_side_is_found_by_opening_it(tmp_path: Path) -> None:
    sound, faulty = seen_on("upper-chamber-trapped", EXTERNAL)
    sweep = BY_ID["actuator-sweep"]

    def full(port: str, car: Candidates) -> float:
        text = f'test = "actuator-sweep"\nfirst_movement = "10 psi"\nfull_travel = "16 psi"\nspring_side_port = "{port}"\n'
        return float(sweep.respond(read(tmp_path, text), Gauge(), context(EXTERNAL)).features(car)["full"][0])

    # what a sound diaphragm lets past finds its way out more easily: some 100 Pa in the shop hose
    assert full("as found", sound) == pytest.approx(full("opened", sound), abs=200.0)
    assert full("opened", faulty) == pytest.approx(full("opened", sound), abs=200.0)
    # air of one temperature squeezed by the diaphragm: p V stays, worked out by hand
    par = {name: float(faulty.par[layout.INDEX[name], 0]) for name in layout.NAMES}
    travel = min(par["gate_travel"], par["free_travel"])
    more = AROUND * (par["upper_volume"] / (par["upper_volume"] - par["diaphragm_area"] * travel) - 1.0)
    assert 1.0e4 < more < 8.0e4
    assert full("as found", faulty) - full("opened", faulty) == pytest.approx(more, rel=0.02)
