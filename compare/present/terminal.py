"""Tables for the terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich import box
from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from compare.assumptions import Assumption
from compare.decide.comparison import Comparison, RouteResult
from compare.decide.evaluate import Measure
from compare.present import wording
from compare.present.numbers import count, figures, places, whole
from compare.present.sheet_seconds import sheet_parts, why_longer
from compare.routes.sheet_time import sheet_time
from compare.scenario import Scenario

_DIE, _LASER = "blue", "dark_orange3"
_NOT_POSSIBLE = "not possible"


def show(renderable: RenderableType, console: Console) -> None:
    """Print without marking up numbers, so that piped output reads the same."""
    console.print(renderable, highlight=False)


def comparison_view(c: Comparison, answer: str | None = None) -> RenderableType:
    """Return a comparison as a person likes to read it; another answer may stand for the one of the values alone."""
    x = c.scenario.inputs
    programme = (
        f"{whole(c.run_length)} cartons per order, {_count(c.orders, 'order')} over "
        f"{_count(x.number('demand.years'), 'year')}, {_count(x.number('demand.versions'), 'version')}, "
        f"{_count(x.number('demand.changes_per_year'), 'structural change')} a year"
    )
    parts: list[RenderableType] = [
        Text(c.scenario.name, style="bold"),
        Text(programme),
        Text(wording.basis(c), style="dim"),
        Text(),
        Text(answer or wording.answer(c), style="bold"),
    ]
    parts += [Text(line) for line in (wording.takeover(c), wording.lead_time(c)) if line]
    parts += [Text(), _money_table(c), Text(), _quantity_table(c), Text(), _range_table(c)]
    parts += _remarks(c)
    return Group(*parts)


def _count(value: float, noun: str) -> str:
    return f"{count(value)} {noun}{'' if value == 1 else 's'}"


def plain_table(*columns: str, texts: int = 1) -> Table:
    """Return a table whose first columns are texts and whose others are numbers."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, header_style="bold")
    for name in columns[:texts]:
        table.add_column(name, overflow="fold")
    for name in columns[texts:]:
        style = {"die": _DIE, "laser": _LASER}.get(name.split(" ")[0], "")
        table.add_column(name, justify="right", header_style=f"bold {style}".strip())
    return table


def _money_table(c: Comparison) -> Table:
    table = plain_table(f"{c.scenario.currency} per 1,000 good cartons", "die", "laser", "laser less die")
    die, laser = c.die.stage_cost_per_1000(), c.laser.stage_cost_per_1000()
    totals = [c.die.cost_per_1000, c.laser.cost_per_1000]
    for stage, label in wording.STAGE_LABELS.items():
        table.add_row(label, *_row(c, die[stage], laser[stage], totals))
    table.add_section()
    table.add_row("cost", *_row(c, totals[0], totals[1], totals), style="bold")
    return table


def _row(c: Comparison, die: float, laser: float, column: list[float]) -> list[str]:
    def cell(value: float, route: RouteResult) -> str:
        return places(value, column) if route.feasible else _NOT_POSSIBLE

    both = c.die.feasible and c.laser.feasible
    return [cell(die, c.die), cell(laser, c.laser), f"{laser - die:+,.{_decimals(column)}f}" if both else ""]


def _decimals(column: list[float]) -> int:
    return len(places(0, column).partition(".")[2])


def _quantity_table(c: Comparison) -> Table:
    table = plain_table("", "die", "laser", "difference")

    def add(
        label: str, die: float | None, laser: float | None, unit: str, *, compare: bool = True, plain: bool = False
    ) -> None:
        def cell(value: float | None, route: RouteResult) -> str:
            if not route.feasible:
                return _NOT_POSSIBLE
            if value is None:
                return "-"
            return whole(value) if plain else figures(value)

        gap = wording.difference(c, unit, die, laser) if compare and die is not None and laser is not None else ""
        table.add_row(label, cell(die, c.die), cell(laser, c.laser), gap)

    x, d, b = c.scenario.inputs, c.die, c.laser
    add("CO2e, kg per 1,000", d.co2e_per_1000, b.co2e_per_1000, "kg")
    add("biogenic CO2 of the kerf, apart, kg per 1,000", d.biogenic_per_1000, b.biogenic_per_1000, "kg", compare=False)
    add("waste board, kg per 1,000", d.waste_per_1000, b.waste_per_1000, "kg")
    for label, part in (("spoilage", "spoilage"), ("trim", "trim"), ("overs", "overs")):
        add(
            f"  {label}",
            float(getattr(d.balance, part)) / d.thousands,
            float(getattr(b.balance, part)) / b.thousands,
            "kg",
            compare=False,
        )
    add(
        "electricity, kWh per 1,000",
        float(d.inventory.kwh) / d.thousands,
        float(b.inventory.kwh) / b.thousands,
        "kWh",
    )
    add("machine hours, programme", float(d.inventory.machine_hours), float(b.inventory.machine_hours), "h")
    add("sheets through the machine", float(d.inventory.sheets), float(b.inventory.sheets), "sheets", plain=True)
    add("cartons per sheet", x.number("layout.ups_die"), x.number("layout.ups_laser"), "", compare=False, plain=True)
    add("lead time of the first order, days", d.lead_time_days, b.lead_time_days, "days")
    if c.orders > 1:
        add("economic lot, cartons", d.economic_lot, b.economic_lot, "cartons", compare=False, plain=True)
    return table


def _range_table(c: Comparison) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, header_style="bold")
    table.add_column("lower in", no_wrap=True)
    table.add_column("run length, cartons per order", overflow="fold")
    labels: dict[Measure, str] = {"cost": "cost", "co2e": "CO2e", "waste": "waste board"}
    for measure, label in labels.items():
        table.add_row(label, wording.ranges(c.break_even[measure]))
    return table


def _remarks(c: Comparison) -> list[RenderableType]:
    blocks: list[tuple[str, Iterable[str]]] = [
        ("Not possible", [f.message for f in c.findings if f.kind == "not possible"]),
        ("Findings", [f.message for f in c.findings if f.kind != "not possible"]),
        ("Carbon", [wording.CARBON_SCOPE, *_proxies(c)]),
        ("Not included", wording.NOT_INCLUDED),
        ("Cautions", wording.CAUTIONS),
    ]
    shown: list[RenderableType] = []
    for title, all_lines in blocks:
        if lines := list(all_lines):
            shown.append(Text(f"\n{title}", style="bold"))
            block = Table.grid(padding=(0, 1))
            for line in lines:
                block.add_row("-", Text(line))
            shown.append(block)
    return shown


def _proxies(c: Comparison) -> list[str]:
    stand_ins = [use.proxy for use in c.scenario.factors.values() if use.proxy]
    return [f"Stand-ins: {', '.join(stand_ins)}."] if stand_ins else []


def sheet_time_view(scenario: Scenario) -> RenderableType:
    """Return the seconds of a sheet as a person likes to read them."""
    time = sheet_time(scenario.inputs)
    table = plain_table("seconds per sheet, laser line", "s")
    table.add_column("because", overflow="fold")
    for part in sheet_parts(scenario, time):
        table.add_row(part.label, f"{part.seconds:.4f}", part.because)
    table.add_section()
    table.add_row("from sheet to sheet", f"{time.cycle:.4f}", "", style="bold")
    lines: list[RenderableType] = [Text(), Text(why_longer(time)), Text(), table]
    if time.planned and len(time.heads) > 1:
        own = plain_table("head", "marking", "jumps", "delays, corners, nicks", "waiting", "s")
        for number, head in enumerate(time.heads, 1):
            marking = sum(head.marking.values()) + head.slowing
            rest = head.delays + head.corners + head.nicks
            own.add_row(
                str(number),
                *(f"{s:.4f}" for s in (marking, head.jumps, rest, max(time.cutting - head.busy, 0.0), time.cutting)),
            )
        lines += [Text(), own]
    return Group(*lines)


def demo_view(comparisons: Iterable[Comparison]) -> Table:
    """Return one line per job: money per 1,000 cartons, break-even, and the difference in CO2e."""
    columns = ("job", "cartons", "orders", "die", "laser", "cheaper", "die cheaper from", "CO2e, kg")
    table = plain_table(*columns)
    for c in comparisons:
        both = c.die.feasible and c.laser.feasible
        table.add_row(
            c.scenario.name,
            whole(c.run_length),
            count(c.orders),
            *(figures(r.cost_per_1000) if r.feasible else "no" for r in (c.die, c.laser)),
            Text(c.cheaper, style=_DIE if c.cheaper == "die" else _LASER),
            _from(c),
            f"{c.laser.co2e_per_1000 - c.die.co2e_per_1000:+,.2f}" if both else "",
        )
    return table


def demo_seconds_view(scenarios: Iterable[Scenario]) -> Table:
    """Return one line per job: seconds of a sheet by length and speed alone, by what was worked out, and what the difference is."""
    table = plain_table("seconds per sheet, laser line", "length / speed", "cut in", "more", "sheet to sheet")
    table.add_column("worked out by")
    table.add_column("mostly", overflow="fold")
    for scenario in scenarios:
        time = sheet_time(scenario.inputs)
        parts = [p for p in sheet_parts(scenario, time) if not p.name.startswith("marking") and p.name != "feeder"]
        parts.sort(key=lambda part: -part.seconds)
        table.add_row(
            scenario.name,
            f"{time.by_speed:.3f}",
            f"{time.cutting:.3f}",
            f"{time.cutting / time.by_speed - 1:+.0%}",
            f"{time.cycle:.3f}",
            "path" if time.planned else "estimate",
            f"{parts[0].label} {parts[0].seconds:.3f}" if parts else "",
        )
    return table


def _from(c: Comparison) -> str:
    found = c.break_even["cost"]
    if found.run_length is not None:
        return whole(found.run_length)
    if len(found.ranges) > 1:
        return "comes and goes"
    return "always" if found.ranges[0].lowest == "die" else "never"


def assumptions_view(rows: Iterable[tuple[Assumption, str, str]], currency: str) -> Table:
    """Return assumptions as a table: the row, the value in use, and where it is from."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False, header_style="bold")
    for name in ("name", "value", "unit", "range", "basis", "from"):
        table.add_column(name, overflow="fold", no_wrap=name != "from", justify="right" if name == "value" else "left")
    for row, value, origin in rows:
        span = f"{row.low:g} to {row.high:g}" if row.low is not None and row.high is not None else ""
        table.add_row(row.name, value, row.unit_in(currency) if not row.is_text else "", span, row.basis, origin)
    return table
