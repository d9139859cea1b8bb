"""The time loop: one car driven through a list of phases, in steps of a fraction of a firing pulse."""

from __future__ import annotations

from math import cos, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from .compressor import compressor
from .engine import STOICHIOMETRIC, breathed, port_temperature, torque
from .gas import CP_AIR, CP_EXHAUST, CV_AIR, CV_EXHAUST, R_AIR, R_EXHAUST, flow
from .gate import open_area
from .hardware import Actuator, Air, Charge, Compressor, Ecu, Engine, Exhaust, Gate, Shaft, Signal, Turbine
from .jit import compiled
from .pneumatic import CHAMBER, LINE, LINE_TEMP, TRAVEL, signal_step
from .turbine import pulse, turbine

# Columns of a phase
MODE, RPM_TO, PEDAL, RATE, LASTS, LIFT_AT, REACTION, KEEP = range(8)
CRUISE, PULL, ROLL = 1.0, 2.0, 3.0
# Columns of the output
(
    TIME,
    RPM,
    PLATE,
    P_MANIFOLD,
    P_PIPE,
    P_COMPRESSOR,
    P_EXHAUST,
    P_BACK,
    T_MANIFOLD,
    T_COMPRESSOR,
    T_EXHAUST,
    AIR_FLOW,
    SHAFT_SPEED,
    GATE_TRAVEL,
    P_CHAMBER,
    P_LINE,
    DUTY,
    TORQUE,
    LAMBDA,
    PHASE,
    GATE_FLOW,
    T_BACK,
) = range(22)
COLUMNS = 22
# Places in the audit (kg and J summed over the run)
(
    COMPRESSED,
    CHARGE_LOST,
    BREATHED,
    EXHAUSTED,
    EXPANDED,
    BYPASSED,
    TURBINE_WORK,
    COMPRESSOR_WORK,
    DRAG_WORK,
    SHAFT_GAIN,
    CHARGE_GAIN,
    EXHAUST_GAIN,
    HEAT_IN,
    HEAT_OUT,
    HEAT_WALL,
    HEAT_GAIN,
) = range(16)
AUDITS = 16


@compiled
def drive(
    air: Air,
    comp: Compressor,
    turb: Turbine,
    shaft: Shaft,
    ch: Charge,
    eng: Engine,
    exh: Exhaust,
    gate: Gate,
    act: Actuator,
    sig: Signal,
    ecu: Ecu,
    phases: NDArray[np.float64],
    state: NDArray[np.float64],
    dt: float,
    sample: float,
    out: NDArray[np.float64],
    audit: NDArray[np.float64],
) -> int:
    """Drive the phases; fill ``out`` (rows of COLUMNS) and ``audit``; return the rows written.

    ``state`` is the signal side at the start. ``dt`` and ``sample`` in s. Rows of phases whose KEEP
    is 0 are not written. A pull ends at RPM_TO, after LASTS seconds, or when boost has been above
    LIFT_AT (Pa gauge) for REACTION seconds. RATE > 0 is a ramp in rpm/s; RATE < 0 is minus the
    inertia (kg m2) that the engine drags along.
    """
    p_amb, t_amb = air.pressure, air.temperature
    rpm = phases[0, RPM_TO]
    plate = phases[0, PEDAL]
    omega = 3000.0
    m_c = 0.02
    m1 = p_amb * ch.pipe_volume / (R_AIR * t_amb)
    e1 = m1 * CV_AIR * t_amb
    m2 = 0.5 * p_amb * ch.manifold_volume / (R_AIR * t_amb)
    e2 = m2 * CV_AIR * t_amb
    volume3 = eng.runner_volume
    m3 = p_amb * volume3 / (R_EXHAUST * 850.0)
    e3 = m3 * CV_EXHAUST * 850.0
    wall, core = 800.0, t_amb + 3.0
    p3_mean, p4, t4, t2 = p_amb, p_amb, 750.0, t_amb
    mapped, integral, duty, carrier, angle, over = p_amb, 0.0, 0.0, 0.0, 0.0, 0.0
    bore = 0.25 * pi * ch.throttle * ch.throttle
    # means over one sample
    s3, s4, sc, sg, steps = 0.0, 0.0, 0.0, 0.0, 0
    every = max(1, round(sample / dt))
    row, now = 0, 0.0
    full_gate = max(open_area(gate, min(act.stroke, gate.free_travel)), 1e-6)
    for k in range(phases.shape[0]):
        mode, pedal, keep = phases[k, MODE], phases[k, PEDAL], phases[k, KEEP]
        left = phases[k, LASTS]
        while left > 0.0:
            left -= dt
            now += dt
            plate += (pedal - plate) * dt / 0.06
            # pressures and temperatures of the volumes
            t1, t_im, t3 = e1 / (CV_AIR * m1), e2 / (CV_AIR * m2), e3 / (CV_EXHAUST * m3)
            p1 = m1 * R_AIR * t1 / ch.pipe_volume
            p_im = m2 * R_AIR * t_im / ch.manifold_volume
            p3 = m3 * R_EXHAUST * t3 / volume3
            p3_mean += (p3 - p3_mean) * dt / 0.02
            # compressor and its duct
            p0 = p_amb - ch.filter_loss * m_c * m_c * t_amb / p_amb
            ratio, slope, work, _ = compressor(comp, m_c, omega, p0, t_amb)
            loss = ch.cooler_loss * t2 / p1
            p2 = p1 + loss * m_c * m_c
            stiff = 2.0 * loss * m_c - p0 * slope
            m_c += comp.duct_gain * dt * (p0 * ratio - p2) / (1.0 + comp.duct_gain * dt * max(stiff, 0.0))
            m_c = max(m_c, 1e-4)
            p_comp = m_c * work
            t2 += (t_amb + work / CP_AIR - t2) * dt / 0.01
            # cooler with a core that warms up
            given = ch.cooler_effectiveness * m_c * CP_AIR * (t2 - core)
            t_cooled = t2 - ch.cooler_effectiveness * (t2 - core)
            core += dt * (given - ch.core_to_air * (0.4 + rpm / 5000.0) * (core - t_amb)) / ch.core_heat
            # charge pipe, throttle, manifold
            lost = flow(ch.leak_area, p1, t1, p_amb, t_amb, R_AIR, 0.03)
            above = (p1 - p_amb - ch.bypass_lift) / 15e3
            if above > 0.0:
                lost += flow(ch.bypass_area * min(above, 1.0), p1, t1, p_amb, t_amb, R_AIR, 0.03)
            if plate < 0.3 and p1 > p_im + 25e3 and p1 > p_amb + 3e3:
                lost += flow(5e-4, p1, t1, p_amb, t_amb, R_AIR, 0.03)  # the bypass valve does its work
            opened = bore * max(1.0 - cos(min(plate, 1.0) * 1.4), 0.0) + 2.2e-5
            m_thr = flow(0.85 * opened, p1, t1, p_im, t_im, R_AIR, 0.02)
            t_thr = t1 if m_thr > 0.0 else t_im
            m1 += dt * (m_c - m_thr - lost)
            t_lost = t1 if lost > 0.0 else t_amb
            e1 += dt * CP_AIR * (m_c * t_cooled - m_thr * t_thr - lost * t_lost)
            burning = 0.0 if (plate < 0.05 and rpm > 1500.0) else 1.0
            lam = eng.rich if plate > 0.7 else 1.0
            m_air = breathed(eng, rpm, p_im, t_im, p3_mean)
            m2 += dt * (m_thr - m_air)
            e2 += dt * CP_AIR * (m_thr * t_thr - m_air * t_im)
            # exhaust manifold
            angle += dt * rpm * eng.cylinders / 120.0 * 2.0 * pi
            if angle > 2.0 * pi:
                angle -= 2.0 * pi
            fuel = burning * m_air / (STOICHIOMETRIC * lam)
            m_out = (m_air + fuel) * pulse(angle, eng.pulse)
            t_port = port_temperature(eng, rpm, t_im, lam, burning)
            area = open_area(gate, state[TRAVEL])
            m_t, p_turb, t_turb = turbine(turb, p3, t3, p4, omega, area / full_gate)
            m_g = flow(area, p3, t3, p4, t4, R_EXHAUST, 0.02)
            t_g = t3 if m_g > 0.0 else t4
            to_wall = eng.wall_conductance * (0.2 + m_air / 0.1) * (t3 - wall)
            m3 += dt * (m_out - m_t - m_g)
            heat = m_out * t_port - m_t * t3 - m_g * t_g
            e3 += dt * (CP_EXHAUST * heat - to_wall)
            wall += dt * (to_wall - 0.25 * eng.wall_conductance * (wall - t_amb)) / eng.wall_heat
            through = max(m_t + m_g, 1e-6)
            t4 += ((m_t * t_turb + max(m_g, 0.0) * t3) / through - t4) * min(1.0, dt / 0.05)
            p4 += (p_amb + exh.loss * through * through * t4 / p4 - p4) * dt / 0.012
            # shaft
            p_drag = shaft.drag * omega * omega
            before = 0.5 * shaft.inertia * omega * omega
            energy = max(before + dt * (p_turb - p_comp - p_drag), 0.5 * shaft.inertia * 1e6)
            omega = sqrt(2.0 * energy / shaft.inertia)
            # boost controller of the engine management
            mapped += (p_im - mapped) * dt / ecu.sensor_lag
            powered = 0.0
            if ecu.active > 0.5:
                short = ecu.target - (mapped * ecu.sensor_gain + ecu.sensor_offset - p_amb)
                if plate < 0.7:
                    duty, integral = 0.0, 0.0
                elif short > ecu.window:
                    duty, integral = ecu.highest, 0.0
                else:
                    wish = ecu.base_duty + ecu.gain * short + integral
                    duty = min(max(wish, ecu.lowest), ecu.highest)
                    if wish == duty or (wish - duty) * short < 0.0:
                        integral = min(max(integral + ecu.integral * short * dt, -0.4), 0.4)
                carrier += dt * sig.frequency
                if carrier >= 1.0:
                    carrier -= 1.0
                powered = 1.0 if carrier < duty else 0.0
            supply = p2
            if sig.take_off == 1.0:
                supply = p1
            elif sig.take_off == 2.0:
                supply = p_im
            state[LINE_TEMP] = 0.5 * (t_amb + 330.0)
            signal_step(sig, act, gate, p_amb, supply, sig.supply_area, powered, p3 - p4, state, dt)
            # engine speed
            turning = torque(eng, rpm, m_air, lam, burning)
            if mode == PULL:
                if phases[k, RATE] > 0.0:
                    rpm += dt * phases[k, RATE]
                else:
                    drag = 4.0 + 1.1e-6 * rpm * rpm
                    rpm += dt * (turning - drag) / -phases[k, RATE] * 30.0 / pi
                if p_im - p_amb > phases[k, LIFT_AT]:
                    over += dt
                else:
                    over = 0.0
                if rpm >= phases[k, RPM_TO] or over > phases[k, REACTION]:
                    left = 0.0
            elif mode == ROLL:
                rpm -= dt * phases[k, RATE]
                if rpm < phases[k, RPM_TO]:
                    rpm = phases[k, RPM_TO]
            else:
                rpm += (phases[k, RPM_TO] - rpm) * dt / 0.25
            # books
            audit[COMPRESSED] += dt * m_c
            audit[CHARGE_LOST] += dt * lost
            audit[BREATHED] += dt * m_air
            audit[EXHAUSTED] += dt * m_out
            audit[EXPANDED] += dt * m_t
            audit[BYPASSED] += dt * m_g
            audit[TURBINE_WORK] += dt * p_turb
            audit[COMPRESSOR_WORK] += dt * p_comp
            audit[DRAG_WORK] += dt * p_drag
            audit[SHAFT_GAIN] += 0.5 * shaft.inertia * omega * omega - before
            audit[CHARGE_GAIN] += dt * (m_c - lost - m_air)
            audit[EXHAUST_GAIN] += dt * (m_out - m_t - m_g)
            audit[HEAT_IN] += dt * CP_EXHAUST * m_out * t_port
            audit[HEAT_OUT] += dt * CP_EXHAUST * (m_t * t3 + m_g * t_g)
            audit[HEAT_WALL] += dt * to_wall
            # sampling
            s3 += p3
            s4 += p4
            sc += m_c
            sg += m_g
            steps += 1
            if steps >= every:
                if keep > 0.5 and row < out.shape[0]:
                    out[row, TIME], out[row, RPM], out[row, PLATE] = now, rpm, plate
                    out[row, P_MANIFOLD], out[row, P_PIPE], out[row, P_COMPRESSOR] = p_im, p1, p2
                    out[row, P_EXHAUST], out[row, P_BACK] = s3 / steps, s4 / steps
                    out[row, T_MANIFOLD], out[row, T_COMPRESSOR], out[row, T_EXHAUST] = t_im, t2, t3
                    out[row, AIR_FLOW], out[row, GATE_FLOW] = sc / steps, sg / steps
                    out[row, SHAFT_SPEED] = omega * 30.0 / pi
                    out[row, GATE_TRAVEL] = state[TRAVEL]
                    out[row, P_CHAMBER], out[row, P_LINE] = state[CHAMBER], state[LINE]
                    out[row, DUTY], out[row, TORQUE], out[row, LAMBDA] = (
                        duty,
                        turning,
                        lam + 9.0 * (1.0 - burning),
                    )
                    out[row, PHASE], out[row, T_BACK] = float(k), t4
                    row += 1
                s3, s4, sc, sg, steps = 0.0, 0.0, 0.0, 0.0, 0
    audit[HEAT_GAIN] = e3
    return row
