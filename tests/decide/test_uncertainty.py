"""How sure the answer is: the same bits, shared draws, ordered quantiles, and what was varied."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare import assumption_table, compare
from compare.decide.break_even import break_evens
from compare.decide.draws import MOST_DRAWS, STREAMS, check_draws, shares
from compare.decide.evaluate import evaluate
from compare.decide.information import value_of_perfect_information
from compare.decide.uncertainty import one_at_a_time, sureness_of, uncertainty
from compare.decide.variance_shares import variance_shares
from compare.decide.varied_inputs import varied_inputs
from compare.errors import EvenrunError
from compare.names import Inputs
from compare.readers.jobfile import Layer, ranges_layer, read_file, settings_layer
from compare.scenario import prepare
from compare.spread import Given
from tests.conftest import DATA

TABLE = assumption_table()
OPEN = ("demand.run_length=20000",)
"""A run at which the tablet carton is open."""


def job(name="pharma_12_languages", *settings_, ranges=(), plant=None):
    """Compare a demo job, with the ranges of the table unless a plant knows its own."""
    layers = [read_file(DATA / "plants" / f"{plant}.toml", kind="plant")] if plant else []
    layers += [read_file(DATA / "demo" / f"{name}.toml", kind="job"), settings_layer(list(settings_))]
    return compare(prepare(*layers, ranges_layer(list(ranges))))


@pytest.fixture(scope="module")
def tablets():
    return uncertainty(job(), run_lengths=40)


# -- draws ------------------------------------------------------------------------------------------------------------


def test_the_same_seed_gives_the_same_bits(tablets):
    again = uncertainty(job(), run_lengths=40)
    assert again.at_quote == tablets.at_quote
    assert np.array_equal(again.bands["cost"]["die"].p90, tablets.bands["cost"]["die"].p90)
    assert np.array_equal(again.break_even.values, tablets.break_even.values)
    assert again.drivers == tablets.drivers


def test_another_seed_gives_other_draws_and_the_same_answer_within_its_half_width(tablets):
    other = uncertainty(job(), run_lengths=40, seed=2)
    a, b = tablets.at_quote["cost"]["difference"], other.at_quote["cost"]["difference"]
    assert a != b
    assert abs(a.p10 - b.p10) < a.half_p10 + b.half_p10


def test_every_number_has_a_stream_of_its_own():
    """Two inputs of one stream would rise and fall together."""
    streams = [row.stream for row in TABLE.values() if not row.is_text]
    assert None not in streams
    assert len(set(streams)) == len(streams)
    assert max(streams) < STREAMS


def test_a_stream_does_not_depend_on_the_others_that_are_asked_for():
    assert np.array_equal(shares([7, 3, 90], 256, 1)[1], shares([3], 256, 1)[0])


def test_fixing_an_input_without_bearing_changes_no_bit(tablets):
    """Results must not depend on what else is varied: the carton has no varnish to release."""
    fixed = uncertainty(job(ranges=["laser.varnish_depth=fixed"]), run_lengths=40)
    assert "laser.varnish_depth" in tablets.varied.spreads
    assert "laser.varnish_depth" not in fixed.varied.spreads
    assert fixed.at_quote == tablets.at_quote


def test_asking_for_less_changes_no_bit_of_the_rest(tablets):
    only = uncertainty(job(), run_lengths=40, measures=("cost",))
    assert only.at_quote["cost"] == tablets.at_quote["cost"]
    assert np.array_equal(only.laser_cheaper_along, tablets.laser_cheaper_along)


def test_the_order_in_which_inputs_are_given_changes_nothing(tablets):
    """Ranges in another order, through another layer."""
    spreads = list(tablets.varied.spreads.values())[:12]
    texts = [f"{s.name}={Given(s.shape, s.low, s.high)}" for s in spreads if s.shape == "triangular"]
    there, back = (uncertainty(job(ranges=some), run_lengths=40) for some in (texts, texts[::-1]))
    assert there.at_quote == back.at_quote == tablets.at_quote


@pytest.mark.parametrize("draws", [0, 1, 255, 1_000, 131_072, 1_000_000, -4])
def test_a_number_of_draws_that_makes_no_sense_is_refused(draws):
    with pytest.raises(EvenrunError, match="power of two from 256 to 65,536"):
        check_draws(draws, where="--draws")


def test_the_most_draws_can_be_made():
    assert shares([0], MOST_DRAWS, 1).shape == (1, MOST_DRAWS)


# -- both routes see the same -----------------------------------------------------------------------------------------


def test_shared_draws_spread_the_difference_less_than_separate_ones():
    """Board dominates both totals: draws of its own for each route would hide a difference that is there."""
    c = job("cereal_400000")
    varied = varied_inputs(c.scenario)
    one, other = (evaluate(varied.at(varied.draw(4_096, seed))) for seed in (1, 2))
    for measure in ("cost", "co2e"):
        shared = one.per_1000("laser", measure) - one.per_1000("die", measure)
        separate = one.per_1000("laser", measure) - other.per_1000("die", measure)
        assert np.std(shared) < 0.7 * np.std(separate)


def test_the_draws_of_a_route_are_the_engine_at_those_inputs(tablets):
    """Bands are made from coefficients; the engine itself, at the same draws, must say the same."""
    varied = tablets.varied
    totals = evaluate(varied.at(varied.draw(tablets.draws, tablets.seed)))
    for measure in ("cost", "co2e", "waste"):
        gap = totals.per_1000("laser", measure) - totals.per_1000("die", measure)
        expected = np.quantile(gap, [0.1, 0.5, 0.9])
        found = tablets.at_quote[measure]["difference"]
        assert [found.p10, found.p50, found.p90] == pytest.approx(expected, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("name", ["soap_sleeve", "subscription_monthly", "window_from_drawing"])
def test_bands_are_the_engine_along_the_run_length(name):
    """Ganged dies, perforations, planned paths: at three run lengths of the grid."""
    u = uncertainty(job(name), draws=256, run_lengths=12)
    drawn = u.varied.draw(256, u.seed)
    for k in (2, 6, 11):
        run = {"demand.run_length": np.full(256, u.run_lengths[k])}
        totals = evaluate(u.varied.at({**drawn, **run}))
        for which in ("die", "laser"):
            expected = np.quantile(totals.per_1000(which, "cost"), [0.1, 0.5, 0.9])
            band = u.bands["cost"][which]
            assert [band.p10[k], band.p50[k], band.p90[k]] == pytest.approx(expected, rel=1e-9)


def test_quantiles_are_ordered(tablets):
    for by_route in tablets.bands.values():
        for band in by_route.values():
            assert np.all(band.p10 <= band.p50)
            assert np.all(band.p50 <= band.p90)
    for by_route in tablets.at_quote.values():
        for q in by_route.values():
            assert q.p10 <= q.p50 <= q.p90


def test_without_ranges_the_bands_collapse_onto_the_line():
    """low = value = high, PERT included, whose shape formulas divide by the width."""
    c = job()
    names = list(varied_inputs(c.scenario).spreads)
    flat = [f"{n}={c.scenario.inputs.number(n)!r}..{c.scenario.inputs.number(n)!r} pert" for n in names]
    u = uncertainty(job(ranges=flat), draws=256, run_lengths=30)
    assert u.varied.spreads == {}
    for which, route in (("die", u.comparison.die), ("laser", u.comparison.laser)):
        assert u.at_quote["cost"][which][:3] == pytest.approx([route.cost_per_1000] * 3, rel=1e-9)
        line = u.comparison.cost_per_1000_at(u.run_lengths)[which]
        for level in ("p10", "p50", "p90"):
            assert getattr(u.bands["cost"][which], level) == pytest.approx(line, rel=1e-9)
    assert u.laser_cheaper in (0.0, 1.0)
    assert u.drivers == ()
    assert u.worth_per_year == 0


# -- break-even -------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def exact_and_drawn():
    """Break-evens of 60 draws by the exact search of ranges, and as they are found for all draws at once."""
    u = uncertainty(job(), draws=256, run_lengths=2)
    drawn, exact = u.varied.draw(256, u.seed), []
    for k in range(60):
        x = u.varied.at({name: float(values[k]) for name, values in drawn.items()})
        found = break_evens(Inputs(dict(x), x.loads), last=u.break_even.end)["cost"]
        throughout = len(found.ranges) == 1 and found.ranges[0].lowest == "die"
        exact.append(found.run_length or (found.start if throughout else np.inf))
    return np.array(exact), u.break_even.values[:60]


def test_break_even_by_draw_is_mostly_the_exact_one(exact_and_drawn):
    """Where sheets or tools begun make the routes change places within a step of the grid, a change may be passed over."""
    exact, drawn = exact_and_drawn
    assert np.sum(exact == drawn) >= 50
    assert np.array_equal(np.isinf(exact), np.isinf(drawn))


def test_no_break_even_is_found_after_the_exact_one(exact_and_drawn):
    """From the exact one on the die is cheaper for good, so nothing can be found beyond it."""
    exact, drawn = exact_and_drawn
    assert np.all(drawn <= exact)


def test_never_and_always_are_counted(tablets):
    found = tablets.break_even
    assert 0 < found.never < 1
    assert found.never == np.mean(tablets.break_even.values == np.inf)
    assert found.always == np.mean(tablets.break_even.values == found.start)
    assert (found.p10 == found.start) == (found.always >= 0.1)
    assert (found.p90 == np.inf) == (found.never > 0.1)


def test_break_even_levels_are_values_of_draws(tablets):
    assert {tablets.break_even.p10, tablets.break_even.p50, tablets.break_even.p90} <= set(tablets.break_even.values)


# -- what drives it, and what it is worth -----------------------------------------------------------------------------


def test_swapping_what_is_dearer_flips_the_sign_of_a_driver(tablets):
    """More rule cost moves laser less die down, more laser cost moves it up."""
    by_name = {d.name: d for d in tablets.drivers}
    assert by_name["die.separation_h_per_1000"].at_high < by_name["die.separation_h_per_1000"].at_low
    assert by_name["laser.separation_h_per_1000"].at_high > by_name["laser.separation_h_per_1000"].at_low
    assert by_name["laser.separation_h_per_1000"].mean_highest > by_name["laser.separation_h_per_1000"].mean_lowest


def test_drivers_come_widest_first_and_none_of_them_moves_nothing(tablets):
    swings = [d.swing for d in tablets.drivers]
    assert swings == sorted(swings, reverse=True)
    assert min(swings) > 0
    assert "laser.varnish_depth" not in {d.name for d in tablets.drivers}


def test_the_base_of_the_drivers_is_the_difference_at_the_values(tablets):
    c = tablets.comparison
    assert tablets.base_difference == pytest.approx(c.laser.cost_per_1000 - c.die.cost_per_1000, rel=1e-9)


def test_an_end_of_a_driver_is_the_job_with_that_value(tablets):
    driver = tablets.drivers[0]
    moved = job("pharma_12_languages", f"{driver.name}={driver.high!r}")
    assert driver.at_high == pytest.approx(moved.laser.cost_per_1000 - moved.die.cost_per_1000, rel=1e-9)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40))
def test_perfect_information_is_never_worth_less_than_nothing(values):
    assert value_of_perfect_information(np.array(values)) >= 0


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.lists(st.floats(0, 1e6), min_size=1, max_size=40))
def test_where_one_route_is_always_cheaper_knowing_better_is_worth_nothing(values):
    """But for rounding of the mean."""
    assert value_of_perfect_information(np.array(values)) <= 1e-9 * max(values)


def test_no_single_input_is_worth_more_than_knowing_everything(tablets):
    assert max(d.worth_per_year for d in tablets.drivers) <= tablets.worth_per_year


def test_a_job_of_four_orders_a_year_is_worth_four_times_an_order():
    u = uncertainty(job(*("pharma_12_languages", *OPEN)), draws=1_024, run_lengths=2)
    per_year = u.comparison.scenario.inputs.number("demand.orders_per_year")
    assert u.worth_per_year == pytest.approx(per_year * u.worth_per_order, rel=1e-9)


def test_variance_shares_name_the_input_that_moves_most():
    u = uncertainty(job(), draws=256, run_lengths=2)
    found = variance_shares(u.varied, points=256)
    assert found[0].name == "die.separation_h_per_1000"
    assert 0.8 < sum(max(share.alone, 0) for share in found) < 1.2
    assert found == variance_shares(u.varied, points=256)


# -- words ------------------------------------------------------------------------------------------------------------


def test_clear_means_that_the_range_lies_on_one_side_of_zero():
    for name in ("bakery_tray", "pharma_12_languages", "soap_sleeve"):
        u = uncertainty(job(name), run_lengths=2)
        gap = u.at_quote["cost"]["difference"]
        assert (u.sureness == "clear") == (gap.p90 < 0 or gap.p10 > 0)


@pytest.mark.parametrize(
    ("share", "word"), [(1, "clear"), (0.9, "clear"), (0.89, "likely"), (0.7, "likely"), (0.69, "open")]
)
def test_words_follow_the_share(share, word):
    assert sureness_of(share) == word


def test_a_job_that_one_route_can_make_has_bands_of_that_route_alone():
    u = uncertainty(job("toy_pvc_laminate"), draws=256, run_lengths=5)
    assert set(u.at_quote["cost"]) == set(u.bands["cost"]) == {"die"}
    assert (u.sureness, u.leaning, u.break_even, u.worth_per_year, u.drivers) == (None, None, None, None, ())


# -- what is varied ---------------------------------------------------------------------------------------------------


def test_a_value_that_was_given_without_a_range_is_taken_as_known():
    u = varied_inputs(job("bakery_tray", "laser.power_w=800").scenario)
    assert u.known["laser.power_w"] == "given"
    assert "laser.power_w" not in u.spreads


def test_a_value_given_again_has_not_the_range_of_a_weaker_layer():
    plant = Layer("plant", {"rates.labour_h": 30.0}, ranges={"rates.labour_h": Given("triangular", 28, 33)})
    job_layer = read_file(DATA / "demo" / "bakery_tray.toml", kind="job")
    assert varied_inputs(prepare(plant, job_layer)).spreads["rates.labour_h"].high == 33
    again = prepare(plant, job_layer, settings_layer(["rates.labour_h=60"]))
    assert "rates.labour_h" not in varied_inputs(again).spreads


def test_a_rate_that_is_worked_out_follows_the_hours_of_the_machine():
    c = job(ranges=["line_capital.hours_y=2000..4500"], plant="northfold")
    u = varied_inputs(c.scenario)
    drawn = u.draw(256, 1)
    rates = u.at(drawn)["rates.laser_h"]
    hours = drawn["line_capital.hours_y"]
    at_values = c.scenario.inputs.number("rates.laser_h") * c.scenario.inputs.number("line_capital.hours_y")
    assert rates == pytest.approx(at_values / hours, rel=1e-9)
    assert "rates.laser_h" not in u.known


def test_the_price_of_a_board_of_the_table_has_the_tables_range_in_proportion():
    c = job("bakery_tray")
    spread, row = varied_inputs(c.scenario).spreads["board.price_per_t"], TABLE["board.price_per_t"]
    assert spread.low / spread.value == pytest.approx(row.low / row.value)
    assert spread.high / spread.value == pytest.approx(row.high / row.value)


def test_a_path_that_was_planned_stays_planned():
    """Draws must not fall back on the estimate: what the path was planned for is taken as known."""
    u = varied_inputs(job("bakery_tray").scenario)
    assert u.at(u.draw(256, 1)).loads is not None
    assert u.known["laser.heads"] == "path"


def test_an_uncertain_run_length_widens_the_difference():
    plain = uncertainty(job(*("cosmetics_cutouts",)), draws=1_024, run_lengths=2)
    wide = uncertainty(job("cosmetics_cutouts", ranges=["demand.run_length=3000..9000"]), draws=1_024, run_lengths=2)
    a, b = (u.at_quote["cost"]["difference"] for u in (plain, wide))
    assert b.p90 - b.p10 > a.p90 - a.p10
    assert np.all(wide.varied.draw(256, 1)["demand.run_length"] % 1 == 0)


@pytest.mark.parametrize(
    ("ranges", "words"),
    [
        (
            ["carton.length_mm=70..80"],
            "carton.length_mm can't have a range here, for other inputs are worked out from it",
        ),
        (
            ["laser.heads=2..6"],
            "laser.heads can't have a range here, for the path of the beam was planned for its value",
        ),
        (["demand.versions=1..30000"], "demand.versions is above demand.run_length somewhere in the ranges"),
    ],
)
def test_a_range_that_can_not_be_varied_is_refused(ranges, words):
    with pytest.raises(EvenrunError, match=words):
        uncertainty(job(ranges=ranges), draws=256, run_lengths=2)


def test_a_range_without_bearing_is_named():
    u = varied_inputs(job(ranges=["die.max_force_kn=2000..3000"]).scenario)
    assert u.known["die.max_force_kn"] == "no bearing"


def test_one_at_a_time_leaves_everything_else_at_its_value():
    c = job("bakery_tray", ranges=["rates.kwh=0.18..0.18"])
    u = varied_inputs(c.scenario)
    base, ends = one_at_a_time(u, c)
    assert len(ends) == len(u.spreads)
    assert base == pytest.approx(c.laser.cost_per_1000 - c.die.cost_per_1000)


@pytest.mark.parametrize(
    ("settings_", "ranges"),
    [
        (("demand.run_length=60000",), ["demand.versions=1..40"]),
        (("die.max_tool_sets=2",), ["demand.versions=1..12"]),
        (("laser.path=estimated",), ["work.cutting_m=0.5..40"]),
    ],
)
def test_a_range_beyond_what_a_route_can_make_is_refused(settings_, ranges):
    """Draws that nobody can make must not be priced as if somebody could."""
    with pytest.raises(EvenrunError, match=r"the die can't make this job .* though it can at the values"):
        uncertainty(job("bakery_tray", *settings_, ranges=ranges), draws=256, run_lengths=2)


def test_versions_that_share_a_die_in_some_draws_take_the_cheaper_possible_way():
    """Ganging is possible up to the ups of the sheet: beyond, each version has its own die."""
    c = job("soap_sleeve", ranges=["demand.versions=2..20"])
    u = uncertainty(c, draws=256, run_lengths=2)
    totals = evaluate(u.varied.at(u.varied.draw(256, u.seed)))
    expected = np.quantile(totals.per_1000("die", "cost"), [0.1, 0.5, 0.9])
    assert u.at_quote["cost"]["die"][:3] == pytest.approx(expected, rel=1e-9)
