"""What commands of the command line have in common."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from compare.errors import FileError, InputError

if TYPE_CHECKING:
    from rich.console import Console

    from compare.readers.jobfile import Layer
    from compare.valuation.money import Costing


def job_layers(
    job: Path, plant: Path | None, settings: list[str] | None, country: str | None, between: list[str] | None
) -> tuple[list[Layer], list[Layer]]:
    """Return what the plant's file gives, and what job, country, settings and ranges give."""
    from compare.readers.jobfile import Layer, ranges_layer, read_file, settings_layer

    of_plant = [read_file(plant, kind="plant")] if plant else []
    of_job = [read_file(job, kind="job")]
    if country is not None:
        of_job.append(Layer("--country", {"plant.country": country}))
    of_job.append(settings_layer(settings or []))
    if between:
        of_job.append(ranges_layer(between))
    return of_plant, of_job


def costing_of(text: str) -> Costing:
    """Return the costing that ``--costing`` names."""
    if text == "full":
        return "full"
    if text == "cash":
        return "cash"
    raise InputError(f"there is no costing '{text}'", where="--costing", remedy="give full or cash")


def console(piped_width: int = 100) -> Console:
    """Return the terminal to print to; a fixed width where the output goes elsewhere."""
    from rich.console import Console

    return Console(width=None if sys.stdout.isatty() else piped_width, markup=False, emoji=False)


def write_file(path: Path, content: str | bytes) -> None:
    """Write a file whole, or say why not."""
    try:
        path.write_bytes(content.encode() if isinstance(content, str) else content)
    except OSError as error:
        raise FileError(
            f"the file can't be written ({error.strerror})", where=str(path), remedy="check folder and rights"
        ) from None
