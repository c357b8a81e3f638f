"""Checks a binding chain against its plan: nothing left out, nothing counted twice, and every part true.

It knows nothing of how the chain was found. ``chain_parts`` has the claim of each kind of part.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby, pairwise

from planner.chain import Chain, Part, PartKind
from planner.plan import Plan
from planner.verify import sublots
from planner.verify.breach import Breach
from planner.verify.chain_parts import claims, is_moving
from planner.verify.context import Context
from planner.verify.cost import order_finish
from planner.work import Work

RULE_SUM = "chain sum"
RULE_WAY = "chain way"


def verify_chains(work: Work, plan: Plan, chains: Iterable[Chain]) -> list[Breach]:
    """All that is wrong with chains; empty when they are right. The plan is one that holds all rules."""
    ctx = Context(work, plan)
    return [breach for chain in chains for breach in check(ctx, chain)]


def check(ctx: Context, chain: Chain) -> list[Breach]:
    """The same of one chain."""
    if (chain.order is None) == (chain.batch is None):
        return [Breach(RULE_SUM, "chain", "of one order or of one batch", f"order {chain.order}, batch {chain.batch}")]
    found = [*_ends(ctx, chain), *_sum(ctx, chain)]
    if any(p.operation is not None and p.operation not in ctx.steps for p in chain.parts):
        return [*found, Breach(RULE_WAY, "operations of the chain", "operations that the plan has", "others")]
    found += _way(ctx, chain)
    for part in chain.parts:
        found += claims(ctx, chain, part)
    return found


# ---- ends and sum ----------------------------------------------------------------


def _ends(ctx: Context, chain: Chain) -> Iterator[Breach]:
    finish = _finish(ctx, chain)
    if finish != chain.finish:
        yield Breach(RULE_SUM, "finish", ctx.when(finish), ctx.when(chain.finish))
    if chain.origin != 0:
        yield Breach(RULE_SUM, "origin", ctx.when(0), ctx.when(chain.origin))


def _finish(ctx: Context, chain: Chain) -> int | None:
    if chain.order is not None:
        return order_finish(ctx, ctx.work.orders[chain.order])
    assert chain.batch is not None
    return ctx.batch_end(chain.batch)


def _sum(ctx: Context, chain: Chain) -> Iterator[Breach]:
    """Each minute from the origin to the finish in exactly one part."""
    at = chain.origin
    for part in chain.parts:
        if part.start != at or part.end <= part.start:
            yield Breach(
                RULE_SUM, f"part '{part.kind}'", f"from {ctx.when(at)} on, not empty", ctx.span(part.start, part.end)
            )
        at = part.end
    if at != chain.finish:
        yield Breach(RULE_SUM, "end of the last part", ctx.when(chain.finish), ctx.when(at))
    total = sum(part.end - part.start for part in chain.parts)
    if total != chain.finish - chain.origin:
        yield Breach(RULE_SUM, "minutes of all parts", f"{chain.finish - chain.origin}", f"{total}")


# ---- from step to step -------------------------------------------------------------


def _way(ctx: Context, chain: Chain) -> Iterator[Breach]:
    """Each step follows on one that it had to wait for, and takes over when that is through with it."""
    visits = [(op, list(parts)) for op, parts in groupby(chain.parts, key=lambda p: p.operation)]
    if not visits:
        return
    if visits[-1][0] is not None and visits[-1][0] not in _lasts(ctx, chain):
        yield Breach(RULE_WAY, "last step", "one that the finish waits for", _name(ctx, visits[-1][0]))
    for (earlier, given), (later, parts) in pairwise(visits):
        moment = parts[0].start
        if earlier is None or later is None or earlier not in _through(ctx, _before(ctx, later), moment):
            where = f"step before {_name(ctx, later)}"
            yield Breach(RULE_WAY, where, "one that it waits for", _name(ctx, earlier))
        else:
            yield from _taken_over(ctx, given, later, parts)


def _name(ctx: Context, operation: int | None) -> str:
    return "no operation" if operation is None else ctx.name(operation)


def _lasts(ctx: Context, chain: Chain) -> set[int]:
    """Steps with which the order or batch is finished."""
    if chain.batch is not None:
        batches = [chain.batch]
    else:
        assert chain.order is not None
        batches = [s.batch for s in ctx.work.orders[chain.order].sources if s.batch is not None]
    ends = [ctx.work.batches[b].operations[-1] for b in batches if ctx.batch_end(b) == chain.finish]
    return _through(ctx, [i for i in ends if i in ctx.steps], chain.finish)


def _before(ctx: Context, operation: int) -> list[int]:
    """Steps that an operation waits for: the one before it in its batch, and the last ones of its components."""
    before = ctx.before_in_batch(ctx.work.operations[operation])
    found = [] if before is None else [before.index]
    for need in ctx.needs.get(operation, ()):
        if need.batch is not None:
            found.append(ctx.work.batches[need.batch].operations[-1])
    return [i for i in found if i in ctx.steps]


def _through(ctx: Context, operations: list[int], moment: int) -> set[int]:
    """These, and what is before those of them that have no minute before that moment."""
    found: set[int] = set()
    left = list(operations)
    while left:
        operation = left.pop()
        if operation not in found:
            found.add(operation)
            if ctx.steps[operation].start >= moment:
                left += _before(ctx, operation)
    return found


def _taken_over(ctx: Context, given: list[Part], later: int, parts: list[Part]) -> Iterator[Breach]:
    """At the earlier step's end; sooner where its pieces move on before all of them are done, or a setup is ahead of them."""
    earlier = given[-1].operation
    assert earlier is not None
    step, moment = ctx.steps[later], parts[0].start
    where = f"{ctx.name(later)} takes over from {ctx.name(earlier)}"
    there = next((p.start for p in parts if not is_moving(p)), parts[-1].end)
    lots = sublots.arrivals(ctx, step)
    first = next((lot for lot in lots if lot.run_min > 0 and lot.left is not None and lot.ready is not None), None)
    ahead = first is not None and there == step.start <= (first.ready or 0) and moment == min(first.left or 0, there)
    if (
        moment != ctx.steps[earlier].end
        and not ahead
        and (moment, there) not in [(lot.left, lot.ready) for lot in lots]
    ):
        yield Breach(RULE_WAY, where, ctx.when(ctx.steps[earlier].end), ctx.when(moment))
    left = first.left if ahead and first is not None and first.left is not None else moment
    lies_from = left - ctx.work.operations[earlier].wait_min
    passed_over = earlier not in _before(ctx, later)  # a step between has no minute here
    if given[-1].kind == PartKind.WAIT and given[-1].start != lies_from and not passed_over:
        yield Breach(RULE_WAY, f"{where}, begin of its elapsed wait", ctx.when(lies_from), ctx.when(given[-1].start))
