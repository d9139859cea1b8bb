"""Readings that cannot have been so are questioned and left out; sound ones are left alone."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.unit.bench.small_car import write_car

from boostproof.bench.contradictions import CONTRADICTING, IMPOSSIBLE, question
from boostproof.bench.tests import CarContext
from boostproof.casefolder import read_case
from boostproof.findings import Finding
from boostproof.workflows.open_case import without_repetition

CONTEXT = CarContext(
    "ball and spring", False, 9.65e4, 712.0, compression_ratio=9.5, cylinders=4, full_travel=12e-3
)


def read(folder: Path, text: str):
    write_car(folder)
    (folder / "readings.toml").write_text("format = 1\n" + text, encoding="utf-8")
    return read_case(folder)


def asked(folder: Path, text: str):
    found = read(folder, text).readings
    return question(found.reading, found.gauge, CONTEXT)


def one(test: str, keys: str) -> str:
    return f'[[reading]]\ntest = "{test}"\n{keys}\n'


IMPOSSIBLE_ONES = [
    ("actuator-sweep", 'first_movement = "12 psi"\nfull_travel = "8 psi"', ("first_movement", "full_travel")),
    ("actuator-sweep", 'first_movement = "none"\nfull_travel = "12 psi"\nsupply_up_to = "20 psi"', ("full_travel",)),
    ("actuator-sweep", 'first_movement = "22 psi"\nsupply_up_to = "15 psi"', ("first_movement",)),
    ("actuator-sweep", 'first_movement = "8 psi"\nlast_return = "11 psi"', ("last_return",)),
    ("controller-sweep", 'travel = "29 mm"', ("travel",)),
    ("actuator-sweep", '[reading.leak]\nstart = "10 psi"\nafter_60_s = "13 psi"', ("leak",)),
    ("actuator-sweep", '[reading.vent]\nheld = "9 mm"\nafter_1_s = "3 mm"\nafter_5_s = "8 mm"', ("vent",)),
    ("bleed-decay", 'start = "7 psi"\nend = "14 psi"\ntime = "2 s"', ("time",)),
    ("hose-flow", 'supply = "15 psi"\nflow = "900 L/min"', ("flow",)),
    ("hose-flow", 'flow = "80 L/min"\nflow_new_hose = "40 L/min"', ("flow", "flow_new_hose")),
    ("free-travel", 'arm = "will not move"\nswing = "12 mm"', ("arm", "swing")),
    ("seat-leak", 'light = false\ngap = "0.3 mm"', ("light", "gap")),
    ("intake-pressurise", 'supply = "10 psi"\ndrop_in_30_s = "15 psi"', ("drop_in_30_s",)),
    ("intake-pressurise", 'supply = "14 psi"\nheld = "held"\ndrop_in_30_s = "10 psi"', ("held", "drop_in_30_s")),
]


@pytest.mark.parametrize(("test", "keys", "gone"), IMPOSSIBLE_ONES)
def test_what_cannot_be_is_left_out_with_a_finding(tmp_path: Path, test: str, keys: str, gone) -> None:
    kept, findings = asked(tmp_path, one(test, keys))
    assert [f.kind for f in findings] == [IMPOSSIBLE]
    assert f"reading 1 ({test})" in findings[0].where and findings[0].do
    assert all(getattr(kept[0], key) is None for key in gone)


ROWS = [
    ("controller-vent", 'supply = "12 psi"\nrows = [{ turns_in = 1, line_pressure = "18 psi" }, '
     '{ turns_in = 2, line_pressure = "8 psi" }]', "line_pressure"),
    ("controller-vent", 'supply = "12 psi"\nrows = [{ turns_in = 1, flow = "700 L/min" }, '
     '{ turns_in = 2, flow = "8 L/min" }]', "flow"),
    ("controller-vent", 'rows = [{ turns_in = 1, flow = "20 L/min", loudness = "none" }, '
     '{ turns_in = 2, flow = "8 L/min" }]', "flow"),
    ("solenoid-check", 'supply = "10 psi"\nrows = [{ duty = "0 %", line_pressure = "16 psi" }, '
     '{ duty = "50 %", line_pressure = "5 psi" }]', "line_pressure"),
    ("exhaust-back-pressure", 'rows = [{ rpm = "6000 rpm", pressure = "-3 psi" }, '
     '{ rpm = "5000 rpm", pressure = "2 psi" }]', "pressure"),
    ("compression", 'rows = [{ cylinder = 6, pressure = "11 bar" }, { cylinder = 2, pressure = "11 bar" }]', "pressure"),
    ("compression", 'rows = [{ cylinder = 1, pressure = "40 bar" }, { cylinder = 2, pressure = "11 bar" }]', "pressure"),
]  # fmt: skip


@pytest.mark.parametrize(("test", "keys", "gone"), ROWS)
def test_only_the_row_that_cannot_be_is_left_out(tmp_path: Path, test: str, keys: str, gone: str) -> None:
    kept, findings = asked(tmp_path, one(test, keys))
    assert [f.kind for f in findings] == [IMPOSSIBLE]
    assert findings[0].says.startswith("Row 1:")
    assert getattr(kept[0].rows[0], gone) is None
    assert getattr(kept[0].rows[1], gone) is not None


CONTRADICTIONS = [
    one("actuator-sweep", 'first_movement = "7 psi"') + one("actuator-sweep", 'first_movement = "11 psi"'),
    one("actuator-sweep", 'travel = "12 mm"') + one("actuator-sweep", 'travel = "8 mm"'),
    one("actuator-sweep", 'first_movement = "12 psi"') + one("controller-sweep", 'first_movement = "8 psi"'),
    one("port-measure", 'port = "26 mm"') + one("port-measure", 'port = "29 mm"'),
    one("free-travel", 'swing = "15 mm"') + one("free-travel", 'swing = "8 mm"'),
]


@pytest.mark.parametrize("text", CONTRADICTIONS)
def test_two_readings_that_disagree_are_said_and_both_kept(tmp_path: Path, text: str) -> None:
    before = read(tmp_path, text).readings
    kept, findings = question(before.reading, before.gauge, CONTEXT)
    assert [f.kind for f in findings] == [CONTRADICTING]
    assert "reading 1" in findings[0].where and "reading 2" in findings[0].where
    assert kept == before.reading


SOUND = [
    one("actuator-sweep", 'first_movement = "8 psi"\nfull_travel = "7.5 psi"\ntravel = "1 mm"'),
    one("actuator-sweep", 'first_movement = "8 psi"\nfull_travel = "12 psi"\nlast_return = "7 psi"\ntravel = "12 mm"\n'
        'supply_up_to = "15 psi"\n[reading.leak]\nstart = "10 psi"\nafter_10_s = "10 psi"\nafter_60_s = "9.5 psi"'),
    one("actuator-sweep", 'first_movement = "8 psi"') + one("controller-sweep", 'first_movement = "14 psi"'),
    one("actuator-sweep", 'first_movement = "7 psi"\nstate = "cold"')
    + one("actuator-sweep", 'first_movement = "11 psi"\nstate = "hot"'),
    one("controller-sweep", 'first_movement = "12 psi"\nturns_in = 1')
    + one("controller-sweep", 'first_movement = "15 psi"\nturns_in = 3'),
    one("hose-flow", 'supply = "15 psi"\nflow = "60 L/min"\nflow_new_hose = "62 L/min"\npasses = true'),
    one("compression", 'rows = [{ cylinder = 4, pressure = "13 bar" }]'),
    one("actuator-sweep", 'not_done = "no access"\nfirst_movement = "12 psi"\nfull_travel = "8 psi"'),
]  # fmt: skip


@pytest.mark.parametrize("text", SOUND)
def test_what_can_be_is_left_alone(tmp_path: Path, text: str) -> None:
    before = read(tmp_path, text).readings
    assert question(before.reading, before.gauge, CONTEXT) == (before.reading, [])


def test_a_doubt_of_the_file_is_not_said_twice(tmp_path: Path) -> None:
    folder = read(tmp_path, one("cold-look", "") + one("actuator-sweep", IMPOSSIBLE_ONES[0][1]))
    asked_before = [f for f in folder.findings if f.kind == "questioned-reading"]
    assert len(asked_before) == 1
    _, ours = question(folder.readings.reading, folder.readings.gauge, CONTEXT)
    other = Finding("questioned-reading", "readings.toml:3", "Reading 1 (cold-look): something else.")
    assert without_repetition([*asked_before, other], ours) == [other]
