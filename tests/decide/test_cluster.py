"""Portions on a Dask cluster, through its executor: a scheduler and two worker processes on this machine.

Nothing leaves the machine: everything listens on its loopback address. The cluster makes certificates of its own for
as long as it lasts, since a scheduler without them takes work from whoever reaches it.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from distributed import Client, LocalCluster

from compare import Inputs, evaluate, read_file
from compare.decide.order_book import evaluate_book
from compare.readers.orderbook import OrderTable, read_orders
from tests.conftest import DATA
from tests.decide.portions import (
    PLANT,
    PORTION,
    Counted,
    book_bits,
    evaluation_bits,
    large_book,
    scenarios,
    write_book,
)


@pytest.fixture(scope="module")
def client(tmp_path_factory) -> Iterator[Client]:
    with (
        LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            security=True,
            host="127.0.0.1",
            dashboard_address="127.0.0.1:0",  # any free port; without one it would take the usual one, or warn
            local_directory=str(tmp_path_factory.mktemp("workers")),
        ) as cluster,
        Client(cluster) as client,
    ):
        client.wait_for_workers(2, timeout=60)
        yield client


@pytest.fixture(scope="module")
def table(tmp_path_factory) -> OrderTable:
    return large_book(tmp_path_factory.mktemp("book"))


@pytest.mark.parametrize("pure", [True, False], ids=["known by content", "each by itself"])
def test_a_book_on_a_cluster_is_the_same_to_the_last_bit(client, table, pure):
    """Three portions, worked out twice: the orders to mend are found in the first round and left out of the second."""
    serial, counted = evaluate_book(table, PLANT), Counted(client.get_executor(pure=pure))
    assert len(serial) > 2 * PORTION
    book = evaluate_book(table, PLANT, executor=counted)
    assert counted.handed_on == 6
    assert (book.findings, book_bits(book)) == (serial.findings, book_bits(serial))


@pytest.mark.parametrize("shape", ["draws", "map"])
def test_scenarios_on_a_cluster_are_the_same_to_the_last_bit(client, shape):
    x, counted = scenarios()[shape], Counted(client.get_executor())
    assert evaluation_bits(x, counted) == evaluation_bits(x)
    assert counted.handed_on == 3


def test_an_error_on_a_cluster_comes_out(client):
    """A portion that fails must not leave its rows unfilled."""
    broken = Inputs({name: value for name, value in scenarios()["draws"].items() if name != "rates.press_h"})
    with pytest.raises(KeyError, match="press_h"):
        evaluate(broken, executor=client.get_executor())


def test_a_whole_book_for_each_plant_can_be_worked_out_on_a_worker(client, tmp_path):
    """The way of a group of plants: each worker reads a file by itself, and gives back the sums of a year."""
    plant, paths = DATA / "plants" / "northfold.toml", [tmp_path / "north.csv", tmp_path / "south.csv"]

    def year(path):
        book = evaluate_book(read_orders(path, decimal="."), read_file(plant, kind="plant"))
        return book.totals(book.laser_possible & (book.saving > 0))

    for path, times in zip(paths, (1, 2), strict=True):
        write_book(path, times)
    executor = client.get_executor(pure=False)
    on_cluster = [future.result() for future in [executor.submit(year, path) for path in paths]]
    assert on_cluster == [year(path) for path in paths]
