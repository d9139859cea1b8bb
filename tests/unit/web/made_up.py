"""Small made-up answers of the shapes that the work keeps, for the pages Repair, Ladder and Proof."""

from __future__ import annotations

from typing import Any

RPM = [3000.0, 4000.0, 5000.0, 6000.0]
TARGET, STOP = 100.0, 150.0


def band(low: float, high: float) -> dict[str, list[float]]:
    """A level band."""
    return {
        f"{name}_kpa_gauge": [v] * len(RPM)
        for name, v in (("low", low), ("middle", (low + high) / 2.0), ("high", high))
    }


def forecast(
    repair: str = "port",
    size: float | None = 30.0,
    *,
    title: str = "Port and flapper enlarged",
    apart: bool = False,
    cures: float = 0.7,
    decision: str = "test first",
) -> dict[str, Any]:
    """As ``boostproof forecast --json`` answers."""
    causes = [
        {
            "id": "port-too-small",
            "probability": 0.75,
            "holds": 0.8,
            "cured": cures,
            "band": band(98.0, 106.0),
        },
        {
            "id": "port-entry-poor",
            "probability": 0.25,
            "holds": 0.3,
            "cured": 0.2,
            "band": band(118.0, 126.0) if apart else band(99.0, 110.0),
        },
    ]
    tried = [
        {"size": s, "holds": h, "everywhere": h / 2, "reaches": 1.0, "peak_kpa_gauge": 130.0 - s}
        for s, h in ((28.0, 0.6), (30.0, 0.96), (32.0, 0.98))
    ]
    first = {"id": "port-measure", "minutes": 45.0, "minutes_saved": 84.0}
    return {
        "format": 1,
        "seed": 1,
        "versions": {"boostproof": "0"},
        "car": "the grey estate",
        "inputs": {"case": "0", "without_readings": False, "without_history": False, "healthy_prior": 0.05},
        "repairs": [
            {
                "id": repair,
                "title": title,
                "written": repair if size is None else f"{repair} {size:g} mm",
                "size": size,
                "unit": None if size is None else "mm",
                "minutes": [180.0, 360.0],
                "parts": [80.0, 450.0],
                "caution": "Leave a seat land of 2 mm or more.",
            }
        ],
        "target_kpa_gauge": TARGET,
        "target_known": True,
        "tolerance_kpa": 7.0,
        "confidence": 0.95,
        "none_of_these": 0.01,
        "rpm": RPM,
        "together": None if apart else band(98.0, 107.0),
        "by_cause": causes,
        "apart": ["port-too-small", "port-entry-poor"] if apart else [],
        "found": band(110.0, 140.0),
        "holds": 0.72,
        "reaches": 0.99,
        "margins": [
            {
                "id": "stop-boost",
                "title": "boost never to be passed",
                "unit": "kPa_gauge",
                "limit": STOP,
                "told": True,
                "value": 107.0,
                "low": 100.0,
                "high": 120.0,
                "chance": 0.004,
                "chance_now": 0.2,
            },
            {
                "id": "compressor-surge",
                "title": "flow over that at the surge line",
                "unit": "1",
                "limit": 1.0,
                "told": False,
                "value": 1.2,
                "low": 1.0,
                "high": 1.4,
                "chance": 0.1,
                "chance_now": 0.05,
            },
            {
                "id": "exhaust-temperature",
                "title": "exhaust temperature before the turbine",
                "unit": "K",
                "limit": 1223.15,
                "told": False,
                "value": 1150.0,
                "low": 1100.0,
                "high": 1200.0,
                "chance": 0.0,
                "chance_now": 0.0,
            },
        ],
        "sizing": None
        if size is None
        else {
            "repair": repair,
            "unit": "mm",
            "of_causes": ["port-too-small"],
            "confidence": 0.95,
            "tried": tried,
            "chosen": tried[1],
            "next": tried[2],
            "gain": 0.02,
        },
        "area": {
            "rpm": RPM,
            "needed_mm2": [
                [50.0, 90.0, 130.0, 170.0],
                [60.0, 110.0, 160.0, 200.0],
                [70.0, 130.0, 190.0, 230.0],
            ],
            "there_mm2": [200.0, 260.0, 300.0],
            "found_mm2": [150.0, 170.0, 190.0],
        },
        "setting": None,
        "beside": [
            {
                "id": "leave",
                "title": "Leave as is",
                "says": "Boost then peaks near 140 kPa.",
                "hides": "Nothing is mended.",
                "rpm": None,
                "boost_kpa_gauge": 140.0,
                "chance": 0.0,
                "minutes": None,
            },
            {
                "id": "specialist",
                "title": "Send to a specialist",
                "says": "Where the cause stays open.",
                "hides": "",
                "rpm": None,
                "boost_kpa_gauge": None,
                "chance": None,
                "minutes": 600.0,
            },
        ],
        "costs": {
            "minutes": [200.0, 380.0],
            "parts": [80.0, 450.0],
            "money": [280.0, 830.0],
            "money_per_hour": 60.0,
            "cures": cures,
            "repair_now_minutes": 700.0,
            "best_order_minutes": 580.0,
            "test_first_minutes": 497.0,
            "first_test": first,
            "decision": decision,
        },
        "recheck_fuelling": True,
        "findings": [
            {
                "kind": "not-for-the-leader",
                "where": "forecast",
                "says": "The most likely fault, port-too-small, is not what this mends.",
                "do": "Name its repair as well.",
            }
        ],
        "written": [],
        "seconds": 1.0,
    }


def sizes(repair: str = "port", *, parts_at: float = 0.0) -> dict[str, Any]:
    """Bands of five sizes, the middle falling by 4 kPa from one to the next; below ``parts_at`` the causes part."""
    rows = []
    for k, size in enumerate((26.0, 28.0, 30.0, 32.0, 34.0)):
        middle = 110.0 - 4.0 * k
        rows.append(
            {
                "size": size,
                "together": None if size < parts_at else band(middle - 4.0, middle + 4.0),
                "by_cause": [
                    {
                        "id": "port-too-small",
                        "probability": 0.75,
                        "holds": 0.2 * k,
                        "band": band(middle - 2.0, middle + 2.0),
                    },
                    {
                        "id": "port-entry-poor",
                        "probability": 0.25,
                        "holds": 0.1 * k,
                        "band": band(middle + 20.0, middle + 24.0),
                    },
                ],
                "apart": ["port-too-small", "port-entry-poor"] if size < parts_at else [],
                "holds": 0.2 * k,
                "enough": min(1.0, 0.25 * k),
                "reaches": 1.0,
                "stopped": 0.05 - 0.01 * k,
                "peak_kpa_gauge": middle + 1.0,
            }
        )
    return {
        "repairs": [f"{repair} 30 mm"],
        "repair": repair,
        "of": "diameter of the port",
        "unit": "mm",
        "capacity": True,
        "lowers": True,
        "target_kpa_gauge": TARGET,
        "tolerance_kpa": 7.0,
        "confidence": 0.95,
        "candidates": 1000,
        "rpm": RPM,
        "sizes": rows,
    }


def compressor() -> dict[str, Any]:
    """Where candidates run on the compressor's map."""
    flow = [[0.06, 0.10, 0.14, 0.18], [0.07, 0.11, 0.15, 0.19], [0.08, 0.12, 0.16, 0.20]]
    ratio = [[1.9, 2.0, 2.0, 2.0], [2.0, 2.1, 2.1, 2.1], [2.1, 2.2, 2.2, 2.2]]
    return {
        "rpm": RPM,
        "flow_kg_s": flow,
        "ratio": ratio,
        "found_flow_kg_s": flow[1],
        "found_ratio": [2.0, 2.2, 2.3, 2.4],
        "reference_kpa_abs": 100.0,
        "reference_k": 298.0,
    }


def options(*, parts_at: float = 0.0) -> dict[str, Any]:
    """Two repairs side by side: one with sizes, one without."""
    port = {
        "id": "port-too-small",
        "title": "Gate port too small for this engine and target",
        "probability": 0.75,
        "undone": True,
    }
    entry = {
        "id": "port-entry-poor",
        "title": "Poor way into the gate port",
        "probability": 0.25,
        "undone": True,
    }
    blended = forecast("entry", None, title="Way into the port blended, gasket recut", apart=True, cures=0.1)
    return {
        "format": 1,
        "seed": 1,
        "versions": {"boostproof": "0"},
        "car": "the grey estate",
        "inputs": {"case": "0", "without_readings": False, "without_history": False, "healthy_prior": 0.05},
        "leading": ["port-too-small", "port-entry-poor"],
        "options": [
            {
                "repairs": ["port 30 mm"],
                "title": "Port and flapper enlarged",
                "for_causes": [port, {**entry, "undone": False}],
                "forecast": forecast(),
                "sizes": sizes(parts_at=parts_at),
                "compressor": compressor(),
            },
            {
                "repairs": ["entry"],
                "title": "Way into the port blended, gasket recut",
                "for_causes": [entry],
                "forecast": blended,
                "sizes": None,
                "compressor": compressor(),
            },
        ],
        "more": ["external gate"],
        "seconds": 1.0,
    }


def verdict() -> dict[str, Any]:
    """As much of a verdict as other pages read."""

    def cause(id: str, p: float) -> dict[str, Any]:
        return {"id": id, "parts": [id], "probability": p, "confirmed": False, "severity": [], "evidence": []}

    return {
        "format": 1,
        "seed": 1,
        "versions": {"boostproof": "0"},
        "causes": [cause("port-too-small", 0.75), cause("port-entry-poor", 0.25)],
        "healthy": 0.0,
        "none_of_these": 0.0,
        "involved": {"port-too-small": 0.75, "port-entry-poor": 0.25},
        "look_alikes": [],
        "next_tests": [{"id": "port-measure", "minutes": 45.0, "minutes_saved": 84.0}],
        "pulls": [],
        "findings": [],
        "fit": {"trust": "about"},
    }


def _rung(set_up: str, ceiling: float, *, foreseen: bool) -> dict[str, Any]:
    return {
        "set_up": set_up,
        "says": "Controller out: shortest hose straight to the actuator.",
        "foreseen": foreseen,
        "rpm_from": 1560.0,
        "ceiling_rpm": ceiling,
        "stop_kpa_gauge": 98.0,
        "expected_kpa_gauge": 30.0,
        "low_kpa_gauge": 20.0,
        "high_kpa_gauge": 45.0,
        "chance_of_passing": 0.0004,
        "held_by": "chance",
        "slope_kpa_per_1000_rpm": 60.0,
        "rpm": [1600.0, ceiling],
        "most_kpa_gauge": [25.0, 60.0],
        "look_at": ["Boost against what was expected here: above the band, do not go on."],
        "cool_down": "Wait until coolant is back at its value before the first pull; at least 3 minutes.",
    }


def plan(*, refused: bool = False, done: bool = False) -> dict[str, Any]:
    """As ``boostproof plan --json`` answers: one pull driven, one next, two foreseen."""
    refusals = [
        {
            "kind": "no-mixture",
            "says": "With no mixture reading in sight no pull above the lowest boost is offered.",
            "do": "Fit a wideband sensor and log it, or say with --mixture that it is in sight.",
            "every": False,
        }
    ]
    halt = {
        "why": "unsafe",
        "set_up": "as found",
        "says": "No further pull (as found) is safe enough, by what is known so far.",
        "do": "Stop. Test at rest first (actuator-sweep), or mend what lets boost run away.",
        "causes": [{"id": "line-blocked", "chance": 0.31, "test": "actuator-sweep"}],
    }
    rungs = [
        _rung("least boost", 2600.0, foreseen=False),
        _rung("least boost", 3200.0, foreseen=True),
        _rung("as found", 3400.0, foreseen=True),
    ]
    return {
        "format": 1,
        "seed": 1,
        "inputs": {"case": "0", "closed_road": False, "mixture": not refused, "repaired": False, "repairs": [], "after": []},
        "car": "the grey estate",
        "cautions": ["Full load: rated straps, sound tyres.", "Stop above {120 kPa}."],
        "card": [
            {"key": "oil", "asks": "Oil level right, no leak onto hot parts, oil warm."},
            {"key": "stop", "asks": "It is said aloud who presses stop."},
        ],
        "refusals": refusals if refused else [],
        "own_gauge": True,
        "sensor_doubt": 0.1,
        "hard_kpa_gauge": 125.0,
        "hard_told": True,
        "gauge_error_kpa": 3.0,
        "driver": {"rpm_per_s": 300.0, "reaction_s": 0.6, "lift_s": 0.3, "gear": 4},
        "stop_lines": [
            {"what": "boost", "value": 125.0, "unit": "kPa gauge", "told": True},
            {"what": "lambda", "value": 0.9, "unit": "1", "told": False},
        ],
        "log": ["engine speed", "boost"],
        "driven": [{"set_up": "least boost", "ceiling_rpm": 1860.0, "highest_kpa_gauge": 12.0}],
        "rungs": [] if done else rungs,
        "halt": halt if done else None,
        "findings": [],
        "seconds": 1.0,
    }


def proof(verdict: str = "cured", *, second: bool = False) -> dict[str, Any]:
    """As the work keeps a comparison: the answer of ``boostproof prove --json`` with its sentences in two units."""

    def figure(value: float) -> dict[str, float]:
        return {"value": value, "sd": 1.0, "expanded": 2.0}

    said = {
        "next_step": "Diagnose the case again." if second else "",
        "cautions": ["Recheck fuelling and knock."],
        "forecast_says": "",
    }
    sentences = {
        unit: {**said, "says": f"The repair cured the car, said in {unit}."} for unit in ("kPa", "psi")
    }
    return {
        "format": 1,
        "seed": 1,
        "before": {"name": "old", "pulls": ["old.csv#1", "old.csv#2"]},
        "after": {"name": "new", "pulls": ["new.csv#1"]},
        **sentences["kPa"],
        "sentences": sentences,
        "verdict": verdict,
        "ranges": [
            {
                "name": "plateau",
                "rpm_from": 3400.0,
                "rpm_to": 5400.0,
                "before_kpa_gauge": figure(118.0),
                "after_kpa_gauge": figure(100.0),
                "difference_kpa": figure(-18.0),
                "off_target_before_kpa": figure(18.0),
                "off_target_after_kpa": figure(0.0),
                "state_before": "outside",
                "state_after": "holds",
                "change": "better",
            }
        ],
        "overall_difference_kpa": figure(-14.0),
        "swings": [],
        "missing": ["Drive two pulls on each side."],
        "still_outside": ["top end"] if second else [],
        "second_fault": ["top end"] if second else [],
        "margins": {
            "below_target_kpa": figure(0.5),
            "below_stop_kpa": figure(48.0),
            "highest_kpa_gauge": 102.0,
            "highest_rpm": 4250.0,
        },
        "weather": {
            "shift_kpa": 0.2,
            "sd_kpa": 0.1,
            "barometer_before_kpa_abs": 99.0,
            "barometer_after_kpa_abs": 99.5,
            "charge_difference_k": None,
            "beyond": [],
        },
        "scatter": {"sd_kpa": 1.0, "repeats": 2},
        "coverage_factor": 2.0,
        "holds_from_rpm": 3400.0,
        "tolerance_kpa": 7.0,
        "rpm": RPM,
        "before_kpa_gauge": [80.0, 118.0, 118.0, 119.0],
        "after_kpa_gauge": [80.0, 100.0, 100.0, 101.0],
        "difference_kpa": [0.0, -18.0, -18.0, -18.0],
        "band_low_kpa": [-2.0, -20.0, -20.0, -20.0],
        "band_high_kpa": [2.0, -16.0, -16.0, -16.0],
        "target_kpa_gauge": [TARGET] * 4,
        "stop_kpa_gauge": STOP,
        "forecast": None,
        "readings": [],
        "power": None,
        "findings": [],
        "written": [],
    }
