"""What is said about a year of orders: no claim that the figures don't carry."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from compare.decide.book_plan import BookPlan, Limits
from compare.decide.order_book import DIE_REASONS, LASER_REASONS
from compare.decide.selection import REASONS
from compare.present import book_wording as words
from compare.present import wording
from compare.present.book_wording import gap_sentence, reason_sentence
from compare.present.numbers import NumberStyle, figures
from present.book_plans import ORDER, demo_plan, plan_rows, scarce_plan

GERMAN = NumberStyle(",", ".")
VARNISH = {"varnish_release_m": 0.2}
PVC = {"laminate": "pvc"}


def _with_reason(plan: BookPlan, reason: str) -> list[int]:
    return np.flatnonzero(plan.selection.reasons == reason).tolist()


def _price_of_hours(plan: BookPlan, job: int) -> float:
    """What the hours of a job are worth each, from the prices of the limits."""
    cost = sum(price * c.use[job] for price, c in zip(plan.selection.prices, plan.capacities, strict=True))
    return float(cost) / float(plan.book.laser_hours[job])


def _per_hour(plan: BookPlan, job: int) -> float:
    return float(plan.book.saving[job] / plan.book.laser_hours[job])


# -- reasons ----------------------------------------------------------------------------------------------------------


def test_every_code_of_what_a_route_can_not_do_has_words():
    assert set(wording.WHY_NOT) == {*DIE_REASONS, *LASER_REASONS}


def test_every_reason_has_a_label():
    assert tuple(words.REASON_LABELS) == REASONS


@pytest.mark.parametrize("plan", [demo_plan(), scarce_plan()], ids=["demo", "scarce"])
def test_every_job_gets_one_whole_sentence(plan):
    """With figures that are numbers, one full stop, and no gap where a word should be."""
    for job in range(len(plan.book)):
        said = reason_sentence(plan, job)
        assert re.fullmatch(r"[A-Z].*\.", said), said
        assert not re.search(r"nan|inf|None|  |\.\.|, \.", said), said


def test_the_invented_orders_show_most_reasons():
    """Else the tests of sentences would pass on nothing."""
    assert set(scarce_plan().selection.reasons) == set(REASONS) - {"die_impossible", "impossible"}


@pytest.mark.parametrize("reason", ["moves", "stays_worth_less_than_hour"])
def test_a_job_that_is_decided_by_its_hours_shows_saving_and_price_of_an_hour(reason):
    plan = scarce_plan()
    jobs = _with_reason(plan, reason)
    for job in jobs:
        mine, price = _per_hour(plan, job), _price_of_hours(plan, job)
        if mine == pytest.approx(price, rel=1e-9):  # the job that sets the price
            assert "just what an hour is worth" in reason_sentence(plan, job)
            continue
        assert (mine > price) == (reason == "moves")
        said = [float(n.replace(",", "")) for n in re.findall(r"([\d,.]+) EUR", reason_sentence(plan, job))]
        assert said == [pytest.approx(mine, rel=6e-3), pytest.approx(price, rel=6e-3)]


def test_two_rates_that_differ_are_never_written_alike():
    """'It saves 209 EUR per laser hour, less than the 209 EUR of other jobs' would be no reason."""
    plan = scarce_plan()
    for job in (*_with_reason(plan, "moves_into_rest"), *_with_reason(plan, "stays_worth_less_than_hour")):
        one, other = re.findall(r"([\d,.]+) EUR", reason_sentence(plan, job))
        assert one != other


def test_where_hours_are_plenty_no_price_is_named():
    plan = demo_plan()
    (job, *_) = _with_reason(plan, "moves")
    assert reason_sentence(plan, job) == "It saves, and the hours that it takes are not scarce."


def test_no_sentence_repeats_the_saving_or_the_hours_that_stand_beside_it():
    for plan in (demo_plan(), scarce_plan()):
        for job in range(len(plan.book)):
            assert f"{figures(abs(plan.book.saving[job]))} EUR a year" not in reason_sentence(plan, job)
            assert "h a year" not in reason_sentence(plan, job)


def test_a_job_that_saves_nothing_is_said_to_cost_less_on_the_die():
    plan = plan_rows({**ORDER, "run_length": 900_000})
    assert plan.selection.reasons[0] == "stays_saves_nothing"
    assert reason_sentence(plan, 0) == "It costs less on the die."


def test_where_months_have_prices_the_price_of_an_hour_is_that_of_its_months():
    """The price of the year's hours is another one, and stands above on the same page."""
    rows = [
        {**ORDER, "order": f"A{i}", "carton": f"C{i}", "due": "2026-03-02", "run_length": 500 + i} for i in range(6)
    ]
    plan = plan_rows(*rows, limits=Limits(200.0, month_hours=2.0))
    assert plan.selection.prices[1] > 0
    assert all(
        "in its months" in reason_sentence(plan, job) for job in _with_reason(plan, "stays_worth_less_than_hour")
    )


def test_a_job_whose_carton_has_its_tools_charged_to_a_sister_says_so():
    """It saves less only because the first tools count for one job; by itself it would need them as well."""
    plan = plan_rows(
        {**ORDER, "due": "2026-01-05"}, {**ORDER, "order": "A2", "due": "2026-02-05", "run_length": 900_000}
    )
    assert list(plan.selection.reasons) == ["stays_with_carton", "stays_saves_nothing"]
    first, second = (reason_sentence(plan, job) for job in (0, 1))
    assert first.endswith("its tools are charged to this of its jobs.")
    assert second == "Its carton as a whole costs no less on the laser; its tools are charged to another of its jobs."


def test_no_job_of_a_carton_is_said_to_cost_more_alone():
    """Alone it would have to buy the tools that a sister of its carton pays for here."""
    plan = scarce_plan()
    several = np.bincount(plan.book.families)[plan.book.families] > 1
    for job in np.flatnonzero(several).tolist():
        assert "lone" not in reason_sentence(plan, job)


def test_equal_costs_are_said_to_be_equal():
    plan = plan_rows({**ORDER, "run_length": 900_000})
    laser = {m: values.copy() for m, values in plan.book.laser.items()}
    laser["cost"][0] = plan.book.die["cost"][0]
    assert reason_sentence(replace(plan, book=replace(plan.book, laser=laser)), 0) == "Both routes cost the same."


def test_a_line_without_hours_is_the_reason_that_a_job_stays():
    """Others make nothing of hours that are not there, and there are no others beside it."""
    plan = plan_rows(ORDER, {**ORDER, "order": "A2", "carton": "C2", "run_length": 500}, limits=Limits(0.0))
    assert {reason_sentence(plan, job) for job in (0, 1)} == {"No hours of the year may be planned."}


def test_a_job_that_does_not_fit_on_an_empty_line_is_beside_no_others():
    plan = plan_rows(ORDER, limits=Limits(0.1))
    assert plan.selection.reasons[0] == "no_room"
    assert reason_sentence(plan, 0).endswith("does not fit whole into the hours there are.")


@pytest.mark.parametrize(
    ("row", "reason", "said"),
    [
        (VARNISH, "die_impossible", "The die can't make it: varnish release has no rule."),
        (PVC, "laser_impossible", "The laser can't make it: its laminate must not be burnt."),
        (
            {**VARNISH, **PVC},
            "impossible",
            "The die can't make it: varnish release has no rule; nor can the laser: its laminate must not be burnt.",
        ),
    ],
)
def test_what_a_route_can_not_make_is_said_with_the_cause(row, reason, said):
    plan = plan_rows({**ORDER, **row})
    assert (list(plan.selection.reasons), reason_sentence(plan, 0)) == ([reason], said)


def test_a_job_without_a_die_in_a_carton_without_a_laser_names_its_carton():
    plan = plan_rows({**ORDER, **VARNISH}, {**ORDER, **PVC, "order": "A2"})
    assert plan.selection.reasons[0] == "impossible"
    assert "nor can the laser make every job of its carton" in reason_sentence(plan, 0)


def test_a_job_that_goes_because_another_one_of_its_carton_must_says_so():
    plan = plan_rows({**ORDER, **VARNISH}, {**ORDER, "order": "A2", "run_length": 900_000})
    assert plan.selection.reasons[1] == "moves_with_carton"
    assert "one job of which the die can't make" in reason_sentence(plan, 1)


def test_a_job_that_stays_because_another_one_of_its_carton_must_says_so():
    plan = plan_rows({**ORDER, **PVC}, {**ORDER, "order": "A2", "run_length": 1200})
    assert plan.selection.reasons[1] == "stays_with_carton"
    assert "one job of which the laser can't make" in reason_sentence(plan, 1)


@pytest.mark.parametrize("route", ["die", "laser"])
def test_a_pin_is_said_to_be_one(route):
    plan = plan_rows({**ORDER, "route": route})
    assert plan.selection.reasons[0] == f"pinned_{route}"
    assert reason_sentence(plan, 0) == f"The order book keeps its carton on the {route}."


def test_numbers_of_a_sentence_are_written_the_readers_way():
    plan = scarce_plan()
    job = next(j for j in _with_reason(plan, "moves") if _per_hour(plan, j) > 1000)
    assert GERMAN.words(reason_sentence(plan, job)) == reason_sentence(plan, job, GERMAN)
    assert reason_sentence(plan, job, GERMAN) != reason_sentence(plan, job)


def test_amounts_are_in_the_currency_of_the_plant():
    plan = scarce_plan()
    abroad = replace(plan, book=replace(plan.book, plant=replace(plan.book.plant, currency="PLN")))
    (job, *_) = _with_reason(plan, "stays_worth_less_than_hour")
    assert "PLN" in reason_sentence(abroad, job)
    assert "EUR" not in reason_sentence(abroad, job)


# -- the plan ---------------------------------------------------------------------------------------------------------


def test_a_proven_choice_is_said_to_be_the_best():
    assert demo_plan().selection.exact
    assert gap_sentence(demo_plan()) == "Proven best: no other choice of jobs within these limits saves more."


def test_a_gap_is_said_in_money_and_never_too_small():
    """Rounded to the nearest, 'at most 123 EUR' would be false for 123.4."""
    plan = demo_plan()
    chosen = replace(plan.selection, saving=10_000.0, bound=10_123.4, gap=123.4 / 10_123.4, exact=False)
    said = gap_sentence(replace(plan, selection=chosen))
    assert said == "At most 124 EUR a year below the best possible choice, 1.22 % of it (proven)."
    assert 100 * chosen.gap <= 1.22


def test_a_gap_that_needs_no_rounding_is_not_rounded_up():
    plan = demo_plan()
    chosen = replace(plan.selection, saving=900.0, bound=1000.0, gap=0.1, exact=False)
    assert gap_sentence(replace(plan, selection=chosen)).startswith("At most 100 EUR a year")


def test_an_hour_without_value_is_not_sold():
    assert words.hour_sentence(demo_plan()) == "More hours of the line would save nothing with these orders."


def test_where_hours_of_a_month_bind_they_are_named_and_hours_of_the_year_are_not():
    """'More hours would save nothing' would be false: they would, in that month."""
    rows = [
        {**ORDER, "order": f"A{i}", "carton": f"C{i}", "due": "2026-03-02", "run_length": 500 + i} for i in range(6)
    ]
    plan = plan_rows(*rows, limits=Limits(200.0, month_hours=2.0))
    price = figures(plan.selection.prices[1])
    assert words.hour_sentence(plan) == (
        f"One more hour in 2026-03 would save up to about {price} EUR. More hours of the year alone would save nothing."
    )


def test_where_several_months_bind_they_are_added_up():
    """The hours of a month are one figure for all of them."""
    rows = [
        {**ORDER, "order": f"A{i}", "carton": f"C{i}", "due": f"2026-0{3 + i % 2}-02", "run_length": 500 + i}
        for i in range(12)
    ]
    plan = plan_rows(*rows, limits=Limits(200.0, month_hours=2.0))
    prices = plan.selection.prices
    assert np.count_nonzero(prices) == 2
    assert (
        f"One more hour in every month would save up to about {figures(prices.sum())} EUR a year"
        in words.hour_sentence(plan)
    )


def test_where_hours_of_a_board_bind_the_board_is_named():
    rows = [{**ORDER, "order": f"A{i}", "carton": f"C{i}", "run_length": 500 + i} for i in range(6)]
    plan = plan_rows(*rows, limits=Limits(200.0, board_hours={"kraft_300": 2.0}))
    assert words.hour_sentence(plan).startswith("One more hour on kraft_300 would save up to about ")
    (limit,) = words.binding_limits(plan)
    assert (limit.name, limit.hours, limit.used <= 2.0, limit.price > 0) == ("hours on kraft_300", 2.0, True, True)


def test_the_price_of_an_hour_is_the_most_where_one_more_is_a_large_part_of_a_limit():
    """With 5 h on a board the next ones brought 1,767 where the price was 2,535: it falls before the hour is full."""
    plan = scarce_plan()
    few = replace(plan, limits=replace(plan.limits, hours=5.0))
    assert "would save up to about" in words.hour_sentence(few)
    assert "would save about" in words.hour_sentence(plan)


def test_what_must_go_and_has_no_room_is_the_answer_and_no_proof_or_hour_is_claimed():
    plan = plan_rows({**ORDER, "route": "laser"}, limits=Limits(0.5, by_month=False))
    need, more = figures(plan.hours_used), figures(plan.hours_used - 0.5)
    assert words.answer_sentence(plan).startswith(
        f"Jobs that must go to the laser need {need} h, {more} more than there are."
    )
    assert "of 0.500 hours" not in words.answer_sentence(plan)
    assert (words.gap_sentence(plan), words.hour_sentence(plan), words.advice_sentence(plan)) == ("", "", "")


def test_a_board_that_can_not_hold_what_must_go_is_named():
    plan = plan_rows({**ORDER, "route": "laser"}, limits=Limits(100.0, board_hours={"kraft_300": 0.25}))
    assert f"need {figures(plan.hours_used)} h on kraft_300, " in words.answer_sentence(plan)


def test_above_the_cap_the_saving_at_the_cap_stands_beside_the_answer():
    plan = scarce_plan()
    row = next(row for row in plan.loads if row.load == 0.85)
    assert plan.wait.over_cap
    assert f"Planned to 85 %, the line would save {figures(row.saving)} EUR a year" in words.advice_sentence(plan)
    assert words.advice_sentence(demo_plan()) == ""


def test_where_loads_or_shifts_make_no_difference_one_sentence_says_so():
    assert words.loads_sentence(demo_plan()).startswith("The jobs that move fit into 70 % of the hours planned")
    assert "a second would add nothing" in words.shifts_sentence(demo_plan())
    assert words.loads_sentence(scarce_plan()) == ""
    rows = [row._replace(saving=row.saving + row.shifts) for row in demo_plan().shifts]
    assert words.shifts_sentence(replace(demo_plan(), shifts=tuple(rows))) == ""


def test_a_share_has_a_space_before_its_sign_everywhere():
    assert (words.percent(0.85, 0), words.percent(0.9664, 1, GERMAN)) == ("85 %", "96,6 %")
    assert words.spaced("planned to 97% of its hours; 85 % is enough") == "planned to 97 % of its hours; 85 % is enough"


def test_the_value_of_an_hour_is_about():
    plan = scarce_plan()
    assert f"about {figures(plan.hour_value)} EUR" in words.hour_sentence(plan)


def test_the_wait_is_about_and_above_the_cap_the_cap_is_named():
    plan = scarce_plan()
    near = replace(plan, wait=plan.wait._replace(load=0.97, wait_h=16.2), loads=())
    said = words.wait_sentence(near)
    assert "waits about 16 h" in said
    assert "85 % is as much as should be planned for" in said


@pytest.mark.parametrize("wait", [30.1, float("inf")])
def test_a_queue_longer_than_half_of_the_hours_is_said_not_to_clear(wait):
    """The formula is for a steady state, which such a queue does not reach within the year."""
    plan = scarce_plan()
    full = replace(plan, wait=plan.wait._replace(load=0.999, wait_h=wait))
    said = "The line is loaded to 99.9 %: the line is full; the queue would not clear within the year."
    assert (plan.limits.hours, words.wait_sentence(full)) == (60.0, said)


def test_a_load_that_rounds_to_nothing_is_not_said_to_be_none():
    plan = demo_plan()
    little = replace(plan, wait=plan.wait._replace(load=0.0003))
    assert words.wait_sentence(little) == "The line is loaded to less than 0.1 %; lots hardly wait for it."


def test_a_line_without_hours_is_not_said_to_have_a_load():
    plan = plan_rows({**ORDER, **VARNISH}, limits=Limits(0.0))
    assert words.wait_sentence(plan) == "The line has no hours for the jobs that must go to it."


@pytest.mark.parametrize(
    ("hours", "said"), [(0.01, "hardly any"), (3.14, "3.1 h"), (3058.2, "3,100 h"), (float("inf"), "without end")]
)
def test_an_estimated_wait_has_two_figures(hours, said):
    """The formula misses by some per cent; four figures would look like a measurement."""
    assert words.about_hours(hours) == said


def test_a_line_that_does_not_pay_is_not_said_to_pay():
    """What is missing is a multiple of the saving; a share of more than all of it can't come true."""
    case = replace(demo_plan().investment, yearly_saving=1000.0, saving_needed=243_210.0, share_needed=243.21)
    said = words.share_sentence(replace(demo_plan(), investment=case))
    assert said == "The line does not pay: the cash saving must be 244 times what it is."


def test_the_share_that_must_come_true_is_never_rounded_down():
    """At 70.18 % needed, 70 % is not enough."""
    case = replace(demo_plan().investment, yearly_saving=1000.0, saving_needed=701.8, share_needed=0.7018)
    said = words.share_sentence(replace(demo_plan(), investment=case, settled_saving=1000.0))
    assert said == "The line pays as long as 71 % of the cash saving comes true."


def test_a_verdict_that_hangs_on_new_cartons_says_so():
    """A die is bought once, the line stands for years: without new cartons this one would not pay."""
    case = replace(demo_plan().investment, yearly_saving=1000.0, saving_needed=701.8, share_needed=0.7018)
    said = words.share_sentence(replace(demo_plan(), investment=case, settled_saving=701.0))
    assert said.startswith("With as many new cartons every year, the line pays as long as ")


def test_without_a_saving_the_verdict_names_no_share():
    case = replace(demo_plan().investment, yearly_saving=-5.0, share_needed=None)
    plan = replace(demo_plan(), investment=case)
    assert words.share_sentence(plan) == "The line does not pay: the jobs that move save no cash."
    assert words.share_needed(plan) == ""


def test_where_nothing_moves_the_line_does_not_pay():
    assert words.share_sentence(plan_rows(ORDER, limits=Limits(0.0))) == "The line does not pay: no job moves to it."


def test_a_line_that_costs_nothing_pays_without_a_saving():
    case = replace(demo_plan().investment, yearly_saving=1000.0, saving_needed=-10.0, share_needed=0.0)
    assert words.share_sentence(replace(demo_plan(), investment=case)) == "The line pays even without a saving."


def test_years_that_bring_in_no_money_have_no_rate_of_return():
    """The sale at the end would give one, of a line that costs more every year than it saves."""
    case = demo_plan().investment
    assert case.yearly_saving < case.investment.yearly_upkeep
    assert words.rate_of_return(case) is None
    assert words.rate_of_return(replace(case, yearly_saving=600_000.0)) == case.irr.rates[0]


def test_orders_that_wait_are_counted():
    plan = plan_rows(ORDER, {**ORDER, "order": "A2", "run_length": "many"})
    assert words.findings_sentence(plan) == "2 orders: 1 computed, 1 waits to be mended and is in no figure."
    assert words.cost_sentence(plan).startswith("Cost of the 1 order that was computed: ")
    assert words.findings_sentence(demo_plan()) == ""
    assert words.cost_sentence(demo_plan()).startswith("Cost of all orders: ")


def test_what_waits_is_apart_from_what_is_noted_with_its_place_and_remedy():
    plan = plan_rows({**ORDER, "unheard": 1}, {**ORDER, "order": "A2", "run_length": "many"})
    (waits,) = words.findings_shown(plan, waiting=True, most=10)
    assert (waits.place, waits.message, waits.code) == (
        "row 3, column run_length", "'many' is not a number.", "book.not_a_number",
    )  # fmt: skip
    assert waits.remedy.endswith(".")
    assert [f.code for f in words.findings_shown(plan, waiting=False, most=10)] == ["book.unused_column"]


def test_many_findings_are_shown_by_kind_with_their_number():
    """Ten lines of one kind would hide the others."""
    rows = [{**ORDER, "order": f"A{n}", "run_length": "many"} for n in range(2, 5)]
    plan = plan_rows(ORDER, *rows, {**ORDER, "order": "A9", "board": "cardboard"})
    assert [line.alike for line in words.findings_shown(plan, waiting=True, most=4)] == [1] * 4
    assert [line.alike for line in words.findings_shown(plan, waiting=True, most=3)] == [3, 1]


def test_the_answer_names_jobs_cartons_hours_and_saving():
    plan = demo_plan()
    said = words.answer_sentence(plan)
    cartons = plan.book.cartons[plan.selection.on_laser].sum()
    for figure in ("3 of 14 jobs", f"{cartons:,.0f} cartons a year", "of 3,200 hours", figures(plan.selection.saving)):
        assert figure in said


def test_where_nothing_moves_no_saving_is_claimed():
    plan = plan_rows(ORDER, limits=Limits(0.0))
    assert words.answer_sentence(plan) == "None of 1 job goes to the laser line: no hours of it are planned."


def test_a_pin_that_costs_is_no_saving():
    plan = plan_rows({**ORDER, "run_length": 900_000, "route": "laser"})
    assert plan.selection.saving < 0
    assert words.answer_sentence(plan).endswith(f"this costs {figures(-plan.selection.saving)} EUR a year more.")


def test_the_cautions_say_when_a_cash_saving_is_one():
    text = " ".join(words.CAUTIONS)
    assert "labour and press hours" in text
    assert "licensed" in text
    assert "estimates" in text


def test_a_plan_without_a_purchase_price_says_nothing_of_paying():
    assert words.share_sentence(replace(demo_plan(), investment=None)) == ""
