"""What several steps need of a whole recording: made for the first of them, held as long as the recording is."""

from __future__ import annotations

import weakref
from collections.abc import Callable, Hashable
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from boostproof.recording.model import Recording

Made = TypeVar("Made")
Kind = TypeVar("Kind", bound=np.generic)

_held: dict[tuple[int, Hashable], tuple[weakref.ref[Recording], Any]] = {}


def made_once(recording: Recording, key: Hashable, make: Callable[[], Made]) -> Made:
    """A result of this very recording; what is made must not refer to the recording, or neither would ever go.

    Parameters
    ----------
    recording : whose result it is; a changed copy of it is another one
    key : tells the result from others of the recording
    make : called where it was not made yet
    """
    place = (id(recording), key)
    held = _held.get(place)
    if held is None or held[0]() is not recording:
        held = (weakref.ref(recording, lambda _: _held.pop(place, None)), make())
        _held[place] = held
    made: Made = held[1]
    return made


def unwritable(values: NDArray[Kind]) -> NDArray[Kind]:
    """The same values, which nobody who shares them can write to."""
    seen = values.view()
    seen.flags.writeable = False
    return seen
