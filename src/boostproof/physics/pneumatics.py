"""The signal line as a network of three volumes: hose, lower and upper chamber of the actuator.

Take-off -> restriction with ball or solenoid -> hose (bleed and vent to the air around) -> pinch ->
lower chamber (line leak; leaking diaphragm to the upper one); the upper chamber is vented, or fed by a
4-port valve. One branch-free text for every controller and plumbing: a part that is not fitted has an
area of zero or is wide open.
"""

from __future__ import annotations

from boostproof.physics.controller import ball_opening, supply_share
from boostproof.physics.ops import component
from boostproof.physics.orifice import air_flow


@component
def hose_balance(
    supply, hose, ambient, temperature, area, offset, span, ball, solenoid, interrupts, vent_share, vent_area, bleed
):
    """Air into the hose from the take-off less what bleed and vent let out.

    Parameters
    ----------
    supply, hose, ambient : absolute [Pa]
    temperature : of the air in the line [K]
    area : effective, from take-off to hose [m2]
    offset, span, ball : of a ball and spring (`controller.ball_opening`)
    solenoid, interrupts : 1 where a valve stands in the line, 1 where it closes the supply leg [1]
    vent_share : share of time its vent leg is open [1]
    vent_area, bleed : [m2]

    Returns
    -------
    net flow [kg/s]; its slopes over supply, hose pressure [kg/(s Pa)] and vent share [kg/s]

    >>> net, over_supply, over_hose, over_share = hose_balance(
    ...     200e3, 120e3, 100e3, 300.0, 4e-6, 0.0, 3e3, 0.0, 1.0, 1.0, 0.5, 2e-6, 0.0)
    >>> bool(over_supply > 0.0), bool(over_hose < 0.0), bool(over_share < 0.0)
    (True, True, True)
    """
    opening, opening_slope = ball_opening(supply - hose, offset, span, ball)
    free = supply_share(vent_share, solenoid, interrupts)
    full, full_supply, full_hose = air_flow(area, supply, hose, temperature)
    out, out_hose, _ = air_flow(bleed + solenoid * vent_share * vent_area, hose, ambient, temperature)
    vented = out / (bleed + solenoid * vent_share * vent_area + 1e-20)
    part = free * opening
    lift = free * full * opening_slope
    net = part * full - out
    over_share = -1.0 * solenoid * (interrupts * opening * full + vented * vent_area)
    return net, part * full_supply + lift, part * full_hose - lift - out_hose, over_share


@component
def lower_chamber_balance(hose, lower, upper, ambient, temperature, pinch, line_leak, diaphragm_leak):
    """Air into the lower chamber: from the hose, less line leak and what the diaphragm lets through.

    Pressures absolute [Pa], areas effective [m2]. Returns net flow [kg/s], flow through the pinch [kg/s],
    flow through the diaphragm [kg/s], and slopes [kg/(s Pa)]: of the net flow over lower and hose
    pressure, of the pinch flow over hose and lower pressure, of the diaphragm flow over upper pressure.

    >>> net, *_ = lower_chamber_balance(150e3, 120e3, 100e3, 100e3, 300.0, 5e-6, 0.0, 0.0)
    >>> bool(net > 0.0)
    True
    """
    pinched, pinched_hose, pinched_lower = air_flow(pinch, hose, lower, temperature)
    lost, lost_lower, _ = air_flow(line_leak, lower, ambient, temperature)
    through, through_lower, through_upper = air_flow(diaphragm_leak, lower, upper, temperature)
    net = pinched - lost - through
    over_lower = pinched_lower - lost_lower - through_lower
    return net, pinched, through, over_lower, pinched_hose, pinched_lower, through_upper


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
    out, out_upper, _ = air_flow(vent_area, upper, ambient, temperature)
    return (
        feed_share * fed - (1.0 - feed_share) * out,
        feed_share * fed_supply,
        feed_share * fed_upper - (1.0 - feed_share) * out_upper,
        fed + out,
    )
