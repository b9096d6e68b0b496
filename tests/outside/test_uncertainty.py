"""Ranges, draws, indices and the value of information against published formulas, worked examples and libraries.

Sources
-------
PERT: beta distribution of Malcolm et al., Operations Research 7 (1959), in the exact form of the R packages mc2d and
prevalence (mean ``(a + 4 m + b) / 6``, variance ``(mean - a)(b - mean) / 7``). The classic ``((b - a) / 6) ** 2`` is not its variance.
Triangular: standard moments; quantiles against ``scipy.stats.triang``.
Pedigree: the matrix of Weidema and Wesnaes (1996) with ecoinvent's factors, version 1, package pedigree-matrix 0.2.2; worked
example scores 2, 3, 2, 2, 3 with basic factor 1.05.
Ishigami and Homma (1990): indices in closed form.
Value of information: decision tables of worked textbook answers (payoffs 10, 8, 6; 14, 15, 2; 7, 8, 9 with 0.2, 0.4, 0.4:
expected values 7.6, 9.6, 8.2, with perfect information 12.4, value 2.8; costs 50, 60, 70; 45, 55, 65; 40, 60, 85: best 57, value 1.0).
"""

from __future__ import annotations

import warnings
from collections import defaultdict

import numpy as np
import pytest
from scipy import stats

from compare import Inputs, assumption_table, compare
from compare.decide.draws import shares
from compare.decide.information import expected_value_of_perfect_information, value_of_perfect_information
from compare.decide.quantiles import levels_of, quantiles
from compare.decide.uncertainty import uncertainty
from compare.decide.variance_shares import sobol_shares
from compare.factors import factor_spread
from compare.readers.jobfile import ranges_layer, read_file, settings_layer
from compare.scenario import prepare
from compare.spread import Spread, pedigree_gsd2
from compare.valuation.carbon import total_carbon
from tests import oracle
from tests.conftest import DATA

N = 65_536


def _drawn(shape, low, value, high, draws=N):
    return Spread("laser.power_w", shape, low, value, high).ppf(shares([1], draws, 3)[0])


# -- shapes -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ends", "mean", "variance", "levels"),
    [
        ((1, 2, 5), 2.333333, 0.507937, (1.448940, 2.255241, 3.335562)),
        ((30, 45, 90), 50, 114.285714, (36.734098, 48.828610, 65.033422)),
        ((2, 5, 8), 5, 9 / 7, (3.479819, 5, 6.520181)),
        ((400, 650, 1200), 700, 21_428.5714, (513.94607, 688.24222, 903.77789)),
    ],
)
def test_pert_has_the_moments_and_quantiles_of_its_beta(ends, mean, variance, levels):
    """The symmetric case tells the exact variance (9/7) from the classic one (1)."""
    low, value, high = ends
    spread = Spread("laser.power_w", "pert", low, value, high)
    drawn = _drawn("pert", low, value, high)
    assert drawn.mean() == pytest.approx(mean, rel=1e-4)
    assert drawn.var() == pytest.approx(variance, rel=2e-3)
    assert spread.ppf(np.array([0.1, 0.5, 0.9])) == pytest.approx(levels, abs=1e-5 * (high - low))


@pytest.mark.parametrize(
    ("ends", "mean", "variance", "levels"),
    [
        ((1, 2, 5), 2.666667, 0.722222, (1.632456, 2.550510, 3.904555)),
        ((30, 45, 90), 55, 162.5, (39.486833, 53.257654, 73.568323)),
        ((2, 5, 8), 5, 1.5, (3.341641, 5, 6.658359)),
        ((400, 650, 1200), 750, 27_916.6667, (541.42136, 730.95842, 990.23824)),
    ],
)
def test_triangular_has_its_moments_and_quantiles(ends, mean, variance, levels):
    low, value, high = ends
    drawn = _drawn("triangular", low, value, high)
    assert drawn.mean() == pytest.approx(mean, rel=1e-4)
    assert drawn.var() == pytest.approx(variance, rel=2e-3)
    share = np.array([0.1, 0.5, 0.9])
    assert Spread("laser.power_w", "triangular", low, value, high).ppf(share) == pytest.approx(levels, rel=1e-6)


def test_triangular_equals_scipy_everywhere():
    share = np.linspace(1e-6, 1 - 1e-6, 10_001)
    ours = Spread("laser.power_w", "triangular", 1, 2, 5).ppf(share)
    assert np.abs(ours - stats.triang(0.25, 1, 4).ppf(share)).max() < 1e-12


def test_4096_draws_of_a_pert_have_its_mean_and_variance():
    drawn = _drawn("pert", 30, 45, 90, draws=4_096)
    assert drawn.mean() == pytest.approx(50, abs=0.01)
    assert drawn.var() == pytest.approx(114.286, abs=0.1)


def test_the_worked_pedigree_gives_its_published_spread():
    gsd2 = pedigree_gsd2([2, 3, 2, 2, 3], 1.05)
    assert gsd2 == pytest.approx(1.22551, abs=5e-6)
    assert np.log(gsd2) / 2 == pytest.approx(0.10168, abs=5e-6)
    assert pedigree_gsd2([2, 3, 2, 2, 3], 2.0) == pytest.approx(2.05590, abs=1e-5)


def test_the_best_pedigree_has_no_spread():
    assert pedigree_gsd2([1, 1, 1, 1, 1], 1.0) == 1


def test_a_worse_score_never_narrows_a_pedigree():
    for place in range(5):
        found = [pedigree_gsd2([3 if k != place else score for k in range(5)], 1.05) for score in (1, 2, 3, 4, 5)]
        assert found == sorted(found)


def test_a_lognormal_has_its_value_as_median_and_95_of_100_cases_within_gsd2():
    """z is 1.96 where the convention says 2: two to three per cent at the ends are allowed for."""
    gsd2 = 1.22551
    drawn = _drawn("lognormal", 0.344 / gsd2, 0.344, 0.344 * gsd2)
    assert np.median(drawn) == pytest.approx(0.344, rel=1e-3)
    assert np.quantile(drawn, [0.025, 0.975]) == pytest.approx([0.344 / gsd2, 0.344 * gsd2], rel=0.03)
    assert drawn.mean() / 0.344 == pytest.approx(1.00518, abs=2e-4)


def test_the_grid_of_the_default_factor_set_has_the_worked_pedigree():
    assert factor_spread("uk2025", "kwh") == pytest.approx(1.22551, abs=5e-6)


# -- draws ------------------------------------------------------------------------------------------------------------


def test_the_half_width_is_that_of_the_order_statistics_of_a_normal():
    """Standard error 1.7094 sd / sqrt(n) at P10 of a normal (David and Nagaraja, from memory), tried on 200 samples."""
    rng = np.random.default_rng(11)
    found = [quantiles(rng.normal(size=4_096)) for _ in range(200)]
    spread = np.std([q.p10 for q in found])
    assert spread == pytest.approx(1.7094 / 64, rel=0.15)
    assert np.mean([q.half_p10 for q in found]) / 1.96 == pytest.approx(1.7094 / 64, rel=0.1)


def test_evenly_spread_draws_beat_random_ones():
    """Error of the median of a step-cost difference with 1,024 draws, over 30 seeds, against 1/4 million random draws."""

    def output(u):
        return 10 * u[0] + 8 * u[1] - 9 * u[2] + 3 * np.ceil(4 * u[3]) + 5 * np.maximum(u[4] - u[5], 0)

    truth = np.median(output(np.random.default_rng(1).random((6, 262_144))))
    even = [np.median(output(shares(range(6), 1_024, seed))) - truth for seed in range(30)]
    random = [np.median(output(np.random.default_rng(s).random((6, 1_024)))) - truth for s in range(100, 130)]
    assert np.sqrt(np.mean(np.square(even))) < 0.6 * np.sqrt(np.mean(np.square(random)))


# -- indices ----------------------------------------------------------------------------------------------------------


def test_ishigami_has_its_published_indices():
    class Uniform:
        def ppf(self, share):
            return np.pi * (2 * share - 1)

    def ishigami(x):
        return np.sin(x[0]) + 7 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])

    found = sobol_shares(ishigami, {name: Uniform() for name in "abc"}, points=8_192, seed=7)
    by_name = {share.name: share for share in found}
    assert [by_name[n].alone for n in "abc"] == pytest.approx([0.313905, 0.442411, 0], abs=0.02)
    assert [by_name[n].total for n in "abc"] == pytest.approx([0.557589, 0.442411, 0.243684], abs=0.01)


# -- value of information ---------------------------------------------------------------------------------------------


def test_perfect_information_in_a_table_of_payoffs():
    probability = np.array([0.2, 0.4, 0.4])
    payoff = np.array([[10, 8, 6], [14, 15, 2], [7, 8, 9]], dtype=float)
    assert payoff @ probability == pytest.approx([7.6, 9.6, 8.2])
    assert probability @ payoff.max(axis=0) == pytest.approx(12.4)
    assert expected_value_of_perfect_information(probability, payoff) == pytest.approx(2.8, abs=1e-9)


def test_perfect_information_in_a_table_of_costs():
    probability = np.array([0.2, 0.4, 0.4])
    cost = np.array([[50, 60, 70], [45, 55, 65], [40, 60, 85]], dtype=float)
    assert cost @ probability == pytest.approx([62, 57, 66])
    assert expected_value_of_perfect_information(probability, -cost) == pytest.approx(1.0, abs=1e-9)


def test_perfect_information_about_a_normal_difference():
    """sd (phi(k) - k (1 - Phi(k))) with k = |mean| / sd: 395.5931 for mean 1,000 and sd 2,000; laser cheaper in 69.1 %."""
    difference = stats.norm(1_000, 2_000).ppf(shares([5], N, 2)[0])
    k = 0.5
    exact = 2_000 * (stats.norm.pdf(k) - k * stats.norm.sf(k))
    assert exact == pytest.approx(395.5931, abs=1e-3)
    assert value_of_perfect_information(difference) == pytest.approx(exact, rel=0.01)
    assert np.mean(difference > 0) == pytest.approx(0.691462, abs=1e-3)


# -- the whole job ----------------------------------------------------------------------------------------------------

ESTIMATED = ("laser.path=estimated", "demand.run_length=6000")


def _job(name, *settings, ranges=()):
    job = read_file(DATA / "demo" / f"{name}.toml", kind="job")
    return compare(prepare(job, settings_layer(list(settings)), ranges_layer(list(ranges))))


@pytest.mark.parametrize("name", ["bakery_tray", "soap_sleeve"])
def test_an_independent_monte_carlo_agrees_within_its_standard_error(name):
    """Plain NumPy random triangular draws through the second implementation of the model, one job at a time."""
    c = _job(name, *ESTIMATED, ranges=[f"factors.{role}=fixed" for role in _ROLES])
    u = uncertainty(c)
    rng, count = np.random.default_rng(5), 1_500
    base = {n: float(v) for n, v in c.scenario.inputs.items()}
    drawn = {n: rng.triangular(s.low, s.value, s.high, count) for n, s in u.varied.spreads.items()}
    per_order = []
    for k in range(count):
        x = {**base, **{n: float(v[k]) for n, v in drawn.items()}}
        laser, die = oracle.evaluate(x, "laser"), oracle.best_die(x)
        thousands = x["demand.orders_per_year"] * x["demand.years"] * x["demand.run_length"] / 1_000
        per_order.append([(laser[m] - die[m]) / thousands for m in ("cost", "co2e")])
    for measure, theirs in zip(("cost", "co2e"), np.array(per_order).T, strict=True):
        ours = u.at_quote[measure]["difference"]
        own = quantiles(theirs)
        for level in ("p10", "p50", "p90"):
            allowed = 2 * getattr(own, f"half_{level}")  # four standard errors
            assert abs(getattr(ours, level) - getattr(own, level)) < allowed
    assert u.laser_cheaper == pytest.approx(np.mean(np.array(per_order)[:, 0] < 0), abs=4 * 0.5 / np.sqrt(count))


_ROLES = ("board_kg", "kwh", "die_board_kg", "steel_kg", "rubber_kg", "plastic_kg", "freight_tkm", "waste_board_kg")


def test_bw2calc_draws_the_same_carbon():
    """bw2calc draws lognormal factors once for both routes, and so do we: quantiles of the difference agree."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import bw2calc
        import bw_processing as bwp
    factors = {f"factors.{role}" for role in _ROLES}
    known = [
        f"{name}=fixed"
        for name, row in assumption_table().items()
        if row.shape != "fixed" and name not in factors and row.value is not None
    ]
    c = _job("subscription_monthly", "laser.path=estimated", ranges=known)
    u = uncertainty(c, draws=16_384)
    assert set(u.varied.spreads) <= factors
    # kilograms of difference per unit of each factor, from the ledger: what a factor of 1 would give
    x = c.scenario.inputs
    amounts = defaultdict(float)
    for route, sign in ((c.laser, 1), (c.die, -1)):
        for role in _ROLES:
            name = f"factors.{role}"
            of_unit = Inputs({**x, **dict.fromkeys(factors, 0.0), name: 1.0})
            amounts[name] += sign * float(total_carbon(route.inventory, of_unit)) / route.thousands
    names = sorted(amounts)
    products = range(1, len(names) + 1)
    whole = 100
    package = bwp.create_datapackage()
    package.add_persistent_vector(
        matrix="technosphere_matrix",
        indices_array=np.array(
            [(p, p) for p in (*products, whole)] + [(p, whole) for p in products], dtype=bwp.INDICES_DTYPE
        ),
        data_array=np.array([1.0] * (len(names) + 1) + [amounts[n] for n in names]),
        flip_array=np.array([False] * (len(names) + 1) + [True] * len(names)),
    )
    spread = np.zeros(len(names), dtype=bwp.UNCERTAINTY_DTYPE)
    spread["minimum"] = spread["maximum"] = np.nan
    spread["uncertainty_type"] = 2  # lognormal: loc is ln(median), scale its sigma
    spread["loc"] = [np.log(u.varied.spreads[n].value) for n in names]
    spread["scale"] = [np.log(u.varied.spreads[n].high / u.varied.spreads[n].value) / 2 for n in names]
    package.add_persistent_vector(
        matrix="biosphere_matrix",
        indices_array=np.array([(900, p) for p in products], dtype=bwp.INDICES_DTYPE),
        data_array=np.array([u.varied.spreads[n].value for n in names]),
        distributions_array=spread,
    )
    package.add_persistent_vector(
        matrix="characterization_matrix",
        indices_array=np.array([(900, 900)], dtype=bwp.INDICES_DTYPE),
        data_array=np.array([1.0]),
    )
    calculation = bw2calc.LCA({whole: 1}, data_objs=[package], use_distributions=True, seed_override=17)
    calculation.lci()
    calculation.lcia()
    scores = []
    for _ in range(3_000):
        next(calculation)
        scores.append(calculation.score)
    theirs, ours = quantiles(np.array(scores)), u.at_quote["co2e"]["difference"]
    for level in ("p10", "p50", "p90"):
        assert abs(getattr(ours, level) - getattr(theirs, level)) < 2 * getattr(theirs, f"half_{level}")


def test_levels_are_those_of_numpy():
    values = np.random.default_rng(2).normal(size=(5, 4_096))
    assert levels_of(values) == pytest.approx(np.quantile(values, [0.1, 0.5, 0.9], axis=-1), rel=1e-12)
