"""What stands on a quote: the answer of the screen, prices that are costs with their margin, and no cost at all."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from compare import Layer, prepare
from compare.decide.comparison import compare
from compare.decide.uncertainty import uncertainty
from compare.errors import InputError
from compare.present import sure_wording, wording
from compare.present.charts import chart_grid
from compare.present.numbers import figures
from compare.present.quote_content import quote_content, quote_run_lengths
from compare.present.quote_facts import NAME_CHARACTERS, one_line
from compare.present.quote_internal import internal_page
from compare.present.wording_guard import claims_in
from compare.routes.inventory import STAGES

from .quoted import JOBS, LANGUAGES, MARGIN, asked_of, content_of, texts_of, unsure_of

FACTOR = 1 / (1 - MARGIN)


def made(unsure, asked):
    return quote_content(unsure, asked, number="2026-000123")


# -- the same sentences as elsewhere ----------------------------------------------------------------------------------


@pytest.mark.parametrize("job", JOBS)
def test_the_english_answer_is_the_sentence_of_screen_and_terminal(job):
    unsure, page = unsure_of(job), content_of(job).client
    c = unsure.comparison
    if unsure.laser_cheaper is None:
        assert page.answer == wording.answer(c, price_factor=FACTOR)
    else:
        assert page.answer == sure_wording.sure_answer(unsure, price_factor=FACTOR)
        assert sure_wording.how_sure(unsure, price_factor=FACTOR) in page.sentences
        assert sure_wording.sure_takeover(unsure) in page.sentences
        assert wording.takeover(c) in page.sentences
    assert wording.lead_time(c) in [fact.text for fact in page.facts]
    assert page.cautions == wording.CAUTIONS


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("job", JOBS)
def test_the_answer_gives_the_prices_of_the_table_in_every_language(job, language):
    content = content_of(job, language)
    (quoted,) = (row for row in content.client.prices if row.quoted)
    c = unsure_of(job).comparison
    for route, shown in (("die", quoted.die), ("laser", quoted.laser)):
        if c.route(route).feasible:
            assert shown == figures(c.route(route).cost_per_1000 * FACTOR, style=content.style)
            assert f"{shown} " in content.client.answer


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_clear_likely_and_open_is_told_apart_in_every_language(language):
    """The words must go no further than the draws carry."""
    unsure = unsure_of("soap_sleeve")
    said = {
        made(replace(unsure, laser_cheaper=share, die_cheaper=1 - share), asked_of(unsure, language)).client.answer
        for share in (0.95, 0.8, 0.55, 0.2, 0.05)
    }
    assert len(said) == 5


@pytest.mark.parametrize("language", ["de", "fr", "es"])
@pytest.mark.parametrize("job", JOBS)
def test_sentences_of_other_languages_hold_the_numbers_of_the_english_ones(job, language):
    """A translation that dropped a number would say less, one that added one would say more."""
    style = content_of(job, language).style

    def numbers(page):
        return " ".join((page.answer, *page.sentences, *(fact.text for fact in page.facts), *page.measure_notes))

    english, other = numbers(content_of(job).client), numbers(content_of(job, language).client)
    wanted = {style.write(number) for number in re.findall(r"\d(?:[\d,]*\d)?(?:\.\d+)?", english)}
    there = set(re.findall(rf"\d(?:[\d{re.escape(style.group)}]*\d)?(?:{re.escape(style.decimal)}\d+)?", other))
    assert wanted - there == set()


# -- prices and what a client may not see -----------------------------------------------------------------------------


@pytest.mark.parametrize("job", JOBS)
def test_prices_are_costs_over_one_less_the_margin(job):
    c = unsure_of(job).comparison
    for row in content_of(job).client.prices:
        costs = c.cost_per_1000_at(np.array([row.run_length]))
        assert row.prices == pytest.approx({route: float(cost[0]) * FACTOR for route, cost in costs.items()})


@pytest.mark.parametrize("job", ["soap_sleeve", "pharma_12_languages", "toy_pvc_laminate"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_the_clients_page_holds_no_cost_margin_rate_or_name_of_an_input(job, language):
    unsure, content = unsure_of(job), content_of(job, language)
    c, style, texts = unsure.comparison, content.style, texts_of(content)
    whole = " ".join(texts)
    costs = {figures(c.route(r).cost_per_1000, style=style) for r in ("die", "laser") if c.route(r).feasible}
    costs |= {
        figures(float(cost), style=style)
        for row in content.client.prices
        for cost in np.concatenate(list(c.cost_per_1000_at(np.array([row.run_length])).values()))
    }
    prices = {price for row in content.client.prices for price in (row.die, row.laser)}
    assert [cost for cost in costs - prices if re.search(rf"(?<![\d.,]){re.escape(cost)}(?![\d.,]*\d)", whole)] == []
    assert re.findall(r"\b(?:rates|laser|die|demand|toolmaker|board|factors|line_capital)\.[a-z_]+\b", whole) == []
    assert "37" not in re.findall(r"\d+", content.client.foot + content.title)
    assert not any(str(value) in texts for value in c.scenario.origins.values() if value.endswith(".toml"))


def test_a_note_of_the_job_is_the_plants_own():
    unsure = unsure_of("soap_sleeve")
    note = unsure.comparison.scenario.note
    assert note
    assert note not in " ".join(texts_of(made(unsure, asked_of(unsure))))
    assert internal_page(unsure, asked_of(unsure)).note.text == note


def test_the_label_of_a_factor_of_the_plants_own_does_not_name_its_file():
    page = content_of("soap_sleeve", "en", "factors.kwh=0.05").client
    assert "values of the plant's own" in page.measure_notes[-1]
    assert "--set" not in " ".join(texts_of(page))


# -- run lengths ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("job", JOBS)
def test_three_to_five_run_lengths_hold_the_jobs_own_and_the_break_even(job):
    c = unsure_of(job).comparison
    runs, found = quote_run_lengths(c), c.break_even["cost"]
    assert 3 <= len(runs) <= 5
    assert list(runs) == sorted(set(runs))
    assert c.run_length in runs
    assert found.run_length is None or found.run_length in runs
    assert all(found.start <= run <= found.end for run in runs)


@given(st.integers(1, 4_000_000))
def test_there_are_run_lengths_to_price_whatever_the_job_asks_for(run_length):
    c = unsure_of("soap_sleeve").comparison
    asked = max(run_length, 6)
    runs = quote_run_lengths(compare(_again(c.scenario, asked)))
    assert asked in runs
    assert 3 <= len(runs) <= 5


def _again(scenario, run_length):
    return replace(scenario, inputs=scenario.inputs.with_values({"demand.run_length": float(run_length)}))


def test_the_break_even_and_the_quoted_run_are_marked():
    marks = {row.run_length: row.mark for row in content_of("soap_sleeve").client.prices}
    c = unsure_of("soap_sleeve").comparison
    assert marks[c.run_length] == "this quote"
    assert marks[c.break_even["cost"].run_length] == "break-even"


# -- what can't be made, and what does not belong together ------------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("job", ["toy_pvc_laminate", "gift_varnish_release"])
def test_a_route_that_cannot_has_no_price_no_curve_and_a_reason(job, language):
    page = content_of(job, language).client
    cannot = "laser" if job == "toy_pvc_laminate" else "die"
    assert all(cannot not in row.prices and row.lower == "" for row in page.prices)
    assert [series.role for series in page.curve.chart.series] == ["die" if cannot == "laser" else "laser"]
    assert len(page.sentences) == 1


def test_a_job_that_neither_route_can_make_is_not_offered():
    unsure = unsure_of("toy_pvc_laminate", "die.max_caliper_mm=0.1")
    with pytest.raises(InputError, match="nothing to offer"):
        made(unsure, asked_of(unsure))


def test_run_lengths_without_the_jobs_own_are_refused():
    unsure = unsure_of("soap_sleeve")
    with pytest.raises(InputError, match="add 6000"):
        made(unsure, asked_of(unsure, run_lengths=(5000.0,)))


def test_other_machine_rates_than_asked_for_are_refused():
    unsure = unsure_of("soap_sleeve")
    with pytest.raises(InputError, match="other machine rates"):
        made(unsure, replace(asked_of(unsure), costing="cash"))


def test_bands_at_other_run_lengths_than_the_chart_are_refused():
    """They would be drawn beside the curves they belong to."""
    c = unsure_of("soap_sleeve").comparison
    other = uncertainty(c, draws=256, run_lengths=chart_grid(c) + 1)
    with pytest.raises(InputError, match="other run lengths"):
        made(other, asked_of(other))


# -- environment ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_direction_is_given_where_the_range_of_the_difference_holds_zero(language):
    unsure = unsure_of("pharma_12_languages")
    assert unsure.at_quote["co2e"]["difference"].contains_zero
    said = content_of("pharma_12_languages", language).client.measure_notes[0]
    assert re.search("no clear difference|kein klarer Unterschied|pas de différence nette|sin diferencia clara", said)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("job", JOBS)
def test_every_text_of_ours_on_the_clients_page_passes_the_guard(job, language):
    page = content_of(job, language, client="").client
    ours = replace(page, job="", plant="", curve=replace(page.curve, chart=page.curve.chart))
    assert [text for text in texts_of(ours) if claims_in(text)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_carbon_figures_stand_with_scope_range_and_vintage(language):
    page = content_of("soap_sleeve", language).client
    assert re.search(r"\(\S+ (?:to|bis|à|a) \S+\)", page.measures.rows[0][1])
    assert "UK Government 2025" in page.measure_notes[-1]
    assert len(page.measure_notes[-1]) > 150


# -- names ------------------------------------------------------------------------------------------------------------


def test_a_claim_in_a_name_is_told_to_the_plant_and_not_refused():
    """A client may be called Green Valley; a job must not be sold as sustainable without anybody noticing."""
    content = content_of("soap_sleeve", client="Green Valley Cartons")
    assert content.client.client_line == "for Green Valley Cartons"
    (remark,) = content.remarks
    assert remark.startswith("'Green Valley Cartons' holds 'green'")


def test_names_without_a_claim_raise_no_remark():
    assert content_of("soap_sleeve").remarks == ()


def test_a_name_that_is_too_long_is_shortened_and_the_page_says_so():
    unsure = unsure_of("soap_sleeve")
    named = replace(unsure, comparison=_named(unsure.comparison, "Long " * 80))
    page = made(named, asked_of(named)).client
    assert len(page.job) <= NAME_CHARACTERS
    assert page.job.endswith("…")
    assert page.notes == ("Names that end in … are shortened.",)


def _named(c, name):
    return replace(c, scenario=replace(c.scenario, name=name))


@given(st.text())
def test_a_name_stands_on_one_line_and_steers_nothing(name):
    """Marks of direction would turn round what stands behind a name."""
    shown = one_line(name)
    assert shown == " ".join(shown.split())
    assert not re.search("[\x00-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufeff]", shown)


def test_a_nameless_client_has_no_line():
    assert content_of("soap_sleeve", client="").client.client_line == ""


# -- units ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("country", ["US", "us", "US-CAMX"])
def test_an_american_plant_gets_letter_paper_inches_and_its_dates(country):
    content = content_of("soap_sleeve", "en", f"plant.country={country}")
    assert content.paper == "us-letter"
    assert content.client.facts[0].text == "Sleeve, 3.54 × 1.18 × 2.36 in; blank 10.04 × 2.36 in"
    assert content.client.dates == "November 30, 2026, valid to January 14, 2027"


def test_any_other_plant_gets_a4_and_millimetres():
    content = content_of("soap_sleeve")
    assert content.paper == "a4"
    assert content.client.facts[0].text == "Sleeve, 90 × 30 × 60 mm; blank 255 × 60 mm"


def test_a_carton_given_by_its_lengths_is_not_drawn_and_the_page_says_why():
    layer = Layer("test", {
        "demand.run_length": 1000, "sheet.width_mm": 1000, "sheet.length_mm": 700, "board.grammage_g_m2": 300,
        "board.caliper_mm": 0.4, "carton.blank_area_m2": 0.05, "work.cutting_m": 1.0, "work.creasing_m": 1.0,
        "work.nicks": 0, "work.bends": 0, "work.strokes": 0, "work.corner_load": 0, "layout.ups_die": 1,
        "layout.ups_laser": 1,
    })  # fmt: skip
    c = compare(prepare(layer))
    unsure = uncertainty(c, draws=256, run_lengths=chart_grid(c))
    page = made(unsure, asked_of(unsure)).client
    assert page.outline is None
    assert page.no_outline == "No drawing: the carton is given by its lengths."
    assert page.facts[0].text == "from its lengths; blank of 0.0500 m2"
    assert page.facts[1].text == "board of 300 g/m2, 0.400 mm"


def test_a_drawn_carton_shows_its_lines_by_kind_without_the_findings():
    outline = content_of("window_from_drawing").client.outline
    assert set(outline.legend) == {"cutting", "creasing", "perforating"}
    assert outline.chart.marks == ()


# -- the plant's own pages --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("job", JOBS)
def test_costs_by_stage_add_up_to_the_cost_and_the_price(job, language):
    unsure = unsure_of(job)
    c, page = unsure.comparison, internal_page(unsure, asked_of(unsure, language))
    style = content_of(job, language).style
    assert len(page.stages.rows) == len(STAGES) + 5
    for column, route in ((1, c.die), (2, c.laser)):
        if route.feasible:
            assert page.stages.rows[len(STAGES)][column] == figures(route.cost_per_1000, style=style)
            assert page.stages.rows[len(STAGES) + 1][column] == figures(route.cost_per_1000 * FACTOR, style=style)


def test_the_drivers_are_the_eight_widest():
    unsure = unsure_of("soap_sleeve")
    page = internal_page(unsure, asked_of(unsure))
    assert [row[0] for row in page.drivers.rows] == [driver.name for driver in unsure.drivers[:8]]


def test_values_that_are_the_tables_are_not_listed_and_others_are_with_their_origin():
    page = internal_page(unsure_of("soap_sleeve", "laser.heads=4"), asked_of(unsure_of("soap_sleeve", "laser.heads=4")))
    rows = {row[0]: row for row in page.assumptions.rows}
    assert rows["rates.labour_h"][2:] == ("34 EUR/h", "32 EUR/h", "northfold.toml")
    assert rows["demand.versions"][4] == "soap_sleeve.toml"
    assert "laser.kerf_mm" not in rows


def test_the_internal_page_says_what_it_rests_on():
    unsure = unsure_of("soap_sleeve")
    page = internal_page(unsure, asked_of(unsure), rests_on={"record": "0123456789ab"})
    assert [one.label for one in page.rests_on] == ["program", "tables", "record"]
    assert "uk2025" in page.factor_notes[0]
    assert "steel cans stand in for steel rule" in page.factor_notes[1]
