"""What limits a shop, on shops so small that the answer is known."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from builders import ShopBuilder, days, plan, step
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st
from random_shops import random_work
from web_fixtures import made_plan, made_work

from planner.answers.load import EQUIPMENT, GROUP, SKILL
from planner.capacity.busy import Busy, Occupied
from planner.capacity.limits import Limit, Limits, candidates, limits, with_savings, worst_of
from planner.capacity.more import OUTSIDE, lengthened, with_more
from planner.capacity.payers import Payer, payers
from planner.capacity.ready import ready_moments
from planner.capacity.waiting import waiting_by_load
from planner.cli.limits import show_limits
from planner.plan import Plan
from planner.search import search
from planner.verify import verify
from planner.work import Begun, Hours, Work
from web.app import create_app

DAY = 1440
SHIFT = days(20, (0, 480))


def narrow_shop() -> tuple[Work, Plan]:
    """504 minutes of turning on Monday and Tuesday, due at the end of Monday: done 24 minutes into Tuesday, 984 late. The
    mill has time."""
    work = (
        ShopBuilder().machine("L1", SHIFT, group="lathes").machine("M1", SHIFT, group="mills")
        .batch("B1", pieces=504).op("L1").order("O1", "B1", due=480, weight=3)
        .batch("B2", pieces=400).op("M1").order("O2", "B2", due=480).build()
    )  # fmt: skip
    return work, search(work, trials=20, workers=1)


def found_for(work: Work, made: Plan) -> Limits:
    return with_savings(limits(work, made), work, made, trials=100)


def test_a_tenth_more_of_the_narrow_group_saves_what_the_calendar_says() -> None:
    """With 528 minutes on Monday the 504 are done at 504: 24 minutes late in place of 984, times 3. Nothing else saves any."""
    work, made = narrow_shop()
    found = found_for(work, made)
    assert found.late == 3 * 984
    assert found.savings is not None and found.next is not None
    best, other = found.savings.found
    assert (best.kind, best.name, best.saved, best.late, best.sure) == (GROUP, "lathes", 3 * 960, 3 * 24, True)
    assert [(o.order, o.minutes) for o in best.orders] == [("O1", 960)]
    assert (other.name, other.saved, other.sure) == ("mills", 0, False)
    assert (found.savings.noise, found.savings.base, found.savings.base_again) == (0, 3 * 984, 3 * 984)
    assert found.next.eased == "lathes" and found.next.by_saving == ""


def test_the_same_trials_give_the_same_answer() -> None:
    work, made = narrow_shop()
    assert found_for(work, made) == found_for(work, made)


def test_no_late_order_leaves_nothing_to_save() -> None:
    work, made = narrow_shop()
    easy = replace(work, orders=tuple(replace(o, due_min=9 * DAY) for o in work.orders))
    again = search(easy, trials=20, workers=1)
    assert made.cost.late > 0 == again.cost.late
    assert found_for(easy, again).savings is None


def test_searches_too_short_claim_no_saving() -> None:
    """Three batches on the lathe, none proved best by one list: nothing is claimed, and no next limit is told."""
    shop = ShopBuilder().machine("L1", SHIFT, group="lathes")
    for n, pieces in enumerate((300, 200, 100)):
        shop.batch(f"B{n}", pieces=pieces).op("L1").order(f"O{n}", f"B{n}", due=10, weight=n + 1)
    work = shop.build()
    made = search(work, trials=1, workers=1)
    found = with_savings(limits(work, made), work, made, trials=1)
    assert found.savings is not None
    assert found.savings.short == "too short to tell: 1 list timed for 3 operations; search for 3 trials or more"
    assert [s.sure for s in found.savings.found] == [False]
    assert found.next is None
    longer = with_savings(limits(work, made), work, made, trials=300).savings
    assert longer is not None and longer.short == "" and longer.found[0].sure


def test_what_was_not_planned_before_the_stop_is_named() -> None:
    work, made = narrow_shop()
    found = with_savings(limits(work, made), work, made, trials=100, stop=lambda: True)
    assert found.savings is not None
    assert (found.savings.found, found.savings.left_out) == ((), ("lathes", "mills"))


def test_two_lathes_are_busy_only_while_both_are() -> None:
    """L1 0-300, L2 100-480 and on to Tuesday 60: both 100-300, then only L2; on Tuesday L1 from 0 to 60 as well."""
    shop = ShopBuilder().machine("L1", SHIFT, group="lathes").machine("L2", SHIFT, group="lathes")
    for name, pieces in (("B1", 300), ("B2", 440), ("B3", 60)):
        shop.batch(name, pieces=pieces).op(["L1", "L2"]).order(f"O{name}", name, due=100)
    work = shop.build()
    made = plan(
        work, step(work, "B1", 10, "L1", run=(0, 300)), step(work, "B2", 10, "L2", run=(100, DAY + 60)),
        step(work, "B3", 10, "L1", run=(DAY, DAY + 60)),
    )  # fmt: skip
    occupied = Occupied(work, made)
    assert occupied.stretches[GROUP, "lathes"] == [Busy(100, 300, 200), Busy(DAY, DAY + 60, 60)]
    assert occupied.longest((GROUP, "lathes"), 0, DAY) == Busy(100, 300, 200)
    assert occupied.longest((GROUP, "lathes"), DAY, 2 * DAY) == Busy(DAY, DAY + 60, 60)
    assert occupied.longest((GROUP, "lathes"), 3 * DAY, 4 * DAY) is None


def test_closed_time_neither_ends_a_stretch_nor_lengthens_it() -> None:
    work, made = narrow_shop()
    assert Occupied(work, made).stretches[GROUP, "lathes"] == [Busy(0, DAY + 24, 504)]


def test_waiting_work_is_what_could_begin_and_does_not() -> None:
    """Three batches of 100 minutes from minute 0 on one lathe: 200 wait until 100, 100 until 200."""
    shop = ShopBuilder().machine("L1", SHIFT)
    for n in range(3):
        shop.batch(f"B{n}", pieces=100).op("L1").order(f"O{n}", f"B{n}", due=9000)
    work = shop.build()
    made = plan(work, *(step(work, f"B{n}", 10, "L1", run=(100 * n, 100 * n + 100)) for n in range(3)))
    occupied = Occupied(work, made)
    assert [occupied.waiting((GROUP, "L1"), a, b) for a, b in ((0, 480), (100, 480), (200, 480))] == [200, 100, 0]


def test_a_skill_is_busy_while_all_who_have_it_are_at_work() -> None:
    """Ann sets 0-60 and Ben deburrs 30-90, both may set: busy 30-60."""
    work = (
        ShopBuilder().machine("L1", SHIFT).person("Ann", "set", SHIFT).person("Ben", ["set", "fit"], SHIFT)
        .batch("B1", pieces=10).op("L1", setup=60, skill="set").batch("B2", pieces=60).manual("bench", 60, skill="fit").build()
    )  # fmt: skip
    made = plan(
        work, step(work, "B1", 10, "L1", setup=[("Ann", 0, 60)], run=(60, 70)), step(work, "B2", 10, "bench", stints=[("Ben", 30, 90)]),
    )  # fmt: skip
    occupied = Occupied(work, made)
    assert occupied.stretches[SKILL, "set"] == [Busy(30, 60, 30)]
    assert occupied.stretches[SKILL, "fit"] == [Busy(30, 90, 60)]


@pytest.mark.parametrize("number", range(12))
def test_nothing_is_ready_after_it_has_started(number: int) -> None:
    """And what follows a step is ready when that has ended, or later, but for sublots and settings ahead."""
    work = random_work(number)
    made = search(work, trials=1, workers=1)
    ready = ready_moments(work, made)
    for s in made.steps:
        assert 0 <= ready[s.operation] <= max(0, s.start)
        if s.waited_for in ("step before", "component", "release", "receipt") and s.machine is not None:
            op = work.operations[s.operation]
            hours = work.machines[s.machine].hours.attended
            if (
                not any(work.operations[i].transfer_pieces for i in work.batches[op.batch].operations)
                and not op.setup_ahead
            ):
                opens = min((max(a, ready[s.operation]) for a, b in hours if b > ready[s.operation]), default=None)
                assert opens is None or s.start >= ready[s.operation]


def test_late_orders_pay_for_the_group_they_wait_for() -> None:
    """B2 waits 300 minutes behind B1 on the lathe and is 100 late."""
    work = (
        ShopBuilder().machine("L1", SHIFT, group="lathes").batch("B1", pieces=300).op("L1").order("O1", "B1", due=480)
        .batch("B2", pieces=100).op("L1").order("O2", "B2", due=300, weight=2).build()
    )  # fmt: skip
    made = plan(
        work, step(work, "B1", 10, "L1", run=(0, 300)),
        step(work, "B2", 10, "L1", run=(300, 400), waited_for="machine", waited_on=0),
    )  # fmt: skip
    assert payers(work, made) == {(GROUP, "lathes"): (Payer("O2", 100, 2, 300),)}


def test_the_days_between_collections_are_no_limit_but_a_full_van_is() -> None:
    """Both batches are ready for the first van, which has room for one: the second waits 1000 minutes for want of room."""
    trips = [(50, 100, 2000), (1000, 1100, 3000)]
    shop = ShopBuilder().service("anodiser", trips, room=10)
    for n in range(2):
        shop.batch(f"B{n}", pieces=10).outside("anodiser").order(f"O{n}", f"B{n}", due=500)
    work = shop.build()
    made = plan(
        work, step(work, "B0", 10, start=100, run=(100, 2000), trip=0), step(work, "B1", 10, start=1100, run=(1100, 3000), trip=1),
    )  # fmt: skip
    assert payers(work, made) == {(OUTSIDE, "anodiser"): (Payer("O1", 2500, 1, 1000),)}
    assert (OUTSIDE, "anodiser") in candidates(limits(work, made), work)
    endless = replace(work, runs=tuple(replace(r, room_pieces=None) for r in work.runs))
    assert (OUTSIDE, "anodiser") not in candidates(limits(endless, made), endless)


def test_more_of_each_kind_changes_that_and_nothing_else() -> None:
    work = made_work()
    for kind, name in (
        (GROUP, "lathes"),
        (SKILL, "inspection"),
        (EQUIPMENT, "soft jaws 40"),
        (OUTSIDE, "Blue Tank Finishing"),
    ):
        more, words = with_more(work, kind, name)
        assert words
        changed = [f for f in ("machines", "people", "equipment", "runs") if getattr(more, f) != getattr(work, f)]
        assert len(changed) == 1
        assert replace(more, **{changed[0]: getattr(work, changed[0])}) == work
    assert [e.count for e in with_more(work, EQUIPMENT, "soft jaws 40")[0].equipment] == [4, 2]
    assert {r.room_pieces for r in with_more(work, OUTSIDE, "Blue Tank Finishing")[0].runs} == {440}
    with pytest.raises(ValueError):
        with_more(work, "person", "Ada")


def test_a_plan_for_more_hours_is_still_an_allowed_plan() -> None:
    work = random_work(3)
    for group in work.groups:
        more, _ = with_more(work, GROUP, group.name)
        assert verify(more, search(more, trials=1, workers=1)) == []


@given(st.lists(st.tuples(st.integers(1, 300), st.integers(0, 300)), min_size=1, max_size=8), st.integers(0, 50))
def test_lengthened_hours_are_longer_by_that_share_where_there_is_room(
    gaps: list[tuple[int, int]], percent: int
) -> None:
    windows, t = [], 0
    for length, gap in gaps:
        windows.append((t, t + length))
        t += length + gap
    longer = lengthened(windows, percent)
    assert all(b <= c for (_, b), (c, _) in pairwise(longer))
    assert [a for a, _ in longer] == [a for a, _ in windows]
    assert sum(b - a for a, b in longer) == sum(n for n, _ in gaps) * (100 + percent) // 100


def test_unattended_hours_begin_where_the_longer_shift_ends() -> None:
    """8 hours attended and 8 unattended after: 528 minutes attended, and what is left of the night lengthened to 1008."""
    work = ShopBuilder().machine("L1", days(2, (0, 480)), days(2, (480, 960))).batch("B1").op("L1").build()
    hours = with_more(work, GROUP, "L1")[0].machines[0].hours
    assert hours.attended[0] == (0, 528)
    assert hours.unattended[0] == (528, 1008)


def night_shop() -> tuple[Work, Plan]:
    """All that is left is a run of 100 minutes that is on its own before the first shift."""
    work = (
        ShopBuilder().machine("L1", days(20, (480, 960)), days(20, (0, 480)), group="lathes")
        .batch("B1", pieces=100).op("L1", begun=Begun.RUNNING, begun_machine="L1", unattended_limit_min=480)
        .order("O1", "B1", due=480).build()
    )  # fmt: skip
    return work, search(work, trials=1, workers=1)


def test_what_runs_on_its_own_alone_makes_no_queue() -> None:
    work, made = night_shop()
    assert [(s.start, s.run_end) for s in made.steps] == [(0, 100)]
    assert waiting_by_load(work, made) == []
    found = limits(work, made)
    assert (found.waiting, found.tops[0].by_load) == ((), "lathes")
    page = TestClient(create_app(work, made)).get("/limits")
    assert page.status_code == 200 and "Waiting by load" not in page.text


def test_rows_of_a_week_are_ranked_by_load() -> None:
    work = made_work()
    found = limits(work, made_plan(work))
    for top in found.tops:
        rows = [r for r in found.weeks if r.week == top.week]
        percents = [r.percent or 0 for r in rows]
        assert percents == sorted(percents, reverse=True)
        assert (top.by_load, top.percent) == (rows[0].name, rows[0].percent)
        assert top.busy_min == max(r.busy_min for r in rows)


def test_a_weeks_rows_are_its_fullest_and_what_is_busy_longest() -> None:
    def limit(name: str, percent: float, busy_min: int) -> Limit:
        return Limit(GROUP, name, "2026-W13", percent, busy_min, "", "", 0)

    rows = [limit("saw", 90, 0), limit("lathes", 80, 60), limit("mills", 70, 300), limit("bench", 60, 200)]
    assert [r.name for r in worst_of(rows, 2)] == ["saw", "lathes", "mills"]
    assert [r.name for r in worst_of(rows, 3)] == ["saw", "lathes", "mills"]
    assert [r.name for r in worst_of(rows[:1], 2)] == ["saw"]


def test_what_is_saved_is_told_once_for_each_resource_with_its_unit(capsys: pytest.CaptureFixture[str]) -> None:
    """2,880 of 2,952 weighted minutes: of the whole plan, so in no week's row; waits by load say which weeks' load it is."""
    work, made = narrow_shop()
    show_limits(found_for(work, made))
    text = capsys.readouterr().out
    weeks, rest = text.split("What a tenth more saves")
    assert "2,880" not in weeks and rest.count("2,880") == 1
    assert "2,952 weighted minutes late" in text and "weighted minutes late saved" in rest
    assert "load of the plan's first 4 weeks" in rest and "load %, first 4 weeks" in rest


def test_waits_by_load_grow_without_end() -> None:
    """504 minutes of the 2400 of one week are 21 %: one job time of 504 x (1 + 0)/2 x 0.21/0.79 = 67 minutes (Kingman); at
    a fifth more load 25.2 %."""
    work, made = narrow_shop()
    lathes = next(w for w in waiting_by_load(work, made) if w.group == "lathes")
    assert (lathes.job_min, lathes.job_cv2, lathes.planned_wait_min) == (504, 0, 0)
    now, *more = lathes.at
    assert (now.load_percent, now.wait_min, now.wait_chance) == (21.0, 67, 0.21)
    assert now.queue == round(0.21 / 504 * 66.987, 2)  # J. D. C. Little, 1961
    assert (more[-1].load_percent, more[-1].wait_min) == (25.2, 85)
    full = replace(work, machines=tuple(replace(m, hours=Hours(((0, 480), (DAY, DAY + 24)))) for m in work.machines))
    made = search(full, trials=1, workers=1)
    assert next(w for w in waiting_by_load(full, made) if w.group == "lathes").at[0].wait_min is None
