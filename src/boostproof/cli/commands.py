"""The program and its commands. Each calls one plain function of the library and says what came of it.

Imports stand inside the commands: ``boostproof --help`` must not wait for numpy.
"""

from __future__ import annotations

import click

from boostproof.cli.pull_commands import compare, inspect, plan
from boostproof.cli.repair_commands import forecast, prove, report
from boostproof.cli.shop_commands import demo, new, serve
from boostproof.cli.verdict_commands import bench, causes, diagnose, tests
from boostproof.version import __version__


@click.group(
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="Exit codes: 0 done, 1 not done (the reason is said), 2 wrong command line.",
)
@click.version_option(__version__, message="%(prog)s %(version)s")
def boostproof() -> None:
    """Find out why a turbocharged car does not hold its boost.

    Start with 'boostproof demo' to see a job from complaint to verdict, or with 'boostproof new DIR' for
    a car of your own.
    """


for _command in (
    new, inspect, compare, prove, bench, diagnose, plan, forecast, report, demo, causes, tests, serve,
):  # fmt: skip
    boostproof.add_command(_command)
