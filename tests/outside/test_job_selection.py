"""Choosing jobs against published instances of the knapsack and of the generalised assignment problem, and HiGHS."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.sparse import csr_array

from compare.decide.assignment import assign
from compare.decide.hour_prices import Capacity, bound_and_prices, saving_by_limit
from compare.decide.selection import choose


def numbers(text):
    return np.array(text.split(), dtype=float)


# Published: J. Burkardt, Florida State University, KNAPSACK_01, "data for the 01 knapsack problem", P01 to P08:
# capacity, weights, profits and the optimal choice. What stands behind it (the bound in which parts count, the value
# of one more unit, and the profit by ratio, skipping what does not fit) is derived here by scipy's linprog and by hand.
KNAPSACKS = {
    "p01": (165, "23 31 29 44 53 38 63 85 89 82", "92 57 49 68 60 43 67 84 87 72",
            "1111010000", 309, 309.018868, 1.132075, 309),
    "p02": (26, "12 7 11 8 9", "24 13 23 15 16", "01110", 51, 52.625, 1.875, 47),
    "p03": (190, "56 59 80 64 75 17", "50 50 64 46 50 5", "110010", 150, 160, 0.8, 146),
    "p04": (50, "31 10 20 19 4 3 6", "70 20 39 37 7 5 10", "1001000", 107, 107.55, 1.95, 102),
    "p05": (104, "25 35 45 5 25 3 2 2", "350 400 450 20 70 8 5 5", "10111011", 900, 1190, 10, 858),
    "p06": (170, "41 50 49 59 55 57 60", "442 525 511 593 546 564 617", "0101001", 1735, 1786.5, 10.283333, 1478),
    "p07": (750, "70 73 77 80 82 87 90 94 98 106 110 113 115 118 120",
            "135 139 149 150 156 163 173 184 192 201 210 214 221 229 240",
            "101010111000011", 1458, 1461.504348, 1.921739, 1441),
    "p08": (6404180,
            "382745 799601 909247 729069 467902 44328 34610 698150 823460 903959 853665 551830 610856 670702 488960 "
            "951111 323046 446298 931161 31385 496951 264724 224916 169684",
            "825594 1677009 1676628 1523970 943972 97426 69666 1296457 1679693 1902996 1844992 1049289 1252836 1319836 "
            "953277 2067538 675367 853655 1826027 65731 901489 577243 466257 369261",
            "110111000110100100000111", 13549094, 13580982.5228, 2.039799, 13415886),
}  # fmt: skip


@pytest.fixture(params=KNAPSACKS)
def knapsack(request):
    limit, use, saving, *rest = KNAPSACKS[request.param]
    return numbers(saving), Capacity("weight", numbers(use), float(limit)), *rest


def test_published_knapsacks_are_solved_to_their_published_optimum(knapsack):
    saving, capacity, choice, optimum, *_ = knapsack
    chosen = choose(saving, [capacity])
    assert chosen.saving == optimum
    assert "".join(str(int(taken)) for taken in chosen.on_laser) == choice
    assert chosen.exact
    assert chosen.bound == pytest.approx(optimum, rel=1e-9)


def test_bound_and_price_of_published_knapsacks(knapsack):
    """Derived: Dantzig's rule by hand, and the optimum and marginal of scipy's linprog."""
    saving, capacity, _, optimum, bound, price, by_ratio = knapsack
    found = bound_and_prices(saving, [capacity])
    assert found.value == pytest.approx(bound, abs=1e-4)
    assert found.prices == pytest.approx([price], abs=1e-5)
    assert found.value >= optimum >= by_ratio


def test_choice_by_ratio_alone_reports_how_much_may_be_missing(knapsack):
    """Derived: the eighth set leaves 1.2156 % open, so that nobody takes the first choice for the best."""
    saving, capacity, _, optimum, bound, _, by_ratio = knapsack
    quick = choose(saving, [capacity], time_limit_s=0.0)
    assert quick.saving == by_ratio
    assert quick.gap == pytest.approx((bound - by_ratio) / bound, abs=1e-8)
    assert quick.gap >= (optimum - by_ratio) / bound


def test_curve_of_published_knapsacks_passes_through_bound_and_choice_by_ratio(knapsack):
    saving, capacity, _, _, bound, price, by_ratio = knapsack
    curve = saving_by_limit(saving, capacity, np.array([capacity.limit]))
    assert curve.bound == pytest.approx([bound], abs=1e-4)
    assert curve.price == pytest.approx([price], abs=1e-5)
    assert curve.saving == pytest.approx([by_ratio])


# -- the linear programme of scipy (HiGHS) as a second opinion; derived here ----------------------------------------


def random_book(seed, jobs, months):
    """Lognormal hours, savings of either sign; a limit of a year, of each month and of one board."""
    rng = np.random.default_rng(seed)
    hours = rng.lognormal(1, 1, jobs)
    saving = rng.normal(30, 120, jobs) * hours**0.7
    capacities = [Capacity("hours a year", hours, 0.3 * hours.sum())]
    if months:
        month, board = rng.integers(0, 12, jobs), rng.random(jobs) < 0.3
        shares = rng.uniform(0.015, 0.035, 12)
        capacities += [Capacity(f"month {k}", hours * (month == k), s * hours.sum()) for k, s in enumerate(shares)]
        capacities.append(Capacity("share of a board", hours * board, 0.15 * (hours * board).sum()))
    return saving, capacities


def in_parts(saving, capacities):
    rows = csr_array(np.array([capacity.use for capacity in capacities]))
    limits = [capacity.limit for capacity in capacities]
    return linprog(-saving, A_ub=rows, b_ub=limits, bounds=(0, 1), method="highs")


@pytest.mark.parametrize(
    ("jobs", "months", "seed"), [(2000, False, 1), (2000, True, 2), (5000, True, 3), (5000, True, 4)]
)
def test_bound_and_prices_are_those_of_the_linear_programme(jobs, months, seed):
    saving, capacities = random_book(seed, jobs, months)
    found, solved = bound_and_prices(saving, capacities), in_parts(saving, capacities)
    assert found.value == pytest.approx(-solved.fun, rel=1e-8)
    assert found.prices == pytest.approx(-solved.ineqlin.marginals, rel=1e-6, abs=1e-6)
    assert np.count_nonzero(found.prices) >= (5 if months else 1)


def test_price_of_an_hour_is_what_one_more_hour_brings():
    """Solved again with a thousandth of an hour more: little enough that the same job stays at the margin."""
    saving, (capacity,) = random_book(5, 10_000, months=False)
    less, more = (
        bound_and_prices(saving, [Capacity("hours", capacity.use, capacity.limit + step)]) for step in (0, 1e-3)
    )
    assert (more.value - less.value) / 1e-3 == pytest.approx(less.prices[0], rel=1e-6)
    ratios = saving / capacity.use
    assert np.isclose(ratios, less.prices[0], rtol=1e-12).any()  # that of the job of which a part moves


# -- several lines ---------------------------------------------------------------------------------------------------

# Published: OR-Library gap1, instance c515-1 (5 agents, 15 jobs), in the form shipped as an example with GLPK.
# Optimum 261 as a minimum and 336 as a maximum: OR-Library notes; I. H. Osman, "Heuristics for the generalised
# assignment problem", OR Spektrum 17 (1995) 211-225. The bounds in parts are derived here by scipy's linprog.
LIMITS = numbers("36 34 38 27 33")
USE = numbers("""
     8 15 14 23  8 16  8 25  9 17 25 15 10  8 24
    15  7 23 22 11 11 12 10 17 16  7 16 10 18 22
    21 20  6 22 24 10 24  9 21 14 11 14 11 19 16
    20 11  8 14  9  5  6 19 19  7  6  6 13  9 18
     8 13 13 13 10 20 25 16 16 17 10 10  5 12 23
""").reshape(5, 15)
COST = numbers("""
    17 21 22 18 24 15 20 18 19 18 16 22 24 24 16
    23 16 21 16 17 16 19 25 18 21 17 15 25 17 24
    16 20 16 25 24 16 17 19 19 18 20 16 17 21 24
    19 19 22 22 20 16 19 17 21 19 25 23 25 25 25
    18 19 15 15 21 25 16 16 23 15 22 17 19 22 24
""").reshape(5, 15)


@pytest.mark.parametrize(("maximise", "optimum", "parts"), [(False, 261, 254.357717), (True, 336, 343.587209)])
def test_published_assignment_of_15_jobs_to_5_machines(maximise, optimum, parts):
    found = assign(COST, USE, LIMITS, maximise=maximise)
    assert found.value == optimum
    assert found.exact
    assert found.parts == pytest.approx(parts, abs=1e-4)
    assert COST[found.line, np.arange(15)].sum() == optimum
    assert (np.bincount(found.line, weights=USE[found.line, np.arange(15)], minlength=5) <= LIMITS).all()
