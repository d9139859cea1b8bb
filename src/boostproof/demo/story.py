"""Names of invented cars and what their owners say."""

from __future__ import annotations

from .metrics import PSI
from .people import Rng

# invented, not the name of any maker or model
FIRST = (
    "Aldervane",
    "Brontel",
    "Calpurn",
    "Dorsay",
    "Elvaston",
    "Farrowick",
    "Gralin",
    "Hestmoor",
    "Iverley",
    "Jorvane",
    "Kestrin",
    "Lorimund",
    "Myrtow",
    "Norvik Vale",
    "Ostrel",
    "Penhallis",
)
SECOND = ("Saloon", "Estate", "Coupe", "Hatch", "Roadster", "Wagon", "Mk2", "Sprint")


def car_name(rng: Rng) -> str:
    return f"{rng.choice(FIRST)} {rng.choice(SECOND)}"


def complaint(found: dict[str, float], sound: dict[str, float], target: float, rng: Rng) -> list[str]:
    """What the customer says, from what truly happens (``true_metrics`` of both cars)."""
    aim = target / PSI
    level = found.get("plat_med", found["peak"])
    said: list[str] = []
    lifted = found["rpm_end"] < sound["rpm_end"] - 300.0
    if lifted and found["peak"] > aim * 1.2:
        return ["boost runs away, had to lift"]
    if found.get("rise", 0.0) > 1.3 and found["end"] > aim + 1.2:
        return ["boost keeps climbing with rpm and never levels off"]
    if found.get("spike", 0.0) > 2.0 and found.get("spike", 0.0) > sound.get("spike", 0.0) + 1.2:
        return ["boost shoots past the target, then settles"]
    if level > aim + 0.9:
        return ["holds steady boost but higher than it should be"]
    if found.get("rise", 0.0) < -1.4 and found["end"] < sound["end"] - 0.8:
        said.append("boost falls away at the top")
    elif level < aim - 1.5:
        said.append("low boost")
    if found.get("rpm80", found["rpm_end"]) > sound.get("rpm80", 1e9) * 1.03:
        said.append("slow to build boost")
    return said or [
        str(
            rng.choice(
                [
                    "feels a bit down on power",
                    "customer wants the boost control checked",
                    "no clear complaint, wants a health check",
                ]
            )
        )
    ]
