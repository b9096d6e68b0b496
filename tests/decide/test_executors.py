"""Portions on threads and in other processes: the same bits, in order, and never all of them under way at once."""

from __future__ import annotations

import multiprocessing
import pickle
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from typing import Any

import numpy as np
import pytest

from compare import Inputs, evaluate
from compare.decide.evaluate import in_order
from compare.decide.order_book import evaluate_book
from compare.readers.orderbook import OrderTable
from tests.decide.portions import PLANT, PORTION, Counted, book_bits, evaluation_bits, large_book, scenarios


@pytest.fixture(scope="module", params=["threads", "spawn", "forkserver"])
def workers(request) -> Iterator[Executor]:
    """Two workers; processes begun in both ways that don't copy a process with its threads."""
    if request.param == "threads":
        with ThreadPoolExecutor(2) as pool:
            yield pool
        return
    if request.param not in multiprocessing.get_all_start_methods():
        pytest.skip(f"this system has no {request.param}")
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context(request.param)) as processes:
        yield processes


@pytest.fixture(scope="module")
def table(tmp_path_factory) -> OrderTable:
    return large_book(tmp_path_factory.mktemp("book"))


# -- results ----------------------------------------------------------------------------------------------------------


def test_a_book_on_an_executor_is_the_same_to_the_last_bit(table, workers):
    """Three portions, worked out twice: the orders to mend are found in the first round and left out of the second."""
    serial, counted = evaluate_book(table, PLANT), Counted(workers)
    assert len(serial) > 2 * PORTION
    book = evaluate_book(table, PLANT, executor=counted)
    assert counted.handed_on == 6
    assert book_bits(book) == book_bits(serial)


def test_what_workers_find_to_mend_is_the_same_as_without_them(table, workers):
    """One order of each of the 30 copies was spoilt."""
    findings = evaluate_book(table, PLANT, executor=workers).findings
    assert sum(finding.code == "book.versions" for finding in findings) == 30
    assert findings == evaluate_book(table, PLANT).findings


@pytest.mark.parametrize("shape", ["draws", "map"])
def test_scenarios_on_an_executor_are_the_same_to_the_last_bit(workers, shape):
    x, counted = scenarios()[shape], Counted(workers)
    assert evaluation_bits(x, counted) == evaluation_bits(x)
    assert counted.handed_on == 3


def test_an_error_in_a_worker_comes_out(workers):
    """A portion that fails must not leave its rows unfilled."""
    x = scenarios()["draws"]
    broken = Inputs({name: value for name, value in x.items() if name != "rates.press_h"})
    with pytest.raises(KeyError, match="press_h"):
        evaluate(broken, executor=workers)


def test_few_scenarios_are_not_sent_anywhere():
    """One portion takes less time than its way to a worker."""
    x = scenarios()["draws"]
    few = x.with_values({name: values[:PORTION] for name, values in x.arrays().items()})
    counted = Counted(ThreadPoolExecutor(1))
    assert evaluation_bits(few, counted) == evaluation_bits(few)
    assert counted.handed_on == 0


def test_a_book_can_be_sent_back_as_a_whole(table):
    """A worker that reads a plant's file by itself may answer with the book, not only with sums."""
    book = evaluate_book(table, PLANT)
    sent = pickle.loads(pickle.dumps(book))  # noqa: S301 - made in the line above
    assert (book_bits(sent), sent.findings, sent.job_ids()) == (book_bits(book), book.findings, book.job_ids())


# -- order, amount under way, errors ----------------------------------------------------------------------------------


class _Held(Executor):
    """Works on nothing until it is told to, and then on the last first."""

    def __init__(self) -> None:
        self.open: list[tuple[Future[Any], Callable[..., Any], tuple[Any, ...]]] = []

    def submit(self, work: Callable[..., Any], /, *given: Any, **_: Any) -> Future[Any]:
        future: Future[Any] = Future()
        self.open.append((future, work, given))
        return future

    def work_backwards(self) -> None:
        while self.open:
            future, work, given = self.open.pop()
            future.set_result(work(*given))


def test_results_come_in_the_order_of_the_parts_whatever_is_done_first():
    held = _Held()

    def parts() -> Iterator[int]:
        yield from range(10)
        held.work_backwards()

    assert list(in_order(held, str, parts())) == [str(k) for k in range(10)]


def test_parts_are_taken_as_results_come_so_that_a_long_book_is_not_under_way_as_a_whole():
    """With tens of millions of orders, all portions at once would fill a scheduler's memory."""
    taken = []

    class AtOnce(Executor):
        def submit(self, work: Callable[..., Any], /, *given: Any, **_: Any) -> Future[Any]:
            future: Future[Any] = Future()
            future.set_result(work(*given))
            return future

    parts = (taken.append(k) or k for k in range(1000))
    ahead = [len(taken) - done for done, _ in enumerate(in_order(AtOnce(), abs, parts))]
    assert (max(ahead), len(taken)) == (64, 1000)


def test_after_an_error_what_waits_is_called_off():
    """Else a cluster would go on with a book that nobody waits for any more."""
    held = _Held()

    def parts() -> Iterator[int]:
        yield from range(5)
        held.open[0][0].set_exception(ValueError("no such board"))

    with pytest.raises(ValueError, match="no such board"):
        list(in_order(held, abs, parts()))
    assert [future.cancelled() for future, *_ in held.open] == [False, True, True, True, True]


def test_without_an_executor_a_part_is_worked_on_when_it_is_asked_for():
    done = []
    results = in_order(None, lambda k: done.append(k) or -k, iter(range(3)))
    assert (next(results), done) == (0, [0])
    assert (list(results), done) == ([-1, -2], [0, 1, 2])


def test_inputs_that_do_not_vary_are_the_same_in_every_portion(workers):
    """They are sent along with each portion, not taken from the first one."""
    x = scenarios()["draws"]
    found = evaluate(
        x.with_values({"demand.run_length": 5000.0, "rates.labour_h": np.full(40_000, 30.0)}), executor=workers
    )
    assert np.unique(found.die["cost"]).size == 1
