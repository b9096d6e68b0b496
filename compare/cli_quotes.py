"""The command line's commands about quotes: make one, open one again, see what is kept."""

from __future__ import annotations

import json
import math
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Optional, get_args

import typer

from compare import cli_parts as parts
from compare.errors import FileError, InputError

if TYPE_CHECKING:
    from compare.quotes.quote_record import Language
    from compare.quotes.store import QuoteStore
    from compare.quotes.store_rows import Status
    from compare.readers.jobfile import Layer

quotes_app = typer.Typer(help="Quotes that were made and kept.", no_args_is_help=True)

StoreOption = Annotated[
    Optional[Path],
    typer.Option(
        "--store", envvar="EVENRUN_STORE", help="Store of quotes (one file); by default in the user's data folder."
    ),
]
PlantOption = Annotated[Optional[Path], typer.Option("--plant", help="Plant file (TOML) with the plant's own values.")]


def quote(
    job: Annotated[Path, typer.Argument(help="Job file (TOML).")],
    output: Annotated[Path, typer.Option("-o", "--output", help="PDF to write.")],
    plant: PlantOption = None,
    set_: Annotated[
        Optional[list[str]],
        typer.Option("--set", metavar="NAME=VALUE", help="Set one value by its dotted name; may be repeated."),
    ] = None,
    between: Annotated[
        Optional[list[str]], typer.Option("--between", metavar="NAME=LOW..HIGH", help="Range of one value.")
    ] = None,
    country: Annotated[Optional[str], typer.Option(help="Country whose electricity is used, such as DE.")] = None,
    costing: Annotated[str, typer.Option(help="full or cash machine rates.")] = "full",
    client: Annotated[str, typer.Option(help="Who the quote is for.")] = "",
    margin: Annotated[str, typer.Option(help="Margin as a share of the price, such as 12% or 0.12.")] = "0",
    language: Annotated[str, typer.Option(help="Language of the paper: en, de, fr or es.")] = "en",
    valid_days: Annotated[int, typer.Option(help="Days that the prices hold.")] = 30,
    run_length: Annotated[
        Optional[list[float]],
        typer.Option("--run-length", help="A run length that has a price, beside the job's own; may be repeated."),
    ] = None,
    internal: Annotated[
        bool, typer.Option("--internal", help="Add the plant's own pages, and the full record. Not for the client.")
    ] = False,
    html: Annotated[
        Optional[Path], typer.Option("--html", help="Write a page for the client that opens without a network.")
    ] = None,
    xlsx: Annotated[
        Optional[Path], typer.Option("--xlsx", help="Write the workbook with live formulas. Not for the client.")
    ] = None,
    store: StoreOption = None,
    force: Annotated[bool, typer.Option("--force", help="Write over files of these names.")] = False,
) -> None:
    """Make a quote: a PDF for the client, kept with everything it can be computed from again."""
    from compare.decide.comparison import compare
    from compare.present import quote_making as making
    from compare.quotes.store import QuoteStore
    from compare.scenario import prepare

    files = [path for path in (output, html, xlsx) if path is not None]
    of_plant, of_job = parts.job_layers(job, plant, set_, country, between)
    _check_files(files, _needed(job, plant, store, [*of_plant, *of_job]), force=force)
    comparison = compare(prepare(*of_plant, *of_job), parts.costing_of(costing))
    asked = making.asked_quote(
        comparison,
        client=client,
        margin=share(margin, "--margin"),
        language=_language(language),
        made_on=date.today(),
        valid_days=valid_days,
        run_lengths=run_length or (),
    )
    made = making.make_quote(comparison, of_plant, of_job, asked, QuoteStore(store))
    made_files = [
        (
            output,
            "PDF with the plant's own pages: not for the client" if internal else "PDF for the client",
            made.pdf(internal=internal),
        )
    ]
    if html is not None:
        from compare.present.leave_behind import leave_behind

        made_files.append((html, "page for the client", leave_behind(made.content)))
    if xlsx is not None:
        from compare.present.workbook import workbook_bytes

        made_files.append((xlsx, "workbook with the plant's rates: not for the client", workbook_bytes(comparison)))
    for path, _, content in made_files:
        parts.write_file(path, content)
    print(f"Quote {made.number}")
    for path, what, _ in made_files:
        print(f"{path}: {what}")
    remarks = [*made.content.remarks]
    if asked.margin == 0:
        remarks.append("No margin was given (--margin 12%): the prices are the plant's cost.")
    if asked.costing == "cash":
        remarks.append("The prices are worked out from cash rates: without depreciation, interest and space.")
    for remark in remarks:
        print(f"Remark: {remark}")


def reopen(
    file: Annotated[Path, typer.Argument(help="PDF of a quote, or the JSON that was embedded in it.")],
    plant: Annotated[
        Optional[Path], typer.Option("--plant", help="The plant's values of today; those of then, if left out.")
    ] = None,
    drawings: Annotated[
        Optional[Path],
        typer.Option("--drawings", help="Folder with the drawing and its line map, if they are to be read again."),
    ] = None,
    store: StoreOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
) -> None:
    """Open a quote again: compute it with today's program and tables, and say what changed."""
    from compare.present.quote_making import find_quote
    from compare.present.record import program_version
    from compare.present.reopen_wording import reopen_record, reopen_view
    from compare.present.terminal import show
    from compare.quotes.reopen import reopen as run
    from compare.readers.jobfile import read_file

    found = find_quote(file, store)
    now = [read_file(plant, kind="plant")] if plant else None
    opened = run(found.record, program=program_version(), layers_now=now, folder=drawings)
    if as_json:
        record = {**reopen_record(opened, found.number), "kept": found.kept, "altered": list(found.altered)}
        print(json.dumps(record, indent=2, ensure_ascii=False, allow_nan=False))
        return
    console = parts.console()
    if found.number:
        console.print(f"Quote {found.number}, {found.kept}", highlight=False, markup=False)
    if found.altered:
        named = ", ".join(found.altered[:5])
        console.print(
            f"This file is not as it was made: {named}{' and more' if len(found.altered) > 5 else ''}. "
            "What follows is of the record in the store.",
            highlight=False,
            markup=False,
        )
    show(reopen_view(opened), console)


@quotes_app.command("list")
def list_quotes(
    words: Annotated[
        Optional[list[str]], typer.Argument(help="Words that client, job, number, plant, board or day must hold.")
    ] = None,
    status: Annotated[Optional[str], typer.Option(help="Only quotes that are open, won or lost.")] = None,
    limit: Annotated[int, typer.Option(min=1, max=1000, help="So many at most, the newest first.")] = 50,
    store: StoreOption = None,
) -> None:
    """List quotes, the newest first."""
    from compare.present.quote_list import quote_table
    from compare.present.terminal import show

    found = _there(store).search(" ".join(words or []), status=_status(status) if status else None, limit=limit)
    if found.rows:
        show(quote_table(found.rows), parts.console())
    else:
        print("No quotes found.")
    if found.damaged:
        raise FileError(
            f"{len(found.damaged)} quotes are damaged: {', '.join(found.damaged[:5])}",
            where="store",
            remedy="take them from a backup",
        )


@quotes_app.command("mark")
def mark_quote(
    number: Annotated[str, typer.Argument(help="Number of the quote.")],
    status: Annotated[str, typer.Argument(help="won, lost or open.")],
    price: Annotated[Optional[float], typer.Option(help="Price per 1,000 cartons it was won or lost at.")] = None,
    note: Annotated[str, typer.Option(help="Why.")] = "",
    store: StoreOption = None,
) -> None:
    """Mark a quote as won or lost; earlier marks stay."""
    _there(store).mark(number, _status(status), price_per_1000=price, note=note)
    print(f"Quote {number}: {status}")


@quotes_app.command("backup")
def backup_quotes(
    target: Annotated[Path, typer.Argument(help="File to write; it must not be there yet.")], store: StoreOption = None
) -> None:
    """Copy the store while others may be using it."""
    damaged = _there(store).backup(target)
    print(f"Backup: {target}")
    if damaged:
        raise FileError(
            f"{len(damaged)} quotes are damaged in the store and in the copy: {', '.join(damaged[:5])}",
            where=str(target),
            remedy="keep an older backup, too",
        )


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command()(quote)
    app.command()(reopen)
    app.add_typer(quotes_app, name="quotes")


def share(text: str, where: str) -> float:
    """Read a share such as 12% or 0.12."""
    bare = text.strip()
    percent = bare.endswith("%")
    try:
        number = float(bare.removesuffix("%"))
    except ValueError:
        raise InputError(f"'{text}' is no share", where=where, remedy="write it as 12% or 0.12") from None
    if not math.isfinite(number):
        raise InputError(f"'{text}' is no share", where=where, remedy="write it as 12% or 0.12")
    if not percent and number >= 1:
        raise InputError(
            f"'{text}' could be {number:g} % or a share above 1", where=where, remedy="write it as 12% or 0.12"
        )
    return number / 100 if percent else number


def _needed(job: Path, plant: Path | None, store: Path | None, layers: list[Layer]) -> list[Path]:
    """Return the files that a quote is made of and kept in."""
    from compare.quotes.store import default_path

    kept = store or default_path()
    drawings = [
        layer.folder / str(layer.values[name])
        for layer in layers
        for name in ("carton.drawing", "carton.line_map")
        if layer.folder is not None and layer.values.get(name)
    ]
    beside = [kept.with_name(kept.name + end) for end in ("", "-journal", "-wal", "-shm")]
    return [job, *([plant] if plant else []), *beside, *drawings]


def _check_files(files: list[Path], read: list[Path], *, force: bool) -> None:
    """Refuse to write over what is there, what is read, or one file with another, before anything is kept."""
    for number, path in enumerate(files):
        if any(path.resolve() == other.resolve() for other in (*read, *files[:number])):
            raise InputError(f"{path} is read or written already", where="output", remedy="give another name")
        if not path.absolute().parent.is_dir():
            raise FileError("there is no such folder", where=str(path.parent), remedy="make it, or name another one")
        if path.exists() and not force:
            raise InputError("there is a file of this name", where=str(path), remedy="give another name, or --force")


def _there(path: Path | None) -> QuoteStore:
    """Return a store that is there already."""
    from compare.quotes.store import QuoteStore

    return QuoteStore(path, create=False)


def _status(text: str) -> Status:
    from compare.quotes.store_rows import Status

    known: dict[str, Status] = {status: status for status in get_args(Status)}
    if text not in known:
        raise InputError(f"there is no status '{text}'", where="status", remedy=f"give one of {', '.join(known)}")
    return known[text]


def _language(text: str) -> Language:
    from compare.quotes.quote_record import Language

    known: dict[str, Language] = {language: language for language in get_args(Language)}
    if text not in known:
        raise InputError(f"there is no language '{text}'", where="--language", remedy=f"give one of {', '.join(known)}")
    return known[text]
