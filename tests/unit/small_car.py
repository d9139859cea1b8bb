"""The small car that tests share: two litres, four cylinders, one turbo, internal flapper, ball and spring."""

from __future__ import annotations

_TEXT = """format = 1
[car]
name = "the grey estate"
[engine]
displacement = "2.0 L"
cylinders = 4
redline = "6800 rpm"
{engine}
[wastegate]
kind = "{gate}"
{wastegate}
[controller]
kind = "{controller}"
{more}
"""


def small_car(
    more: str = "",
    *,
    controller: str = "ball and spring",
    gate: str = "internal flapper",
    engine: str = "",
    wastegate: str = "",
) -> str:
    """Text of its car.toml.

    Parameters
    ----------
    more : what else stands in [controller], and further tables
    controller, gate : their kinds
    engine, wastegate : what else stands in these tables
    """
    return _TEXT.format(more=more, controller=controller, gate=gate, engine=engine, wastegate=wastegate)
