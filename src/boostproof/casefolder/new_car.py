"""The shortest car.toml: a name and what the owner says."""

from __future__ import annotations

import tomlkit


def new_car_text(name: str, complaint: str = "") -> str:
    """Text of a car.toml that holds only what the car is called and the complaint.

    Parameters
    ----------
    name : what the shop calls the car
    complaint : in the owner's words, one complaint a line; may be empty
    """
    document = tomlkit.document()
    document["format"] = 1
    car = tomlkit.table()
    car["name"] = " ".join(name.split())
    lines = [" ".join(line.split()) for line in complaint.splitlines() if line.strip()]
    if lines:
        car["complaint"] = lines
    document["car"] = car
    return tomlkit.dumps(document)
