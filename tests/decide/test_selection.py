"""Which jobs move to the laser: within every limit, as good as trying everything, and with a reason for each."""

from __future__ import annotations

import os
from time import monotonic

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import milp

from compare.decide.choice_items import merge
from compare.decide.hour_prices import Question
from compare.decide.selection import REASONS, choose
from compare.decide.selection_search import _quiet, search
from compare.errors import InputError

from .selection_books import NEAR, books, hours, tried, with_limits

YES, NO = True, False


# -- as good as trying everything -------------------------------------------------------------------------------------


@settings(max_examples=150, deadline=None)
@given(book=books())
def test_a_small_book_is_chosen_as_well_as_by_trying_everything(book):
    best, chosen = tried(book), choose(**book)
    if best is None:
        assert chosen.overfull
        return
    assert not chosen.overfull
    assert chosen.saving == pytest.approx(best, rel=NEAR, abs=NEAR)
    assert chosen.exact


@settings(max_examples=100, deadline=None)
@given(book=books(), core=st.integers(1, 3))
def test_the_gap_reported_is_never_less_than_what_is_missing(book, core):
    """Also where hardly anything may be searched: what is no bound would look like a proof."""
    best, chosen = tried(book), choose(**book, core=core, time_limit_s=0.0 if core == 1 else 10.0)
    if best is not None:
        assert chosen.bound >= best - NEAR
        assert chosen.gap * max(abs(chosen.bound), 1e-300) >= best - chosen.saving - NEAR
        assert chosen.gap >= 0


@settings(max_examples=100, deadline=None)
@given(book=books(), quick=st.booleans())
def test_no_limit_is_exceeded_but_by_what_must_go(book, quick):
    chosen = choose(**book, time_limit_s=0.0 if quick else 10.0)
    for capacity, used in zip(book["capacities"], chosen.used, strict=True):
        assert used == pytest.approx(capacity.use[chosen.on_laser].sum())
        assert used <= capacity.limit * (1 + NEAR) or capacity.name in chosen.overfull


@settings(max_examples=50, deadline=None)
@given(book=books(settled=False), times=st.floats(1, 3))
def test_more_hours_never_lower_the_saving(book, times):
    assert choose(**with_limits(book, times)).saving >= choose(**book).saving - NEAR


@settings(max_examples=50, deadline=None)
@given(book=books(), data=st.data())
def test_jobs_in_another_order_save_the_same(book, data):
    order = np.array(data.draw(st.permutations(range(len(book["saving"])))))
    shuffled = {name: values[order] for name, values in book.items() if name != "capacities"}
    shuffled["capacities"] = [hours(c.use[order], c.limit, c.name) for c in book["capacities"]]
    assert choose(**shuffled).saving == pytest.approx(choose(**book).saving, rel=NEAR, abs=NEAR)


@settings(max_examples=50, deadline=None)
@given(book=books(settled=False))
def test_no_job_moves_that_saves_nothing(book):
    chosen = choose(**book)
    assert not chosen.on_laser[book["saving"] <= 0].any()
    assert chosen.saving == pytest.approx(book["saving"][chosen.on_laser].sum())


@settings(max_examples=50, deadline=None)
@given(book=books(settled=False), times=st.floats(1e-3, 1e3))
def test_another_currency_changes_no_choice_and_every_amount(book, times):
    one, other = choose(**book), choose(**(book | {"saving": book["saving"] * times}))
    assert other.saving == pytest.approx(one.saving * times, rel=1e-7, abs=1e-12)
    assert other.gap == pytest.approx(one.gap, abs=1e-7)


@settings(max_examples=50, deadline=None)
@given(book=books())
def test_worth_is_what_a_job_brings_beyond_the_price_of_what_it_takes(book):
    chosen = choose(**book)
    price = sum(price * c.use for price, c in zip(chosen.prices, book["capacities"], strict=True))
    assert chosen.worth == pytest.approx(book["saving"] - price)


def lognormal_book(jobs, seed):
    rng = np.random.default_rng(seed)
    use = rng.lognormal(1, 1, jobs)
    board = use * (rng.random(jobs) < 0.3)
    saving = rng.normal(30, 120, jobs) * use**0.7
    return {"saving": saving, "capacities": [hours(use, 0.3 * use.sum()), hours(board, 0.15 * board.sum(), "board")]}


def test_a_book_of_2000_jobs_is_solved_exactly():
    chosen = choose(**lognormal_book(2000, 1))
    assert chosen.exact
    assert chosen.gap < 1e-9


def test_the_exact_search_finds_more_than_filling_in_by_price():
    book = lognormal_book(2000, 1)
    quick = choose(**book, time_limit_s=0.0)
    assert not quick.exact
    assert quick.saving < choose(**book).saving < quick.bound


def test_a_large_book_stops_at_the_gap_wanted():
    """50,000 jobs fill the hours so well that there is hardly anything to search for."""
    chosen = choose(**lognormal_book(50_000, 2), gap_wanted=1e-4)
    assert 0 < chosen.gap <= 1e-4
    assert not chosen.exact


def test_two_runs_choose_the_same_jobs():
    book = lognormal_book(3000, 3)
    assert (choose(**book).on_laser == choose(**book).on_laser).all()


def test_amounts_of_a_tenth_fill_a_limit_of_three_tenths():
    """0.1 + 0.2 is a little more than 0.3 for a computer, and not for anybody else."""
    assert choose(np.array([1.0, 1.0]), [hours([0.1, 0.2], 0.3)]).on_laser.all()


def test_a_job_larger_than_what_the_solver_can_tell_from_the_limit_does_not_move():
    """Five billionths above the limit are more than rounding, though less than the solver looks at."""
    chosen = choose(np.array([5.0, 4.0]), [hours([1.0, 1.0], 2 - 1e-8)])
    assert chosen.on_laser.tolist() == [YES, NO]


def test_a_book_without_jobs_saves_nothing():
    chosen = choose(np.zeros(0), [hours([], 10)])
    assert (chosen.saving, chosen.bound, chosen.gap, chosen.exact) == (0, 0, 0, True)


def test_without_limits_all_that_saves_moves():
    assert choose(np.array([1.0, -1.0, 2.0]), []).on_laser.tolist() == [YES, NO, YES]


def test_an_endless_limit_costs_nothing():
    chosen = choose(np.array([1.0, 2.0]), [hours([3, 4], np.inf)])
    assert chosen.on_laser.all()
    assert chosen.prices.tolist() == [0]


# -- what settles a job -----------------------------------------------------------------------------------------------


def test_a_job_of_no_hours_moves_although_no_hour_is_left():
    chosen = choose(np.array([1.0, 5.0]), [hours([0, 1], 0)])
    assert chosen.reasons.tolist() == ["moves", "no_room"]


def test_a_job_that_saves_nothing_stays():
    chosen = choose(np.array([-1.0, 0.0, 1.0]), [hours([1, 1, 1], 9)])
    assert chosen.reasons.tolist() == ["stays_saves_nothing", "stays_saves_nothing", "moves"]


def test_a_job_stays_whose_hours_others_make_more_of():
    """An hour is worth 5: the second job would take two hours for 8."""
    chosen = choose(np.array([30.0, 8.0, 10.0]), [hours([3, 2, 2], 4)], time_limit_s=0)
    assert chosen.prices == pytest.approx([5])
    assert chosen.worth == pytest.approx([15, -2, 0])
    assert chosen.reasons.tolist() == ["moves", "stays_worth_less_than_hour", "no_room"]


def test_a_job_of_little_worth_moves_into_the_rest():
    """After the first job there is one hour left, too little for the second and enough for the third."""
    chosen = choose(np.array([30.0, 10.0, 1.0]), [hours([3, 2, 1], 4)])
    assert chosen.reasons.tolist() == ["moves", "no_room", "moves_into_rest"]
    assert chosen.saving == 31


def test_versions_of_a_carton_move_together():
    """Alone the second would stay, as it costs more on the laser."""
    chosen = choose(np.array([5.0, -1.0]), [hours([1, 1], 9)], groups=np.array([7, 7]))
    assert chosen.reasons.tolist() == ["moves", "moves_with_carton"]
    assert chosen.saving == 4


def test_versions_of_a_carton_stay_together():
    chosen = choose(np.array([1.0, -5.0]), [hours([1, 1], 9)], groups=np.array([-3, -3]))
    assert chosen.reasons.tolist() == ["stays_with_carton", "stays_saves_nothing"]
    assert chosen.saving == 0


def test_worth_of_a_carton_decides_and_not_that_of_one_version():
    """An hour is worth 5.8, what the last job makes of it: more than the 5.5 of the first carton."""
    saving, use = np.array([10, 1, 6, 6, 5.8]), hours([1, 1, 1, 1, 1], 2)
    chosen = choose(saving, [use], groups=np.array([0, 0, 1, 1, 2]))
    assert chosen.prices == pytest.approx([5.8])
    expected = ["stays_with_carton", "stays_worth_less_than_hour", "moves", "moves", "no_room"]
    assert chosen.reasons.tolist() == expected


def test_what_is_pinned_to_the_die_stays_and_its_carton_with_it():
    chosen = choose(np.array([5.0, 5.0]), [hours([1, 1], 9)], groups=np.array([0, 0]), pinned=np.array([0, -1]))
    assert chosen.reasons.tolist() == ["pinned_die", "stays_with_carton"]


def test_what_is_pinned_to_the_laser_moves_at_a_loss_and_its_carton_with_it():
    chosen = choose(np.array([-5.0, 1.0]), [hours([1, 1], 9)], groups=np.array([0, 0]), pinned=np.array([1, -1]))
    assert chosen.reasons.tolist() == ["pinned_laser", "moves_with_carton"]
    assert chosen.saving == -4


def test_what_is_pinned_takes_its_hours_first():
    chosen = choose(np.array([1.0, 100.0]), [hours([2, 2], 3)], pinned=np.array([1, -1]))
    assert chosen.reasons.tolist() == ["pinned_laser", "no_room"]
    assert chosen.used.tolist() == [2]


def test_pins_that_exceed_a_limit_are_named_and_nothing_else_takes_of_it():
    """The third job takes hours, the fourth only of the board's share."""
    year, board = hours([3, 3, 1, 0], 5), hours([0, 0, 1, 1], 9, "share of a board")
    chosen = choose(np.array([1.0, 1, 50, 50]), [year, board], pinned=np.array([1, 1, -1, -1]))
    assert chosen.overfull == ("hours a year",)
    assert chosen.reasons.tolist() == ["pinned_laser", "pinned_laser", "no_room", "moves"]
    assert chosen.prices.tolist() == [0, 0]


def test_what_the_laser_cannot_make_keeps_its_carton_on_the_die():
    chosen = choose(
        np.array([5.0, 5.0]), [hours([1, 1], 9)], groups=np.array([0, 0]), laser_possible=np.array([NO, YES])
    )
    assert chosen.reasons.tolist() == ["laser_impossible", "stays_with_carton"]


def test_what_the_die_cannot_make_must_move_and_counts_as_no_saving():
    """There is nothing to compare it with; its companion could stay and is compared."""
    chosen = choose(
        np.array([50.0, -2.0]), [hours([1, 1], 9)], groups=np.array([0, 0]), die_possible=np.array([NO, YES])
    )
    assert chosen.reasons.tolist() == ["die_impossible", "moves_with_carton"]
    assert chosen.saving == chosen.bound == -2


def test_a_pin_cannot_make_possible_what_is_not():
    routes = {"die_possible": np.array([NO, YES]), "laser_possible": np.array([YES, NO])}
    chosen = choose(np.array([1.0, 1.0]), [hours([1, 1], 9)], pinned=np.array([0, 1]), **routes)
    assert chosen.reasons.tolist() == ["die_impossible", "laser_impossible"]


def test_a_job_that_neither_route_can_make_is_left_out_of_its_carton():
    """Its hours, its saving and its pin do not count; the carton moves without it."""
    chosen = choose(
        np.array([-50.0, 5.0]),
        [hours([100, 1], 9)],
        groups=np.array([0, 0]),
        pinned=np.array([0, -1]),
        die_possible=np.array([NO, YES]),
        laser_possible=np.array([NO, YES]),
    )
    assert chosen.reasons.tolist() == ["impossible", "moves"]
    assert (chosen.saving, chosen.used.tolist()) == (5, [1])


def test_a_job_has_no_route_if_the_die_cannot_make_it_and_its_carton_must_stay():
    routes = {"die_possible": np.array([NO, YES]), "laser_possible": np.array([YES, NO])}
    chosen = choose(np.array([1.0, 1.0]), [hours([1, 1], 9)], groups=np.array([0, 0]), **routes)
    assert chosen.reasons.tolist() == ["impossible", "laser_impossible"]


@settings(max_examples=100, deadline=None)
@given(book=books())
def test_every_reason_agrees_with_where_the_job_is(book):
    chosen = choose(**book)
    assert set(chosen.reasons) <= set(REASONS)
    goes = ("moves", "moves_into_rest", "moves_with_carton", "pinned_laser", "die_impossible")
    assert np.isin(chosen.reasons, goes).tolist() == chosen.on_laser.tolist()


# -- input that can't be used -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"saving": np.array([1, np.nan])}, r"saving: nan of job 1 is no amount; leave the job out"),
        ({"capacities": [hours([1, -2], 3)]}, r"use of 'hours a year': -2 of job 1 is negative"),
        ({"capacities": [hours([1, np.inf], 3)]}, r"use of 'hours a year': inf of job 1 is no amount"),
        ({"capacities": [hours([1], 3)]}, r"use of 'hours a year': it has the shape \(1,\); give one .* 2 jobs"),
        ({"capacities": [hours([1, 1], -1.0)]}, r"'hours a year': a limit of -1.0; it must be 0 or more"),
        ({"capacities": [hours([1, 1], np.nan)]}, r"'hours a year': a limit of nan"),
        ({"pinned": np.array([0, 2])}, r"pinned: 2 of job 1 is no route; 0 is the die, 1 the laser"),
        ({"pinned": np.array([0])}, r"pinned: it has the shape \(1,\)"),
        ({"die_possible": np.ones(3)}, r"die_possible: it has the shape \(3,\)"),
        ({"core": 0}, r"core: an exact search over 0 jobs; allow 1 or more"),
        ({"groups": np.array([0.0, 1.0])}, r"groups: cartons are float64; number them"),
        (
            {"groups": np.array([-7, -7]), "pinned": np.array([0, 1])},
            r"pinned: jobs of carton -7 are pinned to the die and to the laser; .* pin them to the same",
        ),
    ],
)
def test_what_is_wrong_is_said_with_its_place(change, message):
    book = {"saving": np.array([1.0, 2.0]), "capacities": [hours([1, 1], 3)]}
    with pytest.raises(InputError, match=message):
        choose(**(book | change))


# -- the solver -------------------------------------------------------------------------------------------------------


def test_what_the_solver_prints_does_not_reach_the_screen(capfd):
    """It writes past Python, into what a program prints as its answer."""
    with _quiet():
        os.write(1, b"a line of the solver\n")
    os.write(1, b"an answer\n")
    assert capfd.readouterr().out == "an answer\n"


def test_a_choice_that_the_solver_only_takes_for_possible_is_searched_again(monkeypatch):
    """To it 0.999999 is 1; so what it hands back is added up, and never taken together again if it is too much."""
    calls = []

    def lenient(*args, **kwargs):
        solved = milp(*args, **kwargs)
        if not calls:
            solved.x = np.full(len(solved.x), 0.9999995)
        calls.append(solved)
        return solved

    monkeypatch.setattr("compare.decide.selection_search.milp", lenient)
    chosen = choose(np.array([5.0, 4.0, 3.0]), [hours([3, 2, 2], 4 - 1e-6)])
    assert len(calls) >= 2
    assert chosen.on_laser.tolist() == [YES, NO, NO]
    assert chosen.exact


def test_a_search_that_may_hold_only_a_few_jobs_proves_less_and_is_no_worse_than_the_first_choice():
    book = lognormal_book(2000, 5)
    quick, some, every = choose(**book, time_limit_s=0.0), choose(**book, core=10), choose(**book)
    assert quick.saving <= some.saving <= every.saving <= some.bound
    assert not some.exact


def test_even_at_useless_prices_the_choice_fits_and_the_bound_holds():
    """Nothing rests on the prices being good: without any, all jobs together look worth their price."""
    book = lognormal_book(300, 6)
    items = merge(**book)
    question = Question.of(items, items.open())
    found = search(question, np.zeros(2), core=50, end=monotonic() + 10, gap_wanted=0)
    assert (found.taken @ question.use <= question.room * (1 + NEAR)).all()
    assert question.saving[found.taken].sum() <= choose(**book).saving <= found.most


def test_a_choice_can_be_made_where_there_is_no_screen(monkeypatch):
    def none(_):
        raise OSError

    monkeypatch.setattr("compare.decide.selection_search.os.dup", none)
    assert choose(**lognormal_book(300, 4)).exact
