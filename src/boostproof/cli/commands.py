"""The commands. Each calls one plain function of the library and says what came of it.

Imports stand inside the commands: ``boostproof --help`` must not wait for numpy.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from boostproof.cli.answer import Answer
from boostproof.version import __version__

Command = TypeVar("Command", bound=Callable[..., Any])

PRESSURE_UNITS = ("psi", "bar", "kPa")
FOLDER = click.Path(path_type=Path)  # whether it exists is for the readers to say: exit 1, not 2


def _common(command: Command) -> Command:
    """``--json`` and ``--debug``, which the door acts on; here they are only allowed and explained."""
    for name, text in (
        ("--debug", "Show where in the program an error arose."),
        ("--json", "Answer with one JSON object, also when it fails."),
    ):
        command = click.option(name, is_flag=True, expose_value=False, help=text)(command)
    return command


_units = click.option(
    "--units",
    type=click.Choice(PRESSURE_UNITS, case_sensitive=False),
    default="psi",
    show_default=True,
    envvar="BOOSTPROOF_UNITS",
    help="Pressures in the text are shown in this unit (or set BOOSTPROOF_UNITS).",
)
_without = click.option(
    "--without", metavar="NAME", multiple=True,
    help="Leave out a recording, pulls as log.csv#3-5, or a reading as seat-leak#2: what was made after a repair.",
)
_repeated = click.option(
    "--repeated", metavar="NAME", multiple=True,
    help="A reading of readings.toml that was taken after the repair, such as seat-leak#2.",
)
_seed = click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="The same seed gives the same answer.",
)


def _serving(command: Command) -> Command:
    """Where the worksheet is served, and whether the browser is opened on it."""
    command = click.option("--no-browser", "browser", is_flag=True, flag_value=False, default=True,
                           help="Do not open the browser.")(command)  # fmt: skip
    return click.option("--port", metavar="N", type=click.IntRange(0, 65535),
                        help="The port on this machine; without it the usual one, or a free one.")(command)  # fmt: skip


def _width() -> int:
    """Columns of the terminal, within what reads well."""
    return min(110, max(60, shutil.get_terminal_size((100, 24)).columns))


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


@boostproof.command()
@click.argument("folder", metavar="DIR", type=FOLDER)
@_common
def new(folder: Path) -> Answer:
    """Make a case folder DIR with a car.toml to fill in."""
    from boostproof.casefolder import new_case

    written = new_case(folder)
    text = (
        f"Made {folder}. Fill in {written}: what you do not know you leave out.\n"
        f"Put log files into {folder / 'recordings'}, then run: boostproof diagnose {folder}"
    )
    return Answer({"format": 1, "case": str(folder), "written": [str(written)]}, lambda: text)


@boostproof.command()
@click.argument("file", metavar="FILE", type=FOLDER)
@click.option("--case", metavar="CASE", type=FOLDER, help="A case folder that tells more about the car.")
@click.option(
    "--column",
    "columns",
    metavar="TEXT",
    multiple=True,
    help="Say what a column is, such as \"boost=Pressure 2, psi, gauge\": our channel name, the header, "
    "then the unit and gauge or abs where the file does not say them. May be given several times.",
)
@click.option(
    "--remember", is_flag=True, help="Keep what --column says for every log with the same columns."
)
@click.option("--forget", is_flag=True, help="Take back what was kept for logs with these columns.")
@click.option("--figure", metavar="FILE", type=FOLDER, help="Draw the pulls into FILE (.svg, .png or .pdf).")
@_units
@_common
def inspect(
    file: Path,
    case: Path | None,
    columns: tuple[str, ...],
    remember: bool,
    forget: bool,
    figure: Path | None,
    units: str,
) -> Answer:
    """Read one recording FILE: its columns, pulls and what they show."""
    from boostproof.cli.show_inspection import show_inspection
    from boostproof.recording.columns.chosen import parse_choice
    from boostproof.workflows.inspect import inspect as inspect_recording

    if remember and not columns:
        raise click.UsageError("--remember keeps what --column says: give at least one --column.")
    named = dict(parse_choice(text) for text in columns)
    result = inspect_recording(file, case=case, columns=named, remember=remember, forget=forget)
    answer = result.as_json()
    if figure is not None:
        from boostproof.workflows.inspect_figure import write_figure

        answer["written"] = [str(write_figure(result, figure, units=units))]
    return Answer(answer, lambda: show_inspection(answer, name=file.name, units=units, width=_width()))


@boostproof.command()
@click.argument("case", metavar="CASE", type=FOLDER)
@click.option("--before", metavar="NAME", multiple=True, required=True, help="Recording of the one set-up.")
@click.option("--after", metavar="NAME", multiple=True, required=True, help="Recording of the other.")
@click.option("--figure", metavar="FILE", type=FOLDER, help="Draw it into FILE (.svg, .png or .pdf).")
@click.option("--other-sensor", is_flag=True, help="The two were not recorded by one sensor.")
@_units
@_common
def compare(
    case: Path,
    before: tuple[str, ...],
    after: tuple[str, ...],
    figure: Path | None,
    other_sensor: bool,
    units: str,
) -> Answer:
    """Hold pulls against pulls: did what was done to the car of CASE change its boost?

    A NAME is a recording of the case, with all its pulls, or some of them as in log.csv#2 or log.csv#3-5. Give --before or
    --after again for a further recording of that set-up: repeats tell what pulls differ by anyway.
    """
    from boostproof.cli.show_comparison import show_comparison
    from boostproof.workflows.compare import compare as compare_recordings
    from boostproof.workflows.compare import write_figure

    result = compare_recordings(case, before, after, same_sensor=False if other_sensor else None)
    answer = result.as_json()
    if figure is not None:
        answer["written"] = [str(write_figure(result, figure, units=units))]
    return Answer(answer, lambda: show_comparison(answer, units=units, width=_width()))


@boostproof.command()
@click.argument("case", metavar="CASE", type=FOLDER)
@click.option("--before", metavar="NAME", multiple=True, required=True, help="Recording before the repair.")
@click.option("--after", metavar="NAME", multiple=True, required=True, help="Recording after it.")
@click.option("--forecast", metavar="FILE", type=FOLDER, help="Answer of 'boostproof forecast --json'.")
@click.option("--readings-before", metavar="FILE", type=FOLDER, help="Bench readings before the repair.")
@click.option("--readings-after", metavar="FILE", type=FOLDER, help="The same tests after it.")
@_repeated
@click.option("--figure", metavar="FILE", type=FOLDER, help="Draw it into FILE (.svg, .png or .pdf).")
@click.option("--other-sensor", is_flag=True, help="The two were not recorded by one sensor.")
@_seed
@_units
@_common
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
    return Answer(answer, lambda: show_proof(answer, result.sentences(units), units=units, width=_width()))


@boostproof.command()
@click.argument("case", metavar="CASE", type=FOLDER)
@click.option("--figure", metavar="FILE", type=FOLDER, help="Draw the sweeps into FILE (.svg, .png or .pdf).")
@_seed
@_units
@_common
def bench(case: Path, figure: Path | None, seed: int, units: str) -> Answer:
    """Say what the bench readings of CASE mean: each figure with its doubt, beside a sound car's."""
    from boostproof.cli.show_bench import show_bench
    from boostproof.workflows.bench import bench as read_bench
    from boostproof.workflows.bench import write_figure

    result = read_bench(case, seed=seed)
    answer = result.as_json()
    if figure is not None:
        answer["written"] = [str(write_figure(result, figure, units=units))]
    return Answer(answer, lambda: show_bench(answer, units=units, width=_width()))


@boostproof.command()
@click.argument("case", metavar="CASE", type=FOLDER)
@click.option("--without-readings", is_flag=True, help="Judge by the recordings and the car alone.")
@click.option("--without-history", is_flag=True, help="Leave out what was said of the car and tried on it.")
@_without
@_seed
@_units
@_common
def diagnose(
    case: Path, without_readings: bool, without_history: bool, without: tuple[str, ...], seed: int, units: str
) -> Answer:
    """Rank the causes for the case folder CASE and name the next test."""
    from boostproof.cli.progress import Progress
    from boostproof.cli.show_first_look import Looks
    from boostproof.workflows.diagnose import diagnose as diagnose_case

    with Progress() as progress:
        verdict = diagnose_case(
            case, without_readings=without_readings, without_history=without_history, without=without, seed=seed,
            progress=progress, first_look=Looks(progress.tell, _width()),
        )  # fmt: skip

    def text() -> str:
        from boostproof.report.text import verdict_text

        return verdict_text(verdict, width=_width(), units=units)

    return Answer(verdict.as_json(), text)


@boostproof.command()
@click.argument("case", metavar="CASE", type=FOLDER)
@click.option("--closed-road", is_flag=True, help="Pulls on a road: it is closed, and a second person reads.")
@click.option("--mixture", is_flag=True, help="A mixture reading is in sight although no recording holds it.")
@click.option("--repaired", is_flag=True, help="A repair was done: the ladder begins low again.")
@click.option("--repair", "repairs", metavar="TEXT", multiple=True,
              help="The repair that was done, as 'boostproof forecast' takes it.")
@click.option("--after", metavar="NAME", multiple=True,
              help="A recording, pulls as log.csv#3-5, or a reading as seat-leak#2, that was made after the repair.")
@_seed
@_units
@_common
def plan(
    case: Path, closed_road: bool, mixture: bool, repaired: bool, repairs: tuple[str, ...], after: tuple[str, ...],
    seed: int, units: str,
) -> Answer:  # fmt: skip
    """Say how far the next pull of the car of CASE may go, and at which boost to lift."""
    from boostproof.cli.progress import Progress
    from boostproof.cli.show_plan import show_plan
    from boostproof.workflows.plan import plan as plan_pulls

    with Progress() as progress:
        result = plan_pulls(
            case, closed_road=closed_road, mixture=mixture, repaired=repaired, repairs=repairs, after=after, seed=seed,
            progress=progress,
        )  # fmt: skip
    answer = result.as_json()
    return Answer(answer, lambda: show_plan(answer, units=units, width=_width()))


@boostproof.command()
@click.argument("case", metavar="CASE", type=FOLDER)
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
@_without
@click.option("--figure", metavar="FILE", type=FOLDER, help="Draw it into FILE (.svg, .png or .pdf).")
@_seed
@_units
@_common
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
        return show_forecast(answer, units=units, width=_width())

    return Answer(found.as_json() | {"written": written}, text)


@boostproof.command()
@click.argument("case", metavar="CASE", type=FOLDER)
@click.option("-o", "--output", "file", metavar="FILE", type=FOLDER, help="Write it into FILE (.pdf, .html or .json).")
@click.option("--repair", "repairs", metavar="TEXT", multiple=True, help="Forecast it, as 'boostproof forecast' does.")
@click.option("--before", metavar="NAME", multiple=True, help="Recording before the repair, as for 'boostproof prove'.")
@click.option("--after", metavar="NAME", multiple=True, help="Recording after it.")
@click.option("--readings-after", metavar="FILE", type=FOLDER, help="Bench readings after the repair.")
@_repeated
@_without
@click.option("--done", metavar="TEXT", multiple=True, help="What was done on the car, in your words.")
@click.option("--customer", is_flag=True, help="For the customer: leave out what only the shop needs.")
@click.option("--shop", metavar="TEXT", default="", help="Who hands it over.")
@click.option("--by", metavar="TEXT", default="", help="Who did the work.")
@click.option("--date", "dated", metavar="TEXT", default="", help="Of the report, as it is to be read.")
@click.option("--hour", type=click.FloatRange(min=0.01), help="What the shop takes for an hour, as plain money.")
@_seed
@_units
@_common
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
    return Answer(answer, lambda: show_report(answer, width=_width()))


@boostproof.command()
@click.option(
    "--directory",
    metavar="DIR",
    type=FOLDER,
    default=Path("demo-shop"),
    show_default=True,
    help="Where the demo's case and pages are written.",
)
@click.option("--serve", "served", is_flag=True, help="Open it as a worksheet in the browser instead.")
@_serving
@_seed
@_units
@_common
def demo(directory: Path, served: bool, port: int | None, browser: bool, seed: int, units: str) -> Answer | None:
    """Diagnose the car of an invented demo shop and write its pages."""
    if served:
        from boostproof.web.serve import serve_demo

        serve_demo(directory, port=port, browser=browser, say=click.echo)
        return None
    from boostproof.cli.progress import Progress
    from boostproof.workflows.demo import run_demo

    with Progress() as progress:
        result = run_demo(directory, seed=seed, units=units, width=_width(), progress=progress)
    return Answer(result.as_json(), result.text)


@boostproof.command()
@click.argument("words", metavar="[WORDS]", nargs=-1)
@click.option(
    "--case",
    metavar="CASE",
    type=FOLDER,
    help="Only those that the car of CASE can have, and which of them no test of its shop can part.",
)
@_units
@_common
def causes(words: tuple[str, ...], case: Path | None, units: str) -> Answer:
    """List the causes that are considered, those that WORDS find, or one in full by its id."""
    from boostproof.cli.show_catalogue import show_causes, show_inseparable
    from boostproof.workflows.catalogue import causes_of_case, list_causes

    wanted = " ".join(words)
    if case is None:
        rows = list_causes(wanted)
        return Answer(
            {"format": 1, "causes": rows}, lambda: show_causes(list_causes(wanted, units=units), width=_width())
        )
    from boostproof.cli.progress import Progress

    with Progress() as progress:
        found = causes_of_case(case, wanted, progress=progress)

    def text() -> str:
        own = list_causes(wanted, units=units, among={row["id"] for row in found["causes"]})
        return f"{show_causes(own, width=_width())}\n\n{show_inseparable(found['inseparable'], width=_width())}"

    return Answer({"format": 1, **found}, text)


@boostproof.command()
@click.argument("words", metavar="[WORDS]", nargs=-1)
@click.option("--figure", metavar="FILE", type=FOLDER, help="Draw its set-up into FILE (.svg, .png or .pdf).")
@_units
@_common
def tests(words: tuple[str, ...], figure: Path | None, units: str) -> Answer:
    """List the bench and road tests, those that WORDS find, or one in full by its id, cautions first."""
    from boostproof.cli.show_catalogue import show_tests
    from boostproof.workflows.catalogue import list_tests, write_setup

    wanted = " ".join(words)
    rows = list_tests(wanted)
    answer: dict[str, Any] = {"format": 1, "tests": rows}
    if figure is not None:
        if len(rows) != 1:
            raise click.UsageError("--figure draws one test: give its id, such as actuator-sweep.")
        answer["written"] = [str(write_setup(rows[0]["id"], figure))]
    return Answer(answer, lambda: show_tests(list_tests(wanted, units=units), width=_width()))


@boostproof.command()
@_serving
@click.option("--data", metavar="DIR", type=FOLDER, help="Where the jobs are kept; without it the user's data folder.")
@click.option("--debug", is_flag=True, expose_value=False, help="Show where in the program an error arose.")
@click.option("--json", "as_json", is_flag=True, help="Say the address as one JSON object.")
def serve(port: int | None, browser: bool, data: Path | None, as_json: bool) -> None:
    """Open the worksheet: every job of the shop in the browser, served to this machine only."""
    from boostproof.web.serve import serve as serve_store

    serve_store(port=port, data=data, browser=browser, as_json=as_json, say=click.echo)
