"""The throttle plate: one that never reads full, and one that closes although the driver keeps the pedal down.

An engine computer closes the plate to limit torque (gear, clutch, heat, knock, too much boost). Behind a plate
that closes boost falls or stands still, and says nothing about the gate.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from boostproof.findings import Finding
from boostproof.recording.driving.events import Event
from boostproof.recording.driving.load import DEEP_SHARE, LEAST_FULL, held_level
from boostproof.recording.driving.ready import Driving, Rows, runs_of
from boostproof.recording.model import FloatArray
from boostproof.recording.signals.glitches import steadied
from boostproof.recording.signals.smooth import filled, noise_of

_BACK = 0.93  # of the plate's own full level
_FULL = 0.95
_LONG_S, _EASED_S, _FLOORED_S = 0.3, 0.4, 0.5
_FOLLOWS_S = 1.2  # s in which a slow plate may follow the pedal
_NEAR_S = 0.35  # s around a gear change, in which every automatic closes its plate
_RATE = 25.0  # rpm/s that the engine speed goes on rising
_SWAY = 0.02  # a plate that stands within this of its highest everywhere has its scale end there
_LEAST_RPM = 1200.0


def find_plate(driving: Driving, known: Rows) -> list[Event]:
    """Stretches of full load in which the plate stands back; cut where it closes below 70 % of its own full level.

    Parameters
    ----------
    driving : the recording made ready
    known : rows of limiter, gear changes and slip, where the plate closes for their sake
    """
    lever = driving.lever
    if lever is None or not driving.told:
        return []
    near = _widened(known, round(_NEAR_S / driving.step))
    if lever.name == "pedal":
        plate = _plate(driving)
        return [] if plate is None else _with_pedal(driving, plate, near)
    return _plate_alone(driving, near)


def _plate(driving: Driving) -> FloatArray | None:
    values = driving.recording.values("throttle")
    if values is None or np.isfinite(values).mean() < 0.5:
        return None
    plate = filled(values)
    return steadied(plate, driving.step) if noise_of(plate) > 0.01 else plate


def _with_pedal(driving: Driving, plate: FloatArray, near: Rows) -> list[Event]:
    level = held_level(plate, driving.step)
    if level < LEAST_FULL and float(np.median(plate[driving.full])) > 0.9 * level:
        return []  # a scale that ends low
    time, events = driving.time, []
    for first, last in driving.runs():
        reached = np.flatnonzero(plate[first:last] >= _BACK * level)
        follows = int(np.searchsorted(time, time[first] + _FOLLOWS_S)) - first
        settled = int(reached[0]) if reached.size and reached[0] < follows else follows
        back = np.zeros(len(plate), dtype=bool)
        back[first + settled : last] = plate[first + settled : last] < _BACK * level
        back &= (driving.rpm > _LEAST_RPM) & ~near
        for a, b in runs_of(back):
            # At its end the pedal goes up between two rows, and the plate may be ahead of it.
            if b - a >= 2 and time[b - 1] - time[a] >= _LONG_S:
                events += _events(driving, a, b, plate / level, sure=True)
    return events


def _plate_alone(driving: Driving, near: Rows) -> list[Event]:
    """Without a pedal: closing a little, and for a while, while the engine speed goes on rising."""
    lever = driving.lever
    assert lever is not None
    time, share, events = driving.time, lever.opening / lever.level, []
    for a, b in runs_of(driving.held):
        # The pull goes on through it, so it is told from where it begins.
        events += _events(driving, a, b, share, sure=False)
    back = (share >= DEEP_SHARE) & (share < _BACK) & ~driving.full & ~near & (driving.rpm > _LEAST_RPM)
    floored = max(2, round(_FLOORED_S / driving.step))
    for a, b in runs_of(back):
        came = int(np.searchsorted(time, time[a] - _LONG_S))
        full = came + np.flatnonzero(driving.full[came:a])
        before = driving.full[max(full[-1] - floored, 0) : full[-1]] if full.size else full
        seconds = time[b - 1] - time[a]
        rising = driving.calm[b - 1] - driving.calm[a] > _RATE * max(seconds, 1e-9)
        if b - a >= 3 and seconds >= _EASED_S and before.size == floored and before.all() and rising:
            events.append(_event(driving, a, b, share, sure=False, cuts=False))
    return events


def _events(driving: Driving, first: int, last: int, share: FloatArray, *, sure: bool) -> list[Event]:
    """The stretch; the pull ends where it begins if the plate closes deep in it."""
    found = [_event(driving, first, last, share, sure=sure, cuts=False)]
    for a, b in runs_of(share[first:last] < DEEP_SHARE):
        if driving.time[first + b - 1] - driving.time[first + a] >= 0.1 or b - a >= 3:
            # What boost does on the way there is the plate's doing as well.
            return [*found, _event(driving, first, last, share, sure=sure, cuts=True)]
    return found


def _event(driving: Driving, first: int, last: int, share: FloatArray, *, sure: bool, cuts: bool) -> Event:
    rpm, least = driving.calm, float(share[first:last].min())
    return Event(
        "plate-held-back", first, last, float(rpm[first]), float(rpm[last - 1]), cuts, sure=sure, level=least
    )


def _widened(rows: Rows, by: int) -> Rows:
    wide = rows.copy()
    for first, last in runs_of(rows):
        wide[max(first - by, 0) : last + by] = True
    return wide


def about_plate(driving: Driving, events: Sequence[Event]) -> tuple[Finding, ...]:
    """One finding for every stretch in which the plate stands back.

    Parameters
    ----------
    events : of kind "plate-held-back"
    """
    file, time, findings = driving.recording.file, driving.time, []
    deep = [e for e in events if e.cuts]
    for event in events:
        if event.cuts:
            continue
        cut = any(event.start <= e.start < event.stop for e in deep)
        where = f"{file}, {time[event.start]:.1f} to {time[event.stop - 1]:.1f} s"
        from_rpm, to = round(event.rpm_from, -1), f"{100.0 * event.level:.0f} % of full"
        if event.sure:
            says = f"With the pedal down the plate stands back to {to} from {from_rpm:.0f} rpm on"
            who = "the engine computer limits torque"
        elif driving.held[event.start]:
            says = (
                f"The plate closes to {to} from {from_rpm:.0f} rpm on while boost is at its target and the engine "
                "speed rises"
            )
            who = "most likely the engine computer limits torque"
        else:
            says = (
                f"The plate closes to {to} from {from_rpm:.0f} rpm on while the engine speed goes on rising"
            )
            who = "the driver eased off or the engine computer limits torque"
        then = "the pull was cut there" if cut else "do not trust boost from there on"
        do = "Read the stored faults and what limits torque before judging boost there."
        if not event.sure:
            do += " Log the pedal too: it tells who closed the plate."
        findings.append(Finding("plate-held-back", where, f"{says}: {who}; {then}.", do))
    return tuple(findings)


def about_full_level(driving: Driving, *, driven: bool) -> tuple[Finding, ...]:
    """Levers and plates whose highest opening is no full one by their numbers.

    Parameters
    ----------
    driven : the log holds a run, at full load or not, that could have been at full throttle
    """
    lever = driving.lever
    if lever is None or not driven:
        return ()
    file, findings = driving.recording.file, []
    if lever.level < _FULL and not lever.own_scale:
        channel = driving.recording.channels[lever.name]
        word = "pedal" if lever.name == "pedal" else "throttle"
        if driving.told:
            says = f"The {word} never reads more than {100 * lever.level:.0f} %; that was taken for full throttle."
        else:
            says = f"The {word} never reads more than {100 * lever.level:.0f} %, so that no run counts as full load."
        findings.append(
            Finding(
                "throttle-never-full",
                f"{file}, column {channel.column}",
                says,
                f"With the engine stopped press the pedal to the floor and see what the {word} reads.",
            )
        )
    if lever.name == "pedal" and driving.told:
        findings += _plate_scale(driving)
    return tuple(findings)


def _plate_scale(driving: Driving) -> list[Finding]:
    """The pedal is down, and the plate always stands at one value short of full."""
    plate = _plate(driving)
    if plate is None or not driving.full.any():
        return []
    channel = driving.recording.channels["throttle"]
    level = held_level(plate, driving.step)
    rows = driving.full & (driving.rpm > _LEAST_RPM)
    share = float(np.mean(np.abs(plate[rows] - level) < _SWAY)) if rows.any() else 0.0
    if level >= _FULL or share < 0.6:
        return []
    return [
        Finding(
            "throttle-never-full",
            f"{driving.recording.file}, column {channel.column}",
            f"With the pedal down the plate never reads more than {100 * level:.0f} %: its scale ends there, or it is "
            "held back on every pull.",
            "With the engine stopped press the pedal to the floor and see what the plate reads.",
        )
    ]
