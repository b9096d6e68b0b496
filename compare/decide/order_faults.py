"""What a job of an order book lacks or contradicts itself in, said to the person who can mend it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from compare.assumptions import assumption_table
from compare.decide.order_inputs import FAULTS, MISSING
from compare.decide.order_jobs import Jobs
from compare.readers.orderbook import OrderTable
from compare.readers.orderbook_columns import template_columns, template_heading
from compare.readers.orderbook_findings import BookFinding

_DRAWN = ("carton.length_mm", "carton.width_mm", "carton.height_mm")
_SIZES = ("carton.blank_width_mm", "carton.blank_height_mm")
_OF_THE_CARTON = ("work.", "carton.blank")
_UPS = ("layout.ups_die", "layout.ups_laser")

_SAID: Mapping[str, tuple[str, str, str]] = {
    "no_room": ("carton.height_mm", "the dimensions leave no room for the flaps of the style", "check the dimensions"),
    "cutouts": ("cutouts.area_mm2", "the cut-outs take more than the whole blank", "give the area of one cut-out"),
    "too_small": (
        "sheet.width_mm",
        "the blank does not fit the sheet within its margins",
        "give a larger sheet, or check the grain and the dimensions",
    ),
    "range": ("carton.length_mm", "the dimensions lead to a blank beyond all measure", "check the dimensions and their units"),
    "versions": ("demand.versions", "there are more versions than cartons", "give at least one carton per version"),
    "crease_versions": (
        "demand.crease_versions",
        "there are more versions of creases than versions",
        "count only the versions whose creases differ",
    ),
    "sheet_area": ("layout.ups_die", "the blanks have a larger area than the sheet", "lower the ups, or give a larger sheet"),
    "shared": ("work.cutting_m", "the blanks share more cutting than they have", "give more cutting, or share less"),
}  # fmt: skip
"""Column, what is wrong, and what to do, by fault."""


def fault_findings(table: OrderTable, jobs: Jobs, faults: np.ndarray) -> list[BookFinding]:
    """Return what is to be mended in the rows of jobs that can't be computed.

    Parameters
    ----------
    table, jobs : OrderTable, Jobs
        Orders, and which of them make which job.
    faults : ndarray of uint64
        Bits of :data:`compare.decide.order_inputs.MISSING` and those after them, by job.
    """
    kinds, kind_of = np.unique(faults, return_inverse=True)
    everywhere = int(np.bitwise_and.reduce(faults)) & ((1 << len(MISSING)) - 1)
    lacking = [n for n in _wanted(_names(everywhere)) if n not in table.numbers]
    found = [_no_column(table, lacking)] if lacking else []
    of_row = np.where(jobs.of_row >= 0, kind_of[jobs.of_row], -1)
    for kind, bits in enumerate(kinds.tolist()):
        about = _explain(table, bits & ~everywhere if lacking else bits)
        for i in np.flatnonzero(of_row == kind).tolist() if about else ():
            found += [
                BookFinding(
                    code,
                    what,
                    remedy,
                    row=int(table.row[i]),
                    column=_heading(table, name),
                    value=_cell(table, name, i),
                )
                for code, name, what, remedy in about
            ]
    return found


def _names(bits: int) -> list[str]:
    return [name for k, name in enumerate(MISSING) if bits >> k & 1]


def _explain(table: OrderTable, bits: int) -> list[tuple[str, str, str, str]]:
    """Return code, input, what is wrong and what to do, for the faults of a job."""
    others = [fault for k, fault in enumerate(FAULTS, start=len(MISSING)) if bits >> k & 1]
    missing = _wanted(_names(bits), drawn="no_room" in others)
    found = [(f"book.{fault}", *_SAID[fault]) for fault in others]
    return [("book.missing_value", missing[0], *_missing(table, missing)), *found] if missing else found


def _wanted(missing: list[str], *, drawn: bool = False) -> list[str]:
    """Leave out what would follow from something else that is missing, or from a style that can't be drawn."""
    cause = [n for n in missing if n in _DRAWN or n.startswith("cutouts.")]
    if cause or drawn:
        return cause + [n for n in missing if n.startswith(("demand.", "sheet.", "board."))]
    if any(n.startswith("sheet.") for n in missing):
        return [n for n in missing if n not in (*_SIZES, *_UPS)]
    return [n for n in missing if n not in _SIZES] if any(n in _UPS for n in missing) else missing


def _heading(table: OrderTable, name: str) -> str:
    """Return the heading of an input: that of the file, else that of the template."""
    own = table.headings.get(name)
    return own or next((template_heading(c) for c in template_columns() if c.input == name), name)


def _missing(table: OrderTable, names: list[str]) -> tuple[str, str]:
    rows = assumption_table()
    headings = [_heading(table, n) for n in names]
    meant = [f"{rows[n].meaning[0].lower()}{rows[n].meaning[1:]}" for n in names[:3]]
    shown = ", ".join(f"'{h}' ({m})" for h, m in zip(headings, meant, strict=False))
    more = f" and {len(names) - 3} more: {', '.join(headings[3:])}" if len(names) > 3 else ""
    what = f"missing {shown}{more}"
    remedies = []
    if any(n.startswith(_OF_THE_CARTON) for n in names):
        remedies.append("give the figures of the carton, or a style with length, width and height")
    if any(n.startswith("board.") for n in names):
        remedies.append("give a board by name, or its grammage and caliper")
    others = [(h, n) for h, n in zip(headings, names, strict=True) if not n.startswith((*_OF_THE_CARTON, "board."))]
    if absent := [h for h, n in others if n not in table.headings]:
        remedies.append(f"add the column{'s' if len(absent) > 1 else ''} {', '.join(absent)}")
    if any(n in table.headings for _, n in others):
        remedies.append("fill in the cell")
    return what, "; ".join(remedies) + (", or set it for the whole book" if others else "")


def _no_column(table: OrderTable, names: list[str]) -> BookFinding:
    what, remedy = _missing(table, names)
    return BookFinding(
        "book.missing_column",
        f"no order has it and nothing else gives it: {what}",
        remedy,
        column=_heading(table, names[0]),
    )


def _cell(table: OrderTable, name: str, row: int) -> str:
    values = table.numbers.get(name)
    return "" if values is None or np.isnan(values[row]) else f"{values[row]:g}"
