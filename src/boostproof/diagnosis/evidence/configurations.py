"""How the car stood while it was recorded: a set-up of pulls.toml as the model takes it.

A set-up says what was changed for a recording; whatever it does not say stays as the car was found. What was
changed so is changed on every candidate, faulty or not: with the controller out of the line its fault is gone,
with the gate tied open so is that of the spring. That is what such pulls are driven for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from boostproof.bench import set_ups
from boostproof.errors import InputError
from boostproof.physics.change import Change
from boostproof.recording.setup import SetUp

if TYPE_CHECKING:
    from boostproof.car.spec import CarSpec

LEFT_OUT = "set-up-not-used"
_OPEN_EXHAUST = ("open", "off", "removed", "downpipe off", "open behind the turbine", "nothing behind the turbine")
_SHORT_PIPE = 0.12  # loss of what is left, as share of a whole system's (judgement)
_ADJUSTABLE = ("ball and spring", "bleed valve")

# How much less sure the model is of such a pull, in its own errors of a pull as found (judgement: with the gate
# at a stop boost is what turbine and exhaust make it, and no spring levels their errors).
_DOUBT_HELD, _DOUBT_SPRING, _DOUBT_OTHER = 2.5, 1.5, 1.0


@dataclass(frozen=True)
class Configuration:
    """How the car stood for a recording.

    Attributes
    ----------
    says : in words
    changes : edits of every candidate
    duty : with which the solenoid was driven by hand, None where nobody did [1]
    hidden : channels that say nothing about the car in this set-up
    doubt : model error that belongs to this set-up alone, in curve errors of a pull as found [1]
    """

    says: str = "as found"
    changes: tuple[Change, ...] = ()
    duty: float | None = None
    hidden: frozenset[str] = frozenset()
    doubt: float = 0.0

    @property
    def as_found(self) -> bool:
        """Nothing was changed."""
        return not self.changes and self.duty is None


AS_FOUND = Configuration()


def configuration_of(set_up: SetUp | None, car: CarSpec, exhaust_loss: float) -> Configuration:
    """A set-up as the model takes it.

    Parameters
    ----------
    set_up : as written or implied by a test, None where nothing is said
    car : tells what a setting means, and how the car was found
    exhaust_loss : of a usual whole exhaust system for this car [1/m4]

    Raises
    ------
    InputError
        Of kind ``set-up-not-used``, where the set-up cannot be simulated; without a place.
    """
    if set_up is None:
        return AS_FOUND
    exhaust = _exhaust(set_up.exhaust, exhaust_loss)
    if set_up.gate in ("held open", "held shut"):
        held = set_ups.GATE_HELD_OPEN if set_up.gate == "held open" else set_ups.GATE_HELD_SHUT
        signal = frozenset({"line_pressure", "duty"})  # whatever it does, the gate does not follow
        return Configuration(_said(f"gate {set_up.gate}", exhaust), (*held, *exhaust), None, signal, _DOUBT_HELD)
    if set_up.controller in ("bypassed", "removed") and car.controller.kind != "none":
        moved = _take_off(set_up.take_off, None)
        changes = (*set_ups.CONTROLLER_BYPASSED, *moved, *exhaust)
        words = _said(f"controller {set_up.controller}", moved, exhaust)
        return Configuration(words, changes, None, frozenset({"duty"}), _DOUBT_SPRING)
    found = car.signal_line.take_off if car.signal_line is not None else None
    moved, turned = _take_off(set_up.take_off, found), _adjuster(set_up.turns_in, car)
    duty = _duty(set_up, car)
    driven = () if duty is None else set_ups.FIXED_DUTY
    changes = (*moved, *turned, *driven, *exhaust)
    if not changes:
        return AS_FOUND
    words = _said("", moved, turned, driven, exhaust)
    return Configuration(words, changes, duty, frozenset({"duty"} if driven else ()), _DOUBT_OTHER)


_WORDS = {
    "take_off": "signal taken elsewhere",
    "offset": "adjuster turned",
    "bleed_area": "adjuster turned",
    "closed_loop": "fixed duty",
    "exhaust_loss": "exhaust open",
}


def _said(first: str, *edits: tuple[Change, ...]) -> str:
    said = [first] if first else []
    return ", ".join(said + [_WORDS[changes[0].parameter] for changes in edits if changes])


def _take_off(place: str | None, found: str | None) -> tuple[Change, ...]:
    return () if place is None or place == found else set_ups.signal_taken_at(place)


def _adjuster(turns: float | str | None, car: CarSpec) -> tuple[Change, ...]:
    found = car.controller.turns_in
    if turns is None or turns in ("as found", found):
        return ()
    if isinstance(turns, str):
        raise _left_out(
            f'the adjuster stood at "{turns}", and only a number of turns can be simulated',
            "Write turns_in as turns in from slack (bleed valve: from bleed shut), such as 2.5.",
        )
    if car.controller.kind not in _ADJUSTABLE:
        raise _left_out(
            f"turns_in is {turns:g}, but a controller of the kind {car.controller.kind} has no adjuster",
            "Take turns_in out of its set_up, or correct the kind of controller in car.toml.",
        )
    before = float(found) if isinstance(found, int | float) else None
    return set_ups.adjuster_at(float(turns), car.controller.kind, before)


def _duty(set_up: SetUp, car: CarSpec) -> float | None:
    if set_up.duty is None:
        return None
    if not car.controller.kind.startswith("solenoid"):
        raise _left_out(
            f"a fixed duty is written, but a controller of the kind {car.controller.kind} has no solenoid",
            "Take duty out of its set_up, or correct the kind of controller in car.toml.",
        )
    return min(max(set_up.duty.value, 0.0), 1.0)


def _exhaust(words: str | None, loss: float) -> tuple[Change, ...]:
    said = " ".join((words or "as found").casefold().split())
    if said == "as found":
        return ()
    if said in _OPEN_EXHAUST:
        return set_ups.exhaust_open(_SHORT_PIPE * loss)
    raise _left_out(
        f'the exhaust was "{words}", and how much of it was left is not known',
        'It counts where exhaust is "as found" or "open" (nothing behind the turbine but a short pipe).',
    )


def _left_out(why: str, do: str) -> InputError:
    return InputError(f"This recording is not used: {why}.", kind=LEFT_OUT, do=do)
