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
    assert set(words.WHY_NOT) == {*DIE_REASONS, *LASER_REASONS}


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
            assert reason_sentence(plan, job).endswith("which is what an hour is worth with these orders.")
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
    per_hour = figures(_per_hour(plan, job))
    assert reason_sentence(plan, job) == (
        f"It saves {figures(plan.book.saving[job])} EUR a year, {per_hour} EUR per laser hour, "
        "and the hours that it takes are not scarce."
    )


def test_a_job_that_saves_nothing_says_what_the_laser_would_cost_more():
    plan = demo_plan()
    for job in _with_reason(plan, "stays_saves_nothing"):
        assert (
            reason_sentence(plan, job)
            == f"On the laser it would cost {figures(-plan.book.saving[job])} EUR a year more."
        )


def test_a_job_that_saves_in_a_carton_that_does_not_is_not_said_to_save_nothing():
    """The code is of the carton; the sentence is about the job."""
    plan = plan_rows(
        {**ORDER, "due": "2026-01-05"}, {**ORDER, "order": "A2", "due": "2026-02-05", "run_length": 900_000}
    )
    assert list(plan.selection.reasons) == ["stays_with_carton", "stays_saves_nothing"]
    first, second = (reason_sentence(plan, job) for job in (0, 1))
    assert f"would save {figures(plan.book.saving[0])} EUR a year" in first
    assert f"would cost {figures(-plan.book.saving[1])} EUR a year more" in second
    untold = replace(plan, selection=replace(plan.selection, reasons=np.array(["stays_saves_nothing"] * 2, object)))
    assert "its carton as a whole saves nothing" in reason_sentence(untold, 0)


def test_equal_costs_are_said_to_be_equal():
    plan = demo_plan()
    (job, *_) = _with_reason(plan, "stays_saves_nothing")
    laser = {m: values.copy() for m, values in plan.book.laser.items()}
    laser["cost"][job] = plan.book.die["cost"][job]
    assert reason_sentence(replace(plan, book=replace(plan.book, laser=laser)), job) == "Both routes cost the same."


@pytest.mark.parametrize(
    ("row", "reason", "said"),
    [
        (VARNISH, "die_impossible", "It must go to the laser: the die can't make it, as varnish release has no rule."),
        (PVC, "laser_impossible", "The laser can't make it, as its laminate must not be burnt."),
        (
            {**VARNISH, **PVC},
            "impossible",
            "The die can't make it, as varnish release has no rule; nor can the laser, as its laminate must not be burnt.",
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
    assert "one job of which the die can't make; on the laser it costs" in reason_sentence(plan, 1)


def test_a_job_that_stays_because_another_one_of_its_carton_must_says_so():
    plan = plan_rows({**ORDER, **PVC}, {**ORDER, "order": "A2", "run_length": 1200})
    assert plan.selection.reasons[1] == "stays_with_carton"
    assert "one job of which the laser can't make; on the laser it would save" in reason_sentence(plan, 1)


@pytest.mark.parametrize(("route", "verb"), [("die", "would save"), ("laser", "saves")])
def test_a_pin_is_said_with_what_it_costs_or_saves(route, verb):
    plan = plan_rows({**ORDER, "route": route})
    assert plan.selection.reasons[0] == f"pinned_{route}"
    assert f"keeps its carton on the {route}" in reason_sentence(plan, 0)
    assert f"it {verb} {figures(plan.book.saving[0])} EUR a year" in reason_sentence(plan, 0)


def test_numbers_of_a_sentence_are_written_the_readers_way():
    plan = demo_plan()
    (job, *_) = _with_reason(plan, "moves")
    assert GERMAN.words(reason_sentence(plan, job)) == reason_sentence(plan, job, GERMAN)
    assert reason_sentence(plan, job, GERMAN) != reason_sentence(plan, job)


def test_amounts_are_in_the_currency_of_the_plant():
    plan = plan_rows(ORDER)
    abroad = replace(plan, book=replace(plan.book, plant=replace(plan.book.plant, currency="PLN")))
    assert "PLN" in reason_sentence(abroad, 0)
    assert "EUR" not in reason_sentence(abroad, 0)


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


def test_the_value_of_an_hour_is_about():
    plan = scarce_plan()
    assert f"about {figures(plan.hour_value)} EUR" in words.hour_sentence(plan)


def test_the_wait_is_about_and_above_the_cap_the_cap_is_named():
    said = words.wait_sentence(scarce_plan())
    assert "waits about" in said
    assert "85 % is as much as should be planned for" in said


def test_a_queue_without_end_has_no_number():
    plan = scarce_plan()
    full = replace(plan, wait=plan.wait._replace(load=1.0, wait_h=float("inf")))
    assert words.wait_sentence(full) == "The line is loaded to 100.0 %: the queue before it would grow without end."


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
    plan = demo_plan()
    assert not plan.investment.pays
    assert words.share_sentence(plan).startswith("The line does not pay with this saving")


def test_the_share_that_must_come_true_is_never_rounded_down():
    """At 70.18 % needed, 70 % is not enough."""
    case = replace(demo_plan().investment, yearly_saving=1000.0, saving_needed=701.8, share_needed=0.7018)
    said = words.share_sentence(replace(demo_plan(), investment=case))
    assert said == "The line pays as long as 71 % of the cash saving comes true."


def test_without_a_saving_no_share_is_named():
    case = replace(demo_plan().investment, yearly_saving=-5.0, share_needed=None)
    assert words.share_sentence(replace(demo_plan(), investment=case)) == ""


def test_orders_that_wait_are_counted():
    plan = plan_rows(ORDER, {**ORDER, "order": "A2", "run_length": "many"})
    assert words.findings_sentence(plan) == "1 of 2 orders waits to be mended and is in no figure here."
    assert words.findings_sentence(demo_plan()) == ""


def test_findings_are_counted_by_kind_with_those_that_wait_first():
    rows = [{**ORDER, "order": n, "run_length": "many", "unheard": 1} for n in ("A2", "A3")]
    plan = plan_rows({**ORDER, "unheard": 1}, *rows)
    assert [(code, number) for code, number, _ in words.findings_by_code(plan)] == [
        ("book.not_a_number", 2),
        ("book.unused_column", 1),
    ]


def test_the_answer_names_jobs_cartons_hours_and_saving():
    plan = demo_plan()
    said = words.answer_sentence(plan)
    cartons = plan.book.cartons[plan.selection.on_laser].sum()
    for figure in ("3 of 14 jobs", f"{cartons:,.0f} cartons a year", "of 3,200 hours", figures(plan.selection.saving)):
        assert figure in said


def test_where_nothing_moves_no_saving_is_claimed():
    plan = plan_rows(ORDER, limits=Limits(0.0))
    assert words.answer_sentence(plan) == "None of 1 job goes to the laser line."


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
