"""Several files of the same pulls (engine control unit, dyno, the shop's own box) as one recording.

The clocks are matched by what the files share, engine speed first; a table without time is laid over the
pull by engine speed. Every channel keeps its own samples, brought to the clock of the first file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from boostproof.errors import InputError
from boostproof.findings import Finding
from boostproof.recording.checks.barometer import find_barometer
from boostproof.recording.checks.sensors import measure_key_on
from boostproof.recording.model import Barometer, Channel, FloatArray, Recording, Samples
from boostproof.recording.pulls.find import find_pulls
from boostproof.recording.rows import on_rows, rate_of, shared_rows
from boostproof.recording.signals.clock_match import ClockMatch, match_clocks

# What two loggers may both have seen, the most telling first, and whether in one scale.
_SHARED = (
    ("engine_speed", True),
    ("vehicle_speed", False),
    ("boost", False),
    ("manifold_pressure", False),
    ("throttle", False),
    ("pedal", False),
)
_PRESSURES = ("boost", "manifold_pressure")
_MISFIT = 0.35  # of how much the quantity moves; more is not the same drive
_UNSURE_S = 0.15
_COVERS, _FASTER = 0.9, 1.5
_RPM = 30.0 / np.pi


def join(recordings: Sequence[Recording]) -> Recording:
    """One recording from several files of the same pulls.

    Parameters
    ----------
    recordings : the first gives the clock

    Returns
    -------
    Recording
        On shared rows; of a channel that several files hold the fastest is taken, a second sensor of the
        manifold is kept as ``boost_check``. What was matched by what, and how well, is in the findings.

    Raises
    ------
    InputError
        If a file shares no quantity with the others, or what it shares does not fit: not the same pulls.
    """
    if not recordings:
        raise InputError("No recording was given to join.", kind="cannot-join", where="joined_with")
    joined = [_at_own_clock(recordings[0])]
    findings: list[Finding] = []
    tables = [r for r in recordings[1:] if not r.time_known]
    waiting = [r for r in recordings[1:] if r.time_known]
    while waiting:
        placed = _next_placed(joined, waiting)
        if placed is None:
            raise _no_match(recordings[0], waiting[0])
        number, moved, finding = placed
        waiting.pop(number)
        joined.append(moved)
        findings.append(finding)
    whole = _merged(recordings, joined)
    if "engine_speed" not in whole.channels:
        raise InputError(
            "None of the joined files holds the engine speed.",
            kind="no-engine-speed",
            where=whole.file,
            do="Log the engine speed in one of them, or name its column in pulls.toml.",
        )
    for table in tables:
        whole, finding = _laid_over(whole, table)
        findings.append(finding)
    return replace(whole, findings=whole.findings + tuple(findings))


def _at_own_clock(recording: Recording) -> dict[str, Channel]:
    """The channels of a recording, every one with its own samples."""
    found = {}
    for name, channel in recording.channels.items():
        if name == "time":
            continue
        samples = channel.samples
        if samples is None:
            told = np.isfinite(channel.values)
            samples = Samples(recording.time[told], channel.values[told])
        if len(samples.time) >= 2:
            found[name] = replace(channel, samples=samples, column=f"{recording.file}: {channel.column}")
    return found


def _next_placed(
    joined: Sequence[Mapping[str, Channel]], waiting: Sequence[Recording]
) -> tuple[int, dict[str, Channel], Finding] | None:
    """The first waiting file that shares a quantity with one that is placed already."""
    for number, recording in enumerate(waiting):
        own = _at_own_clock(recording)
        for name, same_scale in _SHARED:
            placed = next((group[name] for group in joined if name in group), None)
            if placed is None or name not in own:
                continue
            first, second = placed.samples, own[name].samples
            assert first is not None and second is not None
            match = match_clocks(first, second, same_scale=same_scale)
            if match is not None and match.misfit < _MISFIT:
                return number, _moved(own, match), _about(recording, name, match, float(second.time[0]))
    return None


def _moved(channels: Mapping[str, Channel], match: ClockMatch) -> dict[str, Channel]:
    moved = {}
    for name, channel in channels.items():
        assert channel.samples is not None
        samples = Samples(match.to_first(channel.samples.time), channel.samples.values)
        moved[name] = replace(channel, samples=samples)
    return moved


def _about(recording: Recording, name: str, match: ClockMatch, begins: float) -> Finding:
    what = name.replace("_", " ")
    ahead = begins - (match.offset + match.rate * begins)
    says = f"Laid beside the first file by {what}: its clock is {ahead:+.2f} s ahead"
    if match.rate != 1.0:
        says += f" and gains {1000.0 * (1.0 / match.rate - 1.0):+.1f} s in a thousand"
    says += f" (sure to {max(match.sd, 0.001):.2g} s)."
    if match.unique and match.sd < _UNSURE_S:
        return Finding("joined", recording.file, says)
    return Finding(
        "join-unsure",
        recording.file,
        says + (" Another place fits nearly as well." if not match.unique else ""),
        "Check that boost and engine speed rise together; log a short blip of the throttle in both next time.",
    )


def _no_match(first: Recording, other: Recording) -> InputError:
    shared = [name for name, _ in _SHARED if name in first.channels and name in other.channels]
    if not shared:
        says = "This file shares no engine speed, road speed, boost or throttle with the file it is joined with."
    else:
        says = f"{shared[0].replace('_', ' ').capitalize()} of this file does not fit that of {first.file}."
    return InputError(
        says,
        kind="cannot-join",
        where=other.file,
        do="Log the engine speed in both, and join only files of the same pulls (joined_with in pulls.toml).",
    )


def _merged(recordings: Sequence[Recording], groups: Sequence[Mapping[str, Channel]]) -> Recording:
    best: dict[str, Channel] = {}
    for group in groups:
        for name, channel in group.items():
            if name in _PRESSURES and any(p in best for p in _PRESSURES):
                best.setdefault("boost_check", replace(channel, name="boost_check"))
            elif name not in best or _better(channel, best[name]):
                best[name] = channel
    rows = shared_rows([s.time for c in best.values() if (s := c.samples) is not None])
    channels = {name: _on(channel, rows) for name, channel in best.items()}
    clock = recordings[0].channels.get("time")
    if clock is not None:
        channels = {"time": replace(clock, values=rows, samples=None, lost_cells=0), **channels}
    key_on = measure_key_on(channels)
    first = recordings[0]
    return replace(
        first,
        file=" + ".join(r.file for r in recordings),
        kind=" + ".join(dict.fromkeys(r.kind for r in recordings)),
        rows=len(rows),
        rate_hz=rate_of(rows) or None,
        time=rows,
        channels=channels,
        findings=tuple(f for r in recordings for f in r.findings if f.kind not in _settled(channels)),
        barometer=_barometer(recordings, channels, key_on),
        key_on=next((key_on[p] for p in _PRESSURES if p in key_on), None),
        key_on_all=key_on,
        questions=tuple(q for r in recordings for q in r.questions),
    )


def _settled(channels: Mapping[str, Channel]) -> set[str]:
    """Findings about what one file lacks and another holds."""
    settled = set()
    if any(p in channels for p in _PRESSURES):
        settled.add("no-boost")
    if "throttle" in channels or "pedal" in channels:
        settled.add("no-throttle")
    return settled


def _barometer(
    recordings: Sequence[Recording], channels: Mapping[str, Channel], key_on: Mapping[str, object]
) -> Barometer:
    for source in ("logged", "given"):
        for recording in recordings:
            if recording.barometer.source == source:
                return recording.barometer
    return find_barometer(channels, measure_key_on(channels))


def _better(channel: Channel, other: Channel) -> bool:
    """Clearly faster, without leaving out much of what the other saw."""
    one, two = channel.samples, other.samples
    assert one is not None and two is not None
    longer = float(np.ptp(one.time)) > _COVERS * float(np.ptp(two.time))
    return longer and rate_of(one.time) > _FASTER * rate_of(two.time)


def _on(channel: Channel, rows: FloatArray) -> Channel:
    samples = channel.samples
    assert samples is not None
    same = len(samples.time) == len(rows) and bool(np.array_equal(samples.time, rows))
    return replace(channel, values=on_rows(samples, rows), samples=None if same else samples)


def _laid_over(whole: Recording, table: Recording) -> tuple[Recording, Finding]:
    """A table over engine speed laid over the pull whose speeds it spans best."""
    if "engine_speed" not in table.channels or "engine_speed" not in whole.channels:
        raise _no_match(whole, table)
    speed = table.channels["engine_speed"].values
    told = np.isfinite(speed)
    order = np.argsort(speed[told])
    pulls = [pull for pull in find_pulls(whole) if pull.full_load]
    shares = [_common(pull.rpm_from, pull.rpm_to, speed[told] * _RPM) for pull in pulls]
    if not pulls or max(shares) < 0.5:
        raise InputError(
            "No pull of the other files runs through the engine speeds of this table.",
            kind="cannot-join",
            where=table.file,
            do="Join it with the log of the same pull (joined_with in pulls.toml).",
        )
    pull = pulls[int(np.argmax(shares))]
    rows = slice(pull.start, pull.stop)
    at = whole.channels["engine_speed"].values[rows]
    channels = dict(whole.channels)
    for name, channel in table.channels.items():
        if name in channels or name in ("time", "engine_speed"):
            continue
        values = np.full(whole.rows, np.nan)
        values[rows] = np.interp(
            at, speed[told][order], channel.values[told][order], left=np.nan, right=np.nan
        )
        channels[name] = replace(
            channel, values=values, samples=None, column=f"{table.file}: {channel.column}"
        )
    several = "" if len(pulls) == 1 else f"; {len(pulls)} pulls were driven, and it may belong to another"
    finding = Finding(
        "joined" if len(pulls) == 1 else "join-unsure",
        table.file,
        f"A table without time: laid by engine speed over the pull from {pull.from_s:.1f} to "
        f"{pull.to_s:.1f} s{several}.",
        "" if len(pulls) == 1 else "Keep one log a pull where a table without time is to be joined.",
    )
    return replace(whole, channels=channels), finding


def _common(low: float, high: float, rpm: FloatArray) -> float:
    """Speeds that both span, as a share of what either does."""
    both = min(high, float(rpm.max())) - max(low, float(rpm.min()))
    return both / max(max(high, float(rpm.max())) - min(low, float(rpm.min())), 1.0)
