"""Cars of another simulator, diagnosed, repaired by what was wrong, and held against the forecast of that repair.

``python -m evaluation.repairs --cars 40`` draws case folders by the simulator of `boostproof.demo`, which shares no
physics with the inference. Each is diagnosed with its log and readings; the repair that undoes the true cause is
forecast as a shop would ask for it. The truth is the same car without its fault on the ramp of the forecast. For a port
too small the size that is proposed is held against the smallest of the trade that truly holds on that car.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from boostproof.demo import loop, make_case
from boostproof.demo.bench import stream
from boostproof.demo.case import cars_of
from boostproof.demo.draw import Car
from boostproof.demo.faults import FAULTS
from boostproof.demo.hardware import Hardware
from boostproof.demo.run import cruise, pull, run
from boostproof.diagnosis.causes import Fitted
from boostproof.errors import InputError
from boostproof.repair.bands import Band
from boostproof.repair.catalogue import CATALOGUE
from boostproof.repair.ramp import Ramp
from boostproof.repair.sizing import Tried
from boostproof.workflows.forecast import RepairForecast, fitted_of, forecast
from evaluation.families import RPM
from evaluation.pull_plans_demo import boost_at

Array = NDArray[np.float64]
COUNTED = 0.8  # of the target, from which on points count: below the turbo comes up
AT_STOP = 0.95  # of the travel
CONFIDENCES = (0.5, 0.7, 0.8, 0.9, 0.95)
GATE_TOO = ("exhaust-freed",)  # the other simulator has a tight gate there as well, which no one repair undoes with it


@dataclass(frozen=True)
class Trial:
    """One car repaired.

    Attributes
    ----------
    cause, repair, seed : which car, and what was done
    probability : of the true cause
    inside : share of the points that lie in the band of nine in ten
    error : median of the middle's distance from the truth [Pa]
    width : mean width of the band [Pa]
    proposed, smallest : size proposed and smallest that holds [m]; None where no port was sized or none holds
    by_confidence : sizes that would have been proposed with `CONFIDENCES` [m]
    """

    cause: str
    repair: str
    seed: int
    probability: float
    inside: float
    error: float
    width: float
    proposed: float | None = None
    smallest: float | None = None
    sized: bool = False
    by_confidence: tuple[float | None, ...] = ()


def repair_for(cause: str, fitted: Fitted) -> str:
    """The first repair that undoes a cause of the other simulator on a car so fitted; empty where none does.

    >>> repair_for("port-too-small", Fitted("none")), repair_for("exhaust-freed", Fitted("none"))
    ('port', '')
    """
    if cause in GATE_TOO:
        return ""
    own = FAULTS[cause].accepts[0]
    # a gate that was not there before has no size that it should have
    return next((r.id for r in CATALOGUE if own in r.mends and r.applies(fitted) and r.id != "external gate"), "")


def mendable() -> list[str]:
    """Causes of the other simulator that some repair undoes."""
    mended = {i for r in CATALOGUE for i in r.mends}
    return [c for c in sorted(FAULTS) if c not in GATE_TOO and FAULTS[c].accepts[0] in mended]


def driven(hardware: Hardware, ramp: Ramp) -> Array:
    """Rows of the other simulator on the ramp of a forecast."""
    speed, steps = ramp.schedule.inputs[:, 0], ramp.schedule.steps
    rising = np.flatnonzero(np.diff(speed) > 1e-9)
    rate = (speed[rising[-1] + 1] - speed[rising[0]]) / steps[rising[0] : rising[-1] + 1].sum()
    return run(hardware, [cruise(speed[0] / RPM, 4.0, keep=False), pull(ramp.redline / RPM, rate / RPM)])[0]


def true_boost(hardware: Hardware, ramp: Ramp) -> Array:
    """True boost at the engine speeds of a forecast. [Pa gauge, (slots,)]"""
    return boost_at(driven(hardware, ramp), hardware.air.pressure, ramp.speeds)


def band_of(found: RepairForecast, cause: str) -> Band:
    """The band that a reader would look at: over all causes, or where these part that of the true one or the leader."""
    if found.result.after is not None:
        return found.result.after
    bands = {c.id: c.band for c in found.result.by_cause}
    return next((bands[i] for i in FAULTS[cause].accepts if i in bands), found.result.by_cause[0].band)


def held_against(band: Band, true: Array, target: float) -> tuple[float, float, float]:
    """Share of points inside, median error of the middle and mean width, where boost is up. [1], [Pa], [Pa]"""
    counted = true > COUNTED * min(target, float(true.max()))
    inside = (true >= band.low) & (true <= band.high)
    return (
        float(inside[counted].mean()),
        float(np.median(np.abs(band.middle - true)[counted])),
        float((band.high - band.low)[counted].mean()),
    )


def holds(hardware: Hardware, ramp: Ramp, tolerance: float) -> bool:
    """Whether boost nowhere passes the target by more than the tolerance where the gate is at its stop."""
    rows = driven(hardware, ramp)
    boost = rows[:, loop.P_MANIFOLD] - hardware.air.pressure
    stopped = rows[:, loop.GATE_TRAVEL] > AT_STOP * hardware.travel
    seen = (rows[:, loop.RPM] * RPM >= ramp.speeds[0]) & (rows[:, loop.RPM] * RPM <= ramp.speeds[-1])
    return not bool((boost[stopped & seen] > ramp.target + tolerance).any())


def smallest_port(car: Car, sizes: Sequence[float], ramp: Ramp, tolerance: float) -> float | None:
    """Smallest port of the trade after which every larger one holds too, its valve made to fit. [m]"""
    gate = car.hardware.gate
    found = None
    for size in sorted(sizes, reverse=True):
        wider = car.hardware.changed("gate", port=size, valve=gate.valve * size / gate.port)
        if not holds(wider, ramp, tolerance):
            break
        found = size
    return found


def trial(cause: str, severity: float, seed: int) -> Trial | None:
    """Diagnose, repair and drive one car; None where its log is refused, a pull cut short by runaway boost say."""
    car, sound = cars_of(cause, severity, seed)
    with tempfile.TemporaryDirectory(prefix="boostproof-evaluation-") as place:
        folder = make_case(Path(place) / "case", cause=cause, severity=severity, seed=seed)
        repair = repair_for(cause, fitted_of(folder))
        try:
            found = forecast(folder, [repair])
        except InputError:
            return None
    ramp, result = found.result.ramp, found.result
    inside, error, width = held_against(band_of(found, cause), true_boost(sound.hardware, ramp), sound.target)
    p = sum(c.probability for c in result.by_cause if c.id in FAULTS[cause].accepts)
    if cause != "port-too-small" or result.sizing is None:
        return Trial(cause, repair, seed, p, inside, error, width)
    sizes = [t.size for t in result.sizing.tried]
    proposed = size_of(result.sizing.chosen)
    smallest = smallest_port(car, sizes, ramp, found.tolerance)
    others = tuple(size_of(result.sizing.at(c, lowers=True)) for c in CONFIDENCES)
    return Trial(cause, repair, seed, p, inside, error, width, proposed, smallest, sized=True, by_confidence=others)


def size_of(tried: Tried | None) -> float | None:
    """Its size. [m]"""
    return None if tried is None else tried.size


def steps_off(sizes: Sequence[tuple[float | None, float | None]], step: float) -> dict[str, float]:
    """How far the sizes proposed lie from the smallest that hold; shares are of all cars.

    >>> steps_off([(30e-3, 29e-3), (28e-3, 29e-3), (None, 29e-3)], 1e-3)["within_one_step"]
    0.667
    """
    told = [(a, b) for a, b in sizes if a is not None and b is not None]
    steps = np.array([round((a - b) / step) for a, b in told])
    return {
        "no_size_proposed": len(sizes) - len(told),
        "within_one_step": round(float((np.abs(steps) <= 1).sum()) / max(len(sizes), 1), 3),
        "too_small": round(float((steps < 0).sum()) / max(len(sizes), 1), 3),
        "mean_steps_over": round(float(steps.mean()), 2) if told else 0.0,
    }


def summary(trials: Sequence[Trial], step: float = 1e-3) -> dict[str, float]:
    """The figures of a set of trials.

    Parameters
    ----------
    step : between two sizes of the trade [m]
    """
    out: dict[str, float] = {
        "cars": len(trials),
        "points_inside": round(float(np.mean([t.inside for t in trials])), 3),
        "cars_all_inside": round(float(np.mean([t.inside == 1.0 for t in trials])), 3),
        "median_error_kpa": round(float(np.median([t.error for t in trials])) / 1e3, 2),
        "error_of_nine_in_ten_kpa": round(float(np.quantile([t.error for t in trials], 0.9)) / 1e3, 2),
        "mean_width_kpa": round(float(np.mean([t.width for t in trials])) / 1e3, 1),
    }
    sized = [t for t in trials if t.sized and t.smallest is not None]
    if sized:
        out |= {"sized": len(sized)} | steps_off([(t.proposed, t.smallest) for t in sized], step)
        for i, confidence in enumerate(CONFIDENCES):
            found = steps_off([(t.by_confidence[i], t.smallest) for t in sized if t.by_confidence], step)
            out |= {f"{name}_at_{confidence:g}": value for name, value in found.items()}
    return out


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cars", type=int, default=24)
    parser.add_argument("--cause", help="of this cause alone; causes in turn where not given")
    parser.add_argument("--seed", type=int, default=7000)
    given = parser.parse_args()
    names = [given.cause] if given.cause else mendable()
    trials: list[Trial] = []
    for n in range(given.cars):
        seed = given.seed + n
        severity = float(stream(seed, "severity").uniform(0.2, 1.0))
        done = trial(names[n % len(names)], severity, seed)
        if done is not None:
            trials.append(done)
            print(json.dumps(asdict(done)), flush=True)
    print(json.dumps(summary(trials) | {"refused": given.cars - len(trials)}, indent=2))


if __name__ == "__main__":
    main()
