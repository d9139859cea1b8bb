"""The signal line: from the take-off through a controller to the actuator chamber.

One branch-free network for every controller kind. None: no offset, no bleed. Ball and spring: an
offset, no way back, a bleed. Bleed valve: a narrow line and a bleed. 3-port valve: supply leg open
for the share 1 - duty of the time, vent leg for the share duty.
"""

from __future__ import annotations

from boostproof.physics.gas import AIR_GAS_CONSTANT
from boostproof.physics.ops import clip, component, maximum, where
from boostproof.physics.orifice import air_flow


@component
def valve_duty(duty, stuck, stuck_at, reversed_):
    """Share of the time that the vent leg is open, with what a faulty valve makes of the command. [1]

    >>> float(valve_duty(0.4, 1.0, 0.0, 0.0)), float(valve_duty(0.4, 0.0, 0.0, 0.0))
    (0.0, 0.4)
    """
    asked = duty + reversed_ * (1.0 - 2.0 * duty)
    return clip(asked + stuck * (stuck_at - asked), 0.0, 1.0)


@component
def chamber_flow(
    supply,
    chamber,
    ambient,
    temperature,
    line_area,
    offset,
    check,
    solenoid,
    vent_share,
    vent_area,
    bleed_area,
):
    """Net flow into the actuator chamber, and its slopes over chamber and supply pressure.

    Parameters
    ----------
    supply, chamber, ambient : absolute [Pa]
    temperature : [K]
    line_area : from take-off to chamber [m2]
    offset : what the ball takes off the supply [Pa]
    check : 1 where nothing may flow back through the ball [1]
    solenoid : 1 where a 3-port valve is fitted [1]
    vent_share : share of time its vent leg is open [1]
    vent_area, bleed_area : [m2]

    Returns
    -------
    net flow [kg/s], d flow / d chamber [kg/(s Pa)], d flow / d supply [kg/(s Pa)]

    >>> net, slope, from_supply = chamber_flow(200e3, 100e3, 100e3, 300.0, 4e-6, 3e4, 1.0, 0.0, 0.0, 0.0, 5e-7)
    >>> bool(net > 0) and bool(slope <= 0) and bool(from_supply >= 0)
    True
    """
    area = line_area * (1.0 - solenoid * vent_share)
    into, into_slope = air_flow(area, maximum(supply - offset, 0.5 * ambient), chamber, temperature)
    passing = where(into < 0.0, 1.0 - check, 1.0 + 0.0 * check)
    out, out_slope = air_flow(bleed_area + solenoid * vent_share * vent_area, ambient, chamber, temperature)
    return into * passing + out, into_slope * passing + out_slope, -into_slope * passing


@component
def filling_rate(flow, temperature, volume):
    """Rate of pressure of a chamber, isothermal, ``R T m / V``. [Pa/s]

    >>> round(float(filling_rate(1e-4, 300.0, 6e-5)))
    143525
    """
    return AIR_GAS_CONSTANT * temperature * flow / volume
