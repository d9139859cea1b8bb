"""The scale of a boost gauge: psi above zero, inches of mercury below it.

A gauge convention, common practice, no source. A logger that keeps it writes -20 for a vacuum of 20 inHg and 14 for
14 psi of boost, in one column.
"""

from __future__ import annotations

import re

import numpy as np

from boostproof.recording.model import FloatArray, Samples
from boostproof.units import Unit, get_unit

_PSI, _INHG = get_unit("psi", "pressure"), get_unit("inHg", "pressure")
BOTH = Unit("inHg/psi", "pressure", _PSI.factor)
_WORDS = re.compile(r"psi|in\.?\s?hg|\"\s?hg")


def names_both(text: str) -> bool:
    """Whether a text is the two units and nothing else: "inHg/psi", "psi | in.Hg".

    Parameters
    ----------
    text : of a header's bracket, a units row or an answer
    """
    folded = text.casefold()
    found = {match[0][:3] == "psi" for match in _WORDS.finditer(folded)}
    return len(found) == 2 and not re.search(r"[a-z0-9]", _WORDS.sub("", folded))


def in_psi(values: FloatArray) -> FloatArray:
    """Numbers of such a scale, all of them in psi.

    Parameters
    ----------
    values : as written, any shape
    """
    return np.where(values < 0.0, values * (_INHG.factor / _PSI.factor), values)


def straight(values: FloatArray, unit: Unit) -> FloatArray:
    """Numbers that times ``unit.factor`` are Pa: the same, but for the scale of two units."""
    return in_psi(values) if unit is BOTH else values


def straight_samples(samples: Samples, unit: Unit) -> Samples:
    """`straight` for a channel on a time base of its own."""
    return Samples(samples.time, in_psi(samples.values)) if unit is BOTH else samples


def pressure_unit(name: str) -> Unit:
    """A pressure unit by the name under which it is shown."""
    return BOTH if name == BOTH.name else get_unit(name, "pressure")
