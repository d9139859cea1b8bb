"""What every column of the practice logs is, read by eye from its header and, where that is silent, its numbers.

Nothing here was made by the program. A header is its name, then perhaps "abs" or "gauge", then its unit in
one of five spellings; pressures that say neither gauge nor absolute are listed one by one, with what was read
in the file.
"""

from __future__ import annotations

import pytest
from practice.cases import practice_folder

FOLDER = practice_folder()
LOGS = sorted(FOLDER.glob("practice-*/recordings/*.csv"))
needs_cases = pytest.mark.skipif(not LOGS, reason=f"no practice cases in {FOLDER.name}")

# channel: the headers it stands under, without their unit and without "abs" and "gauge" where these end it.
SPELLINGS: dict[str, str] = {
    "time": "time|t|Time|Timestamp",
    "engine_speed": "N|RPM|rpm|Eng Spd|Engine RPM|Engine Speed",
    "throttle": "TPS|Thr Angle|Throttle|Throttle Position|throttle_pct",
    "boost": "Boost|Boost Pressure|Gauge Boost|Manifold Boost",
    "manifold_pressure": "Intake Pressure|MAP|Manifold Abs Press|Manifold Pressure",
    "boost_target": "Boost Setpoint|Desired MAP|MAP Target|Target Boost|Target Manifold Pressure",
    "compressor_outlet_pressure": "Charge Pipe Pressure|Compressor Outlet Press|Pre-Throttle Pressure",
    "turbine_inlet_pressure": "EBP|Exh Manifold Press|Exhaust Back Pressure|Pre-Turbine Pressure",
    "barometer": "Baro|Baro Press|Barometric Pressure",
    "intake_temperature": "Air Temp|Charge Temp|IAT|Intake Air Temp",
    "exhaust_temperature_before_turbine": "EGT|Exhaust Gas Temp|Pre-Turbo Temp",
    "coolant_temperature": "CLT|Coolant Temp|ECT",
    "air_flow": "Airflow|MAF|Mass Air Flow",
    "air_fuel_ratio": "A/F|AFR|Air/Fuel Ratio|Wideband AFR",
    "lambda": "Lambda|lambda|Lambda 1|Wideband Lambda",
    "duty": "Boost Ctrl Duty|Boost Solenoid DC|WG Duty|Wastegate Duty|wgdc",
    "ignition_advance": "Ign Timing|Spark Advance|Timing",
    "battery_voltage": "Batt|Battery|Supply Voltage",
    "gear": "Gear|gear",
    "vehicle_speed": "Speed|VSS|Vehicle Speed",
    "torque": "Brake Torque|Torque|Wheel Torque",
    "shaft_speed": "Shaft Speed|Turbo Speed",  # practice-31: up to 105 000 at 5500 rpm, so the turbo's
}
CHANNEL_OF = {word: name for name, words in SPELLINGS.items() for word in words.split("|")}

# Units as they stand at the end of a header, longest first, and how they are shown.
UNITS = {
    "[deg BTDC]": "deg", "[1/min]": "rpm", "degC": "C", "degF": "F", "°C": "C", "°F": "F", "C": "C",
    "F": "F", "lb-ft": "lb-ft", "Nm": "Nm", "km/h": "km/h", "kg/h": "kg/h", "g/s": "g/s", "mph": "mph",
    "krpm": "krpm", "rpm": "rpm", "sec": "s", "ms": "ms", "s": "s", "deg": "deg", "kPa": "kPa",
    "psi": "psi", "bar": "bar", "%": "%", "V": "V",
}  # fmt: skip
# Headers that name no unit: what the values say.
PLAIN = {
    "time": "s", "rpm": "rpm", "RPM": "rpm", "Engine RPM": "rpm",
    "TPS": "%", "throttle_pct": "%", "wgdc": "%", "Timing": "deg",
    "time_ms": "ms",
}  # fmt: skip
# Pressures that say neither gauge nor absolute, with what was read in the file: key-on or cruise, and the top.
UNMARKED: dict[tuple[str, str], str] = {
    ("05", "Boost Pressure_psi"): "gauge",  # key-on 0.0
    ("05", "Boost Setpoint_psi"): "gauge",  # 13.5 beside a boost up to 14.6
    ("06", "MAP (kPa)"): "abs",  # 49 at cruise, up to 209
    ("06", "Desired MAP (kPa)"): "abs",  # 214.5
    ("09", "Boost Pressure [psi]"): "gauge",  # -8.3 at cruise
    ("17", "Manifold Pressure, psi"): "abs",  # 9.8 at cruise, never below 0
    ("21", "MAP [psi]"): "abs",  # key-on 14.5
    ("24", "MAP_psi"): "abs",  # key-on 16.4: two psi too high, but no gauge rests there
    ("24", "MAP Target_psi"): "abs",  # 27.7
    ("26", "Manifold Pressure (kPa)"): "abs",  # key-on 100.5
    ("37", "Manifold Pressure [psi]"): "abs",  # key-on 14.46
    ("39", "Desired MAP (kPa)"): "abs",  # 200.7
    ("41", "Manifold Pressure (psi)"): "abs",  # 10.7 at cruise, never below 0
    ("42", "Target Manifold Pressure, psi"): "abs",  # 28.8 beside 41 reached
}
PRESSURES = {
    "boost", "manifold_pressure", "boost_target", "compressor_outlet_pressure", "turbine_inlet_pressure",
}  # fmt: skip


def by_eye(case: str, header: str) -> tuple[str, str, str | None]:
    """(channel, unit, reference) of a header from the tables above."""
    name, unit = header, PLAIN.get(header, "")
    if header not in PLAIN:
        for written, shown in UNITS.items():
            ends = (f" ({written})", f" [{written}]", f", {written}", f"_{written}", f" {written}")
            end = next((end for end in ends if header.endswith(end)), None)
            if end is not None:
                name, unit = header.removesuffix(end), shown
                break
    reference: str | None = None
    for word in ("abs", "gauge"):
        if name.endswith(f" {word}"):
            name, reference = name.removesuffix(f" {word}"), word
    channel = CHANNEL_OF["time" if name == "time_ms" else name]
    if channel == "barometer" or "Abs" in name:
        reference = "abs"
    elif "Gauge Boost" in name or "Manifold Boost" in name:
        reference = "gauge"
    elif channel in PRESSURES and reference is None:
        reference = UNMARKED[case, header]
    return channel, unit, reference
