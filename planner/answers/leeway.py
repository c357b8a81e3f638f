"""How long an operation can wait: from when on there is a need to start it, and when it has to start at the latest.

The latest start is found by exact timing (:class:`planner.search.later.Leeway`): held until then, with the list order
and all else kept, no order becomes late and none that is late gets later. What feeds no order ends no later than planned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from threading import Lock

import numpy as np

from planner.plan import Plan, Step
from planner.search.later import Leeway, timed_again
from planner.timetable.trial import moved
from planner.work import Begun, Kind, Need, Work


@dataclass(frozen=True)
class Room:
    """Minutes from the plan start. ``no_need_before``: the latest start less the safety time, but not before the operation
    can start at all; ``latest``: for outside work, when it has to be ready for its collection."""

    no_need_before: int
    latest: int


class Rooms:
    """Looks them up for one plan; each is found when it is first asked for."""

    def __init__(self, work: Work, plan: Plan) -> None:
        self._work, self._plan = work, plan
        # pages ask from several threads, and what is tried out is for a moment in the plan
        self._one_at_a_time = Lock()

    @cached_property
    def _leeway(self) -> Leeway | None:
        """None for a plan that its own list does not give, such as one altered by hand."""
        try:
            return Leeway(timed_again(self._work, self._plan))
        except ValueError:
            return None

    @cached_property
    def _steps(self) -> dict[int, Step]:
        return self._plan.step_of()

    @cached_property
    def _needs(self) -> dict[int, list[Need]]:
        needs: dict[int, list[Need]] = {}
        for need in self._work.needs:
            needs.setdefault(need.operation, []).append(need)
        return needs

    def of(self, ops: Sequence[int]) -> dict[int, Room]:
        """By operation; without those under way, and without all where the plan is not that of its list."""
        free = [i for i in ops if self._work.operations[i].begun not in (Begun.RUNNING, Begun.OUT, Begun.DONE)]
        with self._one_at_a_time:
            if not free or self._leeway is None:
                return {}
            latest = self._leeway.latest(np.array(free, np.int64)).tolist()
        return {i: self._room(self._leeway, i, minute) for i, minute in zip(free, latest, strict=True)}

    def _room(self, leeway: Leeway, index: int, latest: int) -> Room:
        return Room(min(latest, max(self._can_start(leeway, index), leeway.sooner(latest))), latest)

    def _can_start(self, leeway: Leeway, index: int) -> int:
        """When all that it waits for is there as planned: release, material, components, the step before."""
        op = self._work.operations[index]
        moments = [0, self._work.batches[op.batch].release_min, op.not_before_min]
        for need in self._needs.get(index, ()):
            moments.append(need.at_min if need.batch is None else self._batch_end(need.batch))
        row = leeway.table.data.op[index]
        if row["before"] >= 0 and row["ahead"] == 0:
            machine = self._steps[index].machine if op.kind in (Kind.MACHINE, Kind.MANUAL) else None
            ready = moved(
                leeway.table.data, index, -1 if machine is None else machine, self._steps[int(row["before"])].end
            )
            moments.append(int(ready))
        return max(moments)

    def _batch_end(self, batch: int) -> int:
        last = self._steps.get(self._work.batches[batch].operations[-1])
        return 0 if last is None else last.end
