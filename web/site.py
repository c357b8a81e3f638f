"""One plan as the pages see it: answers that several of them look up, found once."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from functools import cached_property
from hashlib import sha256
from itertools import pairwise
from threading import Lock

from planner.answers.feeds import Feeds
from planner.answers.leeway import Rooms
from planner.answers.load import Load, load
from planner.answers.orders import OrderRow, orders
from planner.answers.risk import Risk, risk
from planner.answers.spent import Minutes
from planner.answers.wording import late_text
from planner.booked import with_history
from planner.faults import PlanFileFault
from planner.plan import AcceptedStep, Plan, Step
from planner.shop import Shop
from planner.store import ShopPlace, StoreFault, is_store
from planner.work import Work
from web.clock import Clock
from web.running import Runs


class Site:
    """``shop`` adds what ``Work`` does not carry, such as descriptions; pages do without it where it is None.

    ``folder`` is where its tables are, a folder or a store, for what pages write into them.
    ``runs``: those that outlive this plan; without, it has its own.
    """

    def __init__(
        self,
        work: Work,
        plan: Plan,
        shop: Shop | None = None,
        folder: ShopPlace | None = None,
        accepted: Sequence[AcceptedStep] = (),
        runs: Runs | None = None,
    ) -> None:
        self.work, self.plan, self.shop, self.folder, self.accepted = work, plan, shop, folder, tuple(accepted)
        self.clock, self.feeds, self.minutes = Clock(work), Feeds(work), Minutes(work)
        self.rooms = Rooms(work, plan)
        self.runs = Runs() if runs is None else runs
        self._drawing = Lock()
        self._risk: Risk | None = None

    @property
    def in_store(self) -> bool:
        """Does the shop live in a store, where things can be booked?"""
        return self.folder is not None and is_store(self.folder)

    @cached_property
    def steps(self) -> dict[int, Step]:
        """The plan's step by operation."""
        return self.plan.step_of()

    @cached_property
    def next_op(self) -> dict[int, int]:
        """By operation: the next of its batch that is still to be done."""
        planned = ([i for i in b.operations if i in self.steps] for b in self.work.batches)
        return {a: b for ops in planned for a, b in pairwise(ops)}

    @cached_property
    def orders(self) -> tuple[OrderRow, ...]:
        """Every order, the latest against its due first."""
        return tuple(orders(self.work, self.plan))

    @cached_property
    def mark(self) -> str:
        """Tells this plan from any other, also for the same work."""
        return sha256(repr((self.plan.fingerprint, self.plan.steps)).encode()).hexdigest()[:16]

    @property
    def risk(self) -> Risk:
        """How sure everything is; takes a moment the first time, and those who ask meanwhile wait for the same answer.

        Raises
        ------
        PlanFileFault
            Where the plan cannot be timed again.
        StoreFault
            Where the store that history is read from cannot be used just now.
        """
        with self._drawing:
            self._risk = self._risk or risk(self._known, self.work, self.plan)
        return self._risk

    @property
    def _known(self) -> Shop | None:
        """The shop with what was booked in its store."""
        return None if self.shop is None else with_history(self.folder, self.shop)

    def work_out_risk(self) -> None:
        """Have it worked out before somebody asks; those who ask where it cannot be are told why."""
        with suppress(PlanFileFault, StoreFault):
            _ = self.risk

    @cached_property
    def load(self) -> Load:
        """Hours by week."""
        return load(self.work, self.plan)

    @cached_property
    def _row_of(self) -> dict[str, OrderRow]:
        return {row.order: row for row in self.orders}

    def orders_of(self, batch: int) -> tuple[int, ...]:
        """Orders that the batch feeds: those late first, then by due date."""
        found = (o.index for o in self.feeds.orders(batch))
        return tuple(sorted(found, key=lambda o: not self.is_late(o)))

    def is_late(self, order: int) -> bool:
        """Is it expected after its due time?"""
        return self._row_of[self.work.orders[order].number].late

    def order_text(self, order: int) -> str:
        """'due Fri 27 Mar 16:00, expected Thu 26 Mar 11:20, 1.2 days early'."""
        row = self._row_of[self.work.orders[order].number]
        due = f"due {self.clock.text(row.due_min)}"
        if row.expected_min is None or row.late_min is None:
            return f"{due}, not planned"
        return f"{due}, expected {self.clock.text(row.expected_min)}, {late_text(row.late_min)}"
