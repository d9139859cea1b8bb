"""The signal line as a network: controller, hose, lower and upper chamber of the actuator.

Take-off -> restriction with ball or solenoid -> node behind the controller (bleed and vent to the air
around) -> hose -> lower chamber (line leak; leaking diaphragm to the upper one); the upper chamber is vented,
or fed by a 4-port valve. The node holds no air of its own: a few mL fill in a millisecond. One
branch-free text for every controller and plumbing: a part that is not fitted has an area of zero or is
wide open.
"""

from __future__ import annotations

from boostproof.physics.controller import supply_share, through_ball
from boostproof.physics.ops import absolute, clip, component, maximum, minimum
from boostproof.physics.orifice import air_flow, tube_flow

_LONG, _SHORTER = 5.0e3, 0.4  # Pa; a step of Newton's method as long as this is shortened by so much


@component
def node_balance(
    supply, node, ambient, temperature, area, offset, ball, solenoid, interrupts, vent_share, vent_area, bleed
):
    """Air that the controller lets in from the take-off less what bleed and vent let out.

    Parameters
    ----------
    supply, node, ambient : absolute [Pa]
    temperature : of the air in the line [K]
    area : effective, from take-off to node [m2]
    offset, ball : of a ball and spring (`controller.through_ball`)
    solenoid, interrupts : 1 where a valve stands in the line, 1 where it closes the supply leg [1]
    vent_share : share of time its vent leg is open [1]
    vent_area, bleed : [m2]

    Returns
    -------
    net flow [kg/s]; its slopes over supply, node pressure [kg/(s Pa)] and vent share [kg/s]

    >>> net, over_supply, over_node, over_share = node_balance(
    ...     200e3, 120e3, 100e3, 300.0, 4e-6, 0.0, 0.0, 1.0, 1.0, 0.5, 2e-6, 0.0)
    >>> bool(over_supply > 0.0), bool(over_node < 0.0), bool(over_share < 0.0)
    (True, True, True)
    """
    free = supply_share(vent_share, solenoid, interrupts)
    full, full_supply, full_node = through_ball(area, supply, node, ambient, temperature, offset, ball)
    vents = bleed + solenoid * vent_share * vent_area
    per_area, out_slope, _ = air_flow(1.0 + 0.0 * vents, node, ambient, temperature)
    over_share = -1.0 * solenoid * (interrupts * full + vent_area * per_area)
    return free * full - vents * per_area, free * full_supply, free * full_node - vents * out_slope, over_share


@component
def node_pressure(start, net, net_slope, supply, lower, ambient, hose_area, temperature):
    """Pressure of the node behind the controller, where what comes in goes on into the hose.

    One step of Newton's method from ``start``, the pressure a moment ago, kept between the pressures
    around and shortened where it is long, since it may overshoot there; at rest it is exact.

    Parameters
    ----------
    start, supply, lower, ambient : absolute [Pa]
    net, net_slope : `node_balance` at ``start`` and its slope over the node [kg/s], [kg/(s Pa)]
    hose_area [m2], temperature [K]

    Returns
    -------
    pressure [Pa]; its change with a flow added [Pa s/kg]; its slope over the lower chamber [1]

    >>> pressure, _, _ = node_pressure(150e3, 0.0, -1e-9, 200e3, 150e3, 100e3, 5e-6, 300.0)
    >>> float(pressure)
    150000.0
    """
    onward, onward_node, onward_lower = tube_flow(hose_area, start, lower, temperature)
    stiffness = onward_node - net_slope + 1e-16
    found = start + (net - onward) / stiffness
    low, high = minimum(lower, ambient), maximum(supply, lower)
    held = clip(found, low, high)
    inside = clip(1.0 - absolute(found - held), 0.0, 1.0)
    move = held - start
    short = 1.0 - _SHORTER * minimum(absolute(move) * (1.0 / _LONG), 1.0)
    return start + short * move, inside / stiffness, -1.0 * inside * onward_lower / stiffness


@component
def lower_chamber_balance(node, lower, upper, ambient, temperature, hose_area, line_leak, diaphragm_leak):
    """Air into the lower chamber through the hose, less line leak and what the diaphragm lets through.

    Both leaks empty to the pressure around, weighted by their areas where that of the upper chamber
    differs; exact with one of them.

    Pressures absolute [Pa], areas effective [m2]. Returns net flow [kg/s], flow through the diaphragm
    [kg/s], and slopes [kg/(s Pa)]: of the net flow over lower and node pressure, of the diaphragm flow over
    the upper pressure.

    >>> net, *_ = lower_chamber_balance(150e3, 120e3, 100e3, 100e3, 300.0, 5e-6, 0.0, 0.0)
    >>> bool(net > 0.0)
    True
    """
    onward, onward_node, onward_lower = tube_flow(hose_area, node, lower, temperature)
    leaks = line_leak + diaphragm_leak
    share = diaphragm_leak / (leaks + 1e-20)
    outside = ambient + share * (upper - ambient)
    per_area, over_lower, over_outside = air_flow(1.0 + 0.0 * leaks, lower, outside, temperature)
    return (
        onward - leaks * per_area,
        diaphragm_leak * per_area,
        onward_lower - leaks * over_lower,
        onward_node,
        diaphragm_leak * share * over_outside,
    )


@component
def upper_chamber_balance(supply, upper, ambient, temperature, feed_area, feed_share, vent_area):
    """Air into the upper chamber: from a 4-port valve for its share of the time, less what the vent lets out.

    Pressures absolute [Pa], areas [m2]. Where nothing feeds the chamber its vent is always open.

    Returns
    -------
    net flow [kg/s]; slopes over supply and upper pressure [kg/(s Pa)] and over the share [kg/s]

    >>> float(upper_chamber_balance(200e3, 100e3, 100e3, 300.0, 0.0, 0.3, 1e-4)[0])
    0.0
    """
    fed, fed_supply, fed_upper = air_flow(feed_area, supply, upper, temperature)
    out, out_upper, _ = tube_flow(vent_area, upper, ambient, temperature)
    return (
        feed_share * fed - (1.0 - feed_share) * out,
        feed_share * fed_supply,
        feed_share * fed_upper - (1.0 - feed_share) * out_upper,
        fed + out,
    )
