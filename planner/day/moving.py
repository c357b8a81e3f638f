"""A step moved by hand to a time on a machine: what that breaks as the accepted plan stands."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from planner import worktime
from planner.day.holding import Name
from planner.main_job import stored_job
from planner.plan import Burst, FirstOff, Step, Stint
from planner.store import Store
from planner.verify import verify


def breaches_of_move(store: Store, name: Name, machine: str, moment: datetime) -> list[str]:
    """What breaks when a step of the accepted plan is put at a time on a machine (where none is named, its own) and all else stays.

    It is the step as it is, shifted; timing it again afterwards mends what it breaks.
    """
    plan = store.accepted()
    if plan is None:
        return []
    job = stored_job(store, plan)
    at = job.work.places.get(name)
    old = job.plan.step_of().get(-1 if at is None else at)
    if old is None:
        return []
    index = next((i for i, m in enumerate(job.work.machines) if m.name == machine), None) if machine else old.machine
    if index is None:
        return []
    by = worktime.minute_of(moment, job.work.zone, job.work.plan_start) - old.start
    steps = tuple(shifted(s, by, index) if s is old else s for s in job.plan.steps)
    found = verify(job.work, replace(job.plan, steps=steps))
    return [f"{b.message}: expected {b.expected}, found {b.found}" for b in found if b.rule != "cost"]


def shifted(step: Step, by: int, machine: int) -> Step:
    """A step with all its times so many minutes later, on a machine."""

    def stints(found: tuple[Stint, ...]) -> tuple[Stint, ...]:
        return tuple(Stint(s.person, s.start + by, s.end + by) for s in found)

    first = step.first_off
    return replace(
        step, machine=machine, start=step.start + by, run_start=step.run_start + by, run_end=step.run_end + by,
        end=step.end + by, equipment_from=step.equipment_from + by, setup=stints(step.setup), stints=stints(step.stints),
        bursts=tuple(Burst(b.start + by, b.run_min_before) for b in step.bursts),
        first_off=first and FirstOff(first.cycle_end + by, first.approver, first.start + by, first.end + by),
    )  # fmt: skip
