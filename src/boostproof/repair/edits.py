"""What a size changes in the cars: port, travel, spring, diaphragm, external gate, setting, line, bleed.

Every function edits a `Fitting` in place. Where the size of a part moves another parameter by geometry, that
is moved too, as with a larger diaphragm. A wider valve gives the exhaust more to push on: the spring is taken to
be set again for it, as the faults of the catalogue take the push to be the spring's affair too.
"""

from __future__ import annotations

import numpy as np

from boostproof.bench.response import Array
from boostproof.bench.set_ups import SHUT_TURNS
from boostproof.physics.hardware import GATES
from boostproof.repair.model import Fitting

_POPPET = GATES["external poppet"]
_POPPET_PUSH_PORT = 0.036  # m, port that the usual push of an external gate belongs to
_POPPET_SPAN = 2.7e4  # Pa from first movement to full travel (common practice, no source)
_USUAL_PUSH = 7.0e4  # Pa of exhaust over outlet pressure for which a spring of another gate is chosen (judgement)
_HOSE_FRICTION, _HOSE_LOSS, _HOSE_LENGTH = 0.03, 1.5, 0.5  # f, K and usual length [m] of a signal hose
_HOLE = 0.65  # discharge coefficient of a drilled hole


def port(f: Fitting) -> None:
    """Another port with a flapper or valve to fit it; the spring is set again for the wider valve's push."""
    f.put("port_diameter", f.made)


def travel(f: Fitting) -> None:
    """Travel to the stop at the rod: both the actuator's stroke and what the arm may swing."""
    reserve = f.meant("free_travel") / f.meant("gate_travel")
    f.put("gate_travel", f.made)
    f.put("free_travel", f.made * reserve)
    f.put("other_travel", f.made * reserve)


def opening(f: Fitting) -> None:
    """Spring or rod length so that the arm starts to move at a pressure on the bench."""
    f.put("opening_pressure", f.made)


def diaphragm(f: Fitting) -> None:
    """A larger can with the same opening pressure: spring, push and friction count by the area they act on."""
    ratio = 0.25 * np.pi * f.made**2 / f.row("diaphragm_area")
    for name in ("spring_rate", "assistance", "friction"):
        f.put(name, f.row(name) / ratio)
    for name in ("diaphragm_area", "chamber_volume", "upper_volume"):
        f.put(name, f.row(name) * ratio)


def external_gate(f: Fitting) -> None:
    """An external gate in place of what was there, its spring chosen for the same boost."""
    for name in ("seat_cosine", "seat_slope", "diaphragm_area", "chamber_volume", "upper_volume"):
        f.put(name, _POPPET[name])
    stroke = _POPPET["gate_travel"]
    push = _POPPET["assistance"] * (f.made / _POPPET_PUSH_PORT) ** 2
    for name, value in (
        ("gate_count", 1.0), ("other_gates", 0.0), ("lever_arm", 1.0), ("lift_ratio", 1.0), ("gate_leak", 0.0),
        ("heat_binding", 0.0), ("rod_off", 0.0), ("diaphragm_leak", 0.0), ("ports_swapped", 0.0),
        ("upper_vent", 6.0e-6), ("dump_apart", 0.0), ("gate_travel", stroke), ("free_travel", 1.25 * stroke),
        ("spring_rate", _POPPET_SPAN / stroke), ("assistance_fade", 60.0), ("friction", 1.5e3),
    ):  # fmt: skip
        f.put(name, value)
    f.put("gate_flow", 0.70 + 0.04 * f.error)
    f.put("port_diameter", f.size if f.size is not None else 0.0)
    f.put("dump_area", 0.7 * 0.25 * np.pi * f.made**2)
    f.put("assistance", push)
    f.put("opening_pressure", f.meant("opening_pressure") + (push - f.meant("assistance")) * _USUAL_PUSH)


def setting(f: Fitting) -> None:
    """The adjuster turned: of a ball and spring it moves the offset, of a bleed valve the bleed."""
    if f.controller == "bleed valve":
        least = SHUT_TURNS * f.row("bleed_per_turn")
        start = least if f.absolute else f.row("bleed_area")
        f.put("bleed_area", np.maximum(start + f.made * f.row("bleed_per_turn"), least))
        return
    start = f.row("offset_at_slack") if f.absolute else f.row("offset")
    f.put("offset", start + f.made * f.row("offset_per_turn"))


def bleed(f: Fitting) -> None:
    """A drilled bleed hole."""
    f.put("bleed_area", _HOLE * 0.25 * np.pi * f.made**2)


def line(f: Fitting) -> None:
    """A hose of another bore; what else stands in the line keeps its own area."""
    f.put("hose_area", hose_area(f.made))
    if f.controller in ("none", "ball and spring"):
        f.put("line_area", hose_area(f.made))


def hose_area(bore: Array) -> Array:
    """Effective area of half a metre of hose, ``A / sqrt(f L/D + K)``. [m2]

    >>> round(float(hose_area(np.array(4.0e-3))) * 1e6, 1)
    5.5
    """
    friction = _HOSE_FRICTION * _HOSE_LENGTH / bore
    return np.asarray(0.25 * np.pi * bore**2 / np.sqrt(friction + _HOSE_LOSS))
