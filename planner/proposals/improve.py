"""Proposals tried one by one: each is kept only when the exact cost says so, and the next goes on from there.

The same short search that a proposal gets is then given to the same list without it. What the proposal saved
is what still lies between the two, so that it is not praised for what more searching would have found anyway.

In the end each that is kept is tried without, those taken over from the accepted plan among them: others found since may have made
it useless.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import astuple, replace

from planner.answers.feeds import order_finish
from planner.answers.proposals import machines_of_halves
from planner.explode import explode
from planner.faults import DataFaults
from planner.plan import AcceptedStep, Cost, Plan
from planner.proposals.candidates import candidates
from planner.proposals.carry import carried
from planner.proposals.held import keeps
from planner.search import Progress, search
from planner.search.limit import Limit
from planner.shop import Shop
from planner.work import Change, Proposal, Work

SHORT = 220  # trials of a short search
LOOK_SHARE = 3  # one in so many of the trials or seconds goes into a first look at the candidates
GIVING_UP_SHARE = 5  # one in so many is left for giving up what has become useless


def propose(
    shop: Shop,
    work: Work,
    plan: Plan,
    accepted: Sequence[AcceptedStep] = (),
    *,
    seconds: float | None = None,
    trials: int | None = None,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> tuple[Work, Plan]:
    """Split and combine batches where that lowers the cost of a plan, and give up what no longer does.

    Parameters
    ----------
    shop, work, plan, accepted
        A shop, what is to be planned for it (with the proposals kept so far, each of which may be given up), a plan for
        that, and the accepted steps that the work was made with.
    seconds, trials
        Limits. With a limit of trials everything is repeatable. What the proposals leave of it goes into a search
        that goes on from the plan.
    progress, stop
        As in :func:`planner.search.search`.

    Returns
    -------
    Work, Plan
        The work with its proposals and the best plan for it, with the trials and seconds of both searches; those
        given where nothing helps. No plan is worse than the one given.
    """
    proposer = _Proposer(shop, work, plan, accepted, Limit(seconds, trials, stop), progress)
    if plan.complete:
        proposer.run()
    spent = round(plan.seconds + proposer.limit.spent, 3)
    return proposer.work, replace(proposer.plan, trials=plan.trials + proposer.trials, seconds=spent)


class _Proposer:
    def __init__(
        self, shop: Shop, work: Work, plan: Plan, accepted: Sequence[AcceptedStep], limit: Limit,
        progress: Callable[[Progress], None] | None,
    ) -> None:  # fmt: skip
        self.shop, self.work, self.plan, self.accepted = shop, work, plan, accepted
        self.limit, self.progress, self.trials = limit, progress, 0
        self.seconds_before, self.trials_before = plan.seconds, plan.trials

    def run(self) -> None:
        """Rounds of proposals until one brings nothing; give up useless ones; then search on with what is left."""
        whole = self.limit
        self.limit = _less(whole, GIVING_UP_SHARE)
        while self._round() and not self._done():
            pass
        self.limit = whole
        self._give_up()
        if not self._done():
            found = self._search(self.work, self.work, self.plan, None)
            if _rank(found) == _rank(self.plan) and found.bound.value > self.plan.bound.value:
                self.plan = replace(self.plan, bound=found.bound, state=found.state)
            self._take(self.work, found)

    def _round(self) -> bool:
        """Try every candidate, those that look best first; True when one helped."""
        looked, share = [], self._left_share()
        for n, candidate in enumerate(candidates(self.shop, self.work, self.plan)):
            if self._done() or self._left_share() < share * (LOOK_SHARE - 1) / LOOK_SHARE:
                break
            work = self._work_with(candidate)
            if work is not None:
                looked.append((_rank(self._search(self.work, work, self.plan, 1, solver=False)), n, candidate))
        tried = [self._try(candidate) for _, _, candidate in sorted(looked, key=lambda row: row[:2])]
        return any(tried)

    def _try(self, candidate: Proposal) -> bool:
        """Keep the candidate when it lowers the cost, and still does against the same list without it."""
        work = None if self._done() else self._work_with(candidate)
        if work is None:
            return False
        plan = self._search(self.work, work, self.plan, SHORT)
        if not _better(plan, self.plan) or not _on_two_machines(work, plan, candidate):
            return False
        without = self._search(work, self.work, plan, SHORT)
        self._take(self.work, without)
        if not _better(plan, self.plan):
            return False
        self._take(_credited(work, plan, self.work, self.plan, candidate), plan)
        return True

    def _give_up(self) -> None:
        """Do without each proposal, those that saved least first, where a plan is no worse for it: of equals the fewer."""
        for proposal in sorted(self.work.proposals, key=lambda p: (p.saved.first, p.saved.second, p.batches)):
            if self._done():
                return
            work = self._work_of([p for p in self.work.proposals if p.batches != proposal.batches])
            plan = None if work is None else self._search(self.work, work, self.plan, SHORT)
            if work is not None and plan is not None and not _better(self.plan, plan):
                self.work, self.plan = work, plan

    def _work_with(self, candidate: Proposal) -> Work | None:
        """The work with one more proposal, in place of those for the same batches; None where it does not fit."""
        others = [p for p in self.work.proposals if not set(p.batches) & set(candidate.batches)]
        return self._work_of([*others, candidate])

    def _work_of(self, proposals: list[Proposal]) -> Work | None:
        """The work with these proposals; None where one of them does not fit, or what is held would not be as it is."""
        try:
            work = explode(self.shop, self.accepted, proposals)
        except DataFaults:  # such as a run that is too long for any open stretch
            return None
        fits = len(work.proposals) == len(proposals) and keeps(self.shop, self.work, work)
        return work if fits else None

    def _search(self, old: Work, new: Work, plan: Plan, trials: int | None, *, solver: bool = True) -> Plan:
        """A search in ``new`` that goes on from a plan for ``old``."""
        left = None if self.limit.trials is None else max(1, self.limit.trials - self.trials)
        if left is not None:
            trials = left if trials is None else min(trials, left)
        seconds = None if self.limit.left is None else max(0.0, self.limit.left)
        found = search(
            new, seconds=seconds, trials=trials, seed=plan.seed, stop=self.limit.stop, start=carried(old, plan, new),
            progress=lambda _: self._tell(), solver=solver,
        )  # fmt: skip
        self.trials += found.trials
        self._tell()
        return found

    def _take(self, work: Work, plan: Plan) -> None:
        if _better(plan, self.plan):
            self.work, self.plan = work, plan

    def _tell(self) -> None:
        """Say how far it has got, with the best plan so far."""
        if self.progress is not None:
            seconds, trials = self.seconds_before + self.limit.spent, self.trials_before + self.trials
            self.progress(Progress(seconds, trials, "batch proposals", self.plan.cost, self.plan.bound))

    def _left_share(self) -> float:
        """How much of the limit is left, as a share of the whole."""
        shares = [1.0]
        if self.limit.trials:
            shares.append(1 - self.trials / self.limit.trials)
        if self.limit.seconds:
            shares.append(1 - self.limit.spent / self.limit.seconds)
        return min(shares)

    def _done(self) -> bool:
        return self.limit.reached(self.trials)


def _less(limit: Limit, share: int) -> Limit:
    """The same limit, with one in so many of its trials or seconds taken off."""
    seconds = None if limit.seconds is None else limit.seconds * (share - 1) / share
    trials = None if limit.trials is None else limit.trials - limit.trials // share
    return replace(limit, seconds=seconds, trials=trials)


def _rank(plan: Plan) -> tuple[bool, int, int]:
    """Lower is better; an incomplete plan is behind all others."""
    return not plan.complete, plan.cost.first, plan.cost.second


def _better(plan: Plan, other: Plan) -> bool:
    return _rank(plan) < _rank(other)


def _on_two_machines(work: Work, plan: Plan, proposal: Proposal) -> bool:
    """Does some machine step of a split run on two machines? A combination asks for nothing."""
    return proposal.kind is not Change.SPLIT or bool(machines_of_halves(work, plan, proposal))


# --- what a proposal saved --------------------------------------------------------------------


def _credited(work: Work, plan: Plan, without: Work, plan_without: Plan, candidate: Proposal) -> Work:
    """The work with what the candidate saved; where it takes the place of others, with what they saved as well."""
    replaced = [p for p in without.proposals if set(p.batches) & set(candidate.batches)]
    saved = _minus(plan_without.cost, plan.cost)
    earlier = _earlier(work, plan, without, plan_without)
    for proposal in replaced:
        saved = Cost(*(a + b for a, b in zip(astuple(saved), astuple(proposal.saved), strict=True)))
        for order, minutes in proposal.orders:
            earlier[order] = earlier.get(order, 0) + minutes
    orders = tuple(sorted(((o, m) for o, m in earlier.items() if m), key=lambda row: (-row[1], row[0])))
    return replace(
        work,
        proposals=tuple(
            replace(p, saved=saved, orders=orders) if p.batches == candidate.batches else p for p in work.proposals
        ),
    )


def _minus(a: Cost, b: Cost) -> Cost:
    return Cost(*(x - y for x, y in zip(astuple(a), astuple(b), strict=True)))


def _earlier(work: Work, plan: Plan, without: Work, plan_without: Plan) -> dict[str, int]:
    """Minutes by which each order that is late with or without it is ready earlier with it."""
    before, after = plan_without.step_of(), plan.step_of()
    found = {}
    for order, same in zip(without.orders, work.orders, strict=True):
        finish, now = order_finish(without, before, order), order_finish(work, after, same)
        if finish is not None and now is not None and max(finish, now) > order.due_min:
            found[order.number] = finish - now
    return found
