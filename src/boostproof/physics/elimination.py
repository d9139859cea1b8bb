"""One implicit stage: solve ``(I - gh J) k = r`` for the model's Jacobian, entry by entry.

The signal side (sensor, loop, chambers, arms) follows charge and exhaust pressure; each of its
unknowns is written as ``constant + slope k_charge`` (arms: ``+ slope k_exhaust`` too) and put into the
three equations of shaft, charge and exhaust, which are solved together.
"""

from __future__ import annotations

from boostproof.physics.ops import component


@component
def _signal_part(right, jacobian, gh):
    """Arms as constant, slope over charge and slope over exhaust; and what the way back needs."""
    _, _, signal, arms, volumes = jacobian
    loop, over_charge, own, over_share, _ = signal
    sensor_own, sensor_charge, integral_sensor, share_sensor, share_integral = loop
    stretch, squeeze = volumes
    arm_force, arm_push, arm_own, arm_yield, other_force, other_push, other_own = arms
    _, _, _, _, r_lower, r_upper, r_arm, r_other, r_integral, r_sensor = right
    d_sensor = 1.0 / (1.0 - gh * sensor_own)
    sensor_0, sensor_c = r_sensor * d_sensor, gh * sensor_charge * d_sensor
    integral_0, integral_c = r_integral + gh * integral_sensor * sensor_0, gh * integral_sensor * sensor_c
    share_0 = share_sensor * sensor_0 + share_integral * integral_0
    share_c = share_sensor * sensor_c + share_integral * integral_c
    d_lower = 1.0 / (1.0 - gh * own[0])
    d_upper = 1.0 / (1.0 - gh * own[1])
    # chambers with the arm held: the part that the arm adds is the factor on k_arm - r_arm
    lower_0 = (r_lower + gh * over_share[0] * share_0) * d_lower
    lower_c = gh * (over_charge[0] + over_share[0] * share_c) * d_lower
    lower_x = stretch * d_lower
    upper_0 = (r_upper + gh * over_share[1] * share_0) * d_upper
    upper_c = gh * (over_charge[1] + over_share[1] * share_c) * d_upper
    upper_x = squeeze * d_upper
    force_0, force_c = lower_0 - upper_0, lower_c - upper_c
    force_x = lower_x - upper_x
    # a held arm that lets go within the step is slowed by the air it displaces, as a sliding one
    d_arm = 1.0 / (1.0 - gh * (arm_own + arm_yield * force_x))
    arm_0 = (r_arm + gh * arm_force * (force_0 - force_x * r_arm)) * d_arm
    arm_c = gh * arm_force * force_c * d_arm
    arm_e = gh * arm_push * d_arm
    # the other arm feels the chambers as they are after the first has moved
    d_other = 1.0 / (1.0 - gh * other_own)
    other_0 = (r_other + gh * other_force * (force_0 + force_x * (arm_0 - r_arm))) * d_other
    other_c = gh * other_force * (force_c + force_x * arm_c) * d_other
    other_e = gh * (other_push + other_force * force_x * arm_e) * d_other
    ways = (
        sensor_0, sensor_c, integral_0, integral_c, lower_0, lower_c, lower_x, upper_0, upper_c, upper_x,
        share_0, share_c,
    )  # fmt: skip
    return (arm_0, arm_c, arm_e), (other_0, other_c, other_e), ways


@component
def solve(right, jacobian, gh):
    """``k`` of one stage, in the order of the states; the node's memory follows what surrounds it.

    Parameters
    ----------
    right : (10,) right-hand sides in the order of the states
    jacobian : entries of `system.rates`: shaft and charge rows; exhaust row; signal rows (loop; chambers over
        charge, own, over vent share; node over charge and lower pressure and vent share); arm rows; and the
        pressure that a travel of one adds in the lower and upper chamber
    gh : gamma times step [s]
    """
    r_speed, r_charge, r_exhaust = right[0], right[1], right[2]
    shaft, exhaust_row, _, _, _ = jacobian
    speed_speed, speed_charge, speed_exhaust, charge_speed, charge_charge, charge_exhaust = shaft
    exhaust_speed, exhaust_charge, exhaust_exhaust, exhaust_arm, exhaust_other = exhaust_row
    arm, other, ways = _signal_part(right, jacobian, gh)
    back_arm, back_other = gh * exhaust_arm, gh * exhaust_other
    inverse = 1.0 / (1.0 - gh * exhaust_exhaust - back_arm * arm[2] - back_other * other[2])
    e_0 = (r_exhaust + back_arm * arm[0] + back_other * other[0]) * inverse
    e_s = gh * exhaust_speed * inverse
    e_c = (gh * exhaust_charge + back_arm * arm[1] + back_other * other[1]) * inverse
    a = 1.0 - gh * (speed_speed + speed_exhaust * e_s)
    b = -1.0 * gh * (speed_charge + speed_exhaust * e_c)
    c = -1.0 * gh * (charge_speed + charge_exhaust * e_s)
    d = 1.0 - gh * (charge_charge + charge_exhaust * e_c)
    p = r_speed + gh * speed_exhaust * e_0
    q = r_charge + gh * charge_exhaust * e_0
    over = 1.0 / (a * d - b * c)
    k_speed = (p * d - b * q) * over
    k_charge = (a * q - c * p) * over
    k_exhaust = e_0 + e_s * k_speed + e_c * k_charge
    k_arm = arm[0] + arm[1] * k_charge + arm[2] * k_exhaust
    k_other = other[0] + other[1] * k_charge + other[2] * k_exhaust
    (
        sensor_0, sensor_c, integral_0, integral_c, lower_0, lower_c, lower_x, upper_0, upper_c, upper_x,
        share_0, share_c,
    ) = ways  # fmt: skip
    node_charge, node_lower, node_share = jacobian[2][4]
    moved = k_arm - right[6]
    k_lower = lower_0 + lower_c * k_charge + lower_x * moved
    k_upper = upper_0 + upper_c * k_charge + upper_x * moved
    return (
        k_speed,
        k_charge,
        k_exhaust,
        node_charge * k_charge + node_lower * k_lower + node_share * (share_0 + share_c * k_charge),
        k_lower,
        k_upper,
        k_arm,
        k_other,
        integral_0 + integral_c * k_charge,
        sensor_0 + sensor_c * k_charge,
    )
