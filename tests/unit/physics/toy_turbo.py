"""A small invented turbo model to test kernels with: six states, 24 parameters, about 400 flops a step.

It obeys the rules of `boostproof.physics.lanes` and uses each thing they allow; its physics is only
plausible. The scheme is a two-stage linearly implicit one with a diagonal Jacobian.
"""

from __future__ import annotations

from boostproof.physics import ops
from boostproof.physics.ops import Value, absolute, clip, component, maximum, minimum, sign, sqrt, where

N_STATE, N_PAR, N_INP, N_OUT = 6, 24, 3, 5

(DISPLACEMENT, FILLING, AMBIENT, WARM, INERTIA, WHEEL, TRIM, PEAK_FLOW, PEAK_EFFICIENCY, TURBINE_AREA,
 TURBINE_EFFICIENCY, GATE_AREA, SPRING, PRELOAD, DIAPHRAGM, LINE, BLEED, COOLER_LOSS, COOLER_EFFECT,
 PIPE_VOLUME, PLENUM_VOLUME, EXHAUST_VOLUME, DAMPING, FRICTION) = range(N_PAR)  # fmt: skip
RPM, THROTTLE, HEAT = range(N_INP)

#: (low, high) of each parameter, SI with pressures in bar, for drawing candidates.
RANGES = (
    (1.8e-3, 2.4e-3), (0.85, 1.0), (0.95, 1.02), (285.0, 310.0), (2e-5, 5e-5), (0.95, 1.1), (0.9, 1.1),
    (0.14, 0.2), (0.68, 0.76), (4e-4, 6e-4), (0.6, 0.7), (6e-4, 12e-4), (0.05, 0.12), (0.25, 0.6),
    (0.8, 1.2), (0.7, 1.0), (0.0, 0.3), (2.0, 6.0), (0.55, 0.8), (8e-3, 12e-3), (9e-3, 14e-3), (5e-3, 8e-3),
    (0.015, 0.03), (0.0, 0.01),
)  # fmt: skip

R_AIR = 287.05
GAMMA_AIR = 1.4
CP_AIR = R_AIR * GAMMA_AIR / (GAMMA_AIR - 1)
BAR = 100_000
HEAD = (1.15, -0.18, -0.62)  # loading over relative flow
ROOT = (0.0, 2.44, -2.2, 1.05)  # (1 - r**0.2857) about r = 1, in 1 - r, scaled
GAMMA_SCHEME = 0.2928932188134524  # 1 - 1/sqrt 2, an L-stable two-stage scheme


@component
def cubic(c: Value, x: Value) -> Value:
    return c[0] + x * (c[1] + x * (c[2] + x * c[3]))


@component
def orifice(p1: Value, p2: Value, t1: Value, area: Value) -> Value:
    """Flow from p1 to p2 (bar), kg/s, choked below a ratio of 0.53 and straight through zero; and its
    slope over either pressure, kg/(s bar)."""
    r = clip(p2 / maximum(p1, 0.05), 0.528, 1.5)
    gap = 1 - r
    conductance = area * BAR * 1.41 / sqrt((absolute(gap) + 0.1) * R_AIR * maximum(t1, 200.0))
    return conductance * p1 * gap, conductance


@component
def compressor(u: Value, flow: Value, p_in: Value, par: Value) -> Value:
    """Pressure ratio, efficiency for tip speed u (units of 300 m/s) and flow (kg/s)."""
    phi = flow / (par[PEAK_FLOW] * maximum(u, 0.1) * p_in)
    phi = clip(phi, 0.0, 1.6)
    loading = par[TRIM] * (HEAD[0] + phi * (HEAD[1] + phi * HEAD[2]))
    rise = 1 + maximum(loading, 0.05) * u**2 * 90_000 / (CP_AIR * par[WARM])
    off = phi - 0.72
    efficiency = maximum(par[PEAK_EFFICIENCY] * (1 - 1.1 * off * off - 0.06 * absolute(u - 1.1)), 0.3)
    return rise * rise * rise * sqrt(rise), efficiency


@component
def rates(state: Value, par: Value, inp: Value) -> Value:
    """Time derivatives, magnitudes of their own-state slopes, and outputs."""
    u, p_c, p_m, p_t, p_a, lift = state
    speed = inp[RPM] * (1 / 120)
    flow_throttle, slope_throttle = orifice(p_c, p_m, 320.0, inp[THROTTLE] * 3e-3)
    swallowed = par[FILLING] * par[DISPLACEMENT] * speed * p_m * BAR / R_AIR
    ratio, efficiency = compressor(u, swallowed * (1 / 330), par[AMBIENT], par)
    p_deliver = par[AMBIENT] * ratio
    gain = p_deliver - p_c
    flow_c = sign(gain) * sqrt(absolute(gain) + 0.09) * 0.3 - sign(gain) * 0.09
    t_c = par[WARM] * (1 + (ratio - 1) * 0.25 / efficiency)
    t_m = t_c - par[COOLER_EFFECT] * (t_c - par[WARM])
    loss = par[COOLER_LOSS] * flow_throttle * absolute(flow_throttle)
    flow_engine = swallowed / t_m
    t_t = inp[HEAT] + 150 * minimum(p_m, 2.5)
    gate = par[GATE_AREA] * lift / sqrt(1 + lift * lift)
    flow_turbine, slope_turbine = orifice(p_t, par[AMBIENT] * 1.1, t_t, par[TURBINE_AREA])
    flow_gate, slope_gate = orifice(p_t, par[AMBIENT] * 1.1, t_t, gate)
    expansion = maximum(1 - par[AMBIENT] * 1.1 / maximum(p_t, 0.5), 0.0)
    power_t = par[TURBINE_EFFICIENCY] * flow_turbine * 1150 * t_t * cubic(ROOT, expansion) * 0.12
    power_c = flow_throttle * CP_AIR * (t_c - par[WARM])
    drag = 400 * par[FRICTION] * u * u
    d_u = (power_t - power_c - drag) / (par[INERTIA] * 1.4e8 * maximum(u, 0.15)) * par[WHEEL]
    d_pc = (flow_c - flow_throttle) * R_AIR * t_c / (par[PIPE_VOLUME] * BAR) - loss * 10
    d_pm = (flow_throttle - flow_engine) * R_AIR * t_m / (par[PLENUM_VOLUME] * BAR)
    d_pt = (flow_engine * 1.07 - flow_turbine - flow_gate) * R_AIR * t_t / (par[EXHAUST_VOLUME] * BAR)
    pull = par[LINE] * (p_c - p_a) - par[BLEED] * (p_a - par[AMBIENT])
    force = par[DIAPHRAGM] * (p_a - par[AMBIENT]) + 0.05 * (p_t - par[AMBIENT]) - par[PRELOAD]
    target = clip(force / par[SPRING] * 0.1, 0.0, 1.0)
    held = (target <= 0.0) & (lift <= 0.0)
    d_lift = where(held, 0 * lift, (target - lift) / par[DAMPING])
    slope_c = (0.5 / sqrt(absolute(gain) + 0.09) + slope_throttle) * R_AIR * t_c / (par[PIPE_VOLUME] * BAR)
    swallow = flow_engine / maximum(p_m, 0.1)
    slope_m = (swallow + slope_throttle) * R_AIR * t_m / (par[PLENUM_VOLUME] * BAR)
    slope_t = (slope_turbine + slope_gate) * R_AIR * t_t / (par[EXHAUST_VOLUME] * BAR)
    derivatives = (d_u, d_pc, d_pm, d_pt, 40 * pull, d_lift)
    slopes = (2.0 + 0 * u, slope_c, slope_m, slope_t, 40 * (par[LINE] + par[BLEED]), 1 / par[DAMPING])
    return derivatives, slopes, (p_m - par[AMBIENT], p_t, lift, flow_engine, ops.maximum(u, 0) * 300)


@component
def bounded(u: Value, p_c: Value, p_m: Value, p_t: Value, p_a: Value, lift: Value) -> Value:
    return (
        clip(u, 0.05, 2.0),
        clip(p_c, 0.3, 4.0),
        clip(p_m, 0.2, 4.0),
        clip(p_t, 0.5, 6.0),
        clip(p_a, 0.5, 4.0),
        clip(lift, 0.0, 1.0),
    )


@component
def solved(k: Value, slope: Value, h: Value) -> Value:
    return k / (1 + GAMMA_SCHEME * h * slope)


@component
def step(state: Value, par: Value, inp: Value, h: Value) -> Value:
    f, d, outputs = rates(state, par, inp)
    a0, a1, a2 = solved(f[0], d[0], h), solved(f[1], d[1], h), solved(f[2], d[2], h)
    a3, a4, a5 = solved(f[3], d[3], h), solved(f[4], d[4], h), solved(f[5], d[5], h)
    y0, y1, y2, y3, y4, y5 = state
    half = bounded(y0 + h * a0, y1 + h * a1, y2 + h * a2, y3 + h * a3, y4 + h * a4, y5 + h * a5)
    f2, _, _ = rates(half, par, inp)
    b0, b1 = solved(f2[0] - 2 * a0, d[0], h), solved(f2[1] - 2 * a1, d[1], h)
    b2, b3 = solved(f2[2] - 2 * a2, d[2], h), solved(f2[3] - 2 * a3, d[3], h)
    b4, b5 = solved(f2[4] - 2 * a4, d[4], h), solved(f2[5] - 2 * a5, d[5], h)
    w = h / 2
    new = bounded(
        y0 + w * (3 * a0 + b0), y1 + w * (3 * a1 + b1), y2 + w * (3 * a2 + b2),
        y3 + w * (3 * a3 + b3), y4 + w * (3 * a4 + b4), y5 + w * (3 * a5 + b5),
    )  # fmt: skip
    return new, outputs


@component
def initial(par: Value, inp: Value) -> Value:
    p = par[AMBIENT]
    return 0.25 * par[WHEEL], p, p * 0.9, p * 1.15, p, 0.0
