"""Ways to have an order sooner: what they give is what planning with them gives; what gains nothing says why."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import date, datetime, time, timedelta

import pytest
from builders import as_plan
from explode_shops import MONDAY, calendar, machine_step, order, outside_step, part, shop
from test_alter_kinds import BACK_2_APRIL, BACK_31_MARCH, EITHER, MONDAY_NOON, NOON, TUESDAY, one, one_setter, two

from planner.alter import KINDS, AlterFaults, altered
from planner.alter.orders import Due
from planner.alter.phrase import from_phrase
from planner.alter.records import Side
from planner.answers.caution_words import NOBODY_THERE
from planner.answers.feeds import limit_min, ready_times
from planner.explode import explode
from planner.faults import QuestionFault
from planner.levers import Lever, sooner, with_changes
from planner.levers.aim import aimed
from planner.levers.candidates import candidates
from planner.levers.chain import Binding
from planner.levers.lever import hurt_by_changes, lever_of, noise_text
from planner.levers.sooner import Planner
from planner.main_job import Job, PlanRefused
from planner.proposals.carry import carried
from planner.search import search
from planner.shop import Absence, BatchRule, Component, Hours, PriorityClass, Process, Receipt, Shop
from planner.timetable import Timetable

TRIALS = 30
SATURDAY_EIGHT = 5 * 1440
SECOND = NOON + 30 + 210  # two orders of 210 on one lathe: when the second is ready


def job_of(shop_: Shop, trials: int = TRIALS) -> Job:
    work = explode(shop_)
    return Job(shop_, work, search(work, trials=trials))


def ways(shop_: Shop, number: str, by_min: int) -> list[Lever]:
    return list(sooner(job_of(shop_), number, by_min, trials=TRIALS).levers)


def of_kind(levers: list[Lever], kind: str) -> list[Lever]:
    return [w for w in levers if [a.kind for a in w.alterations] == [kind]]


def second(shop_: Shop) -> str:
    """The order that is ready last in a plan."""
    job = job_of(shop_)
    steps = {o.number: o for o in job.work.orders}
    return max(steps, key=lambda n: job.plan.steps[steps[n].index].end)


# --- what they give -----------------------------------------------------------------------------


def test_another_machine_of_the_group_reaches_the_date_and_hurts_nobody() -> None:
    late = second(two())
    levers = ways(two(), late, NOON)
    assert (levers[0].alterations, levers[0].ready_min, levers[0].reaches) == ((), SECOND, False)
    (other,) = of_kind(levers, "also")
    assert (other.ready_min, other.gained_min, other.reaches, other.hurt) == (NOON, SECOND - NOON, True, ())


def test_moving_the_order_ahead_says_by_how_much_it_is_later() -> None:
    late = second(two())
    first = "A" if late == "B" else "B"
    (moved,) = of_kind(ways(two(), late, NOON), "due")
    assert isinstance(moved.alterations[0], Due)
    assert moved.alterations[0].order == first
    assert (moved.ready_min, moved.reaches) == (NOON, True)
    assert [(h.order, h.by_min, h.newly_late) for h in moved.hurt] == [(first, SECOND - NOON, True)]
    assert moved.cost_pence == 3 * (SECOND - NOON) * 2000 // 1440


def test_an_order_that_is_promised_can_be_asked_to_wait_too() -> None:
    """As above, with the same promise on both."""
    both = shop(tuple(order(n, "P", 210, due=MONDAY_NOON, promise=MONDAY_NOON.date()) for n in ("A", "B")))
    both = replace(both, orders={n: replace(o, promise=MONDAY_NOON) for n, o in both.orders.items()})
    (moved,) = of_kind(ways(both, second(both), NOON), "due")
    assert (moved.ready_min, moved.reaches) == (NOON, True)
    assert [h.by_min for h in moved.hurt] == [SECOND - NOON]


def test_leave_that_ends_at_midnight_is_not_of_the_day_after() -> None:
    away = (Absence(datetime(2026, 3, 23), datetime(2026, 3, 24), "leave"),)
    base = two()
    job = job_of(replace(base, people={"Ann": replace(base.people["Ann"], leave=away)}))
    chain = Binding(job.shop, Side(job.work, job.plan), "A", NOON)
    assert chain.able(["turning"], [date(2026, 3, 23)]) is None
    assert chain.able(["turning"], [date(2026, 3, 24)]) == ("Ann",)


def test_the_best_of_each_kind_is_tried_before_a_second() -> None:
    """Wherever the seconds end, no kind has been left out for a further one of another."""
    job = job_of(one(1700, routings={"P": (machine_step(10), machine_step(20, "LATHE2"))}))
    kinds = [changes[0].kind for changes in candidates(Binding(job.shop, Side(job.work, job.plan), "A", NOON))]
    different = len(set(kinds))
    assert len(set(kinds[:different])) == different < len(kinds)


def test_planning_again_alone_is_enough_where_nothing_stands_in_the_way() -> None:
    """The second order of the plan can go first, as the other has time: nothing else is tried."""
    relaxed = shop(tuple(order(n, "P", 210, due=date(2026, 4, 30)) for n in ("A", "B")))
    levers = ways(relaxed, second(relaxed), NOON)
    assert [(w.alterations, w.reaches) for w in levers] == [((), True)]


def test_half_of_it_first_says_when_the_rest_is_ready() -> None:
    """690 pieces: 345 of them by Monday at 14:45, the rest when all of it would be."""
    (half,) = [w for w in ways(one(690), "A", 420) if [a.kind for a in w.alterations] == ["quantity", "order"]]
    assert (half.ready_min, half.reaches) == (30 + 345 + 30, True)
    assert half.texts[-1] == "A-rest is ready Tue 24 Mar 2026 12:00."


def test_hours_before_the_material_is_here_are_not_tried() -> None:
    """Material on Wednesday: overtime from then on only."""
    late = shop((order("A", "P", 690, due=MONDAY_NOON, material_date=date(2026, 3, 25)),))
    days = {day for w in of_kind(ways(late, "A", 3 * TUESDAY), "shift") for a in w.alterations for day in a.days}  # type: ignore[attr-defined]
    assert days == {date(2026, 3, 25), date(2026, 3, 26)}


def test_overtime_counts_the_hours_of_the_people_who_come_in() -> None:
    """690 pieces: Monday and three or four hours of Tuesday. Two hours on Monday evening bring it to Tuesday at 10:00."""
    levers = ways(one(690), "A", TUESDAY + 120)
    overtime = next(w for w in of_kind(levers, "shift") if w.reaches)
    assert overtime.ready_min == TUESDAY + 120
    assert (overtime.hours_min, overtime.cost_pence) == (120, 2 * 3500)
    assert "rest between shifts" in overtime.cautions[0]


def test_a_second_person_with_the_skill() -> None:
    """Two lathes and one setter: the second order waits half an hour for her."""
    late = second(one_setter())
    (learns,) = of_kind(ways(one_setter(), late, NOON), "skill")
    assert (learns.ready_min, learns.reaches) == (NOON, True)
    assert "trained" in learns.cautions[0]


def test_the_date_that_applying_it_gives_is_the_date_that_was_told() -> None:
    """With the same list, seed and trials; by hand, step by step."""
    job, late = job_of(two()), second(two())
    begin = Planner(job, late, NOON, TRIALS, 1, None).first().side
    levers = sooner(job, late, NOON, trials=TRIALS).levers
    assert len(levers) > 4
    for lever in levers[1:]:
        work = altered(job.shop, lever.alterations).work
        now = Planner(job, late, NOON, TRIALS, 1, None).now
        aim = aimed(late, NOON, ready_times(now.work, now.plan))(work)
        plan = search(aim, trials=TRIALS, seed=lever.seed, start=carried(begin.work, begin.plan, aim))
        assert ready_times(work, plan)[late] == lever.ready_min


def test_a_saturday() -> None:
    """2,520 minutes: five days of eight hours and two hours, on Saturday from six to eight in place of Monday week."""
    levers = ways(one(2490), "A", SATURDAY_EIGHT)
    assert levers[0].ready_min == 7 * TUESDAY - 60 + 120  # the clocks go forward on Sunday
    (saturday,) = [w for w in of_kind(levers, "shift") if w.alterations[0].days == (date(2026, 3, 28),)]  # type: ignore[attr-defined]
    assert (saturday.ready_min, saturday.reaches, saturday.hours_min) == (SATURDAY_EIGHT, True, 120)
    assert "rest between shifts" in saturday.cautions[0]


def test_two_halves_on_two_machines() -> None:
    """Two lathes, set by two people: 330 minutes each in place of 630 on one."""
    levers = ways(one(600, routings=EITHER), "A", 360)
    (split,) = of_kind(levers, "split")
    assert (levers[0].ready_min, split.ready_min, split.reaches) == (TUESDAY + 150, 360, True)
    assert "two setups" in split.cautions[0].lower()


def test_what_is_to_be_left_alone_is_in_no_halves() -> None:
    for name, halves in (("A-1", 0), ("B-1", 1)):
        left = replace(one(600, routings=EITHER), left_alone=(name,))
        assert len(of_kind(ways(left, "A", 360), "split")) == halves


def test_pieces_moved_on_before_the_batch_is_finished() -> None:
    """Sublots of 53 are there at 83, 136, 189 and noon; the second lathe runs from 83 on, but for the break."""
    steps = {"P": (machine_step(10), machine_step(20, "LATHE2"))}
    levers = ways(one(routings=steps), "A", 330)
    (moved,) = [w for w in of_kind(levers, "transfer") if w.alterations[0].pieces == 53]  # type: ignore[attr-defined]
    assert (levers[0].ready_min, moved.ready_min, moved.reaches) == (510, 83 + 210 + 30, True)


def test_no_more_of_it_than_is_needed() -> None:
    """The rule makes 400 of it where 210 are wanted."""
    levers = ways(one(parts=(part("P", rule=BatchRule(400)),)), "A", NOON)
    (lot,) = of_kind(levers, "lot")
    assert (levers[0].ready_min, lot.ready_min, lot.reaches) == (30 + 400 + 30, NOON, True)


def test_running_on_with_nobody_there() -> None:
    """The lathe has hours until ten with nobody there: the four hours of Tuesday are run on Monday evening."""
    evenings = calendar(
        "evenings", hours=(*calendar("day").hours, *(Hours(d, time(16, 30), time(22), False) for d in range(5)))
    )
    base = one(690)
    base = replace(base, calendars={**base.calendars, "evenings": evenings},
                   machines={**base.machines, "LATHE": replace(base.machines["LATHE"], calendar="evenings")})  # fmt: skip
    levers = ways(base, "A", 750)
    (night,) = of_kind(levers, "unattended")
    assert (levers[0].ready_min, night.ready_min, night.reaches, night.hours_min) == (TUESDAY + NOON, 750, True, 0)
    assert night.cautions == (NOBODY_THERE,)


def test_material_sooner() -> None:
    base = shop((order("A", "P", 210, due=MONDAY_NOON, material_date=date(2026, 3, 25)),))
    levers = ways(base, "A", NOON)
    (sooner_here,) = of_kind(levers, "material")
    assert (levers[0].ready_min, sooner_here.ready_min, sooner_here.reaches) == (2 * TUESDAY + NOON, NOON, True)
    assert sooner_here.alterations[0].day == date(2026, 3, 23)  # type: ignore[attr-defined]


def test_bought_pieces_sooner() -> None:
    base = one(
        parts=(part("P"), part("NUT", made=False)), structure=(Component("P", "NUT", 1),),
        receipts=(Receipt("NUT", 210, date(2026, 3, 26), "R1"),),
    )  # fmt: skip
    levers = ways(base, "A", 2 * TUESDAY + NOON)
    (receipt,) = of_kind(levers, "receipt")
    assert (levers[0].ready_min, receipt.ready_min, receipt.reaches) == (3 * TUESDAY + NOON, 2 * TUESDAY + NOON, True)


def test_a_special_collection_a_day_before_the_van() -> None:
    """Ready on Monday at noon: collected that day at 15:00 it is back on Tuesday week, for 60 pounds, not on Thursday week."""
    levers = ways(anodised(105), "A", BACK_31_MARCH)
    (special,) = of_kind(levers, "collection")
    assert (levers[0].ready_min, special.ready_min, special.pence) == (BACK_2_APRIL, BACK_31_MARCH, 6000)


def test_the_van_a_day_earlier() -> None:
    (van,) = of_kind(ways(anodised(105), "A", BACK_31_MARCH), "van")
    assert (van.said, van.ready_min, van.pence) == ('--van "Bright from Tue to Mon"', BACK_31_MARCH, 0)


def test_another_firm_that_does_the_same_in_less_time() -> None:
    """Two working days at Swift for at least 200 pounds, in place of five at Bright for 85 and a fee of 5."""
    base = anodised()
    bright = base.suppliers["Bright"]
    swift = replace(bright, name="Swift", processes=(Process("hard", 2, 20000),))
    slow = replace(bright, name="Tarry", processes=(Process("hard", 6, 1000),))
    levers = ways(replace(base, suppliers={**base.suppliers, "Swift": swift, "Tarry": slow}), "A", BACK_31_MARCH)
    (firm,) = of_kind(levers, "firm")
    assert (firm.said, firm.ready_min, firm.pence) == ('--firm "P op 20 to Swift"', BACK_31_MARCH, 20000 - 9000)
    assert "customer's consent" in firm.cautions[0]


# --- whom it hurts, and what is not claimed ------------------------------------------------------


def test_the_rest_of_a_part_delivery_that_is_later_is_hurt() -> None:
    """Held to what the order itself is promised or planned for; counted by the order's own class. Its material
    comes on Monday week, when the lathe is still set for the part."""
    job = job_of(one(690))
    half = (from_phrase(KINDS["quantity"], "A to 345"),
            from_phrase(KINDS["order"], "A-rest for 345 of P by 2026-03-24 class normal material 2026-03-30"))  # fmt: skip
    plain = Side(job.work, job.plan)
    side = Planner(job, "A", 420, TRIALS, 1, None).changed(plain, half)
    assert side is not None
    lever = lever_of(half, "A", 420, plain, plain, side, job.shop.settings)
    late_min = ready_times(side.work, side.plan)["A-rest"] - (TUESDAY + NOON)
    assert [(h.order, h.by_min, h.newly_late) for h in lever.hurt] == [("A-rest", late_min, False)]
    assert late_min == 7 * TUESDAY - 60 + 345 + 30 - (TUESDAY + NOON)
    assert lever.cost_pence == 3 * late_min * 2000 // 1440
    assert lever.moved == 0


def test_a_day_before_the_plan_start_is_refused_and_nothing_is_planned(monkeypatch: pytest.MonkeyPatch) -> None:
    job = job_of(two())
    monkeypatch.setattr("planner.alter.searches.search", None)
    with pytest.raises(QuestionFault, match="a time after the plan start"):
        sooner(job, "A", 0, trials=TRIALS)
    with pytest.raises(QuestionFault, match="a time after the plan start"):
        with_changes(job, [from_phrase(KINDS["drop"], "B")], "A", -9, trials=TRIALS)


def test_an_order_in_time_already_is_told_and_nothing_is_planned(monkeypatch: pytest.MonkeyPatch) -> None:
    job = job_of(one())
    monkeypatch.setattr("planner.alter.searches.search", None)
    found = sooner(job, "A", NOON, trials=TRIALS)
    assert (found.already, found.levers) == (True, ())


def test_searches_too_short_do_not_say_that_a_way_gains_nothing() -> None:
    """Three orders and one list: the dates are told, what they gain is not."""
    job = job_of(shop(tuple(order(n, "P", 210, due=MONDAY) for n in "ABC")), 1)
    last = max((r, n) for n, r in ready_times(job.work, job.plan).items())[1]
    found = sooner(job, last, 60, trials=1)
    assert found.short == "too short to tell: 1 list timed for 3 operations; search for 3 trials or more"
    assert found.levers[0].texts[-1].startswith("Too short to tell")
    idle = [w.nothing for w in found.levers if w.nothing]
    assert idle and set(idle) == {found.short}
    assert "unproven" in noise_text(found.noise_min, found.short)
    longer = sooner(job, last, 60, trials=TRIALS)
    assert longer.short == "" and "the same" in noise_text(longer.noise_min, longer.short)
    assert "differs by 2 h." in noise_text(120, "")


# --- what gains nothing -------------------------------------------------------------------------


def anodised(quantity: int = 345, **outside: int) -> Shop:
    """Turned at two minutes a piece, until Tuesday noon; collected on Tuesday at 15:00."""
    return one(quantity, routings={"P": (machine_step(10, cycle_sec=120), outside_step(20, **outside))})


def test_hours_gain_nothing_where_the_van_is_on_tuesday_anyway() -> None:
    levers = ways(anodised(), "A", BACK_31_MARCH)
    shifts = of_kind(levers, "shift")
    assert shifts
    for shift in shifts:
        assert (shift.ready_min, shift.more_min) == (BACK_2_APRIL, 0)
        assert shift.nothing == "gains nothing: A-1 op 20 goes with Bright on Tue 24 Mar 2026 15:00 anyway"


def test_a_special_collection_gains_nothing_where_it_comes_back_with_the_same_van() -> None:
    """Ready on Monday at noon: collected on Monday and away for six working days, it is still back on Thursday week."""
    early = anodised(105)
    slow = replace(early.suppliers["Bright"], processes=(replace(early.suppliers["Bright"].processes[0], turn_days=6),))
    levers = ways(replace(early, suppliers={"Bright": slow}), "A", BACK_31_MARCH)
    (special,) = of_kind(levers, "collection")
    assert special.nothing == "gains nothing: A-1 op 20 comes back with Bright on Thu 2 Apr 2026 10:00 anyway"


def test_the_same_hours_gain_days_where_they_catch_the_van() -> None:
    """465 pieces: turned until Tuesday at 16:30, half an hour too late for the van that a little overtime catches."""
    shifts = of_kind(ways(anodised(465), "A", BACK_2_APRIL), "shift")
    assert any(s.reaches and s.ready_min == BACK_2_APRIL for s in shifts)


def test_a_quicker_firm_for_this_part_costs_what_it_asks() -> None:
    (turn,) = of_kind(ways(anodised(piece_price_pence=100), "A", BACK_31_MARCH), "turn")
    assert (turn.ready_min, turn.reaches) == (BACK_31_MARCH, True)
    assert turn.pence == 345 * 50 + 250  # half as much again for each piece, and on the fee of 5 pounds


def test_pairs_are_tried_where_no_single_way_reaches_the_date() -> None:
    """900 minutes behind as many on one lathe: another lathe and overtime together are earlier than each by itself."""
    both = shop(tuple(order(n, "P", 870, due=MONDAY_NOON) for n in ("A", "B")))
    levers = ways(both, second(both), 600)
    (also,) = of_kind(levers, "also")
    pairs = [w for w in levers if [a.kind for a in w.alterations] in (["also", "shift"], ["shift", "also"])]
    assert pairs
    assert not any(w.reaches for w in levers if len(w.alterations) < 2)
    assert all(pair.ready_min < also.ready_min == TUESDAY + 450 for pair in pairs)


def test_a_pair_that_is_no_better_than_one_of_the_two_is_left_out() -> None:
    """Half of it first is enough of a gain; overtime from Monday evening on comes too late for that half."""
    levers = ways(one(870), "A", 300)
    assert [[a.kind for a in w.alterations] for w in levers] == [[], ["quantity", "order"], ["shift"]]


# --- order, promises and bad questions -----------------------------------------------------------


def test_those_that_reach_it_come_first_then_by_cost_a_day_then_those_that_gain_nothing() -> None:
    rest = ways(two(), second(two()), NOON)[1:]
    keys = [(bool(w.nothing), not w.reaches, w.cost_pence / max(1, w.more_min)) for w in rest]
    assert keys == sorted(keys)


def test_a_promise_before_the_due_time_is_kept() -> None:
    promised = shop((order("A", "P", 210, due=date(2026, 4, 30), promise=date(2026, 3, 23)),))
    work = explode(promised)
    assert limit_min(work.orders[0], {"A": NOON}) == 480  # that day's dispatch cut-off, 16:00
    assert limit_min(work.orders[0], {"A": 700}) == 700


def test_an_unknown_order_is_refused_with_the_nearest() -> None:
    with pytest.raises(AlterFaults, match="Did you mean"):
        sooner(job_of(two()), "AB", NOON, trials=TRIALS)


def test_an_order_without_a_time_says_so() -> None:
    """Each of the two would fit within the calendar's 33,600 minutes, both do not."""
    job = job_of(shop((order("A", "P", 20_000, due=date(2026, 6, 30)), order("B", "P", 20_000, due=MONDAY_NOON))), 1)
    assert "A" not in ready_times(job.work, job.plan)
    with pytest.raises(AlterFaults, match="found 'A', expected an order that has a time in the plan"):
        sooner(job, "A", NOON, trials=1)


def test_a_misspelt_order_is_found_before_the_changes_are_planned(monkeypatch: pytest.MonkeyPatch) -> None:
    job = job_of(two())
    monkeypatch.setattr("planner.alter.searches.search", None)
    added = from_phrase(KINDS["order"], "E-1 for 5 of P by 2026-04-30 class normal")
    with pytest.raises(AlterFaults, match="Did you mean 'E-1'"):
        with_changes(job, [added], "E-11", NOON, trials=TRIALS)


def test_a_plan_with_changes_is_verified(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_job: Job) -> Job:
        raise PlanRefused([])

    job = job_of(two())
    monkeypatch.setattr(sys.modules["planner.levers.sooner"], "verified", refuse)
    with pytest.raises(PlanRefused):
        with_changes(job, [from_phrase(KINDS["drop"], "B")], "A", NOON, trials=TRIALS)


def test_neither_the_shop_nor_the_plan_is_changed() -> None:
    job = job_of(two(classes={"normal": PriorityClass("normal", 3)}))
    before = (job.shop, job.work.fingerprint, job.plan)
    sooner(job, "A", NOON - 60, trials=TRIALS)
    assert (job.shop, job.work.fingerprint, job.plan) == before


def test_a_stop_keeps_planning_again() -> None:
    assert len(sooner(job_of(two()), second(two()), NOON, seconds=60, stop=lambda: True).levers) == 1


def test_each_way_is_told_as_it_is_planned() -> None:
    told: list[Lever] = []
    levers = sooner(job_of(two()), second(two()), NOON, trials=TRIALS, found=told.append).levers
    assert sorted(w.said for w in told) == sorted(w.said for w in levers)


def test_noon_of_the_plan_start() -> None:
    assert timedelta(minutes=NOON) + MONDAY == datetime(2026, 3, 23, 12)


def test_whom_the_changes_themselves_hurt_is_told_by_the_plan_as_it_was() -> None:
    """Before any way is tried: in the plan with them the two orders have changed places."""
    job, late = job_of(two()), second(two())
    first = next(o.number for o in job.work.orders if o.number != late)
    table = Timetable(job.work)
    table.time(table.repaired(reversed(job.plan.sequence)))
    now, then = Side(job.work, job.plan), Side(job.work, as_plan(job.work, table))
    before, after = (ready_times(side.work, side.plan) for side in (now, then))
    assert after[first] > before[first]
    (hurt,) = hurt_by_changes(now, then, late)
    assert (hurt.order, hurt.by_min) == (first, after[first] - max(before[first], job.work.orders[0].due_min))
    assert hurt_by_changes(now, now, late) == ()
