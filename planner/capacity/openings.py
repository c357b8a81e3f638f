"""When a machine, the people with a skill, or both together are there; found once each."""

from __future__ import annotations

from functools import lru_cache

from planner.answers.spent import cut
from planner.work import NEVER, Operation, Span, Work
from planner.worktime import OpenTime, common, run_hours, united


class Openings:
    """Hours of one ``Work``; ``person`` None is anybody with the skill."""

    def __init__(self, work: Work) -> None:
        self._work = work
        self.attended = lru_cache(maxsize=None)(self._attended)
        self.run = lru_cache(maxsize=None)(self._run)
        self.people = lru_cache(maxsize=None)(self._people)
        self.manned = lru_cache(maxsize=None)(self._manned)
        self._calendars = [OpenTime(spans) for spans in work.move_calendars]

    def _attended(self, machine: int) -> OpenTime:
        return OpenTime(self._work.machines[machine].hours.attended)

    def _run(self, machine: int, limit_min: int) -> OpenTime:
        """Hours in which a run with that unattended limit gets on."""
        return OpenTime(tuple(run_hours(self._work.machines[machine].hours, limit_min)))

    def _people(self, skill: int | None, person: int | None = None) -> OpenTime:
        people = self._work.people if person is None else (self._work.people[person],)
        return OpenTime(tuple(united(w for p in people if skill in p.skills for w in p.hours)))

    def _manned(self, machine: int, skill: int | None, person: int | None = None) -> OpenTime:
        """When the machine is attended and somebody with the skill is there."""
        attended = self.attended(machine)
        if skill is None:
            return attended
        return OpenTime(tuple(common(attended.windows, self.people(skill, person).windows)))

    def move(self, before: Operation, machine: int | None) -> OpenTime | None:
        """Hours in which the move after a step counts; None: as time goes by."""
        if before.move_calendar is not None:
            return self._calendars[before.move_calendar]
        if machine is not None:
            return self.attended(machine)
        return None if self._work.shop_calendar is None else self._calendars[self._work.shop_calendar]

    def moved(self, before: Operation, machine: int | None, minute: int) -> int:
        """``minute`` and the move after ``before`` to a machine (None: to nowhere in particular)."""
        hours = self.move(before, machine)
        return minute + before.move_min if hours is None else hours.after(minute, before.move_min)


def laid_back(hours: OpenTime, end: int, minutes: int) -> list[Span]:
    """The last so many open minutes before ``end``; elapsed ones where no hours are known so far back."""
    if not minutes:
        return []
    start = hours.before(end, minutes)
    return [(end - minutes, end)] if start <= -NEVER else cut(hours.windows, start, end)


def moved_back(hours: OpenTime | None, ready: int, minutes: int) -> int:
    """When a move of so many minutes has to begin, to be over by ``ready``."""
    start = -NEVER if hours is None else hours.before(ready, minutes)
    return start if start > -NEVER else ready - minutes
