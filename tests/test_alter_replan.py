"""A changed copy planned again beside the plan as it is: what is claimed, and what is not."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import datetime, timedelta

import pytest
from explode_shops import MONDAY, machine_step, order, part, shop
from test_alter_kinds import EITHER, NOON, change, two

from planner.alter import AlterFaults, altered, replan
from planner.alter.compare import apart, compare, noise_of
from planner.alter.effort import Effort, effort_of
from planner.alter.records import ADDED, EARLIER, NEWLY_LATE, REMOVED, SAVED, UNPROVEN, Noise, OrderChange, Side, Totals
from planner.alter.verdict import verdict
from planner.explode import explode
from planner.main_job import Job
from planner.plan import Listed, State
from planner.search import search
from planner.shop import Alternative, Shop
from planner.work import Begun

TRIALS = 40


def job_of(shop_: Shop) -> Job:
    work = explode(shop_)
    return Job(shop_, work, search(work, trials=TRIALS))


def asked(shop_: Shop, *said: tuple[str, str]):  # type: ignore[no-untyped-def]
    return replan(job_of(shop_), [change(*one) for one in said], trials=TRIALS).answer


# --- nothing changed ----------------------------------------------------------------------------


def test_no_change_is_reported_as_no_change() -> None:
    answer = asked(two())
    assert answer.same_data
    assert answer.verdict == ("No change: all that is planned stays the same.",)
    assert {o.what for o in answer.orders} == {"same"}
    assert answer.before == answer.after


def test_a_change_that_changes_nothing_planned_is_no_change() -> None:
    """The order keeps its quantity; nobody is away in hours that the plan knows."""
    assert asked(two(), ("quantity", "A to 210")).same_data


def test_a_change_without_effect_is_not_claimed_to_have_one() -> None:
    """A person more who can do what nobody needs."""
    answer = asked(two(), ("person", "Cy with fitting hours day"))
    assert not answer.same_data
    assert {o.what for o in answer.orders} == {"same"}
    assert "No change beyond the noise" in answer.verdict[0]


# --- what is told -------------------------------------------------------------------------------


def test_an_order_saved_with_its_figures() -> None:
    answer = asked(two(), ("also", "P op 10 on LATHE2"))
    late = next(o for o in answer.orders if o.what == SAVED)
    assert (late.late_before_min, late.late_after_min, late.later_min) == (240, 0, -240)
    assert (answer.before.late_orders, answer.after.late_orders) == (1, 0)
    assert (answer.before.cost_first, answer.after.cost_first) == (3 * 240, 0)
    assert answer.noise == Noise(0, 0, 0)


def test_an_order_newly_late_and_one_added() -> None:
    answer = asked(
        shop((order("A", "P", 210, due=datetime(2026, 3, 23, 12)),)), ("down", "LATHE from 2026-03-23 to 2026-03-23")
    )
    assert [(o.order, o.what, o.late_after_min) for o in answer.orders] == [("A", NEWLY_LATE, 1440)]
    answer = asked(two(), ("order", "E for 5 of P by 2026-04-30 class normal"))
    assert [o.what for o in answer.orders if o.order == "E"] == ["added"]


def test_an_order_less_late() -> None:
    lone = shop((order("A", "P", 210, due=datetime(2026, 3, 23, 9)),))
    answer = asked(lone, ("setup", "lathes by 50"))
    assert [(o.what, o.late_before_min, o.late_after_min) for o in answer.orders] == [(EARLIER, 180, 165)]


def test_extra_hours_offered_and_used() -> None:
    """690 pieces: all four hours of the evening are run, and no setting is left for them."""
    answer = asked(shop((order("A", "P", 690, due=MONDAY),)), ("shift", "LATHE on 2026-03-23 at 16:30-20:30 by Ann"))
    assert {(e.kind, e.name): (e.extra_min, e.used_min) for e in answer.extra} == {
        ("machine", "LATHE"): (240, 240),
        ("person", "Ann"): (240, 0),
    }
    assert "rest between shifts" in answer.cautions[0]


def test_charges_of_the_plan_and_what_a_change_costs_once() -> None:
    from test_alter_kinds import anodised

    answer = asked(anodised(), ("collection", "Bright on 2026-03-23 at 15:00 charge 45"))
    assert answer.after.charges_pence - answer.before.charges_pence == 4500


def test_what_only_one_plan_of_a_side_bears_out_is_not_claimed() -> None:
    """Late in both plans before and in time in both after; then in time in one of those before as well."""
    late, in_time = job_of(two()), job_of(two(routings=EITHER))
    a, b = Side(late.work, late.plan), Side(in_time.work, in_time.plan)
    enough = Effort(2, 2)
    assert SAVED in {o.what for o in compare([a, a], [b, b], [], a, enough).orders}
    unsure = compare([a, b], [b, b], [], a, enough)
    assert {o.what for o in unsure.orders} == {"same"}
    assert unsure.noise == Noise(720, 240, 240)
    assert noise_of(a, a) == Noise(0, 0, 0)


@pytest.mark.parametrize(
    ("was", "now", "told"),
    [
        ([100, 100], [101, 101], True),
        ([100, 100], [100, 100], False),
        ([100, 120], [141, 150], True),
        ([100, 120], [140, 150], False),
        ([100, 120], [110, 500], False),
    ],
)
def test_more_between_than_within(was: list[int], now: list[int], told: bool) -> None:
    assert apart(was, now) is apart(now, was) is told


# --- searches that were too short ---------------------------------------------------------------


def unproved(trials: int, seconds: float = 0.0) -> Side:
    """Two operations on one lathe, with a plan that is not proved best."""
    job = job_of(two())
    return Side(job.work, replace(job.plan, state=State.GOOD, trials=trials, seconds=seconds))


def test_a_search_is_too_short_below_one_list_an_operation() -> None:
    assert effort_of([unproved(2), unproved(9)], 1.0, None).enough
    short = effort_of([unproved(9), unproved(1)], 1.0, 1)
    assert (short.lists, short.operations, short.enough) == (1, 2, False)
    assert short.text == "too short to tell: 1 list timed for 2 operations; search for 2 trials or more"


def test_a_plan_proved_best_needs_no_lists() -> None:
    side = unproved(1)
    assert effort_of([replace(side, plan=replace(side.plan, state=State.BEST))], 1.0, None).enough


def test_the_seconds_to_give_come_from_the_pace() -> None:
    """One list of two operations in 3 s, in a quarter of the seconds: two lists in each of the four take 24 s."""
    assert effort_of([unproved(1, 3.0)], 0.25, None).needed == "24 seconds"


def test_what_is_under_way_takes_no_list() -> None:
    side = unproved(1)
    under_way = tuple(replace(op, begun=Begun.RUNNING) for op in side.work.operations)
    assert effort_of([replace(side, work=replace(side.work, operations=under_way))], 1.0, None).enough


def three() -> Job:
    """Three orders on one lathe that all come too late: one list is not enough to tell, and none proves the best."""
    wanted = tuple(order(n, "P", 60 + 30 * i, due=MONDAY) for i, n in enumerate("ABC"))
    work = explode(shop(wanted))
    return Job(shop(wanted), work, search(work, trials=1))


def test_searches_too_short_claim_nothing_of_any_order() -> None:
    found = replan(three(), [change("setup", "lathes by 50"), change("drop", "A")], trials=1).answer
    assert found.short == "too short to tell: 1 list timed for 3 operations; search for 3 trials or more"
    assert {o.what for o in found.orders} == {REMOVED, UNPROVEN}
    assert found.verdict[0].startswith("Too short to tell: 1 list timed for 3 operations")
    assert found.verdict[1].startswith("Unproven, lateness in all: ")
    assert not any("noise" in line for line in found.verdict)
    added = replan(three(), [change("order", "E for 5 of P by 2026-04-30 class normal")], trials=1).answer
    assert {o.what for o in added.orders} <= {ADDED, UNPROVEN, "same"}


def test_long_enough_the_same_question_claims_what_it_finds() -> None:
    found = replan(three(), [change("setup", "lathes by 50")], trials=30).answer
    assert found.short == ""
    assert EARLIER in {o.what for o in found.orders}


def test_the_plan_itself_is_told_beside_the_same_planned_again() -> None:
    """The shortest is done last in the plan that is handed in; planned again it is first."""
    job = three()
    rows = [Listed(op, 0) for op in reversed(range(3))]
    worst = search(job.work, trials=1, start=rows)
    found = replan(Job(job.shop, job.work, worst), [change("setup", "lathes by 50")], trials=30).answer
    assert found.planned.cost_first == worst.cost.first > found.before.cost_first
    (line,) = [line for line in found.verdict if "planned again" in line]
    assert f"weighted minutes late {worst.cost.first:,}; planned again 3 and {found.before.cost_first:,}." in line


def test_many_orders_in_a_sentence_are_counted_at_its_end() -> None:
    a = Side(three().work, three().plan)
    orders = [OrderChange(f"W-{n}", "", "", "", "", "", "", 0, 9, 0, 9, 9, NEWLY_LATE) for n in range(14)]
    totals = Totals("", 0, 0, 0, 0, 0, 0, 0)
    said = verdict(False, orders, totals, totals, totals, noise_of(a, a), (), Effort(9, 3))
    assert "14 orders newly late: W-0, W-1, W-2, W-3, W-4, W-5, W-6, W-7, W-8, W-9, W-10 and 3 more." in said
    assert "Noise of the search: none" in said[-1]
    said = verdict(False, orders, totals, totals, totals, Noise(1, 0, 90), (), Effort(9, 3))
    assert "no order's lateness differs, an order's ready time differs by up to 1 h 30 min" in said[-1]


def test_the_same_question_has_the_same_answer() -> None:
    first, second = (asked(two(), ("machine", "LATHE3 like LATHE")) for _ in range(2))
    assert first.orders == second.orders
    assert (first.after, first.noise, first.verdict) == (second.after, second.noise, second.verdict)


def test_a_stop_keeps_what_there_is() -> None:
    found = replan(job_of(two()), [change("machine", "LATHE3 like LATHE")], seconds=60, stop=lambda: True)
    assert found.answer.stopped
    assert found.after.plan.complete


def test_progress_goes_from_nothing_to_all() -> None:
    told: list[float] = []
    replan(job_of(two()), [change("drop", "A")], trials=TRIALS, progress=lambda _words, share: told.append(share))
    assert told == sorted(told)
    assert 0 < told[0] < told[-1] <= 1


def test_a_machine_more_leaves_the_others_their_places() -> None:
    """A name that sorts before all others moves every machine's number; the list is carried over by name."""
    from planner.proposals.carry import carried

    job = job_of(two())
    after = altered(job.shop, [change("machine", "AAA like LATHE")]).work
    names = [after.machines[row.machine].name for row in carried(job.work, job.plan, after) if row.machine is not None]
    assert names == ["LATHE", "LATHE"]


def test_what_has_no_time_in_the_changed_shop_is_named() -> None:
    """All of June and what is before it is gone."""
    with pytest.raises(AlterFaults):
        replan(job_of(two()), [change("down", "LATHE from 2026-03-23 to 2026-06-30")], trials=TRIALS)


# --- more hours never hurt ----------------------------------------------------------------------


def random_shop(number: int) -> Shop:
    """Two or three orders over one or two lathes."""
    rng = random.Random(number)
    machines = [Alternative("LATHE", 30, 60), Alternative("LATHE2", 20, 90)]
    steps = {
        "P": (machine_step(10, alternatives=tuple(machines[: rng.choice([1, 2])])),),
        "Q": (machine_step(10), machine_step(20, alternatives=(machines[1],))),
    }
    wanted = tuple(
        order(
            f"O{n}",
            rng.choice("PQ"),
            rng.choice([60, 150, 300]),
            due=MONDAY + timedelta(hours=rng.choice([3, 8, 26, 50])),
        )
        for n in range(rng.choice([2, 3]))
    )
    return shop(wanted, parts=(part("P"), part("Q")), routings=steps)


def optimum(shop_: Shop) -> int | None:
    """First-tier cost of the best plan there can be; None where it is not proved."""
    plan = search(explode(shop_), trials=2000)
    return plan.cost.first if plan.state is State.BEST else None


def test_more_hours_never_make_the_best_plan_worse() -> None:
    """Where both optima are proved, in at least eight of twelve shops; in some of them they make it better."""
    evening = change("shift", "lathes on 2026-03-23..2026-03-24 at 16:30-19:30 by Ann, Bob")
    pairs = [(optimum(base), optimum(evening.apply(base))) for base in map(random_shop, range(12))]
    proved = [(a, b) for a, b in pairs if a is not None and b is not None]
    assert len(proved) >= 8
    assert all(b <= a for a, b in proved)
    assert any(b < a for a, b in proved)


def test_noon_is_four_hours_after_the_plan_start() -> None:
    assert timedelta(minutes=NOON) + MONDAY == datetime(2026, 3, 23, 12)
