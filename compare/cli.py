"""The command line: ``evenrun``."""

from __future__ import annotations

import gc
import json
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Optional

# starting up makes many objects that stay; collecting among them again and again costs a tenth of it
gc.set_threshold(50_000)
# pydantic would search every installed package for plugins, which takes longer than a comparison
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

import typer
from typer.exceptions import TyperException

from compare.errors import EvenrunError, FileError, InputError

if TYPE_CHECKING:
    from rich.console import Console

    from compare.scenario import Scenario
    from compare.valuation.money import Costing

app = typer.Typer(
    name="evenrun",
    help="Steel-rule die or laser, for this job?",
    add_completion=False,
    pretty_exceptions_enable=False,
)

PlantOption = Annotated[Optional[Path], typer.Option("--plant", help="Plant file (TOML) with the plant's own values.")]
SetOption = Annotated[
    Optional[list[str]],
    typer.Option("--set", metavar="NAME=VALUE", help="Set one value by its dotted name; may be repeated."),
]
CostingOption = Annotated[
    str, typer.Option(help="full: rates with depreciation, interest and space; cash: without them.")
]
CountryOption = Annotated[Optional[str], typer.Option(help="Country whose electricity is used, such as DE.")]


@app.command()
def compare(
    job: Annotated[Path, typer.Argument(help="Job file (TOML).")],
    plant: PlantOption = None,
    set_: SetOption = None,
    costing: CostingOption = "full",
    country: CountryOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
    csv: Annotated[
        Optional[Path], typer.Option("--csv", help="Write the ledger, one row per flow, to a CSV file.")
    ] = None,
) -> None:
    """Compare one job on both routes."""
    from compare.decide.comparison import compare as run
    from compare.present.record import record, write_ledger

    comparison = run(_scenario(job, plant, set_, country), _costing(costing))
    if csv is not None:
        try:
            with csv.open("w", encoding="utf-8", newline="") as file:
                write_ledger(comparison, file)
        except OSError as error:
            raise FileError(
                f"the file can't be written ({error.strerror})", where=str(csv), remedy="check folder and rights"
            ) from None
    if as_json:
        print(json.dumps(record(comparison), indent=2, ensure_ascii=False, allow_nan=False))
    elif csv is None:
        from compare.present.terminal import comparison_view, show

        show(comparison_view(comparison), _console())
    else:
        print(f"{len(comparison.ledger)} rows written to {csv}")


@app.command()
def demo() -> None:
    """Compare the demo jobs of an invented plant on both routes."""
    from compare.data_files import data_folder
    from compare.decide.comparison import compare as run
    from compare.present.terminal import demo_view, show
    from compare.readers.jobfile import read_file
    from compare.scenario import prepare

    plant_file = data_folder() / "plants" / "northfold.toml"
    plant = read_file(plant_file, kind="plant")
    jobs = sorted((data_folder() / "demo").glob("*.toml"))
    comparisons = [run(prepare(plant, read_file(job, kind="job"))) for job in jobs]
    console = _console()
    currency = comparisons[0].scenario.currency
    console.print(
        f"{comparisons[0].scenario.plant}: plant, prices and jobs are invented.\n"
        f"{currency} per 1,000 good cartons, full costing; CO2e: laser less die, per 1,000.\n",
        highlight=False,
    )
    show(demo_view(comparisons), console)
    console.print(
        f"\nOne job in full:  evenrun compare {_short(jobs[0])} --plant {_short(plant_file)}\n"
        "Figures are estimates for planning; 'evenrun compare' shows what they hold and the cautions.",
        highlight=False,
        soft_wrap=True,
    )


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
    own = {name: (value, layer.label) for layer in layers for name, value in layer.values.items()}
    rows = []
    for name, row in table().items():
        value, origin = own.get(name, (row.value, row.source or row.note or row.basis))
        differs = name in own and value != row.value
        text = " ".join((name, row.meaning, row.source, row.note)).lower()
        if (differs or not changed) and find.lower() in text:
            shown = "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
            rows.append((row, shown, origin))
    currency = str(own.get("plant.currency", (table()["plant.currency"].value, ""))[0])
    if not rows:
        print("No value differs from the table." if changed and not find else "No assumption matches.")
        return
    show(assumptions_view(rows, currency), _console())


def _scenario(job: Path, plant: Path | None, settings: list[str] | None, country: str | None) -> Scenario:
    from compare.readers.jobfile import Layer, read_file, settings_layer
    from compare.scenario import prepare

    layers = [read_file(plant, kind="plant")] if plant else []
    layers.append(read_file(job, kind="job"))
    if country is not None:
        layers.append(Layer("--country", {"plant.country": country}))
    layers.append(settings_layer(settings or []))
    return prepare(*layers)


def _costing(text: str) -> Costing:
    if text == "full":
        return "full"
    if text == "cash":
        return "cash"
    raise InputError(f"there is no costing '{text}'", where="--costing", remedy="give full or cash")


def _console() -> Console:
    from rich.console import Console

    return Console(width=None if sys.stdout.isatty() else 100)


def _short(path: Path) -> str:
    try:
        return str(path.relative_to(Path.cwd()))
    except ValueError:
        return str(path)


def main() -> None:
    """Run the command line; every foreseen error is one line on stderr and exit code 2."""
    try:
        code = app(sys.argv[1:] or ["--help"], standalone_mode=False)
    except EvenrunError as error:
        line, code = str(error), 2
    except TyperException as error:
        line, code = f"{error.format_message().rstrip('.')}; 'evenrun --help' shows how it goes", 2
    except (typer.Abort, KeyboardInterrupt):
        line, code = "stopped", 130
    else:
        sys.exit(code or 0)
    print(f"evenrun: {line}", file=sys.stderr)
    sys.exit(code)


if __name__ == "__main__":
    main()
