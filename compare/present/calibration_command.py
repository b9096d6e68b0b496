"""What `evenrun calibrate` does: read measurements, fit, and write a plant file that says where its values come from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from compare.assumptions import assumption_table
from compare.decide.calibration import Calibration
from compare.decide.make_ready_fit import MAKE_READY_NAMES, calibrate_make_ready
from compare.decide.sheet_fit import BASE_NAMES, calibrate_sheets
from compare.errors import FileError, InputError
from compare.present.calibration_wording import head_lines, remark
from compare.present.plant_file import plant_text
from compare.present.record import program_version
from compare.readers.jobfile import Layer, read_file
from compare.readers.measured import read_make_ready, read_measured_sheets


@dataclass(frozen=True)
class Calibrated:
    """What measurements say about a plant.

    Attributes
    ----------
    sheets, make_ready : Calibration or None
        By measured sheets, and by a log of make-readies.
    plant : Path or None
        The plant file it started from.
    """

    sheets: Calibration | None
    make_ready: Calibration | None
    plant: Path | None

    @property
    def parts(self) -> tuple[Calibration, ...]:
        """The calibrations that there are."""
        return tuple(part for part in (self.sheets, self.make_ready) if part is not None)

    @property
    def values(self) -> dict[str, float]:
        """Dotted name to value, with six figures: what is to be written."""
        return {name: float(f"{value:.6g}") for part in self.parts for name, value in part.values.items()}


def run_calibration(sheets: Path | None, make_ready: Path | None, plant: Path | None) -> Calibrated:
    """Read measurements and fit the plant's values to them.

    Parameters
    ----------
    sheets : Path or None
        Measured sheets (CSV).
    make_ready : Path or None
        Log of make-readies (CSV).
    plant : Path or None
        Plant file; its values are kept where the rows don't tell them.
    """
    if sheets is None and make_ready is None:
        raise InputError(
            "no measurements are given", remedy="name a CSV of measured sheets, or a log with --make-ready LOG.csv"
        )
    layer = read_file(plant, kind="plant") if plant else Layer("table of assumptions")
    table, given = assumption_table(), frozenset(layer.values)
    names = (*BASE_NAMES, *MAKE_READY_NAMES, "laser.power_w")
    base = {name: float(layer.values.get(name, table[name].value)) for name in names}
    if sheets and layer.values.get("laser.motion", table["laser.motion"].value) == "axes":
        raise InputError(
            "the plant moves its heads along axes, and delays of a scanner can't be fitted to them",
            where=f"{layer.label}, laser.motion",
            remedy="enter power / (speed x caliper) of a long straight cut as laser.severance_j_mm2",
        )
    fitted = calibrate_sheets(read_measured_sheets(sheets), base, given) if sheets else None
    logged = calibrate_make_ready(read_make_ready(make_ready), base, given) if make_ready else None
    return Calibrated(fitted, logged, plant)


def check_output(output: Path, *inputs: Path | None, force: bool = False) -> None:
    """Refuse to write over measurements or the plant file, or over anything without being told to."""
    where = str(output)
    if output.suffix.lower() != ".toml":
        raise InputError("a plant file is TOML", where=where, remedy="end its name in .toml")
    for path in inputs:
        if path is not None and output.exists() and path.exists() and output.samefile(path):
            raise InputError("this file is read, and is not written over", where=where, remedy="give another name")
    if output.exists() and not force:
        raise FileError("this file is there already", where=where, remedy="give another name, or --force")


def write_plant(calibrated: Calibrated, output: Path, day: date, *, force: bool = False) -> None:
    """Write the plant file: what the plant had, the fitted values in it, and where they come from.

    Parameters
    ----------
    calibrated : Calibrated
        What the measurements say.
    output : Path
        The file.
    day : date
        The day that it says.
    force : bool
        Whether a file of this name is written over.
    """
    before = ""
    if calibrated.plant is not None:
        _check_paths(read_file(calibrated.plant, kind="plant").values, calibrated.plant, output)
        before = calibrated.plant.read_text(encoding="utf-8-sig")
    remarks = {name: remark(part, name) for part in calibrated.parts for name in part.values}
    start = calibrated.plant.name if calibrated.plant else "table of assumptions"
    head = head_lines(calibrated.parts, day, program_version(), start, output.name)
    text = plant_text(before, calibrated.values, remarks, head)
    try:
        with output.open("w" if force else "x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise FileError(
            "this file is there already", where=str(output), remedy="give another name, or --force"
        ) from None
    except OSError as error:
        raise FileError(
            f"the file can't be written ({error.strerror})", where=str(output), remedy="check folder and rights"
        ) from None


def _check_paths(values: Mapping[str, object], plant: Path, output: Path) -> None:
    """Refuse to carry paths that start at the plant file's folder into another folder."""
    table = assumption_table()
    paths = [name for name, value in values.items() if table[name].valid == "file" and value]
    if paths and plant.resolve().parent != output.resolve().parent:
        raise InputError(
            f"{plant.name} names a file by its path ({paths[0]}), which starts at its folder",
            where=str(output),
            remedy="write the new plant file into the same folder",
        )
