"""The hours of a shop's machines and people, each worked out once however many plans are verified against them."""

from __future__ import annotations

from functools import lru_cache

from planner.verify import hours
from planner.verify.hours import OpenTime
from planner.work import Hours, Span


class ShopHours:
    """Open time of machines and people, by their places in the work."""

    def __init__(self, machines: tuple[Hours, ...], people: tuple[tuple[Span, ...], ...]) -> None:
        self.people = [OpenTime(spans) for spans in people]
        self.attended = [OpenTime(m.attended) for m in machines]
        self._unattended = [OpenTime(m.unattended) for m in machines]
        self._run_hours: dict[tuple[int, int], OpenTime] = {}
        self._common: dict[tuple[int, int], OpenTime] = {}

    def run_hours(self, machine: int, unattended_limit_min: int) -> OpenTime:
        """Rule 4: hours in which a run with that limit gets on."""
        key = (machine, unattended_limit_min)
        if key not in self._run_hours:
            self._run_hours[key] = hours.with_unattended(self.attended[machine], self._unattended[machine], key[1])
        return self._run_hours[key]

    def common(self, machine: int, person: int) -> OpenTime:
        """Windows in which the machine is attended and the person is there; person -1 is nobody in particular."""
        if person == -1:
            return self.attended[machine]
        key = (machine, person)
        if key not in self._common:
            self._common[key] = hours.common(self.attended[machine], self.people[person])
        return self._common[key]


# Two, as plans of before and after a change are verified by turns; hours over years take some megabytes.
of_shop = lru_cache(maxsize=2)(ShopHours)
