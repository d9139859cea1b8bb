"""The parts of an imagined car as plain numbers, one named tuple per component.

All values are SI (Pa, K, kg/s, m, m2, m3, N, s); flags are 1.0 or 0.0 so that every tuple holds
floats only and can be handed to the compiled loop as it stands.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, NamedTuple


class Air(NamedTuple):
    """The day: ambient pressure (Pa) and temperature (K)."""

    pressure: float
    temperature: float


class Compressor(NamedTuple):
    """Head-flow compressor; see :mod:`boostproof.demo.compressor` for the form."""

    wheel: float  # exducer diameter, m
    head_zero_flow: float
    flow_scale: float
    flow_bend: float
    pole: float
    work_zero_flow: float
    work_slope: float
    surge_at: float  # fraction of the zero-head flow where the line peaks
    efficiency: float  # multiplies the efficiency; 1 as new
    duct_gain: float  # duct area over length, m


class Turbine(NamedTuple):
    area: float  # effective throat, m2
    wheel: float
    best_speed_ratio: float
    efficiency: float
    mixing_loss: float


class Shaft(NamedTuple):
    inertia: float
    drag: float  # W s2, power = drag * speed^2


class Charge(NamedTuple):
    pipe_volume: float
    manifold_volume: float
    filter_loss: float  # Pa per (kg/s)^2 at 1 K / 1 Pa, as is the cooler's
    cooler_loss: float
    cooler_effectiveness: float
    core_heat: float  # J/K
    core_to_air: float  # W/K
    leak_area: float
    bypass_area: float  # leak past the recirculation valve once it lifts
    bypass_lift: float  # boost (Pa) at which it starts to leak
    throttle: float  # bore, m


class Engine(NamedTuple):
    displacement: float
    cylinders: float
    breathing: float
    hump: float
    hump_speed: float  # rpm
    hump_width: float  # rpm
    compression: float
    heat_share: float
    heat_slope: float  # share gained per 1000 rpm
    rich: float  # full-load lambda
    pulse: float  # 0 steady outflow .. 1 full pulses
    runner_volume: float
    wall_conductance: float  # W/K
    wall_heat: float  # J/K
    work_share: float
    friction: float  # Pa, mean effective pressure


class Exhaust(NamedTuple):
    loss: float  # Pa2 s2 / (kg2 K): dp = loss m^2 T / p


class Gate(NamedTuple):
    external: float
    port: float  # m
    discharge: float
    lever: float  # rod pin to shaft, m
    flapper: float  # shaft to disc centre, m
    gap_area: float  # flow area left when shut
    push_open: float  # share of the seat force left at full lift
    free_travel: float  # travel at the rod that the gate itself allows, m
    valve: float  # diameter that the exhaust pushes on, m


class Actuator(NamedTuple):
    area: float
    area_fall: float  # loss of effective area per m of travel, 1/m
    stiffness: float
    preload: float
    mass: float
    damping: float
    friction: float
    static_friction: float
    stroke: float
    volume: float
    leak_area: float


class Signal(NamedTuple):
    kind: float  # see KINDS
    take_off: float  # 0 compressor outlet, 1 cold pipe, 2 intake manifold
    supply_area: float  # take-off hose with its restrictor, m2 (effective)
    supply_volume: float
    path_area: float  # through the controller body
    hose_area: float  # controller to actuator
    hose_volume: float
    leak_area: float
    bleed_area: float
    offset: float  # ball and spring: pressure difference at which the ball lifts, Pa
    seat: float  # ball seat diameter, m
    ball_stiffness: float
    ball_leak: float
    ball_stick: float  # Pa of pressure difference the ball sticks through
    ball_stuck: float
    supply_port: float  # solenoid, effective area
    vent_port: float
    frequency: float
    stuck: float  # -1 works, 0 stuck at supply, 1 stuck at vent
    reversed: float


class Ecu(NamedTuple):
    active: float
    target: float  # Pa gauge
    base_duty: float
    gain: float  # duty per Pa
    integral: float  # duty per Pa s
    lowest: float
    highest: float
    window: float  # Pa below target where the loop takes over
    sensor_gain: float
    sensor_offset: float  # Pa
    sensor_lag: float  # s


NONE, BALL, BLEED, SOLENOID = 0.0, 1.0, 2.0, 3.0
KINDS = {NONE: "none", BALL: "ball and spring", BLEED: "bleed valve", SOLENOID: "solenoid 3-port"}
TAKE_OFFS = ("compressor outlet", "cold pipe", "intake manifold")


@dataclass(frozen=True)
class Hardware:
    """Everything the time loop needs to know of one car on one day."""

    air: Air
    compressor: Compressor
    turbine: Turbine
    shaft: Shaft
    charge: Charge
    engine: Engine
    exhaust: Exhaust
    gate: Gate
    actuator: Actuator
    signal: Signal
    ecu: Ecu

    def changed(self, part: str, **values: float) -> Hardware:
        """A copy with some numbers of one part replaced."""
        new: Any = replace(self, **{part: getattr(self, part)._replace(**values)})
        assert isinstance(new, Hardware)
        return new

    @property
    def travel(self) -> float:
        """Travel at the rod from shut to the first stop, m."""
        return min(self.actuator.stroke, self.gate.free_travel)

    @property
    def bench_opening(self) -> float:
        """Gauge pressure (Pa) that balances the spring preload with air straight on the actuator."""
        return self.actuator.preload / self.actuator.area
