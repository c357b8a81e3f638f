"""Events on the tiny shop: each does what is known by hand to the tables, can be undone, and is refused where it cannot be."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import pytest
from days import Day, at

from planner.day.events import happen
from planner.day.happening import Event
from planner.day.refusal import Refused
from planner.explode import explode
from planner.store import Entry
from planner.store.edit import change_row
from planner.work import Begun


def event(day: Day, what: str, subject: str, time: str = "09:00", on: int = 23, /, **more: Any) -> Entry:
    """Enter an event and see that undoing it leaves the tables as they were."""
    before = day.store.sheets()
    entry = happen(day.store, day.who, Event(what, subject, at(time, on), **more))
    day.undo(entry.id, time, on)
    after = day.store.sheets()
    for table in before.sheets:
        if table != "settings":
            assert after[table].records()[1:] == before[table].records()[1:], table
    return happen(day.store, day.who, Event(what, subject, at(time, on), **more))


def refused(day: Day, what: str, subject: str, time: str = "09:00", on: int = 23, /, **more: Any) -> str:
    before = day.store.sheets()
    with pytest.raises(Refused) as caught:
        happen(day.store, day.who, Event(what, subject, at(time, on), **more))
    assert day.store.sheets() == before
    return str(caught.value)


def step(day: Day, batch: str, number: int):  # type: ignore[no-untyped-def]
    work = explode(day.shop)
    return work.operations[work.places[batch, number]]


def machine_of(day: Day, name: str):  # type: ignore[no-untyped-def]
    return next(m for m in explode(day.shop).machines if m.name == name)


def coming(windows: tuple[tuple[int, int], ...]) -> list[tuple[int, int]]:
    """Open time from the plan start on."""
    return [(max(0, start), end) for start, end in windows if end > 0]


# --- machines and people ---------------------------------------------------------------------------


def test_a_machine_is_down_until_it_is_up_again(day: Day) -> None:
    """L2 works from 08:00 to 12:00 and 12:30 to 16:30: from 10:00 to 14:00 it cannot."""
    words = event(day, "down", "L2", "10:00", until=at("14:00"), reason="coolant").words
    assert words == "L2 is down from 2026-03-23 10:00 to 2026-03-23 14:00."
    assert coming(machine_of(day, "L2").hours.attended)[0] == (240, 390)  # from 14:00 on; the plan start is 10:00
    event(day, "up", "L2", "11:00")
    assert coming(machine_of(day, "L2").hours.attended)[:2] == [(0, 60), (90, 330)]


def test_what_runs_on_a_machine_that_is_down_is_named(day: Day) -> None:
    assert "Batch B-1 operation 10 stays on it" in event(day, "down", "L1", until=at("12:00")).words
    assert step(day, "B-1", 10).begun is Begun.RUNNING


def test_a_machine_that_is_not_down_is_not_up_again(day: Day) -> None:
    assert "L2 is not down" in refused(day, "up", "L2")
    assert "until when L2 is down" in refused(day, "down", "L2")
    assert "is not after" in refused(day, "down", "L2", until=at("08:00"))
    assert "There is no machine 'L3'" in refused(day, "down", "L3", until=at("12:00"))


def test_a_machine_that_is_down_for_ever_is_refused(day: Day) -> None:
    """Nothing else could do the work that needs it."""
    assert "could not be planned" in refused(day, "down", "M1", until=datetime(2028, 1, 1))


def test_a_person_is_away_and_comes_back(day: Day) -> None:
    """Ada works from 08:00 to 16:30; from 09:00 on she is away, and at 15:00 she is back."""
    event(day, "away", "Ada", until=at("16:30"), reason="ill")
    ada = next(p for p in explode(day.shop).people if p.name == "Ada")
    assert coming(ada.hours)[0][0] == 23 * 60  # on Tuesday at 08:00
    event(day, "back", "Ada", "15:00")
    ada = next(p for p in explode(day.shop).people if p.name == "Ada")
    assert coming(ada.hours)[0] == (0, 90)
    assert "not away" in refused(day, "back", "Ben")


# --- material -----------------------------------------------------------------------------------------


def test_material_that_is_late_holds_an_order_back(day: Day) -> None:
    """O-1's bodies are not begun: their material comes on Monday the 30th, and the office opens at 08:00."""
    event(day, "late", "O-1", day=date(2026, 3, 30))
    batch = next(b for b in explode(day.shop).batches if b.name == "O-1/GR-110-1")
    assert batch.release_min == 7 * 1440 - 120  # from the 23rd at 09:00, with summer time between


def test_a_receipt_comes_later_and_then_arrives(day: Day) -> None:
    event(day, "late", "PO-17", day=date(2026, 4, 8))
    assert day.row("receipts", reference="PO-17")["date"] == "2026-04-08"
    event(day, "arrived", "PO-17", quantity=20)
    assert (day.stock("GR-900"), day.row("receipts", reference="PO-17")["quantity"]) == (50, "40")
    assert "1 more than ordered" in event(day, "arrived", "PO-17", quantity=41).words
    assert day.stock("GR-900") == 91
    assert "no order, open batch or receipt" in refused(day, "late", "PO-99", day=date(2026, 4, 8))


def test_what_misses_the_van_waits_for_the_next(day: Day) -> None:
    """On Tuesday the 24th B-1 is deburred; its cut-off was 14:30, the next van comes on Thursday at 15:00."""
    day.book("finish", "B-1", 10, "09:00")
    day.book("setup done", "B-2", 20, "09:00")
    day.book("finish", "B-2", 20, "09:30")
    day.book("start", "B-1", 20, "08:00", day=24, machine="M1")
    day.book("setup done", "B-1", 20, "08:10", day=24)
    day.book("finish", "B-1", 20, "10:00", day=24)
    day.book("start", "B-1", 30, "10:00", day=24)
    day.book("finish", "B-1", 30, "11:00", day=24)
    assert "does not collect on 2026-03-25" in refused(
        day, "van missed", "Bright Coat", "12:00", 24, day=date(2026, 3, 25)
    )
    assert "B-1 op 40" in event(day, "van missed", "Bright Coat", "12:00", 24).words
    assert step(day, "B-1", 40).not_before_min == 151  # 14:31
    assert "held until" in day.refused("sent out", "B-1", 40, "14:00", day=24)


# --- orders ----------------------------------------------------------------------------------------------


def test_a_hot_order_comes_in_and_another_one_gets_hot(day: Day) -> None:
    event(day, "hot", "O-9", part="GR-120", quantity=10, due="2026-03-27", priority="urgent", customer="Hill")
    order = next(o for o in explode(day.shop).orders if o.number == "O-9")
    assert (order.pieces, order.weight) == (10, 4)
    assert "class normal to urgent" in event(day, "hot", "O-3", priority="urgent").words
    words = event(day, "hot", "O-1", priority="urgent", due="2026-04-15").words
    assert "5 open orders are of class 'urgent'" in words
    assert "no due date" in refused(day, "hot", "O-3", due="soon")
    assert "say part, quantity" in refused(day, "hot", "O-10", part="GR-120")
    assert "Did you mean 'urgent'" in refused(day, "hot", "O-3", priority="urgnt")


def test_a_held_order_does_not_begin_and_then_goes_on(day: Day) -> None:
    """O-2 is 25 grinders; what only it needs does not begin before the first of April."""
    event(day, "hold", "O-2", until=datetime(2026, 4, 1, 8))
    work = explode(day.shop)
    own = [b for b in work.batches if b.name in ("O-2-1", "O-2/GR-110-1", "O-2/GR-120-1")]
    assert own
    first = [work.operations[b.operations[0]].not_before_min for b in own]
    assert first == [9 * 1440 - 120] * len(
        own
    )  # from Monday 23 March 09:00 to Wednesday 1 April 08:00, summer time between
    other = next(b for b in work.batches if b.name == "O-1/GR-120-1")
    assert work.operations[other.operations[0]].not_before_min == 0
    event(day, "unhold", "O-2")
    assert all(
        op.not_before_min == 0
        for op in explode(day.shop).operations
        if "O-2" in explode(day.shop).batches[op.batch].name
    )
    assert "is not held" in refused(day, "unhold", "O-2")


def holds(day: Day) -> dict[tuple[str, str], str]:
    """Until when each step is held."""
    rows = day.store.sheets().rows("pins")
    return {(r["batch"], r["operation"]): r["not_before"] for r in rows if r["not_before"]}


def test_an_order_goes_on_whatever_is_said_to_be_the_reason(day: Day) -> None:
    """The reason of one hold was edited, another step had a reason of its own, and a third hold has the same words."""
    before = holds(day)
    own = day.row("pins", batch="O-1-1", operation=10)
    change_row(day.store, "Ann", at("09:00"), "pins", own.id, own.version, {"reason": "order O-2 held"})
    day.decide("pin", "O-2/GR-110-1", 10, machine="L1", reason="the better chuck")
    day.happen("hold", "O-2", until=datetime(2026, 4, 1, 8))
    held = day.row("pins", batch="O-2-1", operation=10)
    change_row(day.store, "Ann", at("09:00"), "pins", held.id, held.version, {"reason": "drawing is not clear"})
    day.happen("unhold", "O-2")
    assert holds(day) == before
    pin = day.row("pins", batch="O-2/GR-110-1", operation=10)
    assert (pin["machine"], pin["reason"]) == ("L1", "the better chuck")


def test_what_was_held_before_an_order_was_stays_held(day: Day) -> None:
    """The assembly waits for a tool until the 27th; the order is held twice, and then goes on."""
    day.decide("hold", "O-2-1", 10, until=at("08:00", 27), reason="tool on order")
    before = holds(day)
    day.happen("hold", "O-2", until=datetime(2026, 4, 1, 8))
    day.happen("hold", "O-2", until=datetime(2026, 4, 2, 8))
    day.happen("unhold", "O-2")
    assert holds(day) == before
    assert day.row("pins", batch="O-2-1", operation=10)["reason"] == "tool on order"
    assert "is not held" in refused(day, "unhold", "O-2")


def test_what_was_held_longer_since_stays_held(day: Day) -> None:
    day.happen("hold", "O-2", until=datetime(2026, 4, 1, 8))
    day.decide("hold", "O-2-1", 10, until=datetime(2026, 4, 10, 8), reason="tool on order")
    assert "Order O-2 goes on: 2 batches" in day.happen("unhold", "O-2").words
    assert day.row("pins", batch="O-2-1", operation=10)["not_before"] == "2026-04-10 08:00"


def test_a_hold_that_was_undone_is_not_taken_back_again(day: Day) -> None:
    held = day.happen("hold", "O-2", until=datetime(2026, 4, 1, 8))
    day.undo(held.id)
    assert "is not held" in refused(day, "unhold", "O-2")


def test_a_cancelled_order_wants_nothing(day: Day) -> None:
    words = event(day, "cancel", "O-3", reason="customer").words
    assert "Released batch B-2 now goes to stock" in words
    work = explode(day.shop)
    assert "O-3" not in {o.number for o in work.orders}
    assert day.row("orders", order="O-3")["note"] == "cancelled; customer"
    assert "is closed" in refused(day, "cancel", "O-3")


def test_a_released_batch_that_is_not_begun_is_dropped_with_its_order(day: Day) -> None:
    event(day, "hot", "O-9", part="GR-120", quantity=10, due="2026-03-27", priority="urgent")
    day.store.write("Ann", at("09:00"), "edit", "test", lambda w: _release(w, "X-1"))
    words = event(day, "cancel", "O-9", drop_batches=True).words
    assert "Dropped: X-1" in words
    assert "X-1" not in day.shop.batches


def _release(writing, name: str):  # type: ignore[no-untyped-def]
    from planner.store import Note

    writing.draft.add("batches", {"batch": name, "part": "GR-120", "quantity": 10, "order": "O-9"})
    return Note("released")


def test_an_order_changes_in_quantity(day: Day) -> None:
    assert event(day, "quantity", "O-3", quantity=80).words == "Order O-3: 80 wanted, not 60."
    assert next(o for o in explode(day.shop).orders if o.number == "O-3").pieces == 80
    assert "cancel the order" in refused(day, "quantity", "O-3", quantity=0)


def test_a_drawing_changes(day: Day) -> None:
    """What is set on L1 does not count any more; B-1 is for somebody to decide about, and its next step is held."""
    words = event(day, "drawing", "GR-110", revision="B", until=at("08:00", 25)).words
    assert "B-1" in words
    assert day.shop.parts["GR-110"].revision == "B"
    assert day.row("machines", machine="L1")["on_part"] == ""
    assert step(day, "B-1", 20).not_before_min == 2 * 1440 - 60
    assert "which revision" in refused(day, "drawing", "GR-110", revision="B")


def test_part_of_an_order_is_shipped(day: Day) -> None:
    """5 carriers are in stock; of B-2 39 are made for O-3, which wants 60."""
    assert "Only 5 of GR-120 are ready" in refused(day, "ship", "O-3", quantity=6)
    event(day, "ship", "O-3", quantity=5)
    assert (day.stock("GR-120"), day.shop.orders["O-3"].quantity) == (0, 55)
    day.book("setup done", "B-2", 20)
    day.book("finish", "B-2", 20, "10:00")
    day.book("finish", "B-2", 30, "08:00", day=24)
    event(day, "ship", "O-3", "08:10", 24, quantity=30)
    assert (day.shop.orders["O-3"].quantity, day.shop.batches["B-2"].quantity) == (25, 10)
    work = explode(day.shop)
    given = {g.supply: g.pieces for g in work.given if g.demand == "order O-3"}
    assert given["batch B-2"] == 9
    assert "From 1 to 25" in refused(day, "ship", "O-3", "08:10", 24, quantity=26)


def test_all_of_an_order_is_shipped_and_it_is_closed(day: Day) -> None:
    event(day, "quantity", "O-5", quantity=5)
    assert "the order is complete" in event(day, "ship", "O-5").words
    assert (day.shop.orders["O-5"].quantity, day.stock("GR-900")) == (0, 25)


def test_pieces_leave_a_batch_that_is_not_finished(day: Day) -> None:
    """20 of O-4's bodies... B-2's last step is a rest, so only what a counted last step has made good may go."""
    assert "Only 0 of GR-110 are ready" in refused(day, "ship", "O-4", quantity=1)


# --- scrap and top-up ----------------------------------------------------------------------------------------


def test_scrap_beyond_the_allowance_proposes_a_top_up_while_the_machine_is_set(day: Day) -> None:
    """B-1: 50 started at 95 %, 47 are counted on. With 1 and then 9 scrapped 40 are left: 7 less than were given away."""
    words = day.book("scrap", "B-1", 10, scrap=9).words
    assert "7 of GR-110 are short now" in words
    assert "top-up B-1 --quantity 8" in words
    event(day, "top-up", "B-1", quantity=8)
    work = explode(day.shop)
    top = next(b for b in work.batches if b.name == "B-1/T1")
    first = work.operations[top.operations[0]]
    assert (top.start_pieces, work.machines[first.pin_machine or 0].name) == (8, "L1")
    kept = next(k for k in work.kept if k.operation == first.index)
    assert (kept.after, kept.weight) == (work.places["B-1", 10], 100)


def test_scrap_within_the_allowance_says_nothing(day: Day) -> None:
    """47 are counted on: two more may go."""
    assert "short" not in day.book("scrap", "B-1", 10, scrap=2).words
    assert "1 of GR-110 is short" in day.book("scrap", "B-1", 10, scrap=1).words


# --- methods ---------------------------------------------------------------------------------------------------


def test_a_step_can_be_done_on_another_machine_of_its_group(day: Day) -> None:
    """GR-110 operation 10 is for both lathes of the group; from now on L2 has times of its own."""
    words = event(day, "routing", "GR-110", machine="L2", operation=10, setup_min=90, cycle_sec=300).words
    assert "first-off" in words
    step_ = day.shop.routings["GR-110"].operations[0]
    assert {a.machine: (a.setup_min, a.cycle_sec) for a in step_.alternatives}["L1"] == (45, 240)


def test_a_step_moves_to_another_group(day: Day) -> None:
    """Deburring goes to the assembly bench. What runs on M1 now cannot be said to be done elsewhere."""
    event(day, "routing", "GR-110", machine="A1", operation=30, setup_min=5, cycle_sec=90)
    step_ = day.shop.routings["GR-110"].operations[2]
    assert [(a.machine, a.setup_min, a.cycle_sec) for a in step_.alternatives] == [("A1", 5, 90)]
    assert "does not fit" in refused(day, "routing", "GR-120", machine="L2", operation=20)


def test_a_method_that_is_known_or_impossible_is_refused(day: Day) -> None:
    assert "does GR-120 operation 10 already" in refused(day, "routing", "GR-120", machine="L1", operation=10)
    assert "has no operation 70" in refused(day, "routing", "GR-120", machine="L1", operation=70)
    assert "not done on a machine" in refused(day, "routing", "GR-110", machine="L1", operation=40)


def test_no_table_stops_the_days_work_because_time_goes_on(day: Day) -> None:
    """A year of it: months that were forecast, orders that are due and collections that have gone are behind then."""
    assert day.shop.forecast
    for on in range(30, 396, 30):
        day.happen("hot", "O-1", "08:00", on, priority="urgent" if on % 4 else "normal")
    assert max(f.month for f in day.shop.forecast) < day.shop.settings.plan_start.date()
