"""The workbook of a quote: live formulas with their values, nothing that runs, the same bytes every time."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from openpyxl import load_workbook

from compare import compare
from compare.assumptions import assumption_table
from compare.data_files import data_digest
from compare.errors import FileError
from compare.present import wording
from compare.present.formula_inputs import FIRST_ROW, HEADINGS
from compare.present.formula_quote import trace_quote
from compare.present.record import program_version
from compare.present.workbook import workbook_bytes, write_workbook
from compare.routes.inventory import STAGES

FORMULAS = ("=1+1", "+1+1", "-1+1", "@SUM(A1)", "=HYPERLINK(\"http://x\",\"y\")", "|cmd", "  =2+2", "\uff1d1+1", "%x")  # fmt: skip
YELLOW = "FFFFF3C9"


def _open(content, *, values=False):
    return load_workbook(io.BytesIO(content), data_only=values)


@pytest.fixture(scope="module")
def made(load):
    """A demo job's comparison, its workbook with formulas, and the same with values."""

    @cache
    def make(job, *settings, costing="full"):
        compared = compare(load(job, *settings), costing)
        content = workbook_bytes(compared)
        return compared, _open(content), _open(content, values=True)

    return make


def _rows(book, sheet, heading):
    rows = [list(row) for row in book[sheet].iter_rows(values_only=True)]
    top = next(i for i, row in enumerate(rows) if row[0] == heading)
    return [dict(zip(rows[top], row, strict=True)) for row in rows[top + 1 :] if row[0] is not None]


def _answers(book):
    return {row["figure"].strip(): row for row in _rows(book, "Answer", "figure")}


def _texts(book):
    return [c for sheet in book for row in sheet.iter_rows() for c in row if isinstance(c.value, str)]


# -- figures ----------------------------------------------------------------------------------------------------------


def test_every_figure_of_the_answer_is_that_of_the_comparison(made, demo_job):
    compared, formulas, values = made(demo_job)
    answers, written = _answers(values), _answers(formulas)
    for name in ("die", "laser"):
        result = compared.route(name)
        if not result.feasible:
            assert {row[name] for row in answers.values()} == {"not possible"}
            continue
        figures = {
            "cost": result.cost_per_1000,
            "CO2e": result.co2e_per_1000,
            "biogenic CO2, apart from it": result.biogenic_per_1000,
            "waste board": result.waste_per_1000,
            "cost over the programme": sum(result.money),
            "CO2e over the programme": sum(result.co2e),
            "waste board over the programme": float(result.balance.waste),
            "good cartons over the programme": result.thousands * 1000,
            "sheets over the programme": float(result.inventory.sheets),
            "machine hours over the programme": float(result.inventory.machine_hours),
            "electricity over the programme": float(result.inventory.kwh),
            "lead time of the first order": result.lead_time_days,
            **{f"of it {wording.STAGE_LABELS[s]}": v for s, v in result.stage_cost_per_1000().items()},
        }
        assert set(figures) == set(answers)
        for label, figure in figures.items():
            assert answers[label][name] == pytest.approx(figure, rel=1e-12, abs=1e-12), label
            assert answers[label][f"{name}, as quoted"] == pytest.approx(figure, rel=1e-12, abs=1e-12), label
            assert str(written[label][name]).startswith("="), label
            assert not str(written[label][f"{name}, as quoted"]).startswith("="), label


def test_every_line_of_the_ledger_is_that_of_the_comparison(made, demo_job):
    compared, formulas, values = made(demo_job)
    rows = _rows(values, "Ledger", "route")
    kept = [row for row in rows if row["quantity"]]
    ledger = [row for row in compared.ledger if row.quantity]
    assert len(kept) == len(ledger)
    for ours, theirs in zip(kept, ledger, strict=True):
        assert (ours["route"], ours["stage"], ours["resource"]) == (theirs.route, theirs.stage, theirs.resource)
        assert (ours["unit"], ours["because (numbers as quoted)"]) == (theirs.unit, theirs.because)
        assert ours["quantity"] == pytest.approx(theirs.quantity, rel=1e-12)
        assert (ours["money [EUR]"] or 0) == pytest.approx(theirs.money, rel=1e-12)
        assert (ours["CO2e [kg]"] or 0) == pytest.approx(theirs.co2e_kg, rel=1e-12)
        assert (ours["biogenic CO2 [kg]"] or 0) == pytest.approx(theirs.biogenic_co2_kg, rel=1e-12)
        why = "; ".join(filter(None, (theirs.no_price, theirs.no_carbon)))
        assert (ours["why it has no price or no factor"] or "") == why
    for row in _rows(formulas, "Ledger", "route"):
        assert all(str(row[h]).startswith("=") for h in ("quantity", "money [EUR]", "CO2e [kg]") if row[h] is not None)


def test_a_line_multiplies_the_cells_beside_it(made):
    _, formulas, _ = made("soap_sleeve")
    for place, row in enumerate(_rows(formulas, "Ledger", "route"), start=2):
        if row["money [EUR]"] is not None:
            assert row["money [EUR]"] == f"=D{place}*F{place}"
        if row["CO2e [kg]"] is not None:
            assert row["CO2e [kg]"] == f"=D{place}*H{place}"


def test_a_cash_costing_takes_cash_rates(made):
    _, formulas, values = made("soap_sleeve", costing="cash")
    prices = {row["resource"]: row["price of a unit [EUR]"] for row in _rows(formulas, "Ledger", "route")}
    assert prices["laser time"] == "=in_rates_laser_cash_h"
    assert "cash costing" in str([c.value for c in _texts(values) if c.parent.title == "Notes"])


def test_every_formula_carries_a_value(made, demo_job):
    _, formulas, values = made(demo_job)
    for sheet in formulas:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert values[sheet.title][cell.coordinate].value is not None, (sheet.title, cell.coordinate)


def test_every_name_in_a_formula_is_a_cell(made, demo_job):
    _, formulas, _ = made(demo_job)
    for cell in _texts(formulas):
        if cell.data_type == "f":
            bare = re.sub(r'"[^"]*"', "", cell.value)
            for name in re.findall(r"(?<![!$\w.])[a-z]\w*", bare):
                assert name in formulas.defined_names, (cell.value, name)
    for name, where in formulas.defined_names.items():
        title, _, place = where.attr_text.partition("!")
        first = place.replace("$", "").partition(":")[0]
        assert formulas[title][first].value is not None, name


# -- words ------------------------------------------------------------------------------------------------------------


def test_sheets_follow_the_way_from_answer_to_notes(made):
    assert made("soap_sleeve")[1].sheetnames == ["Answer", "Inputs", "Steps", "Ledger", "Path", "Notes"]
    assert made("cosmetics_cutouts")[1].sheetnames == ["Answer", "Inputs", "Steps", "Ledger", "Notes"]


def test_the_answer_is_told_as_it_was_quoted_and_as_inputs_stand(made, demo_job):
    compared, formulas, values = made(demo_job)
    said = {row[0]: row[1] for row in values["Answer"].iter_rows(min_row=2, max_row=6, max_col=2, values_only=True)}
    assert said["As quoted"].startswith(wording.answer(compared))
    assert said["As quoted"].endswith(wording.takeover(compared))
    assert said["Checks"].startswith("All of them hold")
    if compared.die.feasible and compared.laser.feasible:
        assert said["With the inputs as they stand"] == f"The {compared.cheaper} is cheaper."
        assert formulas["Answer"]["B3"].data_type == "f"


@pytest.mark.parametrize(
    ("job", "way"), [("soap_sleeve", "one set of tools that holds all versions"), ("bakery_tray", "for each version")]
)
def test_it_says_which_way_of_working_the_die_it_shows(made, job, way):
    assert way in made(job)[2]["Answer"]["B5"].value


def test_a_route_that_can_not_make_the_job_says_so_and_has_no_figures(made):
    _, formulas, values = made("toy_pvc_laminate")
    assert values["Answer"]["B6"].value.startswith("can't make this job, so it has no figures. A PVC laminate")
    assert {row["route"] for row in _rows(values, "Ledger", "route")} == {"die"}
    assert "Path" not in formulas.sheetnames


def test_a_job_that_neither_route_can_make_has_a_workbook_without_figures(made):
    compared, _, values = made("toy_pvc_laminate", "die.max_force_kn=1")
    assert compared.cheaper == "neither"
    assert values["Answer"]["B2"].value == wording.answer(compared)
    assert {cell for row in _answers(values).values() for cell in (row["die"], row["laser"])} == {"not possible"}
    assert _rows(values, "Ledger", "route") == []


def test_seconds_of_a_sheet_say_where_they_are_from(made):
    assert "planned path (sheet Path)" in made("soap_sleeve")[2]["Answer"]["B6"].value
    assert "estimated by means" in made("cosmetics_cutouts")[2]["Answer"]["B6"].value


def test_notes_hold_what_a_reader_must_know(made, demo_job):
    compared, _, values = made(demo_job)
    notes = "\n".join(str(row[1]) for row in values["Notes"].iter_rows(values_only=True))
    for text in (*wording.NOT_INCLUDED, *wording.CAUTIONS, wording.CARBON_SCOPE, wording.basis(compared)):
        assert text in notes
    for found in compared.findings:
        assert found.message in notes
    choices = compared.scenario.choices
    for text in (program_version(), data_digest(), choices["factors.set"], "own costs and rates", "numbers in the column 'because'"):  # fmt: skip
        assert text in notes


# -- inputs and checks ------------------------------------------------------------------------------------------------


def test_every_input_stands_with_its_unit_meaning_and_origin(made, demo_job):
    compared, _, values = made(demo_job)
    rows = {row[0]: row for row in values["Inputs"].iter_rows(min_row=FIRST_ROW + 1, values_only=True)}
    table, scenario = assumption_table(), compared.scenario
    for name, value in scenario.inputs.items():
        row = rows[name]
        assert row[1] == pytest.approx(float(value), rel=1e-15)
        assert row[3] == table[name].meaning
        origin = scenario.origins[name]
        assert row[4] == ("table of assumptions" if origin == "assumption" else origin)
        assert row[5] == table[name].basis
        assert "money" not in (row[2] or "")
    assert {name: rows[name][1] or "" for name in scenario.choices} == dict(scenario.choices)


def test_cells_that_may_be_changed_are_marked_and_no_others(made, demo_job):
    compared, formulas, _ = made(demo_job)
    quote = trace_quote(compared)
    marked = {
        formulas["Inputs"].cell(cell.row, 1).value
        for row in formulas["Inputs"].iter_rows(min_col=2, max_col=2)
        for cell in row
        if cell.fill.fgColor.rgb == YELLOW
    }
    assert marked == quote.live - set(quote.bound)
    place = HEADINGS.index("may be changed here")
    said = {r[0]: r[place] for r in formulas["Inputs"].iter_rows(min_row=FIRST_ROW + 1, values_only=True) if r[place]}
    assert {name for name, text in said.items() if text == "yes"} == marked
    assert {name for name, text in said.items() if text.startswith("no: ")} == set(quote.bound)


def test_a_planned_path_binds_what_it_was_planned_for(made):
    quote = trace_quote(made("soap_sleeve")[0])
    assert {"laser.heads", "layout.ups_laser", "work.cutting_m", "sheet.width_mm"} <= set(quote.bound)
    assert not {"laser.power_w", "laser.jump_m_s", "board.caliper_mm", "demand.run_length"} & set(quote.bound)


def test_without_a_path_only_the_sheet_is_bound_that_cartons_were_laid_on(made):
    assert set(trace_quote(made("cosmetics_cutouts")[0]).bound) == {"sheet.width_mm", "sheet.length_mm"}


def test_ups_that_were_given_bind_no_sheet(plain):
    assert not trace_quote(compare(plain())).bound


def test_every_check_holds_as_quoted_and_says_what_it_is_about(made, demo_job):
    compared, formulas, values = made(demo_job)
    rows = _rows(values, "Inputs", "check")[: len(trace_quote(compared).checks) + 1]
    assert len(rows) > 1
    assert all(row["holds"] is True and row["check"] for row in rows)
    assert all(row["condition"] for row in rows[:-1])
    assert rows[-1]["check"] == "all of them, and every input as it may be"
    assert str(formulas.defined_names["checks_hold"].attr_text).startswith("Inputs!")


# -- texts that came in -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", FORMULAS)
def test_names_that_look_like_formulas_stay_texts(load, text):
    scenario = load("soap_sleeve", f"plant.name={text}")
    scenario = replace(scenario, name=text, note=text, origins={**scenario.origins, "demand.run_length": text})
    book = _open(workbook_bytes(compare(scenario)))
    shown = [cell for cell in _texts(book) if text in cell.value]
    assert {cell.parent.title for cell in shown} == {"Answer", "Inputs", "Notes"}
    for cell in shown:
        assert cell.data_type == "s"
        assert cell.value[0] == "'"


def test_only_formulas_of_our_own_are_formulas(load):
    job = replace(load("soap_sleeve"), name="=1+1", note='=HYPERLINK("http://x")')
    plain, odd = (_open(workbook_bytes(compare(s))) for s in (load("soap_sleeve"), job))
    both = [[c.value for c in _texts(book) if c.data_type == "f"] for book in (plain, odd)]
    assert both[0] == both[1]
    assert not any("HYPERLINK" in text for text in both[1])


@pytest.mark.parametrize(
    "name",
    [
        "n" * 200,
        "<b>&amp;\"'</b>",
        "قالب 盒子 коробка",
        "line\nbreak",
        "\x00\x01\x1f\ufffe",
        "\udce4 lone",
        "x" * 40_000,
    ],
    ids=["200", "markup", "scripts", "lines", "control", "surrogate", "longer than a cell"],
)
def test_names_of_any_kind_leave_a_workbook_that_opens(load, name):
    book = _open(workbook_bytes(compare(replace(load("gift_varnish_release"), name=name))))
    title = book["Answer"]["A1"].value
    assert title
    assert len(title) <= 32_767
    if len(name) <= 200 and name.isprintable() and "\udce4" not in name:
        assert title.startswith(f"{name}, ")


# -- bytes ------------------------------------------------------------------------------------------------------------


def test_the_same_comparison_gives_the_same_bytes(load, demo_job):
    assert workbook_bytes(compare(load(demo_job))) == workbook_bytes(compare(load(demo_job)))


def test_bytes_do_not_hang_on_the_process_or_on_the_day():
    script = (
        "import hashlib; from pathlib import Path; from compare import *;"
        "from compare.present.workbook import workbook_bytes;"
        "c = compare(prepare(read_file(Path('data/plants/northfold.toml'), kind='plant'),"
        "read_file(Path('data/demo/soap_sleeve.toml'), kind='job')));"
        "print(hashlib.sha256(workbook_bytes(c)).hexdigest())"
    )
    root = Path(__file__).resolve().parents[2]
    seen = set()
    for seed, zone in (("1", "UTC"), ("2", "Pacific/Auckland")):
        env = {**os.environ, "PYTHONHASHSEED": seed, "TZ": zone}
        done = subprocess.run(
            [sys.executable, "-c", script], cwd=root, env=env, capture_output=True, text=True, check=True
        )
        seen.add(done.stdout)
    assert len(seen) == 1


def test_a_workbook_is_written_where_it_is_asked_for(load, tmp_path):
    compared = compare(load("soap_sleeve"))
    write_workbook(compared, tmp_path / "quote.xlsx")
    assert (tmp_path / "quote.xlsx").read_bytes() == workbook_bytes(compared)


def test_a_folder_that_is_not_there_is_said_in_one_line(load, tmp_path):
    with pytest.raises(FileError, match=r"the workbook can't be written: No such file or directory; check folder"):
        write_workbook(compare(load("soap_sleeve")), tmp_path / "none" / "quote.xlsx")


def test_stages_of_the_ledger_are_the_stages_that_are_summed(made, demo_job):
    assert {row["stage"] for row in _rows(made(demo_job)[2], "Ledger", "route")} <= set(STAGES)
