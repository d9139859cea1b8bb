"""Commands about the repair: what the car will do after it, whether it cured the car, and the report of the job."""

from __future__ import annotations

from pathlib import Path

import click

from boostproof.cli import options
from boostproof.cli.answer import Answer


@click.command()
@click.argument("case", metavar="CASE", type=options.FOLDER)
@click.option(
    "--repair",
    "repairs",
    metavar="TEXT",
    multiple=True,
    required=True,
    help='What is done, such as "port 30 mm", "spring 12 psi", "controller 2 turns out", "line". Given several '
    "times they are done together.",
)
@click.option("--tolerance", metavar="TEXT", help='How far boost may pass the target, such as "1 psi".')
@click.option(
    "--confidence", type=click.FloatRange(0.5, 0.999), default=0.95, show_default=True,
    help="With which a size is to hold the target.",
)
@click.option(
    "--known", metavar="TEXT", multiple=True,
    help='A setting of the controller and the boost it made, such as "2 turns 12 psi"; give two.',
)
@click.option("--hour", type=click.FloatRange(min=0.01), help="What the shop takes for an hour, as plain money.")
@click.option(
    "--parts", type=(str, float, float), multiple=True, metavar="REPAIR LOW HIGH",
    help="Price range of a repair's parts, in place of the usual one.",
)
@click.option("--without-readings", is_flag=True, help="Judge by the recordings and the car alone.")
@options.without
@click.option("--figure", metavar="FILE", type=options.FOLDER, help="Draw it into FILE (.svg, .png or .pdf).")
@options.seed
@options.units
@options.common
def forecast(
    case: Path,
    repairs: tuple[str, ...],
    tolerance: str | None,
    confidence: float,
    known: tuple[str, ...],
    hour: float | None,
    parts: tuple[tuple[str, float, float], ...],
    without_readings: bool,
    without: tuple[str, ...],
    figure: Path | None,
    seed: int,
    units: str,
) -> Answer:
    """Say what the car of CASE will do after a repair: its boost, every limit, the size that holds the target."""
    from boostproof.cli.progress import Progress
    from boostproof.cli.show_forecast import show_forecast
    from boostproof.workflows.forecast import forecast as forecast_case
    from boostproof.workflows.forecast import write_figure
    from boostproof.workflows.forecast_answers import as_json

    with Progress() as progress:
        found = forecast_case(
            case, repairs, tolerance=tolerance, confidence=confidence, known=known, hour=hour,
            parts={name: (low, high) for name, low, high in parts}, without_readings=without_readings, without=without,
            seed=seed, progress=progress,
        )  # fmt: skip
    written = [] if figure is None else [str(write_figure(found, figure, units=units))]

    def text() -> str:
        answer = as_json(found, pressure=units) | {"written": written}
        return show_forecast(answer, units=units, width=options.width())

    return Answer(found.as_json() | {"written": written}, text)


@click.command()
@click.argument("case", metavar="CASE", type=options.FOLDER)
@click.option("--before", metavar="NAME", multiple=True, required=True, help="Recording before the repair.")
@click.option("--after", metavar="NAME", multiple=True, required=True, help="Recording after it.")
@click.option("--forecast", metavar="FILE", type=options.FOLDER, help="Answer of 'boostproof forecast --json'.")
@click.option("--readings-before", metavar="FILE", type=options.FOLDER, help="Bench readings before the repair.")
@click.option("--readings-after", metavar="FILE", type=options.FOLDER, help="The same tests after it.")
@options.repeated
@click.option("--figure", metavar="FILE", type=options.FOLDER, help="Draw it into FILE (.svg, .png or .pdf).")
@click.option("--other-sensor", is_flag=True, help="The two were not recorded by one sensor.")
@options.seed
@options.units
@options.common
def prove(
    case: Path,
    before: tuple[str, ...],
    after: tuple[str, ...],
    forecast: Path | None,
    readings_before: Path | None,
    readings_after: Path | None,
    repeated: tuple[str, ...],
    figure: Path | None,
    other_sensor: bool,
    seed: int,
    units: str,
) -> Answer:
    """Did the repair cure the car of CASE? Pulls before it against pulls after it.

    A NAME is a recording of the case, with all its pulls, or some of them as in log.csv#2 or log.csv#3-5. Give --before or
    --after again for further recordings. Readings stand in files like readings.toml; the case's own is the one before
    where only --readings-after is given. Where that one holds both, --repeated names those after.
    """
    from boostproof.cli.show_proof import show_proof
    from boostproof.workflows.prove import prove as prove_repair
    from boostproof.workflows.prove import write_figure

    result = prove_repair(
        case, before, after, same_sensor=False if other_sensor else None, forecast=forecast,
        readings_before=readings_before, readings_after=readings_after, repeated=repeated, seed=seed,
    )  # fmt: skip
    answer = result.as_json()
    if figure is not None:
        answer["written"] = [str(write_figure(result, figure, units=units))]
    return Answer(answer, lambda: show_proof(answer, result.sentences(units), units=units, width=options.width()))


@click.command()
@click.argument("case", metavar="CASE", type=options.FOLDER)
@click.option(
    "-o", "--output", "file", metavar="FILE", type=options.FOLDER, help="Write it into FILE (.pdf, .html or .json)."
)
@click.option("--repair", "repairs", metavar="TEXT", multiple=True, help="Forecast it, as 'boostproof forecast' does.")
@click.option("--before", metavar="NAME", multiple=True, help="Recording before the repair, as for 'boostproof prove'.")
@click.option("--after", metavar="NAME", multiple=True, help="Recording after it.")
@click.option("--readings-after", metavar="FILE", type=options.FOLDER, help="Bench readings after the repair.")
@options.repeated
@options.without
@click.option("--done", metavar="TEXT", multiple=True, help="What was done on the car, in your words.")
@click.option("--customer", is_flag=True, help="For the customer: leave out what only the shop needs.")
@click.option("--shop", metavar="TEXT", default="", help="Who hands it over.")
@click.option("--by", metavar="TEXT", default="", help="Who did the work.")
@click.option("--date", "dated", metavar="TEXT", default="", help="Of the report, as it is to be read.")
@click.option("--hour", type=click.FloatRange(min=0.01), help="What the shop takes for an hour, as plain money.")
@options.seed
@options.units
@options.common
def report(
    case: Path,
    file: Path | None,
    repairs: tuple[str, ...],
    before: tuple[str, ...],
    after: tuple[str, ...],
    readings_after: Path | None,
    repeated: tuple[str, ...],
    without: tuple[str, ...],
    done: tuple[str, ...],
    customer: bool,
    shop: str,
    by: str,
    dated: str,
    hour: float | None,
    seed: int,
    units: str,
) -> Answer:
    """Put the job of CASE into one document: complaint, measurements, verdict, forecast, proof, what is open.

    What was not done is said to be so. The same case gives the same report.
    """
    from boostproof.cli.progress import Progress
    from boostproof.cli.show_report import show_report
    from boostproof.workflows.report import checked_name, write_report
    from boostproof.workflows.report import report as make_report

    if file is not None:
        checked_name(file)
    with Progress() as progress:
        made = make_report(
            case, repairs=repairs, before=before, after=after, readings_after=readings_after, repeated=repeated,
            without=without, customer=customer, units=units, done=done, shop=shop, by=by, dated=dated, hour=hour, seed=seed,
            progress=progress,
        )  # fmt: skip
    written = [] if file is None else [str(write_report(made.document, file))]
    answer = made.as_json() | {"written": written}
    return Answer(answer, lambda: show_report(answer, width=options.width()))
