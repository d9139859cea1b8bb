"""Options that several commands share, and how wide their text may be."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])

PRESSURE_UNITS = ("psi", "bar", "kPa")
FOLDER = click.Path(path_type=Path)  # whether it exists is for the readers to say: exit 1, not 2


def common(command: Command) -> Command:
    """``--json`` and ``--debug``, which the door acts on; here they are only allowed and explained."""
    for name, text in (
        ("--debug", "Show where in the program an error arose."),
        ("--json", "Answer with one JSON object, also when it fails."),
    ):
        command = click.option(name, is_flag=True, expose_value=False, help=text)(command)
    return command


units = click.option(
    "--units",
    type=click.Choice(PRESSURE_UNITS, case_sensitive=False),
    default="psi",
    show_default=True,
    envvar="BOOSTPROOF_UNITS",
    help="Pressures in the text are shown in this unit (or set BOOSTPROOF_UNITS).",
)
without = click.option(
    "--without", metavar="NAME", multiple=True,
    help="Leave out a recording, pulls as log.csv#3-5, or a reading as seat-leak#2: what was made after a repair.",
)
repeated = click.option(
    "--repeated", metavar="NAME", multiple=True,
    help="A reading of readings.toml that was taken after the repair, such as seat-leak#2.",
)
seed = click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="The same seed gives the same answer.",
)


def serving(command: Command) -> Command:
    """Where the worksheet is served, and whether the browser is opened on it."""
    command = click.option("--no-browser", "browser", is_flag=True, flag_value=False, default=True,
                           help="Do not open the browser.")(command)  # fmt: skip
    return click.option("--port", metavar="N", type=click.IntRange(0, 65535),
                        help="The port on this machine; without it the usual one, or a free one.")(command)  # fmt: skip


def width() -> int:
    """Columns of the terminal, within what reads well."""
    return min(110, max(60, shutil.get_terminal_size((100, 24)).columns))
