"""Today on the tiny shop: what waits for whom by now, and that nothing is worked out twice for the same answer."""

from __future__ import annotations

import pytest
from days import Day, at

from planner.day import clock, today
from planner.day.today import Days


@pytest.fixture
def monday(planned: Day, monkeypatch: pytest.MonkeyPatch) -> Day:
    """Half past nine on the day on which the plan starts."""
    monkeypatch.setattr(clock, "wall_clock", lambda _: at("09:30"))
    return planned


def counts(monkeypatch: pytest.MonkeyPatch, name: str) -> list[int]:
    """How often a function of ``today`` is called."""
    calls: list[int] = []
    real = getattr(today, name)

    def counted(*given: object) -> object:
        calls.append(1)
        return real(*given)

    monkeypatch.setattr(today, name, counted)
    return calls


def test_an_answer_is_found_again_only_when_something_was_entered_or_the_minute_is_another(
    monday: Day, monkeypatch: pytest.MonkeyPatch
) -> None:
    looks, of_plan = counts(monkeypatch, "_Look"), counts(monkeypatch, "orders")
    days = Days(monday.followed)
    first = days.today(monday.store)
    assert days.today(monday.store) is first
    monday.book("good", "B-1", 10, "09:30", good=1)
    second = days.today(monday.store)
    assert [e.what for e in second.entries] == ["good", "taken in"]
    assert days.today(monday.store) is second
    monkeypatch.setattr(clock, "wall_clock", lambda _: at("09:31"))
    assert days.today(monday.store).now == "2026-03-23 09:31"
    assert (len(looks), len(of_plan)) == (3, 1)


def test_it_is_about_now_also_where_nothing_was_entered_for_long(monday: Day, monkeypatch: pytest.MonkeyPatch) -> None:
    days = Days(monday.followed)
    assert ("B-2", 20) not in {(s.batch, s.operation) for s in days.today(monday.store).missing}
    monkeypatch.setattr(clock, "wall_clock", lambda _: at("16:30", 24))
    missing = {(s.batch, s.operation): s.what for s in days.today(monday.store).missing}
    assert missing["B-2", 20] == "should be done"


@pytest.mark.parametrize(
    ("moment", "until"),
    [
        (at("09:30", 23), "Wed 25 Mar"),
        (at("09:30", 26), "Sat 28 Mar"),
        (at("23:59", 27), "Mon 30 Mar"),
        (at("00:00", 28), "Tue 31 Mar"),
    ],
)
def test_what_waits_is_told_to_the_end_of_the_next_two_working_days(monday: Day, moment, until: str) -> None:  # type: ignore[no-untyped-def]
    """The shop works from Monday to Friday, and on Saturday the 28th."""
    assert Days(monday.followed).today(monday.store, moment).waiting_until == f"{until} 2026 23:59"


def test_what_was_begun_waits_no_more(monday: Day) -> None:
    """The next batch on a lathe waits for it, or for who sets it, as planned; once it is started it does not."""
    days = Days(monday.followed)

    def waiting() -> set[tuple[str, int]]:
        return {(w.batch, w.operation) for whom in days.today(monday.store, at("09:00")).waiting for w in whom.waits}

    before = waiting()
    job = monday.followed
    free = next(
        (job.work.batches[op.batch].name, op.number) for step in sorted(job.plan.steps, key=lambda s: s.start)
        if step.machine is not None and job.work.machines[step.machine].name == "L2"
        and (op := job.work.operations[step.operation]).number == 10 and op.begun == 0
    )  # fmt: skip
    monday.book("start", *free, "09:00", machine="L2")
    assert free not in waiting()
    assert waiting() <= before


def test_the_minute_is_right_after_the_clocks_have_changed(monday: Day) -> None:
    """A week after the plan's start at 08:00 the clock shows 09:00: it went forward on Sunday."""
    job = monday.followed
    assert job.work.local(0).replace(tzinfo=None) == at("08:00")
    look = today._Look(Days(job), monday.store.sheets(), at("09:00", 30))
    assert (look.minute, look.midnight - look.minute) == (7 * 1440, 15 * 60)
