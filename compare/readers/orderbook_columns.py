"""Headings of an order book: which input a column holds, and in which unit."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from compare.assumptions import assumption_table
from compare.data_files import read_table
from compare.readers.orderbook_findings import BookFinding

ORDER, CARTON, ORDERED, DUE, ROUTE, CURRENCY = (
    "order.id",
    "order.carton",
    "order.date",
    "order.due",
    "order.route",
    "order.currency",
)
"""What a row says of the order itself, beside the inputs of the calculation."""

ABOUT = (ORDER, CARTON, ORDERED, DUE, ROUTE, CURRENCY)

_GROUPS = ("demand.", "carton.", "cutouts.", "work.", "sheet.", "board.", "layout.", "tooling.")
_NOT_BY_ROW = ("carton.drawing", "carton.drawing_unit", "carton.line_map", "layout.pattern", "demand.holding_share")
"""Inputs of a job that a row can't give: drawings and layouts of outlines are for one job at a time."""

_HEADING = re.compile(r"^(?P<name>.*?)\s*(?:\[(?P<square>[^\]]*)\]|\((?P<round>[^)]*)\))?\s*$", re.DOTALL)

_MM = {"mm": 1.0, "millimetre": 1.0, "millimeter": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4}
_MM |= {"inches": 25.4, '"': 25.4, "″": 25.4, "ft": 304.8, "thou": 0.0254, "mil": 0.0254, "µm": 1e-3, "um": 1e-3}
_MM2 = {"mm2": 1.0, "cm2": 100.0, "m2": 1e6, "in2": 645.16, "sq in": 645.16}
_COUNT = ("", "-", "1", "pcs", "pieces", "cartons", "stück", "stk", "ex")
_UNITS: Mapping[str, Mapping[str, float]] = {
    "mm": _MM,
    "m": {unit: factor / 1000 for unit, factor in _MM.items()},
    "mm2": _MM2,
    "m2": {unit: factor / 1e6 for unit, factor in _MM2.items()},
    # 1 lb = 453.59237 g, 1 ft = 304.8 mm exactly (international pound and foot)
    "g/m2": {"g/m2": 1.0, "gsm": 1.0, "g/qm": 1.0, "kg/m2": 1000.0, "lb/1000ft2": 453.59237 / 92.90304},
    "cartons": dict.fromkeys(_COUNT, 1.0) | {"thousand": 1e3, "1000": 1e3, "tsd": 1e3, "k": 1e3, "million": 1e6},
    "1/y": {"1/y": 1.0, "/y": 1.0, "/year": 1.0, "/a": 1.0, "1/a": 1.0, "/month": 12.0, "1/month": 12.0},
    "y": {"y": 1.0, "year": 1.0, "years": 1.0, "a": 1.0, "months": 1 / 12, "month": 1 / 12},
    "0/1": {"0/1": 1.0},
}
_PER_UNITS: Mapping[str, Mapping[str, float]] = {
    # money per something: 1 kg, 1 lb, the US ton of 2,000 lb, all to the tonne
    "money/t": {
        "t": 1.0,
        "tonne": 1.0,
        "kg": 1000.0,
        "100kg": 10.0,
        "lb": 1000 / 0.45359237,
        "short ton": 1000 / 907.18474,
    },
    "money/sheet": {"sheet": 1.0, "1000sheets": 1e-3},
}
_POINTS = {"pt": 0.0254, "point": 0.0254, "points": 0.0254}
"""A point of caliper is a thousandth of an inch; a point of length is something else, so only caliper knows it."""

_SELF_EVIDENT = frozenset({"cartons", "-", "1/carton", "1/cut-out", "1/y", "y", "0/1", "text", "date"})
"""Units that the name of a column says by itself; any other has to be stated."""

_SYMBOLS = {"€": "EUR", "£": "GBP", "zł": "PLN"}


@dataclass(frozen=True)
class TemplateColumn:
    """One column of the template.

    Attributes
    ----------
    name : str
        Heading in the template.
    input : str
        Dotted name of the input it holds, or one of :data:`ABOUT`.
    unit : str
        Unit of the template's numbers.
    meaning : str
        What it is.
    aliases : tuple of str
        Other headings it is known by, in several languages.
    """

    name: str
    input: str
    unit: str
    meaning: str
    aliases: tuple[str, ...]


@dataclass(frozen=True)
class Column:
    """A column of a file that is read.

    Attributes
    ----------
    place : int
        Its place in the file, from 0.
    heading : str
        Its heading in the file.
    input : str
        Dotted name of the input it holds, or one of :data:`ABOUT`.
    factor : float
        What its numbers are multiplied by to be in the input's unit.
    currency : str
        Currency its unit names, if it names one.
    """

    place: int
    heading: str
    input: str
    factor: float
    currency: str


@lru_cache(maxsize=1)
def template_columns() -> tuple[TemplateColumn, ...]:
    """Return the columns of the template, in their order."""
    return tuple(
        TemplateColumn(
            row["name"], row["input"], row["unit"], row["meaning"], tuple(filter(None, row["aliases"].split("|")))
        )
        for row in read_table("orderbook_columns.csv")
    )


def template_heading(column: TemplateColumn) -> str:
    """Return a heading of the template with its unit, such as ``run_length [cartons]``."""
    plain = re.sub(r"\W", "_", column.unit)
    says_it = column.unit in _SELF_EVIDENT - {"cartons"} or column.name.endswith(f"_{plain}")
    return column.name if says_it else f"{column.name} [{column.unit}]"


def template_csv() -> str:
    """Return the template to be filled in: one line of headings with their units."""
    return ",".join(template_heading(column) for column in template_columns()) + "\n"


@lru_cache(maxsize=1)
def _known() -> dict[str, tuple[str, bool]]:
    """Return what each heading stands for, and whether it says its unit."""
    names: dict[str, tuple[str, bool]] = {}
    for column in template_columns():
        for alias in column.aliases:
            names[_plain(alias)] = (column.input, column.unit in _SELF_EVIDENT)
    for column in template_columns():
        names[_plain(column.name)] = (column.input, True)
    for name in assumption_table():
        if name.startswith(_GROUPS) and name not in _NOT_BY_ROW:
            names[_plain(name)] = (name, True)
    return names


def _plain(text: str) -> str:
    return " ".join(re.sub(r"[\W_]+", " ", text.casefold()).split())


def unit_of(name: str) -> str:
    """Return the unit of an input, or ``text`` or ``date`` for what a row says of the order itself."""
    if name in (ORDERED, DUE):
        return "date"
    return "text" if name in ABOUT else assumption_table()[name].unit


def map_columns(headings: Sequence[str], mapping: Mapping[str, str] | None) -> tuple[list[Column], list[BookFinding]]:
    """Find out what the columns of a file hold.

    Parameters
    ----------
    headings : sequence of str
        First row of the file.
    mapping : mapping or None
        Heading to the template's name or dotted name of what it holds, with a unit where it is
        another (``{"Breite": "width_mm", "L": "carton.length_mm [in]"}``); an empty text leaves the column out.

    Returns
    -------
    columns : list of Column
        Those that are read.
    findings : list of BookFinding
        What is not clear about them.
    """
    chosen = {key.strip(): value for key, value in (mapping or {}).items()}
    columns: list[Column] = []
    findings: list[BookFinding] = []
    for place, raw in enumerate(headings):
        heading = raw.strip()
        if heading in chosen and not chosen[heading].strip():
            continue
        column = _map_one(place, heading, chosen.get(heading), findings)
        if column is None:
            continue
        if twin := next((c for c in columns if c.input == column.input), None):
            findings.append(
                BookFinding(
                    "book.duplicate_column",
                    f"'{heading}' and '{twin.heading}' both hold {column.input}",
                    "leave one of them out, or map it to something else",
                    column=heading,
                )
            )
            continue
        columns.append(column)
    present = {heading.strip() for heading in headings}
    findings += [
        BookFinding(
            "book.missing_column",
            f"there is no column '{heading}', which is mapped to {target}",
            "map a heading that the file has: " + ", ".join(sorted(present)[:20]),
            column=heading,
        )
        for heading, target in chosen.items()
        if heading not in present
    ]
    return columns, findings


def _map_one(place: int, heading: str, target: str | None, findings: list[BookFinding]) -> Column | None:
    own_name, own_unit = _split(heading)
    name, unit = _split(target) if target else (own_name, own_unit)
    unit = own_unit if unit is None else unit
    if not name:
        return None
    known = _known().get(_plain(name))
    if known is None:
        findings.append(
            BookFinding(
                "book.unknown_target" if target else "book.unused_column",
                f"'{name}' is no column of the template" if target else f"nothing is read from column '{heading}'",
                "map it to a name of the template" if target else "map it to a name of the template, if it is needed",
                column=heading,
                waits=target is not None,
            )
        )
        return None
    found, says_unit = known
    wanted = unit_of(found)
    factor, currency = 1.0, ""
    if unit is not None and wanted not in ("text", "date"):
        read = _factor(found, wanted, unit)
        if read is None:
            findings.append(
                BookFinding(
                    "book.unknown_unit",
                    f"[{unit}] is no unit that {found} can be read in",
                    f"give it in {wanted}" + _others(found, wanted),
                    column=heading,
                )
            )
            return None
        factor, currency = read
    elif not says_unit:
        findings.append(
            BookFinding(
                "book.no_unit",
                f"column '{heading}' does not say its unit",
                f"write it as '{heading} [{wanted}]', or in another unit" + _others(found, wanted),
                column=heading,
            )
        )
        return None
    return Column(place, heading, found, factor, currency)


def _split(text: str) -> tuple[str, str | None]:
    """Take a heading and its unit apart."""
    parts = _HEADING.match(text.strip())
    if parts is None:  # pragma: no cover - the pattern takes any text
        return text.strip(), None
    unit = parts["square"] if parts["square"] is not None else parts["round"]
    return parts["name"].strip(), unit if unit is None else unit.strip()


def _others(name: str, wanted: str) -> str:
    units = [*_UNITS.get(wanted, ()), *(_POINTS if name == "board.caliper_mm" else ())]
    known = [u for u in units if u not in ("", wanted)] or [f"money/{u}" for u in _PER_UNITS.get(wanted, ())]
    return f" ({', '.join(known[:8])} are known)" if known else ""


def _factor(name: str, wanted: str, unit: str) -> tuple[float, str] | None:
    """Return what turns a unit into the one that is wanted, and the currency it names."""
    text = " ".join(unit.casefold().replace("²", "2").replace("^2", "2").replace("μ", "µ").split())
    text = text.replace("per ", "/").replace(" /", "/").replace("/ ", "/")
    if text == wanted.casefold():
        return 1.0, ""
    if wanted in _PER_UNITS:
        money, slash, per = unit.partition("/") if "/" in unit else unit.partition(" per ")
        currency = _currency(money)
        factor = _PER_UNITS[wanted].get(per.strip().casefold().replace("1000 ", "1000").replace("100 ", "100"))
        if slash and currency is not None and factor is not None:
            return factor, currency
        return None
    if name == "board.caliper_mm" and text in _POINTS:
        return _POINTS[text], ""
    if wanted in ("-", "1/carton", "1/cut-out"):
        return (1.0, "") if text in _COUNT or text == f"/{wanted.partition('/')[2]}" else None
    factor = _UNITS.get(wanted, {}).get(text)
    if factor is None:
        factor = _UNITS.get(wanted, {}).get(text.replace(" ", ""))
    return None if factor is None else (factor, "")


def _currency(text: str) -> str | None:
    """Return the code of a currency, an empty text where none is named, or None where it is not clear."""
    text = text.strip()
    if text in ("", "money"):
        return ""
    if text in _SYMBOLS:
        return _SYMBOLS[text]
    return text.upper() if len(text) == 3 and text.isascii() and text.isalpha() else None


def currency_code(text: str) -> str | None:
    """Return the code of a currency in a cell, or None where it is none."""
    return _currency(text) or None
