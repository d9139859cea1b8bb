"""What contradicts itself: an error where no sense can be made of it, a finding where it is only doubtful."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from typing import Any

from boostproof.bench.readings import Reading, ReadingsFile, RecordedPull, SensorCheck, Sweep
from boostproof.car.spec import CarSpec, TargetRow
from boostproof.casefolder.files import reading_label
from boostproof.casefolder.lines import KeyPath
from boostproof.casefolder.tables import STANDARD_ATMOSPHERE, TableReader
from boostproof.casefolder.toml_file import TomlFile
from boostproof.findings import Finding
from boostproof.keys import keys_of
from boostproof.quantity import Quantity
from boostproof.recording.setup import PullsFile, RecordingSetup, SetUp
from boostproof.units import find_unit, split_reference

# A test that is a pull -> key of its set-up, values that agree with it, and the usual one.
_PULL_SET_UPS: dict[str, tuple[str, tuple[str, ...], str]] = {
    "spring-only-pull": ("controller", ("bypassed", "removed"), "bypassed"),
    "floor-pull": ("gate", ("held open",), "held open"),
}


def check_car(car: CarSpec, reader: TableReader) -> None:
    """Note contradictions in the car as mistakes of its reader."""
    barometer = car.weather.barometer.value if car.weather.barometer else STANDARD_ATMOSPHERE
    opening, full = car.actuator.opening_pressure, car.actuator.full_travel_pressure
    if opening and full and _highest(full, barometer) < _lowest(opening, barometer):
        reader.problem(
            ("actuator", "full_travel_pressure"),
            f"The gate cannot be at its stop at {full} and start to move only at {opening}.",
            "Check full_travel_pressure and opening_pressure in [actuator].",
            kind="contradiction",
        )
    stop = car.limits.stop
    for target, path in _targets(car):
        if stop and _lowest(target, barometer) > _highest(stop, barometer):
            reader.problem(
                path,
                f"The target {target} lies above the stop {stop}, which is never to be passed.",
                "Lower target or raise stop in [limits].",
                kind="contradiction",
            )


def _targets(car: CarSpec) -> Iterator[tuple[Quantity, KeyPath]]:
    target = car.limits.target
    if isinstance(target, Quantity):
        yield target, ("limits", "target")
    elif isinstance(target, tuple):
        rows: Sequence[TargetRow] = target
        for i, row in enumerate(rows):
            if row.boost is not None:
                yield row.boost, ("limits", "target", i, "boost")


def noted(table: Any, file: TomlFile, path: KeyPath = ()) -> Iterator[Finding]:
    """Findings for accepted words that need a sentence (a gate moved by vacuum)."""
    for name, (field_name, key) in keys_of(type(table)).items():
        value = getattr(table, field_name)
        here = (*path, name)
        for word, sentence in key.noted:
            if value == word:
                yield Finding("not-modelled", file.where(here), sentence)
        if dataclasses.is_dataclass(value) and not isinstance(value, Quantity):
            yield from noted(value, file, here)
        elif isinstance(value, tuple):
            for i, row in enumerate(value):
                if dataclasses.is_dataclass(row):
                    yield from noted(row, file, (*here, i))


def question_readings(readings: ReadingsFile, file: TomlFile) -> Iterator[Finding]:
    """Findings for readings that cannot have been so: questioned, never dropped."""
    for i, reading in enumerate(readings.reading):
        label = reading_label(i, reading.test)
        path: KeyPath = ("reading", i)
        if isinstance(reading, Sweep):
            yield from _question_sweep(reading, label, path, file)
        if isinstance(reading, SensorCheck):
            yield from _question_sensor(reading, label, path, file)


def _question_sweep(reading: Sweep, label: str, path: KeyPath, file: TomlFile) -> Iterator[Finding]:
    first, full, up_to = reading.first_movement, reading.full_travel, reading.supply_up_to
    do = "Read it again, or correct the figure."

    def ask(key: str, says: str) -> Finding:
        return Finding("questioned-reading", file.where((*path, key)), f"{label}: {says}", do)

    if isinstance(first, Quantity) and isinstance(full, Quantity) and full.value < first.value:
        yield ask("full_travel", f"full travel at {full} lies below first movement at {first}.")
    if first == "none" and isinstance(full, Quantity):
        yield ask("full_travel", f"no movement was seen, and yet full travel at {full}.")
    for key, seen in (("first_movement", first), ("full_travel", full)):
        if isinstance(seen, Quantity) and up_to is not None and seen.value > up_to.value + 2.0 * up_to.sd:
            yield ask(key, f"{key} at {seen} lies above the highest pressure put on, {up_to}.")
    leak = reading.leak
    if leak is not None and leak.start is not None:
        for key, later in (("after_10_s", leak.after_10_s), ("after_60_s", leak.after_60_s)):
            # A trapped volume can warm a little; beyond the gauge's own doubt it cannot rise.
            if isinstance(later, Quantity) and later.value > leak.start.value + 2.0 * leak.start.sd:
                says = f"{label}: the pressure rose from {leak.start} to {later} with the supply shut."
                yield Finding("questioned-reading", file.where((*path, "leak", key)), says, do)


def _question_sensor(reading: SensorCheck, label: str, path: KeyPath, file: TomlFile) -> Iterator[Finding]:
    for j, row in enumerate(reading.rows):
        if row.reads is None or row.applied is None or row.reads.reference != "gauge":
            continue
        if row.applied.value < 5e3 and row.reads.value > 50e3:
            says = f"{label}: the sensor reads {row.reads} with {row.applied} on it; it is taken as gauge."
            do = "If the screen shows absolute pressure, write abs after the figure."
            yield Finding("questioned-reading", file.where((*path, "rows", j, "reads")), says, do)


def check_pulls(pulls: PullsFile, reader: TableReader) -> None:
    """Note contradictions within pulls.toml as mistakes of its reader."""
    seen: set[str] = set()
    for i, item in enumerate(pulls.recording):
        path: KeyPath = ("recording", i)
        if item.file in seen:
            do = "Put all that is known of it under one heading."
            reader.problem((*path, "file"), f"{item.file} stands twice.", do, kind="contradiction")
        seen.add(item.file)
        _check_channels(item, path, reader)
        for j, stretch in enumerate(item.excluded):
            start, end = stretch.from_, stretch.to
            if start is not None and end is not None and end <= start:
                says = f"The stretch from {start:g} s to {end:g} s has no length."
                where = (*path, "excluded", j)
                reader.problem(where, says, "Write from as the earlier time.", kind="contradiction")


def _check_channels(item: RecordingSetup, path: KeyPath, reader: TableReader) -> None:
    for name, channel in item.channels.items():
        if channel is None or channel.unit is None or find_unit(split_reference(channel.unit)[0]) is not None:
            continue
        if channel.unit == "inHg/psi":  # the scale of a boost gauge, of logs alone
            continue
        says = f'{name}: "{channel.unit}" is not a known unit.'
        do = "Write it as on the label, for example psi, kPa, bar, C, F, rpm, g/s, %."
        reader.problem((*path, "channels", name, "unit"), says, do, kind="unknown-unit")


def check_recorded_tests(
    readings: ReadingsFile, readings_file: TomlFile | None, pulls: PullsFile, reader: TableReader | None
) -> Iterator[Finding]:
    """Tests that are pulls against the set-up of their recordings: a conflict is a mistake of pulls.toml."""
    for i, reading in enumerate(readings.reading):
        test = _recorded_test(reading)
        if test not in _PULL_SET_UPS or not isinstance(reading, RecordedPull) or reading.recording is None:
            continue
        key, agreeing, usual = _PULL_SET_UPS[test]
        place = [j for j, item in enumerate(pulls.recording) if item.file == reading.recording]
        set_up = pulls.recording[place[0]].set_up if place else None
        said = getattr(set_up, key) if set_up is not None else None
        if said is not None and said not in agreeing and reader is not None:
            says = f"readings.toml calls {reading.recording} a {test}, but here {key} is {said}."
            do = f'Write {key} = "{usual}" if that is how it was driven, or correct readings.toml.'
            reader.problem(("recording", place[0], "set_up", key), says, do, kind="contradiction")
        elif said is None and readings_file is not None:
            label = reading_label(i, test)
            says = f"{label}: no set-up is written for {reading.recording}; taken as {key} {usual}."
            do = f'Write set_up = {{ {key} = "{usual}" }} for it in pulls.toml.'
            yield Finding("set-up-missing", readings_file.where(("reading", i)), says, do)


def question_set_ups(car: CarSpec, pulls: PullsFile, file: TomlFile) -> Iterator[Finding]:
    """Findings for set-ups that the car does not allow."""
    for i, item in enumerate(pulls.recording):
        set_up: SetUp | None = item.set_up
        if set_up is not None and set_up.controller == "in" and car.controller.kind == "none":
            says = f"{item.file}: the boost controller is said to be in, but car.toml says there is none."
            do = "Correct [controller] in car.toml, or leave controller out of set_up."
            yield Finding("questioned-set-up", file.where(("recording", i, "set_up", "controller")), says, do)


def _recorded_test(reading: Reading) -> str:
    repeated = getattr(reading, "of", None) if reading.test == "hot-repeat" else None
    return repeated or reading.test


def _gauge(value: float, quantity: Quantity, barometer: float) -> float:
    return value - barometer if quantity.reference == "abs" else value


def _lowest(quantity: Quantity, barometer: float) -> float:
    """The lowest value meant: the lower end of a range, else the value itself. [Pa gauge]"""
    return _gauge(quantity.low if quantity.form == "range" else quantity.value, quantity, barometer)


def _highest(quantity: Quantity, barometer: float) -> float:
    return _gauge(quantity.high if quantity.form == "range" else quantity.value, quantity, barometer)
