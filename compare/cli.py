"""The command line: ``evenrun``."""

from __future__ import annotations

import gc
import json
import os
import sys
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Optional

# starting up makes many objects that stay; collecting among them costs a twentieth of it
gc.set_threshold(500_000)
# pydantic would search every installed package for plugins, which takes longer than a comparison
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

import typer
from typer.exceptions import TyperException

from compare import cli_parts as parts
from compare import cli_quotes
from compare.errors import EvenrunError, FileError, InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from compare.decide.comparison import Comparison
    from compare.decide.uncertainty import Uncertainty
    from compare.decide.variance_shares import VarianceShare
    from compare.readers.jobfile import Layer
    from compare.scenario import Scenario

app = typer.Typer(
    name="evenrun",
    help="Steel-rule die or laser, for this job?",
    add_completion=False,
    pretty_exceptions_enable=False,
)

users_app = typer.Typer(help="Who may log in to the dashboard.")
app.add_typer(users_app, name="users")
cli_quotes.register(app)

_DEMO_PLANT = "plants/northfold.toml"

PlantOption = Annotated[Optional[Path], typer.Option("--plant", help="Plant file (TOML) with the plant's own values.")]
SetOption = Annotated[
    Optional[list[str]],
    typer.Option("--set", metavar="NAME=VALUE", help="Set one value by its dotted name; may be repeated."),
]
CostingOption = Annotated[
    str, typer.Option(help="full: rates with depreciation, interest and space; cash: without them.")
]
BetweenOption = Annotated[
    Optional[list[str]],
    typer.Option(
        "--between",
        metavar="NAME=LOW..HIGH",
        help="Range of one value, which turns --uncertainty on; such as demand.run_length=4000..9000.",
    ),
]
CountryOption = Annotated[Optional[str], typer.Option(help="Country whose electricity is used, such as DE.")]


@app.command()
def compare(
    job: Annotated[Path, typer.Argument(help="Job file (TOML).")],
    plant: PlantOption = None,
    set_: SetOption = None,
    costing: CostingOption = "full",
    country: CountryOption = None,
    seconds: Annotated[
        bool, typer.Option("--seconds", help="Show where the seconds of a sheet go on the laser line.")
    ] = False,
    uncertain: Annotated[
        bool, typer.Option("--uncertainty", help="Show how sure the answer is: ranges, probability, what drives it.")
    ] = False,
    between: BetweenOption = None,
    draws: Annotated[int, typer.Option(help="Draws for --uncertainty; a power of two.")] = 4096,
    seed: Annotated[int, typer.Option(min=0, help="Seed of the draws: the same seed gives the same figures.")] = 1,
    indices: Annotated[
        bool,
        typer.Option(
            "--indices",
            help="With --uncertainty, which it turns on: the share of the variance that each input carries.",
        ),
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
    csv: Annotated[
        Optional[Path], typer.Option("--csv", help="Write the ledger, one row per flow, to a CSV file.")
    ] = None,
) -> None:
    """Compare one job on both routes."""
    from compare.decide.comparison import compare as run
    from compare.present.record import record, write_ledger

    comparison = run(_scenario(job, plant, set_, country, between), parts.costing_of(costing))
    found = _uncertainty(comparison, draws, seed, indices) if uncertain or between or indices else None
    if csv is not None:
        try:
            with csv.open("w", encoding="utf-8", newline="") as file:
                write_ledger(comparison, file)
        except OSError as error:
            raise FileError(
                f"the file can't be written ({error.strerror})", where=str(csv), remedy="check folder and rights"
            ) from None
    if as_json:
        unsure = None
        if found is not None:
            from compare.present.sure_record import sure_record

            unsure = sure_record(*found)
        print(json.dumps(record(comparison, unsure), indent=2, ensure_ascii=False, allow_nan=False))
    elif csv is None:
        from compare.present.terminal import comparison_view, sheet_time_view, show

        answer = None
        if found is not None and found[0].sureness is not None:
            from compare.present.sure_wording import sure_answer

            answer = sure_answer(found[0])
        show(comparison_view(comparison, answer), parts.console())
        if found is not None:
            from compare.present.sure_terminal import sure_view

            show(sure_view(*found), parts.console())
        if seconds:
            show(sheet_time_view(comparison.scenario), parts.console())
    else:
        print(f"{len(comparison.ledger)} rows written to {csv}")


@app.command()
def measure(
    file: Annotated[Path, typer.Argument(help="Drawing: DXF, SVG, PDF, or tool data as XJDF or JDF.")],
    unit: Annotated[
        Optional[str], typer.Option(help="Unit of the drawing where the file does not say: mm, cm, m, in, px96 ...")
    ] = None,
    line_map: Annotated[
        Optional[Path], typer.Option("--map", help="Which line is which kind; a TOML file kept per client.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
    picture: Annotated[
        Optional[Path], typer.Option(help="Write the lines by kind, with the places of findings, to an SVG file.")
    ] = None,
) -> None:
    """Measure a drawing: lengths by kind of line, blank, and what is wrong with it."""
    from compare.present.drawing_record import drawing_record, drawing_view
    from compare.present.terminal import show
    from compare.readers.drawing import read_drawing
    from compare.readers.drawn_carton import PATIENCE_S, drawn_carton
    from compare.readers.line_map import LineMap, load_line_map

    rules = load_line_map(line_map) if line_map else LineMap()
    carton = drawn_carton(read_drawing(file, unit=unit, seconds=PATIENCE_S), file.name, rules)
    if picture is not None:
        from compare.present.drawing_charts import drawing_chart
        from compare.present.svg_pen import svg_of

        parts.write_file(picture, svg_of(drawing_chart(carton)))
    if as_json:
        print(json.dumps(drawing_record(carton), indent=2, ensure_ascii=False, allow_nan=False))
        return
    show(drawing_view(carton), parts.console())
    if picture is not None:
        print(f"\nPicture: {picture}")


@app.command()
def book(
    orders: Annotated[Optional[Path], typer.Argument(help="Order book: CSV or XLSX, one order per row.")] = None,
    plant: PlantOption = None,
    set_: SetOption = None,
    hours: Annotated[
        Optional[str],
        typer.Option(metavar="HOURS", help="Hours of the line that may be planned in a year; all, if left out."),
    ] = None,
    month_hours: Annotated[
        Optional[str],
        typer.Option(metavar="HOURS", help="Hours of one month; a twelfth of the year's, if left out."),
    ] = None,
    no_months: Annotated[bool, typer.Option("--no-months", help="Don't hold each month to its hours.")] = False,
    board_hours: Annotated[
        Optional[list[str]], typer.Option(metavar="GRADE=HOURS", help="Hours for jobs of a board; may be repeated.")
    ] = None,
    costing: CostingOption = "full",
    tax: Annotated[str, typer.Option(help="Tax on profit in the investment, such as 0.3 or 30%.")] = "0",
    with_range: Annotated[
        bool, typer.Option("--range", help="Work out the range of the saving; takes longer.")
    ] = False,
    map_: Annotated[
        Optional[list[str]], typer.Option("--map", metavar="HEADING=COLUMN", help="What a heading holds; repeatable.")
    ] = None,
    decimal: Annotated[Optional[str], typer.Option(help="Decimal sign of the file: . or ,")] = None,
    dates: Annotated[Optional[str], typer.Option(help="Order of its dates: ymd, dmy or mdy.")] = None,
    currency: Annotated[Optional[str], typer.Option(help="Currency of the plant's prices; others must wait.")] = None,
    sheet: Annotated[Optional[str], typer.Option(help="Sheet of a workbook; the first, if left out.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
    xlsx: Annotated[Optional[Path], typer.Option(help="Write jobs, summary and assumptions to a workbook.")] = None,
    csv: Annotated[Optional[Path], typer.Option("--csv", help="Write the jobs to a CSV file.")] = None,
    findings: Annotated[Optional[Path], typer.Option(help="Write all that is to be mended to a CSV file.")] = None,
    template: Annotated[Optional[Path], typer.Option(help="Write an empty order book, CSV or XLSX, and stop.")] = None,
) -> None:
    """Plan a year of orders: which jobs go to the laser line, and what that brings."""
    from compare.present import book_command as run
    from compare.readers.jobfile import Layer, read_file, settings_layer

    if template is not None:
        if as_json:
            raise InputError("--json and --template exclude each other", remedy="give one of them")
        run.write_template(template)
        print(f"Template: {template}")
        return
    if orders is None:
        raise InputError("no order book is given", remedy="name one, or begin with --template orders.xlsx")
    run.keep_apart(orders, xlsx=xlsx, csv=csv, findings=findings)
    layers = [read_file(plant, kind="plant")] if plant else []
    if currency is not None:
        layers.append(Layer(run.CURRENCY, {"plant.currency": currency}))
    layers.append(settings_layer(set_ or []))
    reading = run.Reading(map_ or (), decimal, dates, sheet)
    planning = run.Planning(
        run.hours_of(hours, "--hours"),
        run.hours_of(month_hours, "--month-hours"),
        not no_months,
        board_hours or (),
        parts.costing_of(costing),
        tax,
        with_range,
    )
    plan = run.run_book(orders, layers, reading, planning, findings)
    run.write_files(plan, layers, xlsx, csv)
    if as_json:
        from compare.present.book_record import book_record

        print(json.dumps(book_record(plan, layers), indent=2, ensure_ascii=False, allow_nan=False))
        return
    from compare.present.book_terminal import book_view
    from compare.present.terminal import show

    show(book_view(plan, layers), parts.console())
    for what, path in (("Workbook", xlsx), ("Jobs", csv), ("Findings", findings)):
        if path is not None:
            print(f"{what}: {path}")


@app.command()
def calibrate(
    measured: Annotated[Optional[Path], typer.Argument(help="Measured sheets: CSV, one sheet per row.")] = None,
    make_ready: Annotated[
        Optional[Path], typer.Option("--make-ready", help="Log of make-readies: CSV with hours, ups, first.")
    ] = None,
    plant: PlantOption = None,
    output: Annotated[
        Optional[Path], typer.Option("-o", "--output", help="Write a plant file with the fitted values (TOML).")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write over a file of that name.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Fit the laser's speed and delays, or make-ready hours, to measurements, with intervals."""
    from datetime import date

    from compare.present import calibration_command as run
    from compare.present.calibration_record import calibration_record, calibration_view

    if output is not None:
        run.check_output(output, measured, make_ready, plant, force=force)
    found, today = run.run_calibration(measured, make_ready, plant), date.today()
    if output is not None:
        run.write_plant(found, output, today, force=force)
    if as_json:
        record = calibration_record(found, today, output)
        print(json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False))
        return
    from compare.present.terminal import show

    show(calibration_view(found), parts.console())
    print(f"\nPlant file: {output}" if output else "\n-o my_plant.toml writes a plant file with these values.")


def _uncertainty(
    comparison: Comparison, draws: int, seed: int, indices: bool
) -> tuple[Uncertainty, Sequence[VarianceShare] | None]:
    from compare.decide.draws import check_draws
    from compare.decide.uncertainty import uncertainty
    from compare.decide.variance_shares import variance_shares

    check_draws(draws, where="--draws")
    unsure = uncertainty(comparison, draws=draws, seed=seed)
    if not indices or unsure.sureness is None:
        return unsure, None
    return unsure, variance_shares(unsure.varied, costing=comparison.costing, seed=seed)


@app.command()
def demo(
    serve_it: Annotated[
        bool, typer.Option("--serve/--no-serve", help="Open the dashboard on the invented plant afterwards.")
    ] = True,
    port: Annotated[int, typer.Option(help="Port of the dashboard; 0 takes any free one.")] = 8050,
    seconds: Annotated[
        bool, typer.Option("--seconds", help="Show where the seconds of a sheet go on the laser line.")
    ] = False,
) -> None:
    """Compare the demo jobs of an invented plant on both routes, then serve its dashboard."""
    from compare.data_files import data_folder
    from compare.decide.comparison import compare as run
    from compare.present.terminal import demo_seconds_view, demo_view, show
    from compare.readers.jobfile import read_file
    from compare.scenario import prepare

    plant_file = data_folder() / _DEMO_PLANT
    plant = read_file(plant_file, kind="plant")
    jobs = sorted((data_folder() / "demo").glob("*.toml"))
    comparisons = [run(prepare(plant, read_file(job, kind="job"))) for job in jobs]
    console = parts.console()
    currency = comparisons[0].scenario.currency
    console.print(
        f"{comparisons[0].scenario.plant}: plant, prices and jobs are invented.\n"
        f"{currency} per 1,000 good cartons, full costing; CO2e: laser less die, per 1,000.\n",
        highlight=False,
    )
    show(demo_view(comparisons), console)
    if seconds:
        console.print()
        show(demo_seconds_view(comparison.scenario for comparison in comparisons), console)
    console.print(
        f"\nOne job in full:  evenrun compare {_short(jobs[0])} --plant {_short(plant_file)}\n"
        "Figures are estimates for planning; 'evenrun compare' shows what they hold and the cautions.",
        highlight=False,
        soft_wrap=True,
    )
    if serve_it:
        print("\nStarting the dashboard; Ctrl-C stops it.", flush=True)
        _serve(plant, "127.0.0.1", _free_or_any(port), store=_demo_store())


@app.command()
def serve(
    plant: PlantOption = None,
    with_demo: Annotated[bool, typer.Option("--demo", help="Use the invented plant.")] = False,
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port; 0 takes any free one.")] = 8050,
    users: Annotated[
        Optional[Path], typer.Option("--users", help="Users file made by 'evenrun users add'; asks for a login.")
    ] = None,
    behind_proxy: Annotated[
        bool, typer.Option("--behind-proxy", help="A reverse proxy with HTTPS stands before it and asks who it is.")
    ] = False,
    debug: Annotated[bool, typer.Option("--debug", help="Developer panel; on this machine only.")] = False,
    store: cli_quotes.StoreOption = None,
) -> None:
    """Serve the dashboard, on this machine unless told otherwise."""
    from compare.data_files import data_folder
    from compare.readers.jobfile import Layer, read_file

    if plant is not None and with_demo:
        raise InputError("--plant and --demo exclude each other", remedy="give one of them")
    file = data_folder() / _DEMO_PLANT if with_demo else plant
    layer = read_file(file, kind="plant") if file else Layer("table of assumptions")
    kept = _demo_store() if with_demo and store is None else store
    _serve(layer, host, port, users=users, behind_proxy=behind_proxy, debug=debug, store=kept)


@users_app.command("add")
def add_user(
    name: Annotated[str, typer.Argument(help="Name to log in with.")],
    file: Annotated[Path, typer.Option(help="Users file; it is made if need be.")] = Path("users.json"),
    replace: Annotated[bool, typer.Option("--replace", help="Change the password of a user who is there.")] = False,
) -> None:
    """Add a user; the password is asked for, or read from standard input if that is no terminal."""
    from dashboard.users import Users

    if sys.stdin.isatty():
        password = typer.prompt("Password", hide_input=True, confirmation_prompt=True)
    else:
        password = sys.stdin.readline().rstrip("\n")
    Users(file).add(name, password, replace=replace)
    print(f"{name} may log in: evenrun serve --users {file}")


@app.command()
def assumptions(
    plant: PlantOption = None,
    set_: SetOption = None,
    changed: Annotated[bool, typer.Option("--changed", help="Only values that differ from the table.")] = False,
    find: Annotated[str, typer.Option(help="Only names, meanings and sources that contain this text.")] = "",
) -> None:
    """List every assumption with value, unit, range, basis and source."""
    from compare.assumptions import assumption_table as table
    from compare.present.terminal import assumptions_view, show
    from compare.readers.jobfile import read_file, settings_layer

    layers = [read_file(plant, kind="plant")] if plant else []
    layers.append(settings_layer(set_ or []))
    own = {name: (value, Path(layer.label).name) for layer in layers for name, value in layer.values.items()}
    rows = []
    for name, row in table().items():
        value, origin = own.get(name, (row.value, row.source or row.note or row.basis))
        differs = name in own and value != row.value
        text = " ".join((name, row.meaning, row.source, row.note)).lower()
        if (differs or not changed) and find.lower() in text:
            shown = "" if value is None else f"{value:,.10g}" if isinstance(value, float) else str(value)
            rows.append((row, shown, origin))
    currency = str(own.get("plant.currency", (table()["plant.currency"].value, ""))[0])
    if not rows:
        print("No value differs from the table." if changed and not find else "No assumption matches.")
        return
    show(assumptions_view(rows, currency), parts.console(piped_width=150))


@users_app.command("remove")
def remove_user(
    name: Annotated[str, typer.Argument(help="Name to take out.")],
    file: Annotated[Path, typer.Option(help="Users file.")] = Path("users.json"),
) -> None:
    """Take a user out; the sessions of that user end."""
    from dashboard.users import Users

    Users(file).remove(name)
    print(f"{name} can no longer log in.")


def _serve(
    plant: Layer,
    host: str,
    port: int,
    *,
    users: Path | None = None,
    behind_proxy: bool = False,
    debug: bool = False,
    store: Path | None = None,
) -> None:
    from dashboard.secret import server_secret
    from dashboard.server import serve as run
    from dashboard.settings import Settings
    from dashboard.users import Users

    who = Users.load(users) if users else None
    settings = Settings(plant=plant, secret=server_secret(), store=store)
    run(settings, host, port, users=who, behind_proxy=behind_proxy, debug=debug)


def _demo_store() -> Path:
    """Return where quotes of the invented plant are kept: apart from those of a real one."""
    from compare.quotes.store import default_path

    return default_path().with_name("demo-quotes.sqlite3")


def _free_or_any(port: int) -> int:
    """Return the port if nothing listens there, else 0, which takes any free one."""
    import socket

    with socket.socket() as probe:
        return 0 if probe.connect_ex(("127.0.0.1", port)) == 0 else port


def _scenario(
    job: Path, plant: Path | None, settings: list[str] | None, country: str | None, between: list[str] | None = None
) -> Scenario:
    from compare.scenario import prepare

    of_plant, of_job = parts.job_layers(job, plant, settings, country, between)
    return prepare(*of_plant, *of_job)


def _short(path: Path) -> str:
    try:
        return str(path.relative_to(Path.cwd()))
    except ValueError:
        return str(path)


def main() -> None:
    """Run the command line; every foreseen error is one line on stderr and exit code 2."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):  # a terminal may lack letters of a name: better a mark than no answer
            stream.reconfigure(errors="replace")
    try:
        code = app(sys.argv[1:] or ["--help"], standalone_mode=False)
        sys.stdout.flush()
    except EvenrunError as error:
        line, code = str(error), 2
    except TyperException as error:
        line, code = f"{error.format_message().rstrip('.')}; 'evenrun --help' shows how it goes", 2
    except (typer.Abort, KeyboardInterrupt):
        line, code = "stopped", 130
    except BrokenPipeError:  # the reader, such as head, has seen enough
        _discard_output()
        sys.exit(0)
    except OSError as error:
        _discard_output()
        line, code = f"the answer can't be written: {error.strerror or error}; check disk and rights", 2
    else:
        sys.exit(code or 0)
    print(f"evenrun: {line}", file=sys.stderr)
    sys.exit(code)


def _discard_output() -> None:
    """Let what is left unwritten go nowhere, so that closing the stream does not fail once more."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    main()
