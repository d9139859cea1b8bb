"""What a test would read on a car with a given cause, in words.

Quantities are placeholders, put into the units of the shop like those of steps and cautions, by
`boostproof.bench.procedures.fill`.
"""

from __future__ import annotations

import numpy as np

from boostproof.bench.response import Array, Response
from boostproof.physics.rigs import SEARCH_LIMIT

_PRESSURES = {
    "opening": "first movement",
    "full": "full travel",
    "return": "home again",
    "pressure 0": "pressure",
    "pressure as found": "line pressure",
    "pressure 0.5": "half duty",
    "pressure 1": "full duty",
    "reads 0": "key-on",
    "reads 1": "at 100 kPa",
    "floor mid": "floor at mid revs",
    "floor high": "floor near redline",
    "spring level mid": "boost at mid revs",
    "spring level high": "boost near redline",
    "line mid": "line pressure at mid revs",
    "line high": "line pressure near redline",
    "behind turbine": "behind the turbine",
    "overshoot 0": "overshoot at half redline",
    "overshoot 1": "overshoot higher up",
    "held level 0": "settles at half redline at",
    "held level 1": "settles higher up at",
    "second spool": "second run against the first on the way up",
    "second level": "and in its level",
    "change mid": "change at mid revs",
    "change high": "change near redline",
    "hot shift": "first movement hot against cold",
}
_LENGTHS = {
    "travel": "travel",
    "swing": "swing",
    "port": "port",
}
_ANGLES = {
    "retard": "ignition later by",
}
_FROM_ZERO = {  # never below it
    "opening", "full", "return", "travel", "swing", "port", "overshoot 0", "overshoot 1", "retard",
}  # fmt: skip
_LOG_TIMES = {"decay": ("falls to half in", 0.12)}  # logarithms of a time and the hand's own: (text, hand [s])
_RATIOS = {
    "exhaust ratio mid": "exhaust over charge pressure at mid revs",
    "exhaust ratio high": "the same near redline",
}
# words for features that are judged, not read: (feature, from, text); the first that holds is said
_WORDS: dict[str, tuple[tuple[float, str], ...]] = {
    "leak": (
        (-5.0, "cannot hold the air"),
        (-8.3, "leaks away at once"),
        (-9.3, "falls slowly"),
        (-99, "holds"),
    ),
    "outlet": ((-7.5, "comes home at once"), (-8.6, "comes home late"), (-99.0, "stays out")),
    "friction": ((5.0, "will not move"), (4.0, "binds"), (-99.0, "moves freely")),
    "entry": ((0.55, "way in clean"), (-99.0, "way in poor")),
    "place": ((0.4, "hiss at the bypass valve"), (-0.4, ""), (-99.0, "hiss at a pipe or the cooler")),
    "seat": ((-4.9, "light at the seat"), (-99.0, "no light")),
    "wear": ((0.2, "drags or shows wear"), (-99.0, "spins freely")),
    "split": ((-6.5, "damage to the line"), (-99.0, "line looks sound")),
    "take-off": ((0.5, "taken at the manifold"), (-99.0, "taken at the compressor")),
    "share of new": ((-0.3, "passes as a new hose"), (-1.3, "passes far less than a new hose"), (-99.0, "passes nothing")),
    "smoke": ((-5.9, "smoke before the turbine"), (-99.0, "no smoke")),
    "held back": ((0.5, "control unit holds the engine back"), (-99.0, "not held back")),
    "misfire": ((0.03, "signs of misfire"), (-99.0, "plugs as they should be")),
    "lean": ((0.015, "fuel pressure sags, lean"), (-99.0, "fuel pressure rises with boost")),
    "breathing lost": ((0.03, "low or uneven"), (-99.0, "even")),
    "swapped controller": ((0.5, "cured with another controller"), (-99.0, "no change with another controller")),
    "swapped hoses": ((0.5, "cured with another line"), (-99.0, "no change with another line")),
    "ports": ((0.5, "hose on the wrong port of the actuator"), (-99.0, "")),
    "in and out": ((0.5, "controller the wrong way round"), (-99.0, "")),
    "rod": ((0.5, "rod off"), (-99.0, "")),
    "spring side": ((-7.5, ""), (-99.0, "port on the spring side blocked")),
    "mounted": ((0.5, "gate the wrong way round"), (-99.0, "")),
    "inlet": ((5.2, "filter full or duct flattened"), (-99.0, "")),
    "flow as found": ((0.9, "strong hiss"), (0.4, "clear hiss"), (-0.3, "faint hiss"), (-99.0, "silent")),
}


def expected_reading(response: Response, values: Array, weight: Array) -> str:
    """What candidates of one cause would read, in words.

    Parameters
    ----------
    response : the test
    values : (observed features, n) predictions, in the order of its observations
    weight : (n,) of the candidates, not all zero

    Returns
    -------
    str
        With placeholders; empty where nothing of it would help a person.
    """
    said = []
    for value, o in zip(values, response.observations, strict=True):
        low, middle, high = quantiles(value, weight, (0.05, 0.5, 0.95))
        noise = 1.645 * o.sd if o.kind == "equal" else 0.0
        half = float(np.hypot(0.5 * (high - low), noise))
        centre = 0.5 * (low + high)
        said.append(say_feature(o.feature, centre - half, middle, centre + half, response.test))
    return ", ".join(dict.fromkeys(text for text in said if text))


def quantiles(value: Array, weight: Array, shares: tuple[float, ...]) -> list[float]:
    """Weighted quantiles.

    >>> quantiles(np.array([1.0, 2.0, 9.0]), np.array([0.5, 0.4, 0.1]), (0.05, 0.5, 0.95))
    [1.0, 1.0, 9.0]
    """
    order = np.argsort(value)
    reached = np.cumsum(weight[order])
    places = np.searchsorted(reached, np.array(shares) * reached[-1] * (1.0 - 1e-12))
    return [float(x) for x in value[order][places.clip(0, len(value) - 1)]]


def say_feature(feature: str, low: float, middle: float, high: float, test: str) -> str:
    """A feature's usual range in words.

    Parameters
    ----------
    feature : name
    low, middle, high : where nine readings in ten fall, and the middle of the predictions. SI
    test : id of the test

    Returns
    -------
    str
        Pressures and lengths as placeholders; empty where it would not help a person.

    Examples
    --------
    >>> say_feature("opening", 41.2e3, 48e3, 54.8e3, "actuator-sweep")
    'first movement {41 to 55 kPa}'
    """
    if feature in _FROM_ZERO:
        low, middle, high = max(low, 0.0), max(middle, 0.0), max(high, 0.0)
    if feature in _PRESSURES:
        name = _PRESSURES[feature]
        if high >= 0.9 * SEARCH_LIMIT:
            return "does not move" if middle >= 0.9 * SEARCH_LIMIT else f"{name} from {{{low / 1e3:.0f} kPa}} up"
        return f"{name} {_range(low / 1e3, high / 1e3, 'kPa')}"
    if feature in _LENGTHS:
        return f"{_LENGTHS[feature]} {_range(low * 1e3, high * 1e3, 'mm')}"
    if feature in _ANGLES:
        return f"{_ANGLES[feature]} {_plain(np.degrees(low), np.degrees(high), 0)} deg"
    if feature in _LOG_TIMES:
        text, hand = _LOG_TIMES[feature]
        seconds = 10.0**middle - hand
        return f"{text} {max(seconds, 0.0):.1f} s" if seconds < 60.0 else "does not fall within a minute"
    if feature in _RATIOS:
        return f"{_RATIOS[feature]} {_plain(low, high, 1)}"
    if feature == "leak" and test == "intake-pressurise":
        return "cannot reach or hold pressure" if middle > -5.0 else "holds or seeps"
    return next((text for limit, text in _WORDS.get(feature, ()) if middle > limit), "")


def _range(low: float, high: float, unit: str) -> str:
    return f"{{{_plain(low, high, 0)} {unit}}}"


def _plain(low: float, high: float, digits: int) -> str:
    first, second = (f"{round(x, digits) + 0.0:.{digits}f}" for x in (low, high))
    return first if first == second else f"{first} to {second}"
