"""The signal side on a bench: a regulator instead of the turbo, no exhaust push on the gate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .gas import hole
from .hardware import NONE, Actuator, Gate, Hardware, Signal
from .jit import compiled
from .pneumatic import CHAMBER, INLET, LINE, LINE_TEMP, TRAVEL, VENTED, signal_at_rest, signal_step

Array = NDArray[np.float64]
STEP = 2.5e-4
SAMPLE = 0.02
REGULATOR_HOSE = 6e-6  # effective area of the shop hose behind the regulator, m2
GAUGE_VOLUME = 2.5e-5  # gauge, tee and hose that hold air when the supply is shut
LITRES_PER_MINUTE = 60.0 / 1.185e-3  # free air (ISO 6358 reference density) per kg/s


@compiled
def rig_loop(
    s: Signal,
    a: Actuator,
    g: Gate,
    ambient: float,
    supply: Array,
    supply_area: float,
    duty: float,
    state: Array,
    dt: float,
    every: int,
    out: Array,
) -> None:
    carrier = 0.0
    for k in range(supply.shape[0]):
        vented, line = 0.0, 0.0
        for _ in range(every):
            carrier += dt * s.frequency
            if carrier >= 1.0:
                carrier -= 1.0
            signal_step(
                s, a, g, ambient, supply[k], supply_area, 1.0 if carrier < duty else 0.0, 0.0, state, dt
            )
            vented += state[VENTED]
            line += state[LINE]
        out[k, 0], out[k, 1], out[k, 2] = state[TRAVEL], state[INLET] - ambient, state[CHAMBER] - ambient
        out[k, 3], out[k, 4] = vented / every, line / every - ambient


@dataclass
class Rig:
    """Parts on a bench with a regulator; keeps its state from one act to the next."""

    signal: Signal
    actuator: Actuator
    gate: Gate
    ambient: float
    state: Array
    hose: float = REGULATOR_HOSE

    @classmethod
    def of(cls, car: Hardware, where: str) -> Rig:
        """``where``: actuator (air straight on it), controller (at its inlet), line (at the take-off end)."""
        signal = car.signal
        hose = REGULATOR_HOSE
        if where == "actuator":
            signal = signal._replace(
                kind=NONE, leak_area=0.0, bleed_area=0.0, path_area=1e-5, hose_area=1e-5, hose_volume=4e-6
            )
        elif where == "line":
            hose = (REGULATOR_HOSE**-2 + signal.supply_area**-2) ** -0.5
        signal = signal._replace(supply_volume=signal.supply_volume + GAUGE_VOLUME)
        state = signal_at_rest(car.air.pressure)
        state[LINE_TEMP] = car.air.temperature
        return cls(signal, car.actuator, car.gate, car.air.pressure, state, hose)

    def blow(self, supply: Array, *, shut: bool = False, duty: float = 0.0) -> Array:
        """Follow gauge pressures (Pa) sampled every SAMPLE seconds.

        Rows: travel (m), gauge before the controller (Pa), at the actuator (Pa), vented flow
        (kg/s), mean line pressure (Pa gauge).
        """
        out = np.zeros((len(supply), 5))
        area = 0.0 if shut else self.hose
        every = round(SAMPLE / STEP)
        rig_loop(
            self.signal,
            self.actuator,
            self.gate,
            self.ambient,
            np.asarray(supply, float) + self.ambient,
            area,
            duty,
            self.state,
            STEP,
            every,
            out,
        )
        return out

    def hold(self, pressure: float, seconds: float, *, shut: bool = False, duty: float = 0.0) -> Array:
        """Keep one gauge pressure (Pa) for a while."""
        return self.blow(np.full(max(int(seconds / SAMPLE), 1), pressure), shut=shut, duty=duty)

    def ramp(self, start: float, end: float, *, rate: float = 5e3) -> Array:
        """Walk the regulator from one gauge pressure to another (Pa, Pa/s)."""
        steps = max(int(abs(end - start) / rate / SAMPLE), 2)
        return self.blow(np.linspace(start, end, steps))


@dataclass(frozen=True)
class Sweep:
    """What a sweep shows; pressures Pa gauge, travel m, None where it never happened."""

    first: float | None
    full: float | None
    last_return: float | None
    travel: float
    follows: float | None
    held: float
    vent_after: tuple[float, float, float] | None
    returned: float | None
    leak: tuple[float, float, float]
    leak_flow: float  # kg/s lost by hose and diaphragm together at the held pressure
    diaphragm_flow: float
    hose_flow: float


def sweep(car: Hardware, where: str, up_to: float, *, seen: float = 4e-4) -> Sweep:
    """Up and down, let on at once, let off, shut off: one whole sweep.

    ``up_to`` Pa gauge, ``seen`` the least movement (m) that the eye catches.
    """
    rig = Rig.of(car, where)
    up = rig.ramp(0.0, up_to)
    at_gauge = np.linspace(0.0, up_to, len(up))
    travel = float(up[-1, 0])
    moved = np.flatnonzero(up[:, 0] > seen)
    first = float(at_gauge[moved[0]]) if len(moved) else None
    full = None
    if travel > 0.97 * min(car.travel, car.travel) and len(moved):
        full = float(at_gauge[np.flatnonzero(up[:, 0] >= 0.97 * travel)[0]])
    down = rig.ramp(up_to, 0.0)
    home = np.flatnonzero(down[:, 0] > seen)
    last = None
    if len(moved) and len(home) and home[-1] < len(down) - 1:
        last = float(np.linspace(up_to, 0.0, len(down))[home[-1]])
    top = full if full is not None else up_to
    hold = 0.5 * (first + top) if first is not None else 0.55 * up_to
    follows = vent = returned = None
    held = 0.0
    if first is not None:
        rig.hold(0.0, 40.0)
        sudden = rig.hold(min(top + 1.5e4, up_to), 6.0)
        follows = float(np.flatnonzero(sudden[:, 0] >= 0.95 * sudden[-1, 0])[0] * SAMPLE)
        held = float(sudden[-1, 0])
        off = rig.hold(0.0, 60.0)
        at = [min(int(t / SAMPLE), len(off) - 1) for t in (1.0, 5.0, 30.0)]
        vent = (float(off[at[0], 0]), float(off[at[1], 0]), float(off[at[2], 0]))
        shut = np.flatnonzero(off[:, 0] <= 2e-4)
        returned = float(shut[0] * SAMPLE) if len(shut) else None
    rig.hold(hold, 8.0)
    diaphragm = hole(car.actuator.leak_area, rig.state[CHAMBER], rig.ambient, rig.state[LINE_TEMP])
    hose = (
        0.0
        if where == "actuator"
        else hole(car.signal.leak_area, rig.state[LINE], rig.ambient, rig.state[LINE_TEMP])
    )
    shut_off = rig.hold(hold, 60.0, shut=True)
    tenth = int(10.0 / SAMPLE)
    leak = (hold, float(shut_off[tenth, 1]), float(shut_off[-1, 1]))
    return Sweep(
        first, full, last, travel, follows, held, vent, returned, leak, diaphragm + hose, diaphragm, hose
    )


def vent_flow(car: Hardware, supply: float) -> tuple[float, float]:
    """Air (L/min free) at the vent and pressure at the actuator (Pa gauge) under steady supply."""
    rig = Rig.of(car, "controller")
    out = rig.hold(supply, 4.0)
    bled = hole(car.signal.bleed_area, rig.state[LINE], rig.ambient, rig.state[LINE_TEMP])
    return max(bled, 0.0) * LITRES_PER_MINUTE, float(out[-1, 2])


def solenoid_at(car: Hardware, supply: float, duty: float) -> tuple[float, float]:
    """Mean line pressure (Pa gauge) and vented air (L/min free) at one duty."""
    rig = Rig.of(car, "controller")
    out = rig.hold(supply, 3.0, duty=duty)[-50:]
    return float(out[:, 4].mean()), float(out[:, 3].mean()) * LITRES_PER_MINUTE
