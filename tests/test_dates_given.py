"""Dates that were given with a chance, and what became of them: kept with the order, counted once their day is over."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from commands import run
from days import Day, at
from fastapi.testclient import TestClient
from typer.testing import Result

from planner.booked import DateGiven, dates_given, record_of, with_dates
from planner.booked.dates_given import AGE_DAYS, STATED, band_of
from planner.booked.reading import Bookings
from planner.dates import Dates, Enquiry, dates, keeping
from planner.dates.keeping import keep, stated
from planner.dates.replies import Reply
from planner.explode.clock import clock_of
from planner.intake import read_shop
from planner.main_job import load_plan
from planner.risk.record import booked_record, record_lines
from planner.shop import BookedDate, History, Shop
from planner.store import Store
from planner.store.edit import add_row, change_row, remove_row
from planner.store.folder import take_in
from web.app import create_app

TINY = Path(__file__).parent / "data" / "tiny_shop"
PROMISE = date(2026, 4, 2)


def answer(way: str, *ready_min: int, pieces: int = 17) -> Reply:
    return Reply(
        way, pieces, 0, "", None, None, False, None, (), (), (), safe="Thu 2 Apr 2026", sure_percent=90,
        drawn=np.sort(np.array(ready_min)) if ready_min else None,
    )  # fmt: skip


# --- the chance that is kept ---------------------------------------------------------------------------


def test_the_chance_is_the_answers_own(day: Day) -> None:
    """Ready by the cut-off counts, the minute after does not: Good Friday and Easter come after the 2nd."""
    until = clock_of(day.shop).due(PROMISE)
    said = stated(day.shop, answer("behind everything", until, until, until, until + 1), PROMISE)
    assert said is not None
    assert (said["way"], said["chance"], said["pieces"]) == ("behind everything", 0.75, 17)
    assert (said["safe"], said["sure_percent"], said["promise"]) == ("Thu 2 Apr 2026", 90, "2026-04-02")
    assert said["by_day"] == {"2026-04-02": 0.75, "2026-04-07": 1.0} and said["outside"] is False
    assert stated(day.shop, answer("behind everything"), PROMISE) is None


def given(day: Day, number: str, promise: date = PROMISE, share: float = 0.9, pieces: int = 17) -> None:
    """An enquiry that is kept as an order, with so much chance of its promise."""
    until = clock_of(day.shop).due(promise)
    draws = [until] * round(100 * share) + [until + 1] * (100 - round(100 * share))
    enquiry = Enquiry("GR-120", pieces, promise, priority="normal")
    keep(day.place, day.shop, enquiry, number, promise, who="Ann", answer=answer("x", *draws, pieces=pieces))


def test_a_promise_is_kept_with_its_chance(day: Day) -> None:
    given(day, "Q-1", share=0.87)
    (entry,) = day.store.entries("edit")
    assert entry.data[STATED]["chance"] == 0.87
    (one,) = dates_given(day.place)
    assert (one.order, one.promise, one.chance, one.safe, one.ready, one.kept) == (
        "Q-1", PROMISE, 0.87, "Thu 2 Apr 2026", None, None
    )  # fmt: skip
    assert record_of([one]) == ("1 date given with a chance is still to come.",)


def test_without_a_promise_or_an_answer_nothing_is_counted(day: Day) -> None:
    keep(
        day.place,
        day.shop,
        Enquiry("GR-120", 17, PROMISE, priority="normal"),
        "Q-1",
        None,
        answer=answer("x", 1),
    )
    keep(day.place, day.shop, Enquiry("GR-120", 17, priority="normal"), "Q-2", PROMISE)
    assert dates_given(day.place) == ()
    assert dates_given(TINY) == ()


# --- what became of it -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ready", "on", "now", "kept"),
    [
        ("16:00", 33, ("16:00", 33), True),
        ("16:01", 33, ("16:01", 33), False),
        ("15:00", 33, ("15:59", 33), None),  # ready, but others of that day may not be yet
        (None, 0, ("15:59", 33), None),
        (None, 0, ("16:00", 33), False),
    ],
)
def test_a_date_is_kept_that_was_ready_by_its_cut_off(
    day: Day, ready: str | None, on: int, now: tuple, kept: bool | None
) -> None:
    """Of the 2nd of April, at 16:00."""
    given(day, "Q-1", pieces=42)
    make(day, ready, on)
    day.happen("hot", "O-1", now[0], now[1], priority="urgent")  # time goes on
    (one,) = dates_given(day.place)
    assert (one.ready, one.kept) == (at(ready, on) if ready else None, kept)


def make(day: Day, ready: str | None, on: int) -> None:
    """A batch for the order, its last step done at a moment."""
    cells = {"batch": "Q-1-1", "part": "GR-120", "quantity": "42", "order": "Q-1"}
    add_row(day.store, "Ann", at("08:00"), "batches", cells)
    day.book("setup done", "B-2", 20, "09:00")
    day.book("finish", "B-2", 20, "11:00")
    day.book("start", "Q-1-1", 10, "09:00", machine="L2")
    day.book("setup done", "Q-1-1", 10, "10:00")
    day.book("finish", "Q-1-1", 10, "12:00")
    day.book("start", "Q-1-1", 20, "12:30", machine="M1")
    day.book("setup done", "Q-1-1", 20, "13:30")
    if ready:
        day.book("finish", "Q-1-1", 20, ready, on)


def test_a_date_that_was_kept_stays_kept_however_much_is_booked_afterwards(
    day: Day, monkeypatch: pytest.MonkeyPatch
) -> None:
    given(day, "Q-1", pieces=42)
    make(day, "15:00", 32)
    ready = dates_given(day.place)[0].ready
    monkeypatch.setattr(Bookings.__init__, "__defaults__", (1,))
    day.book("good", "B-1", 10, "15:30", 32, good=1)
    assert dates_given(day.place)[0].ready == ready is not None


def test_too_few_pieces_are_not_ready_and_cancelled_orders_do_not_count(day: Day) -> None:
    given(day, "Q-1", pieces=43)
    make(day, "15:00", 32)
    assert dates_given(day.place)[0].ready is None
    day.happen("cancel", "Q-1", "16:00", 32)
    assert dates_given(day.place) == ()


def test_what_was_shipped_whole_was_ready(day: Day) -> None:
    """Five carriers are in stock."""
    given(day, "Q-1", pieces=5)
    day.happen("ship", "Q-1", "10:00", 24, quantity=3)
    assert dates_given(day.place)[0].ready is None
    entry = day.happen("ship", "Q-1", "11:00", 25)
    assert dates_given(day.place)[0].ready == at("11:00", 25)
    day.undo(entry.id, "11:10", 25)
    assert dates_given(day.place)[0].ready is None


def test_an_entry_that_was_undone_gave_no_date(day: Day) -> None:
    given(day, "Q-1")
    (entry,) = day.store.entries("edit")
    day.undo(entry.id)
    assert dates_given(day.place) == ()


# --- what dates to come learn from it ---------------------------------------------------------------------------


def given_old(
    day: Day, safe: date = PROMISE, hold_until: date | None = None, beyond: int = 1, outside: bool = False
) -> None:
    """An order of 42 that is promised for the 2nd of April: three draws in ten reach the 1st, nine the 2nd, and the
    last one a day some days later."""
    clock = clock_of(day.shop)
    first, second, last = clock.due(date(2026, 4, 1)), clock.due(PROMISE), clock.due(PROMISE + timedelta(days=beyond))
    draws = [first] * 30 + [second] * 60 + [last] * 10
    found = replace(answer("behind everything", *draws, pieces=42), safe_min=clock.due(safe), outside=outside)
    enquiry = Enquiry("GR-120", 42, PROMISE, priority="normal")
    keep(day.place, day.shop, enquiry, "Q-1", PROMISE, hold_until, who="Ann", answer=found)


def learned(day: Day, now: int = 0) -> BookedDate | None:
    day.happen("hot", "O-1", "08:00", now or OLD, priority="urgent")  # time goes on
    (one,) = dates_given(day.place)
    assert with_dates(day.place, day.shop).history.dates == (() if one.booked is None else (one.booked,))
    return one.booked


OLD = 23 + AGE_DAYS + 1  # in days of March 2026; the date was given on the 23rd


@pytest.mark.parametrize(
    ("ready", "on", "reached"),
    [
        ("16:00", 32, 0.0),  # on the first day that any draw reached
        ("16:01", 32, 0.3),  # after its cut-off: on the next
        ("16:00", 33, 0.3),
        ("16:01", 33, 0.9),  # late
        (None, 0, 1.0),
    ],
)
@pytest.mark.parametrize("outside", [False, True])
def test_what_the_draws_gave_the_day_before_it_was_ready(
    day: Day, ready: str | None, on: int, reached: float, outside: bool
) -> None:
    given_old(day, outside=outside)
    make(day, ready, on)
    assert learned(day) == BookedDate(outside, reached)


@pytest.mark.parametrize(
    ("now", "safe", "beyond", "counts"),
    [
        (OLD, PROMISE, 1, True),
        (OLD - 1, PROMISE, 1, False),  # others of that day are not ready yet
        (OLD, date(2026, 4, 7), 5, True),  # given sooner than it was safe
        (OLD, date(2026, 4, 1), 1, False),  # given later: nobody hurries for the days before
        (OLD, date(2026, 4, 3), 1, True),  # a day on which nobody works is as good as the day before
        (33 + 60 + 1, PROMISE, 60, True),
        (33 + 60, PROMISE, 60, False),  # some draws are still to come
    ],
)
def test_old_dates_count_that_were_given_for_the_safe_day_or_sooner(
    day: Day, now: int, safe: date, beyond: int, counts: bool
) -> None:
    given_old(day, safe, beyond=beyond)
    make(day, "16:00", 33)
    assert (learned(day, now) is not None) is counts


def test_an_order_that_is_made_for_something_else_or_never_teaches_nothing(day: Day) -> None:
    given_old(day)
    row = day.row("orders", order="Q-1")
    change_row(day.store, "Ann", at("09:00"), "orders", row.id, row.version, {"promise": "2026-04-09"})
    assert learned(day) is None
    change_row(
        day.store, "Ann", at("09:00"), "orders", row.id, row.version + 1, {"promise": "2026-04-02", "quantity": "40"}
    )
    assert learned(day, OLD + 1) is None
    change_row(day.store, "Ann", at("09:00"), "orders", row.id, row.version + 2, {"quantity": "42"})
    assert learned(day, OLD + 2) is not None
    day.happen("quantity", "Q-1", "09:00", OLD + 3, quantity=40)
    assert learned(day, OLD + 4) is None


def test_an_enquiry_that_nobody_took_teaches_nothing(day: Day) -> None:
    given_old(day, hold_until=date(2026, 4, 10))
    assert learned(day) is None


def test_a_batch_that_was_taken_back_is_not_waited_for(day: Day) -> None:
    given_old(day)
    cells = {"batch": "Q-1-0", "part": "GR-120", "quantity": "42", "order": "Q-1"}
    add_row(day.store, "Ann", at("08:00"), "batches", cells)
    row = day.row("batches", batch="Q-1-0")
    remove_row(day.store, "Ann", at("08:00"), "batches", row.id, row.version)
    make(day, "16:00", 33)
    assert learned(day) == BookedDate(False, 0.3)


def test_what_was_kept_without_the_draws_by_day_teaches_nothing(day: Day, monkeypatch: pytest.MonkeyPatch) -> None:
    """As in stores of before."""
    monkeypatch.setattr(keeping, "_by_day", lambda clock, drawn: {})
    given_old(day)
    assert learned(day) is None


def history(*reached: float, outside: bool = False) -> History:
    return History(dates=tuple(BookedDate(outside, chance) for chance in reached))


@pytest.fixture(scope="module")
def asking(asked: Path) -> Callable[[History], Dates]:
    """Ask the same of a shop with other dates behind it."""
    job = load_plan(asked)

    def ask(known: History) -> Dates:
        enquiry = Enquiry("GR-120", 10, date(2026, 5, 4))
        return dates(job, enquiry, trials=10, learn=lambda shop: replace(shop, history=known))

    return ask


def behind_in(found: Dates) -> Reply:
    assert found.behind is not None and found.behind.drawn is not None
    return found.behind


def test_a_sure_date_goes_as_far_into_the_draws_as_past_ones_needed(asking: Callable[[History], Dates]) -> None:
    """Nine in ten of them were ready by the first day to which the draws gave more than 0.97."""
    plain, told = asking(History()), asking(history(*[0.97] * 9_000, *[1.0] * 1_000))
    before, after = behind_in(plain), behind_in(told)
    assert before.drawn is not None and (after.drawn == before.drawn).all()
    assert after.safe_min == np.quantile(before.drawn, 0.971, method="inverted_cdf") > (before.safe_min or 0)
    middle = int(np.median(before.drawn))
    assert (after.chance_by(middle) or 1.0) < 0.01 < 0.49 < (before.chance_by(middle) or 0.0)
    assert (
        "Learned from 10,000 dates given before (10,000 of orders without outside work): the 90 % sure day is put later, "
        "where 97 of 100 draws are ready."
    ) in told.assumptions
    assert not any("dates given before" in line for line in plain.assumptions)


def test_dates_of_orders_that_go_outside_count_less_for_those_that_do_not(asking: Callable[[History], Dates]) -> None:
    """GR-120 is made inside: of its own kind 600 dates held at the draws' word, of the other kind none."""
    own, other = [k / 600 for k in range(600)], [1.0] * 600
    mixed = History(dates=history(*own).dates + history(*other, outside=True).dates)
    shop = replace(read_shop(TINY), history=mixed)
    assert booked_record(shop, False).worth(0.5) > 0.45 > 0.1 > booked_record(shop, True).worth(0.5)
    assert not behind_in(asking(mixed)).outside
    worth = behind_in(asking(mixed)).record.worth(0.5)
    assert worth == booked_record(shop, False).worth(0.5)


def test_where_no_draw_is_enough_no_day_is_called_as_sure_as_asked(asking: Callable[[History], Dates]) -> None:
    told = asking(history(*[1.0] * 60))
    assert behind_in(told).drawn is not None and behind_in(told).sure_percent == 25
    assert behind_in(told).safe_min == int(behind_in(told).drawn[-1])  # type: ignore[index]
    assert any(
        line.endswith("by which all of 100 draws are ready is no more than 25 % sure.") for line in told.assumptions
    )


@pytest.mark.parametrize("sure", [0.03, 0.5, 0.71, 0.8, 0.9, 0.95, 0.96])
def test_without_any_the_draws_are_taken_at_their_word(sure: float) -> None:
    record = booked_record(read_shop(TINY), False)
    assert (record.needed(sure), record_lines(record, sure, False)) == (sure, ())


def test_what_was_booked_is_read_once_when_the_first_date_has_been_told(asked: Path) -> None:
    """A store with years of bookings is not read in a moment."""
    job, heard = load_plan(asked), []

    def learn(shop: Shop) -> Shop:
        heard.append("learn")
        return replace(shop, history=history(*[1.0] * 60))

    enquiry = Enquiry("GR-120", 10, date(2026, 3, 24))
    found = dates(job, enquiry, trials=10, learn=learn, tell=lambda way, what: heard.append(way))
    assert heard[:3] == ["behind everything", "learn", "behind everything"]
    assert heard.count("learn") == 1 and len(found.replies) > 1


@pytest.mark.parametrize(("part", "outside"), [("GR-120", False), ("GR-110", True)])
def test_an_answer_knows_whether_anything_goes_outside(asked: Path, part: str, outside: bool) -> None:
    job = load_plan(asked)
    assert any(step.kind == "outside" for step in job.shop.routings[part].operations) is outside
    assert behind_in(dates(job, Enquiry(part, 10, date(2026, 5, 4)), trials=10)).outside is outside


# --- in words ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("chance", "band"),
    [
        (0.95, "95 % or more"), (0.944, "about 90 %"), (0.85, "about 90 %"), (0.844, "about 80 %"), (0.65, "about 70 %"),
        (0.1, "less than 65 %"),
    ],
)  # fmt: skip
def test_chances_count_with_their_level(chance: float, band: str) -> None:
    assert band_of(chance) == band


def test_each_level_has_its_answer() -> None:
    def one(chance: float, kept: bool | None) -> DateGiven:
        return DateGiven("Q", PROMISE, PROMISE, chance, "", 90, None, kept)

    found = [*[one(0.9, True)] * 7, one(0.88, False), one(0.9, None), one(0.8, True)]
    assert record_of(found) == (
        "Of 8 dates given at about 90 % sure whose day has come, 7 were kept.",
        "Of 1 date given at about 80 % sure whose day has come, 1 was kept.",
        "1 date given with a chance is still to come.",
    )
    assert record_of([]) == ()


# --- by commands and pages ---------------------------------------------------------------------------------------


def good(*words: object) -> Result:
    found = run(*words)
    assert found.exit_code == 0, found.output
    return found


@pytest.fixture(scope="module")
def asked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with an accepted plan."""
    db = tmp_path_factory.mktemp("asked") / "shop.db"
    take_in(TINY, db, "Ann").close()
    with Store(db) as store:
        Day(store, db).plan("08:00", accept=True)
    return db


def test_the_command_keeps_the_chance_and_tells_the_record(asked: Path) -> None:
    words = ("--part", "GR-120", "--qty", 10, "--trials", 20, "--wanted", "2026-05-04")
    good("date", asked, *words, "--keep-as", "Q-1", "--promise", "2026-05-05")
    (one,) = dates_given(asked)
    assert (one.order, one.promise) == ("Q-1", date(2026, 5, 5)) and one.chance > 0.5
    told = good("risk", asked, "--record").stdout
    assert "Q-1" in told and "still to come" in told
    assert json.loads(good("risk", asked, "--record", "--json").stdout)["dates"][0]["order"] == "Q-1"
    assert "No date was given with a chance yet" in good("risk", TINY, "--record").stdout
    assert "1 date given with a chance is still to come." in good("risk", asked, "--draws", 20).stdout


def test_the_page_keeps_the_chance_of_the_run_that_answered(asked: Path) -> None:
    job = load_plan(asked)
    client = TestClient(create_app(job.work, job.plan, job.shop, asked))
    question = {"part": "GR-120", "pieces": 12, "wanted": "2026-05-04", "seconds": 1}
    number = client.post("/api/date", json=question).json()["run"]
    while client.get(f"/api/runs/{number}").json()["state"] == "running":
        time.sleep(0.02)
    more = {"number": "Q-7", "promise": "2026-05-05", "who": "Ann"}
    other = {**question, "pieces": 13, "number": "Q-8", "promise": "2026-05-05", "who": "Ann"}
    for asked_for in ({**question, **more}, other):
        assert client.post("/api/date/keep", json={**asked_for, "run": number}).status_code == 200
    assert "Q-8" not in [g.order for g in dates_given(asked)]  # that run answered another question
    (one,) = [g for g in dates_given(asked) if g.order == "Q-7"]
    assert 0.5 < one.chance <= 1
    text = client.get("/risk").text
    assert "Dates given" in text and "still to come" in text
    assert client.get("/api/risk").json()["record"]
