"""Batches that the planner split or combined, in words: what is done, and what it saved when it was found."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from dataclasses import dataclass

from planner.answers.feeds import Feeds
from planner.answers.wording import elapsed_text, pounds, span_text
from planner.counted import counted
from planner.plan import Cost, Plan
from planner.work import Batch, Change, Kind, Prices, Proposal, Work

SPLIT_CAUTION = (
    "Two machines mean two setups and a first-off each; where process or machine changes, the customer may have to "
    "approve it."
)

LEFT_ALONE_FILE = (
    "left_alone.csv lies with the shop's other tables. Where there is none, make it: its first line is batch,reason and each further "
    "line a name, a comma and, if you like, why."
)


@dataclass(frozen=True)
class ProposalRow:
    """One proposal. Costs saved are negative where the plan pays for it in that term; ``earlier_min`` likewise."""

    name: str  # by which it can be switched off
    kind: str
    part: str
    description: str
    batches: tuple[str, ...]
    makes: tuple[str, ...]
    pieces: tuple[int, ...]  # start quantities of the batches made
    text: str
    caution: str
    saved_first: int  # weighted minutes
    saved_second: int
    saved_setup_min: int | None  # None where setting has no weight
    orders: dict[str, int]  # minutes earlier, by order that is late with or without it


def proposals(work: Work, plan: Plan) -> list[ProposalRow]:
    """One row for each, those that saved most first."""
    found = sorted(work.proposals, key=lambda p: (-p.saved.first, -p.saved.second, p.batches))
    feeds = Feeds(work)
    return [_row(work, plan, feeds, proposal) for proposal in found]


def switched_off_by(name: str, in_store: bool) -> str:
    """What to type to be without just the proposal of that name; ``in_store``: is the shop in a store, or a folder?"""
    word = shlex.quote(name)
    if in_store:
        return f"To switch it off: batchwright event DB leave-alone {word}, then plan again."
    return f"To switch it off: plan again with --leave-alone {word}; for good: put a row {name} into left_alone.csv and plan again."


def machines_of_halves(work: Work, plan: Plan, proposal: Proposal) -> list[tuple[str, str]]:
    """The machines of both halves of a split, for each machine step in which they differ."""
    first, second = (_batch(work, name) for name in proposal.makes)
    steps, found = plan.step_of(), []
    for a, b in zip(first.operations, second.operations, strict=True):
        on = [steps[i].machine for i in (a, b) if i in steps and work.operations[i].kind is Kind.MACHINE]
        names = [work.machines[m].name for m in on if m is not None]
        if len(set(names)) == 2:
            found.append((names[0], names[1]))
    return found


def _batch(work: Work, name: str) -> Batch:
    return next(b for b in work.batches if b.name == name)


def _row(work: Work, plan: Plan, feeds: Feeds, proposal: Proposal) -> ProposalRow:
    split = proposal.kind is Change.SPLIT
    setup = work.prices.setup_weight
    return ProposalRow(
        name=proposal.batches[0] if split else proposal.makes[0],
        kind=proposal.kind.value,
        part=proposal.part,
        description=_batch(work, proposal.makes[0]).description,
        batches=proposal.batches,
        makes=proposal.makes,
        pieces=proposal.pieces,
        text=f"{_what(work, plan, proposal)}: {_effect(work, feeds, proposal)}.",
        caution=SPLIT_CAUTION if split else "",
        saved_first=proposal.saved.first,
        saved_second=proposal.saved.second,
        saved_setup_min=proposal.saved.setup // setup if setup else None,
        orders=dict(proposal.orders),
    )


def _what(work: Work, plan: Plan, proposal: Proposal) -> str:
    part = f"{_batch(work, proposal.makes[0]).description} {proposal.part}".strip()
    if proposal.kind is Change.COMBINE:
        return (
            f"{' and '.join(proposal.batches)} ({part}) are run as one batch of {counted(proposal.pieces[0], 'piece')}"
        )
    first, second = proposal.pieces
    on = machines_of_halves(work, plan, proposal)
    where = (f" on {on[0][0]}", f" on {on[0][1]}") if on else ("", "")
    whole = f"{proposal.batches[0]} ({part}, {counted(first + second, 'piece')})"
    return f"{whole} is run as {first}{where[0]} and {second}{where[1]}"


def _effect(work: Work, feeds: Feeds, proposal: Proposal) -> str:
    """What it did for the orders it feeds, for others, for lateness as a whole, then for the second tier."""
    own = {o.number for name in proposal.makes for o in feeds.orders(_batch(work, name).index)}
    words = [
        f"order {order} ready {elapsed_text(abs(minutes))} {'earlier' if minutes > 0 else 'later'}"
        for order, minutes in proposal.orders
        if order in own
    ]
    others = [minutes for order, minutes in proposal.orders if order not in own]
    for many, when in ((sum(m > 0 for m in others), "earlier"), (sum(m < 0 for m in others), "later")):
        words += [f"{counted(many, 'other late order')} {when}"] if many else []
    words += _saved(work.prices, proposal.saved)
    return "; ".join(words)


def _saved(prices: Prices, saved: Cost) -> list[str]:
    """The cost terms that changed, in minutes and pounds."""
    terms = [
        _by(saved.first, 1, "weighted minutes of lateness and change"),
        _by(saved.setup, prices.setup_weight, "of setting", span_text),
        _by(saved.wip, prices.wip_weight, "batch-minutes in progress"),
        _by(saved.charges, prices.charge_weight, "pounds of outside charges", pounds),
    ]
    return [term for term in terms if term]


def _by(saved: int, weight: int, what: str, text: Callable[[int], str] = "{:,}".format) -> str:
    """'1,200 batch-minutes in progress less' or 'more'; nothing for 0, which is all that a weight of 0 can tell."""
    return f"{text(abs(saved) // weight)} {what} {'less' if saved > 0 else 'more'}" if saved else ""
