"""The workbook of a quote, calculated by programs that know nothing of ours, against the engine.

Outside: `formulas`, a general-purpose library that calculates workbooks (EUPL 1.1 or later, used by tests only), and,
where it is installed, LibreOffice Calc. Values that the workbook carries are taken out before, so that nothing is read that was not
calculated.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import warnings
from collections import deque
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from openpyxl import load_workbook

from compare import compare
from compare.assumptions import assumption_table
from compare.errors import InputError
from compare.names import replace as exchange
from compare.present.formula_quote import input_cell, trace_quote
from compare.present.workbook import workbook_bytes
from compare.routes.inventory import STAGES

REL = 1e-9
TOTALS = {
    "cost": lambda r: r.cost_per_1000,
    "CO2e": lambda r: r.co2e_per_1000,
    "biogenic CO2, apart from it": lambda r: r.biogenic_per_1000,
    "waste board": lambda r: r.waste_per_1000,
    "cost over the programme": lambda r: sum(r.money),
    "CO2e over the programme": lambda r: sum(r.co2e),
    "waste board over the programme": lambda r: float(r.balance.waste),
    "good cartons over the programme": lambda r: float(r.inventory.cartons),
    "sheets over the programme": lambda r: float(r.inventory.sheets),
    "machine hours over the programme": lambda r: float(r.inventory.machine_hours),
    "electricity over the programme": lambda r: float(r.inventory.kwh),
    "lead time of the first order": lambda r: r.lead_time_days,
}

FEW = ("soap_sleeve", "window_from_drawing", "gift_varnish_release", "cosmetics_cutouts")
"""Ganged dies, a path with tables of many rows, a job without a die, one without a path."""

CHANGES = {
    "as quoted": {},
    "run length": {"demand.run_length": 23_457.0},
    "a long run": {"demand.run_length": 900_000.0, "die.life_impressions": 50_000.0},
    "prices and crews": {
        "rates.labour_h": 41.3,
        "rates.press_h": 77.7,
        "rates.laser_h": 88.8,
        "rates.kwh": 0.31,
        "die.crew": 2.0,
        "laser.crew": 3.0,
        "die.separation_h_per_1000": 0.7,
    },
    "board and severance": {
        "laser.severance_j_mm2": 0.77,
        "laser.power_w": 610.0,
        "board.grammage_g_m2": 287.0,
        "board.price_per_t": 999.0,
        "board.caliper_mm": 0.37,
        "factors.board_kg": 0.9,
        "factors.kwh": 0.05,
        "factors.kerf_biogenic_kg": 1.2,
    },
    "a slow beam": {"laser.severance_j_mm2": 2.9, "laser.jump_m_s": 1.3, "laser.jump_delay_ms": 1.7},
    "tools on the shelf": {"tooling.owned": 1.0, "tooling.change_share": 0.3, "demand.changes_per_year": 2.0},
    "creases": {"laser.crease_set_stored": 1.0, "laser.crease_set_life": 333.0, "work.creasing_m": 0.0},
}

LEAVING = {
    "more heads than the path was planned for": ("soap_sleeve", {"laser.heads": 5.0}),
    "longer lines than the path was planned for": ("soap_sleeve", {"work.cutting_m": 0.7}),
    "another sheet than cartons were laid on": ("cosmetics_cutouts", {"sheet.width_mm": 990.0}),
    "versions of their own, ganged before": ("soap_sleeve", {"demand.mixed_sheets": 0.0}),
    "separate sets cheaper than ganged": ("soap_sleeve", {"demand.run_length": 3_000_000.0, "toolmaker.set_fee": 0.0}),
    "versions that could be ganged": ("cosmetics_cutouts", {"demand.versions": 2.0, "demand.mixed_sheets": 1.0}),
    "a press too weak": ("cosmetics_cutouts", {"die.max_force_kn": 5.0}),
    "board too thick for the laser": ("gift_varnish_release", {"laser.max_caliper_mm": 0.1}),
    "more versions than cartons": ("cosmetics_cutouts", {"demand.versions": 29.0, "demand.run_length": 20.0}),
    "waste of all sheets": ("cosmetics_cutouts", {"die.running_waste": 1.0}),
    "half a carton": ("cosmetics_cutouts", {"demand.run_length": 1000.5}),
    "a switch half on": ("cosmetics_cutouts", {"demand.mixed_sheets": 0.5}),
}
"""What takes the engine another way, or what it refuses: the workbook has to say that its figures don't stand."""


def _bare(content, changes):
    """Return a workbook without its values, some inputs changed; and the sheets it has."""
    book = load_workbook(io.BytesIO(content))
    for name, value in changes.items():
        title, _, place = book.defined_names[input_cell(name)].attr_text.partition("!")
        book[title][place.replace("$", "")].value = value
    out = io.BytesIO()
    book.save(out)
    return out.getvalue(), book


def _shown(book, value_of):
    """Return answers by figure, lines of the ledger, and whether the checks hold."""
    rows = {sheet.title: list(sheet.iter_rows()) for sheet in book}

    def value(cell):
        return value_of(cell) if cell.data_type == "f" else cell.value

    answers, on = {}, False
    for row in rows["Answer"]:
        if on and row[0].value:
            answers[row[0].value.strip()] = {"die": value(row[2]), "laser": value(row[3])}
        on = on or row[0].value == "figure"
    ledger = [[value(cell) for cell in row] for row in rows["Ledger"][1:] if row[0].value]
    title, _, place = book.defined_names["checks_hold"].attr_text.partition("!")
    return answers, ledger, bool(value(book[title][place.replace("$", "")])), str(value(book["Answer"]["B3"]))


class Calculated:
    """A workbook in the `formulas` library: loaded once, calculated for any inputs."""

    def __init__(self, content, folder):
        formulas = pytest.importorskip("formulas", reason="install the test dependencies")
        path = folder / "quote.xlsx"
        bare, self._book = _bare(content, {})
        path.write_bytes(bare)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of the library, about itself
            self._model = formulas.ExcelModel().loads(str(path)).finish()

    def shown(self, changes):
        inputs = {}
        for name, value in changes.items():
            title, _, place = self._book.defined_names[input_cell(name)].attr_text.partition("!")
            inputs[f"'[quote.xlsx]{title.upper()}'!{place.replace('$', '')}"] = value
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            solution = self._model.calculate(inputs=inputs)

        def value_of(cell):
            return solution[f"'[quote.xlsx]{cell.parent.title.upper()}'!{cell.coordinate}"].value[0, 0]

        return _shown(self._book, value_of)


@pytest.fixture(scope="module")
def quoted(load, tmp_path_factory):
    """A demo job's comparison and its workbook, loaded in the library."""

    @cache
    def make(job, *settings):
        compared = compare(load(job, *settings))
        return compared, Calculated(workbook_bytes(compared), tmp_path_factory.mktemp("book"))

    return make


def _readable(compared, changes):
    """Return those changes that are inputs of the workbook."""
    live = trace_quote(compared).live
    return {name: value for name, value in changes.items() if name in live}


def _again(compared, changes):
    scenario = compared.scenario
    return compare(replace(scenario, inputs=exchange(scenario.inputs, changes)), compared.costing)


def _same_way(one, other):
    return [(r.feasible, r.inventory.strategy) for r in (one.die, one.laser)] == [
        (r.feasible, r.inventory.strategy) for r in (other.die, other.laser)
    ]


def _agree(shown, engine):
    answers, ledger, holds, said = shown
    assert holds
    for name in ("die", "laser"):
        result = engine.route(name)
        if not result.feasible:
            assert {row[name] for row in answers.values()} == {"not possible"}
            continue
        for label, total in TOTALS.items():
            assert answers[label][name] == pytest.approx(total(result), rel=REL, abs=1e-12), (name, label)
        of_it = [figures for label, figures in answers.items() if label.startswith("of it ")]
        for stage, figures in zip(STAGES, of_it, strict=True):
            theirs = result.stage_cost_per_1000()[stage]
            assert figures[name] == pytest.approx(theirs, rel=REL, abs=1e-12), (name, stage)
    expected = deque(engine.ledger)
    for row in ledger:
        figures = [row[3], row[6] or 0.0, row[8] or 0.0, row[10] or 0.0]
        if expected and row[:3] == [expected[0].route, expected[0].stage, expected[0].resource]:
            line = expected.popleft()
            theirs = [line.quantity, line.money, line.co2e_kg, line.biogenic_co2_kg]
        else:  # a kind of line that the carton has not
            theirs = [0.0] * 4
        assert figures == pytest.approx(theirs, rel=REL, abs=1e-9), row[:3]
    assert not expected
    if engine.die.feasible and engine.laser.feasible and engine.cheaper != "even":
        assert said == f"The {engine.cheaper} is cheaper."


# -- the library ------------------------------------------------------------------------------------------------------


def _holds_to_engine(quoted, job, changes):
    compared, book = quoted(job)
    changes = _readable(compared, changes)
    engine = _again(compared, changes)
    shown = book.shown(changes)
    if _same_way(compared, engine):
        _agree(shown, engine)
    else:
        assert not shown[2]


@pytest.mark.parametrize("which", CHANGES)
@pytest.mark.parametrize("job", FEW)
def test_recalculated_totals_and_lines_are_the_engine_s(quoted, job, which):
    _holds_to_engine(quoted, job, CHANGES[which])


@pytest.mark.slow
@pytest.mark.parametrize("which", CHANGES)
def test_recalculated_totals_and_lines_are_the_engine_s_for_every_demo_job(quoted, demo_job, which):
    _holds_to_engine(quoted, demo_job, CHANGES[which])


@pytest.mark.parametrize("changes", [CHANGES["as quoted"], CHANGES["board and severance"], CHANGES["a slow beam"]])
def test_speeds_may_cross_the_rows_of_a_path_on_axes(quoted, changes):
    compared, book = quoted("window_from_drawing", "laser.motion=axes")
    _agree(book.shown(changes), _again(compared, changes))


def _drawn(compared, seed):
    """Return every changeable input that has a range in practice, drawn from it."""
    quote, table, dice = trace_quote(compared), assumption_table(), np.random.default_rng(seed)
    changes = {}
    for name in sorted(quote.live - set(quote.bound)):
        row = table[name]
        if row.low is not None and row.high is not None and not row.limits.switch:
            value = dice.uniform(row.low, row.high)
            changes[name] = float(round(value)) if row.limits.whole else round(value, 6)
    return changes


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("job", FEW)
def test_all_inputs_changed_at_once_give_the_engine_s_figures_or_a_failed_check(quoted, job, seed):
    compared, book = quoted(job)
    changes = _drawn(compared, seed)
    assert len(changes) > 20
    engine, shown = _again(compared, changes), book.shown(changes)
    if _same_way(compared, engine):
        _agree(shown, engine)
    else:
        assert not shown[2]


@pytest.mark.parametrize("why", LEAVING)
def test_a_change_that_the_formulas_do_not_hold_for_fails_a_check(quoted, why):
    job, changes = LEAVING[why]
    compared, book = quoted(job)
    assert not book.shown(changes)[2]
    try:
        engine = _again(compared, changes)
    except InputError:
        return
    touched = changes.keys() & trace_quote(compared).bound.keys()
    could_gang = why == "versions that could be ganged"
    assert touched or could_gang or not _same_way(compared, engine)


# -- a spreadsheet program --------------------------------------------------------------------------------------------


@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed")
@pytest.mark.parametrize(("job", "which"), [("soap_sleeve", "as quoted"), ("window_from_drawing", "a slow beam")])
def test_a_spreadsheet_program_comes_to_the_engine_s_figures(load, tmp_path, job, which):
    compared, changes = compare(load(job)), CHANGES[which]
    bare, book = _bare(workbook_bytes(compared), changes)
    (tmp_path / "quote.xlsx").write_bytes(bare)
    subprocess.run(
        ["soffice", f"-env:UserInstallation=file://{tmp_path}/profile", "--headless", "--convert-to",
         "xlsx:Calc MS Excel 2007 XML", "--outdir", str(tmp_path / "done"), str(tmp_path / "quote.xlsx")],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    done = load_workbook(Path(tmp_path / "done" / "quote.xlsx"), data_only=True)
    _agree(_shown(book, lambda cell: done[cell.parent.title][cell.coordinate].value), _again(compared, changes))
