"""How weeks and days are headed."""

from __future__ import annotations

import pytest

from planner.answers.load import OVERDUE
from web.loads import headings


@pytest.mark.parametrize(
    ("periods", "expected"),
    [
        ((), ()),
        (("2026-W27", "2026-W28"), ("W27", "W28")),
        (("2026-W52", "2026-W53", "2027-W01", "2027-W02"), ("W52", "W53", "W01 2027", "W02")),
        (("2026-12-31", "2027-01-01"), ("Thu 31 Dec", "Fri 1 Jan 2027")),
        ((OVERDUE, "2027-W01", "2027-W02"), (OVERDUE, "W01", "W02")),
    ],
)
def test_a_heading_tells_the_year_where_another_begins(periods: tuple[str, ...], expected: tuple[str, ...]) -> None:
    """2026 has 53 ISO weeks (ISO 8601: its 1 January is a Thursday)."""
    assert headings(periods) == expected
