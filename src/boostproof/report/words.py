"""How numbers are said: percent by how far they can be trusted, sizes in the units of the trade."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Protocol

from boostproof.bench.tests import BY_ID as TESTS
from boostproof.units import find_unit, from_si, get_unit

if TYPE_CHECKING:
    from boostproof.workflows.verdict import SeverityShare

UNCONFIRMED_CAP = 0.80  # what elimination alone may show: only its own test lifts a cause above this
_DIGITS = {"psi": 1, "bar": 2, "kPa": 0}


class Weighed(Protocol):
    """A cause with its probability; ``confirmed`` by its own test."""

    @property
    def id(self) -> str: ...
    @property
    def title(self) -> str: ...
    @property
    def probability(self) -> float: ...
    @property
    def confirmed(self) -> bool: ...


def shown_percent(cause: Weighed, trust: str) -> str:
    """Probability of a cause as it may be shown; empty where only the order can be trusted."""
    p = cause.probability if cause.confirmed else min(cause.probability, UNCONFIRMED_CAP)
    return percent(p, trust)


def percent(p: float, trust: str) -> str:
    """A probability in percent, rounded by trust.

    >>> percent(0.734, "ok"), percent(0.734, "about"), percent(0.734, "order only")
    ('73 %', 'about 75 %', '')
    >>> percent(0.02, "about"), percent(0.99, "about")
    ('under 5 %', 'over 95 %')
    """
    if trust == "order only":
        return ""
    if trust == "about":
        rounded = 5 * round(20.0 * p)
        return "under 5 %" if rounded == 0 else "over 95 %" if rounded == 100 else f"about {rounded:d} %"
    return f"{100.0 * p:.0f} %" if p < 0.995 else "over 99 %"


def title_of_test(test: str) -> str:
    """A bench test as its procedure is called; an id that is not in the catalogue as words.

    >>> title_of_test("port-measure"), title_of_test("no-such")
    ('Port bore and entry measured', 'no such')
    """
    return TESTS[test].title if test in TESTS else test.replace("-", " ")


def called_test(test: str) -> str:
    """A bench test within a sentence.

    >>> called_test("port-measure")
    'port bore and entry measured'
    """
    title = title_of_test(test)
    return title[0].lower() + title[1:]


def pressure(pascal: float, units: str) -> str:
    """A gauge pressure or a difference in the chosen unit.

    >>> pressure(-100.0, "psi"), pressure(-2e4, "bar")
    ('0.0 psi', '-0.20 bar')
    """
    unit = find_unit(units)
    assert unit is not None  # psi, bar and kPa are in the table
    digits = 2 if unit.name == "bar" else 1
    value = round(float(from_si(pascal, unit)), digits) + 0.0  # no minus before a zero
    return f"{value:.{digits}f} {unit.name}"


def from_kpa(kilopascal: float, units: str) -> str:
    """A pressure or a difference given in kPa, as people read it off a gauge.

    >>> from_kpa(103.4, "psi"), from_kpa(103.4, "bar"), from_kpa(103.4, "kPa")
    ('15.0 psi', '1.03 bar', '103 kPa')
    """
    unit = get_unit(units, "pressure")
    return f"{from_si(1e3 * kilopascal, unit):.{_DIGITS.get(unit.name, 1)}f} {unit.name}"


def hole(area: float) -> str:
    """An effective area as the round hole that passes as much, ``d = sqrt(4 A / (0.65 pi))``.

    >>> hole(0.65 * 3.14159 / 4 * 0.002**2)
    'a 2.0 mm hole'
    """
    return f"a {1e3 * math.sqrt(4.0 * max(area, 0.0) / (0.65 * math.pi)):.1f} mm hole"


_NAMES = {
    "port_diameter": "gate port",
    "free_travel": "free travel of the gate",
    "gate_flow": "flow coefficient of the port",
    "friction": "friction of gate and actuator",
    "gate_leak": "leak of the shut gate",
    "opening_pressure": "opening pressure of the actuator",
    "diaphragm_leak": "leak of the diaphragm",
    "line_leak": "leak of the signal line",
    "line_area": "free passage of the signal line",
    "hose_area": "free passage behind the controller",
    "offset": "pressure that the controller takes off",
    "ball_stick": "further pressure that the sticking ball takes off",
    "bleed_area": "bleed of the controller",
    "vent_area": "vent of the solenoid",
    "charge_leak": "leak of the charge pipes",
    "bypass_leak": "leak of the recirculation valve",
    "exhaust_loss": "exhaust restriction",
    "breathing": "engine flow",
    "boost_gain": "scale of the sensor",
    "boost_offset": "offset of the sensor",
    "compressor_work": "work that the compressor needs",
    "compressor_area": "flow capacity of the compressor",
}


def severity_in_words(s: SeverityShare, units: str) -> str:
    """How bad, beside what a sound car has."""
    name = _NAMES.get(s.parameter)
    if name is None:
        return ""
    if s.unit == "m":
        return f"{name} about {1e3 * s.value:.1f} ± {2e3 * s.sd:.1f} mm, sound {1e3 * s.sound:.1f} mm"
    if s.unit == "m2":
        sound = f", sound {hole(s.sound)}" if s.sound > 1e-9 else ""
        return f"{name} about as {hole(s.value)}{sound}"
    if s.unit == "Pa":
        return (
            f"{name} about {pressure(s.value, units)} ± {pressure(2 * s.sd, units)}, "
            f"sound {pressure(s.sound, units)}"
        )
    if s.sound:
        return f"{name} about {s.value / s.sound:.2f} times the sound one"
    return ""
