"""The answer in words: the sentence, the table that adds up, what would gain nothing, and names that there are not."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from builders import ShopBuilder, days, plan
from random_shops import random_work
from why_chains import timed

from planner.answers import why as answers
from planner.answers.orders import orders
from planner.answers.rows import as_row
from planner.answers.why import ChainRefused, Unknown, why, why_batch, why_late
from planner.answers.why.words import LINES
from planner.chain import PartKind
from planner.plan import State
from planner.search import search, start_later
from planner.verify import Breach
from planner.work import NEVER, Begun, Source, Work

DAY = 1440


def lid_shop(due: int = 3000) -> Work:
    """A lid waits a day for L2, then the pot that it belongs to misses Tuesday's van."""
    shop = ShopBuilder().service("Blue Tank", [(d * DAY, d * DAY + 60, (d + 2) * DAY) for d in (1, 3)])
    return (
        shop.batch("B0", pieces=DAY).op("L2")
        .batch("LID", pieces=100).op("L2").batch("POT", pieces=50).op("L3").outside("Blue Tank")
        .need("POT", 10, "LID").order("O1", "POT", due=due).build()
    )  # fmt: skip


def test_the_sentence_says_when_how_late_and_what_took_the_time() -> None:
    """With Tuesday's van it would be back at 08:00 on Thursday, when it is due."""
    work = lid_shop(due=3 * DAY)
    said = why(work, timed(work, "B0"), "O1").sentence
    assert said == (
        "O1 is ready Sat 28 Mar 08:00, 2.0 days late: its LID waits 1.0 days for L2 behind B0; "
        "it waits 1.9 days for Thursday's collection by Blue Tank, then is 2.0 days at Blue Tank."
    )


@pytest.mark.parametrize(
    ("due", "words"), [(5 * DAY - 1, "1 min late"), (5 * DAY, "on the minute"), (5 * DAY + 60, "1 h early")]
)
def test_late_and_early_are_told_apart_to_the_minute(due: int, words: str) -> None:
    work = lid_shop(due)
    answer = why(work, timed(work, "B0"), "O1")
    assert answer.sentence.startswith(f"O1 is ready Sat 28 Mar 08:00, {words}: ")
    assert answer.late_min == 5 * DAY - due


def test_where_there_was_too_little_time_the_waits_are_not_blamed() -> None:
    """At the best it goes with Tuesday's van and is back on Thursday at 08:00."""
    work = lid_shop(due=DAY)
    answer = why(work, timed(work, "B0"), "O1")
    assert (
        "too little time: even with every machine and person free for it, it takes 3.0 days, 1.0 days to the due date"
        in answer.sentence
    )


def test_closed_hours_in_which_it_waits_do_not_make_it_too_little_time() -> None:
    """An hour's work, due in ten hours, behind two days of other work on a machine with eight hours a day: it had time enough."""
    shop = ShopBuilder().machine("L1", days(5, (0, 480)))
    work = shop.batch("B0", pieces=960).op("L1").batch("B1", pieces=60).op("L1").order("O1", "B1", due=600).build()
    said = why(work, timed(work, "B0"), "O1").sentence
    assert "too little time" not in said and "waits 1.3 days for L1 behind B0" in said


def test_where_waits_made_it_so_late_they_are_said_as_well() -> None:
    """Without the waits it would be 1.6 days late; with them it is 3.6 days."""
    work = lid_shop(due=2000)
    answer = why(work, timed(work, "B0"), "O1")
    assert "too little time" in answer.reason and "; besides, its LID waits 1.0 days for L2 behind B0" in answer.reason


def test_a_collection_says_what_sooner_and_later_would_do() -> None:
    work = lid_shop()
    notes = why(work, timed(work, "B0"), "O1").notes
    assert notes[0] == (
        "POT op 20 is ready Tue 24 Mar 10:30 for the collection on Thu 26 Mar 09:00: 1.9 days later would do as well, "
        "and less than 2 h 30 min saved before gains nothing (the collection before is on Tue 24 Mar 09:00)."
    )


@pytest.mark.parametrize(
    ("release", "words"), [(90, "less than 50 min saved"), (91, "too soon for its own work alone")]
)
def test_a_collection_that_own_work_alone_cannot_make_is_no_way_out(release: int, words: str) -> None:
    """The cut-off of the first is at 100; ten minutes of work wait for a machine first."""
    shop = ShopBuilder().service("Blue Tank", [(100, 150, 500), (300, 350, 900)])
    work = (
        shop.batch("B0", pieces=140).op("L1").batch("B1", pieces=10, release=release).op("L1").outside("Blue Tank")
        .order("O1", "B1", due=9).build()
    )  # fmt: skip
    assert words in why(work, timed(work, "B0"), "O1").notes[0]


def sent(release: int = 0, decided: int = 0, bought: int = 0, component: int = 0, pieces: int = 10) -> Work:
    """B1, kept to a date, has too much to do for the collection at 100 whatever it waits for."""
    shop = ShopBuilder().service("Blue Tank", [(100, 150, 500), (300, 350, 900)])
    if component:
        shop.batch("C1", pieces=4, release=component).op("L3")
    shop.batch("B0", pieces=140).op("L1").batch("B1", pieces=pieces, release=release)
    shop.op("L1", not_before_min=decided).op("L2", 0, 600).outside("Blue Tank")
    if component:
        shop.need("B1", 10, "C1")
    if bought:
        shop.need("B1", 10, at=bought)
    return shop.order("O1", "B1", due=9).build()


@pytest.mark.parametrize(
    ("dates", "when"),
    [
        ({"release": 95}, "once its material is here"),
        ({"bought": 95}, "once bought bought (R1) is here"),
        ({"decided": 95}, "once B1 op 10 may begin, Mon 23 Mar 09:35"),
        ({"component": 141}, "once the material of C1 is here"),
        ({"pieces": 11}, "before"),
    ],
    ids=lambda case: ", ".join(case) if isinstance(case, dict) else None,
)  # fmt: skip
def test_waiting_less_gains_nothing_only_after_the_date_that_keeps_it(dates: dict[str, int], when: str) -> None:
    """Material that comes sooner is just what would help."""
    work = sent(**dates)
    notes = why(work, timed(work, "B0"), "O1").notes
    assert any(
        f" would do as well, and waiting less {when} gains nothing: the collection before" in n for n in notes
    ), notes


def test_a_full_collection_is_no_way_out() -> None:
    shop = ShopBuilder().service("Blue Tank", [(100, 150, 500), (300, 350, 900)], room=10)
    work = (
        shop.batch("B9", pieces=140).op("L2").batch("B0", pieces=10).op("L1").outside("Blue Tank")
        .batch("B1", pieces=5).op("L2").outside("Blue Tank").order("O1", "B1", due=9).build()
    )  # fmt: skip
    answer = why(work, timed(work, "B9", "B0"), "O1")
    assert "(the collection before is on Mon 23 Mar 10:30, which is full)" in answer.notes[0]


def test_time_saved_before_a_queue_gains_nothing_unless_the_other_is_through_sooner() -> None:
    work = (
        ShopBuilder()
        .batch("B0", pieces=50)
        .op("L2")
        .batch("B1", pieces=10)
        .op("L1")
        .op("L2")
        .order("O", "B1", due=1)
        .build()
    )
    assert why(work, timed(work, "B0"), "O").notes == (
        "Time saved before Mon 23 Mar 08:10 gains nothing, unless B0 op 10 is through sooner too: "
        "B1 op 20 waits for L2, until Mon 23 Mar 08:50.",
    )


def test_a_first_piece_that_waits_to_be_approved_reads_as_a_sentence() -> None:
    shop = ShopBuilder().person("Ann", ["check", "fit"], days(1, (0, 27), (40, 90)))
    work = (
        shop.batch("B0", pieces=25).manual("bench", skill="fit")
        .batch("B1", pieces=3).op("L2", cycle=600, first_off_skill="check", first_off_min=5).build()
    )  # fmt: skip
    assert why_batch(work, timed(work, "B0"), "B1").notes == (
        "Time saved before Mon 23 Mar 08:10 gains nothing, unless Ann at B0 op 10 is through sooner too: "
        "B1 op 10 waits for its first piece to be approved (check), until Mon 23 Mar 08:25.",
    )


def test_a_date_is_said_once() -> None:
    shop = ShopBuilder().batch("B0", pieces=10).op("L1")
    dated = shop.batch("B1", pieces=10).op("L1").op("L2", not_before_min=100).build()
    assert why_batch(dated, timed(dated), "B1").notes == (
        "Time saved before Mon 23 Mar 08:20 gains nothing: B1 op 20 is held by decision: not before Mon 23 Mar 09:40.",
    )
    held = ShopBuilder().batch("B0", pieces=10).op("L1").batch("B1", pieces=10).op("L2").need("B1", 10, "B0").build()
    assert why_batch(held, timed(held, hold={"B1": 100}), "B1").notes == (
        "Time saved before Mon 23 Mar 08:10 gains nothing: "
        "B1 op 10 is held back on purpose until Mon 23 Mar 09:40: sooner it would only lie about later.",
    )


def test_an_order_due_before_the_plan_start_is_said_in_a_whole_sentence() -> None:
    work = ShopBuilder().batch("B1", pieces=10).op("L1").order("O1", "B1", due=0).build()
    assert why(work, timed(work), "O1").sentence.endswith("late: it was due before the plan start.")


def test_the_batches_in_the_way_are_named_with_their_minutes_the_longest_first() -> None:
    shop = ShopBuilder()
    for name, pieces in (("B1", 10), ("B2", 40), ("B3", 30), ("B4", 20)):
        shop.batch(name, pieces=pieces).op("L1")
    work = shop.order("O", "B4", due=95).build()
    answer = why(work, timed(work, "B1", "B2", "B3"), "O")
    assert "waits 1 h 20 min for L1 behind B2, B3 and B1" in answer.sentence
    assert [(b.what, b.minutes) for b in answer.legs[0].stages[0].lines[0].behind] == [
        ("B2 op 10", 40), ("B3 op 10", 30), ("B1 op 10", 10),
    ]  # fmt: skip


def test_many_batches_in_the_way_are_counted() -> None:
    shop = ShopBuilder()
    for n in range(6):
        shop.batch(f"B{n}", pieces=10 + n).op("L1")
    work = shop.order("O", "B0", due=80).build()
    assert "behind B5, B4 and 3 more" in why(work, timed(work, "B1", "B2", "B3", "B4", "B5"), "O").sentence


def test_a_start_held_back_counts_to_what_a_late_order_waits_for_and_to_itself_where_it_is_in_time() -> None:
    work = (
        ShopBuilder()
        .batch("B0", pieces=900)
        .op("L2")
        .batch("B1", pieces=10)
        .op("L1")
        .op("L2")
        .order("O", "B1", due=905)
        .build()
    )
    late = why(work, timed(work, "B0", hold={"B1": 600}), "O")
    assert late.sentence.endswith("5 min late: it waits 14 h 50 min for L2 behind B0.")
    in_time = replace(work, orders=(replace(work.orders[0], due_min=2000),))
    answer = why(in_time, timed(in_time, "B0", hold={"B1": 600}), "O")
    assert (
        "it is held back 10 h on purpose, until Mon 23 Mar 18:00, then waits 4 h 50 min for L2 behind B0"
        in answer.sentence
    )


@pytest.mark.parametrize(
    ("pin", "weight", "says", "note"),
    [
        (None, 100, "for L1 behind B0, where its place is kept (frozen)", "and its place is kept (frozen) behind it."),
        ("L1", 100, "for L1 behind B0, where its place is kept (frozen, or decided)", "(frozen, or decided) behind it."),
        (None, 1, "for L1 behind B0", "and is right behind it as in the accepted plan, where another place has its price."),
    ],
    ids=["frozen", "perhaps decided", "in the accepted plan"],
)  # fmt: skip
def test_a_place_that_is_kept_is_told_in_every_form(pin: str | None, weight: int, says: str, note: str) -> None:
    shop = ShopBuilder().batch("B0", pieces=500).op("L1").batch("B1").op("L1", pin_machine=pin)
    work = shop.order("O1", "B1", due=1).kept("B1", 10, "L1", ("B0", 10), weight).build()
    answer = why(work, timed(work, "B0"), "O1")
    assert answer.sentence.endswith(f"it waits 8 h 20 min {says}.")
    assert answer.causes[0].text == f"8 h 20 min {says}"
    assert any(
        line.startswith("B1 op 10 was ready when B0 op 10 began on L1, ") and line.endswith(note)
        for line in answer.notes
    )
    lines = answer.legs[0].stages[0].lines
    assert [line.minutes for line in lines] == [500, 1]
    assert lines[0].kind is (PartKind.KEPT if weight > 1 else PartKind.MACHINE)
    assert ("its place is kept (frozen" in lines[0].text) == (weight > 1)
    assert [b.what for b in lines[0].behind] == ["B0 op 10"]


def test_a_place_without_a_price_has_no_note() -> None:
    work = ShopBuilder().batch("B0", pieces=500).op("L1").batch("B1").op("L1").order("O1", "B1", due=1).build()
    assert not any("was ready when" in line for line in why(work, timed(work, "B0"), "O1").notes)


def test_a_pin_is_told_where_another_machine_could_do_it() -> None:
    shop = ShopBuilder().batch("B0", pieces=50).op("L1")
    work = shop.batch("B1").op(["L1", "L2"], pin_machine="L1").build()
    line = why_batch(work, timed(work, "B0"), "B1").legs[0].stages[0].lines[0]
    assert line.text == "waits for L1, to which it is pinned"


@pytest.mark.parametrize(("begun", "words"), [
    ({"begun": Begun.RUNNING, "begun_machine": "L1"}, "B1 op 10 was under way then"),
    ({"begun": Begun.DONE}, "; 1 step of B1 was done before then and is not counted"), ({}, "the plan start, Mon 23 Mar 2026 08:00"),
])  # fmt: skip
def test_the_origin_says_from_when_it_is_counted(begun: dict, words: str) -> None:
    work = ShopBuilder().batch("B1").op("L1", **begun).op("L2").build()
    assert words in why_batch(work, timed(work), "B1").origin


def test_steps_that_were_done_are_counted() -> None:
    work = ShopBuilder().batch("B1").op("L1", begun=Begun.DONE).op("L2", begun=Begun.DONE).op("L3").build()
    told = why_batch(work, timed(work), "B1").origin
    assert told.endswith("; 2 steps of B1 were done before then and are not counted")


def test_a_release_is_part_of_the_origin() -> None:
    work = ShopBuilder().batch("B1", release=60).op("L1").build()
    assert why_batch(work, timed(work), "B1").origin.endswith("; B1 is released Mon 23 Mar 2026 09:00")


# --- nothing to walk back ------------------------------------------------------------------------------


def stock_order(source: Source) -> Work:
    work = ShopBuilder().order("O1", due=10).build()
    return replace(work, orders=(replace(work.orders[0], sources=(source,)),))


def test_an_order_from_stock_is_ready_now() -> None:
    work = stock_order(Source(1))
    answer = why(work, plan(work), "O1")
    assert answer.sentence == "O1 is ready now: nothing is left to be done for it."
    assert (answer.lead_min, answer.legs, answer.causes, answer.bits) == (0, (), (), ())


def test_an_order_of_what_is_not_on_order_does_not_pass_as_ready() -> None:
    work = stock_order(Source(3, receipt="not on order"))
    assert why(work, plan(work), "O1").sentence.endswith("3 of bought are not on order.")


def test_an_order_that_is_given_a_receipt_waits_for_it() -> None:
    work = stock_order(Source(1, receipt="R7", at_min=70))
    answer = why(work, plan(work), "O1")
    assert answer.sentence == "O1 is ready Mon 23 Mar 09:10, 1 h late: it waits 1 h 10 min for receipt R7."
    assert [(leg.batch, leg.minutes) for leg in answer.legs] == [("received", 70)]


def test_a_batch_that_is_finished_says_so() -> None:
    work = ShopBuilder().batch("B1").op("L1", begun=Begun.DONE).build()
    assert why_batch(work, plan(work), "B1").sentence == "B1 is ready now: nothing is left to be done for it."


def test_an_order_that_has_no_time_is_not_planned() -> None:
    work = ShopBuilder().batch("B1").op("L1").order("O1", "B1", due=10).build()
    answer = why(work, plan(work, state=State.IMPOSSIBLE), "O1")
    assert answer.sentence == "O1 is not planned: the plan has no time for B1."
    assert (answer.finish_min, answer.legs) == (None, ())


@pytest.mark.parametrize(
    ("ask", "name", "words"),
    [(why, "O-1O1", "The plan has no order 'O-1O1'. Did you mean 'O-101'? If not: it has O-101."),
     (why, "zzz", "The plan has no order 'zzz'. It has O-101."),
     (why_batch, "b1", "The plan has no batch 'b1'. Did you mean 'B1'? If not: it has B1.")],
)  # fmt: skip
def test_an_unknown_name_is_told_with_the_nearest(ask, name: str, words: str) -> None:
    work = ShopBuilder().batch("B1").op("L1").order("O-101", "B1", due=10).build()
    with pytest.raises(Unknown, match="The plan has no") as told:
        ask(work, timed(work), name)
    assert str(told.value) == words


# --- it adds up, and is checked ------------------------------------------------------------------------------


def test_table_causes_and_strip_each_add_up_to_the_lead_time() -> None:
    for number in range(20, 40):
        work = random_work(number)
        made = start_later(work, search(work, trials=1))
        for order in work.orders:
            answer = why(work, made, order.number)
            lines = [line for leg in answer.legs for stage in leg.stages for line in stage.lines]
            for minutes in (
                [c.minutes for c in answer.causes], [leg.minutes for leg in answer.legs],
                [s.minutes for leg in answer.legs for s in leg.stages], [line.minutes for line in lines],
                [bit.end_min - bit.start_min for bit in answer.bits],
            ):  # fmt: skip
                assert sum(minutes) == answer.lead_min == (answer.finish_min or 0) - answer.origin_min
            assert all(sum(b.minutes for b in line.behind) <= line.minutes for line in lines)
            json.dumps(as_row(answer))


def test_the_reasons_of_late_orders_are_those_of_their_chains() -> None:
    for number in range(20, 30):
        work = random_work(number)
        made = search(work, trials=1)
        rows = {row.order: row for row in orders(work, made)}
        for order in work.orders:
            row = rows[order.number]
            assert row.reason == (why(work, made, order.number).reason if row.late else "")
        assert [number for number, _ in why_late(work, made)] == [r.order for r in orders(work, made) if r.late]


def test_an_explanation_that_does_not_agree_with_its_plan_is_never_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(answers, "verify_chains", lambda work, made, chains: [Breach("chain sum", "part", "1", "2")])
    work = ShopBuilder().batch("B1").op("L1").order("O1", "B1", due=0).build()
    for ask in (
        lambda: why(work, timed(work), "O1"),
        lambda: why_batch(work, timed(work), "B1"),
        lambda: why_late(work, timed(work)),
    ):
        with pytest.raises(ChainRefused, match="chain sum"):
            ask()
    assert [row.reason for row in orders(work, timed(work))] == [""]


def test_one_wrong_explanation_keeps_the_reasons_of_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    wrong = Breach("chain sum", "part", "1", "2")
    monkeypatch.setattr(
        answers, "verify_chains", lambda work, made, chains: [wrong for chain in chains if chain.order == 0]
    )
    work = ShopBuilder().batch("B1").op("L1").order("O1", "B1", due=0).order("O2", "B1", due=0).build()
    assert answers.late_reasons(work, timed(work)) == {"O2": "was due before the plan start"}


def test_a_step_beyond_the_known_calendars_has_no_explanation() -> None:
    work = (
        ShopBuilder().machine("L1", days(2, (0, 10))).batch("B1", pieces=30).op("L1").order("O1", "B1", due=5).build()
    )
    made = search(work, trials=1)
    assert why(work, made, "O1").sentence.startswith("O1 is not planned")
    assert made.steps == () or max(s.end for s in made.steps) >= NEVER


def test_every_kind_of_part_has_words() -> None:
    assert set(LINES) == set(PartKind)
