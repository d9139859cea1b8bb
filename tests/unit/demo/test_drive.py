"""The time loop: books that balance, steps that converge, and the trends that physics demands."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from boostproof.demo import loop
from boostproof.demo.draw import Car, plain_pull
from boostproof.demo.gas import CV_EXHAUST
from boostproof.demo.hardware import BALL, BLEED, NONE, SOLENOID, Air, Hardware
from boostproof.demo.metrics import plateau
from boostproof.demo.run import cruise, pull, roll_off, run

held_open = {"preload": -1e4}


def floor(car: Hardware, redline: float) -> float:
    """Boost (Pa gauge) at the redline with the gate held open."""
    table = plain_pull(car.changed("actuator", **held_open), redline)
    return float(table[-20:, loop.P_MANIFOLD].mean() - car.air.pressure)


def creep(car: Hardware, redline: float) -> float:
    """Boost (Pa gauge) at the end of a pull."""
    return float(plain_pull(car, redline)[-20:, loop.P_MANIFOLD].mean() - car.air.pressure)


def test_mass_and_energy_are_kept(cars: dict[float, Car]) -> None:
    car = cars[BALL]
    drive = [cruise(2000.0, 2.0), pull(car.redline, 450.0), roll_off(2000.0, 3.0)]
    table, books = run(car.hardware, drive)
    h, air = car.hardware, car.hardware.air
    # charge side: what came in less what left is what stands in pipe and manifold
    last = table[-1]
    held = last[loop.P_PIPE] * h.charge.pipe_volume / (287.05 * 300.0)
    gain = books[loop.COMPRESSED] - books[loop.CHARGE_LOST] - books[loop.BREATHED]
    assert abs(gain) < 3.0 * held  # nothing but the filling of the volumes is left over
    assert books[loop.COMPRESSED] > 50.0 * abs(gain)
    # shaft: turbine work less compressor work and drag is the gain of kinetic energy
    work = books[loop.TURBINE_WORK] - books[loop.COMPRESSOR_WORK] - books[loop.DRAG_WORK]
    assert work == pytest.approx(books[loop.SHAFT_GAIN], abs=1e-4 * books[loop.TURBINE_WORK])
    # exhaust: air in plus fuel is what went through turbine and gate, but for the manifold's content
    through = books[loop.EXPANDED] + books[loop.BYPASSED]
    content = 3e5 * h.engine.runner_volume / (296.3 * 900.0)
    assert books[loop.EXHAUSTED] == pytest.approx(through, abs=content)
    # exhaust energy: enthalpy in less enthalpy out less wall heat is what the gas in it gained
    first = air.pressure * h.engine.runner_volume / (296.3 * 850.0) * CV_EXHAUST * 850.0
    kept = books[loop.HEAT_IN] - books[loop.HEAT_OUT] - books[loop.HEAT_WALL]
    assert kept == pytest.approx(books[loop.HEAT_GAIN] - first, abs=1e-6 * books[loop.HEAT_IN])
    # and the mixture that burnt is air plus its fuel
    assert 1.0 < books[loop.EXHAUSTED] / books[loop.BREATHED] < 1.0 + 1.0 / (14.6 * 0.75)


@pytest.mark.parametrize("kind", [NONE, BALL, BLEED])
def test_half_the_step_gives_the_same_boost(cars: dict[float, Car], kind: float) -> None:
    car = cars[kind]
    drive = [cruise(2000.0, 2.0, keep=False), pull(car.redline, 450.0)]
    coarse, _ = run(car.hardware, drive)
    fine, _ = run(car.hardware, drive, step=1e-4)
    n = min(len(coarse), len(fine))
    gap = np.abs(coarse[:n, loop.P_MANIFOLD] - fine[:n, loop.P_MANIFOLD])
    assert np.median(gap) < 300.0
    assert gap.max() < 3e3


def test_pulses_stay_in_the_exhaust(cars: dict[float, Car]) -> None:
    car = cars[BALL]
    table, _ = run(car.hardware, [cruise(2000.0, 2.0, keep=False), pull(4500.0, 450.0)], sample=2e-4)
    late = table[table[:, loop.RPM] > 4300.0]
    swing = {c: np.ptp(late[:400, c]) for c in (loop.P_EXHAUST, loop.P_MANIFOLD)}
    # 400 samples of 0.2 ms are 80 ms: eleven pulses of a four-cylinder engine
    assert swing[loop.P_EXHAUST] > 10e3
    assert swing[loop.P_MANIFOLD] < 3e3
    peaks = np.abs(np.fft.rfft(late[:400, loop.P_EXHAUST] - late[:400, loop.P_EXHAUST].mean()))
    found = np.fft.rfftfreq(400, 2e-4)[int(np.argmax(peaks))]
    assert found == pytest.approx(4400.0 * 4 / 120.0, rel=0.1)


def test_smaller_port_has_a_higher_floor(cars: dict[float, Car]) -> None:
    car = cars[NONE]
    floors = []
    for share in (1.0, 0.85, 0.7, 0.55):
        port = car.hardware.gate.port * share
        floors.append(floor(car.hardware.changed("gate", port=port), car.redline))
    assert np.all(np.diff(floors) > 3e3)
    # several kPa a millimetre, as for any gate of this size (computed elsewhere at about 12)
    per_millimetre = (floors[-1] - floors[0]) / (0.45e3 * car.hardware.gate.port)
    assert 3e3 < per_millimetre < 25e3


def test_free_exhaust_and_cold_air_creep_more_a_restriction_hides_it(cars: dict[float, Car]) -> None:
    car = cars[BALL]
    small = car.hardware.changed("gate", port=car.hardware.gate.port * 0.62)
    base = floor(small, car.redline)
    loss = small.exhaust.loss
    assert floor(small.changed("exhaust", loss=0.4 * loss), car.redline) > base + 1e3
    assert floor(small.changed("exhaust", loss=4.0 * loss), car.redline) < base - 3e3
    cold = replace(small, air=Air(small.air.pressure, small.air.temperature - 25.0))
    assert floor(cold, car.redline) > base + 2e3
    assert creep(small, car.redline) > creep(car.hardware, car.redline) + 5e3


def test_slow_line_spikes_and_then_settles(cars: dict[float, Car]) -> None:
    car = cars[NONE]
    slow = car.hardware.changed("signal", hose_area=1.2e-7)
    ambient = car.hardware.air.pressure
    sound = plateau(plain_pull(car.hardware, car.redline), ambient, car.target)
    found = plateau(plain_pull(slow, car.redline), ambient, car.target)
    assert found.spike > sound.spike + 4e3
    assert found.level == pytest.approx(sound.level, abs=2e3)
    assert found.rise < sound.rise + 3e3


def test_pinch_before_a_bleed_is_steady_over_boost(cars: dict[float, Car]) -> None:
    car = cars[BALL]
    pinched = car.hardware.changed("signal", supply_area=5e-7)
    assert creep(pinched, car.redline) > creep(car.hardware, car.redline) + 5e3


def test_more_duty_is_more_boost_until_full(cars: dict[float, Car]) -> None:
    car = cars[SOLENOID]
    levels = []
    for duty in (0.0, 0.25, 0.45, 0.6):
        fixed = car.hardware.changed("ecu", base_duty=duty, gain=0.0, integral=0.0, highest=duty)
        levels.append(plateau(plain_pull(fixed, car.redline), car.hardware.air.pressure, car.target).level)
    assert np.all(np.diff(levels) > 0.0)
    # the gain grows with duty: physics of a divider between supply and vent
    assert levels[3] - levels[2] > levels[1] - levels[0]


def test_plain_python_gives_what_the_compiler_gives(cars: dict[float, Car], repository: Path) -> None:
    program = (
        "import sys\n"
        "if sys.argv[1] == 'plain':\n"
        "    sys.modules['numba'] = None\n"
        "import numpy as np\n"
        "from boostproof.demo.draw import _parts, _signal\n"
        "from boostproof.demo.hardware import Air, BALL\n"
        "from boostproof.demo.run import cruise, pull, run\n"
        "from dataclasses import replace\n"
        "rng = np.random.default_rng(3)\n"
        "car, redline, _ = _parts(rng, Air(1e5, 293.0), 9e4)\n"
        "car = replace(car, signal=_signal(rng, BALL)._replace(offset=2e4))\n"
        "table, _ = run(car, [cruise(3000.0, 0.4), pull(3300.0, 1500.0)])\n"
        "print(repr(float(table[:, 1:].sum())))\n"
    )
    answers = [
        subprocess.run(
            [sys.executable, "-c", program, how],
            capture_output=True,
            text=True,
            check=True,
            env={"PYTHONPATH": str(repository / "src"), "PATH": "", "HOME": str(Path.home())},
        ).stdout
        for how in ("plain", "compiled")
    ]
    assert float(answers[0]) == pytest.approx(float(answers[1]), rel=1e-9)


def test_import_is_cheap(repository: Path) -> None:
    heavy = "[m for m in ('numpy', 'numba', 'scipy') if m in sys.modules]"
    program = f"import sys, boostproof.demo; print({heavy})"
    done = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": str(repository / "src"), "PATH": ""},
    )
    assert done.stdout.strip() == "[]"
