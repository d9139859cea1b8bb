"""Commands of the shop: a case to start with, the demo, and the worksheet in the browser."""

from __future__ import annotations

from pathlib import Path

import click

from boostproof.cli import options
from boostproof.cli.answer import Answer


@click.command()
@click.argument("folder", metavar="DIR", type=options.FOLDER)
@options.common
def new(folder: Path) -> Answer:
    """Make a case folder DIR with a car.toml to fill in."""
    from boostproof.casefolder import new_case

    written = new_case(folder)
    text = (
        f"Made {folder}. Fill in {written}: what you do not know you leave out.\n"
        f"Put log files into {folder / 'recordings'}, then run: boostproof diagnose {folder}"
    )
    return Answer({"format": 1, "case": str(folder), "written": [str(written)]}, lambda: text)


@click.command()
@click.option(
    "--directory",
    metavar="DIR",
    type=options.FOLDER,
    default=Path("demo-shop"),
    show_default=True,
    help="Where the demo's case and pages are written.",
)
@click.option("--serve", "served", is_flag=True, help="Open it as a worksheet in the browser instead.")
@options.serving
@options.seed
@options.units
@options.common
def demo(directory: Path, served: bool, port: int | None, browser: bool, seed: int, units: str) -> Answer | None:
    """Diagnose the car of an invented demo shop and write its pages."""
    if served:
        from boostproof.web.serve import serve_demo

        serve_demo(directory, port=port, browser=browser, say=click.echo)
        return None
    from boostproof.cli.progress import Progress
    from boostproof.workflows.demo import run_demo

    with Progress() as progress:
        result = run_demo(directory, seed=seed, units=units, width=options.width(), progress=progress)
    return Answer(result.as_json(), result.text)


@click.command()
@options.serving
@click.option(
    "--data", metavar="DIR", type=options.FOLDER, help="Where the jobs are kept; without it the user's data folder."
)
@click.option("--debug", is_flag=True, expose_value=False, help="Show where in the program an error arose.")
@click.option("--json", "as_json", is_flag=True, help="Say the address as one JSON object.")
def serve(port: int | None, browser: bool, data: Path | None, as_json: bool) -> None:
    """Open the worksheet: every job of the shop in the browser, served to this machine only."""
    from boostproof.web.serve import serve as serve_store

    serve_store(port=port, data=data, browser=browser, as_json=as_json, say=click.echo)
