"""Views return for every state a person can bring them to, in every unit, language and colour."""

from __future__ import annotations

import json
import re
import sys

import plotly.utils
import pytest

from compare.assumptions import assumption_table
from compare.data_files import data_folder
from compare.decide.comparison import compare
from compare.present import sure_wording, wording
from compare.present.numbers import NumberStyle, figures
from compare.readers.jobfile import read_file
from dashboard.reader import Reader, number_style
from dashboard.server import make_server, warm_up
from dashboard.settings import Settings
from dashboard.state import State, base_values, differing, read_link, scenario_of, starter, uncertainty_of
from dashboard.views import assumptions, cases, job
from dashboard.views.job import read_fields

SETTINGS = Settings(plant=read_file(data_folder() / "plants" / "northfold.toml", kind="plant"))
# a page names no files: a carton from a drawing gets there by its upload, see test_drawing_view
DEMOS = [
    path
    for path in sorted((data_folder() / "demo").glob("*.toml"))
    if "carton.drawing" not in read_file(path, kind="job").values
]
READERS = [
    Reader(),
    Reader("us", "dark", NumberStyle(",", ".")),
    Reader("metric", "dark", NumberStyle(".", "\u2019")),
]
LENGTHS = {
    "carton.style": "",
    "work.cutting_m": 1.2,
    "work.creasing_m": 0.9,
    "carton.blank_area_m2": 0.05,
    "work.nicks": 8.0,
    "work.bends": 16.0,
    "work.strokes": 6.0,
    "work.corner_load": 12.0,
    "layout.ups_die": 9.0,
    "layout.ups_laser": 9.0,
}
OWN_BOARD = {"board.grade": "", "board.grammage_g_m2": 310.0, "board.caliper_mm": 0.42, "board.price_per_t": 1200.0}


def _of_demo(path):
    """A demo job as the state that someone would come to by typing it into a new page."""
    absent = {name: "" for name, value in starter().values.items() if isinstance(value, str)}
    return State(differing({**absent, **read_file(path, kind="job").values}, SETTINGS))


STATES = {
    "new page": State({}),
    "cash": State({}, "cash"),
    **{path.stem: _of_demo(path) for path in DEMOS},
    "from its lengths": State(LENGTHS),
    "own board": State(OWN_BOARD),
    "neither route": State({"board.laminate": "pvc", "work.varnish_release_m": 1.0}),
    "contradiction": State({"demand.versions": 30_000.0}),
    "one carton": State({"demand.run_length": 1.0}),
    "a hundred million": State({"demand.run_length": 1e8}),
    "other currency": State({"plant.currency": "USD"}),
    "with notes": State({}, "full", ("A note.", "Another <b>note</b>.")),
}


def _text(component):
    """Everything a view says, as it is sent to the browser."""
    return json.dumps(component, cls=plotly.utils.PlotlyJSONEncoder, ensure_ascii=False)


@pytest.fixture(params=READERS, ids=["metric light", "us dark German", "metric dark Swiss"])
def reader(request):
    return request.param


@pytest.mark.parametrize("state", STATES.values(), ids=STATES)
def test_the_job_view_shows_the_answer_of_every_state(state, reader):
    text = _text(job.layout(state, SETTINGS, reader))
    good = (
        state if "demand.versions" not in state.overrides or state.overrides["demand.versions"] < 10_000 else State({})
    )
    c = compare(scenario_of(good.overrides, SETTINGS), good.costing)
    both = c.die.feasible and c.laser.feasible
    said = (
        sure_wording.sure_answer(uncertainty_of(good, SETTINGS), reader.style)
        if both
        else wording.answer(c, reader.style)
    )
    assert json.dumps(said, ensure_ascii=False)[1:-1] in text
    for note in state.notes:
        assert json.dumps(note)[1:-1] in text


def test_a_state_that_contradicts_itself_says_so_and_shows_the_last_good_answer():
    text = _text(job.layout(STATES["contradiction"], SETTINGS, Reader()))
    assert "Not computed" in text
    assert '"value": 30000' in text


def test_where_neither_route_is_possible_nothing_is_drawn():
    c = compare(scenario_of(STATES["neither route"].overrides, SETTINGS))
    assert c.cheaper == "neither"
    specs = job.chart_specs(c)
    assert (specs["curves"], specs["stages"], specs["map"]) == (None, None, None)
    assert "neither route can make this job" in _text(job.layout(STATES["neither route"], SETTINGS, Reader()))


@pytest.mark.parametrize("state", STATES.values(), ids=STATES)
def test_the_assumptions_view_shows_every_row_of_every_state(state, reader):
    view = assumptions.layout(state, SETTINGS, reader)
    text = _text(view)
    for name in assumption_table():
        assert f'"name": "{name}"' in text


def test_the_assumptions_view_gives_each_row_its_unit_range_basis_and_source():
    rows = {row["name"]: row for row in assumptions._rows(State({"plant.currency": "USD"}), SETTINGS, NumberStyle())}
    assert rows.keys() == assumption_table().keys()
    for name, row in assumption_table().items():
        assert (rows[name]["basis"], rows[name]["source"]) == (row.basis, row.source)
        if row.low is not None and row.high is not None:
            assert rows[name]["range"] == f"{row.low:,.10g} to {row.high:,.10g}"
    assert rows["rates.labour_h"] | {"meaning": ""} == {
        "name": "rates.labour_h",
        "value": "34",
        "low": "32",  # what the plant gave; the usual range is the table's
        "high": "37",
        "shape": "triangular",
        **dict.fromkeys(["refused_value", "refused_low", "refused_high", "refused_shape", "refused_any"], False),
        "may_vary": True,
        "own_range": False,
        "unit": "USD/h",
        "range": "18 to 48",
        "basis": "example",
        "meaning": "",
        "source": "none: enter your own",
        "default": "",
    }


def test_what_was_typed_and_refused_stays_with_its_reason_in_place_of_the_meaning():
    """Nothing typed is lost, and the row says what counts meanwhile."""
    refused = {"rates.kwh": {"value": ("cheap", "is no number; give one")}}
    rows = {r["name"]: r for r in assumptions._rows(State({}), SETTINGS, NumberStyle(), changed=True, refused=refused)}
    assert list(rows) == ["rates.kwh"]  # shown among what was changed: it waits to be mended
    assert (rows["rates.kwh"]["value"], rows["rates.kwh"]["refused_value"]) == ("cheap", True)
    assert rows["rates.kwh"]["meaning"] == "Not changed: is no number; give one. Until then 0.19 counts."


def test_one_end_of_a_range_waits_for_the_other_and_both_cells_keep_what_was_typed():
    refused = {"rates.kwh": {"value": ("cheap", "is no number; give one"), "low": ("0.1", "it has one end only")}}
    (row,) = assumptions._rows(State({}), SETTINGS, NumberStyle(), changed=True, refused=refused)
    assert (row["value"], row["low"], row["high"]) == ("cheap", "0.1", "")
    assert (row["refused_low"], row["refused_high"]) == (True, False)
    assert row["meaning"].endswith("it has one end only. Until then 0.19 counts and no range counts.")


@pytest.mark.parametrize(
    "data",
    [
        None,
        7,
        "x",
        [],
        {"rates.kwh": 7},
        {"rates.kwh": ["a", "b"]},
        {"rates.kwh": {"value": ["a"]}},
        {"rates.kwh": {"value": [1, 2]}},
        {"rates.kwh": {"unit": ["a", "b"]}},
    ],
)
def test_refusals_of_another_shape_count_as_none(data):
    assert assumptions._refused(data) == {}


def test_only_what_was_changed_is_what_differs_from_a_new_page():
    state = State({"rates.labour_h": 40.0, "plant.country": "SE"})
    rows = assumptions._rows(state, SETTINGS, NumberStyle(), changed=True)
    assert {(row["name"], row["value"], row["default"]) for row in rows} == {
        ("rates.labour_h", "40", "34"),
        ("plant.country", "SE", "DE"),
    }


def test_a_value_that_the_page_gives_anew_is_taken_as_known():
    """The plant's range was that of the plant's own value."""
    (row,) = assumptions._rows(State({"rates.labour_h": 60.0}), SETTINGS, NumberStyle(), changed=True)
    assert (row["value"], row["low"], row["high"], row["shape"]) == ("60", "", "", "")


def test_a_changed_range_is_among_what_was_changed_and_is_marked():
    state = State({}, ranges={"rates.labour_h": "30..40 pert"})
    (row,) = assumptions._rows(state, SETTINGS, NumberStyle(), changed=True)
    assert (row["name"], row["low"], row["high"], row["shape"]) == ("rates.labour_h", "30", "40", "pert")
    assert row["own_range"]
    assert row["default"] == ""  # its value is that of a new page


@pytest.mark.parametrize(
    ("values", "ranges", "said"),
    [
        (0, 0, "0 values differ from a new page."),
        (1, 0, "1 value differs from a new page."),
        (2, 1, "2 values and 1 range differ from a new page."),
        (1, 2, "1 value and 2 ranges differ from a new page."),
    ],
)
def test_values_and_ranges_that_differ_are_counted(values, ranges, said):
    names = ["rates.labour_h", "rates.kwh"]
    state = State(dict.fromkeys(names[:values], 1.0), ranges=dict.fromkeys(names[:ranges], "0..9"))
    assert assumptions._count(state) == said


def test_the_search_of_the_assumptions_starts_with_what_a_link_came_to_find():
    text = _text(assumptions.layout(State({}, find="laser.power_w"), SETTINGS, Reader()))
    assert '"value": "laser.power_w"' in text
    assert '"quickFilterText": "laser.power_w"' in text


def test_the_cases_view_opens_without_any_case(reader):
    assert "Cases are saved in this browser only" in _text(cases.layout(State({}), SETTINGS, reader))


@pytest.mark.parametrize("path", DEMOS, ids=[p.stem for p in DEMOS])
def test_the_cases_table_shows_a_demo_job_beside_a_new_page(path):
    from dashboard.state import write_link

    link = write_link(_of_demo(path), SETTINGS)
    text = _text(cases._table([{"name": "new", "link": ""}, {"name": "demo", "link": link}], SETTINGS, Reader()))
    c = compare(scenario_of(read_link(link, SETTINGS).overrides, SETTINGS))
    assert json.dumps(wording.answer(c))[1:-1] in text
    if c.die.feasible:
        assert figures(c.die.cost_per_1000) in text


def _cases_of(*links):
    saved = [{"name": f"case {number}", "link": link} for number, link in enumerate(links)]
    return _text(cases._table(saved, SETTINGS, Reader()))


def test_cases_name_the_currency_of_the_plant():
    text = _cases_of("?plant.currency=USD", "?plant.currency=USD&sheet.print_cost=0.2")
    assert '"die, USD per 1,000"' in text
    assert '"sheet.print_cost, USD/sheet"' in text
    assert "money" not in text


def test_cases_that_differ_in_a_range_alone_name_it():
    text = _cases_of("", "?between.demand.run_length=10000..40000")
    assert '["demand.run_length, its range", "-", "10,000 to 40,000, triangular"]' in text


def test_cases_in_several_currencies_claim_none_for_all_of_them():
    text = _cases_of("", "?plant.currency=USD&sheet.print_cost=0.2")
    assert '"die, own currency per 1,000"' in text
    assert '"sheet.print_cost, own currency/sheet"' in text
    assert '["plant.currency", "EUR", "USD"]' in text


def test_inputs_that_differ_are_written_like_the_figures_below_them():
    text = _text(
        cases._table(
            [{"name": "a", "link": "?sheet.print_cost=0.125"}, {"name": "b", "link": "?demand.run_length=400000"}],
            SETTINGS,
            Reader(style=NumberStyle(",", ".")),
        )
    )
    assert '["demand.run_length, cartons", "20.000", "400.000"]' in text
    assert '["sheet.print_cost, EUR/sheet", "0,125", "0,12"]' in text


def test_a_note_of_a_link_speaks_in_the_plants_currency():
    """The engine knows the unit of the table alone, where "money" stands for any currency."""
    noted = read_link("?sheet.print_cost=-1", SETTINGS)
    assert "in money/sheet" in noted.notes[0]
    text = _text(assumptions.layout(noted, SETTINGS, Reader()))
    assert "give a number from 0 in EUR/sheet" in text
    assert "money" not in text


def test_a_case_that_cannot_be_computed_any_more_says_so_and_the_others_stay():
    text = _text(
        cases._table(
            [{"name": "new", "link": ""}, {"name": "bad", "link": "?demand.versions=30000"}], SETTINGS, Reader()
        )
    )
    assert "not computed" in text
    assert json.dumps(wording.answer(compare(scenario_of({}, SETTINGS))))[1:-1] in text


@pytest.mark.parametrize("saved", [None, 7, "x", [7], [{}], [{"name": 1, "link": ""}], [{"name": "x"}]])
def test_browser_storage_of_another_shape_counts_as_no_case(saved):
    assert cases._read(saved) == []


# -- from fields to inputs --------------------------------------------------------------------------------------------


def _read(shown, *, system="metric", now=None, **used):
    return read_fields(shown, now or State({}), system, {**base_values(SETTINGS), **used})


def test_what_fields_show_becomes_values_in_si():
    values, faults = _read({"carton.length_mm": 4.0, "demand.versions": 3}, system="us")
    assert faults == {}
    assert values == {"carton.length_mm": pytest.approx(101.6), "demand.versions": 3.0}


def test_an_emptied_number_is_a_fault_of_its_field_alone():
    values, faults = _read({"carton.length_mm": "", "demand.versions": 3})
    assert values == {"demand.versions": 3.0}
    assert faults == {"carton.length_mm": "give a number in mm"}


def test_a_fault_speaks_in_the_units_on_screen():
    """Someone who types inches must not be asked for millimetres."""
    for value in ("", -1.0):
        _, faults = _read({"carton.length_mm": value}, system="us")
        assert "mm" not in faults["carton.length_mm"]


def test_an_optional_number_may_stay_empty():
    assert _read({"cutouts.length_mm": "", "cutouts.area_mm2": None}) == ({}, {})


def _run_range(low, high, now=None):
    return job.read_run_range({"low.demand.run_length": low, "high.demand.run_length": high}, now or {}, "EUR")


def test_both_ends_of_the_run_length_make_a_range():
    assert _run_range(4000, 9000) == ({"demand.run_length": "4000..9000"}, {})


def test_a_shape_chosen_among_the_assumptions_stays_when_its_ends_change():
    now = {"demand.run_length": "1000..9000 pert", "rates.kwh": "0.1..0.3"}
    assert _run_range(4000, 9000, now)[0] == {"demand.run_length": "4000..9000 pert", "rates.kwh": "0.1..0.3"}


def test_emptied_ends_take_the_range_of_the_run_length_away():
    assert _run_range("", None, {"demand.run_length": "4000..9000"}) == ({}, {})


def test_a_range_that_no_field_can_show_is_not_lost_with_empty_fields():
    now = {"demand.run_length": "lognormal 1.2"}
    assert _run_range("", "", now) == (now, {})


@pytest.mark.parametrize(
    ("low", "high", "faults"),
    [
        (4000, "", {"high.demand.run_length": "give both ends, or none"}),
        (None, 9000, {"low.demand.run_length": "give both ends, or none"}),
        (9000, 4000, {"low.demand.run_length": "is above the other end; exchange them"}),
        (4000.5, 9000, {"low.demand.run_length": "must be a whole number"}),
        (4000, 0, {"high.demand.run_length": "must be at least 1"}),
    ],
)
def test_what_is_wrong_with_an_end_stands_beside_it(low, high, faults):
    assert _run_range(low, high) == ({}, faults)


def test_a_value_outside_its_range_is_a_fault_of_its_own_field_in_the_units_on_screen():
    ranges = {"sheet.width_mm": "508..762", "demand.run_length": "4000..9000", "rates.kwh": "0.1..0.2"}
    values = {"sheet.width_mm": 1020.0, "demand.run_length": 5000.0}
    faults = job.outside_ranges(values, ranges, "us", "EUR", NumberStyle())
    assert faults == {"sheet.width_mm": "outside its range, 20 to 30; change one of them"}


def test_fields_that_are_not_on_screen_do_not_count():
    shown = {"carton.style": "sleeve", "work.cutting_m": 99.0, "board.grade": "kraft_300", "board.caliper_mm": 900.0}
    values, faults = _read(shown)
    assert (values, faults) == ({"carton.style": "sleeve", "board.grade": "kraft_300"}, {})


def test_a_group_that_comes_on_screen_starts_from_what_was_used():
    """Going over to lengths keeps the figures: the lengths are those of the style that was there."""
    shown = {"carton.style": "lengths", "work.cutting_m": ""}
    values, _ = _read(shown, **{"work.cutting_m": 1.18})
    assert values == {"carton.style": "", "work.cutting_m": 1.18}


# -- over the wire ----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def client():
    server = make_server(SETTINGS)
    warm_up(server)
    return server.test_client()


@pytest.mark.parametrize("path", ["/", "/assumptions", "/assumptions/", "/cases?demand.versions=2", "/client/"])
def test_every_address_of_a_view_answers_with_a_page_of_scripts(client, path):
    answer = client.get(path)
    assert answer.status_code == 200
    assert re.search(r"<html lang=\"en\">", answer.text)


@pytest.mark.parametrize("path", ["/nonsense", "/cases/old", "/assumptions.php", "/client/x", "/client/assumptions"])
def test_an_address_of_no_view_is_not_found_and_says_so_in_a_line(client, path):
    """200 would tell a search engine, a monitor and a reader with a slip in the address that all is well."""
    answer = client.get(path)
    assert (answer.status_code, answer.mimetype) == (404, "text/html")
    assert re.findall(r"<h1>(.*?)</h1>", answer.text) == ["There is no such page."]
    assert "<script" not in answer.text
    assert "Traceback" not in answer.text


def test_a_client_with_a_slip_in_the_address_is_not_led_to_the_plants_own_pages(client):
    assert "<a " in client.get("/nonsense").text
    assert "<a " not in client.get("/client/nonsense").text


@pytest.mark.parametrize("path", ["/", "/client/"])
def test_a_page_tells_nobody_which_versions_serve_it(client, path):
    """What a stranger would look up known faults by; only the developer panel shows it."""
    page = client.get(path).text
    config = json.loads(re.search(r'<script id="_dash-config"[^>]*>(.*?)</script>', page)[1])
    assert {name for name in config if "version" in name} == set()
    assert sys.version.split()[0] not in page
    assert config.keys() >= {"requests_pathname_prefix", "children_props", "suppress_callback_exceptions", "end_id"}


def test_a_page_and_its_layout_ask_for_nothing_from_another_host(client):
    for path in ("/", "/client/", "/_dash-layout", "/client/_dash-layout"):
        assert set(re.findall(r"https?://[\w.]+", client.get(path).text)) <= {"http://www.w3.org"}


@pytest.mark.parametrize(
    ("tag", "style"),
    [
        ("en-US", NumberStyle(".", ",")),
        ("de-DE", NumberStyle(",", ".")),
        ("de-CH", NumberStyle(".", "\u2019")),
        ("fr", NumberStyle(",", "\u202f")),
        ("xx-??", NumberStyle()),
        ("", NumberStyle()),
        ("*", NumberStyle()),
    ],
)
def test_numbers_are_written_as_in_the_readers_language(tag, style):
    """Signs by the Unicode Common Locale Data Repository, through Babel; its apostrophe of Switzerland differs by edition."""
    found = number_style(tag)
    assert NumberStyle(found.decimal, found.group.replace("'", "\u2019")) == style


def test_with_the_developer_panel_a_page_keeps_all_that_the_panel_shows():
    from dashboard.page_app import _needed

    told = '{"ui":true,"dash_version":"9","requests_pathname_prefix":"/"}'
    assert _needed(told) == told
