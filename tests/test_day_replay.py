"""Random days: after any bookings, events, decisions, plans, acceptances and undos the shop adds up and every plan verifies.

Planning itself refuses a plan that breaks a rule, so that a plan that is kept has been verified; each is verified once more as it
is read from the store.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import databases
from days import Day, copied
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test

from planner.booked import with_history
from planner.day import acceptance
from planner.day.bookings import HANDLERS, Booking, book
from planner.day.decisions import Decision, decide
from planner.day.events import happen
from planner.day.happening import Event
from planner.day.refusal import Refused
from planner.day.replan import plan_from_now
from planner.day.undo import UNDOABLE, undo
from planner.explode import explode
from planner.main_job import stored_job
from planner.risk import spreads_of
from planner.shop import Shop
from planner.store import ShopPlace, Store
from planner.work import Batch, Begun, Kind, Operation, Work


class RandomDay(RuleBasedStateMachine):
    """A shop that somebody books, plans and changes his mind about. Time goes on by up to an hour and a half each time."""

    make: Callable[[], Day]

    def __init__(self) -> None:
        super().__init__()
        self.day = type(self).make()
        self.now = datetime(2026, 3, 23, 8)
        self.seen: list[tuple[int, object]] = []
        self.read: dict[int, tuple[Shop, Work]] = {}

    def teardown(self) -> None:
        self.day.store.close()

    # --- what is entered ------------------------------------------------------------------------

    def enter(self, minutes: int, action: Callable[[datetime], object]) -> None:
        """Do it, or see that a refusal has changed nothing."""
        self.now += timedelta(minutes=minutes)
        before = self.day.store.sheets()
        try:
            action(self.now)
        except Refused:
            assert self.day.store.sheets() == before
        else:
            self.seen.append((self.day.store.entries(last=1)[0].id, self.day.store.sheets().sheets))

    @property
    def work(self) -> Work:
        return self.shop_and_work[1]

    @property
    def shop_and_work(self) -> tuple[Shop, Work]:
        """As the tables are now: read and exploded once for each entry, though much looks at them."""
        entry = self.day.store.entries(last=1)[0].id
        if entry not in self.read:
            shop = self.day.shop
            self.read = {entry: (shop, explode(shop))}
        return self.read[entry]

    @rule(data=st.data(), minutes=st.integers(0, 90))
    def begin(self, data: st.DataObject, minutes: int) -> None:
        """The next step of some batch begins, or comes back."""
        work = self.work
        nexts = [
            left[0]
            for batch in work.batches
            if (left := self._left(work, batch)) and left[0].begun is not Begun.RUNNING
        ]
        op = data.draw(st.sampled_from(nexts))
        machine = work.machines[data.draw(st.sampled_from(op.alternatives)).machine].name if op.alternatives else ""
        what = {Kind.WAIT: "finish", Kind.OUTSIDE: "came back" if op.begun is Begun.OUT else "sent out"}.get(
            op.kind, "start"
        )
        name = work.batches[op.batch].name
        self.enter(minutes, lambda at: book(self.day.store, "Ann", Booking(what, name, op.number, at, machine)))

    @staticmethod
    def _left(work: Work, batch: Batch) -> list[Operation]:
        return [work.operations[i] for i in batch.operations if work.operations[i].begun is not Begun.DONE]

    @rule(data=st.data(), minutes=st.integers(0, 90), wild=st.sampled_from([False] * 5 + [True]))
    def go_on(self, data: st.DataObject, minutes: int, wild: bool) -> None:
        """Something is booked at a step that is on a machine: what comes next there, or anything."""
        work = self.work
        running = [op for op in work.operations if op.begun is Begun.RUNNING]
        if not running:
            return
        op = data.draw(st.sampled_from(running))
        usual = ["good", "scrap", "rework", "stop", "finish"]
        if op.setup_left_min:
            usual = ["setup done"]
        elif op.first_off_skill is not None and not op.first_off_passed:
            usual = ["first-off passed", "first-off failed"]
        what = data.draw(st.sampled_from(list(HANDLERS) if wild else usual))
        pieces = data.draw(st.integers(1, max(1, op.pieces_left)))
        good = None if what == "finish" or not data.draw(st.booleans()) else pieces
        booking = Booking(
            what, work.batches[op.batch].name, op.number, self.now, good=pieces if what == "good" else good,
            scrap=min(pieces, 4) if what == "scrap" else None, rework=min(pieces, 3), torn_down=data.draw(st.booleans()),
            of_good=data.draw(st.booleans()), setup_min=minutes // 3,
        )  # fmt: skip
        self.enter(minutes, lambda at: book(self.day.store, "Ann", replace(booking, at=at)))

    @rule(data=st.data(), minutes=st.integers(0, 30), what=st.sampled_from(
        ["down", "away", "hold", "quantity", "hot", "ship", "cancel", "arrived", "up", "top-up"]))  # fmt: skip
    def happens(self, data: st.DataObject, minutes: int, what: str) -> None:
        sheets = self.day.store.sheets()
        tables = {"down": "machines", "up": "machines", "away": "people", "arrived": "receipts", "top-up": "batches"}
        row = data.draw(st.sampled_from(sheets.rows(tables.get(what, "orders")) or sheets.rows("orders")))
        subject = row[sheets[row.sheet].table.key[0]]
        until = self.now + timedelta(hours=data.draw(st.integers(1, 40)))
        pieces = data.draw(st.integers(1, 30))
        self.enter(minutes, lambda at: happen(
            self.day.store, "Ann", Event(what, subject, at, until=until, quantity=pieces, priority="urgent")))  # fmt: skip

    @rule(data=st.data(), minutes=st.integers(0, 10), what=st.sampled_from(["pin", "hold", "not on", "after", "lift"]))
    def is_decided(self, data: st.DataObject, minutes: int, what: str) -> None:
        work = self.work
        free = [op for op in work.operations if op.begun is Begun.NO and op.alternatives]
        one, two = (data.draw(st.sampled_from(free)) for _ in range(2))
        names = [(work.batches[op.batch].name, op.number) for op in (one, two)]
        machine = work.machines[data.draw(st.sampled_from(one.alternatives)).machine].name
        until = self.now + timedelta(hours=data.draw(st.integers(1, 40)))
        self.enter(minutes, lambda at: decide(
            self.day.store, "Ann", Decision(what, names[0], at, machine, until=until, other=names[1])))  # fmt: skip

    # --- plans -----------------------------------------------------------------------------------

    @rule(minutes=st.integers(0, 60), accept=st.booleans())
    def plan(self, minutes: int, accept: bool) -> None:
        self.now += timedelta(minutes=minutes)
        found = plan_from_now(self.day.store, "Ann", self.now, trials=2)
        assert found.number is not None
        if accept:
            self.enter(0, lambda at: acceptance.accept(self.day.store, "Ann", at, found.number))

    @precondition(lambda self: len(self.day.store.plans()) > 1)
    @rule()
    def think_again(self) -> None:
        self.enter(0, lambda at: acceptance.undo_acceptance(self.day.store, "Ann", at))

    @precondition(lambda self: any(e.kind in UNDOABLE and e.undone_by is None for e in self.day.store.entries()))
    @rule()
    def take_back(self) -> None:
        self.enter(1, lambda at: undo(self.day.store, "Ann", at))

    # --- what holds -------------------------------------------------------------------------------

    @invariant()
    def orders_and_parents_get_what_they_want(self) -> None:
        shop, work = self.shop_and_work
        assert {o.number: sum(s.pieces for s in o.sources) for o in work.orders} == {
            o.number: o.quantity for o in shop.orders.values() if o.quantity
        }
        given: Counter[tuple[str, str]] = Counter()
        for gift in work.given:
            given[gift.part, gift.supply] += gift.pieces
        for part in shop.parts:
            assert given[part, "stock"] <= shop.stock.get(part, 0)
        for batch in work.batches:
            assert given[batch.part, f"batch {batch.name}"] <= batch.good_expected

    @invariant()
    def pieces_add_up_along_each_batch(self) -> None:
        shop, work = self.shop_and_work
        for batch in shop.batches.values():
            made = next(b for b in work.batches if b.name == batch.number)
            by_number = {p.operation: p for p in batch.progress}
            for i in made.operations:
                op = work.operations[i]
                row = by_number.get(op.number)
                if row is not None and op.begun in (Begun.RUNNING, Begun.PART):
                    assert op.pieces_left + row.good + row.scrap == op.pieces

    @invariant()
    def no_time_that_was_booked_is_nothing_or_less(self) -> None:
        shop, work = self.shop_and_work
        found = with_history(self.day.place, shop).history
        assert all(t.planned_min > 0 and t.actual_min > 0 and t.what in ("setup", "run") for t in found.times)
        assert all(t.days >= 0 for t in found.turns)
        assert all(g.machines > 0 and min(g.held_min) >= 0 for g in found.groups)
        assert all(0 <= b.scrap <= b.pieces for b in found.batches)
        spreads_of(replace(shop, history=found), work)

    @precondition(lambda self: self.seen)
    @invariant()
    def tables_can_be_seen_as_they_were(self) -> None:
        entry, sheets = self.seen[len(self.seen) // 2]
        assert self.day.store.sheets(entry).sheets == sheets

    @invariant()
    def the_plan_that_is_followed_verifies(self) -> None:
        plan = self.day.store.accepted()
        if plan is not None:
            stored_job(self.day.store, plan)


def test_random_days_add_up(first_day: tuple[str, ShopPlace, str], tmp_path: Path) -> None:
    kind, origin, reach = first_day
    numbers = iter(range(1_000_000))

    def make() -> Day:
        if kind == "server":
            place: ShopPlace = databases.new_database(reach, databases.name_in(str(origin)))
        else:
            folder = tmp_path / str(next(numbers))
            folder.mkdir()
            place = copied(kind, origin, folder, reach)
        return Day(Store(place), place)

    machine = type("ThisDay", (RandomDay,), {"make": staticmethod(make)})
    few = settings(
        max_examples=4 if kind == "embedded" else 2, stateful_step_count=12, deadline=None, derandomize=True,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    run_state_machine_as_test(machine, settings=few)
