"""Why a plan changes: what is different in the shop since, where it touches an order or a step."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cached_property

from planner.answers.feeds import Feeds
from planner.answers.wording import step_name
from planner.explode.left_alone import meant
from planner.main_job import Job
from planner.plan import Step
from planner.shop import Absence, Pin
from planner.store.records import MINUTE

Name = tuple[str, int]  # of a step: batch and operation number


class Reasons:
    """Looks differences of two shops up by order and step."""

    def __init__(self, before: Job, after: Job) -> None:
        self.before, self.after = before, after

    # --- of an order ---------------------------------------------------------------------------

    def of_order(self, number: str, is_worse: bool) -> str:
        """What happened to the order, its batches, and the machines and people they were planned on."""
        found = [*self._order_changes(number)]
        for name, step in self._steps_of(number):
            found += self._batch_changes(name[0])
            found += self._decided(name)
            if is_worse and step is not None:
                found += self._away(step)
        return "; ".join(dict.fromkeys(found))

    def _order_changes(self, number: str) -> list[str]:
        old, new = self.before.shop.orders.get(number), self.after.shop.orders.get(number)
        if old is None or new is None:
            return ["taken off the tables"] if new is None else []
        words = {"quantity": "quantity", "due": "due", "priority": "class", "material_date": "material date"}
        return [
            f"{word} {getattr(old, name) or 'none'} to {getattr(new, name) or 'none'}"
            for name, word in words.items()
            if getattr(old, name) != getattr(new, name)
        ]

    def _steps_of(self, number: str) -> list[tuple[Name, Step | None]]:
        """Steps of the batches that feed an order in either plan, with their place in the plan before."""
        steps = self.before.plan.step_of()
        found: dict[Name, Step | None] = {}
        for job, feeds in ((self.before, self._feeds_before), (self.after, self._feeds_after)):
            for batch in job.work.batches:
                if any(order.number == number for order in feeds.orders(batch.index)):
                    for i in batch.operations:
                        name = (batch.name, job.work.operations[i].number)
                        found.setdefault(name, steps.get(i) if job is self.before else None)
        return list(found.items())

    @cached_property
    def _feeds_before(self) -> Feeds:
        return Feeds(self.before.work)

    @cached_property
    def _feeds_after(self) -> Feeds:
        return Feeds(self.after.work)

    def _batch_changes(self, name: str) -> list[str]:
        if meant(set(self.after.shop.left_alone) - set(self.before.shop.left_alone), {name}):
            return [f"batch {name} is to be left as it is"]
        old, new = self.before.shop.batches.get(name), self.after.shop.batches.get(name)
        if new is None:
            return []
        lost = sum(p.scrap for p in new.progress) - (sum(p.scrap for p in old.progress) if old else 0)
        found = [f"{lost} scrapped of batch {name}"] if lost > 0 else []
        if old is not None and old.quantity != new.quantity:
            found.append(f"batch {name} has {new.quantity} pieces in place of {old.quantity}")
        return found

    # --- of a step -----------------------------------------------------------------------------

    def of_step(self, name: Name, old: Step, new: Step, ahead: Step | None) -> str:
        """Why a step is on another machine or at another place."""
        found = [*self._decided(name), *self._away(old)]
        if not found:
            found = self._ahead(ahead)
        return "; ".join(dict.fromkeys(found)) or "ready sooner, or makes room for what is due sooner"

    def _ahead(self, ahead: Step | None) -> list[str]:
        """What is before it now, where that was not planned at all or has changed itself."""
        if ahead is None:
            return ["what was before it is done or elsewhere"]
        op = self.after.work.operations[ahead.operation]
        name = (self.after.work.batches[op.batch].name, op.number)
        if name not in self.before.work.places:
            return [f"behind {step_name(self.after.work, op)}, which is new"]
        return [f"behind {step_name(self.after.work, op)}: {word}" for word in self._decided(name)]

    # --- what is different -----------------------------------------------------------------------

    @cached_property
    def _pins(self) -> tuple[dict[Name, Pin], dict[Name, Pin]]:
        before, after = ({(p.batch, p.operation): p for p in job.shop.pins} for job in (self.before, self.after))
        return before, after

    def _decided(self, name: Name) -> list[str]:
        before, after = self._pins
        pin = after.get(name)
        if pin is None or pin == before.get(name):
            return []
        parts = [
            f"on {pin.machine}" if pin.machine else "",
            f"by {pin.person}" if pin.person else "",
            f"not before {pin.not_before:{MINUTE}}" if pin.not_before else "",
            f"not on {', '.join(pin.not_machines)}" if pin.not_machines else "",
            f"right after {pin.after_batch} op {pin.after_operation}" if pin.after_batch else "",
        ]
        why = f" ({pin.reason})" if pin.reason else ""
        return [f"{name[0]} op {name[1]} decided: {', '.join(filter(None, parts))}{why}"]

    def _away(self, old: Step) -> list[str]:
        """Its machine or people, where they are newly away while it was planned."""
        work, found = self.before.work, []
        start, end = (work.local(m).replace(tzinfo=None) for m in (old.start, max(old.run_end, old.start + 1)))
        if old.machine is not None:
            name = work.machines[old.machine].name
            down = [
                j.shop.machines[name].downtime if name in j.shop.machines else () for j in (self.before, self.after)
            ]
            found += [f"{name} down {_span(a)}" for a in _new(down[0], down[1], start, end)]
        for person in {s.person for s in (*old.setup, *old.stints) if s.person >= 0}:
            name = work.people[person].name
            leave = [j.shop.people[name].leave if name in j.shop.people else () for j in (self.before, self.after)]
            found += [f"{name} away {_span(a)}" for a in _new(leave[0], leave[1], start, end)]
        return found


def _new(before: tuple[Absence, ...], after: tuple[Absence, ...], start: datetime, end: datetime) -> list[Absence]:
    """Absences that are new and touch a span, with the day after it: what was before it may have been pushed back."""
    return [a for a in after if a not in before and a.start < end and a.end > start - timedelta(days=1)]


def _span(absence: Absence) -> str:
    why = f" ({absence.reason})" if absence.reason else ""
    return f"{absence.start:{MINUTE}} to {absence.end:{MINUTE}}{why}"
