"""What the list search makes of a list's cost terms: the second tier never outweighs a minute of the first."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from random_shops import random_work, shortened
from trials import begun

from planner.search.climb import _scalar
from planner.timetable.changes import T_LATE, T_PENCE, T_SETUP, T_WIP

AMOUNT = st.integers(0, 10**9)


@given(amounts=st.lists(AMOUNT, min_size=6, max_size=6), late=st.integers(0, 10**6))
def test_a_minute_late_outweighs_all_of_the_second_tier(amounts: list[int], late: int) -> None:
    one = begun(random_work(4))
    less, more = np.array(amounts[:3]), np.array(amounts[3:])

    def value(late: int, second: np.ndarray) -> float:
        total = one.touched.total
        total[:] = 0
        total[T_LATE], total[T_WIP], total[T_SETUP], total[T_PENCE] = late, *second
        return _scalar(one.touched, one.weights)

    assert value(late, less) < value(late + 1, more)
    if (less <= more).all():
        assert value(late, less) <= value(late, more)


@pytest.mark.parametrize("share", [1.0, 0.6])
def test_weights_are_of_use_where_the_first_list_leaves_something_out(share: float) -> None:
    """Else the second tier would come to nothing beside the minutes late, and equal ones would not be told apart."""
    work = random_work(5)
    whole, one = begun(work), begun(shortened(work, share))
    assert bool(one.table.unplaced()) == (share < 1.0)
    assert whole.weights is not None and one.weights is not None
    assert (one.weights >= whole.weights).all()
