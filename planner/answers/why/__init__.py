"""Why an order is ready when it is: the binding chain back from its finish, in parts that add up to the lead time.

    facts.py      looks up the plan: who had what when
    walk.py       from step to step, back to the plan start; every minute in one part
    own.py        a step's own minutes: setting, running, first piece, closed
    queue.py      what a step waited for before it: dates, machine
    hands.py      people, equipment
    sublots.py    pieces that come before all of the batch is there
    causes.py, table.py, sentence.py, notes.py, words.py    the chain in words

A chain goes through what a step had to have (the step before it, the component that came last). What it waited for then, a
machine behind other batches or a van, is a part of the chain; the other batches' own chains are not. An explanation
is checked by ``planner.verify.chain`` before it leaves here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from planner.answers.feeds import order_finish
from planner.answers.kits import NOT_ON_ORDER
from planner.answers.leeway import Rooms
from planner.answers.why.causes import causes
from planner.answers.why.facts import Facts
from planner.answers.why.notes import notes
from planner.answers.why.records import Why
from planner.answers.why.sentence import reason, sentence
from planner.answers.why.table import bits, legs
from planner.answers.why.walk import ORIGIN, batch_chain, order_chain
from planner.answers.wording import moment_iso, moment_text
from planner.chain import Chain, PartKind
from planner.counted import counted
from planner.intake.nearest import did_you_mean
from planner.plan import Plan
from planner.verify import Breach
from planner.verify.chain import verify_chains
from planner.work import Begun, Order, Work

__all__ = [
    "ChainRefused",
    "Unknown",
    "Why",
    "late_chains",
    "late_reasons",
    "sound_chains",
    "why",
    "why_batch",
    "why_late",
]


class Unknown(LookupError):
    """The plan has no such order or batch; the text says so and names the nearest."""


class ChainRefused(Exception):
    """An explanation does not agree with its plan; ``breaches`` says where."""

    def __init__(self, breaches: Sequence[Breach]) -> None:
        self.breaches = tuple(breaches)
        super().__init__("\n".join(str(breach) for breach in self.breaches))


def why(work: Work, plan: Plan, order: str, rooms: Rooms | None = None) -> Why:
    """Why an order is ready when it is.

    Parameters
    ----------
    order
        Its number.
    rooms
        Looks up how much later each step could start; without it that is left out.

    Raises
    ------
    Unknown
        There is no such order.
    ChainRefused
        The explanation was checked and is wrong; nothing of it is to be shown.
    """
    found = next((o for o in work.orders if o.number == order), None)
    if found is None:
        raise Unknown(_unknown("order", order, [o.number for o in work.orders]))
    facts = Facts(work, plan)
    chain = _checked(work, plan, [order_chain(facts, found)])[0]
    made = _why(facts, found.number, False, found.due_min, chain, _not_planned(facts, found), rooms)
    short = sum(s.pieces for s in found.sources if s.receipt == NOT_ON_ORDER)
    return made if not short else replace(made, sentence=f"{made.sentence} {short} of {found.part} are not on order.")


def why_batch(work: Work, plan: Plan, batch: str, rooms: Rooms | None = None) -> Why:
    """The same of one batch, by its name; without a due date. Raises as :func:`why`."""
    found = next((b for b in work.batches if b.name == batch), None)
    if found is None:
        raise Unknown(_unknown("batch", batch, [b.name for b in work.batches]))
    facts = Facts(work, plan)
    chain = _checked(work, plan, [batch_chain(facts, found.index)])[0]
    return _why(facts, found.name, True, None, chain, "the plan has no time for it", rooms)


def why_late(work: Work, plan: Plan) -> list[tuple[str, str]]:
    """Number and sentence of each late order, the latest first. Raises ``ChainRefused``."""
    facts = Facts(work, plan)
    late = sorted(_late(facts), key=lambda both: (both[0].due_min - both[1].finish, both[0].number))
    _checked(work, plan, [chain for _, chain in late])
    return [(order.number, sentence(facts, order.number, chain, order.due_min)) for order, chain in late]


def late_reasons(work: Work, plan: Plan) -> dict[str, str]:
    """Why in short, by the number of each late order that the plan has a time for; an explanation that is wrong is left out."""
    facts = Facts(work, plan)
    found = _sound(work, plan, list(_late(facts)))
    return {order.number: reason(facts, chain, order.due_min) for order, chain in found}


def late_chains(work: Work, plan: Plan) -> list[tuple[Order, Chain]]:
    """Each late order that the plan has a time for, with its binding chain. Raises ``ChainRefused``."""
    found = list(_late(Facts(work, plan)))
    _checked(work, plan, [chain for _, chain in found])
    return found


def sound_chains(work: Work, plan: Plan, orders: Iterable[Order]) -> dict[int, Chain]:
    """The binding chains of some orders, by the order's index; one that is wrong is left out."""
    facts = Facts(work, plan)
    found = [(order, chain) for order in orders if (chain := order_chain(facts, order)) is not None]
    return {order.index: chain for order, chain in _sound(work, plan, found)}


def _sound(work: Work, plan: Plan, found: list[tuple[Order, Chain]]) -> list[tuple[Order, Chain]]:
    """Without the chains that are wrong; all at once first, as hardly ever one is."""
    if verify_chains(work, plan, [chain for _, chain in found]):
        return [(order, chain) for order, chain in found if not verify_chains(work, plan, [chain])]
    return found


def _late(facts: Facts) -> Iterator[tuple[Order, Chain]]:
    for order in facts.work.orders:
        finish = order_finish(facts.work, facts.steps, order)
        if finish is not None and finish > order.due_min:
            chain = order_chain(facts, order)
            if chain is not None:
                yield order, chain


def _unknown(kind: str, name: str, known: Iterable[str]) -> str:
    names = sorted(known)
    some = f"it has {', '.join(names[:5])}{' and others' if len(names) > 5 else ''}." if names else "it has none."
    return f"The plan has no {kind} '{name}'. {did_you_mean(name, names, some)}"


def _checked(work: Work, plan: Plan, chains: Sequence[Chain | None]) -> Sequence[Chain | None]:
    breaches = verify_chains(work, plan, [chain for chain in chains if chain is not None])
    if breaches:
        raise ChainRefused(breaches)
    return chains


def _not_planned(facts: Facts, order: Order) -> str:
    missing = [facts.work.batches[s.batch].name for s in order.sources
               if s.batch is not None and facts.last_of(s.batch) is None and not facts.is_done(s.batch)]  # fmt: skip
    return f"the plan has no time for {', '.join(missing)}" if missing else "the plan has no time for it"


def _why(
    facts: Facts, name: str, batch: bool, due: int | None, chain: Chain | None, not_planned: str, rooms: Rooms | None
) -> Why:
    work = facts.work
    due_text = "" if due is None else moment_text(work, due)
    if chain is None:
        return Why(
            name, batch, f"{name} is not planned: {not_planned}.", "", "not planned", None, None, due_text, due, None,
            "", ORIGIN, 0, (), (), (), (),
        )  # fmt: skip
    steps = dict.fromkeys(p.operation for p in chain.parts if p.operation is not None)
    return Why(
        name=name, batch=batch, sentence=sentence(facts, name, chain, due), reason=reason(facts, chain, due),
        finish=moment_text(work, chain.finish), finish_at=moment_iso(work, chain.finish), finish_min=chain.finish,
        due=due_text, due_min=due, late_min=None if due is None else chain.finish - due,
        origin=_origin(facts, chain), origin_min=chain.origin, lead_min=chain.lead_min, causes=causes(facts, chain, due is not None and chain.finish > due),
        legs=legs(facts, chain, {} if rooms is None else rooms.of(list(steps))), notes=notes(facts, chain), bits=bits(facts, chain),
    )  # fmt: skip


def _origin(facts: Facts, chain: Chain) -> str:
    """From when the lead time is counted, and what was known then."""
    start = f"the plan start, {moment_text(facts.work, chain.origin)}"
    first = chain.parts[0] if chain.parts else None
    if first is None or first.operation is None:
        return start
    op = facts.work.operations[first.operation]
    batch = facts.work.batches[op.batch]
    if op.begun in (Begun.RUNNING, Begun.OUT):
        return f"{start}; {batch.name} op {op.number} was under way then, and what it took before is not counted"
    if any(facts.work.operations[i].begun is Begun.DONE for i in batch.operations):
        done = sum(facts.work.operations[i].begun is Begun.DONE for i in batch.operations)
        were, are = ("was", "is") if done == 1 else ("were", "are")
        return f"{start}; {counted(done, 'step')} of {batch.name} {were} done before then and {are} not counted"
    if first.kind is PartKind.RELEASE:
        return f"{start}; {batch.name} is released {moment_text(facts.work, first.end)}"
    return start
