"""What makes pulls comparable, in short lines, from the JSON answer of ``boostproof inspect``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from boostproof.cli.layout import wrapped
from boostproof.report.words import from_kpa as pressure

_LEVELS = (("plateau_kpa_gauge", "plateau"), ("peak_kpa_gauge", "peak"), ("end_kpa_gauge", "end"))
_HELD = {"gauge": "where a spring or the control holds gauge pressure", "absolute": "where it holds absolute pressure"}
_POWER = {"uncorrected": "uncorrected", "sae_j1349": "SAE J1349", "iso_1585": "ISO 1585"}


def comparable_lines(answer: Mapping[str, Any], *, units: str, width: int) -> list[str]:
    """Lines on weather, repeats, air and power of each pull; empty where nothing is known."""
    lines: list[str] = []
    weather, air = answer.get("weather") or [], answer.get("air") or []
    for number, day in enumerate(weather, 1):
        said = [] if day is None else _weather(day, units)
        said += _air(air[number - 1]) if number <= len(air) and air[number - 1] is not None else []
        if said:
            lines += wrapped(f"{number}  {'; '.join(said)}", width, indent=2, hanging=3)
    repeats = answer.get("repeats")
    if repeats is not None:
        lines += wrapped(_repeats(repeats, units), width, indent=2, hanging=2)
    return lines


def _weather(day: Mapping[str, Any], units: str) -> list[str]:
    says = _on_a_standard_day(day["boost_at_standard"], units)
    power = day["peak_power_kw"]
    if power:
        each = [f"{metric['value']:.0f} kW {_POWER.get(name, name)}" for name, metric in power.items()]
        says.append(f"peak power {', '.join(each)}")
    else:
        factors = [f"{f['factor']['value']:.3f} ({f['standard']})" for f in day["factors"].values()]
        says += [f"correction of power {' and '.join(factors)}"] if factors else []
    return says


def _on_a_standard_day(standard: Mapping[str, Mapping[str, Any]], units: str) -> list[str]:
    """Boost on a day of 101.3 kPa, by what the control holds where that is not known."""
    shown: dict[str, tuple[str, str]] = {}
    for held, levels in standard.items():
        found = next(((word, levels[key]) for key, word in _LEVELS if levels.get(key) is not None), None)
        if found is not None:
            shown[held] = (found[0], pressure(found[1]["value"], units))
    if not shown:
        return []
    word = next(iter(shown.values()))[0]
    different = {level for _, level in shown.values()}
    if len(different) == 1:
        return [f"{word} {different.pop()} on a day of 101.3 kPa"]
    each = ", ".join(f"{level} {_HELD[held]}" for held, (_, level) in shown.items())
    return [f"{word} on a day of 101.3 kPa: {each}"]


def _air(air: Mapping[str, Any]) -> list[str]:
    says = []
    line = air["operating_line"]
    if line is not None:
        flow, ratio = line["peak"]["peak_corrected_flow_kg_s"], line["peak"]["pressure_ratio_there"]
        says.append(
            f"compressor at most {flow['value']:.3f} ± {2.0 * flow['sd']:.3f} kg/s corrected, at pressure ratio "
            f"{ratio['value']:.2f}"
        )
        says += _on_map(line.get("on_map"))
    run = air["inertia_dyno"]
    if run is not None:
        power, torque = run["peak_power_kw"], run["peak_torque_nm"]
        says.append(
            f"from the inertia {power['value']:.0f} ± {2.0 * power['sd']:.0f} kW and {torque['value']:.0f} Nm, "
            "losses not included"
        )
    return says


def _on_map(found: Mapping[str, Any] | None) -> list[str]:
    """Where the line lies on the map of the compressor: surge, efficiency, choke."""
    if found is None:
        return []
    says = []
    surge, end = found["nearest_surge"], found["efficiency_at_end"]
    if surge is None:
        return ["off its map all along"]
    says.append(
        f"nearest to surge {100 * surge['value']:.0f} ± {200 * surge['sd']:.0f} % at {round(surge['rpm'], -1):,.0f} rpm"
    )
    if end is not None:
        says.append(f"{100 * end['value']:.0f} ± {200 * end['sd']:.0f} % efficiency at the end")
    turns = [speed for speed in found["shaft_speed_rpm"] if speed is not None]
    says.append(f"shaft up to {round(max(turns), -3):,.0f} rpm")
    return says


def _repeats(repeats: Mapping[str, Any], units: str) -> str:
    scatter, drift = repeats["metrics"]["repeat_scatter_kpa"], repeats["metrics"]["repeat_drift_kpa"]
    says = f"the {repeats['pulls']} pulls differ by {pressure(scatter['value'], units)}"
    if abs(drift["value"]) <= 2.0 * drift["sd"]:
        return f"{says}; no drift from one to the next can be told"
    word = "rises" if drift["value"] > 0.0 else "falls"
    return (
        f"{says}; boost {word} by {pressure(abs(drift['value']), units)} ± {pressure(2.0 * drift['sd'], units)} from "
        "one to the next"
    )
