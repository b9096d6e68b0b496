"""Which of several lines makes each job."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from compare.decide.assignment import assign
from compare.errors import InputError


@st.composite
def plants(draw):
    lines, jobs = draw(st.integers(1, 3)), draw(st.integers(1, 5))

    def table(numbers):
        return np.array(draw(st.lists(numbers, min_size=lines * jobs, max_size=lines * jobs))).reshape(lines, jobs)

    value, use = table(st.integers(-20, 50)) / 10, table(st.integers(0, 30)) / 10
    limits = np.array([draw(st.sampled_from([1.0, 3.0, 6.0, np.inf])) for _ in range(lines)])
    return value, use, limits, table(st.sampled_from([True, True, True, False]))


def tried(value, use, limits, possible, maximise):
    """The best by trying everything; ``None`` where nothing fits."""
    lines, jobs = value.shape
    found = []
    for line in product(range(lines), repeat=jobs):
        here = np.array(line), np.arange(jobs)
        used = np.bincount(line, weights=use[here], minlength=lines)
        if possible[here].all() and (used <= limits * (1 + 1e-9)).all():
            found.append(value[here].sum())
    return (max(found) if maximise else min(found)) if found else None


@settings(max_examples=150, deadline=None)
@given(plant=plants(), maximise=st.booleans())
def test_jobs_are_given_to_lines_as_well_as_by_trying_everything(plant, maximise):
    value, use, limits, possible = plant
    best = tried(*plant, maximise)
    if best is None:
        with pytest.raises(InputError, match=r"no assignment of all jobs was found|no line can make job"):
            assign(value, use, limits, maximise=maximise, possible=possible)
        return
    found = assign(value, use, limits, maximise=maximise, possible=possible)
    here = found.line, np.arange(value.shape[1])
    assert found.value == pytest.approx(best, abs=1e-9)
    assert found.value == pytest.approx(value[here].sum())
    assert possible[here].all()
    assert found.used == pytest.approx(np.bincount(found.line, weights=use[here], minlength=len(limits)))
    assert found.exact
    assert (found.parts >= best - 1e-9) if maximise else (found.parts <= best + 1e-9)


def test_die_and_two_lasers_share_a_book():
    """The die takes whatever is left; each laser has 4 hours, and the second takes longer."""
    cost = np.array([[10.0, 10, 10, 10], [1, 4, 6, 9], [2, 5, 7, 12]])
    use = np.array([[0.0, 0, 0, 0], [2, 2, 2, 2], [3, 3, 3, 3]])
    found = assign(cost, use, np.array([np.inf, 4, 4]))
    assert found.line.tolist() == [1, 1, 2, 0]
    assert found.value == 22


def test_price_of_a_line_is_what_one_more_hour_saves():
    """With an hour more half of the second job moves from the die, which saves 3 of its 6."""
    cost, use = np.array([[10.0, 10.0], [1.0, 4.0]]), np.array([[0.0, 0.0], [2.0, 2.0]])
    assert assign(cost, use, np.array([np.inf, 2.0])).prices == pytest.approx([0, 3])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"limits": np.ones(3)}, r"the shapes \(2, 2\), \(2, 2\), \(3,\), \(2, 2\) do not fit together"),
        ({"value": np.zeros((2, 0))}, "do not fit together"),
        ({"value": np.array([[1.0, np.nan], [1, 1]])}, "a value or use is no amount; mark what a line can't make"),
        ({"use": np.array([[1.0, -1], [1, 1]])}, "a value or use is no amount"),
        ({"limits": np.array([1.0, -1.0])}, "a limit is no amount"),
        ({"possible": np.array([[False, True], [False, True]])}, "no line can make job 0; leave it out, or add a line"),
        ({"limits": np.zeros(2)}, "no assignment of all jobs was found; raise a limit"),
    ],
)
def test_what_is_wrong_with_an_assignment_is_said(change, message):
    plant = {"value": np.ones((2, 2)), "use": np.ones((2, 2)), "limits": np.full(2, 2.0)}
    with pytest.raises(InputError, match=message):
        assign(**(plant | change))


def test_what_a_line_cannot_make_may_have_no_value():
    value = np.array([[1.0, np.nan], [5.0, 5.0]])
    found = assign(value, np.ones((2, 2)), np.full(2, 9.0), possible=np.isfinite(value))
    assert found.line.tolist() == [0, 1]
