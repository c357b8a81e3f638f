"""Numbers with what they count."""

from __future__ import annotations

import pytest

from planner.counted import counted


@pytest.mark.parametrize(("count", "words"), [(0, "0 faults"), (1, "1 fault"), (2, "2 faults"), (1204, "1,204 faults")])
def test_one_is_one_and_all_else_is_many(count: int, words: str) -> None:
    assert counted(count, "fault") == words


def test_some_nouns_have_a_plural_of_their_own() -> None:
    assert [counted(n, "person", "people") for n in (1, 2)] == ["1 person", "2 people"]
