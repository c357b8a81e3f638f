"""Chains of small shops for tests, short to write: ('waits for machine', 0, 50, 'B1 op 10', 'behind B0 op 10')."""

from __future__ import annotations

import numpy as np
from builders import as_plan

from planner.answers.why.facts import Facts
from planner.answers.why.walk import batch_chain, order_chain
from planner.answers.wording import step_name
from planner.chain import Chain, Part
from planner.plan import Plan
from planner.timetable import Timetable
from planner.verify import verify
from planner.verify.chain import verify_chains
from planner.work import Work

Row = tuple[str, int, int, str, str]


def timed(work: Work, *names: str, hold: dict[str, int] | None = None) -> Plan:
    """The plan of a list: first the steps of the batches named, in that order, then all others; some first steps held back."""
    first = [i for name in names for b in work.batches if b.name == name for i in b.operations]
    table = Timetable(work)
    until = [0] * len(work.operations)
    for name, minute in (hold or {}).items():
        until[next(b for b in work.batches if b.name == name).operations[0]] = minute
    table.hold(np.array(until, np.int64))
    assert table.time(table.repaired(first)) == 0
    made = as_plan(work, table)
    assert verify(work, made) == []
    return made


def chain_of(work: Work, made: Plan, name: str) -> Chain:
    """The chain of an order, or of a batch where there is no such order; checked by the verifier."""
    facts = Facts(work, made)
    order = next((o for o in work.orders if o.number == name), None)
    batch = next((b.index for b in work.batches if b.name == name), -1)
    found = batch_chain(facts, batch) if order is None else order_chain(facts, order)
    assert found is not None
    assert verify_chains(work, made, [found]) == []
    return found


def rows(work: Work, made: Plan, name: str) -> list[Row]:
    """Each part: kind, from, to, whose step, and what else it says."""
    return [
        (p.kind.value, p.start, p.end, _step(work, p.operation), _said(work, p))
        for p in chain_of(work, made, name).parts
    ]


def _step(work: Work, operation: int | None) -> str:
    return "" if operation is None else step_name(work, work.operations[operation])


def _said(work: Work, part: Part) -> str:
    said = [
        part.machine is not None and work.machines[part.machine].name,
        part.person is not None and work.people[part.person].name,
        part.skill is not None and work.skills[part.skill],
        part.equipment is not None and work.equipment[part.equipment].name,
        part.behind is not None and f"behind {_step(work, part.behind)}",
        part.need is not None and f"{work.needs[part.need].part} {work.needs[part.need].receipt}",
        part.receipt,
    ]
    return ", ".join(word for word in said if word)
