"""Collections of outside firms, and when what went with them is back."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time
from typing import Any

import pytest
from explode_shops import EASTER, calendar, order, outside_step, part, shop, supplier

from planner.explode import explode
from planner.faults import DataFaults
from planner.shop import ClosedDays, Collection, Shop, WeeklyTime
from planner.work import Work

HOLIDAYS = tuple(ClosedDays(day, day, "Easter") for day in EASTER)


def easter_shop(shop_closed: bool = True, firm_closed: bool = True, **more: Any) -> Shop:
    day = calendar("day", closed=HOLIDAYS if shop_closed else ())
    firm = calendar("anodiser", closed=HOLIDAYS if firm_closed else ())
    return shop(calendars={"day": day, "anodiser": firm}, **more)


def trips(work: Work, process: str = "hard") -> dict[str, str]:
    """Collection -> return, local, of one process."""
    service = next(s for s in work.services if s.process == process)
    return {
        f"{work.local(t.collect_min):%a %d %b %H:%M}": f"{work.local(t.back_min):%a %d %b %H:%M}" for t in service.trips
    }


def test_thursdays_collection_is_back_after_easter_and_tuesdays_a_week_later() -> None:
    """Worked reference: five working days (27, 30, 31 March, 1, 2 April), then the next delivery, Tuesday 7 April.

    Missing Thursday's van by a minute costs five working days: 1, 2, 7, 8, 9 April, back Tuesday 14 April.
    """
    found = trips(explode(easter_shop()))
    assert found["Thu 26 Mar 15:00"] == "Tue 07 Apr 10:00"
    assert found["Tue 31 Mar 15:00"] == "Tue 14 Apr 10:00"


def test_ready_is_the_collections_clock_time_across_the_clock_change() -> None:
    work = explode(easter_shop())
    trip = next(t for t in work.services[0].trips if f"{work.local(t.collect_min):%d %b}" == "26 Mar")
    assert f"{work.local(trip.ready_min):%d %b %H:%M}" == "02 Apr 15:00"
    assert f"{work.local(trip.cutoff_min):%d %b %H:%M}" == "26 Mar 15:00"


def test_working_days_are_those_of_the_firm() -> None:
    """With a firm that works over Easter, Tuesday 31 March is ready on the 7th and back on Thursday 9th."""
    assert trips(explode(easter_shop(firm_closed=False)))["Tue 31 Mar 15:00"] == "Thu 09 Apr 10:00"


@pytest.mark.parametrize("who", ["shop", "firm"])
def test_no_van_runs_when_the_shop_or_the_firm_is_closed(who: str) -> None:
    """Collections on Fridays as well: Good Friday has none, the Friday before has."""
    daily = replace(supplier(), collections=(Collection(4, time(15), time(14)), *supplier().collections))
    made = easter_shop(shop_closed=who == "shop", firm_closed=who == "firm", suppliers={"Bright": daily})
    found = trips(explode(made))
    assert "Fri 27 Mar 15:00" in found
    assert "Fri 03 Apr 15:00" not in found


def test_a_collection_counts_only_from_the_plan_start_with_its_cut_off() -> None:
    """Plan start Monday 08:00: that day's 15:00 van goes unless its cut-off was 07:59."""

    def first(cutoff: time) -> str:
        monday = replace(supplier(), collections=(Collection(0, time(15), cutoff),))
        return next(iter(trips(explode(easter_shop(suppliers={"Bright": monday})))))

    assert first(time(8, 0)) == "Mon 23 Mar 15:00"
    assert first(time(7, 59)) == "Mon 30 Mar 15:00"


def test_trips_end_with_the_known_calendars() -> None:
    """Known to 30 April: Thursday 16 April is back Tuesday 28th, Tuesday 21st on the 30th, then no more."""
    firm = calendar("anodiser", known_to=date(2026, 4, 30))
    found = trips(explode(shop(calendars={"day": calendar("day"), "anodiser": firm})))
    assert list(found.items())[-1] == ("Tue 21 Apr 15:00", "Thu 30 Apr 10:00")
    desk = calendar("day", known_to=date(2026, 4, 29))
    found = trips(explode(shop(calendars={"day": desk, "anodiser": firm})))
    assert list(found.items())[-1] == ("Thu 16 Apr 15:00", "Tue 28 Apr 10:00")


def test_processes_of_a_firm_share_its_vans() -> None:
    work = explode(easter_shop())
    hard, soft = work.services
    assert (hard.process, soft.process) == ("hard", "soft")
    by_time = {t.collect_min: t.run for t in hard.trips}
    shared = {t.collect_min: t.run for t in soft.trips}
    assert all(shared[at] == run for at, run in by_time.items())
    assert [(work.runs[r].collect_min, work.runs[r].room_pieces) for at, r in by_time.items()] == [
        (at, 500) for at in by_time
    ]


def test_charges_come_with_the_process_and_the_step() -> None:
    routing = {"P": (outside_step(10, charge_key="alu", piece_price_pence=240),)}
    work = explode(shop((order("C1", "P", 5),), routings=routing))
    service = work.services[work.operations[0].service or 0]
    assert (service.supplier, service.process, service.minimum_pence, service.line_fee_pence) == (
        "Bright",
        "hard",
        8500,
        500,
    )
    assert (work.operations[0].charge_key, work.operations[0].piece_price_pence) == ("alu", 240)


def test_a_batch_larger_than_an_empty_van_is_a_fault() -> None:
    routing = {"P": (outside_step(10),)}
    assert explode(shop((order("C1", "P", 500),), routings=routing)).orders
    with pytest.raises(DataFaults, match=r"capacity_pieces.*found '500', expected room for 501 pieces of batch C1-1"):
        explode(shop((order("C1", "P", 501),), (part("P"),), routing))


def test_no_collection_after_the_material_is_here_is_a_fault() -> None:
    routing = {"P": (outside_step(10),)}
    with pytest.raises(DataFaults, match="a collection after plan start and release"):
        explode(shop((order("C1", "P", 5, material_date=date(2026, 6, 29)),), routings=routing))


def test_a_delivery_at_the_very_moment_brings_the_work_and_one_a_minute_earlier_does_not() -> None:
    """Ready Thursday 2 April 15:00."""

    def back(at: time) -> str:
        firm = replace(supplier(), deliveries=(WeeklyTime(3, at),))
        return trips(explode(easter_shop(suppliers={"Bright": firm})))["Thu 26 Mar 15:00"]

    assert back(time(15, 0)) == "Thu 02 Apr 15:00"
    assert back(time(14, 59)) == "Thu 09 Apr 14:59"


def test_the_largest_van_decides_what_is_too_large() -> None:
    vans = (Collection(1, time(15), time(15), 500), Collection(3, time(15), time(15), 600))
    suppliers = {"Bright": replace(supplier(), collections=vans)}

    def made(pieces: int) -> Work:
        return explode(shop((order("C1", "P", pieces),), routings={"P": (outside_step(10),)}, suppliers=suppliers))

    assert made(600).orders
    with pytest.raises(DataFaults, match="found '600'"):
        made(601)
