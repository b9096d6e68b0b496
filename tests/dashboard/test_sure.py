"""How sure the answer of the Job view is: what its message says, and whose state it names."""

from __future__ import annotations

import json
import re

import plotly.utils
import pytest

from compare.data_files import data_folder
from compare.present import sure_wording, wording
from compare.present.numbers import PLAIN, NumberStyle
from compare.readers.jobfile import read_file
from dashboard.reader import Reader
from dashboard.server import make_server, warm_up
from dashboard.settings import Settings
from dashboard.state import State, comparison_of, to_json, uncertainty_of, write_link
from dashboard.views import job, sure

SETTINGS = Settings(plant=read_file(data_folder() / "plants" / "northfold.toml", kind="plant"))
OPEN = State({"demand.run_length": 105_000.0})
ONE_ROUTE = State({"board.laminate": "pvc"})
CONTRADICTION = State({"demand.versions": 9_000.0}, ranges={"demand.run_length": "4000..40000"})
"""Possible at the values, and not somewhere in the range: fewer cartons than versions."""


def _text(component):
    return json.dumps(component, cls=plotly.utils.PlotlyJSONEncoder, ensure_ascii=False)


@pytest.fixture(scope="module")
def client():
    server = make_server(SETTINGS)
    warm_up(server)
    return server.test_client()


def _asked(client, state, by="ends"):
    body = {
        "output": "sure-said.data",
        "outputs": {"id": "sure-said", "property": "data"},
        "inputs": [{"id": "sure-asked", "property": "data", "value": {"state": to_json(state), "by": by, "number": 1}}],
        "changedPropIds": ["sure-asked.data"],
    }
    return client.post("/_dash-update-component", json=body).json["response"]["sure-said"]["data"]


def test_the_message_names_the_state_that_it_belongs_to(client):
    for state in (State({}), OPEN, State({}, "cash"), State({}, ranges={"demand.run_length": "9000..40000"})):
        assert _asked(client, state)["key"] == write_link(state, SETTINGS)


def test_the_message_has_a_part_for_every_place_and_no_other(client):
    """A place that the message left out would keep what belongs to the state before."""
    for state in (State({}), ONE_ROUTE, CONTRADICTION, State({"board.laminate": "pvc", "work.varnish_release_m": 1.0})):
        assert set(_asked(client, state)) == {"key", "scheme", *sure.SAID}


def test_the_answer_of_the_figures_alone_says_nothing_that_hangs_on_the_draws(client):
    """Its own message brings these; the answer must not stand beside the band of another state for a moment."""
    body = {
        "output": "answered.data",
        "outputs": {"id": "answered", "property": "data"},
        "inputs": [{"id": "shown", "property": "data", "value": {"fields": {"demand.run_length": 60_000}}}],
        "state": [{"id": "state", "property": "data", "value": to_json(State({}))}],
        "changedPropIds": ["shown.data"],
    }
    said = client.post("/_dash-update-component", json=body).json["response"]["answered"]["data"]
    assert set(said) & set(sure.SAID) == {"chart-curves.figure", "job-main.className"}
    assert said["job-main.className"] == sure.AWAITING
    assert "8 cases in 10" not in json.dumps(said["chart-curves.figure"])


def test_axes_are_the_same_with_and_without_bands():
    c, unsure = comparison_of(OPEN, SETTINGS), uncertainty_of(OPEN, SETTINGS)
    reader = Reader()
    alone = job._drawings(c, reader)["curves"][0]["layout"]
    whole = sure.said(OPEN, SETTINGS, reader)["chart-curves.figure"]["layout"]
    assert unsure.bands
    for axis in ("xaxis", "yaxis", "yaxis2", "yaxis3"):
        assert alone[axis] == whole[axis]
    assert (alone["height"], alone["margin"]) == (whole["height"], whole["margin"])


def test_an_open_answer_is_called_open():
    assert uncertainty_of(OPEN, SETTINGS).sureness == "open"
    assert "it is open which route is cheaper" in _text(sure.said(OPEN, SETTINGS, Reader())["panel-answer.children"])


def test_where_ranges_contradict_one_another_the_point_answer_stands_with_the_reason():
    said = sure.said(CONTRADICTION, SETTINGS, Reader())
    answer = _text(said["panel-answer.children"])
    assert json.dumps(wording.answer(comparison_of(CONTRADICTION, SETTINGS)))[1:-1] in answer
    assert "How sure this is can't be said: 'Versions' is above 'Run length, per order'" in answer
    assert said["place-tornado.hidden"]
    assert "8 cases in 10" not in json.dumps(said["chart-curves.figure"])


def test_one_possible_route_has_its_band_and_no_tornado():
    said = sure.said(ONE_ROUTE, SETTINGS, Reader())
    assert "Only the die can make this job" in _text(said["panel-answer.children"])
    assert sum("8 cases in 10" in trace["name"] for trace in said["chart-curves.figure"]["data"]) == 1
    assert said["place-tornado.hidden"]
    assert [row[0] for row in _rows(said)] == ["die, EUR"]


def _rows(said):
    table = said["sure-table.children"][0]
    (body,) = (part.data["body"] for part in table._traverse() if getattr(part, "data", None))
    return body


def test_quantiles_at_the_quoted_run_length_stand_with_their_half_widths():
    unsure, rows = uncertainty_of(OPEN, SETTINGS), _rows(sure.said(OPEN, SETTINGS, Reader()))
    assert [row[0] for row in rows] == [
        "die, EUR",
        "laser, EUR",
        "laser less die, EUR",
        "laser less die, kg CO2e",
        "laser less die, kg waste board",
    ]
    for (measure, which, _), row in zip(sure._ROWS, rows, strict=True):
        q = unsure.at_quote[measure][which]
        for cell, value, half in zip(row[1:], q[:3], q[3:], strict=True):
            shown, give_or_take = (float(part) for part in cell.split(" ± "))
            assert shown == pytest.approx(value, abs=half)
            assert give_or_take == pytest.approx(half, rel=0.5), cell


@pytest.mark.parametrize(
    ("value", "half", "said"),
    [
        (108.416, 1.175, "108 ± 1"),
        (69.54, 0.695, "69.5 ± 0.7"),
        (70.66, 0.97, "71 ± 1"),
        (-0.0021, 0.0094, "-0.002 ± 0.009"),
        (-0.0001, 0.012, "0.00 ± 0.01"),
        (1234.5, 12.0, "1,234 ± 12"),
        (5.0, 0.0, "5.00"),
        (0.0, 0.02, "0.00 ± 0.02"),
    ],
)
def test_a_quantile_has_no_more_digits_than_its_half_width_carries(value, half, said):
    assert sure.with_half_width(value, half, PLAIN) == said


def test_quantiles_are_written_the_readers_way():
    assert sure.with_half_width(69.54, 0.695, NumberStyle(",", ".")) == "69,5 ± 0,7"


def test_a_run_length_that_may_lie_anywhere_is_not_called_the_quoted_one():
    wide = State({}, ranges={"demand.run_length": "10000..40000"})
    assert "From 10,000 to 40,000 cartons per order" in _text(
        sure.said(wide, SETTINGS, Reader())["sure-table.children"]
    )


def test_every_bar_has_a_link_to_its_row_among_the_assumptions_that_keeps_the_state():
    bars = sure.spec(OPEN, SETTINGS).bars
    links = re.findall(r'"href": "([^"]+)"', _text(sure.said(OPEN, SETTINGS, Reader())["tornado-links.children"]))
    start = f"/assumptions{write_link(OPEN, SETTINGS)}&find="
    assert links == [start + bar.name for bar in bars]
    (first, *_) = re.findall(
        r'"href": "([^"]+)"', _text(sure.said(State({}), SETTINGS, Reader())["tornado-links.children"])
    )
    assert first.startswith("/assumptions?find=")  # a new page has no inputs in its address


def test_the_card_says_what_to_measure_first_and_what_was_varied():
    said, unsure = sure.said(OPEN, SETTINGS, Reader()), uncertainty_of(OPEN, SETTINGS)
    assert said["sure-words.children"] == sure_wording.worth_knowing(unsure)
    for text in sure_wording.what_was_varied(unsure):
        assert json.dumps(text, ensure_ascii=False)[1:-1] in _text(said["sure-varied.children"])


def test_other_bars_come_with_their_own_words():
    ends, draws = (sure.said(OPEN, SETTINGS, Reader(), by) for by in ("ends", "draws"))
    assert ends["chart-tornado.figure"] != draws["chart-tornado.figure"]
    assert "either end of its range" in ends["sure-how.children"]
    assert "lowest and over the highest fifth" in draws["sure-how.children"]


def test_carbon_and_waste_say_a_direction_only_where_their_range_has_one():
    unsure = uncertainty_of(OPEN, SETTINGS)
    said = sure.said(OPEN, SETTINGS, Reader())
    for place, measure in (("panel-carbon.children", "co2e"), ("panel-waste.children", "waste")):
        gap = unsure.at_quote[measure]["difference"]
        assert sure_wording.sure_difference(gap, "kg") in _text(said[place])
        assert "%" not in _text(said[place])
