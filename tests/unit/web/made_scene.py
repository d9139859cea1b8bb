"""Answers of the moving picture made from cars of known parameters, without a diagnosis."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np

from boostproof.diagnosis.evidence.drive import sound_ramp
from boostproof.physics import layout
from boostproof.physics.hardware import CONTROLLERS, GATES, fitted
from boostproof.workflows.scene import Scene
from boostproof.workflows.scene_moments import follow

_LOOP = {"closed_loop": 1.0, "spool_band": 4.0e4, "feed_forward": 0.4, "loop_gain": 2.0e-6, "loop_integral": 3.0e-6}


@lru_cache(maxsize=16)
def made_scene(
    controller: str = "ball and spring",
    gate: str = "internal flapper",
    cause: str = "port-too-small",
    title: str = "Gate port too small for this engine and target",
    fault: tuple[tuple[str, float], ...] = (("port_diameter", 0.019),),
    measured: bool = True,
) -> dict[str, Any]:
    """The answer for a car with a fault on a slow ramp, as if it had been driven; 50 moments.

    Parameters
    ----------
    controller, gate : kinds of `physics.hardware`
    cause, title : of the fault; "" for none
    fault : parameters that it sets
    measured : whether a measured curve lies beside it
    """
    ramp = sound_ramp(712.0, 9.0e4, 1.0e5, 293.0)
    sound = np.array([[p.neutral] for p in layout.PARAMETERS])
    loop = _LOOP if controller.startswith("solenoid") else {}
    for settings in (CONTROLLERS[controller], GATES[gate], {"free_travel": 0.009, "other_travel": 0.009}, loop):
        sound = fitted(sound, settings)
    kept = [int(k) for k in np.linspace(45, len(ramp.steps) - 2, 50)]
    cars = [follow(par[:, 0], ramp.inputs, ramp.steps, kept) for par in (fitted(sound, dict(fault)), sound)]
    time = np.concatenate([[0.0], np.cumsum(ramp.steps)])[kept]
    speed, boost = cars[0].inputs[:, 0], cars[0].output("boost")
    scene = Scene(
        car="the grey estate", cause=cause or "healthy", titles={cause: title} if cause else {}, probability=0.8,
        driven="pull" if measured else "ramp", target=9.0e4, stop=1.3e5, seconds_in=time - time[0],
        suspected=cars[0], sound=cars[1],
        measured=(speed[::2], boost[::2] + 500.0) if measured else (np.empty(0), np.empty(0)), findings=(), seed=1,
        versions={"boostproof": "0"},
        inputs={"case": "", "without_readings": False, "without_history": False, "healthy_prior": 0.05},
    )  # fmt: skip
    return dict(scene.as_json())
