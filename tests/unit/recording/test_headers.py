"""Headers in many hands: each beside the usual channels of a log, named rightly or rightly left alone."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from boostproof.recording.model import Column, Table
from boostproof.recording.recognise import recognise

_path = Path(__file__).resolve().parents[2] / "fixtures" / "recordings" / "drive.py"
_spec = importlib.util.spec_from_file_location("drive", _path)
assert _spec is not None and _spec.loader is not None
_drive = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_drive)
D: dict[str, NDArray[np.float64]] = _drive.drive(20.0, 77)
psi = 6.894757

# Header, numbers under it, the channel that it is (None: none of ours).
HEADERS = [
    ("Engine speed, r/min", D["rpm"], "engine_speed"),
    ("RPM x1000", D["rpm"] / 1000, "engine_speed"),
    ("Mot. Drehzahl", D["rpm"], "engine_speed"),
    ("crank speed [rpm]", D["rpm"], "engine_speed"),
    ("N_eng", D["rpm"], "engine_speed"),
    ("Revs", D["rpm"], "engine_speed"),
    ("Inlet Manifold Pressure bar(a)", D["map_kpa"] / 100, "manifold_pressure"),
    ("p_im [kPa]", D["map_kpa"], None),
    ("MAP1_kPa", D["map_kpa"], "manifold_pressure"),
    ("Manifold vacuum/boost (psi)", D["boost_kpa"] / psi, "boost"),
    ("Boost press. bar", D["boost_kpa"] / 100, "boost"),
    ("Charge pressure [bar]", D["boost_kpa"] / 100, "boost"),
    ("Plenum pressure abs hPa", D["map_kpa"] * 10, "manifold_pressure"),
    ("Turbo boost PSI", D["boost_kpa"] / psi, "boost"),
    ("BoostP", D["boost_kpa"], "boost"),
    ("Pression absolue collecteur (mbar)", D["map_kpa"] * 10, "manifold_pressure"),
    ("Ladedruck ist", D["map_kpa"] * 10, "manifold_pressure"),
    ("Ladedruck soll", D["target_kpa"] * 10 + 986, "boost_target"),
    ("Requested boost (kPa)", D["target_kpa"], "boost_target"),
    ("Boost Tgt", D["target_kpa"], "boost_target"),
    ("consigne pression turbo (bar)", D["target_kpa"] / 100, "boost_target"),
    ("P compressor outlet kPa", D["compressor_kpa"], "compressor_outlet_pressure"),
    ("Pre-intercooler pressure (psi)", D["compressor_kpa"] / psi, "compressor_outlet_pressure"),
    ("Druck vor Drosselklappe [mbar]", D["compressor_kpa"] * 10 + 986, "compressor_outlet_pressure"),
    ("TIP (kPa)", D["compressor_kpa"] + 98.6, "compressor_outlet_pressure"),
    ("Exhaust manifold P (psi)", D["turbine_kpa"] / psi, "turbine_inlet_pressure"),
    ("Drive pressure (psi)", D["turbine_kpa"] / psi, "turbine_inlet_pressure"),
    ("Abgasgegendruck vor Turbo [mbar]", D["turbine_kpa"] * 10, "turbine_inlet_pressure"),
    ("Pressure post turbine (kPa)", D["turbine_kpa"] * 0.2, "turbine_outlet_pressure"),
    ("Actuator line pressure (psi)", np.maximum(D["boost_kpa"], 0) / psi, "line_pressure"),
    ("Wastegate dome pressure (psi)", np.maximum(D["boost_kpa"], 0) / psi, "upper_line_pressure"),
    ("Wastegate position %", D["duty_pct"], "gate_position"),
    ("WG pos target (%)", D["duty_pct"], "gate_position_target"),
    ("Boost control valve duty %", D["duty_pct"], "duty"),
    ("EBCS duty", D["duty_pct"], "duty"),
    ("Solenoid PWM %", D["duty_pct"], "duty"),
    ("T_exh_pre_turb [degC]", D["exhaust_c"], "exhaust_temperature_before_turbine"),
    ("EGT after turbo °C", D["exhaust_c"], "exhaust_temperature_after_turbine"),
    ("Cat temp C", D["exhaust_c"], "exhaust_temperature_after_turbine"),
    ("IC out temp C", D["intake_c"], "intake_temperature"),
    ("T manifold C", D["intake_c"], "intake_temperature"),
    ("Comp out temp F", D["intake_c"] * 2 + 70, "compressor_outlet_temperature"),
    ("Outside temp C", D["ambient_c"], "ambient_temperature"),
    ("Water temp", D["coolant_c"], "coolant_temperature"),
    ("CHT C", D["coolant_c"], None),
    ("Accel pedal pos %", D["throttle_pct"], "pedal"),
    ("APP1 %", D["throttle_pct"], "pedal"),
    ("DBW throttle plate angle deg", D["throttle_pct"] * 0.8, "throttle"),
    ("Thr. pos.", D["throttle_pct"], "throttle"),
    ("Lambda B1S1", D["lambda"], "lambda"),
    ("Lambda target", D["lambda"], None),
    ("AFR1", D["lambda"] * 14.7, "air_fuel_ratio"),
    ("Wideband O2 AFR", D["lambda"] * 14.7, "air_fuel_ratio"),
    ("Air-fuel ratio commanded", D["lambda"] * 14.7, None),
    ("MAF lb/min", D["flow_gs"] * 0.132, "air_flow"),
    ("Mass airflow g/sec", D["flow_gs"], "air_flow"),
    ("Ign. adv. °", D["ignition_deg"], "ignition_advance"),
    ("Spark deg", D["ignition_deg"], "ignition_advance"),
    ("Knock level V", D["battery_v"], "knock"),
    ("Timing retard deg", D["ignition_deg"] * 0, "ignition_retard"),
    ("Selected gear", D["gear"], "gear"),
    ("Vehicle speed mph", D["speed_kmh"], "vehicle_speed"),
    ("GPS Speed km/h", D["speed_kmh"], "vehicle_speed"),
    ("Engine torque lb-ft", D["torque_nm"], "torque"),
    ("Wheel power hp", D["torque_nm"], "power"),
    ("Engine oil temperature C", D["coolant_c"], None),
    ("Oil press kPa", D["torque_nm"] + 300, "oil_pressure"),
    ("Rail pressure bar", D["torque_nm"], "fuel_pressure"),
    ("Flex fuel ethanol %", D["duty_pct"], "ethanol"),
    ("Fuel cut", D["duty_pct"] * 0, "cut_active"),
    ("Inj PW ms", D["battery_v"], None),
    ("Inj duty cycle %", D["duty_pct"], "injector_duty"),
    ("ECU voltage V", D["battery_v"], "battery_voltage"),
    ("Bat V", D["battery_v"], "battery_voltage"),
    ("Ambient pressure mbar", D["baro_kpa"] * 10, "barometer"),
    ("Barometrisk tryck kPa", D["baro_kpa"], "barometer"),
    ("Turbo rpm", D["shaft_rpm"], "shaft_speed"),
    ("Turbine speed krpm", D["shaft_rpm"] / 1000, "shaft_speed"),
    ("Brake pressure bar", D["duty_pct"], None),
    ("Steering angle deg", D["ignition_deg"], None),
    ("Lateral g", D["lambda"], None),
    ("Boost max psi", D["target_kpa"] / psi, None),
    ("Gearbox oil temp C", D["coolant_c"], None),
    ("Fuel level %", D["duty_pct"], None),
    ("Battery current A", D["battery_v"], None),
    ("Engine load %", D["duty_pct"], None),
    ("VVT intake angle deg", D["ignition_deg"], None),
    ("Air density", D["lambda"], None),
    ("Crankcase pressure kPa", D["compressor_kpa"] * 0.05, None),
]
BESIDE = {
    "Time (s)": ("time_s", "time"),
    "TPS (%)": ("throttle_pct", "throttle"),
    "Engine RPM": ("rpm", "engine_speed"),
    "MAP (kPa)": ("map_kpa", "manifold_pressure"),
}


@pytest.mark.parametrize(("header", "values", "channel"), HEADERS, ids=[h for h, _, _ in HEADERS])
def test_a_header_is_named_rightly(header: str, values: NDArray[np.float64], channel: str | None) -> None:
    same = {"boost": "manifold_pressure"}.get(channel or "", channel)
    columns = [Column(head, "", D[key]) for head, (key, name) in BESIDE.items() if name != same]
    columns.append(Column(header, "", values))
    recording = recognise(Table("log.csv", "csv", len(values), tuple(columns)))
    assert next((c.name for c in recording.channels.values() if c.column == header), None) == channel
