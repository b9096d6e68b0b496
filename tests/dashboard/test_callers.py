"""Counting failures per caller: who is refused, for how long, and in how much memory."""

from __future__ import annotations

import threading

import pytest
from flask import Flask

from dashboard.callers import Failures, caller


class Clock:
    """A clock that goes when it is told to."""

    def __init__(self):
        self.now = 1000.0

    def __call__(self):
        return self.now


@pytest.fixture
def clock():
    return Clock()


def test_a_caller_is_refused_from_the_last_allowed_failure_on(clock):
    failures = Failures(3, 60, clock=clock)
    assert [failures.add("a") for _ in range(4)] == [False, False, True, False]
    assert failures.wait("a") == 60


def test_below_the_limit_nobody_waits(clock):
    failures = Failures(3, 60, clock=clock)
    failures.add("a")
    failures.add("a")
    assert failures.wait("a") == 0


def test_the_wait_ends_with_the_span_and_the_count_begins_anew(clock):
    failures = Failures(2, 60, clock=clock)
    failures.add("a")
    clock.now += 50
    failures.add("a")
    assert failures.wait("a") == 10
    clock.now += 10
    assert failures.wait("a") == 0
    assert failures.add("a") is False
    assert failures.wait("a") == 0


def test_tries_while_refused_do_not_make_it_longer(clock):
    """The owner of a shared address gets back in, however long a stranger goes on."""
    failures = Failures(1, 60, clock=clock)
    failures.add("a")
    clock.now += 59
    failures.add("a")
    assert failures.wait("a") == 1


def test_a_new_clock_does_not_count_as_a_failure_long_ago(clock):
    """A monotonic clock may begin at 0, just after the machine has started."""
    clock.now = 0.0
    failures = Failures(1, 60, clock=clock)
    assert failures.wait("a") == 0
    failures.add("a")
    assert failures.wait("a") == 60


def test_memory_holds_no_more_callers_than_it_is_given(clock):
    """An attacker with many addresses makes the server forget the oldest, and not grow."""
    failures = Failures(1, 60, callers=5, clock=clock)
    for number in range(1000):
        failures.add(f"caller {number}")
    assert [failures.wait(f"caller {number}") > 0 for number in range(990, 1000)] == [False] * 5 + [True] * 5


def test_a_caller_whose_span_began_anew_is_not_the_first_to_be_forgotten(clock):
    failures = Failures(1, 60, callers=2, clock=clock)
    failures.add("a")
    clock.now += 30
    failures.add("b")
    clock.now += 31
    failures.add("a")
    failures.add("c")
    assert [failures.wait(who) > 0 for who in "abc"] == [True, False, True]


def test_no_failure_is_lost_between_threads():
    failures = Failures(4 * 500, 60)
    told = []
    threads = [threading.Thread(target=lambda: told.extend(failures.add("a") for _ in range(500))) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert told.count(True) == 1


@pytest.mark.parametrize(
    ("address", "stands_for"),
    [
        ("198.51.100.7", "198.51.100.7"),
        ("2001:db8::1", "2001:db8::/64"),
        ("2001:db8::ffff:2", "2001:db8::/64"),
        ("::ffff:198.51.100.7", "198.51.100.7"),
        ("", "unknown"),
        ("unix:", "unknown"),
    ],
)
def test_a_caller_is_an_address_or_the_network_of_a_line(address, stands_for):
    """A line is given a whole /64 network (RFC 6177, published): a new address for every guess costs nothing."""
    with Flask("test").test_request_context(environ_base={"REMOTE_ADDR": address}):
        assert caller() == stands_for
