"""Fields of a plan document: names for indices and back, with a plain word for what is wrong."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from functools import lru_cache
from typing import Any, TypeVar

from planner.plan import Step
from planner.work import Work

T = TypeVar("T")


class Damaged(Exception):
    """A field of the document is missing or cannot be right; the message says which."""


class Fields:
    """One object of the document; ``where`` is how messages call it."""

    def __init__(self, values: Any, where: str) -> None:
        if not isinstance(values, dict):
            raise Damaged(f"{where} is not a record")
        self._values, self.where = values, where

    def _value(self, name: str) -> Any:
        if name not in self._values:
            raise Damaged(f"{self.where} has no '{name}'")
        return self._values[name]

    def given(self, name: str) -> bool:
        """Is the field there, and not null?"""
        return self._value(name) is not None

    def has(self, name: str) -> bool:
        """As :meth:`given`, of a field that older documents do not have."""
        return name in self._values and self.given(name)

    def wrong(self, name: str, expected: str) -> Damaged:
        return Damaged(f"{self.where}: '{name}' is {self._value(name)!r:.60}, expected {expected}")

    def whole(self, name: str) -> int:
        value = self._value(name)
        if not isinstance(value, int) or isinstance(value, bool):
            raise self.wrong(name, "a whole number")
        return value

    def number(self, name: str) -> float:
        value = self._value(name)
        if not isinstance(value, int | float) or isinstance(value, bool):
            raise self.wrong(name, "a number")
        return value

    def text(self, name: str) -> str:
        value = self._value(name)
        if not isinstance(value, str):
            raise self.wrong(name, "text")
        return value

    def moment(self, name: str) -> datetime:
        try:
            moment = datetime.fromisoformat(self.text(name))
        except ValueError:
            raise self.wrong(name, "a moment") from None
        if moment.tzinfo is None:
            raise self.wrong(name, "a moment with its offset from UTC")
        return moment

    def one_of(self, name: str, known: Mapping[str, T]) -> T:
        value = self.text(name)
        if value not in known:
            raise self.wrong(name, "a known name")
        return known[value]

    def record(self, name: str) -> Fields:
        return Fields(self._value(name), f"'{name}' of {self.where}")

    def records(self, name: str) -> list[Fields]:
        value = self._value(name)
        if not isinstance(value, list):
            raise self.wrong(name, "a list")
        return [Fields(item, f"no. {n} of '{name}' of {self.where}") for n, item in enumerate(value, 1)]


class Names:
    """What the indices of one ``Work`` are called in the document."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self.machines = {m.name: i for i, m in enumerate(work.machines)}
        self._people = {p.name: i for i, p in enumerate(work.people)}
        self._batches = {b.name: b.index for b in work.batches}
        self._at = lru_cache(maxsize=None)(lambda minute: work.local(minute).isoformat())

    def step(self, operation: int) -> dict[str, Any]:
        op = self._work.operations[operation]
        return {"batch": self._work.batches[op.batch].name, "step": op.number}

    def index_of(self, row: Fields) -> int:
        key = (row.text("batch"), row.whole("step"))
        if key not in self._work.places:
            raise Damaged(f"{row.where}: there is no step {key[1]} of batch {key[0]!r}")
        return self._work.places[key]

    def moment(self, minute: int) -> dict[str, Any]:
        return {"min": minute, "at": self._at(minute)}

    def minute(self, row: Fields, name: str) -> int:
        """The minute of a moment, whose local time must be the same moment."""
        moment = row.record(name)
        minute = moment.whole("min")
        try:
            same = self._at(minute) == moment.text("at")
        except OverflowError:
            same = False
        if not same:
            raise row.wrong(name, "a minute and the local time of that minute")
        return minute

    def person(self, index: int) -> str | None:
        return None if index < 0 else self._work.people[index].name

    def person_index(self, row: Fields, name: str) -> int:
        return row.one_of(name, self._people) if row.given(name) else -1

    def waited_on(self, step: Step) -> dict[str, Any] | None:
        """A component that was waited for is a batch, anything else an operation."""
        if step.waited_on is None:
            return None
        if step.waited_for == "component":
            return {"batch": self._work.batches[step.waited_on].name}
        return self.step(step.waited_on)

    def index_waited_on(self, row: Fields) -> int | None:
        if not row.given("waited_on"):
            return None
        on = row.record("waited_on")
        if row.text("waited_for") == "component":
            return on.one_of("batch", self._batches)
        return self.index_of(on)
