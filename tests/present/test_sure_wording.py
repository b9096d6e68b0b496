"""Sentences go no further than the draws carry."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace

import numpy as np
import pytest

from compare import compare
from compare.decide.break_even_draws import BreakEvenDraws
from compare.decide.quantiles import Quantiles
from compare.decide.uncertainty import Uncertainty, uncertainty
from compare.present import sure_wording as wording
from compare.present.charts import as_csv, break_even_chart, chart_grid
from compare.present.numbers import NumberStyle
from compare.present.sure_charts import tornado_chart
from compare.present.sure_record import sure_record

GERMAN = NumberStyle(",", ".")


@pytest.fixture(scope="module")
def sure(load):
    """Uncertainties by name of the demo job."""
    found: dict[str, Uncertainty] = {}

    def of(name: str) -> Uncertainty:
        if name not in found:
            c = compare(load(name))
            found[name] = uncertainty(c, draws=1_024, run_lengths=chart_grid(c))
        return found[name]

    return of


def test_a_clear_answer_says_so(sure):
    assert re.fullmatch(
        r"At 60,000 cartons per order the die is clearly cheaper: [\d.]+ EUR against [\d.]+ EUR per 1,000\.",
        wording.sure_answer(sure("bakery_tray")),
    )


def test_an_open_answer_names_no_winner(sure):
    text = wording.sure_answer(sure("herbal_drops_uncertain_run"))
    assert "it is open which route is cheaper" in text
    assert "the die is" not in text
    assert "the laser is" not in text


def test_a_likely_answer_is_not_called_clear(sure):
    likely = replace(sure("bakery_tray"), die_cheaper=0.8, laser_cheaper=0.2)
    assert "the die is likely cheaper" in wording.sure_answer(likely)


def test_draws_that_lean_the_other_way_than_the_values_are_told(sure):
    """Skewed ranges can make the laser cheaper in most cases though it is dearer at the values."""
    other = replace(sure("bakery_tray"), die_cheaper=0.2, laser_cheaper=0.8)
    assert "the laser is likely cheaper over all that is uncertain, though not at the values themselves" in (
        wording.sure_answer(other)
    )


def test_numbers_are_written_the_readers_way(sure):
    assert wording.sure_answer(sure("bakery_tray"), GERMAN).startswith("At 60.000 cartons")


def test_prices_are_costs_times_the_factor(sure):
    u = sure("herbal_drops_uncertain_run")
    assert wording.sure_answer(u) != wording.sure_answer(u, price_factor=1.25)


def test_no_percentage_of_saving_is_ever_claimed(sure):
    """A share of cases is no saving; a saving in per cent would need a difference that does not hold zero."""
    for name in ("bakery_tray", "herbal_drops_uncertain_run", "soap_sleeve"):
        u = sure(name)
        said = [wording.sure_answer(u), wording.how_sure(u), wording.sure_takeover(u), wording.worth_knowing(u)]
        assert not any("%" in text for text in said)


def test_a_share_below_one_is_never_called_all(sure):
    nearly = replace(sure("bakery_tray"), die_cheaper=0.9995, laser_cheaper=0.0005)
    assert "in more than 99 of 100 cases" in wording.how_sure(nearly)


def test_all_draws_are_called_every_one_of_the_draws_made(sure):
    every = replace(sure("bakery_tray"), die_cheaper=1.0, laser_cheaper=0.0)
    assert "in every one of 1,024 cases" in wording.how_sure(every)


@pytest.mark.parametrize(
    ("p10", "p90", "words"),
    [
        (-0.4, 0.5, "no clear difference: the laser lies from 0.40 kg less to 0.50 kg more"),
        (0.4, 0.5, "die 0.40 to 0.50 kg less"),
        (-0.5, -0.4, "laser 0.40 to 0.50 kg less"),
        (0, 0.5, "no clear difference"),
    ],
)
def test_a_difference_has_a_direction_only_where_its_range_has(sure, p10, p90, words):
    gap = Quantiles(p10, (p10 + p90) / 2, p90, 0, 0, 0)
    assert wording.sure_difference(gap, "kg").startswith(words)


def test_one_possible_route_has_no_difference(sure):
    assert wording.sure_difference(sure("toy_pvc_laminate").at_quote["co2e"].get("difference"), "kg") == (
        "only one route is possible"
    )


def test_a_route_that_alone_is_possible_is_not_called_sure(sure):
    u = sure("toy_pvc_laminate")
    assert (wording.how_sure(u), wording.sure_takeover(u), wording.worth_knowing(u)) == ("", "", "")


def test_what_was_varied_and_what_not_is_said(sure):
    said = " ".join(wording.what_was_varied(sure("bakery_tray")))
    assert re.search(r"Varied: \d+ inputs, each by itself", said)
    assert "Taken as known, given without a range:" in said
    assert "Not varied, unless a range was given: sizes of carton and sheet" in said


def test_a_break_even_that_is_mostly_never_is_said_so(sure):
    u = sure("bakery_tray")
    mostly = replace(u, break_even=BreakEvenDraws(np.array([500.0] + [np.inf] * 19), 1, 1_000_000))
    assert (
        wording.sure_takeover(mostly) == "The laser stays cheaper up to 1,000,000 cartons per order in 95 of 100 cases."
    )


def test_two_inputs_of_one_name_are_told_apart(sure):
    """Both routes have a crew, make-ready sheets and manual separation."""
    labels = [bar.label for bar in tornado_chart(sure("herbal_drops_uncertain_run"), most=40).bars]
    assert len(set(labels)) == len(labels)


def test_the_tornado_is_a_table_with_units_in_its_header(sure):
    rows = list(csv.reader(io.StringIO(as_csv(tornado_chart(sure("bakery_tray"))))))
    assert rows[0][4] == "at low, EUR per 1,000 good cartons"
    assert len(rows) == 11


def test_bands_stand_at_the_points_of_the_curves(sure):
    u = sure("bakery_tray")
    chart = break_even_chart(u.comparison, unsure=u)
    for series, band in zip(chart.series, chart.bands, strict=True):
        assert series.role == band.role
        assert len(band.low) == len(series.x)
        assert all(low < high for low, high in zip(band.low, band.high, strict=True))
    assert len(chart.laser_cheaper) == len(chart.series[0].x)
    header = next(csv.reader(io.StringIO(as_csv(chart))))
    assert "steel-rule die P10: Cost, EUR per 1,000 good cartons" in header


def test_the_record_is_plain_json_without_infinities(sure):
    for name in ("bakery_tray", "herbal_drops_uncertain_run", "toy_pvc_laminate"):
        text = json.dumps(sure_record(sure(name)), allow_nan=False)
        assert json.loads(text)["draws"] == 1_024


def test_the_record_holds_what_the_sentences_say(sure):
    u = sure("herbal_drops_uncertain_run")
    data = sure_record(u)
    assert data["sureness"] == "open"
    assert data["answer"].startswith(wording.sure_answer(u))
    assert data["varied"]["demand.run_length"] == {"shape": "triangular", "low": 1500, "value": 4000, "high": 9000}
    assert len(data["bands"]["cost"]["die"]["p10"]) == len(data["run_lengths"])
