"""The check of chains: right ones pass, every harmful change is caught."""

from __future__ import annotations

import random
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace

import pytest
from builders import ShopBuilder, as_plan
from hypothesis import given, settings
from hypothesis import strategies as st
from random_shops import decided, random_work
from why_chains import chain_of, timed

from planner.answers.why.facts import Facts
from planner.answers.why.walk import batch_chain, order_chain
from planner.chain import Chain, Part, PartKind
from planner.plan import Plan
from planner.search import search, start_later
from planner.timetable import Timetable
from planner.verify.chain import check, verify_chains
from planner.verify.context import Context
from planner.work import Kept, Work

Case = tuple[Work, Context, Chain]

SHOPS = range(300, 312)


def chains(work: Work, plan: Plan) -> list[Chain]:
    facts = Facts(work, plan)
    found = [order_chain(facts, order) for order in work.orders] + [batch_chain(facts, b.index) for b in work.batches]
    return [chain for chain in found if chain is not None]


def shuffled(number: int) -> tuple[Work, Plan]:
    """A random shop with a random list and random first steps held back."""
    work = random_work(number)
    order = list(range(len(work.operations)))
    random.Random(number).shuffle(order)
    table = Timetable(work)
    held = [random.Random(number + i).choice([0, 0, 900]) if work.batches[o.batch].operations[0] == o.index else 0
            for i, o in enumerate(work.operations)]  # fmt: skip
    table.hold(table.held + held)
    table.time(table.repaired(order))
    return work, as_plan(work, table)


@settings(max_examples=25)
@given(st.integers(0, 100_000))
def test_the_parts_of_every_chain_of_a_random_shop_add_up_to_its_lead_time(number: int) -> None:
    """Through the real planner, with pins and starts held back; ``verify_chains`` asks for no gap, no overlap and true claims."""
    work = random_work(number)
    work = decided(work, random.Random(number)) if number % 2 else work
    plan = start_later(work, search(work, trials=1))
    if not plan.complete:
        return
    for chain in chains(work, plan):
        assert sum(part.end - part.start for part in chain.parts) == chain.finish - chain.origin
        assert verify_chains(work, plan, [chain]) == []


# --- changes that must be caught --------------------------------------------------------------------


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    found = []
    for number in SHOPS:
        work, plan = shuffled(number)
        found += [
            (work, Context(work, plan), chain) for chain in chains(work, plan) if chain.parts and chain.order is None
        ]
    return found


def _with(chain: Chain, place: int, *parts: Part) -> Chain:
    return replace(chain, parts=(*chain.parts[:place], *parts, *chain.parts[place + 1 :]))


def a_part_left_out(work: Work, chain: Chain) -> Iterator[Chain]:
    for place in range(len(chain.parts)):
        yield _with(chain, place)


def a_part_twice(work: Work, chain: Chain) -> Iterator[Chain]:
    for place, part in enumerate(chain.parts):
        yield _with(chain, place, part, part)


def a_minute_more_or_less(work: Work, chain: Chain) -> Iterator[Chain]:
    for place, part in enumerate(chain.parts):
        yield _with(chain, place, replace(part, end=part.end + 1))
        yield _with(chain, place, replace(part, start=part.start - 1))


def a_bound_moved(work: Work, chain: Chain) -> Iterator[Chain]:
    """The sum stays: one part gets a minute of the next, which is something else or another's."""
    for place in range(len(chain.parts) - 1):
        a, b = chain.parts[place : place + 2]
        for by in (-1, 1):
            first, second = replace(a, end=a.end + by), replace(b, start=b.start + by)
            if first.minutes and second.minutes:
                yield replace(chain, parts=(*chain.parts[:place], first, second, *chain.parts[place + 2 :]))


def two_made_one(work: Work, chain: Chain) -> Iterator[Chain]:
    for place in range(len(chain.parts) - 1):
        a, b = chain.parts[place : place + 2]
        if a.kind is not b.kind and b.behind != a.operation:  # behind its own step before, that is the same
            yield replace(chain, parts=(*chain.parts[:place], replace(a, end=b.end), *chain.parts[place + 2 :]))


def other_order_of_parts(work: Work, chain: Chain) -> Iterator[Chain]:
    if len(chain.parts) > 1:
        yield replace(chain, parts=(*chain.parts[1:], chain.parts[0]))


def other_ends(work: Work, chain: Chain) -> Iterator[Chain]:
    yield replace(chain, finish=chain.finish + 1)
    yield replace(chain, origin=1)
    first = chain.parts[0]
    if first.minutes > 1:
        yield replace(chain, origin=1, parts=(replace(first, start=1), *chain.parts[1:]))
    yield replace(chain, order=None, batch=None)


def work_of_its_own_called_a_wait(work: Work, chain: Chain) -> Iterator[Chain]:
    for place, part in enumerate(chain.parts):
        if part.kind in (PartKind.SETUP, PartKind.RUN, PartKind.APPROVING):
            for kind in (
                PartKind.CLOSED,
                PartKind.OTHER,
                PartKind.STRETCH,
                PartKind.VAN,
                PartKind.HELD,
                PartKind.RELEASE,
            ):
                yield _with(chain, place, replace(part, kind=kind))


def a_wait_called_work_of_its_own(work: Work, chain: Chain) -> Iterator[Chain]:
    for place, part in enumerate(chain.parts):
        # what lies or is moved may do so while other pieces of its batch are worked on
        if part.kind not in (PartKind.SETUP, PartKind.RUN, PartKind.APPROVING, PartKind.MOVE, PartKind.WAIT):
            for kind in (PartKind.SETUP, PartKind.RUN, PartKind.APPROVING):
                yield _with(chain, place, replace(part, kind=kind))


def another_batch_in_the_way(work: Work, chain: Chain) -> Iterator[Chain]:
    for place, part in enumerate(chain.parts):
        if part.kind in (PartKind.MACHINE, PartKind.TURN):
            yield _with(chain, place, replace(part, behind=None))
            yield _with(chain, place, replace(part, behind=part.operation))
            others = [o.index for o in work.operations if part.machine not in [a.machine for a in o.alternatives]]
            yield from (_with(chain, place, replace(part, behind=other)) for other in others[:2])


def another_step(work: Work, chain: Chain) -> Iterator[Chain]:
    """Minutes at a step are told of a step of another batch."""
    for place, part in enumerate(chain.parts):
        if part.operation is not None:
            batch = work.operations[part.operation].batch
            other = next((o.index for o in work.operations if o.batch != batch), None)
            if other is not None and len(chain.parts) > 1:
                yield _with(chain, place, replace(part, operation=other))


def another_one_s_hours(work: Work, chain: Chain) -> Iterator[Chain]:
    for place, part in enumerate(chain.parts):
        if part.kind is PartKind.CLOSED and part.machine is not None:
            yield _with(chain, place, replace(part, machine=(part.machine + 1) % len(work.machines)))
        if part.kind is PartKind.APPROVING and part.person is not None:
            yield _with(chain, place, replace(part, person=(part.person + 1) % len(work.people)))


CHANGES = (
    a_part_left_out, a_part_twice, a_minute_more_or_less, a_bound_moved, two_made_one, other_order_of_parts, other_ends,
    work_of_its_own_called_a_wait, a_wait_called_work_of_its_own, another_batch_in_the_way, another_step, another_one_s_hours,
)  # fmt: skip


def test_the_chains_are_right_before_they_are_changed(cases: list[Case]) -> None:
    assert all(check(ctx, chain) == [] for _, ctx, chain in cases)
    assert {part.kind for _, _, chain in cases for part in chain.parts} >= {
        PartKind.SETUP, PartKind.RUN, PartKind.APPROVING, PartKind.MACHINE, PartKind.TURN, PartKind.EQUIPMENT,
        PartKind.MOVE, PartKind.WAIT, PartKind.VAN, PartKind.OUTSIDE, PartKind.RECEIPT, PartKind.RELEASE, PartKind.DECISION,
        PartKind.HELD, PartKind.CLOSED,
    }  # fmt: skip


@pytest.mark.parametrize("change", CHANGES, ids=lambda c: c.__name__)
def test_no_harmful_change_goes_unseen(cases: list[Case], change) -> None:
    tried = 0
    for work, ctx, chain in cases:
        for spoilt in change(work, chain):
            assert check(ctx, spoilt), spoilt
            tried += 1
    assert tried


def test_a_place_is_called_kept_where_it_is_and_nowhere_else() -> None:
    shop = ShopBuilder().batch("B0", pieces=50).op("L1").batch("B2", pieces=30).op("L1").batch("B1").op("L1")
    work = shop.kept("B1", 10, "L1", ("B2", 10), 100).build()
    plan = timed(work, "B0", "B2")
    right = chain_of(work, plan, "B1")
    first, second, run = right.parts
    assert (first.kind, second.kind) == (PartKind.MACHINE, PartKind.KEPT)
    for wrong in (
        (replace(first, kind=PartKind.KEPT), second, run),
        (first, replace(second, kind=PartKind.MACHINE), run),
        (first, replace(second, kind=PartKind.TURN), run),
        (replace(first, end=49), replace(second, start=49), run),
        (first, replace(second, behind=first.behind), run),
    ):
        assert verify_chains(work, plan, [replace(right, parts=wrong)])
    for loose in (replace(work.kept[0], weight=1), replace(work.kept[0], after=None), replace(work.kept[0], machine=1)):
        assert "its place is kept" in str(verify_chains(replace(work, kept=(loose,)), plan, [right])[0])


def test_chains_of_frozen_places_are_right_in_random_shops() -> None:
    seen = 0
    for number in SHOPS:
        work, plan = shuffled(number)
        frozen = replace(work, kept=tuple(places(plan)))
        for chain in chains(frozen, plan):
            assert verify_chains(frozen, plan, [chain]) == []
            seen += sum(part.kind is PartKind.KEPT for part in chain.parts)
            assert all(verify_chains(work, plan, [chain]) for part in chain.parts if part.kind is PartKind.KEPT)
    assert seen > 20


def places(plan: Plan) -> Iterator[Kept]:
    """Each step at the place it has, frozen."""
    before: dict[int, int] = {}
    for step in sorted(plan.steps, key=lambda s: (s.start, s.run_end, s.operation)):
        if step.machine is not None:
            yield Kept(step.operation, step.machine, before.get(step.machine), 100)
            before[step.machine] = step.operation


def test_a_component_that_does_not_come_last_is_refused() -> None:
    work = (
        ShopBuilder().batch("C1", pieces=5).op("L1").batch("C2", pieces=9).op("L2")
        .batch("B1").op("L4").need("B1", 10, "C1").need("B1", 10, "C2").build()
    )  # fmt: skip
    plan = timed(work)
    right = chain_of(work, plan, "B1")
    run = right.parts[-1]
    wrong = (
        Part(PartKind.RUN, 0, 5, 0, machine=0), Part(PartKind.OTHER, 5, 9, run.operation, machine=2), run,
    )  # fmt: skip
    assert "not before" in str(verify_chains(work, plan, [replace(right, parts=wrong)])[0])


def test_the_check_shares_no_code_with_what_makes_chains() -> None:
    code = "import sys, planner.verify.chain; print(*sorted(m for m in sys.modules if m.split('.')[0] in ('ortools', 'numba', 'planner')))"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert "planner.verify.chain" in told
    assert [m for m in told if m.startswith(("ortools", "numba", "planner.answers", "planner.timetable"))] == []
